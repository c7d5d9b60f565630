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

SINGULAR = 1e-9
"""Smallest singular value, against the largest, that counts as a panel which something holds."""

MAX_STEPS = 200

ANCHOR = 1e-5
"""Share of its reference stiffness with which an open restraint is tied to the last iterate in the search."""


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
    """

    def __init__(self, flexibility: Array, reference: Array, law: PlayLaw) -> None:
        self.root = np.sqrt(reference)
        self.tied = self.root[:, None] * flexibility * self.root
        self.law = law
        self.lower = law.lower * self.root
        self.upper = law.upper * self.root
        self.compliance = law.compliance * reference

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
        motion = np.zeros_like(y0)
        for step in range(MAX_STEPS):
            motion, force, held = self._respond(side, y0, motion)
            wanted = self._wanted(side, motion, force)
            if np.array_equal(wanted, side):
                return self._finish(side, y0, motion, step + 1)
            if side.tobytes() in seen:
                wanted = self._exchange_one(side, wanted)
            seen.add(side.tobytes())
            side = wanted
        raise SolveError(
            f"The contact search found no consistent set of touching supports in {MAX_STEPS} steps: "
            "check clearances and slacks for values that contradict each other."
        )

    def _first_guess(self, y0: Array) -> NDArray[np.int64]:
        side = np.where(y0 > self.upper, 1, np.where(y0 < self.lower, -1, 0)).astype(np.int64)
        side[self.law.two_way] = 1
        return side

    def _matrix(self, side: NDArray[np.int64], anchor: float) -> tuple[Array, Array, Array]:
        """System for the force of acting and the motion of open restraints, and its known part."""
        m = len(side)
        acting = side != 0
        bound = np.where(side > 0, self.upper, self.lower)
        bound = np.where(acting, bound, 0.0)
        loose = np.eye(m) - self.tied
        M = np.where(acting, loose * self.compliance + self.tied, loose + anchor * self.tied)
        return M, loose @ bound, bound

    def _respond(self, side: NDArray[np.int64], y0: Array, last: Array) -> tuple[Array, Array, bool]:
        acting = side != 0
        M, known, bound = self._matrix(side, 0.0)
        held = _is_regular(M)
        rhs = y0 - known
        if not held:
            M, known, bound = self._matrix(side, ANCHOR)
            rhs = y0 - known + ANCHOR * self.tied @ np.where(acting, 0.0, last)
        unknown = np.linalg.lstsq(M, rhs, rcond=None)[0] if not _is_regular(M) else np.linalg.solve(M, rhs)
        motion = np.where(acting, bound + self.compliance * unknown, unknown)
        return motion, np.where(acting, unknown, 0.0), held

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

    def _finish(self, side: NDArray[np.int64], y0: Array, last: Array, steps: int) -> PlayState:
        motion, force, held = self._respond(side, y0, last)
        equation = motion - self.tied @ motion + self.tied @ force - y0
        beyond = np.maximum(np.maximum(motion - self.upper, self.lower - motion), 0.0)
        beyond = np.where(self.compliance > 0.0, 0.0, np.where(side != 0, 0.0, beyond))
        pulling = np.where(self.law.two_way, 0.0, np.maximum(-side * force, 0.0))
        scale = max(float(np.abs(motion).max(initial=0.0)), float(np.abs(force).max(initial=0.0)), 1e-300)
        worst = max(float(np.abs(part).max(initial=0.0)) for part in (equation, beyond, pulling))
        return PlayState(motion / self.root, force * self.root, side, steps, worst / scale, held)


def _is_regular(M: Array) -> bool:
    if M.size == 0:
        return True
    values = np.linalg.svd(M, compute_uv=False)
    return bool(values[-1] > SINGULAR * values[0])
