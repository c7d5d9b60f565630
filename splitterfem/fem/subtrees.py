"""Quadratic forms of many sparse vectors with the inverse of a factorised matrix, cut into its elimination tree.

With ``A = L D L'`` and ``y = L^-1 b``, ``b' A^-1 b = y' D^-1 y``.  A sparse vector fills only the ancestors of its own
places in the elimination tree of ``A`` (Liu, SIAM J. Matrix Anal. Appl. 11 (1990) 134-172).  So the tree is cut into
its top, which all vectors share, and pieces below it that know nothing of one another: each is solved for those few
vectors that lie on it, which for thousands of small areas of a panel is a third of the work.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.sparse.csgraph import connected_components

from splitterfem.fem.factor import Lower, lower_half

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PIECE = 0.1
"""Share of the unknowns that a piece below the top has, about."""

AT_ONCE = 2048
"""Vectors that are solved for at once, which bounds the memory."""


class Subtrees:
    """A factorised matrix cut into the top of its elimination tree and pieces below it.

    Parameters
    ----------
    lower : Lower
    """

    def __init__(self, lower: Lower) -> None:
        matrix, self._place = sp.csc_array(lower.matrix).sorted_indices(), lower.place
        self._weights = 1.0 / lower.pivots
        most = max(1, int(PIECE * len(self._weights)))
        large = _descendants(matrix) > most
        self._top, below = np.flatnonzero(large), np.flatnonzero(~large)
        self._columns = [below[part] for part in _apart(matrix[:, below][below], most)]
        cuts = [sp.csc_array(matrix[:, columns]) for columns in self._columns]
        pairs = zip(cuts, self._columns, strict=True)
        self._pieces = [lower_half(cut[columns]) for cut, columns in pairs]
        self._reach = [sp.csr_array(cut[self._top]) for cut in cuts]
        self._last = matrix[:, self._top][self._top].toarray()

    def products(self, vectors: sp.csr_array) -> Array:
        """Return ``b' A^-1 b`` (k,) for each row b of a matrix (k, n)."""
        blocks = [vectors[first : first + AT_ONCE] for first in range(0, vectors.shape[0], AT_ONCE)]
        return np.concatenate([np.zeros(0), *(self._products(sp.csr_array(block)) for block in blocks)])

    def _products(self, vectors: sp.csr_array) -> Array:
        order = np.argsort(self._place)
        rhs = sp.csr_array(vectors[:, order].T)
        found, top = np.zeros(vectors.shape[0]), rhs[self._top].toarray(order="F")
        for columns, piece, reach in zip(self._columns, self._pieces, self._reach, strict=True):
            here = sp.csr_array(rhs[columns])
            who = np.unique(here.indices)
            y = piece.solve(here[:, who].toarray(order="F"))
            found[who] += np.einsum("nk,nk,n->k", y, y, self._weights[columns])
            top[:, who] -= reach @ y
        y = solve_triangular(
            self._last, top, lower=True, unit_diagonal=True, overwrite_b=True, check_finite=False
        )
        found += np.einsum("nk,nk,n->k", y, y, self._weights[self._top])
        return found


def _descendants(matrix: sp.csc_array) -> Index:
    """Size (n,) of the subtree under each column of a lower half: the next column that it fills is its parent."""
    n = matrix.shape[0]
    below = matrix.indptr[:-1] + 1
    parents = np.where(np.diff(matrix.indptr) > 1, matrix.indices[np.minimum(below, matrix.nnz - 1)], n)
    sizes = [1] * n + [0]
    for column, parent in enumerate(parents.tolist()):
        sizes[parent] += sizes[column]
    return np.array(sizes[:n])


def _apart(matrix: sp.csc_array, most: int) -> list[Index]:
    """Columns of a matrix in parts that share no entry, of about so many columns each."""
    count, component = connected_components(matrix, directed=False)
    filled = np.cumsum(np.bincount(component, minlength=count))
    part = (filled // most)[component]
    return [np.flatnonzero(part == number) for number in np.unique(part)]
