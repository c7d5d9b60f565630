"""Unknowns that belong to no part of a mesh, and what is left of all others when they are found."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from splitterfem.errors import SolveError
from splitterfem.fem.dissection import Part
from splitterfem.fem.factor import SINGULAR

Array = NDArray[np.float64]
Index = NDArray[np.int64]


class Carried:
    """Unknowns that belong to no part: the ribs' own, then forces of ties.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
        Of the panel's unknowns and, behind them, the ribs' own.
    rows : csr_array, shape (m, n)
    stiffness : ndarray, shape (m,)
    order : ndarray of int
        Panel's unknowns in the order of elimination.
    """

    def __init__(self, matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array, order: Index) -> None:
        n = len(order)
        self.n_own = matrix.shape[0] - n
        extra = sp.csr_array(matrix[n:, :]) if self.n_own else sp.csr_array((0, matrix.shape[1]))
        block = sp.csc_array(sp.vstack([extra, rows]))
        self.block = sp.csc_array(block[:, :n][:, order])
        self.give = 1.0 / stiffness
        self.corner = np.zeros((len(self), len(self)))
        self.corner[:, : self.n_own] = block[:, n:].toarray()
        self.corner[: self.n_own, self.n_own :] = self.corner[self.n_own :, : self.n_own].T
        ties = np.arange(self.n_own, len(self))
        self.corner[ties, ties] = -self.give

    def __len__(self) -> int:
        """Count these unknowns."""
        return int(self.block.shape[0])

    def same_places(self, other: Carried) -> bool:
        """Whether other unknowns of this kind meet the same unknowns of the panel."""
        mine, theirs = self.block, other.block
        return (
            self.n_own == other.n_own
            and mine.shape == theirs.shape
            and np.array_equal(mine.indptr, theirs.indptr)
            and np.array_equal(mine.indices, theirs.indices)
        )

    def columns(self, entries: NDArray[np.bool_]) -> Index:
        """Places in the order of elimination at which some of the stored entries (k,) are."""
        return np.searchsorted(self.block.indptr, np.flatnonzero(entries), side="right").astype(np.int64) - 1

    def met_by(self, part: Part) -> tuple[Index, Index, Array]:
        """Numbers of carried unknowns that a part's own unknowns meet, which of these, and the entries."""
        ends = self.block.indptr[part.first : part.last + 1]
        some = slice(ends[0], ends[-1])
        columns = np.repeat(np.arange(part.last - part.first), np.diff(ends))
        return self.block.indices[some].astype(np.int64), columns, self.block.data[some]


class Top:
    """What is left at the top: the last part's own unknowns and all carried ones, factorised together.

    Parameters
    ----------
    whole : ndarray, shape (p + e, p + e)
        Last part's own unknowns, then the carried ones.
    ties : int
        How many of these are forces of ties, the last ones.

    Attributes
    ----------
    size : int
        p + e.
    """

    def __init__(self, whole: Array, ties: int) -> None:
        self.size, split = len(whole), len(whole) - ties
        self._across = whole[split:, :split]
        try:
            self._ties = cho_factor(-whole[split:, split:], lower=True)
            self._given = cho_solve(self._ties, self._across)
            self._rest = cho_factor(whole[:split, :split] + self._across.T @ self._given, lower=True)
        except np.linalg.LinAlgError as error:
            raise SolveError(SINGULAR) from error

    def solve(self, rhs: Array) -> Array:
        """Solve for right-hand sides (p + e, k)."""
        split = self._across.shape[1]
        pulled = cho_solve(self._ties, rhs[split:])
        own = cho_solve(self._rest, rhs[:split] + self._across.T @ pulled)
        return np.vstack([own, self._given @ own - pulled])
