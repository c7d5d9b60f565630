"""Matrices on one mesh that are factorised again and again, each with what the last one leaves of use.

Where PARDISO is installed and the ties reach the same unknowns as the last time, its ordering of the pattern is kept:
a move of a rib changes entries and no places.  Else the panel is factorised part by part, where that pays.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable
from functools import cached_property
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem import pardiso
from splitterfem.fem.factor import Factor, Forward, SuperLUFactor, library
from splitterfem.fem.substructure import Substructures, pays
from splitterfem.fem.ties import WIDE, factorise_tied, tied

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Places: TypeAlias = tuple[NDArray[np.int32], NDArray[np.int32]]


class TiedPattern:
    """Places of a matrix's entries, stored zeros among them, and of its ties' in the upper half of their sum.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
        Symmetric, sorted.
    rows : csr_array, shape (m, n)
        Motions that are tied.
    """

    def __init__(self, matrix: sp.csc_array, rows: sp.csr_array) -> None:
        n = matrix.shape[0]
        self._matrix_places, self._rows_places = _places(matrix), _places(rows)
        columns = np.repeat(np.arange(n), np.diff(matrix.indptr))
        self._below = matrix.indices >= columns
        own = columns[self._below] * n + matrix.indices[self._below]
        self._one, self._other, self._tie = _pairs(rows)
        first, second = (rows.indices[half].astype(np.int64) for half in (self._one, self._other))
        ties = np.minimum(first, second) * n + np.maximum(first, second)
        every = np.union1d(own, ties)
        self._own, self._ties = np.searchsorted(every, own), np.searchsorted(every, ties)
        ends = np.searchsorted(every, n * np.arange(n + 1)).astype(np.int32)
        self._upper = (every % n).astype(np.int32), ends

    def fits(self, matrix: sp.csc_array, rows: sp.csr_array) -> bool:
        """Whether another matrix and other ties have their entries in the same places."""
        return _same(self._matrix_places, matrix) and _same(self._rows_places, rows)

    def upper(self, matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array) -> sp.csr_matrix:
        """Upper half, by rows, of the matrix with ties of a stiffness (m,)."""
        data = np.zeros(len(self._upper[0]))
        data[self._own] = matrix.data[self._below]
        np.add.at(data, self._ties, rows.data[self._one] * rows.data[self._other] * stiffness[self._tie])
        found = sp.csr_matrix((data, *self._upper), shape=matrix.shape, copy=False)
        found.has_sorted_indices = found.has_canonical_format = True
        return found


def _places(matrix: sp.csc_array | sp.csr_array) -> Places:
    """Places of a matrix's stored entries, without these."""
    return matrix.indptr, matrix.indices


def _same(places: Places, matrix: sp.csc_array | sp.csr_array) -> bool:
    """Whether a matrix stores its entries in these places."""
    return all(np.array_equal(a, b) for a, b in zip(places, _places(matrix), strict=True))


def _pairs(rows: sp.csr_array) -> tuple[Index, Index, Index]:
    """Numbers of the two stored entries of each pair in a row, one of both orders, and the row's number."""
    found = []
    for number, (first, last) in enumerate(pairwise(rows.indptr.tolist())):
        one, other = np.tril_indices(last - first)
        found.append(np.stack([first + one, first + other, np.full(len(one), number)]))
    one, other, row = np.concatenate(found, axis=1).astype(np.int64)
    return one, other, row


class RefactoredFactor(pardiso.PardisoFactor):
    """Factors with ties by PARDISO, in an ordering that is kept.

    Parameters
    ----------
    matrix, rows, stiffness
        As for `TiedPattern.upper`.
    pattern : TiedPattern
    analysis : Analysis
    """

    def __init__(
        self,
        matrix: sp.csc_array,
        rows: sp.csr_array,
        stiffness: Array,
        pattern: TiedPattern,
        analysis: pardiso.Analysis,
    ) -> None:
        super().__init__(pattern.upper(matrix, rows, stiffness), analysis)
        self._tied = matrix, rows, stiffness

    @cached_property
    def lower(self) -> Forward:
        """Lower half of the factors, made at the first call and kept."""
        return SuperLUFactor(tied(*self._tied)).lower


class Refactoring:
    """Factorises matrices on one mesh that differ little."""

    def __init__(self) -> None:
        self._rows_places: Places | None = None
        self._pattern: TiedPattern | None = None
        self._analysis = pardiso.Analysis()

    def factorise(
        self,
        matrix: sp.csc_array,
        rows: sp.csr_array,
        stiffness: Array,
        *,
        substructures: Callable[[], Substructures],
        n_extra: int = 0,
    ) -> Factor:
        """Factorise a matrix with ties, all unknowns free.

        Parameters
        ----------
        matrix : csc_array, shape (n, n)
            With the stored zeros of the panel's pattern.
        rows : csr_array, shape (m, n)
            Motions that are tied.
        stiffness : ndarray, shape (m,)
            Of the ties, N/m; none may be zero.
        substructures : callable
            Gives the parts of the mesh, which are cut when they are first asked for; not kept, as it holds the mesh.
        n_extra : int
            Unknowns of the ribs' own, the last ones; what they meet changes when a rib moves.

        Raises
        ------
        SolveError
            If the matrix is singular.
        """
        n = matrix.shape[0]
        if not n_extra and library(n) == "pardiso" and self._ties_stay(rows):
            try:
                return self._refactored(matrix, rows, stiffness)
            except pardiso.NotPositiveDefiniteError:
                pass
        elif pays(n - n_extra, n_extra + rows.shape[0]):
            return substructures().factorise(matrix, rows, stiffness)
        return factorise_tied(matrix, rows, stiffness, free=np.arange(n))

    def _ties_stay(self, rows: sp.csr_array) -> bool:
        """Whether ties reach the same unknowns as the last time, or this is the first; few enough for the pattern."""
        known, self._rows_places = self._rows_places, _places(rows)
        same = known is None or _same(known, rows)
        return same and rows.nnz > 0 and int(np.diff(rows.indptr).max()) <= WIDE

    def _refactored(self, matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array) -> RefactoredFactor:
        if self._pattern is None or not self._pattern.fits(matrix, rows):
            self._pattern = TiedPattern(matrix, rows)
            self._analysis.close()
            self._analysis = pardiso.Analysis()
            weakref.finalize(self, self._analysis.close)
        return RefactoredFactor(matrix, rows, stiffness, self._pattern, self._analysis)
