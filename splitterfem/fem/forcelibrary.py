"""A library of ribs and supports on one panel, and the worst sag of any layout of them from a small dense system."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import lapack

from splitterfem.fem.forcemethod import Influence, Met
from splitterfem.fem.peak import Peak
from splitterfem.fem.playset import PlaySets
from splitterfem.fem.stiffener import Stiffener

Array = NDArray[np.float64]
Index = NDArray[np.int64]

COARSE = 0.5
"""Share of a rib's usual shapes with which a layout is solved a second time, to see what the others still change."""


@dataclass(frozen=True)
class LayoutAnswer:
    """What a library says of one layout.

    Attributes
    ----------
    sag : float
        Worst sag in m; nan for a layout that nothing holds.
    spread : float
        By how much the sag at its place is another with fewer shapes: with the coarse half of the usual ones, or, where
        all were taken, with the usual ones alone, in m.
    node : int
        Node next to the worst place.
    least_gap : float
        Least of the given gaps less the sag over all corners of the mesh, in m.
    """

    sag: float
    spread: float
    node: int
    least_gap: float


@dataclass(frozen=True, eq=False)
class ForceLibrary:
    """Everything that a layout's small system is put together from.

    Attributes
    ----------
    places : tuple of ndarray of int
        Numbers of each rib's shapes, the most important first.
    usual, coarse : tuple of int
        How many of them are taken as a rule, and how many of these make the coarse half.
    flexibility : ndarray, shape (N, N)
        Of the panel among the shapes.
    load : ndarray, shape (N, 1 + r)
        Motion along each shape under the load case, and under each rib's own mass.
    pushes : ndarray, shape (N, m)
        Under unit forces on the restraints.
    motions : ndarray, shape (m, 1 + r)
        Of the restraints on the bare panel, under the load case and each rib's mass.
    sets : PlaySets
        The restraints' law.
    peak : Peak
        Where the worst sag is looked for.
    gap : ndarray, shape (corners,)
        To the ground at rest, in m.
    """

    places: tuple[Index, ...]
    usual: tuple[int, ...]
    coarse: tuple[int, ...]
    flexibility: Array
    load: Array
    pushes: Array
    motions: Array
    sets: PlaySets
    peak: Peak
    gap: Array

    def answer(self, ribs: Sequence[int], present: NDArray[np.bool_], *, rich: bool = False) -> LayoutAnswer:
        """Solve one layout.

        Parameters
        ----------
        ribs : sequence of int
            Numbers of its ribs.
        present : ndarray of bool, shape (m,)
            Restraints that it has.
        rich : bool
            Whether to take all shapes, not the usual ones alone.

        Raises
        ------
        SolveError
            If no consistent set of acting restraints is found.
        """
        few, most = (self.usual, [None] * len(self.usual)) if rich else (self.coarse, self.usual)
        first = [self.places[rib][: few[rib]] for rib in ribs]
        rest = [self.places[rib][few[rib] : most[rib]] for rib in ribs]
        index = np.concatenate([np.zeros(0, dtype=np.int64), *first, *rest])
        cut, weights = (
            sum(len(part) for part in first),
            np.array([0, *(1 + rib for rib in ribs)], dtype=np.int64),
        )
        rows = self.sets.rows(present)
        there = present[rows]
        given = np.column_stack([self.load[index][:, weights].sum(axis=1), self.pushes[np.ix_(index, rows)]])
        lower, found = self._eliminated(index, given)
        pushed = found[:, 1:]
        motion = self.motions[np.ix_(rows, weights)].sum(axis=1) - pushed.T @ found[:, 0]
        sides, push, held = self.sets.solve(rows, there, motion, pushed)
        if not held:
            return LayoutAnswer(float("nan"), float("nan"), -1, float("nan"))
        amounts = _back(lower, found[:, 0] + pushed @ push)
        sag = self.peak.worst(index, amounts, weights, rows, push)
        part = found[:cut]
        motion = self.motions[np.ix_(rows, weights)].sum(axis=1) - part[:, 1:].T @ part[:, 0]
        push = self.sets.pushes(rows, there, motion, part[:, 1:], sides)
        amounts = _back(lower[:cut, :cut], part[:, 0] + part[:, 1:] @ push)
        other = self.peak.at(sag, index[:cut], amounts, weights, rows, push)
        least = float((self.gap - sag.corners).min())
        return LayoutAnswer(sag.value, abs(sag.value - other), sag.node, least)

    def _eliminated(self, index: Index, given: Array) -> tuple[Array, Array]:
        """Cholesky factor of a layout's system, and its forward substitution for right-hand sides (k, j)."""
        if not len(index):
            return np.zeros((0, 0)), given
        system = self.flexibility[np.ix_(index, index)]
        system.flat[:: len(index) + 1] += 1.0
        lower, _ = lapack.dpotrf(system.T, lower=True, clean=True, overwrite_a=True)
        found, _ = lapack.dtrtrs(lower, given, lower=True)
        return lower, found


def _back(lower: Array, found: Array) -> Array:
    if not len(found):
        return found
    return np.asarray(lapack.dtrtrs(lower, found, lower=True, trans=1)[0]).reshape(len(found))


def force_library(
    influence: Influence,
    ribs: Sequence[Stiffener],
    shapes: Sequence[Array],
    met: Met,
    *,
    rows: sp.csr_array,
    sets: PlaySets,
    peak: Peak,
    gap: Array,
    usual: Sequence[int] | None = None,
) -> ForceLibrary:
    """Solve for the influence of all shapes, and put a library together.

    Parameters
    ----------
    influence : Influence
    ribs : sequence of Stiffener
    shapes : sequence of ndarray, shape (t, k)
        Motions of each rib, each with an energy of one half.
    met : Met
    rows : csr_array, shape (m, n)
        Motions that the restraints measure.
    sets : PlaySets
    peak : Peak
        Without the influence of shapes, which is put in here.
    gap : ndarray, shape (corners,)
    usual : sequence of int, optional
        How many shapes of each rib are taken as a rule; all when left out.
    """
    counts = [shape.shape[1] for shape in shapes]
    taken = [min(pair) for pair in zip(counts, counts if usual is None else usual, strict=True)]
    ends = np.cumsum([0, *counts])
    total = int(ends[-1])
    forces = [rib.matrix @ shape for rib, shape in zip(ribs, shapes, strict=True)]
    loads = np.column_stack([met.load, met.weights])
    flexibility, sag = np.zeros((total, total)), np.zeros((total, peak.nodes))
    load, pushes = np.zeros((total, loads.shape[1])), np.zeros((total, rows.shape[0]))
    for number, (rib, force) in enumerate(zip(ribs, forces, strict=True)):
        here = slice(ends[number], ends[number + 1])
        moved = influence.of(rib.dofs, force)
        sag[here] = -moved[2::5].T
        load[here] = force.T @ loads[rib.dofs]
        pushes[here] = force.T @ met.pushes[rib.dofs]
        for other in range(number + 1):
            there = slice(ends[other], ends[other + 1])
            block = forces[other].T @ moved[ribs[other].dofs]
            flexibility[there, here], flexibility[here, there] = block, block.T
    return ForceLibrary(
        places=tuple(np.arange(a, b) for a, b in pairwise(ends)),
        usual=tuple(taken),
        coarse=tuple(int(np.ceil(COARSE * count)) for count in taken),
        flexibility=flexibility,
        load=load,
        pushes=pushes,
        motions=rows @ loads,
        sets=sets,
        peak=peak.knowing(sag, loads, met.pushes),
        gap=gap,
    )
