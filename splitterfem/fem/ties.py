"""A matrix factorised with ties, of which some reach over so many unknowns that they would fill it.

A tie adds the product of its row with itself.  On a fine mesh a pocket's row reaches thousands of unknowns and would
make them one dense block.  Such a row is tied by a few of its own entries instead, and the difference, of low rank, is
made up for in every solution by the formula of Sherman, Morrison and Woodbury (Hager, SIAM Review 31 (1989) 221-239).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.factor import WIDTH, Factor, Forward, factorise

Array = NDArray[np.float64]
Index = NDArray[np.int64]

WIDE = 256
"""Unknowns that a tie may reach: its block then has less than a thousandth of the matrix's entries."""

BLOCK = 4 * WIDTH
"""Right-hand sides that are handed over at once, which bounds the memory."""

CHUNK = 1 << 15
"""Unknowns that are corrected at once, which bounds the memory."""

KEPT = 64
"""Entries by which a wider one is tied."""


def factorise_tied(matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array, *, free: Index) -> Factor:
    """Factorise a matrix with ties, on the unknowns that are free.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
    rows : csr_array, shape (m, n)
        Motions that are tied.
    stiffness : ndarray, shape (m,)
        Of the ties, N/m.
    free : ndarray of int, shape (k,)
        Unknowns that are not held at zero.

    Raises
    ------
    SolveError
        If the matrix is singular.
    """
    if len(free) < matrix.shape[0]:
        matrix, rows = submatrix(matrix, free), sp.csr_array(rows[:, free])
    wide = np.flatnonzero(np.diff(rows.indptr) > WIDE)
    if not len(wide):
        return factorise(tied(matrix, rows, stiffness))
    thin = _thinned(rows[wide])
    few = sp.lil_array(rows)
    few[wide] = thin
    given = stiffness.copy()
    given[wide] = local_stiffness(matrix, thin)
    try:
        factor = factorise(tied(matrix, sp.csr_array(few), given))
    except SolveError:
        # What is left of the rows may hold the panel less well than the rows do.
        return factorise(tied(matrix, rows, stiffness))
    change = sp.csr_array(sp.vstack([rows[wide], thin]))
    return CorrectedFactor(factor, change, np.concatenate([stiffness[wide], -given[wide]]))


def submatrix(matrix: sp.csc_array, free: Index) -> sp.csc_array:
    """Rows and columns (k,), rising, of a matrix (n, n) without its zeros, in one pass over the entries."""
    number = np.full(matrix.shape[0], -1, dtype=np.int32)
    number[free] = np.arange(len(free), dtype=np.int32)
    rows = number[matrix.indices]
    kept = (rows >= 0) & (matrix.data != 0.0)
    kept &= np.repeat(number >= 0, np.diff(matrix.indptr))
    # Up to the next free column there are none kept but its own.
    count = np.diff(matrix.indptr)[free]
    count[count > 0] = np.add.reduceat(kept, matrix.indptr[free[count > 0]], dtype=np.int32)
    ends = np.concatenate([[0], np.cumsum(count)]).astype(np.int32)
    found = sp.csc_array((matrix.data[kept], rows[kept], ends), shape=(len(free), len(free)))
    found.has_sorted_indices = matrix.has_sorted_indices
    return found


def tied(matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array) -> sp.csc_array:
    """Add ties of rows (m, n) with their stiffness (m,) to a matrix (n, n)."""
    return sp.csc_array(matrix + rows.T @ (rows.multiply(stiffness[:, None]).tocsr()))


def blocks(rows: sp.csr_array) -> Iterator[sp.csr_array]:
    """Rows in blocks of a bounded size."""
    for first in range(0, rows.shape[0], BLOCK):
        yield sp.csr_array(rows[first : first + BLOCK])


def measured(rows: sp.csr_array, answers: Array) -> Array:
    """Motions (m,) or (m, k) that rows (m, n) measure; of large answers (n, k) only what they touch is copied."""
    touched = np.unique(rows.indices)
    return np.asarray(rows[:, touched] @ answers[touched])


def local_stiffness(matrix: sp.csc_array, rows: sp.csr_array) -> Array:
    """Stiffness (m,) in N/m of the matrix against rows (m, n) when all else stays where it is."""
    if not rows.shape[0]:
        return np.zeros(0)
    return np.asarray(1.0 / (rows.multiply(rows) @ (1.0 / matrix.diagonal())))


def reference_stiffness(matrix: sp.csc_array, rows: sp.csr_array, compliance: Array) -> Array:
    """Stiffness of ties (m,) in N/m: the restraints' own, of rigid ones that of the matrix at their places."""
    rigid = compliance <= 0.0
    return np.where(rigid, local_stiffness(matrix, rows), 1.0 / np.where(rigid, 1.0, compliance))


def _thinned(rows: sp.csr_array) -> sp.csr_array:
    """Keep the largest entries of each row."""
    rows = sp.csr_array(rows, copy=True)
    for first, last in zip(rows.indptr[:-1], rows.indptr[1:], strict=True):
        size = np.abs(rows.data[first:last])
        rows.data[first:last][np.argsort(-size, kind="stable")[KEPT:]] = 0.0
    rows.eliminate_zeros()
    return rows


class CorrectedFactor:
    """Factors of a matrix, for solving with a change of low rank in it.

    Parameters
    ----------
    factor : Factor
    rows : csr_array, shape (k, n)
    stiffness : ndarray, shape (k,)
        The change is ``rows' diag(stiffness) rows``; none may be zero.
    """

    def __init__(self, factor: Factor, rows: sp.csr_array, stiffness: Array) -> None:
        self._factor, self._rows = factor, rows
        self._answers = factor.solve(rows.T.toarray(order="F"))
        small = np.linalg.inv(np.diag(1.0 / stiffness) + measured(rows, self._answers))
        self._small = 0.5 * (small + small.T)

    def solve(self, rhs: Array, *, overwrite: bool = False) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides, which may be overwritten to save memory."""
        found = self._factor.solve(rhs, overwrite=overwrite)
        pulled = self._small @ measured(self._rows, found)
        for first in range(0, len(found), CHUNK):
            found[first : first + CHUNK] -= self._answers[first : first + CHUNK] @ pulled
        return found

    @cached_property
    def lower(self) -> CorrectedLower:
        """Lower half of the factors, with the change as further unknowns behind the others."""
        return CorrectedLower(self._factor.lower, self._answers, self._small)


class CorrectedLower:
    """Half of a corrected factor.

    Parameters
    ----------
    base : Lower
        Of the matrix without the change.
    answers : ndarray, shape (n, k)
        Solutions for the rows of the change.
    small : ndarray, shape (k, k)
        What turns the change's motions into what they take away.

    Attributes
    ----------
    base
    reach : ndarray, shape (n, k)
        What the change's own unknowns, which are behind the others, take of each load.
    own : ndarray, shape (k,)
        Pivots of the change's own unknowns.
    pivots : ndarray, shape (n + k,)
    """

    def __init__(self, base: Forward, answers: Array, small: Array) -> None:
        values, vectors = np.linalg.eigh(-small)
        self.base, self.reach, self.own = base, answers @ vectors, 1.0 / values
        self.pivots = np.concatenate([base.pivots, self.own])

    def forward(self, rhs: Array) -> Array:
        """Forward substitution for right-hand sides (n, k)."""
        return np.vstack([self.base.forward(rhs), self.reach.T @ rhs])
