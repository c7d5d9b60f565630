"""Unknowns of the panel on a triangle mesh, and strains and displacements at any point of it."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from splitterfem.errors import MeshError
from splitterfem.fem.dissection import Dissection
from splitterfem.fem.pattern import Pattern
from splitterfem.fem.refactor import Refactoring
from splitterfem.fem.reference import N_NODES, N_OUTER, Tables, tabulate
from splitterfem.fem.substructure import Substructures

Array = NDArray[np.float64]
Index = NDArray[np.int64]

COMPONENTS = ("u", "v", "w", "phi_x", "phi_y")
"""Unknowns of a node: in-plane displacement, deflection (up), normal rotation (phi -> grad w when thin)."""

N_LOCAL = N_OUTER + 2
"""Unknowns of an element with the two bubbles of the rotation behind the shared ones."""


class PanelSpace:
    """Quadratic panel unknowns on a mesh of straight-sided triangles.

    Parameters
    ----------
    points : ndarray, shape (2, nv)
        Vertex coordinates in m.
    triangles : ndarray of int, shape (3, nt)
        Vertices of each triangle, in either sense.

    Raises
    ------
    MeshError
        If the arrays have the wrong shape, a triangle has no area, or a vertex belongs to no triangle.
    """

    def __init__(self, points: Array, triangles: Index) -> None:
        self.points = np.ascontiguousarray(points, dtype=float)
        self.triangles = np.ascontiguousarray(triangles, dtype=np.int64)
        self._check_shapes()
        mesh = MeshTri(self.points, self.triangles, sort_t=False)
        self.nodes: Index = np.vstack([self.triangles, self.points.shape[1] + mesh.t2f]).astype(np.int64)
        self.facets: Index = mesh.facets.astype(np.int64)
        self.boundary_facets: Index = mesh.boundary_facets().astype(np.int64)
        p = self.points[:, self.triangles]
        self.origin: Array = p[:, 0].T.copy()
        self.J: Array = np.stack([p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]], axis=-1).transpose(1, 0, 2).copy()
        det = np.asarray(np.linalg.det(self.J), dtype=np.float64)
        self.area: Array = 0.5 * np.abs(det)
        self._check_areas()
        self.inv_J: Array = np.asarray(np.linalg.inv(self.J), dtype=np.float64)

    def _check_shapes(self) -> None:
        p, t = self.points, self.triangles
        if p.ndim != 2 or p.shape[0] != 2 or t.ndim != 2 or t.shape[0] != 3:
            raise MeshError(
                f"A panel mesh needs points of shape (2, n) and triangles of shape (3, m), "
                f"but these have {p.shape} and {t.shape}."
            )
        if not np.array_equal(np.unique(t), np.arange(p.shape[1])):
            raise MeshError(
                "Every vertex of the mesh must belong to a triangle: remove the unused ones first."
            )

    def _check_areas(self) -> None:
        worst = int(np.argmin(self.area))
        edge = np.linalg.norm(self.J[worst], axis=0).max()
        if not self.area[worst] > 1e-12 * edge**2:
            x, y = self.centroids[worst]
            raise MeshError(
                f"The mesh has a triangle without area at x {1e3 * x:.1f} mm, y {1e3 * y:.1f} mm: "
                "clean the outline there."
            )

    @property
    def n_elements(self) -> int:
        """Number of triangles."""
        return int(self.triangles.shape[1])

    @property
    def n_nodes(self) -> int:
        """Number of nodes: vertices and mid-sides."""
        return int(self.points.shape[1] + self.facets.shape[1])

    @property
    def n_dofs(self) -> int:
        """Number of unknowns, five at a node."""
        return len(COMPONENTS) * self.n_nodes

    @cached_property
    def node_points(self) -> Array:
        """Coordinates of the nodes, shape (2, n_nodes): vertices first, then mid-sides."""
        return np.hstack([self.points, self.points[:, self.facets].mean(axis=1)])

    @cached_property
    def centroids(self) -> Array:
        """Centroids of the triangles, shape (nt, 2)."""
        return np.asarray(self.points[:, self.triangles].mean(axis=1).T)

    @cached_property
    def dofs(self) -> Index:
        """Unknowns of each element, shape (nt, 30), node by node."""
        n = len(COMPONENTS)
        return (n * self.nodes.T[:, :, None] + np.arange(n)).reshape(self.n_elements, N_OUTER)

    @cached_property
    def pattern(self) -> Pattern:
        """Where element matrices go in the matrix of all unknowns."""
        return Pattern(self.nodes.T, self.n_nodes, len(COMPONENTS))

    @cached_property
    def substructures(self) -> Substructures:
        """Matrices on this mesh, factorised part by part."""
        return Substructures(Dissection(self.nodes.T, self.node_points, self.pattern))

    @cached_property
    def refactoring(self) -> Refactoring:
        """Matrices on this mesh that differ little."""
        return Refactoring()

    def dofs_of(self, nodes: Index, components: str | tuple[str, ...]) -> Index:
        """Unknowns of some nodes, e.g. ``dofs_of(nodes, ("w", "phi_x"))``; flat, sorted."""
        names = (components,) if isinstance(components, str) else components
        columns = np.array([COMPONENTS.index(name) for name in names])
        return np.unique((len(COMPONENTS) * np.asarray(nodes)[:, None] + columns).ravel())

    def boundary_nodes(self) -> Index:
        """Nodes on the free boundary of the mesh (outline and holes), sorted."""
        facets = self.boundary_facets
        return np.unique(np.concatenate([self.facets[:, facets].ravel(), self.points.shape[1] + facets]))

    def to_global(self, elements: Index, X: Array) -> Array:
        """Map reference points (2, n), one for each listed element, to the plane; shape (2, n)."""
        return np.asarray((self.origin[elements] + np.einsum("nij,jn->ni", self.J[elements], X)).T)

    def to_local(self, elements: Index, xy: Array) -> Array:
        """Map points (2, n) of the plane to reference points of the listed elements, shape (2, n)."""
        return np.asarray(np.einsum("nij,nj->in", self.inv_J[elements], xy.T - self.origin[elements]))


def displacement_rows(tables: Tables) -> Array:
    """Rows that give (u, v, w, phi_x, phi_y) at points from the element's unknowns.

    Parameters
    ----------
    tables : Tables
        At ``n`` reference points.

    Returns
    -------
    ndarray, shape (n, 5, 32)
    """
    n = len(tables.values)
    rows = np.zeros((n, 5, N_LOCAL))
    for c in range(5):
        rows[:, c, c:N_OUTER:5] = tables.values[:, :N_NODES]
    for c in range(2):
        rows[:, 3 + c, N_OUTER + c] = tables.values[:, 6]
    return rows


def strain_rows(space: PanelSpace, elements: Index, tables: Tables) -> Array:
    """Rows of the eight generalised strains at points, one element for each point.

    The strains are those of the mid-surface (eps_x, eps_y, gamma_xy), the curvatures
    (phi_x,x, phi_y,y, phi_x,y + phi_y,x) and the interpolated shear strains (gamma_xz, gamma_yz).

    Parameters
    ----------
    space : PanelSpace
    elements : ndarray of int, shape (n,)
    tables : Tables
        At the reference coordinates of the ``n`` points.

    Returns
    -------
    ndarray, shape (n, 8, 32)
    """
    grad = slopes(space, elements, tables)
    rows = np.zeros((len(elements), 8, N_LOCAL))
    for first, offset in ((0, 0), (3, 3)):
        x, y = offset, offset + 1
        rows[:, first, x:N_OUTER:5] = grad[:, 0, :N_NODES]
        rows[:, first + 1, y:N_OUTER:5] = grad[:, 1, :N_NODES]
        rows[:, first + 2, x:N_OUTER:5] = grad[:, 1, :N_NODES]
        rows[:, first + 2, y:N_OUTER:5] = grad[:, 0, :N_NODES]
    rows[:, 3, N_OUTER] = rows[:, 5, N_OUTER + 1] = grad[:, 0, 6]
    rows[:, 4, N_OUTER + 1] = rows[:, 5, N_OUTER] = grad[:, 1, 6]
    rows[:, 6:8] = shear_rows(space, elements, tables)
    return rows


def shear_rows(space: PanelSpace, elements: Index, tables: Tables) -> Array:
    """Rows of the interpolated shear strains alone (gamma_xz, gamma_yz), see `strain_rows`.

    Returns
    -------
    ndarray, shape (n, 2, 32)
    """
    inv_J, J = space.inv_J[elements], space.J[elements]
    rows = np.zeros((len(elements), 2, N_LOCAL))
    rows[:, :, 2:N_OUTER:5] = _turned(inv_J, tables.shear_w)
    covariant = _turned(inv_J, tables.shear_phi)
    for k in range(2):
        rotation = covariant[:, :, 0] * J[:, k, 0, None, None] + covariant[:, :, 1] * J[:, k, 1, None, None]
        rows[:, :, 3 + k : N_OUTER : 5] = rotation[:, :, :N_NODES]
        rows[:, :, N_OUTER + k] = rotation[:, :, 6]
    return rows


def slopes(space: PanelSpace, elements: Index, tables: Tables) -> Array:
    """First derivatives (n, 2, 7) along x and y of the shape functions and the bubble at points."""
    return _turned(space.inv_J[elements], tables.gradients)


def _turned(inv_J: Array, covariant: Array) -> Array:
    """Covariant components (n, 2, ...) in the plane's own axes, ``inv_J' c``."""
    shape = (-1,) + (1,) * (covariant.ndim - 2)
    one, other = covariant[:, 0], covariant[:, 1]
    parts = (one * inv_J[:, 0, i].reshape(shape) + other * inv_J[:, 1, i].reshape(shape) for i in range(2))
    return np.stack(list(parts), axis=1)


def gradient_rows(space: PanelSpace, elements: Index, tables: Tables) -> Array:
    """Rows of the ten first derivatives (u,x; u,y; v,x; v,y; w,x; w,y; phi_x,x; phi_x,y; phi_y,x; phi_y,y).

    Returns
    -------
    ndarray, shape (n, 10, 32)
    """
    grad = slopes(space, elements, tables)
    rows = np.zeros((len(elements), 10, N_LOCAL))
    for c in range(5):
        rows[:, 2 * c : 2 * c + 2, c:N_OUTER:5] = grad[:, :, :N_NODES]
    for c in range(2):
        rows[:, 6 + 2 * c : 8 + 2 * c, N_OUTER + c] = grad[:, :, 6]
    return rows


def tables_at(space: PanelSpace, elements: Index, xy: Array) -> Tables:
    """Tables at points (2, n) of the plane, each in its listed element."""
    return tabulate(space.to_local(elements, xy))
