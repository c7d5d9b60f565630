"""The ground under a panel: a one-sided obstacle everywhere, found place by place.

The panel is watched element by element, by the mean of its deflection, which is stable with quadratic deflections
(one multiplier for each element, Brezzi & Fortin, Mixed and Hybrid Finite Element Methods, 1991, on such pairs).  Only
places that a solution goes below are watched: they join the supports in the same exact law, a few at a time, until
no other place is below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.panel import Panel
from splitterfem.fem.play import PlayLaw, PlayState
from splitterfem.fem.reference import N_NODES, quadrature, tabulate_p2b
from splitterfem.fem.structure import Structure
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]

MOST_ROUNDS = 40
SHARE = 0.3
"""Places that are below by this share of the deepest one are watched in the next round."""


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


@dataclass(frozen=True)
class Landed:
    """Equilibrium of a panel on its supports and the ground.

    Attributes
    ----------
    x : ndarray, shape (n,)
    force : ndarray, shape (m,)
        Of the panel on each restraint, N.
    side : ndarray of int, shape (m,)
    ground : ndarray, shape (k,)
        Force of the ground on each place in N, up.
    residual : float
        Largest violation of the laws of supports and ground, dimensionless.
    watched : int
        Places that were watched.
    """

    x: Array
    force: Array
    side: NDArray[np.int64]
    ground: Array
    residual: float
    watched: int


def panel_places(panel: Panel, n_unknowns: int) -> sp.csr_array:
    """Rows (nt, n_unknowns) of the mean deflection of every element."""
    X, w = quadrature(2)
    mean = (w / w.sum()) @ tabulate_p2b(X)[0][:, :N_NODES]
    space = panel.space
    dofs = space.dofs[:, 2::5]
    rows = np.repeat(np.arange(space.n_elements), N_NODES)
    data = np.tile(mean, space.n_elements)
    return sp.csr_array(sp.coo_array((data, (rows, dofs.ravel())), shape=(space.n_elements, n_unknowns)))


def solve_on_ground(structure: Structure, load: Array, obstacle: Obstacle) -> Landed:
    """Solve for a load vector (n_dofs,) with the ground below.

    Raises
    ------
    SolveError
        If the places that touch are not found.
    """
    whole = structure.with_extra(load)
    base, watched = structure.base, np.zeros(0, dtype=np.int64)
    rigid = structure.rigid_stretch(obstacle.rows)
    for _ in range(MOST_ROUNDS):
        x, state = base.solve(whole)
        x, force = base.refined(whole, x, state)
        below = obstacle.lowest - obstacle.rows @ x
        below[watched] = 0.0
        deepest = float(below.max(initial=0.0))
        if deepest <= 1e-9 * max(float(np.abs(x).max(initial=0.0)), 1e-300):
            return _landed(structure, obstacle, watched, x, force, state)
        more = np.flatnonzero(below > SHARE * deepest)
        base = _watching(base, obstacle, more, rigid)
        watched = np.concatenate([watched, more])
    raise SolveError(
        f"Where the panel lies on the ground was not found in {MOST_ROUNDS} rounds: make mesh.size larger, or look at "
        "the clearances of the supports."
    )


def _watching(base: SupportedMatrix, obstacle: Obstacle, more: Index, rigid: Array) -> SupportedMatrix:
    count = len(more)
    law = PlayLaw(obstacle.lowest[more], np.full(count, np.inf), np.zeros(count))
    return base.with_rows(sp.csr_array(obstacle.rows[more]), law, rigid=rigid[more])


def _landed(
    structure: Structure, obstacle: Obstacle, watched: Index, x: Array, force: Array, state: PlayState
) -> Landed:
    supports = structure.base.rows.shape[0]
    ground = np.zeros(len(obstacle.lowest))
    ground[watched] = 0.0 - force[supports:]
    return Landed(x, force[:supports], state.side[:supports], ground, state.residual, len(watched))
