"""One law for every support: a reaction that starts where a free play ends.

Each restraint measures one motion y of the panel (a mean over a pad, a strut's elongation, ...).  It gives
no force while ``lower <= y <= upper``.  Beyond, it pushes back with the force ``(y - bound) / compliance``,
or holds the bound exactly when the compliance is zero.  That covers a bolt (no play, rigid), a strut (no play,
elastic), a cable (``lower`` = -inf), both lips of a pocket (two finite bounds), a stop and the ground.

The panel enters through its flexibility at the restraints alone, so the search for which of them act is a
small dense problem.  It is solved exactly, by a primal-dual active set method (Hintermueller, Ito & Kunisch,
SIAM J. Optim. 13 (2002) 865-888).  Its steps are Newton's for the energy, which is convex and quadratic in pieces.
When sets begin to repeat, each step goes only as far as the energy falls (:mod:`splitterfem.fem.descent`), which ends
in a finite number of them (Li & Swetits, SIAM J. Optim. 7 (1997) 981-997).  A panel that the acting restraints leave
loose is moved as a rigid body, the way that the load drives it, until something stops it; where nothing does, the load
has no equilibrium.  No penalty, no friction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.descent import Point, share_of

Array = NDArray[np.float64]
Sides = NDArray[np.int64]

LOOSE = 1e-7
"""Acting restraints whose stretch under some rigid motion is all below this share of its size do not hold it."""

RIGID_COMPLIANCE = 1e-9
"""Compliance of a rigid bound over the panel's own there: supports that double each other share their force."""

NEGLIGIBLE = 1e-12
"""Motions and forces below this share of the largest one count as none."""

NEARLY = 1e-10
"""The same of a state that was refined."""

UNBALANCED = 1e-9
"""Share of the largest force that must drive a loose panel for it to move."""

FAR = 10.0
"""Metres that a panel which nothing stops is moved on its way, so that it meets what else may be there."""

WHOLE_STEPS = 30
"""Steps that are taken whole before each is shortened to where the energy is least."""


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
        made them `FAR` in the motions here.  Zero when nothing drives it.
    """

    motion: Array
    force: Array
    side: Sides
    steps: int
    residual: float
    held: bool
    way: Array


@dataclass(frozen=True)
class _Answer:
    """Equilibrium with a set acting, and the share of the rigid motions (k,) that its anchors keep back."""

    point: Point
    force: Array
    way: Array


class PlayProblem:
    """Which restraints act, given the panel's flexibility at them.

    The flexibility is that of the panel with every restraint tied by its reference stiffness, so it exists
    even when the panel is held by contact alone.

    Parameters
    ----------
    flexibility : ndarray, shape (m, m)
        Motions per unit force of the tied panel, in m/N.
    reference : ndarray, shape (m,)
        Reference stiffness of each restraint in N/m, with which it is tied.
    law : PlayLaw
    rigid : ndarray, shape (m, k)
        Motions of the restraints under the ``k`` rigid motions that nothing else stops, each of unit size;
        k = 0 for a panel that is held without them.
    ties : ndarray, shape (m,), optional
        Stiffness of the ties in N/m when it is not the reference, such as zero for places on the ground: the
        reference then only sets the scale.
    """

    def __init__(
        self,
        flexibility: Array,
        reference: Array,
        law: PlayLaw,
        rigid: Array,
        *,
        ties: Array | None = None,
    ) -> None:
        # Motions times the root of the reference stiffness and forces over it have one unit, that of a root of energy.
        self.root = np.sqrt(reference)
        self.tied = self.root[:, None] * flexibility * self.root
        self.tie = np.ones(len(reference)) if ties is None else ties / reference
        self.anchor = np.minimum(self.tie, 1.0)
        self.law = law
        self.lower = law.lower * self.root
        self.upper = law.upper * self.root
        self.compliance = np.maximum(law.compliance * reference, RIGID_COMPLIANCE)
        self.rigid = rigid

    def solve(self, tied_motion: Array, *, start: Sides | None = None) -> PlayState:
        """Find motions and forces for the motions (m,) that the load gives the tied panel.

        Parameters
        ----------
        tied_motion : ndarray, shape (m,)
        start : ndarray of int, shape (m,), optional
            Sides to begin the search with, such as those under a similar load.  The answer does not depend on them.

        Raises
        ------
        SolveError
            If no consistent set of acting restraints is found.
        """
        y0 = self.root * tied_motion
        point = self._point(y0, self.tie * y0)
        side = self._admitted(point.side if start is None else start)
        whole, seen = True, set[bytes]()
        most = WHOLE_STEPS + 10 * (10 + len(side))
        for step in range(1, most + 1):
            answer = self._respond(side, y0, point.motion)
            motion, force = answer.point.motion, answer.force
            wanted = self._wanted(side, motion, force, slack=NEGLIGIBLE * _size(motion, force))
            if np.array_equal(wanted, side):
                moved = self._moved(answer, side)
                if moved is None:
                    return self._finish(side, y0, answer, step)
                point, side = moved, self._admitted(moved.side)
                continue
            whole = whole and step < WHOLE_STEPS and side.tobytes() not in seen
            seen.add(side.tobytes())
            point = answer.point if whole else self._nearer(point, answer.point)
            side = wanted if whole else self._admitted(point.side)
        raise SolveError(
            f"The contact search found no consistent set of touching supports in {most} steps: "
            "check clearances and slacks for values that contradict each other."
        )

    def correct(self, side: Sides, tied_motion: Array, miss: Array) -> tuple[Array, Array]:
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
        motion, force, _, _ = self._balanced(side, self.root * tied_motion, bound, np.zeros(len(side)))
        return motion / self.root, force * self.root

    def corrected(self, state: PlayState) -> Sides:
        """Sides (m,) that motions and forces of a state ask for, to the accuracy with which they can be known."""
        motion, force = self.root * state.motion, state.force / self.root
        return self._wanted(state.side, motion, force, slack=NEARLY * _size(motion, force))

    def _admitted(self, side: Sides) -> Sides:
        """Sides without those at bounds that there are not, and with all restraints without play."""
        there = np.where(side > 0, np.isfinite(self.upper), np.isfinite(self.lower))
        admitted = np.where(there, np.sign(side), 0).astype(np.int64)
        admitted[self.law.two_way] = 1
        return admitted

    def _point(self, motion: Array, force: Array, side: Sides | None = None, law: Array | None = None) -> Point:
        """Return a state of the panel; acting restraints are beyond their bounds by compliance times ``law`` exactly."""
        over, under = motion - self.upper, self.lower - motion
        if side is not None and law is not None:
            over = np.where(side > 0, self.compliance * law, over)
            under = np.where(side < 0, -self.compliance * law, under)
            under = np.where((side > 0) & self.law.two_way, -over, under)
        return Point(motion, force, over, under)

    def _respond(self, side: Sides, y0: Array, place: Array) -> _Answer:
        """Equilibrium with a given set acting.  Where that leaves the panel loose, it is kept at ``place`` (m,)."""
        acting = side != 0
        bound = np.where(acting, np.where(side > 0, self.upper, self.lower), 0.0)
        motion, force, kept_back, way = self._balanced(side, y0, bound, place)
        return _Answer(self._point(motion, force + kept_back, side, force), force, way)

    def _balanced(
        self, side: Sides, y0: Array, bound: Array, place: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Motion and force (m,) with a set acting, the forces (m,) of its anchors and what they keep back (k,).

        Unknown are the forces of the acting and the motions of the tied open restraints; the motions of the others
        follow.  Anchors are forces on the open ties that keep back the rigid motions which the set leaves free.
        """
        acting = side != 0
        kept = np.flatnonzero(acting | (self.tie > 0.0))
        at = acting[kept]
        tied = self.tied[np.ix_(kept, kept)]
        loose = np.eye(len(kept)) - tied * self.tie[kept]
        matrix = np.where(at, loose * self.compliance[kept] + tied, loose)
        given = y0[kept] - loose @ bound[kept]
        free = self._free(acting)
        anchors = self.anchor[:, None] * self._stretch(free, acting)
        if free.shape[1]:
            border = np.zeros((free.shape[1], free.shape[1]))
            matrix = np.block([[matrix, self.tied[kept] @ anchors], [anchors[kept].T, border]])
            given = np.concatenate([given, anchors.T @ place])
        unknown, pull = np.split(np.linalg.solve(matrix, given), [len(kept)])
        motion, force = np.zeros(len(side)), np.zeros(len(side))
        motion[kept] = np.where(at, bound[kept] + self.compliance[kept] * unknown, unknown)
        force[kept] = np.where(at, unknown, 0.0)
        kept_back = anchors @ pull
        rest = np.setdiff1d(np.arange(len(side)), kept)
        motion[rest] = y0[rest] + self.tied[rest] @ (self.tie * motion - force - kept_back)
        return motion, force, kept_back, free @ pull

    def _free(self, acting: NDArray[np.bool_]) -> Array:
        """Rigid motions that the acting restraints leave free, as orthonormal shares of the given ones, (k, f)."""
        count = self.rigid.shape[1]
        if count == 0:
            return np.zeros((0, 0))
        _, values, vectors = np.linalg.svd(np.vstack([self.rigid[acting], np.zeros((count, count))]))
        return np.asarray(vectors[values[:count] <= LOOSE].T)

    def _stretch(self, motions: Array, acting: NDArray[np.bool_]) -> Array:
        """Motions of the open restraints under rigid motions (k, ...); the acting ones stop those they can."""
        stretch = (self.rigid @ motions).T * self.root
        return np.asarray(np.where(acting, 0.0, stretch).T)

    def _wanted(self, side: Sides, motion: Array, force: Array, *, slack: float) -> Sides:
        """Set of acting restraints that the iterate itself asks for."""
        wanted = side.copy()
        wanted[(side > 0) & (force < -slack)] = 0
        wanted[(side < 0) & (force > slack)] = 0
        opened = side == 0
        wanted[opened & (motion > self.upper + slack)] = 1
        wanted[opened & (motion < self.lower - slack)] = -1
        wanted[self.law.two_way] = 1
        return wanted

    def _moved(self, answer: _Answer, side: Sides) -> Point | None:
        """Where a loose panel is stopped on its way; None if nothing drives or nothing stops it."""
        if not self._driven(answer, side):
            return None
        drift = self._stretch(answer.way, side != 0)
        over = np.where(np.isfinite(self.upper), drift, 0.0)
        under = np.where(np.isfinite(self.lower), -drift, 0.0)
        way = Point(drift, np.zeros_like(drift), over, under)
        share = share_of(answer.point, way, self.compliance)
        return None if share is None else answer.point.moved(way, share)

    def _driven(self, answer: _Answer, side: Sides) -> bool:
        kept_back = self.anchor * self._stretch(answer.way, side != 0)
        size = _size(answer.point.motion, answer.point.force)
        return float(np.abs(kept_back).max(initial=0.0)) > UNBALANCED * size

    def _nearer(self, point: Point, aim: Point) -> Point:
        """Point of least energy on the way to another."""
        way = aim.less(point)
        share = share_of(point, way, self.compliance)
        return aim if share is None or share == 0.0 else point.moved(way, share)

    def _finish(self, side: Sides, y0: Array, answer: _Answer, steps: int) -> PlayState:
        motion, force = answer.point.motion, answer.force
        equation = motion - self.tied @ (self.tie * motion - force) - y0
        beyond = np.maximum(np.maximum(motion - self.upper, self.lower - motion), 0.0)
        beyond = np.where(side != 0, 0.0, beyond)
        pulling = np.where(self.law.two_way, 0.0, np.maximum(-side * force, 0.0))
        worst = max(float(np.abs(part).max(initial=0.0)) for part in (equation, beyond, pulling))
        residual = worst / _size(motion, force)
        way = np.zeros(self.rigid.shape[1])
        if self._driven(answer, side):
            way = answer.way / float(np.linalg.norm(answer.way))
            motion = motion + FAR * self._stretch(way, side != 0)
        else:
            side = self._resting(side, answer.point)
        held = self._free(side != 0).shape[1] == 0
        return PlayState(motion / self.root, force * self.root, side, steps, residual, held, way)

    def _resting(self, side: Sides, point: Point) -> Sides:
        """Set with those restraints that a loose panel touches without force, if they hold it."""
        if not self._free(side != 0).shape[1]:
            return side
        slack = NEGLIGIBLE * _size(point.motion, point.force)
        touched = np.where(point.over >= -slack, 1, np.where(point.under >= -slack, -1, 0))
        resting = np.where(side == 0, touched, side).astype(np.int64)
        return side if self._free(resting != 0).shape[1] else resting


def _size(motion: Array, force: Array) -> float:
    return max(float(np.abs(motion).max(initial=0.0)), float(np.abs(force).max(initial=0.0)), 1e-300)
