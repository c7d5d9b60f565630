"""Flexibility at many places from the lower half of a factorised matrix alone."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import Forward

Array = NDArray[np.float64]


class Halves:
    """Forward substitutions for unit forces on rows, block by block, kept for the products with further ones.

    Parameters
    ----------
    lower : Forward
        Half of the factorised matrix.
    done : tuple of ndarray
        Substituted blocks.

    Attributes
    ----------
    count : int
        Rows in all blocks.
    """

    def __init__(self, lower: Forward, done: tuple[Array, ...] = ()) -> None:
        self._lower, self._done = lower, done
        self.count = sum(block.shape[1] for block in done)

    def joined(self, rows: Iterable[sp.csr_array]) -> Halves:
        """Return these and the substitutions for further blocks of rows (b, n)."""
        fresh = tuple(np.ascontiguousarray(self._lower.forward(block.T.toarray())) for block in rows)
        return Halves(self._lower, self._done + fresh)

    def products(self, first: int) -> Array:
        """Flexibility of all rows with those from ``first``, where a block begins, shape (count, count - first)."""
        columns, seen = [np.zeros((self.count, 0))], 0
        for new in self._done:
            if seen >= first:
                # What is far from a place in the order of elimination does not feel it.
                reach = np.flatnonzero(np.any(new != 0.0, axis=1))
                weighted = new[reach] / self._lower.pivots[reach, None]
                columns.append(np.vstack([block[reach].T @ weighted for block in self._done]))
            seen += new.shape[1]
        return np.hstack(columns)
