"""Stiffness that ribs add to the panel: strain rows at sample points, and their sums into matrices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.locate import Samples
from splitterfem.fem.panel import Panel
from splitterfem.fem.pattern import Pattern

Array = NDArray[np.float64]
Index = NDArray[np.int64]

TOGETHER = 12
"""Samples of an element whose products are summed at once."""


KEPT = 1 << 22
"""Bytes of a part's sums up to which they are kept."""


@dataclass(frozen=True)
class Extra:
    """Part of the strain rows that belongs to unknowns of the rib's own.

    Attributes
    ----------
    dofs : ndarray of int, shape (n, k)
        Numbers among the extra unknowns of the whole structure.
    rows : ndarray, shape (n, m, k)
        Strain measures from them.
    """

    dofs: Index
    rows: Array


@dataclass(frozen=True)
class Contribution:
    """Rows of strain at sample points with the stiffness that they carry.

    Attributes
    ----------
    samples : Samples
    rows : ndarray, shape (n, m, 30)
        Strain measures from the element's unknowns.
    stiffness : ndarray, shape (m,)
        Stiffness of each measure per length (line) or area (layer).
    extra : Extra or None
        Strain measures from unknowns of the rib's own.
    motion : ndarray, shape (n, 3, 30), or None
        Displacement (x, y, z) of the part's own centroid; None for a part without mass.
    mass : float
        Mass per length (kg/m) or area (kg/m2).
    z : float
        Height of the centroid above the panel's mid-surface in m.
    stretch : tuple of (int, int)
        For each of the first measures, the slopes whose product it takes when the panel tilts far: 0 along the part,
        1 across it.
    tilt : Samples or None
        Where those slopes are taken; at its own places when None.
    """

    samples: Samples
    rows: Array
    stiffness: Array
    extra: Extra | None = None
    motion: Array | None = None
    mass: float = 0.0
    z: float = 0.0
    stretch: tuple[tuple[int, int], ...] = ()
    tilt: Samples | None = None

    def _weighted(self, rows: Array) -> Array:
        """Stiffness times rows times the sample's weight, shape as ``rows``."""
        return np.asarray(rows * (self.samples.weights[:, None, None] * self.stiffness[:, None]))

    def add_to(self, entries: Array, pattern: Pattern) -> None:
        """Add the part without extra unknowns to the stored entries of a panel's stiffness in place."""
        places, sums = self._entries(pattern)
        np.add.at(entries, places, sums)

    def _entries(self, pattern: Pattern) -> tuple[NDArray[np.int32], Array]:
        """Places (k,) of what is added, and how much.

        Kept for when another rib moves, as the part's elements are those of one mesh, which has one pattern; but not of
        fine meshes, whose factors take all the time.
        """
        known = self.__dict__.get("_known")
        if known is None:
            touched, owner = np.unique(self.samples.elements, return_inverse=True)
            sums = _products(self.rows, self._weighted(self.rows), owner, len(touched))
            known = pattern.of(touched).ravel(), sums.ravel()
            if sums.nbytes <= KEPT:
                self.__dict__["_known"] = known
        return known

    def triplets(self, panel: Panel) -> list[tuple[Array, Index, Index]]:
        """Values, rows and columns of the blocks with extra unknowns; extra numbers follow the panel's."""
        if self.extra is None:
            return []
        n = panel.space.n_dofs
        weighted = self._weighted(self.extra.rows)
        groups, first, owner = np.unique(
            np.column_stack([self.samples.elements, self.extra.dofs[:, 0]]),
            axis=0,
            return_index=True,
            return_inverse=True,
        )
        owner = owner.ravel()
        mixed = _products(self.rows, weighted, owner, len(groups))
        own = _products(self.extra.rows, weighted, owner, len(groups))
        there = panel.space.dofs[groups[:, 0]]
        here = n + self.extra.dofs[first]
        return [_scattered(mixed, there, here), _scattered(own, here, here)]

    def inertia_load(self, panel: Panel, acceleration: Array) -> Array:
        """Load vector of the part's mass in a field of acceleration (3,) in m/s2."""
        if self.motion is None:
            return np.zeros(panel.space.n_dofs)
        density = self.samples.weights * self.mass
        return panel.scatter(
            self.samples.elements, np.einsum("n,c,nck->nk", density, acceleration, self.motion)
        )


def assemble(panel: Panel, contributions: tuple[Contribution, ...], n_extra: int) -> sp.csc_array:
    """Symmetric stiffness of panel and ribs over the panel's and the extra unknowns.

    Parameters
    ----------
    panel : Panel
    contributions : tuple of Contribution
    n_extra : int
        Number of extra unknowns; they follow the panel's.
    """
    pattern, entries = panel.space.pattern, panel.entries.copy()
    for contribution in contributions:
        contribution.add_to(entries, pattern)
    matrix = pattern.matrix(entries)
    if n_extra == 0:
        return matrix
    n = panel.space.n_dofs
    # A rib without slip has none: an empty triplet keeps the sums below defined.
    empty = np.zeros(0, dtype=np.int64)
    triplets = [(np.zeros(0), empty, empty)]
    triplets += [part for contribution in contributions for part in contribution.triplets(panel)]
    values, rows, columns = (np.concatenate([part[i] for part in triplets]) for i in range(3))
    half = sp.coo_array((values, (rows, columns)), shape=(n + n_extra, n + n_extra)).tocsc()
    mixed = half[:n, n:]
    return sp.csc_array(sp.block_array([[matrix, mixed], [mixed.T, half[n:, n:]]], format="csc"))


def _products(left: Array, right: Array, owner: Index, count: int) -> Array:
    """Sum the products left' right of samples, (n, m, a) and (n, m, b), that have the same owner: (count, a, b)."""
    order = np.argsort(owner, kind="stable")
    held = np.bincount(owner, minlength=count)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(held) - held, held)
    sums = np.zeros((count, left.shape[2], right.shape[2]))
    for first in range(0, int(held.max(initial=0)), TOGETHER):
        some = order[(rank >= first) & (rank < first + TOGETHER)]
        place = owner[some], rank[(rank >= first) & (rank < first + TOGETHER)] - first
        stacks = [np.zeros((count, TOGETHER, *rows.shape[1:])) for rows in (left, right)]
        for stack, rows in zip(stacks, (left, right), strict=True):
            stack[place] = rows[some]
        one, other = (stack.reshape(count, -1, stack.shape[3]) for stack in stacks)
        sums += np.matmul(one.transpose(0, 2, 1), other)
    return sums


def _scattered(blocks: Array, rows: Index, columns: Index) -> tuple[Array, Index, Index]:
    a, b = rows.shape[1], columns.shape[1]
    return blocks.ravel(), np.repeat(rows, b, axis=1).ravel(), np.tile(columns, (1, a)).ravel()
