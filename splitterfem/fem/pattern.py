"""Where the entries of element matrices go in the sparse matrix of a whole panel: found once for a mesh."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.reference import N_NODES

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Places = NDArray[np.int32]


class Pattern:
    """Places of the entries of symmetric element matrices among the stored entries of their sum, column by column.

    Unknowns are numbered node by node, so the entries of two nodes make a small square block.

    Parameters
    ----------
    nodes : ndarray of int, shape (nt, 6)
        Nodes of each element.
    count : int
        Number of nodes.
    each : int
        Unknowns at a node.

    Attributes
    ----------
    each
    """

    def __init__(self, nodes: Index, count: int, each: int) -> None:
        self.each, self._count = each, count
        ends = np.arange(0, nodes.size + 1, N_NODES, dtype=np.int32)
        # Small integers would overflow where hundreds of elements meet at a node.
        member = sp.csr_array((np.ones(nodes.size, np.int32), nodes.ravel().astype(np.int32), ends))
        near = sp.csr_array(member.T @ member)
        near.sort_indices()
        self._rows, self._ends = near.indices, near.indptr
        keys = np.repeat(np.arange(count), np.diff(near.indptr)) * count + near.indices
        pairs = nodes[:, :, None] * count + nodes[:, None, :]  # column node first
        self._block = np.searchsorted(keys, pairs.ravel()).astype(np.int32).reshape(pairs.shape)

    @cached_property
    def _places(self) -> tuple[Places, Places]:
        """Rows of the stored entries, rising in each column, and where the columns begin."""
        return self._unpacked(np.zeros((len(self._rows), self.each, self.each)))[1:]

    def _unpacked(self, blocks: Array) -> tuple[Array, Places, Places]:
        """Return the entries of blocks (k, each, each), each of which holds column by column; then their `_places`."""
        found = sp.bsr_array((blocks, self._rows, self._ends)).tocsr()
        return found.data, found.indices, found.indptr

    def of(self, elements: Index) -> Places:
        """Places of the entries of some element matrices, shape (n, 6 each, 6 each)."""
        each, block = self.each, self._block[elements]
        height = np.diff(self._ends)
        column = np.searchsorted(self._ends, block, side="right").astype(np.int32) - 1
        first = each * (each * self._ends[column] + block - self._ends[column])
        inner = np.arange(each, dtype=np.int32)
        along = first[:, :, None, :, None] + inner
        places = along + (each * height[column])[:, :, None, :, None] * inner[:, None, None]
        return np.asarray(places.reshape(len(block), N_NODES * each, N_NODES * each), dtype=np.int32)

    def summed(self, matrices: Array) -> Array:
        """Return the stored entries of the sum of all element matrices (nt, 6 each, 6 each)."""
        each, count = self.each, self._block.size
        lines = each * self._block[:, :, None, :] + np.arange(each, dtype=np.int32)[:, None]
        ends = np.arange(each * count + 1, dtype=np.int32)
        gather = sp.csc_array(
            (np.ones(each * count), lines.ravel(), ends), shape=(each * len(self._rows), each * count)
        )
        blocks = (gather @ matrices.reshape(-1, each)).reshape(-1, each, each)
        values, *places = self._unpacked(blocks)
        self.__dict__.setdefault("_places", tuple(places))  # they come along
        return values

    def numbers(self) -> tuple[Places, Places]:
        """Row and column of each stored entry."""
        rows, ends = self._places
        return rows, np.repeat(np.arange(len(ends) - 1, dtype=np.int32), np.diff(ends))

    def matrix(self, values: Array) -> sp.csc_array:
        """Sparse matrix of stored entries."""
        n = self.each * self._count
        found = sp.csc_array((values, *self._places), shape=(n, n), copy=False)
        found.has_sorted_indices = found.has_canonical_format = True
        return found
