"""Strains, stress resultants and displacements of a solved panel at any point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.panel import Panel, points_on_elements
from splitterfem.fem.space import tables_at
from splitterfem.fem.stretch import added_strains, slope_rows

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Resultants:
    """Stress resultants at ``n`` points.

    Attributes
    ----------
    membrane : ndarray, shape (n, 3)
        N_x, N_y, N_xy in N/m; of a large deflection along the deflected surface.
    moment : ndarray, shape (n, 3)
        M_x, M_y, M_xy in N m/m, positive for tension on the lower face (kappa = phi_x,x with w up,
        and M = D kappa: a panel that sags in the middle has positive moments there).
    shear : ndarray, shape (n, 2)
        Q_x, Q_y in N/m.
    """

    membrane: Array
    moment: Array
    shear: Array


def displacements(panel: Panel, x: Array, elements: Index, xy: Array) -> Array:
    """(u, v, w, phi_x, phi_y) at points (2, n) in the listed elements, shape (n, 5)."""
    return panel.gather(elements, panel.displacement_rows(elements, xy), x)


def slopes(panel: Panel, x: Array, elements: Index, xy: Array) -> Array:
    """Slopes (w,x; w,y) at points (2, n) in the listed elements, shape (n, 2)."""
    rows = slope_rows(panel.space, elements, tables_at(panel.space, elements, xy))
    return np.asarray(np.einsum("nck,nk->nc", rows, x[panel.space.dofs[elements][:, 2::5]]))


def strains(panel: Panel, x: Array, elements: Index, xy: Array, *, large: bool = False) -> Array:
    """Generalised strains at points (2, n) in the listed elements, shape (n, 8), see ``space.strain_rows``.

    Parameters
    ----------
    panel : Panel
    x : ndarray, shape (n_dofs,)
    elements : ndarray of int, shape (n,)
    xy : ndarray, shape (2, n)
        In m.
    large : bool
        Whether the slopes' products stretch the mid-surface besides (von Karman), as a response says.
    """
    found = panel.gather(elements, panel.strain_rows(elements, xy), x)
    if large:
        found[:, :3] += added_strains(slopes(panel, x, elements, xy))
    return found


def resultants(panel: Panel, x: Array, elements: Index, xy: Array, *, large: bool = False) -> Resultants:
    """Stress resultants at points (2, n) in the listed elements; parameters as those of :func:`strains`."""
    found = strains(panel, x, elements, xy, large=large)
    forces = np.einsum("nij,nj->ni", panel.stiffness[elements], found)
    return Resultants(forces[:, :3], forces[:, 3:6], forces[:, 6:])


def lattice(panel: Panel, n: int) -> tuple[Index, Array]:
    """Evenly spaced points of every element, ``n`` intervals on a side: elements and points (2, m)."""
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    keep = i + j <= n
    X = np.vstack([i[keep], j[keep]]) / n
    return points_on_elements(panel.space, X)
