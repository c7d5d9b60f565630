"""The speed at which a panel first touches the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from splitterfem.analysis.atspeed import USUAL_TOP, AtSpeed
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError, SolveError
from splitterfem.fem.branch import Branch, BranchPoint, climb
from splitterfem.fem.nearby import near
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread
from splitterfem.units import say_as

Array = NDArray[np.float64]
System = Literal["metric", "us"]

CLOSE = 1e-5
"""Accuracy of the speed, over it."""

START = 0.1
"""Share of the dynamic pressure of the case, or of the highest speed, with which the search begins."""


@dataclass(frozen=True, eq=False)
class TouchSpeed:
    """Speed at which the panel, or a rib below it, first touches the ground.

    Attributes
    ----------
    case : str
    outcome : {"touches", "at rest", "never", "lost"}
        Whether it touches at `speed`; lies on the ground already at rest; does not touch up to `up_to`; or whether at
        `speed` there is no equilibrium any more while it is still clear of the ground.
    speed : float or None
        Of the car in m/s; None where it touches at rest or never.
    up_to : float
        Speed in m/s up to which was looked.
    gap : float
        Smallest gap in m: at `speed` (the last that was found where the equilibrium is lost), at rest, or at `up_to`.
    at : tuple of float
        Its place (x, y) in m.
    under : str
        What comes lowest there: ``"panel"`` or the rib's name.
    follows : bool
        Whether the pressure follows the sag.
    """

    case: str
    outcome: Literal["touches", "at rest", "never", "lost"]
    speed: float | None
    up_to: float
    gap: float
    at: tuple[float, float]
    under: str
    follows: bool

    @property
    def sentence(self) -> str:
        """Say when what touches where."""
        return self.said()

    def said(self, system: System = "metric") -> str:
        """Say when what touches where, in the units of a system."""
        what, place = self._what, self._place(system)
        if self.outcome == "never":
            top = say_as(self.up_to, "speed", system=system)
            return f"Nothing touches the ground up to {top}: {self.left(system)} there."
        if self.outcome == "at rest":
            told = f"lies on the ground already at rest, {place}: raise it, or support it there."
            return f"{what[0].upper()}{what[1:]} {told}"
        speed = say_as(self.speed or 0.0, "speed", system=system)
        if self.outcome == "touches":
            return f"{what[0].upper()}{what[1:]} first touches the ground at {speed}, {place}."
        return (
            f"Nothing touches the ground up to {speed}, where no equilibrium is left: {self.left(system)} then, and "
            "the panel goes down at once."
        )

    def left(self, system: System = "metric") -> str:
        """Say which gap is left under what, and where."""
        gap = say_as(self.gap, "length", system=system)
        return f"{gap} are left under {self._what} {self._place(system)}"

    @property
    def _what(self) -> str:
        return "the panel" if self.under == "panel" else f"rib '{self.under}'"

    def _place(self, system: System) -> str:
        x, y = (say_as(c, "length", system=system, digits=0 if system == "metric" else 1) for c in self.at)
        return f"at x {x}, y {y}"

    def __repr__(self) -> str:
        """Write load case and sentence."""
        return f"'{self.case}': {self.sentence}"


@one_blas_thread()
def ground_touch_speed(
    model: Model,
    case: str | LoadCase,
    *,
    up_to: float = USUAL_TOP,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
) -> TouchSpeed:
    """Find the lowest speed at which the gap between a panel and the ground becomes zero.

    The panel is let through the ground, so that the gap falls smoothly through zero; equilibria are followed from low
    speeds upwards.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        With air; its own speed matters only where it combines cases with different ones, which go in proportion.
    up_to : float
        Speed of the car in m/s up to which is looked.
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.

    Raises
    ------
    DesignError
        If the case is unknown, its pressures belong to no speed, or `up_to` is not above zero.
    MechanismError
        If the supports do not hold the panel at low speed.
    SolveError
        If no equilibrium is found at all.
    """
    at = AtSpeed(model, case, large_deflection=large_deflection, sag_feedback=sag_feedback)
    return touch_speed_of(at, up_to=up_to)


def touch_speed_of(at: AtSpeed, *, up_to: float = USUAL_TOP) -> TouchSpeed:
    """Find the first ground touch of a case whose loads at some speeds may be assembled already."""
    highest = top_speed(up_to)
    first = START * min(at.speed or highest, highest) ** 2
    branch = follow(at, first, highest, until_zero=True)
    return touch_of(at, branch, highest, feedback=at.follows)


def top_speed(up_to: float) -> float:
    """Check the speed up to which is looked."""
    if not (np.isfinite(up_to) and up_to > 0.0):
        raise DesignError(f"The highest speed to look at is {up_to:g} m/s: give one above zero.")
    return float(up_to)


def follow(
    at: AtSpeed, first: float, highest: float, *, until_zero: bool = False, feedback: bool | None = None
) -> Branch:
    """Follow the equilibria of a case, without ground, by the square of the speed.

    Parameters
    ----------
    at : AtSpeed
    first : float
        Square of the speed to begin with, m2/s2.
    highest : float
        Highest speed in m/s.
    until_zero : bool
        Whether to stop when the gap to the ground, which is watched, is gone.
    feedback : bool, optional
        Whether the pressure follows the sag; as the case says when left out.
    """
    follows = at.follows if feedback is None else feedback
    slowest = at.slowest(highest)
    return climb(
        lambda square: at.balance_at(float(np.sqrt(square)), feedback=follows, ground=False),
        max(first, slowest**2),
        max(highest, slowest) ** 2,
        watch=lambda x: at.gap(x).least,
        until_zero=until_zero,
    )


def touch_of(at: AtSpeed, branch: Branch, highest: float, *, feedback: bool) -> TouchSpeed:
    """Find where along a branch the gap is gone."""
    name, last = at.case.name, branch.points[-1]
    first = branch.points[0]
    pair = branch.crossing()
    if first.watched <= 0.0:
        low = _resting(at, highest, feedback=feedback)
        if low.watched <= 0.0:
            return _touch(at, name, "at rest", None, highest, low.x, feedback)
        pair = low, first
    if pair is not None:
        speed, x = _root(at, *pair, feedback=feedback)
        return _touch(at, name, "touches", speed, highest, x, feedback)
    if branch.lost is not None:
        return _touch(at, name, "lost", float(np.sqrt(branch.lost)), highest, last.x, feedback)
    return _touch(at, name, "never", None, highest, last.x, feedback)


def _touch(
    at: AtSpeed,
    case: str,
    outcome: Literal["touches", "at rest", "never", "lost"],
    speed: float | None,
    up_to: float,
    x: Array,
    follows: bool,
) -> TouchSpeed:
    gap = at.gap(x)
    return TouchSpeed(case, outcome, speed, up_to, gap.least, gap.at, gap.under, follows)


def _resting(at: AtSpeed, highest: float, *, feedback: bool) -> BranchPoint:
    """Return the panel with next to no air."""
    slowest = at.slowest(highest)
    branch = follow(at, slowest**2, slowest, feedback=feedback)
    return branch.points[0]


def _root(at: AtSpeed, before: BranchPoint, after: BranchPoint, *, feedback: bool) -> tuple[float, Array]:
    """Speed between two neighbours of a branch at which the gap is gone, and the unknowns there."""
    known = {point.load: (point.x, point.watched) for point in (before, after)}

    def gap(square: float) -> float:
        if square not in known:
            share = (square - before.load) / (after.load - before.load)
            start = before.x + share * (after.x - before.x)
            found = near(at.balance_at(float(np.sqrt(square)), feedback=feedback, ground=False), start)
            if found is None:
                speed = say_as(float(np.sqrt(square)), "speed")
                raise SolveError(
                    f"The equilibria of load case '{at.case.name}' could not be followed at {speed}, just before the "
                    "panel touches the ground: solve the case there by itself."
                )
            known[square] = found.x, at.gap(found.x).least
        return known[square][1]

    square = float(brentq(gap, before.load, after.load, rtol=2.0 * CLOSE, xtol=1e-12))
    gap(square)
    return float(np.sqrt(square)), known[square][0]
