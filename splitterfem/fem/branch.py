"""Equilibria along a branch: one after the other as the load grows, up to the last one that there is.

Each is looked for near the one before it, so that a branch is either followed or found to end.  At the end of a smooth
branch the load has a maximum over the deflection, and the eigenvalue that vanishes there, one less the feedback factor
of :mod:`.divergence`, passes straight through zero (limit point; Thompson & Hunt, A General Theory of Elastic
Stability, 1973; from memory): so ``(1 - factor)^2`` falls in proportion to the load on the way to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.divergence import Feedback, feedback
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.nearby import Equilibrium, near

Array = NDArray[np.float64]
BalanceAt = Callable[[float], Balance]
Watch = Callable[[Array], float]

SHORT, LONG, SMALL = 1.5, 4.0, 0.4
"""Growth of the load from one equilibrium to the next: the long one while the feedback factor is small beside this."""

TOWARDS = 0.75
"""Share of the way to the foreseen end that is gone at once."""

NEAR, CLOSED = 5e-4, 2e-3
"""How near to the foreseen end the last equilibrium is, and how narrow the bracket of the end, over the load."""

FAR, NEARBY = 3.0, 0.05
"""An equilibrium is another branch's when it lies further off than this many times what was foreseen, and further than
this share of the deflection."""

MOST_POINTS, MOST_HALVINGS = 60, 6


@dataclass(frozen=True, eq=False)
class BranchPoint:
    """One equilibrium of a branch.

    Attributes
    ----------
    load : float
        How large the load is, in whatever measures it.
    x : ndarray, shape (n,)
    feedback : Feedback
    watched : float
        What was watched; nan without anything.
    """

    load: float
    x: Array
    feedback: Feedback
    watched: float


@dataclass(frozen=True, eq=False)
class Branch:
    """Equilibria in the order of their loads.

    Attributes
    ----------
    points : tuple of BranchPoint
    lost : float or None
        Load at which the branch ends; None when it goes on.
    """

    points: tuple[BranchPoint, ...]
    lost: float | None

    def crossing(self) -> tuple[BranchPoint, BranchPoint] | None:
        """Neighbours between which what is watched falls to zero; None when it does not."""
        for before, after in zip(self.points, self.points[1:], strict=False):
            if before.watched > 0.0 >= after.watched:
                return before, after
        return None


def climb(
    balance_at: BalanceAt,
    first: float,
    highest: float,
    *,
    watch: Watch | None = None,
    until_zero: bool = False,
) -> Branch:
    """Follow a branch of equilibria as the load grows.

    Parameters
    ----------
    balance_at : callable
        Gives the problem at a load, without ground, always with the same structure.
    first : float
        Load to begin with, small against that at which anything happens; a smaller one is taken if need be.
    highest : float
        Load at which to stop.
    watch : callable, optional
        Gives a figure to watch from the unknowns (n,).
    until_zero : bool
        Whether to stop once that figure is zero or less.

    Raises
    ------
    MechanismError
        If the supports do not hold the panel under the first load.
    SolveError
        If there is no equilibrium under the first load, or too many are asked for.
    """
    path = _Path(balance_at, highest, watch)
    path.begin(min(first, highest))
    while len(path.points) < MOST_POINTS:
        if path.points[-1].load >= highest or (until_zero and path.points[-1].watched <= 0.0):
            return Branch(tuple(path.points), None)
        lost = path.go_on()
        if lost is not None:
            return Branch(tuple(path.points), lost)
    raise SolveError(
        f"The equilibria were followed through {MOST_POINTS} speeds without an end: give a lower highest speed."
    )


class _Path:
    """Equilibria found so far, and the lowest load at which none was found from the last but so many."""

    def __init__(self, balance_at: BalanceAt, highest: float, watch: Watch | None) -> None:
        self.balance_at, self.highest, self.watch = balance_at, highest, watch
        self.points: list[BranchPoint] = []
        self.above = math.inf
        self.tried_from = math.nan

    def begin(self, load: float) -> None:
        """Find the first equilibrium from the undeformed panel."""
        for _ in range(MOST_HALVINGS):
            balance = self.balance_at(load)
            found = near(balance, np.zeros(balance.structure.matrix.shape[0]))
            point = None if found is None else self._point(load, found)
            if point is not None:
                self.points.append(point)
                return
            load *= 0.5
        self.balance_at(load).solve()  # says why, if it is not for the feedback
        raise SolveError(
            "No equilibrium was found even at the lowest speed tried: suction grows faster than the panel resists it; "
            "stiffen it, or raise it."
        )

    def go_on(self) -> float | None:
        """Find the next equilibrium, or the load at which the branch ends."""
        now = self.points[-1]
        end = self._foreseen()
        if self.above - now.load <= CLOSED * now.load:
            if self.tried_from == now.load or not self._reach(self.above):
                return (
                    end if end is not None and now.load < end < self.above else 0.5 * (now.load + self.above)
                )
            self.above = math.inf
            return None
        if end is not None and end - now.load <= NEAR * now.load:
            aim = (1.0 + NEAR) * max(end, now.load)
        else:
            aim = self._next(end)
        self._reach(min(aim, self.highest))
        return None

    def _reach(self, aim: float) -> bool:
        """Try to find the equilibrium at a load."""
        now = self.points[-1]
        start = self._start(aim)
        found = near(self.balance_at(aim), start)
        point = None if found is None or self._is_far(found, start) else self._point(aim, found)
        if point is None:
            self.above, self.tried_from = aim, now.load
            return False
        self.points.append(point)
        return True

    def _point(self, load: float, found: Equilibrium) -> BranchPoint | None:
        """Point of the branch, or None for an equilibrium that is not stable."""
        back = feedback(found.held, found.side, found.slope)
        if back.factor >= 1.0:
            return None
        return BranchPoint(load, found.x, back, math.nan if self.watch is None else self.watch(found.x))

    def _foreseen(self) -> float | None:
        """Load at which the last two equilibria say that the branch ends."""
        if len(self.points) < 2:
            return None
        before, now = self.points[-2:]
        fell = (1.0 - before.feedback.factor) ** 2 - (1.0 - now.feedback.factor) ** 2
        if fell <= 0.0:
            return None
        return now.load + (1.0 - now.feedback.factor) ** 2 * (now.load - before.load) / fell

    def _next(self, end: float | None) -> float:
        """Load to try next."""
        now, factor = self.points[-1].load, self.points[-1].feedback.factor
        aim = now * min(max(SMALL / max(factor, 1e-300), SHORT), LONG)
        if end is not None:
            aim = min(aim, now + TOWARDS * (end - now))
        if math.isfinite(self.above):
            aim = min(aim, now + 0.6 * (self.above - now))
        zero = self._zero()
        return aim if zero is None else min(aim, max(zero, now * (1.0 + NEAR)))

    def _zero(self) -> float | None:
        """Load at which the last two equilibria say that what is watched falls to zero, and a little more."""
        if len(self.points) < 2:
            return None
        before, now = self.points[-2:]
        fall = (before.watched - now.watched) / (now.load - before.load)
        return now.load + 1.02 * now.watched / fall if now.watched > 0.0 and fall > 0.0 else None

    def _start(self, aim: float) -> Array:
        """Unknowns foreseen at a load: in proportion to one less the feedback factor, which is smooth up to the end."""
        now = self.points[-1]
        end = self._foreseen()
        if len(self.points) < 2:
            return now.x
        before = self.points[-2]
        if end is None:
            return np.asarray(now.x + (now.x - before.x) * (aim - now.load) / (now.load - before.load))
        was, left = 1.0 - before.feedback.factor, 1.0 - now.feedback.factor
        then = left * math.sqrt(max(end - aim, 0.0) / (end - now.load))
        return np.asarray(now.x + (now.x - before.x) * (left - then) / (was - left))

    def _is_far(self, found: Equilibrium, start: Array) -> bool:
        """Whether an equilibrium is too far from the last one to lie on the same branch."""
        now = self.points[-1].x
        n = self.balance_at(self.points[-1].load).structure.panel.space.n_dofs
        w = slice(2, n, 5)
        foreseen = found.first if len(self.points) < 2 else start
        moved, expected = (float(np.abs((x - now)[w]).max()) for x in (found.x, foreseen))
        return moved > max(FAR * expected, NEARBY * float(np.abs(now[w]).max()))
