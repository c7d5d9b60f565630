"""What a spring to the ground, or a pair of them, does to a solved panel at many places: exact, not to first order.

A change of stiffness ``R' k R`` by few rows R changes a linear answer by a system of as many equations (Sherman &
Morrison, Ann. Math. Stat. 21 (1950) 124-127; Woodbury 1950).  What is needed of the panel is its own flexibility at the
rows, with the supports that act.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.gain_watch import watched
from splitterfem.analysis.sensitivity import Sensitivity, Tangent, lowest_modes, tangent_of
from splitterfem.fem.push import own_flexibility
from splitterfem.model import Model

Array = NDArray[np.float64]
Rows = tuple[sp.csr_array, ...]
"""Rows (k, n_dofs) of k places; of a pair two such, one for each half."""

MODES, HALVINGS = 24, 50
"""Natural modes that take part beside the static flexibility, and halvings of the search for a frequency."""

ROUNDING = 1e-9
"""Share of the panel's flexibility that a rigid spring gives way by, so that two in the same place share the load."""


def spring_gains(of: Sensitivity, rows: Rows, stiffness: float) -> Array:
    """Gain (k,) by springs of a stiffness in N/m on rows, in m or Hz.

    What is to fall, a linear measure J, falls by ``z' (1 / k + c)^-1 x`` with the motions x and z of state and adjoint
    at the springs and the flexibility c there; of the worst place all that may be the worst then are watched.
    """
    tangent = tangent_of(of)
    give = flexibilities(tangent, of.solution.model, rows)
    if of.square:
        return _risen(of, rows, give, stiffness)
    places = watched(of, tangent)
    state = np.stack([half @ of.state for half in rows], axis=1)
    forces = np.linalg.solve(_yielding(give, stiffness), state[:, :, None])
    falls = sum(forces[:, i] * (half @ places.adjoints) for i, half in enumerate(rows))
    return places.gain(np.asarray(falls))


def _yielding(give: Array, stiffness: float) -> Array:
    """Flexibility (k, q, q) of panel and springs together."""
    q = give.shape[1]
    own = np.einsum("kqq->kq", give).max(axis=1)
    return np.asarray(give + (1.0 / stiffness + ROUNDING * own)[:, None, None] * np.eye(q))


def _risen(of: Sensitivity, rows: Rows, give: Array, stiffness: float) -> Array:
    """Rise (k,) of the first natural frequency in Hz."""
    modes, _ = lowest_modes(of.solution, MODES)
    swing = np.stack([half @ modes.shapes[: half.shape[1]] for half in rows], axis=1)
    first = lifted(modes.values, swing, _yielding(give, stiffness))
    return np.asarray((np.sqrt(first) - np.sqrt(modes.values[0])) / (2.0 * np.pi))


def lifted(squares: Array, swing: Array, give: Array) -> Array:
    """Square (k,) of the first angular frequency with q elastic links added, for k sets of them.

    With the natural modes v_j and the squares w_j of their angular frequencies, ``W(w) = 1 / k + c + sum_j v_j v_j'
    (1 / (w_j - w) - 1 / w_j)`` at the links has as many negative eigenvalues as links lift frequencies from below w to
    above it (Weinstein's method with the static rest; after Gould, Variational Methods for Eigenvalue Problems, 1966;
    from memory).

    Parameters
    ----------
    squares : ndarray, shape (j,)
        Of the natural angular frequencies in 1/s2, rising; more than q.
    swing : ndarray, shape (k, q, j)
        Motion of each link in each mode of unit modal mass.
    give : ndarray, shape (k, q, q)
        Static motions under unit forces, of panel and links together.
    """
    q = swing.shape[1]
    low, high = np.full(len(give), squares[0]), np.full(len(give), squares[q])
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        share = 1.0 / (squares - middle[:, None]) - 1.0 / squares
        matrix = give + np.einsum("kqj,kj,krj->kqr", swing, share, swing)
        passed = np.sum(np.linalg.eigvalsh(matrix) < 0.0, axis=1)
        below = passed == np.sum(squares < middle[:, None], axis=1)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return low


def flexibilities(tangent: Tangent, model: Model, rows: Rows) -> Array:
    """Motions (k, q, q) that the q rows of each place measure under unit forces on each, with the supports that act."""
    extra = sp.csr_array((rows[0].shape[0], model.structure.n_extra))
    whole = [sp.csr_array(sp.hstack([half, extra])) for half in rows]
    found = np.zeros((rows[0].shape[0], len(rows), len(rows)))
    for i, half in enumerate(whole):
        found[:, i, i] = _own(tangent, half)
    for i in range(len(rows)):
        for j in range(i):
            # the give under both forces at once is that of each and twice the mixed one
            both = _own(tangent, sp.csr_array(whole[i] + whole[j]))
            found[:, i, j] = found[:, j, i] = 0.5 * (both - found[:, i, i] - found[:, j, j])
    return found


def _own(tangent: Tangent, rows: sp.csr_array) -> Array:
    """Motion (k,) that each row (k, n) measures under a unit force on itself, with the supports that act."""
    held, side = tangent.held, tangent.side
    further = sp.csr_array(held.rows[held.influence.shape[1] :])
    reach = np.hstack([rows @ held.influence, rows @ held.tied_answer(further.T.toarray())])
    pull = np.empty((len(side), len(side)))
    for i, unit in enumerate(np.eye(len(side))):
        motion, force = held.play.correct(side, unit, np.zeros(len(side)))
        pull[:, i] = held.ties * motion - force
    return np.asarray(own_flexibility(held, rows) + np.einsum("ki,ij,kj->k", reach, pull, reach))
