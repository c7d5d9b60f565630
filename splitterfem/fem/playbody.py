"""A panel as its supports with play feel it, and its equilibrium when a given set of them acts."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.descent import Point
from splitterfem.fem.playlaw import PlayLaw, Sides

Array = NDArray[np.float64]

LOOSE = 1e-7
"""Acting restraints whose stretch under some rigid motion is all below this share of its size do not hold it."""

RIGID_COMPLIANCE = 1e-9
"""Compliance of a rigid bound over the panel's own there: supports that double each other share their force."""

NEGLIGIBLE = 1e-12
"""Motions and forces below this share of the largest one count as none."""


@dataclass(frozen=True)
class Answer:
    """Equilibrium with a given set of restraints acting.

    Attributes
    ----------
    point : Point
        With the forces of the anchors that keep a loose panel where it is.
    force : ndarray, shape (m,)
        Forces of the panel on the restraints alone.
    way : ndarray, shape (k,)
        Shares of the rigid motions that the anchors keep back; zero for a panel that is held.
    size : float
        Largest of all motions and forces.
    blur : float
        What rounding leaves of motions and forces that are none; it grows with those of the tied panel.
    """

    point: Point
    force: Array
    way: Array
    size: float
    blur: float


class PlayBody:
    """Flexibility of a panel at its restraints, in units that make motions and forces alike.

    Motions times the root of the reference stiffness, and forces over it, are roots of energies.

    Parameters
    ----------
    flexibility, reference, law, rigid, ties
        See :class:`splitterfem.fem.play.PlayProblem`.

    Attributes
    ----------
    root : ndarray, shape (m,)
        Of the reference stiffness.
    tied : ndarray, shape (m, m)
        Flexibility of the tied panel.
    tie, anchor : ndarray, shape (m,)
        Stiffness of the ties, and at most that of those which keep a loose panel back.
    lower, upper, compliance : ndarray, shape (m,)
        Law of the restraints; rigid ones have `RIGID_COMPLIANCE`.
    """

    def __init__(
        self, flexibility: Array, reference: Array, law: PlayLaw, rigid: Array, ties: Array | None
    ) -> None:
        self.root = np.sqrt(reference)
        self.tied = self.root[:, None] * flexibility * self.root
        self.tie = np.ones(len(reference)) if ties is None else ties / reference
        self.anchor = np.minimum(self.tie, 1.0)
        self.lower, self.upper = law.lower * self.root, law.upper * self.root
        self.two_way = law.two_way
        self.compliance = np.maximum(law.compliance * reference, RIGID_COMPLIANCE)
        self.rigid = rigid

    def softened(self, compliance: float) -> PlayBody:
        """Return the same body with bounds that give way by ``compliance`` at least, over the panel's own there."""
        other = copy(self)
        other.compliance = np.maximum(self.compliance, compliance)
        return other

    def at_rest(self, y0: Array) -> Point:
        """State of the tied panel, whose motions are ``y0`` (m,)."""
        return Point(y0, self.tie * y0, y0 - self.upper, self.lower - y0)

    def respond(self, side: Sides, y0: Array, place: Array) -> Answer:
        """Equilibrium with a given set acting.  Where that leaves the panel loose, it is kept at ``place`` (m,)."""
        acting = side != 0
        bound = np.where(acting, np.where(side > 0, self.upper, self.lower), 0.0)
        motion, force, kept_back, way = self.balance(acting, y0, bound, place)
        # Acting restraints are beyond their bounds by a difference too small for their motions to show.
        give = self.compliance * force
        over = np.where(side > 0, give, motion - self.upper)
        under = np.where(side < 0, -give, self.lower - motion)
        under = np.where((side > 0) & self.two_way, -give, under)
        point = Point(motion, force + kept_back, over, under)
        size = max(float(np.abs(part).max(initial=0.0)) for part in (motion, point.force))
        blur = NEGLIGIBLE * max(size, float(np.abs(y0).max(initial=0.0)))
        return Answer(point, force, way, max(size, 1e-300), blur)

    def balance(
        self, acting: NDArray[np.bool_], y0: Array, bound: Array, place: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Motion and force (m,) with a set acting, the forces (m,) of its anchors and what they keep back (k,).

        Unknown are the forces of the acting and the motions of the tied open restraints; the motions of the others
        follow.  Anchors are forces on the open ties that keep back the rigid motions which the set leaves free.
        """
        kept = np.flatnonzero(acting | (self.tie > 0.0))
        at = acting[kept]
        tied = self.tied[np.ix_(kept, kept)]
        loose = np.eye(len(kept)) - tied * self.tie[kept]
        matrix = np.where(at, loose * self.compliance[kept] + tied, loose)
        given = y0[kept] - loose @ bound[kept]
        free = self.free(acting)
        anchors = self.anchor[:, None] * self.stretch(free, acting)
        if free.shape[1]:
            border = np.zeros((free.shape[1], free.shape[1]))
            matrix = np.block([[matrix, self.tied[kept] @ anchors], [anchors[kept].T, border]])
            given = np.concatenate([given, anchors.T @ place])
        unknown, pull = np.split(np.linalg.solve(matrix, given), [len(kept)])
        motion, force = np.zeros(len(acting)), np.zeros(len(acting))
        motion[kept] = np.where(at, bound[kept] + self.compliance[kept] * unknown, unknown)
        force[kept] = np.where(at, unknown, 0.0)
        kept_back = anchors @ pull
        rest = np.setdiff1d(np.arange(len(acting)), kept)
        motion[rest] = y0[rest] + self.tied[rest] @ (self.tie * motion - force - kept_back)
        return motion, force, kept_back, free @ pull

    def free(self, acting: NDArray[np.bool_]) -> Array:
        """Rigid motions that the acting restraints leave free, as orthonormal shares of the given ones, (k, f)."""
        count = self.rigid.shape[1]
        if count == 0:
            return np.zeros((0, 0))
        # the triangular factor has the singular values of all the rows, which may be hundreds
        stretch = np.linalg.qr(np.vstack([self.rigid[acting], np.zeros((count, count))]), mode="r")
        _, values, vectors = np.linalg.svd(stretch)
        return np.asarray(vectors[values[:count] <= LOOSE].T)

    def stretch(self, motions: Array, acting: NDArray[np.bool_]) -> Array:
        """Motions (m, ...) of the open restraints under rigid motions (k, ...); the acting ones keep still.

        What is moved by next to nothing is not moved: a panel that nothing stops would come to it in the end.
        """
        stretch = self.rigid @ motions
        moved = np.abs(stretch) > LOOSE * np.linalg.norm(motions, axis=0)
        return np.asarray((np.where(moved, stretch, 0.0).T * np.where(acting, 0.0, self.root)).T)
