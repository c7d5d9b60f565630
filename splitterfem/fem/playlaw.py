"""Bounds and compliance of supports with play, and the state in which they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Sides = NDArray[np.int64]


@dataclass(frozen=True)
class PlayLaw:
    """Bounds and compliance of ``m`` restraints.

    Attributes
    ----------
    lower, upper : ndarray, shape (m,)
        Limits of the free play in m; equal for a two-way restraint, infinite for none.
    compliance : ndarray, shape (m,)
        In m/N; zero for a rigid bound.
    """

    lower: Array
    upper: Array
    compliance: Array

    @property
    def two_way(self) -> NDArray[np.bool_]:
        """Restraints without play, which always act."""
        return np.asarray(self.lower == self.upper)

    def joined(self, other: PlayLaw) -> PlayLaw:
        """Law of these restraints and further ones behind them."""
        pairs = zip(
            (self.lower, self.upper, self.compliance),
            (other.lower, other.upper, other.compliance),
            strict=True,
        )
        return PlayLaw(*(np.concatenate(pair) for pair in pairs))

    def without(self, lost: NDArray[np.bool_]) -> PlayLaw:
        """Law in which the restraints ``lost`` (m,) never act: no motion reaches their bounds."""
        lower = np.where(lost, -np.inf, self.lower)
        return PlayLaw(lower, np.where(lost, np.inf, self.upper), self.compliance)


@dataclass(frozen=True)
class PlayState:
    """Motions and forces of the restraints in equilibrium.

    Attributes
    ----------
    motion : ndarray, shape (m,)
    force : ndarray, shape (m,)
        Force of the panel on the restraint, along the measured motion.
    side : ndarray of int, shape (m,)
        0 open, +1 at the upper and -1 at the lower bound; two-way restraints are +1.
    steps : int
    residual : float
        Largest violation of the law relative to the largest motion or force, dimensionless.
    held : bool
        Whether the acting restraints hold the panel.
    way : ndarray, shape (k,)
        Which of the rigid motions, as shares of their unit size, a panel that is not held makes under the load; it has
        made them far in the motions here.  Zero when nothing drives it.
    correction : float
        Last correction of the panel's unknowns by refinement over the largest of them: what rounding and a bad
        condition of the matrix leave.  Zero before it was refined.
    """

    motion: Array
    force: Array
    side: Sides
    steps: int
    residual: float
    held: bool
    way: Array
    correction: float = 0.0
