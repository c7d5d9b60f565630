"""The equilibrium near a state of the panel, without ground.

Where a load follows the deflection, there may be further equilibria far away, beyond a snap, which load steps may lead
to.  Here Newton's method goes on from where it stands, with whole steps, or gives up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.feedback import EndlessFeedbackError, Slope, touching
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Sides = NDArray[np.int64]

CONVERGED = 1e-8
"""Change of the deflection in a Newton step, over the deflection, whose square is left as the error."""

RUNAWAY = 10.0
"""Growth of a Newton step over the smallest before it at which it is given up."""

MOST_ITERATIONS = 12


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """Unknowns in equilibrium, and what is linear about them.

    Attributes
    ----------
    x : ndarray, shape (n,)
    held : SupportedMatrix
        Tangent stiffness.
    side : ndarray of int, shape (m,)
        Supports that act.
    slope : callable or None
        Derivative of the load.
    first : ndarray, shape (n,)
        Unknowns after the first Newton step.
    """

    x: Array
    held: SupportedMatrix
    side: Sides
    slope: Slope | None
    first: Array


def near(balance: Balance, start: Array) -> Equilibrium | None:
    """Find the equilibrium near unknowns (n,), without ground; None when Newton's method does not come to one."""
    x, size = start, math.inf
    first: Array | None = None
    side: Sides | None = None
    for _ in range(MOST_ITERATIONS):
        held, slope = balance.stiffness_at(x), balance.slope_at(x)
        found = _step(balance, held, slope, x, side)
        if found is None:
            return None
        wanted, side = found
        change = _deflection(balance, wanted - x)
        x, first = wanted, wanted if first is None else first
        if not change < RUNAWAY * size:
            return None
        if change <= CONVERGED * _deflection(balance, x):
            return Equilibrium(x, held, side, slope, first)
        size = min(size, change)
    return None


def _step(
    balance: Balance, held: SupportedMatrix, slope: Slope | None, x: Array, start: Sides | None
) -> tuple[Array, Sides] | None:
    """Answer of the problem linearised at ``x``, with the supports that touch; None where nothing holds it.

    The search for these begins with the sides ``start`` (m,), on which it does not depend.
    """
    try:
        wanted, state = touching(held, _load(balance, held, x), slope, x, start)
    except EndlessFeedbackError:
        return None
    return (wanted, state.side) if state.held else None


def _load(balance: Balance, held: SupportedMatrix, x: Array) -> Array:
    """Right-hand side (n,) of the problem linearised at ``x``."""
    n = balance.structure.panel.space.n_dofs
    load = balance.load if balance.follower is None else balance.load + balance.follower.load(x[:n])
    whole = balance.structure.with_extra(load)
    return whole if balance.large is None else np.asarray(whole - balance.large.internal(x) + held.matrix @ x)


def _deflection(balance: Balance, x: Array) -> float:
    return float(np.abs(x[2 : balance.structure.panel.space.n_dofs : 5]).max())
