"""One law for every support: a reaction that starts where a free play ends.

Each restraint measures one motion y of the panel (a mean over a pad, a strut's elongation, ...).  It gives
no force while ``lower <= y <= upper``.  Beyond, it pushes back with the force ``(y - bound) / compliance``,
or holds the bound exactly when the compliance is zero.  That covers a bolt (no play, rigid), a strut (no play,
elastic), a cable (``lower`` = -inf), both lips of a pocket (two finite bounds), a stop and the ground.

The panel enters through its flexibility at the restraints alone, so the search for which of them act is a
small dense problem.  It is solved exactly, by a primal-dual active set method (Hintermueller, Ito & Kunisch,
SIAM J. Optim. 13 (2002) 865-888), with single exchanges in a fixed order (Murty's least-index rule, Linear
Complementarity, 1988, ch. 4) when the set repeats itself.  No penalty, no friction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError

Array = NDArray[np.float64]

LOOSE = 1e-7
"""Acting restraints whose stretch under some rigid motion is all below this share of its size do not hold it."""

RIGID_COMPLIANCE = 1e-9
"""Compliance of a rigid bound over the panel's own there: supports that double each other share their force."""

MAX_STEPS = 200

ANCHOR = 1e-6
"""Share of its reference stiffness with which open restraints are tied to find the way that a loose panel goes."""


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
    """

    motion: Array
    force: Array
    side: NDArray[np.int64]
    steps: int
    residual: float
    held: bool


class PlayProblem:
    """Which restraints act, given the panel's flexibility at them.

    The flexibility is that of the panel with every restraint tied by its reference stiffness, so it exists
    even when the panel is held by contact alone.

    Parameters
    ----------
    flexibility : ndarray, shape (m, m)
        Motions per unit force of the tied panel, in m/N.
    reference : ndarray, shape (m,)
        Reference stiffness of each tie in N/m.
    law : PlayLaw
    rigid : ndarray, shape (m, k)
        Motions of the restraints under the ``k`` rigid motions that nothing else stops, each of unit size;
        k = 0 for a panel that is held without them.
    untied : int
        How many restraints at the end have no tie in the panel, such as places on the ground: their reference
        stiffness only sets the scale.
    """

    def __init__(
        self, flexibility: Array, reference: Array, law: PlayLaw, rigid: Array, *, untied: int = 0
    ) -> None:
        self.root = np.sqrt(reference)
        self.tied = self.root[:, None] * flexibility * self.root
        self.tie = np.ones(len(reference))
        self.tie[len(reference) - untied :] = 0.0
        self.law = law
        self.lower = law.lower * self.root
        self.upper = law.upper * self.root
        self.compliance = np.maximum(law.compliance * reference, RIGID_COMPLIANCE)
        self.rigid = rigid

    def solve(self, tied_motion: Array) -> PlayState:
        """Find motions and forces for the motions (m,) that the load gives the tied panel.

        Raises
        ------
        SolveError
            If no consistent set of acting restraints is found.
        """
        y0 = self.root * tied_motion
        side = self._first_guess(y0)
        seen: set[bytes] = set()
        for step in range(1, MAX_STEPS + 1):
            motion, force, held = self._respond(side, y0)
            wanted = self._wanted(side, motion, force) if held else self._first_to_touch(side, motion)
            if np.array_equal(wanted, side):
                return self._finish(side, y0, motion, force, step, held)
            if side.tobytes() in seen:
                wanted = self._exchange_one(side, wanted)
            seen.add(side.tobytes())
            side = wanted
        raise SolveError(
            f"The contact search found no consistent set of touching supports in {MAX_STEPS} steps: "
            "check clearances and slacks for values that contradict each other."
        )

    def correct(self, side: NDArray[np.int64], tied_motion: Array, miss: Array) -> tuple[Array, Array]:
        """Find the changes of motion and force (m,) that remove a small load and a miss of the bounds.

        The same restraints go on acting.

        Parameters
        ----------
        side : ndarray of int, shape (m,)
        tied_motion : ndarray, shape (m,)
            Motions that the left-over load gives the tied panel.
        miss : ndarray, shape (m,)
            By how much each acting restraint's motion exceeds what its force and bound ask for, in m.
        """
        bound = np.where(side != 0, -self.root * miss, 0.0)
        motion, force, _ = self._respond(side, self.root * tied_motion, bound)
        return motion / self.root, force * self.root

    def _first_guess(self, y0: Array) -> NDArray[np.int64]:
        side = np.where(y0 > self.upper, 1, np.where(y0 < self.lower, -1, 0)).astype(np.int64)
        side[self.law.two_way] = 1
        return side

    def _respond(
        self, side: NDArray[np.int64], y0: Array, bound: Array | None = None
    ) -> tuple[Array, Array, bool]:
        """Motion and force for a given set, and whether that set holds the panel.

        Unknown are the forces of the acting and the motions of the open restraints.  A panel that is not held
        is tied by weak anchors instead, so that the motion shows which way it goes.
        """
        acting = side != 0
        if bound is None:
            bound = np.where(acting, np.where(side > 0, self.upper, self.lower), 0.0)
        loose = np.eye(len(side)) - self.tied * self.tie
        M = np.where(acting, loose * self.compliance + self.tied, loose)
        held = self._holds(acting)
        if not held:
            M = np.where(acting, M, loose + ANCHOR * self.tied)
        unknown = np.linalg.solve(M, y0 - loose @ bound)
        motion = np.where(acting, bound + self.compliance * unknown, unknown)
        return motion, np.where(acting, unknown, 0.0), held

    def _holds(self, acting: NDArray[np.bool_]) -> bool:
        count = self.rigid.shape[1]
        if count == 0:
            return True
        stretch = np.vstack([self.rigid[acting], np.zeros((count, count))])
        return bool(np.linalg.svd(stretch, compute_uv=False)[count - 1] > LOOSE)

    def _first_to_touch(self, side: NDArray[np.int64], motion: Array) -> NDArray[np.int64]:
        """Set with those restraints added that a loose panel meets first on its way."""
        opened = side == 0
        way = np.where(opened, motion, 0.0)
        way[np.abs(way) < 1e-6 * np.abs(way).max(initial=0.0)] = 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = np.where(way > 0, self.upper / way, np.where(way < 0, self.lower / way, np.inf))
        distance = np.where(np.isfinite(distance) & opened, np.maximum(distance, 0.0), np.inf)
        nearest = distance.min(initial=np.inf)
        wanted = side.copy()
        if np.isfinite(nearest):
            met = distance <= nearest * (1.0 + 1e-9) + 1e-300
            wanted[met] = np.sign(way[met]).astype(np.int64)
        return wanted

    def _wanted(self, side: NDArray[np.int64], motion: Array, force: Array) -> NDArray[np.int64]:
        """Set of acting restraints that the iterate itself asks for."""
        slack = 1e-12 * max(float(np.abs(motion).max(initial=0.0)), float(np.abs(force).max(initial=0.0)))
        wanted = side.copy()
        wanted[(side > 0) & (force < -slack)] = 0
        wanted[(side < 0) & (force > slack)] = 0
        opened = side == 0
        wanted[opened & (motion > self.upper + slack)] = 1
        wanted[opened & (motion < self.lower - slack)] = -1
        wanted[self.law.two_way] = 1
        return wanted

    @staticmethod
    def _exchange_one(side: NDArray[np.int64], wanted: NDArray[np.int64]) -> NDArray[np.int64]:
        first = np.flatnonzero(side != wanted)[0]
        single = side.copy()
        single[first] = wanted[first]
        return single

    def _finish(
        self, side: NDArray[np.int64], y0: Array, motion: Array, force: Array, steps: int, held: bool
    ) -> PlayState:
        equation = motion - self.tied @ (self.tie * motion - force) - y0
        beyond = np.maximum(np.maximum(motion - self.upper, self.lower - motion), 0.0)
        beyond = np.where(side != 0, 0.0, beyond)
        pulling = np.where(self.law.two_way, 0.0, np.maximum(-side * force, 0.0))
        scale = max(float(np.abs(motion).max(initial=0.0)), float(np.abs(force).max(initial=0.0)), 1e-300)
        worst = max(float(np.abs(part).max(initial=0.0)) for part in (equation, beyond, pulling))
        return PlayState(motion / self.root, force * self.root, side, steps, worst / scale, held)
