"""Strains, stress resultants and displacements of a solved panel at any point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.panel import Panel, points_on_elements

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Resultants:
    """Stress resultants at ``n`` points.

    Attributes
    ----------
    membrane : ndarray, shape (n, 3)
        N_x, N_y, N_xy in N/m.
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


def resultants(panel: Panel, x: Array, elements: Index, xy: Array) -> Resultants:
    """Stress resultants at points (2, n) in the listed elements."""
    strains = panel.gather(elements, panel.strain_rows(elements, xy), x)
    forces = np.einsum("nij,nj->ni", panel.stiffness[elements], strains)
    return Resultants(forces[:, :3], forces[:, 3:6], forces[:, 6:])


def lattice(panel: Panel, n: int) -> tuple[Index, Array]:
    """Evenly spaced points of every element, ``n`` intervals on a side: elements and points (2, m)."""
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    keep = i + j <= n
    X = np.vstack([i[keep], j[keep]]) / n
    return points_on_elements(panel.space, X)
