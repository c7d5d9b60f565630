"""What of a panel lies on the ground: patches of elements and stretches of ribs that touch, and their forces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.response import Response
from splitterfem.fem.space import PanelSpace
from splitterfem.model import Model
from splitterfem.model.ground import PANEL

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class GroundPatch:
    """One connected place where the panel, or one rib below it, lies on the ground.

    Attributes
    ----------
    under : str
        "panel" or the rib's name.
    force : float
        Of the ground on it in N, up; without friction.
    at : tuple of float
        Where that force acts (x, y) in m.
    size : float
        Area that touches in m2; of a rib the length in m.
    elements : ndarray of int
        Triangles that touch; empty for a rib.
    """

    under: str
    force: float
    at: tuple[float, float]
    size: float
    elements: Index


@dataclass(frozen=True)
class GroundContact:
    """All patches that lie on the ground, the hardest first.

    Attributes
    ----------
    patches : tuple of GroundPatch
    """

    patches: tuple[GroundPatch, ...]

    @property
    def touches(self) -> bool:
        """Whether anything lies on the ground."""
        return bool(self.patches)

    @property
    def force(self) -> float:
        """Of the ground on panel and ribs in N, up."""
        return sum(patch.force for patch in self.patches)


def ground_contact(model: Model, response: Response) -> GroundContact:
    """Gather the places that touch into connected patches.

    The ground holds each triangle of the panel by its mean deflection, so that areas are as fine as the mesh.
    """
    if not response.ground.any():
        return GroundContact(())
    places, count = model.ground, model.panel.space.n_elements
    touching = np.flatnonzero(response.ground > 0.0)
    on_panel = touching[touching < count]
    groups = [(PANEL, patch) for patch in _connected(model.panel.space, on_panel)]
    names = np.array(places.under)
    below = touching[touching >= count]
    groups += [(str(name), below[names[below] == name]) for name in dict.fromkeys(names[below])]
    patches = []
    for under, patch in groups:
        forces = response.ground[patch]
        total = float(forces.sum())
        at = (float(forces @ places.x[patch]) / total, float(forces @ places.y[patch]) / total)
        elements = patch if under == PANEL else np.zeros(0, dtype=np.int64)
        patches.append(GroundPatch(under, total, at, float(places.size[patch].sum()), elements))
    return GroundContact(tuple(sorted(patches, key=lambda patch: -patch.force)))


def _connected(space: PanelSpace, elements: Index) -> list[Index]:
    """Split triangles into patches that share corners."""
    if not len(elements):
        return []
    corners = space.triangles[:, elements]
    k, m = len(elements), int(space.triangles.max()) + 1
    member = sp.csr_array((np.ones(3 * k), (np.tile(np.arange(k), 3), corners.ravel())), shape=(k, m))
    count, label = sp.csgraph.connected_components(member @ member.T, directed=False)
    return [elements[label == i] for i in range(count)]
