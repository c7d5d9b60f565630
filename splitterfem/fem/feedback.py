"""Exact contact under a load that changes with the deflection.

Such a load is neither symmetric nor sparse in the unknowns: GMRES (Saad & Schultz, SIAM J. Sci. Stat. Comput. 7 (1986)
856-869) solves for it on the supports that act, with the factorised stiffness as preconditioner.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, gmres

from splitterfem.errors import SolveError
from splitterfem.fem.eliminated import Tied
from splitterfem.fem.play import PlayState
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Slope = Callable[[Array], Array]

MOST_SETS = 8
"""Most sets of touching supports that one Newton step tries; the next step goes on from the last."""

LINEAR_TOLERANCE = 1e-12


class EndlessFeedbackError(SolveError):
    """The load grows with the deflection as fast as the structure resists it."""


def touching(
    held: SupportedMatrix,
    load: Array,
    slope: Slope | None,
    x: Array,
    start: NDArray[np.int64] | None,
    tied: Tied | None = None,
) -> tuple[Array, PlayState]:
    """Answer to a load (n,) that changes by ``slope`` with the step from ``x``, with the exact law of all supports.

    The load's answer by `SupportedMatrix.tied` need not be found again if it is given.

    Raises
    ------
    EndlessFeedbackError
        If what the step brings about has no end.
    """
    wanted, state = held.solve(load, start=start, tied=tied)
    if slope is None or not state.held:
        return wanted, state
    reached = x
    for _ in range(MOST_SETS):
        reached = wanted + fed_back(held, state.side, slope, slope(wanted - reached))
        wanted, new = held.solve(load + slope(reached - x), start=state.side)
        if np.array_equal(new.side, state.side) or not new.held:
            return wanted, new
        state = new
    return wanted, state


def fed_back(held: SupportedMatrix, side: NDArray[np.int64], slope: Slope, load: Array) -> Array:
    """Unknowns (n,) that a load (n,) and what it brings about by ``slope`` add, the same supports acting.

    Raises
    ------
    EndlessFeedbackError
        If what it brings about has no end.
    """

    def loop(step: Array) -> Array:
        return step - held.answer(side, slope(step))

    first = held.answer(side, load)
    if not np.any(first):
        return first
    n = len(load)
    operator = LinearOperator((n, n), matvec=loop, dtype=np.float64)
    found, info = gmres(operator, first, rtol=LINEAR_TOLERANCE, atol=0.0, restart=60, maxiter=4)
    left = float(np.linalg.norm(first - loop(found)) / np.linalg.norm(first))
    if info != 0 and left > 1e-6:
        raise EndlessFeedbackError(
            "The panel is at the point where suction grows as fast as the panel resists it: go slower, or stiffen it."
        )
    return np.asarray(found)
