"""A rib as one small dense stiffness on the unknowns under it, and shapes of the forces that it can pass on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution
from splitterfem.fem.panel import Panel
from splitterfem.fem.reference import N_OUTER

Array = NDArray[np.float64]
Index = NDArray[np.int64]

ROUNDING = 1e-12
"""Eigenvalues below this share of the largest are those of motions that strain nothing."""

DEGREE = 3
"""Of the polynomials along a rib with which the first guess of its strains is made."""


@dataclass(frozen=True, eq=False)
class Stiffener:
    """Stiffness that a rib, or a mirrored pair of them, adds to a panel.

    Attributes
    ----------
    dofs : ndarray of int, shape (t,)
        The panel's unknowns that it touches, in order.
    matrix : ndarray, shape (t, t)
        Own unknowns of ribs that slip are condensed out.
    guess : ndarray, shape (t, q)
        Motions that stretch, bend, twist and shear it by polynomials along it.
    """

    dofs: Index
    matrix: Array
    guess: Array

    def all_shapes(self) -> Array:
        """Find all motions (t, k) that strain it independently of one another, each with an energy of one half."""
        values, vectors = np.linalg.eigh(self.matrix)
        kept = values > ROUNDING * values[-1]
        return np.asarray(vectors[:, kept] / np.sqrt(values[kept]))


def stiffener(panel: Panel, pieces: Sequence[Sequence[Contribution]]) -> Stiffener:
    """Put the parts of a rib's pieces together.

    Parameters
    ----------
    panel : Panel
    pieces : sequence of sequences of Contribution
        Parts of each straight or bent piece; those of one piece share its own unknowns, if any.
    """
    found = [_condensed(panel, parts) for parts in pieces]
    dofs = np.unique(np.concatenate([own for own, _ in found]))
    matrix = np.zeros((len(dofs), len(dofs)))
    guesses = []
    for parts, (own, block) in zip(pieces, found, strict=True):
        place = np.searchsorted(dofs, own)
        matrix[np.ix_(place, place)] += block
        guess = np.zeros((len(dofs), 4 * DEGREE))
        guess[place] = _smooth(panel, parts, own)
        guesses.append(guess)
    return Stiffener(dofs, matrix, np.hstack(guesses))


def _condensed(panel: Panel, parts: Sequence[Contribution]) -> tuple[Index, Array]:
    """Unknowns of the panel under one piece, and its stiffness against them, its own unknowns condensed out."""
    touched = np.unique(np.concatenate([part.samples.elements for part in parts]))
    blocks = np.zeros((len(touched), N_OUTER, N_OUTER))
    for part in parts:
        _add_blocks(blocks, touched, part)
    dofs = np.unique(panel.space.dofs[touched])
    n, t = panel.space.n_dofs, len(dofs)
    triplets = [triplet for part in parts for triplet in part.triplets(panel)]
    own = np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *(columns for _, _, columns in triplets)]))
    matrix = np.zeros((t + len(own), t + len(own)))
    place = np.searchsorted(dofs, panel.space.dofs[touched])
    matrix[:t, :t] = _summed(place, blocks, t)
    for values, rows, columns in triplets:
        here = t + np.searchsorted(own, columns)
        if rows[0] < n:
            there = np.searchsorted(dofs, rows)
            np.add.at(matrix, (there, here), values)
            np.add.at(matrix, (here, there), values)
        else:
            np.add.at(matrix, (t + np.searchsorted(own, rows), here), values)
    mixed = matrix[:t, t:]
    block = matrix[:t, :t] - mixed @ np.linalg.solve(matrix[t:, t:], mixed.T) if len(own) else matrix
    return dofs, 0.5 * (block + block.T)


def _add_blocks(blocks: Array, touched: Index, part: Contribution) -> None:
    """Add what a part is against the unknowns of the panel to the blocks (k, 30, 30) of the touched elements (k,)."""
    samples = part.samples
    order = np.argsort(samples.elements, kind="stable")
    roots = np.sqrt(samples.weights[:, None] * part.stiffness)
    rows = (part.rows * roots[:, :, None])[order]
    elements, first = np.unique(samples.elements[order], return_index=True)
    for place, own in zip(np.searchsorted(touched, elements), np.split(rows, first[1:]), strict=True):
        strain = own.reshape(-1, N_OUTER)
        blocks[place] += strain.T @ strain


def _summed(places: Index, blocks: Array, size: int) -> Array:
    """Sum element blocks (k, 30, 30) into a matrix (size, size) at their places (k, 30)."""
    flat = (places[:, :, None] * size + places[:, None, :]).ravel()
    summed = np.bincount(flat, blocks.ravel(), minlength=size * size)
    return np.asarray(summed, dtype=np.float64).reshape(size, size)


def _smooth(panel: Panel, parts: Sequence[Contribution], dofs: Index) -> Array:
    """Motions (t, 4 `DEGREE`) that stretch, bend, twist and shear a piece by polynomials along its chord."""
    xy = np.hstack([part.samples.xy for part in parts])
    middle = xy.mean(axis=1)
    tangent = np.linalg.svd(xy - middle[:, None], full_matrices=False)[0][:, 0]
    normal = np.array([-tangent[1], tangent[0]])
    nodes, component = np.divmod(dofs, 5)
    places = np.stack([axis[nodes] for axis in panel.space.node_points]) - middle[:, None]
    size = float(np.abs(tangent @ (xy - middle[:, None])).max())
    s, across = tangent @ places / size, normal @ places / size
    columns = []
    for degree in range(1, DEGREE + 1):
        power, slope = s**degree, degree * s ** (degree - 1)
        bow = s ** (degree + 1), (degree + 1) * power
        zero = np.zeros_like(s)
        fields = (
            (power * tangent[0], power * tangent[1], zero, zero, zero),
            (zero, zero, bow[0], bow[1] * tangent[0] / size, bow[1] * tangent[1] / size),
            (
                zero,
                zero,
                across * power,
                (power * normal[0] + across * slope * tangent[0]) / size,
                (power * normal[1] + across * slope * tangent[1]) / size,
            ),
            (zero, zero, power, zero, zero),
        )
        columns += [np.choose(component, field) for field in fields]
    return np.column_stack(columns)
