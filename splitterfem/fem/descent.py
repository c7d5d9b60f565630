"""How far to go along a step: to where the energy of a panel and of the supports with play is least.

The energy is convex and quadratic in pieces, so its slope along a step is a chain of straight lines that only rises.
Where it passes zero is found exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Point:
    """A state of the panel in equilibrium, whether or not its supports would give the forces that it needs.

    Attributes
    ----------
    motion : ndarray, shape (m,)
        Motions of the restraints.
    force : ndarray, shape (m,)
        Forces that keep the panel in equilibrium, along the motions, of the panel on the restraints.
    over, under : ndarray, shape (m,)
        How far the motions are beyond the upper and the lower bounds; -inf for a bound that there is not.
    """

    motion: Array
    force: Array
    over: Array
    under: Array

    @property
    def side(self) -> NDArray[np.int64]:
        """1 beyond the upper, -1 beyond the lower bound, 0 between them, shape (m,)."""
        return np.where(self.over > 0.0, 1, np.where(self.under > 0.0, -1, 0)).astype(np.int64)

    def less(self, other: Point) -> Point:
        """Way from another point to this one."""
        there = np.isfinite(self.over), np.isfinite(self.under)
        over, under = (
            np.subtract(a, b, out=np.zeros_like(a), where=where)
            for a, b, where in ((self.over, other.over, there[0]), (self.under, other.under, there[1]))
        )
        return Point(self.motion - other.motion, self.force - other.force, over, under)

    def moved(self, way: Point, share: float) -> Point:
        """Point at a share of a way."""
        return Point(
            self.motion + share * way.motion,
            self.force + share * way.force,
            self.over + share * way.over,
            self.under + share * way.under,
        )


def share_of(point: Point, way: Point, compliance: Array) -> float | None:
    """Share of a way at which the energy is least; None if it falls for ever.

    Parameters
    ----------
    point, way : Point
    compliance : ndarray, shape (m,)
        Of the bounds, positive, in units of motion per force.
    """

    def slope(share: float) -> float:
        reached = point.moved(way, share)
        answer = (np.maximum(reached.over, 0.0) - np.maximum(reached.under, 0.0)) / compliance
        return float(way.motion @ (answer - reached.force))

    before, low = 0.0, slope(0.0)
    if low >= 0.0:
        return 0.0
    kinks = np.concatenate([_crossings(point.over, way.over), _crossings(point.under, way.under)])
    kinks = np.unique(kinks)
    # The slope only rises: halve the kinks until two neighbours have zero between them.
    first, last = 0, len(kinks)
    while first < last:
        middle = (first + last) // 2
        value = slope(kinks[middle])
        if value < 0.0:
            before, low, first = float(kinks[middle]), value, middle + 1
        else:
            last = middle
    after = float(kinks[first]) if first < len(kinks) else before + max(1.0, before)
    high = slope(after)
    if high <= low:
        return None
    return before - low * (after - before) / (high - low)


def _crossings(beyond: Array, rate: Array) -> Array:
    """Shares at which bounds are passed, those on the way only."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        at = -beyond / rate
    return np.asarray(at[np.isfinite(at) & (at > 0.0)])
