"""One law for every support: a reaction that starts where a free play ends.

Each restraint measures one motion y of the panel (a mean over a pad, a strut's elongation, ...).  It gives
no force while ``lower <= y <= upper``.  Beyond, it pushes back with the force ``(y - bound) / compliance``,
or holds the bound exactly when the compliance is zero.  That covers a bolt (no play, rigid), a strut (no play,
elastic), a cable (``lower`` = -inf), both lips of a pocket (two finite bounds), a stop and the ground.

The panel enters through its flexibility at the restraints alone, so the search for which of them act is a
small dense problem.  It is solved exactly, by a primal-dual active set method (Hintermueller, Ito & Kunisch,
SIAM J. Optim. 13 (2002) 865-888).  Its steps are Newton's for the energy, which is convex and quadratic in pieces:
when sets begin to repeat, the search starts again with soft bounds that become harder by stages, and each step goes
only to where the energy along it is least, which ends in a finite number of steps (Li & Swetits, SIAM J. Optim. 7
(1997) 981-997).  A panel that the acting restraints leave loose moves as a
rigid body, the way that the load drives it, until something stops it; where nothing does, there is no equilibrium
(Farkas' lemma).  No penalty, no friction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from splitterfem.errors import SolveError
from splitterfem.fem.descent import Point, share_of
from splitterfem.fem.playbody import LOOSE, RIGID_COMPLIANCE, Answer, PlayBody
from splitterfem.fem.playlaw import PlayLaw, PlayState, Sides

__all__ = ["FAR", "PlayLaw", "PlayProblem", "PlayState"]

Array = NDArray[np.float64]

REFINED = 1e-10
"""Motions and forces of a refined state below this share of the largest one count as none."""

UNBALANCED = 1e-7
"""Share of the largest force that drives a loose panel or holds one."""

FAR = 10.0
"""Metres that a panel which nothing stops is moved on its way, so that it meets what else may be there."""

CANCELLED = 1e-9
"""What is left of unit vectors that cancel."""

WHOLE_STEPS = 30
"""Steps that are taken whole before each is shortened to where the energy is least."""

SOFTER = (1e-2, 1e-5, RIGID_COMPLIANCE)
"""Least compliance of the bounds over the panel's own, in the order in which it is taken when sets repeat."""


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

    Attributes
    ----------
    law, rigid
    give : ndarray, shape (m,)
        Compliance in m/N with which the search takes the bounds: the law's, or next to none for rigid ones.
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
        self.law, self.rigid = law, rigid
        self._body = PlayBody(flexibility, reference, law, rigid, ties)
        self.give = self._body.compliance / reference

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
        y0 = self._body.root * tied_motion
        side = self._admitted(self._body.at_rest(y0).side if start is None else start)
        found, steps = self._search(self._body, y0, side, damped=False)
        for softness in SOFTER if found is None else ():
            # Soft bounds are easy, and what touches them is a good first guess for harder ones.
            found, more = self._search(self._body.softened(softness), y0, side, damped=True)
            steps += more
            side = side if found is None else found[0]
        if found is None:
            raise SolveError(
                f"The contact search found no consistent set of touching supports in {steps} steps: "
                "check clearances and slacks for values that contradict each other."
            )
        return self._finish(*found, y0, steps)

    def _search(
        self, body: PlayBody, y0: Array, side: Sides, *, damped: bool
    ) -> tuple[tuple[Sides, Answer] | None, int]:
        """Consistent set and its equilibrium, None when sets repeat, and steps taken; shorter ones if ``damped``."""
        point, whole, seen = body.at_rest(y0), True, set[bytes]()
        most = WHOLE_STEPS + (10 * (10 + len(side)) if damped else 0)
        for step in range(1, most + 1):
            answer = body.respond(side, y0, point.motion)
            wanted = self._wanted(side, answer.point.motion, answer.force, answer.blur)
            if np.array_equal(wanted, side):
                moved = self._moved(body, answer, side)
                if moved is None:
                    return (side, answer), step
                point, side = moved, self._admitted(moved.side)
                continue
            whole = whole and step < WHOLE_STEPS and side.tobytes() not in seen
            if not whole and not damped:
                return None, step
            seen.add(side.tobytes())
            point = answer.point if whole else _nearer(point, answer.point, body.compliance)
            side = wanted if whole else self._admitted(point.side)
        return None, most

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
        root = self._body.root
        bound = np.where(side != 0, -root * miss, 0.0)
        motion, force, _, _ = self._body.balance(side != 0, root * tied_motion, bound, np.zeros(len(side)))
        return motion / root, force * root

    def corrected(self, state: PlayState) -> Sides:
        """Sides (m,) that motions and forces of a refined state ask for."""
        motion, force = self._body.root * state.motion, state.force / self._body.root
        size = max(float(np.abs(part).max(initial=0.0)) for part in (motion, force))
        return self._wanted(state.side, motion, force, REFINED * size)

    def violation(self, state: PlayState) -> float:
        """Largest violation of the law by a refined state, relative to its largest motion or force."""
        motion, force, side = self._body.root * state.motion, state.force / self._body.root, state.side
        bound = np.where(side != 0, np.where(side > 0, self._body.upper, self._body.lower), 0.0)
        miss = np.where(side != 0, motion - bound - self._body.compliance * force, 0.0)
        size = max(float(np.abs(part).max(initial=0.0)) for part in (motion, force))
        return self._worst(miss, motion, force, side) / max(size, 1e-300)

    def _worst(self, miss: Array, motion: Array, force: Array, side: Sides) -> float:
        """Largest miss (m,), motion beyond a bound that does not act, or force of one that pulls."""
        beyond = np.maximum(np.maximum(motion - self._body.upper, self._body.lower - motion), 0.0)
        beyond = np.where(side != 0, 0.0, beyond)
        pulling = np.where(self.law.two_way, 0.0, np.maximum(-side * force, 0.0))
        return max(float(np.abs(part).max(initial=0.0)) for part in (miss, beyond, pulling))

    def _admitted(self, side: Sides) -> Sides:
        """Sides without those at bounds that there are not, and with all restraints without play."""
        there = np.where(side > 0, np.isfinite(self._body.upper), np.isfinite(self._body.lower))
        admitted = np.where(there, np.sign(side), 0).astype(np.int64)
        admitted[self.law.two_way] = 1
        return admitted

    def _wanted(self, side: Sides, motion: Array, force: Array, slack: float) -> Sides:
        """Set of acting restraints that the iterate itself asks for."""
        wanted = side.copy()
        wanted[(side > 0) & (force < -slack)] = 0
        wanted[(side < 0) & (force > slack)] = 0
        opened = side == 0
        wanted[opened & (motion > self._body.upper + slack)] = 1
        wanted[opened & (motion < self._body.lower - slack)] = -1
        wanted[self.law.two_way] = 1
        return wanted

    def _driven(self, answer: Answer, side: Sides) -> bool:
        """Whether the load drives a loose panel on a way that the acting restraints leave it."""
        kept_back = self._body.anchor * self._body.stretch(answer.way, side != 0)
        return float(np.abs(kept_back).max(initial=0.0)) > _speakable(answer)

    def _moved(self, body: PlayBody, answer: Answer, side: Sides) -> Point | None:
        """Where a loose panel is stopped on its way; None if nothing drives or nothing stops it."""
        if not self._driven(answer, side):
            return None
        drift = body.stretch(answer.way, side != 0)
        over = np.where(np.isfinite(body.upper), drift, 0.0)
        under = np.where(np.isfinite(body.lower), -drift, 0.0)
        way = Point(drift, np.zeros_like(drift), over, under)
        share = share_of(answer.point, way, body.compliance)
        return None if share is None else answer.point.moved(way, share)

    def _finish(self, side: Sides, answer: Answer, y0: Array, steps: int) -> PlayState:
        body, motion, force = self._body, answer.point.motion, answer.force
        equation = motion - body.tied @ (body.tie * motion - force) - y0
        worst = self._worst(equation, motion, force, side)
        way = np.zeros(self.rigid.shape[1])
        if self._driven(answer, side):
            way = answer.way / float(np.linalg.norm(answer.way))
            motion, held = motion + FAR * body.stretch(way, side != 0), False
        else:
            side, held = self._resting(side, answer)
        return PlayState(motion / body.root, force * body.root, side, steps, worst / answer.size, held, way)

    def _resting(self, side: Sides, answer: Answer) -> tuple[Sides, bool]:
        """Set that holds a panel in equilibrium, and whether it does: where it floats, its place is anywhere.

        What acts with a force to speak of holds both ways.  What only touches stops the motions that are left from one
        side: those allow none if, and only if, they have full rank and positive multiples that cancel (Stiemke's lemma;
        Schrijver, Theory of Linear and Integer Programming, 1986, section 7.8).
        """
        body, point = self._body, answer.point
        firm = np.where(np.abs(answer.force) > _speakable(answer), side, 0)
        firm[self.law.two_way] = 1
        free = body.free(firm != 0)
        if not free.shape[1]:
            return side, True
        slack = answer.blur
        touched = np.where(point.over >= -slack, 1, np.where(point.under >= -slack, -1, 0))
        touched = np.where(firm != 0, 0, touched)
        normals = touched[:, None] * (self.rigid @ free)
        size = np.linalg.norm(normals, axis=1)
        stopping = size > LOOSE
        normals = normals[stopping] / size[stopping, None]
        resting = np.where(stopping, touched, firm).astype(np.int64)
        stopped = bool(np.any(stopping)) and not body.free(resting != 0).shape[1]
        if stopped and nnls(normals.T, -normals.sum(axis=0))[1] < CANCELLED:
            return np.where(side == 0, resting, side), True
        return firm.astype(np.int64), False


def _nearer(point: Point, aim: Point, compliance: Array) -> Point:
    """Point of least energy on the way to another."""
    way = aim.less(point)
    share = share_of(point, way, compliance)
    return aim if share is None or share == 0.0 else point.moved(way, share)


def _speakable(answer: Answer) -> float:
    """Least force that is one to speak of."""
    return max(UNBALANCED * float(np.abs(answer.point.force).max(initial=0.0)), answer.blur)
