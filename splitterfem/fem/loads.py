"""Load vectors: pressure, patches, point forces over a pad, and inertia."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.locate import Samples
from splitterfem.fem.panel import Panel, points_on_elements
from splitterfem.fem.reference import N_NODES, quadrature, tabulate_p2b
from splitterfem.fem.ribrows import motion_rows
from splitterfem.fem.rigid import rigid_motions

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PRESSURE_ORDER = 6
"""Degree of the quadrature for pressure maps, which are rougher than the panel's own fields."""


def surface_points(panel: Panel, order: int = PRESSURE_ORDER) -> tuple[Array, Array]:
    """Quadrature points (2, nt k) over the whole panel and their areas (nt k,)."""
    X, w = quadrature(order)
    _, xy = points_on_elements(panel.space, X)
    return xy, (2.0 * panel.space.area[:, None] * w).ravel()


def deflection_matrix(panel: Panel, elements: Index, xy: Array) -> sp.csr_array:
    """Matrix (n, n_dofs) of the deflection w at points (2, n), each in its listed element (n,)."""
    space = panel.space
    # the deflection has no bubble: six nodal values give it anywhere in an element
    values, _ = tabulate_p2b(space.to_local(elements, xy))
    columns = space.dofs[elements, 2::5]
    starts = np.arange(0, columns.size + 1, N_NODES)
    return sp.csr_array(
        (values[:, :N_NODES].ravel(), columns.ravel(), starts), shape=(len(elements), space.n_dofs)
    )


def surface_deflection(panel: Panel, order: int = PRESSURE_ORDER) -> sp.csr_array:
    """Matrix (nt k, n_dofs) of the deflection w at the points of :func:`surface_points`."""
    return deflection_matrix(panel, *points_on_elements(panel.space, quadrature(order)[0]))


def surface_load(panel: Panel, traction: Array, order: int = PRESSURE_ORDER) -> Array:
    """Load vector of a force per area on the mid-surface.

    Parameters
    ----------
    panel : Panel
    traction : ndarray, shape (3, nt k)
        Force per area (x, y, z) in Pa at the points of :func:`surface_points`.

    Returns
    -------
    ndarray, shape (n_dofs,)
    """
    X, w = quadrature(order)
    values, _ = tabulate_p2b(X)
    space = panel.space
    at_points = traction.reshape(3, space.n_elements, len(w))
    weighted = at_points * (2.0 * space.area[:, None] * w)
    nodal = np.einsum("ceq,qa->eac", weighted, values[:, :N_NODES])
    vectors = np.zeros((space.n_elements, N_NODES, 5))
    vectors[:, :, :3] = nodal
    return panel.scatter(np.arange(space.n_elements), vectors.reshape(space.n_elements, -1))


def pressure_load(panel: Panel, pressure: Callable[[Array, Array], Array]) -> Array:
    """Load vector of a net pressure p(x, y) in Pa, positive down."""
    xy, _ = surface_points(panel)
    traction = np.zeros((3, xy.shape[1]))
    traction[2] = -pressure(xy[0], xy[1])
    return surface_load(panel, traction)


def patch_load(panel: Panel, samples: Samples, force: Array, z: float = 0.0) -> Array:
    """Load vector of a force (3,) in N spread evenly over a pad or patch at height ``z`` in m."""
    motion = motion_rows(panel, samples, z)
    share = samples.weights / samples.measure
    return panel.scatter(samples.elements, np.einsum("n,c,nck->nk", share, force, motion))


def resultant(panel: Panel, load: Array) -> Array:
    """Total force (3,) in N and moment (3,) in N m about the origin of a load vector, shape (6,)."""
    return np.asarray(rigid_motions(panel.space).T @ load)
