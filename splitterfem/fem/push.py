"""Pushes at many places, one after the other, from one factorisation.

A push needs the panel's own flexibility at its place, which the lower half of the factors gives, and what the push
moves at the restraints, which their influence gives already.  Which of them act is found exactly as in every solve for
one place after the other; where the same ones act, no further search is needed.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import Lower
from splitterfem.fem.playlaw import Sides
from splitterfem.fem.structure import Structure
from splitterfem.fem.subtrees import Subtrees
from splitterfem.fem.supported import SupportedMatrix
from splitterfem.fem.ties import CorrectedLower

Array = NDArray[np.float64]

NEGLIGIBLE = 1e-12
"""Motions and forces below this share of the largest one count as none."""


def pushed(structure: Structure, load: Array, rows: sp.csr_array, force: float) -> Array:
    """Motion that each row measures when its own push comes on top of a load.

    Parameters
    ----------
    structure : Structure
    load : ndarray, shape (n,)
        That acts all the time.
    rows : csr_array, shape (k, n)
        Mean motion of each place; a push acts along it.
    force : float
        Of every push, in N.

    Returns
    -------
    ndarray, shape (k,)
        Beyond the motion under the load alone, in m; nan where the restraints that are left do not hold the panel.

    Raises
    ------
    MechanismError
        If the restraints that act under the load alone do not hold the panel.
    SolveError
        If no consistent set of acting restraints is found.
    """
    held = structure.base
    tied = held.tied_answer(load)
    at_rest, rest = held.solve(load, tied=tied)
    if not rest.held:
        structure.check_held(
            rest.side != 0, when=" before the push, because the load lifts it off its supports"
        )
    reach = rows @ held.influence
    pull = _pulls(held, held.rows @ tied + force * reach, rest.side)
    start: Array = rows @ (tied - at_rest)
    moved: Array = np.einsum("km,km->k", reach, pull)
    return start + force * own_flexibility(held, rows) + moved


def own_flexibility(held: SupportedMatrix, rows: sp.csr_array) -> Array:
    """Motion (k,) that each row (k, n) measures under a unit force on itself, with every restraint tied."""
    lower, rows = held.factor.lower, sp.csr_array(rows[:, held.free])
    corrected = lower if isinstance(lower, CorrectedLower) else None
    whole = lower if corrected is None else corrected.base
    assert isinstance(whole, Lower)
    found = Subtrees(whole).products(rows)
    if corrected is not None:
        reach = rows @ corrected.reach
        found += np.einsum("km,km,m->k", reach, reach, 1.0 / corrected.own)
    return found


def _pulls(held: SupportedMatrix, tied_motions: Array, side: Sides) -> Array:
    """Return forces (k, m) that turn the tied panel's answer to each of k loads into that with the restraints' law.

    Equilibrium is the only state in which motions and forces obey the law, so a set of acting restraints that was
    found for one load is right for every other whose motions and forces obey it too.

    Parameters
    ----------
    held : SupportedMatrix
    tied_motions : ndarray, shape (k, m)
        Of the restraints under each load, with all of them tied.
    side : ndarray of int, shape (m,)
        Sides with which the first search begins.

    Returns
    -------
    ndarray, shape (k, m)
        In N; nan where the restraints do not hold the panel.
    """
    pulls = np.full(tied_motions.shape, np.nan)
    left = np.arange(len(tied_motions))
    while len(left):
        state = held.play.solve(tied_motions[left[0]], start=side)
        if not state.held:
            left = left[1:]
            continue
        side = state.side
        pulls[left[0]] = held.ties * state.motion - state.force
        left = left[1:]
        motion, force = _with_acting(held, side, tied_motions[left])
        obeyed = _obeyed(held, side, motion, force)
        pulls[left[obeyed]] = (held.ties * motion - force)[obeyed]
        left = left[~obeyed]
    return pulls


def _with_acting(held: SupportedMatrix, side: Sides, tied_motions: Array) -> tuple[Array, Array]:
    """Motions and forces (k, m) of the restraints when just those of a set that holds the panel act.

    With ``y`` the motions, ``f`` the forces, ``F`` the tied panel's flexibility and ``K`` the ties,
    ``y = y_tied + F (K y - f)``, where ``f = 0`` at open restraints and ``y = bound + give f`` at acting ones.
    """
    root = np.sqrt(held.reference)
    acting = side != 0
    law = held.play.law
    bound = np.where(acting, np.where(side > 0, law.upper, law.lower), 0.0) * root
    give = held.play.give * held.reference
    flexibility = root[:, None] * (held.rows @ held.influence) * root
    loose = np.eye(len(side)) - flexibility * (held.ties / held.reference)
    matrix = np.where(acting, loose * give + flexibility, loose)
    unknown = np.linalg.solve(matrix, (tied_motions * root - loose @ bound).T).T
    motion = np.where(acting, bound + give * unknown, unknown)
    return motion / root, np.where(acting, unknown, 0.0) * root


def _obeyed(held: SupportedMatrix, side: Sides, motion: Array, force: Array) -> NDArray[np.bool_]:
    """Which of k states (k, m) obey the law: open restraints within their play, the others pressed to their bound."""
    law, root = held.play.law, np.sqrt(held.reference)
    beyond = np.where(side == 0, np.maximum(motion - law.upper, law.lower - motion) * root, 0.0)
    pulling = np.where((side == 0) | law.two_way, 0.0, -side * force / root)
    size = np.maximum(
        np.abs(motion * root).max(axis=1, initial=0.0), np.abs(force / root).max(axis=1, initial=0.0)
    )
    worst = np.maximum(beyond, pulling).max(axis=1, initial=0.0)
    return np.asarray(worst <= NEGLIGIBLE * size)
