"""Stiffness of the panel: element matrices, their bubbles, and the sparse operator."""

from __future__ import annotations

from functools import cached_property
from typing import Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.fem.element import NOT_POSITIVE, condensed
from splitterfem.fem.reference import N_OUTER, Tables
from splitterfem.fem.space import (
    PanelSpace,
    displacement_rows,
    gradient_rows,
    shear_rows,
    slopes,
    strain_rows,
    tables_at,
)
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Index = NDArray[np.int64]

CHUNK = 8192
"""Elements that are integrated at once, to bound the memory."""

TOGETHER = 512
"""Elements whose matrices are made at once: as many as the processor's own memory holds."""


class Laminate(Protocol):
    """What the panel asks of a sheet: stiffness per unit length, all in the axes of the panel.

    N = A eps - B kappa, M = -B eps + D kappa, Q = S gamma, with kappa = (phi_x,x; phi_y,y; phi_x,y + phi_y,x).
    """

    @property
    def A(self) -> Array:
        """Membrane stiffness (3, 3) in N/m."""

    @property
    def B(self) -> Array:
        """Coupling stiffness (3, 3) in N."""

    @property
    def D(self) -> Array:
        """Bending stiffness (3, 3) in N m."""

    @property
    def S(self) -> Array:
        """Transverse shear stiffness (2, 2) in N/m."""


def generalised_stiffness(laminate: Laminate) -> Array:
    """Stiffness (8, 8) that turns (eps, kappa, gamma) into (N, M, Q).

    Raises
    ------
    DesignError
        If it is not positive definite.
    """
    C = np.zeros((8, 8))
    C[:3, :3] = laminate.A
    C[:3, 3:6] = -laminate.B
    C[3:6, :3] = -laminate.B.T
    C[3:6, 3:6] = laminate.D
    C[6:, 6:] = laminate.S
    if (
        not np.all(np.isfinite(C))
        or np.linalg.eigvalsh(C / np.sqrt(np.outer(C.diagonal(), C.diagonal()))).min() <= 0
    ):
        raise DesignError(NOT_POSITIVE)
    return C


class Panel:
    """A panel: its unknowns and element stiffness matrices with the bubbles condensed out.

    The two bubbles of an element follow the element's deflections and rotations as the bare panel's equilibrium
    demands.  Ribs, pads and loads see them in that slaved form, so adding any of these changes no bubble
    and the condensed matrices stay valid.

    Parameters
    ----------
    space : PanelSpace
    stiffness : ndarray, shape (8, 8) or (nt, 8, 8)
        Generalised stiffness, see :func:`generalised_stiffness`.

    Raises
    ------
    DesignError
        If transverse shear is coupled to the other strains.

    Attributes
    ----------
    space
    stiffness : ndarray, shape (nt, 8, 8)
    bubbles : ndarray, shape (nt, 2, 30)
        Bubbles of each element from its shared unknowns.
    entries : ndarray
        Stored entries of the stiffness, in the places of ``space.pattern``; the element matrices are not kept.
    """

    def __init__(self, space: PanelSpace, stiffness: Array) -> None:
        self.space = space
        self.stiffness = np.broadcast_to(stiffness, (space.n_elements, 8, 8))
        if np.any(self.stiffness[:, :6, 6:]):
            raise DesignError(
                "The sheet's shear stiffness is coupled to its other stiffness: make that part zero."
            )
        matrices = np.empty((space.n_elements, N_OUTER, N_OUTER))
        self.bubbles: Array = np.empty((space.n_elements, 2, N_OUTER))
        with one_blas_thread():
            for first in range(0, space.n_elements, TOGETHER):
                some = np.arange(first, min(first + TOGETHER, space.n_elements), dtype=np.int64)
                matrices[some], self.bubbles[some] = condensed(space, some, self.stiffness[some])
        self.entries = space.pattern.summed(matrices)

    def slaved(self, elements: Index, rows: Array) -> Array:
        """Express rows (n, m, 32) by the shared unknowns alone, shape (n, m, 30)."""
        found = np.matmul(rows[..., N_OUTER:], self.bubbles[elements])
        found += rows[..., :N_OUTER]
        return np.asarray(found)

    def at(self, elements: Index, xy: Array) -> PointRows:
        """Rows of all kinds at points (2, n) in the listed elements, from one table of their functions."""
        return PointRows(self, elements, tables_at(self.space, elements, xy))

    def displacement_rows(self, elements: Index, xy: Array) -> Array:
        """Rows (n, 5, 30) of (u, v, w, phi_x, phi_y) at points (2, n) in the listed elements."""
        return self.at(elements, xy).displacements

    def gradient_rows(self, elements: Index, xy: Array) -> Array:
        """Rows (n, 10, 30) of the first derivatives at points (2, n), see ``space.gradient_rows``."""
        return self.at(elements, xy).gradients

    def strain_rows(self, elements: Index, xy: Array) -> Array:
        """Rows (n, 8, 30) of the generalised strains at points (2, n), see ``space.strain_rows``."""
        return self.at(elements, xy).strains

    def assemble(self, element_matrices: Array) -> sp.csc_array:
        """Sum element matrices (nt, 30, 30) into a symmetric sparse matrix."""
        return self.space.pattern.matrix(self.space.pattern.summed(element_matrices))

    @property
    def matrix(self) -> sp.csc_array:
        """Stiffness (n, n) of the panel alone; it shares its entries."""
        return self.space.pattern.matrix(self.entries)

    def scatter(self, elements: Index, vectors: Array) -> Array:
        """Sum element vectors (n, 30) into a global vector (n_dofs,)."""
        total = np.bincount(self.space.dofs[elements].ravel(), vectors.ravel(), minlength=self.space.n_dofs)
        return np.asarray(total, dtype=np.float64)

    def gather(self, elements: Index, rows: Array, x: Array) -> Array:
        """Evaluate rows (n, m, 30) on the global vector ``x``; shape (n, m)."""
        return np.asarray(np.einsum("nmk,nk->nm", rows, x[self.space.dofs[elements]]))


class PointRows:
    """Rows of a panel at points, one element for each.

    Parameters
    ----------
    panel : Panel
    elements : ndarray of int, shape (n,)
    tables : Tables
        At the reference coordinates of the points.
    """

    def __init__(self, panel: Panel, elements: Index, tables: Tables) -> None:
        self._panel, self._elements, self._tables = panel, elements, tables

    def slaved(self, rows: Array) -> Array:
        """Express rows (n, m, 32) by the shared unknowns alone, shape (n, m, 30)."""
        return self._panel.slaved(self._elements, rows)

    @property
    def slopes(self) -> Array:
        """First derivatives (n, 2, 7) of the shape functions and the bubble."""
        return slopes(self._panel.space, self._elements, self._tables)

    @cached_property
    def shear(self) -> Array:
        """Rows (n, 2, 30) of the interpolated shear strains, see ``space.shear_rows``."""
        return self.slaved(shear_rows(self._panel.space, self._elements, self._tables))

    @cached_property
    def displacements(self) -> Array:
        """Rows (n, 5, 30) of (u, v, w, phi_x, phi_y)."""
        return self.slaved(displacement_rows(self._tables))

    @cached_property
    def gradients(self) -> Array:
        """Rows (n, 10, 30) of the first derivatives, see ``space.gradient_rows``."""
        return self.slaved(gradient_rows(self._panel.space, self._elements, self._tables))

    @cached_property
    def strains(self) -> Array:
        """Rows (n, 8, 30) of the generalised strains, see ``space.strain_rows``."""
        return self.slaved(strain_rows(self._panel.space, self._elements, self._tables))


def at_point(tables: Tables, q: int, n: int) -> Tables:
    """One quadrature point's tables, repeated for ``n`` elements without copying."""

    def spread(table: Array) -> Array:
        return np.broadcast_to(table[q], (n, *table.shape[1:]))

    return Tables(
        X=np.broadcast_to(tables.X[:, q, None], (2, n)),
        values=spread(tables.values),
        gradients=spread(tables.gradients),
        shear_w=spread(tables.shear_w),
        shear_phi=spread(tables.shear_phi),
    )


def points_on_elements(space: PanelSpace, X: Array) -> tuple[Index, Array]:
    """Every element paired with every reference point (2, k): elements (nt k,) and points (2, nt k)."""
    elements = np.repeat(np.arange(space.n_elements, dtype=np.int64), X.shape[1])
    return elements, space.to_global(elements, np.tile(X, (1, space.n_elements)))
