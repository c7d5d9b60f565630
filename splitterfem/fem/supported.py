"""A stiffness matrix in its supports: factorised once, with the exact law of every restraint."""

from __future__ import annotations

import time
from copy import copy

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import factorise
from splitterfem.fem.play import PlayLaw, PlayProblem, PlayState

Array = NDArray[np.float64]
Index = NDArray[np.int64]


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

    Attributes
    ----------
    factor : Factor
        Of the tied matrix on the free unknowns.
    influence : ndarray, shape (n, m)
        Unknowns under unit forces of the restraints on the tied panel.
    play : PlayProblem
    ties : ndarray, shape (m,)
        Stiffness with which each restraint is tied in the factorised matrix, N/m.
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
    ) -> None:
        start = time.perf_counter()
        self.matrix, self.rows, self.free = matrix, rows, free
        self.reference = reference_stiffness(matrix, rows, law) if reference is None else reference
        tied = matrix + rows.T @ (rows.multiply(self.reference[:, None]).tocsr())
        self.factor = factorise(sp.csc_array(sp.csc_array(tied)[free][:, free]))
        factorised = time.perf_counter()
        self.influence = np.zeros((matrix.shape[0], rows.shape[0]))
        if rows.shape[0]:
            self.influence[free] = self.factor.solve(sp.csr_array(rows[:, free]).T.toarray())
        self._flexibility = rows @ self.influence
        self.play = PlayProblem(self._flexibility, self.reference, law, rigid)
        self.ties = self.reference
        self.seconds = {
            "factorisation": factorised - start,
            "supports": time.perf_counter() - factorised,
        }

    def with_law(self, law: PlayLaw) -> SupportedMatrix:
        """Return the same factorised matrix with other bounds of its restraints."""
        other = copy(self)
        untied = int(np.count_nonzero(self.ties == 0.0))
        other.play = PlayProblem(self._flexibility, self.reference, law, self.play.rigid, untied=untied)
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
        added = np.zeros((self.matrix.shape[0], rows.shape[0]))
        added[self.free] = self.factor.solve(sp.csr_array(rows[:, self.free]).T.toarray())
        other.rows = sp.csr_array(sp.vstack([self.rows, rows]))
        other.influence = np.hstack([self.influence, added])
        mixed, own = self.rows @ added, rows @ added
        other._flexibility = np.block([[self._flexibility, mixed], [mixed.T, own]])
        other.reference = np.concatenate([self.reference, 1.0 / own.diagonal()])
        other.ties = np.concatenate([self.ties, np.zeros(rows.shape[0])])
        other.play = PlayProblem(
            other._flexibility,
            other.reference,
            self.play.law.joined(law),
            np.vstack([self.play.rigid, rigid]),
            untied=int(np.count_nonzero(other.ties == 0.0)),
        )
        return other

    def solve(self, load: Array) -> tuple[Array, PlayState]:
        """Solve for a load (n,): the unknowns, and the motions and forces of the restraints.

        Raises
        ------
        SolveError
            If no consistent set of acting restraints is found.
        """
        tied = self.tied_answer(load)
        state = self.play.solve(self.rows @ tied)
        return tied + self.influence @ (self.ties * state.motion - state.force), state

    def refined(self, load: Array, x: Array, state: PlayState) -> tuple[Array, Array]:
        """Refine unknowns and forces by one step with the same restraints acting."""
        law = self.play.law
        acting = state.side != 0
        bound = np.where(acting, np.where(state.side > 0, law.upper, law.lower), 0.0)
        miss = np.where(acting, self.rows @ x - bound - law.compliance * state.force, 0.0)
        step = self.tied_answer(load - self.matrix @ x - self.rows.T @ state.force)
        motion, force = self.play.correct(state.side, self.rows @ step, miss)
        return x + step + self.influence @ (self.ties * motion - force), state.force + force

    def answer(self, side: NDArray[np.int64], load: Array) -> Array:
        """Change of the unknowns (n,) with a change of the load (n,), the restraints of ``side`` (m,) acting."""
        tied = self.tied_answer(load)
        motion, force = self.play.correct(side, self.rows @ tied, np.zeros(len(side)))
        return tied + self.influence @ (self.ties * motion - force)

    def tied_answer(self, load: Array) -> Array:
        """Unknowns (n,) under a load with every restraint tied."""
        tied = np.zeros_like(load)
        tied[self.free] = self.factor.solve(load[self.free])
        return tied


def reference_stiffness(matrix: sp.csc_array, rows: sp.csr_array, law: PlayLaw) -> Array:
    """Stiffness of the ties (m,) in N/m: the restraints' own, of rigid ones that of the matrix at their places."""
    local = (rows.multiply(rows) @ (1.0 / matrix.diagonal())) if rows.shape[0] else np.zeros(0)
    return np.asarray(1.0 / np.where(law.compliance > 0.0, law.compliance, local))
