"""The ground under a panel: a one-sided obstacle everywhere, found place by place.

The panel is watched element by element, by the mean of its deflection, which is stable with quadratic deflections
(one multiplier for each element, Brezzi & Fortin, Mixed and Hybrid Finite Element Methods, 1991, on such pairs).  Only
places that a solution goes below are watched: they join the supports in the same exact law, the deepest ones far apart
from each other first and then closer, until no other place is below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.places import Obstacle, Places, panel_places
from splitterfem.fem.play import PlayState
from splitterfem.fem.structure import Structure
from splitterfem.fem.supported import SupportedMatrix
from splitterfem.threads import one_blas_thread

__all__ = ["Landed", "Obstacle", "Places", "panel_places", "solve_on_ground"]

Array = NDArray[np.float64]
Index = NDArray[np.int64]

MOST_ROUNDS = 60


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


@one_blas_thread()
def solve_on_ground(
    structure: Structure, load: Array, obstacle: Obstacle, *, start: Index | None = None
) -> Landed:
    """Solve for a load vector (n_dofs,) with the ground below.

    Parameters
    ----------
    structure : Structure
    load : ndarray, shape (n_dofs,)
    obstacle : Obstacle
    start : ndarray of int, optional
        Places to watch from the beginning, such as those that touch under a similar load.  The answer does not depend
        on them.

    Raises
    ------
    MechanismError
        If what touches under this load does not hold the panel.
    SolveError
        If supports contradict each other or the ground, or the places that touch are not found.
    """
    places = Places(structure, obstacle)
    whole = structure.with_extra(load)
    watched = np.zeros(0, dtype=np.int64) if start is None else np.unique(start)
    held = places.watching(structure.base, watched) if len(watched) else structure.base
    tied, sides = structure.base.tied_answer(whole), None
    for turn in range(MOST_ROUNDS):
        x, state = held.solve(whole, start=sides, tied=tied)
        depth = places.below(x, watched)
        if state.held and not np.any(depth):
            x, state = held.polished(whole, x, state)
            depth = places.below(x, watched)
        if not np.any(depth):
            refuse_loose(structure, state)
            return _landed(places, x, state, watched, structure.base)
        more = places.worst(depth, turn)
        held = places.watching(held, more)
        watched = np.concatenate([watched, more])
        sides = np.concatenate([state.side, np.full(len(more), -1)])
    raise SolveError(
        f"Where the panel lies on the ground was not found in {MOST_ROUNDS} rounds: make mesh.size larger, or look at "
        "the clearances of the supports."
    )


def refuse_loose(structure: Structure, state: PlayState) -> None:
    """Refuse a state in which nothing holds the panel.

    Raises
    ------
    MechanismError
        Saying whether the load lifts it off its supports or leaves it floating among them.
    """
    if state.held:
        return
    why = "because the load lifts it off its supports"
    if not np.any(state.way):
        why = "because the load leaves it floating in the play of its supports"
    structure.check_held(state.side[: structure.base.rows.shape[0]] != 0, when=f" under this load, {why}")


def _landed(places: Places, x: Array, state: PlayState, watched: Index, base: SupportedMatrix) -> Landed:
    supports = base.rows.shape[0]
    ground = np.zeros(len(places.lowest))
    ground[watched] = 0.0 - state.force[supports:]
    gap = places.rows @ x - places.lowest
    sunk = float(np.maximum(-gap, 0.0).max(initial=0.0)) / max(float(np.abs(x).max(initial=0.0)), 1e-300)
    residual = max(state.residual, sunk)
    return Landed(x, state.force[:supports], state.side[:supports], ground, residual, len(watched))
