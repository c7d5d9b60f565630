"""The ground under a panel and the ribs on its lower face, place by place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.design import LoadCase
from splitterfem.fem.places import Obstacle, panel_places
from splitterfem.model.clearance import clearance_datum

if TYPE_CHECKING:
    from splitterfem.model.assembly import Model
    from splitterfem.model.ribs import ModelRib

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PANEL = "panel"


@dataclass(frozen=True)
class GroundPlaces:
    """Places of a design that the ground may touch: elements of the panel, stretches of ribs below it.

    Attributes
    ----------
    rows : csr_array, shape (k, n)
        Mean deflection of each place, over all unknowns of the structure.
    x, y : ndarray, shape (k,)
        Its middle in m.
    depth : ndarray, shape (k,)
        How far it lies below the panel's lower face at rest, in m.
    size : ndarray, shape (k,)
        Area of an element in m2, length of a rib's stretch in m.
    under : tuple of str, shape (k,)
        "panel" or the rib's name.
    """

    rows: sp.csr_array
    x: Array
    y: Array
    depth: Array
    size: Array
    under: tuple[str, ...]

    def obstacle(self, model: Model, case: LoadCase) -> Obstacle:
        """Ground of a load case, at its ride height and rake."""
        gap = clearance_datum(model.design, case)(self.x)
        return Obstacle(self.rows, np.asarray(self.depth - gap))


def ground_places(model: Model) -> GroundPlaces:
    """Find the places of a model that the ground may touch."""
    panel, n = model.panel, model.structure.matrix.shape[0]
    space = panel.space
    middle = space.centroids
    count = space.n_elements
    found = [
        GroundPlaces(
            panel_places(panel, n), middle[:, 0], middle[:, 1], np.zeros(count), space.area, (PANEL,) * count
        )
    ]
    found += [_under_rib(model, rib, n) for rib in model.ribs if rib.side < 0]
    return GroundPlaces(
        sp.csr_array(sp.vstack([part.rows for part in found])),
        np.concatenate([part.x for part in found]),
        np.concatenate([part.y for part in found]),
        np.concatenate([part.depth for part in found]),
        np.concatenate([part.size for part in found]),
        tuple(name for part in found for name in part.under),
    )


def _under_rib(model: Model, rib: ModelRib, n: int) -> GroundPlaces:
    """One place for each stretch of the rib's line in an element: its mean deflection there."""
    samples = rib.operators.lines[0].samples
    touched, owner = np.unique(samples.elements, return_inverse=True)
    length = np.bincount(owner, samples.weights).astype(np.float64)
    share = samples.weights / length[owner]
    space = model.panel.space
    lift = model.panel.displacement_rows(samples.elements, samples.xy)[:, 2] * share[:, None]
    dofs = space.dofs[samples.elements]
    places = np.repeat(owner, dofs.shape[1])
    rows = sp.csr_array(sp.coo_array((lift.ravel(), (places, dofs.ravel())), shape=(len(touched), n)))
    x, y = (np.bincount(owner, share * at).astype(np.float64) for at in samples.xy)
    depth = np.full(len(touched), float(rib.properties.height))
    return GroundPlaces(rows, x, y, depth, length, (rib.name,) * len(touched))
