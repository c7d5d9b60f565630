"""Stretch of panel and ribs by slopes: the von Karman terms, their forces and their tangent.

The strain of a line or a surface that tilts grows by half the square of its slopes,
``eps = eps_linear + (w,x^2 / 2, w,y^2 / 2, w,x w,y)`` (von Karman 1910; Timoshenko & Woinowsky-Krieger, Theory of
Plates and Shells, ch. 13).  Everything that stretches, sheet, lines and foot layers of ribs, is one `Stretch`: strain
rows and slope rows at quadrature points.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution
from splitterfem.fem.panel import Panel, at_point
from splitterfem.fem.reference import N_OUTER, Tables, tables_at_quadrature
from splitterfem.fem.space import PanelSpace, gradient_rows, strain_rows, tables_at

Array = NDArray[np.float64]
Index = NDArray[np.int64]

ORDER = 4
"""Degree of the quadrature over the panel: exact for the products of squared slopes."""

SHEET = ((0, 0), (1, 1), (0, 1))
"""Slopes whose product each strain of the sheet takes: along x, along y, shear."""


@dataclass(frozen=True)
class Stretch:
    """Strains at ``n`` points that grow with the products of slopes.

    Attributes
    ----------
    elements : ndarray of int, shape (n,)
        Element that each point lies in, in rising order.
    weights : ndarray, shape (n,)
        Length or area of each point.
    dofs : ndarray of int, shape (n, d)
        Unknowns of the whole structure that the rows belong to.
    force_rows : ndarray, shape (n, k, d)
        Linear parts of the forces that work on the k strains.
    stiffness : ndarray, shape (n, k, k)
        Forces from the strains that slopes add.
    slope_dofs : ndarray of int, shape (n, s)
        Unknowns that make slopes.
    slopes : ndarray, shape (n, 2, s)
        Rows of the slopes.
    pairs : tuple of (int, int)
        Slopes whose product each strain takes; half of it for a square.
    """

    elements: Index
    weights: Array
    dofs: Index
    force_rows: Array
    stiffness: Array
    slope_dofs: Index
    slopes: Array
    pairs: tuple[tuple[int, int], ...]

    def strain(self, x: Array) -> Array:
        """Strains (n, k) that slopes add."""
        return added_strains(self._slopes_of(x), self.pairs)

    def forces(self, x: Array) -> Array:
        """Return the forces (n, k) that work on the strains: N/m in a sheet, N in a line."""
        linear = np.einsum("nkd,nd->nk", self.force_rows, x[self.dofs])
        return np.asarray(linear + np.einsum("nkj,nj->nk", self.stiffness, self.strain(x)))

    def energy(self, x: Array) -> float:
        """Energy in J that the added strains store beyond that of the linear ones."""
        added = self.strain(x)
        linear = np.einsum("nkd,nd->nk", self.force_rows, x[self.dofs])
        own = np.einsum("nk,nkj,nj->n", added, self.stiffness, added)
        return float(self.weights @ (np.einsum("nk,nk->n", linear, added) + 0.5 * own))

    def internal(self, x: Array) -> Array:
        """Nodal forces, shape of ``x``, beyond those of the linear stiffness."""
        slope_rows = self._strain_slopes(x)
        added = np.einsum("nkj,nj->nk", self.stiffness, self.strain(x))
        # force_rows are the linear strain rows times their stiffness, so they carry the added strain back
        on_all = np.einsum("n,nkd,nk->nd", self.weights, self.force_rows, self.strain(x))
        linear = np.einsum("nkd,nd->nk", self.force_rows, x[self.dofs])
        on_slopes = np.einsum("n,nks,nk->ns", self.weights, slope_rows, linear + added)
        total = np.bincount(self.dofs.ravel(), on_all.ravel(), minlength=len(x))
        total += np.bincount(self.slope_dofs.ravel(), on_slopes.ravel(), minlength=len(x))
        return np.asarray(total)

    def tangent(self, x: Array) -> tuple[Array, Array]:
        """Mixed (g, d, s) and slope (g, s, s) blocks of the tangent, summed over the points of each group.

        The mixed block and its transpose, and the slope block, come on top of the linear stiffness.
        """
        rows = self._strain_slopes(x)
        weighted = rows * self.weights[:, None, None]
        mixed = np.matmul(self.force_rows.transpose(0, 2, 1), weighted)
        own = np.matmul(rows.transpose(0, 2, 1), np.matmul(self.stiffness, weighted))
        return self._summed(mixed), self._summed(own + self._geometric(self.forces(x)))

    def geometric(self, forces: Array) -> Array:
        """Blocks (g, s, s) of the stiffness that forces (n, k) add to slopes, summed over each group."""
        return self._summed(self._geometric(forces))

    def _geometric(self, forces: Array) -> Array:
        tension = np.zeros((len(self.weights), 2, 2))
        for k, (i, j) in enumerate(self.pairs):
            tension[:, i, j] += forces[:, k]
            if i != j:
                tension[:, j, i] += forces[:, k]
        tension *= self.weights[:, None, None]
        return np.asarray(np.matmul(self.slopes.transpose(0, 2, 1), np.matmul(tension, self.slopes)))

    def _slopes_of(self, x: Array) -> Array:
        return np.asarray(np.einsum("ncs,ns->nc", self.slopes, x[self.slope_dofs]))

    def _strain_slopes(self, x: Array) -> Array:
        """Rows (n, k, s) of the change of the added strains with the slopes' unknowns."""
        at = self._slopes_of(x)
        found = [
            at[:, i, None] * self.slopes[:, i]
            if i == j
            else at[:, i, None] * self.slopes[:, j] + at[:, j, None] * self.slopes[:, i]
            for i, j in self.pairs
        ]
        return np.stack(found, axis=1)

    @cached_property
    def _group_starts(self) -> Index:
        keys = np.column_stack([self.elements, self.dofs[:, -1], self.slope_dofs])
        new = np.any(keys[1:] != keys[:-1], axis=1)
        return np.concatenate([[0], 1 + np.flatnonzero(new)]).astype(np.int64)

    def _summed(self, blocks: Array) -> Array:
        return np.asarray(np.add.reduceat(blocks, self._group_starts, axis=0))

    @property
    def groups(self) -> tuple[Index, Index, Index]:
        """Element (g,), unknowns (g, d) and slope unknowns (g, s) of each group of the tangent's blocks."""
        first = self._group_starts
        return self.elements[first], self.dofs[first], self.slope_dofs[first]


def added_strains(slopes: Array, pairs: tuple[tuple[int, int], ...] = SHEET) -> Array:
    """Strains (n, k) that slopes (n, 2) add, those of the sheet (eps_x, eps_y, gamma_xy) unless pairs are given."""
    found = [(0.5 if i == j else 1.0) * slopes[:, i] * slopes[:, j] for i, j in pairs]
    return np.stack(found, axis=1)


def slope_rows(space: PanelSpace, elements: Index, tables: Tables) -> Array:
    """Rows (n, 2, 6) of the slopes (w,x; w,y) from the deflections of each element's nodes."""
    return gradient_rows(space, elements, tables)[:, 4:6, 2:N_OUTER:5]


def sheet_stretch(panel: Panel) -> Stretch:
    """Stretch of the sheet at the quadrature points of all elements."""
    tables, weights = tables_at_quadrature(ORDER)
    space = panel.space
    n, points = space.n_elements, len(weights)
    elements = np.arange(n, dtype=np.int64)
    force_rows = np.empty((n, points, 3, space.dofs.shape[1]))
    slopes = np.empty((n, points, 2, 6))
    for q in range(points):
        at = at_point(tables, q, n)
        rows = panel.slaved(elements, strain_rows(space, elements, at))
        force_rows[:, q] = np.matmul(panel.stiffness[:, :3], rows)
        slopes[:, q] = slope_rows(space, elements, at)
    every = np.repeat(elements, points)
    return Stretch(
        elements=every,
        weights=(2.0 * space.area[:, None] * weights).ravel(),
        dofs=space.dofs[every],
        force_rows=force_rows.reshape(n * points, 3, -1),
        stiffness=panel.stiffness[every, :3, :3],
        slope_dofs=space.dofs[every][:, 2::5],
        slopes=slopes.reshape(n * points, 2, 6),
        pairs=SHEET,
    )


def rib_stretch(panel: Panel, part: Contribution) -> Stretch:
    """Stretch of a line or a foot layer of a rib, in the slopes along and across it."""
    samples, count, n = part.samples, len(part.stretch), panel.space.n_dofs
    at = samples if part.tilt is None else part.tilt
    order = np.argsort(samples.elements, kind="stable")
    rows, dofs = part.rows[:, :count], panel.space.dofs[samples.elements]
    if part.extra is not None:
        rows = np.concatenate([rows, part.extra.rows[:, :count]], axis=2)
        dofs = np.concatenate([dofs, n + part.extra.dofs], axis=1)
        order = np.lexsort((at.elements, part.extra.dofs[:, -1], samples.elements))
    tilt = slope_rows(panel.space, at.elements, tables_at(panel.space, at.elements, at.xy))
    tx, ty = at.direction[:, :, None]
    slopes = np.stack([tx * tilt[:, 0] + ty * tilt[:, 1], tx * tilt[:, 1] - ty * tilt[:, 0]], axis=1)
    stiffness = part.stiffness[:count]
    return Stretch(
        elements=samples.elements[order],
        weights=samples.weights[order],
        dofs=dofs[order],
        force_rows=(stiffness[:, None] * rows)[order],
        stiffness=np.broadcast_to(np.diag(stiffness), (len(order), count, count)),
        slope_dofs=panel.space.dofs[at.elements[order]][:, 2::5],
        slopes=slopes[order],
        pairs=part.stretch,
    )
