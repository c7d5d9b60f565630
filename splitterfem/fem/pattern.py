"""Where the entries of element matrices go in the sparse matrix of a whole panel: found once for a mesh."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.reference import N_NODES

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Places = NDArray[np.int32]


class Pattern:
    """Places of the entries of element matrices among the stored entries of their sum, column by column.

    Parameters
    ----------
    nodes : ndarray of int, shape (nt, 6)
        Nodes of each element.
    count : int
        Number of nodes.
    each : int
        Unknowns at a node; they are numbered node by node.

    Attributes
    ----------
    indices, indptr : ndarray of int
        Rows of the entries, rising in each column, and where the columns begin.
    """

    def __init__(self, nodes: Index, count: int, each: int) -> None:
        pairs = (
            nodes[:, None, :] * count + nodes[:, :, None]
        )  # column node first, so that they sort by columns
        keys, block = np.unique(pairs.ravel(), return_inverse=True)
        column, row = np.divmod(keys, count)
        height = np.bincount(column, minlength=count)  # blocks in each column of blocks
        first = np.concatenate([[0], np.cumsum(height)])
        rank = np.arange(len(keys)) - first[column]
        inner = np.arange(each)
        starts = each * (each * first[:-1, None] + inner * height[:, None])
        self.indptr = np.append(starts.ravel(), each * each * len(keys)).astype(np.int32)
        within = (
            starts[column][:, None, :] + (each * rank[:, None] + inner)[:, :, None]
        )  # (blocks, row, column)
        self.indices = np.empty(self.indptr[-1], dtype=np.int32)
        self.indices[within] = (each * row[:, None] + inner)[:, :, None]
        self._within = within.astype(np.int32)
        self._block = block.reshape(len(nodes), N_NODES, N_NODES)
        self._shape = (len(nodes), N_NODES * each, N_NODES * each)

    def of(self, elements: Index | slice) -> Places:
        """Places of the entries of some element matrices, shape (n, 6 each, 6 each)."""
        blocks = self._within[self._block[elements]]
        return np.asarray(blocks.transpose(0, 1, 3, 2, 4).reshape(-1, *self._shape[1:]))

    def summed(self, matrices: Array) -> Array:
        """Return the stored entries of the sum of all element matrices."""
        values = np.bincount(self.of(slice(None)).ravel(), matrices.ravel(), minlength=len(self.indices))
        return np.asarray(values, dtype=np.float64)

    def matrix(self, values: Array) -> sp.csc_array:
        """Sparse matrix of stored entries."""
        n = len(self.indptr) - 1
        found = sp.csc_array((values, self.indices, self.indptr), shape=(n, n), copy=False)
        found.has_sorted_indices = found.has_canonical_format = True
        return found
