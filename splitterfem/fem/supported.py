"""A stiffness matrix in its supports: factorised once, with the exact law of every restraint."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from copy import copy
from dataclasses import replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.answer_checks import refuse_contradiction
from splitterfem.fem.eliminated import Eliminated, Tied
from splitterfem.fem.factor import Factor
from splitterfem.fem.halves import Halves
from splitterfem.fem.play import PlayLaw, PlayProblem, PlayState
from splitterfem.fem.rigid import balanced
from splitterfem.fem.substructure import SubstructuredFactor
from splitterfem.fem.ties import blocks, factorise_tied, measured, reference_stiffness

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Factorising: TypeAlias = Callable[[sp.csc_array, sp.csr_array, Array], Factor]

MOST_REFINEMENTS, MOST_SETS = 8, 20
UNCHANGED = 1e-10
"""Change of forces over the largest at which refining ends: each step takes away all but a billionth of the error, and
rounding alone changes them by some 1e-12."""

FEW = 48
"""Further restraints up to which it does not pay to take the lower half out of the factors."""


class SupportedMatrix:
    """Stiffness with restraints, ready to be solved for many loads.

    Every restraint is first tied with a reference stiffness, which makes the matrix positive definite whichever of
    them act; the ties are undone exactly in the small problem of :mod:`splitterfem.fem.play`.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
    rows : csr_array, shape (m, n)
        Motions that the restraints measure.
    law : PlayLaw
    free : ndarray of int
        Unknowns that are not held at zero.
    rigid : ndarray, shape (m, k)
        Motions of the restraints under the rigid motions that nothing else stops, see `PlayProblem`.
    reference : ndarray, shape (m,), optional
        Stiffness of the ties in N/m; the restraints' own or that of the matrix at their places when left out.
    motions : ndarray, shape (n, 6), optional
        Rigid motions, to which the matrix answers with no force.
    by : callable, optional
        Factorises matrix, rows and the ties' stiffness; as a whole and by itself when left out.

    Attributes
    ----------
    factor : Factor
        Of the tied matrix on the free unknowns.
    n_tied : int
        How many restraints are tied, the first ones.
    play : PlayProblem
    ties : ndarray, shape (m,)
        Stiffness with which each restraint is tied in the factorised matrix, N/m; zero for further ones.
    seconds : dict of str to float
        Time of the factorisation and of the supports' influence.
    """

    def __init__(
        self,
        matrix: sp.csc_array,
        rows: sp.csr_array,
        law: PlayLaw,
        *,
        free: Index,
        rigid: Array,
        reference: Array | None = None,
        motions: Array | None = None,
        by: Factorising | None = None,
    ) -> None:
        start = time.perf_counter()
        self.motions = motions
        self.matrix, self.rows, self.free = matrix, rows, free
        self.reference = reference_stiffness(matrix, rows, law.compliance) if reference is None else reference
        self.factor: Factor
        if by is None:
            self.factor = factorise_tied(matrix, rows, self.reference, free=free)
        else:
            self.factor = by(matrix, rows, self.reference)
        factorised = time.perf_counter()
        self.n_tied = rows.shape[0]
        if isinstance(self.factor, SubstructuredFactor):
            self._flexibility = self.factor.flexibility()
        else:
            self._flexibility = measured(rows, self.influence)
        self._halves: Halves | None = None
        self.ties = self.reference
        self.play = PlayProblem(self._flexibility, self.reference, law, rigid)
        self.seconds = {
            "factorisation": factorised - start,
            "supports": time.perf_counter() - factorised,
        }

    def with_law(self, law: PlayLaw) -> SupportedMatrix:
        """Return the same factorised matrix with other bounds of its restraints."""
        other = copy(self)
        other.play = PlayProblem(self._flexibility, self.reference, law, self.play.rigid, ties=self.ties)
        return other

    def with_rows(self, rows: sp.csr_array, law: PlayLaw, *, rigid: Array) -> SupportedMatrix:
        """Return the same factorised matrix with further restraints that are not tied in it.

        Parameters
        ----------
        rows : csr_array, shape (k, n)
        law : PlayLaw
            Of the k further restraints.
        rigid : ndarray, shape (k, r)
            Their motions under the same rigid motions as those of the others.
        """
        other = copy(self)
        other.rows = sp.csr_array(sp.vstack([self.rows, rows]))
        other._flexibility = other._widened(self._flexibility)
        other.reference = np.concatenate(
            [self.reference, reference_stiffness(self.matrix, rows, law.compliance)]
        )
        other.ties = np.concatenate([self.ties, np.zeros(rows.shape[0])])
        law, rigid = self.play.law.joined(law), np.vstack([self.play.rigid, rigid])
        other.play = PlayProblem(other._flexibility, other.reference, law, rigid, ties=other.ties)
        return other

    def _widened(self, known: Array) -> Array:
        """Flexibility (m, m) at all rows, of which that at the first ones is known.

        Of the influence of hundreds of places on all unknowns, only what they measure is kept.  Where there are many,
        it is found from the lower half of the factors alone.
        """
        count, before, tied = self.rows.shape[0], known.shape[0], self.n_tied
        flexibility = np.zeros((count, count))
        flexibility[:before, :before] = known
        if count - tied <= FEW:
            for block, found in self._influences(self.rows[before:]):
                flexibility[:, before:][:, block] = self.rows @ found
        else:
            done = 0 if self._halves is None else self._halves.count
            fresh = blocks(sp.csr_array(self.rows[tied + done :, self.free]))
            self._halves = (self._halves or Halves(self.factor.lower)).joined(fresh)
            flexibility[tied:, tied + done :] = self._halves.products(done)
            flexibility[:tied, before:] = (self.rows[before:] @ self.influence).T
        flexibility[before:, :before] = flexibility[:before, before:].T
        return flexibility

    @cached_property
    def influence(self) -> Array:
        """Unknowns (n, t) under unit forces of the tied restraints, the first ones, on the tied panel."""
        if isinstance(self.factor, SubstructuredFactor):
            return self.factor.influence()
        found = [answer for _, answer in self._influences(self.rows[: self.n_tied])]
        return found[0] if len(found) == 1 else np.hstack([np.zeros((self.matrix.shape[0], 0)), *found])

    def _influences(self, rows: sp.csr_array) -> Iterator[tuple[slice, Array]]:
        """Unknowns (n, b) under unit forces on rows (k, n), block by block."""
        first = 0
        for block in blocks(rows):
            answer = self.tied_answer(block.T.toarray(order="F"), overwrite=True)
            yield slice(first, first + block.shape[0]), answer
            first += block.shape[0]

    def tied(self, load: Array) -> Tied:
        """Answer to a load (n,) with every restraint tied, as far as `solve` asks for it."""
        if isinstance(self.factor, SubstructuredFactor):
            return self.factor.eliminated(load)
        return self.tied_answer(load)

    def _motion(self, tied: Tied) -> Array:
        """Motions (m,) that the restraints measure of a tied answer."""
        if isinstance(tied, Eliminated) and self.rows.shape[0] == self.n_tied:
            return tied.motion
        return np.asarray(self.rows @ (tied.alone if isinstance(tied, Eliminated) else tied))

    def _with_push(self, tied: Tied, push: Array) -> Array:
        """Unknowns (n,) of a tied answer and under forces (m,) of the restraints on the tied panel."""
        first, further = push[: self.n_tied], push[self.n_tied :]
        x = tied.answer(first) if isinstance(tied, Eliminated) else tied + self.influence @ first
        if np.any(further):
            x += self.tied_answer(self.rows[self.n_tied :].T @ further)
        return np.asarray(x)

    def solve(
        self, load: Array, *, start: NDArray[np.int64] | None = None, tied: Tied | None = None
    ) -> tuple[Array, PlayState]:
        """Solve for a load (n,): the unknowns, and the motions and forces of the restraints.

        Parameters
        ----------
        load : ndarray, shape (n,)
        start : ndarray of int, shape (m,), optional
            Sides with which the search begins; the answer does not depend on them.
        tied : ndarray or Eliminated, optional
            The load's answer by :meth:`tied`, if known.

        Raises
        ------
        SolveError
            If rigid supports contradict each other, or no consistent set of acting restraints is found.
        """
        tied = self.tied(load) if tied is None else tied
        state = self.play.solve(self._motion(tied), start=start)
        x = self._with_push(tied, self.ties * state.motion - state.force)
        self._check_bounds(load, x, state.force)
        return x, state

    def _check_bounds(self, load: Array, x: Array, force: Array) -> None:
        """Refuse rigid bounds that no motion of the panel fulfils: they give way under forces without end."""
        rigid = self.play.law.compliance == 0.0
        refuse_contradiction(force[rigid], self._give(force)[rigid], load=load, x=x)

    def _give(self, force: Array) -> Array:
        """How far the restraints give way under their forces (m,), rigid ones as they do in the search."""
        return np.asarray(self.play.give * force)

    def internal(self, x: Array) -> Array:
        """Find the forces (n,) of the matrix under unknowns (n,)."""
        forces = np.asarray(self.matrix @ x)
        return forces if self.motions is None else balanced(forces, self.motions)

    def refined(self, load: Array, x: Array, state: PlayState) -> tuple[Array, Array]:
        """Refine unknowns and forces by one step with the same restraints acting.

        Rigid bounds give way as they do in the search, by `RIGID_COMPLIANCE`: where supports double each other, it is
        what shares the force among them.
        """
        law = self.play.law
        acting = state.side != 0
        bound = np.where(acting, np.where(state.side > 0, law.upper, law.lower), 0.0)
        miss = np.where(acting, self.rows @ x - bound - self._give(state.force), 0.0)
        step = self.tied(load - self.internal(x) - self.rows.T @ state.force)
        motion, force = self.play.correct(state.side, self._motion(step), miss)
        return x + self._with_push(step, self.ties * motion - force), state.force + force

    def polished(self, load: Array, x: Array, state: PlayState) -> tuple[Array, PlayState]:
        """Refine unknowns and state until rounding is all that is left.

        Where many restraints are close together, rounding of their flexibility can hide which of them act: those that
        the refined forces and motions prove wrong are put right.

        Raises
        ------
        SolveError
            If that has no end.
        """
        for _ in range(MOST_SETS):
            x, state = self._exact(load, x, state)
            side = self.play.corrected(state)
            if np.array_equal(side, state.side):
                return x, replace(state, residual=self.play.violation(state))
            state = replace(state, side=side, force=np.where(side != 0, state.force, 0.0))
        raise SolveError(
            "Rounding hides which of many places touch that lie close together: look for extreme stiffness ratios "
            "between sheet, ribs and struts, or make mesh.size larger."
        )

    def _exact(self, load: Array, x: Array, state: PlayState) -> tuple[Array, PlayState]:
        """Refine unknowns and state with the same restraints acting."""
        last = np.inf
        for _ in range(MOST_REFINEMENTS):
            finer, force = self.refined(load, x, state)
            change = float(np.abs(force - state.force).max(initial=0.0))
            if change > 0.5 * last:
                break
            moved = float(np.abs(finer - x).max(initial=0.0)) / max(
                float(np.abs(finer).max(initial=0.0)), 1e-300
            )
            x, last = finer, change
            state = replace(state, motion=self.rows @ x, force=force, correction=moved)
            if change <= UNCHANGED * float(np.abs(force).max(initial=0.0)):
                break
        return x, state

    def answer(self, side: NDArray[np.int64], load: Array) -> Array:
        """Change of the unknowns (n,) with a change of the load (n,), the restraints of ``side`` (m,) acting."""
        tied = self.tied(load)
        motion, force = self.play.correct(side, self._motion(tied), np.zeros(len(side)))
        return self._with_push(tied, self.ties * motion - force)

    def tied_answer(self, load: Array, *, overwrite: bool = False) -> Array:
        """Unknowns (n,) under a load (n,) with every restraint tied; of several loads (n, b) at once, (n, b)."""
        if len(self.free) == len(load):
            return self.factor.solve(load, overwrite=overwrite)
        tied = np.zeros_like(load)
        tied[self.free] = self.factor.solve(load[self.free])
        return tied
