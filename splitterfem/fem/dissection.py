"""A mesh cut into parts that meet in few nodes, part by part down to a handful of triangles (George 1973)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.pattern import Pattern

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Places = NDArray[np.int32]

LEAF = 24
"""Triangles of the smallest parts: with fewer, the time goes to calls and not to sums."""


Run = tuple[slice, slice]
"""Neighbouring places in one list of unknowns, and where the same unknowns stand in another."""


@dataclass(frozen=True)
class Part:
    """Unknowns that are eliminated together, after those of the parts below.

    Attributes
    ----------
    first, last : int
        Range of its own unknowns in the order of elimination.
    others : ndarray of int, shape (b,)
        Later unknowns that it and the parts below it meet, rising in that order.
    below : tuple of int
        Numbers of the parts right below it.
    onto : tuple of tuple of Run
        For each of these, where its ``others`` stand among this part's own unknowns and ``others`` behind them.
    entries : ndarray of int, shape (k,)
        Stored entries of the panel's matrix that belong to its own unknowns.
    rows, columns : ndarray of int, shape (k,)
        Where these stand among its own unknowns and ``others``.
    """

    first: int
    last: int
    others: Index
    below: tuple[int, ...]
    onto: tuple[tuple[Run, ...], ...]
    entries: Index
    rows: Index
    columns: Index


@dataclass(frozen=True)
class _Cut:
    """Nodes of a part and of what is right below it, before they are numbered."""

    own: Index
    others: Index
    below: tuple[int, ...]


class Dissection:
    """Nested dissection of a mesh.

    The two halves of a mesh meet in the nodes that they share; each half is cut again (George, SIAM J. Numer. Anal. 10
    (1973) 345-363).

    Parameters
    ----------
    nodes : ndarray of int, shape (nt, 6)
        Nodes of each element.
    node_points : ndarray, shape (2, n)
    pattern : Pattern
        Of the panel's matrix.

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Unknowns in the order of elimination.
    parts : tuple of Part
        In that order; the last one is the top.
    owner : ndarray of int, shape (k,)
        Part to which each stored entry of the panel's matrix belongs; of an entry and its mirror image the later is
        no part's, which is -1.
    """

    def __init__(self, nodes: Index, node_points: Array, pattern: Pattern) -> None:
        cuts = _cuts(nodes, node_points)
        own = np.concatenate([cut.own for cut in cuts])
        each = pattern.each
        self.order: Index = _expanded(own, each)
        place = np.empty_like(self.order)
        place[self.order] = np.arange(len(place))
        starts = each * np.concatenate([[0], np.cumsum([len(cut.own) for cut in cuts])])
        # Small integers are sorted by radix, five times as fast.
        small = np.int16 if len(cuts) < np.iinfo(np.int16).max else np.int32
        part_of = np.repeat(np.arange(len(cuts), dtype=small), np.diff(starts))
        others = [np.sort(place[_expanded(cut.others, each)]) for cut in cuts]
        rows, columns = (place[numbers] for numbers in pattern.numbers())
        owner = part_of[columns]
        self.owner = np.where(np.greater_equal(part_of[rows], owner), owner, small(-1))
        kept = np.argsort(self.owner, kind="stable")
        ends = np.searchsorted(self.owner[kept], np.arange(len(cuts) + 1))

        def local(part: int, places: Index) -> Index:
            """Where unknowns stand among a part's own and its others."""
            first, last = starts[part], starts[part + 1]
            behind = last - first + np.searchsorted(others[part], places)
            return np.asarray(np.where(places < last, places - first, behind), dtype=np.int64)

        def part(number: int) -> Part:
            entries = kept[ends[number] : ends[number + 1]]
            return Part(
                first=int(starts[number]),
                last=int(starts[number + 1]),
                others=others[number],
                below=cuts[number].below,
                onto=tuple(runs(local(number, others[child])) for child in cuts[number].below),
                entries=entries,
                rows=local(number, rows[entries]),
                columns=columns[entries] - starts[number],
            )

        self.parts: tuple[Part, ...] = tuple(part(number) for number in range(len(cuts)))


def runs(places: Index) -> tuple[Run, ...]:
    """Cut rising places into runs of neighbours: which of them, and where they stand."""
    ends = np.concatenate([[0], np.flatnonzero(np.diff(places) != 1) + 1, [len(places)]]).tolist()
    pairs = [(a, b) for a, b in pairwise(ends) if b > a]
    return tuple((slice(a, b), slice(int(places[a]), int(places[a]) + b - a)) for a, b in pairs)


def _expanded(nodes: Index, each: int) -> Index:
    return np.asarray((each * nodes[:, None] + np.arange(each)).ravel())


def _cuts(nodes: Index, node_points: Array) -> Sequence[_Cut]:
    """Cut a mesh into parts, those below before those above."""
    taken = np.zeros(node_points.shape[1], dtype=bool)
    centroids = node_points[:, nodes].mean(axis=2)
    cuts = list[_Cut]()

    def cut(elements: Index) -> int:
        """Cut some elements, whose nodes that others have too are taken; returns the number of the part."""
        here = np.unique(nodes[elements])
        if len(elements) <= LEAF:
            free = ~taken[here]
            cuts.append(_Cut(here[free], here[~free], ()))
            return len(cuts) - 1
        shared, axis, halves = min(
            (_halves(nodes, centroids, elements, axis) for axis in (0, 1)), key=lambda found: len(found[0])
        )
        shared = shared[~taken[shared]]
        taken[shared] = True
        # Along the seam, so that what is below meets neighbours.
        shared = shared[np.argsort(node_points[1 - axis, shared], kind="stable")]
        below = tuple(cut(half) for half in halves)
        met = np.unique(np.concatenate([cuts[number].others for number in below]))
        cuts.append(_Cut(shared, np.setdiff1d(met, shared, assume_unique=True), below))
        return len(cuts) - 1

    cut(np.arange(len(nodes)))
    return cuts


def _halves(nodes: Index, centroids: Array, elements: Index, axis: int) -> tuple[Index, int, list[Index]]:
    """Cut elements in the middle of a direction: nodes that the halves share, the direction, and the halves."""
    order = elements[np.argsort(centroids[axis, elements], kind="stable")]
    halves = np.array_split(order, 2)
    one, other = (np.unique(nodes[half]) for half in halves)
    return np.intersect1d(one, other, assume_unique=True), axis, halves
