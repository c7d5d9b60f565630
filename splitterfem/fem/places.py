"""The ground under a panel: a one-sided obstacle everywhere, found place by place.

The panel is watched element by element, by the mean of its deflection, which is stable with quadratic deflections
(one multiplier for each element, Brezzi & Fortin, Mixed and Hybrid Finite Element Methods, 1991, on such pairs).  Only
places that a solution goes below are watched: they join the supports in the same exact law, the deepest ones far apart
from each other first and then closer, until no other place is below.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.panel import Panel
from splitterfem.fem.play import PlayLaw
from splitterfem.fem.reference import N_NODES, quadrature, tabulate_p2b
from splitterfem.fem.structure import Structure
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]

WIDEST, NARROWER = 1.0 / 16.0, 0.7
"""Least distance of places that are watched at once, over the panel's diagonal, and by how much it shrinks."""

LEVEL = 1e-15
"""Depth below ground over the panel's diagonal that counts as none: heights are rounded there."""

BELOW = 1e-13
"""Depth below ground over the largest motion that counts as none."""


@dataclass(frozen=True)
class Obstacle:
    """Places of the panel and how far down each may go.

    Attributes
    ----------
    rows : csr_array, shape (k, n)
        Mean deflection of each place, over all unknowns of the structure.
    lowest : ndarray, shape (k,)
        Deflection (up is positive) at which the place touches, in m; may be above zero for a place that the ground
        lifts.
    """

    rows: sp.csr_array
    lowest: Array


def panel_places(panel: Panel, n_unknowns: int) -> sp.csr_array:
    """Rows (nt, n_unknowns) of the mean deflection of every element."""
    X, w = quadrature(2)
    mean = (w / w.sum()) @ tabulate_p2b(X)[0][:, :N_NODES]
    space = panel.space
    dofs = space.dofs[:, 2::5]
    data = np.tile(mean, space.n_elements)
    starts = N_NODES * np.arange(space.n_elements + 1)
    rows = sp.csr_array((data, dofs.ravel(), starts), shape=(space.n_elements, n_unknowns))
    rows.sort_indices()
    return rows


class Places:
    """An obstacle under a structure, and what it takes to watch some of its places.

    Parameters
    ----------
    structure : Structure
    obstacle : Obstacle

    Attributes
    ----------
    size : float
        Diagonal of the panel in m.
    """

    def __init__(self, structure: Structure, obstacle: Obstacle) -> None:
        self._structure, self.obstacle = structure, obstacle
        self.rows, self.lowest = obstacle.rows, obstacle.lowest
        self.size = float(np.hypot(*np.ptp(structure.panel.space.node_points, axis=1)))

    @cached_property
    def middle(self) -> Array:
        """Middle of each place in m, shape (k, 2)."""
        space = self._structure.panel.space
        return np.asarray(self.rows[:, 2 : space.n_dofs : 5] @ space.node_points.T)

    @cached_property
    def rigid(self) -> Array:
        """Motions (k, r) of the places under the rigid motions that nothing but supports stops."""
        return self._structure.rigid_stretch(self.rows)

    def below(self, x: Array, watched: Index) -> Array:
        """Depth (k,) below ground of the places that are not watched, in m; zero where none to speak of."""
        depth = self.lowest - self.rows @ x
        depth[watched] = 0.0
        return np.where(depth > BELOW * float(np.abs(x).max(initial=0.0)), depth, 0.0)

    def sunk(self, x: Array) -> float:
        """How far the panel is below ground anywhere at unknowns (n,), over its largest motion."""
        below = self.lowest - self.rows @ x - LEVEL * self.size
        return float(below.max(initial=0.0)) / max(float(np.abs(x).max(initial=0.0)), 1e-300)

    def worst(self, depth: Array, turn: int) -> Index:
        """Places to watch next, from depths (k,): the deepest far apart from each other, closer with every turn."""
        order = np.argsort(-depth, kind="stable")
        order = order[depth[order] > 0.0]
        reach = WIDEST * self.size * NARROWER**turn
        taken = []
        while len(order):
            taken.append(order[0])
            far = np.linalg.norm(self.middle[order] - self.middle[order[0]], axis=1) > reach
            far[0] = False
            order = order[far]
        return np.array(taken, dtype=np.int64)

    def watching(self, held: SupportedMatrix, more: Index) -> SupportedMatrix:
        """Return a matrix in its supports with further places of the ground among them."""
        law = PlayLaw(self.lowest[more], np.full(len(more), np.inf), np.zeros(len(more)))
        return held.with_rows(sp.csr_array(self.rows[more]), law, rigid=self.rigid[more])
