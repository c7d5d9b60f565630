"""Fields of a solved panel for looking at: values on a fine triangulation, extremes and their places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.panel import Panel
from splitterfem.fem.recover import displacements, lattice
from splitterfem.fem.reference import N_NODES, tabulate_p2b
from splitterfem.model import Model

Array = NDArray[np.float64]
Index = NDArray[np.int64]

SUBDIVISION = 4
"""Intervals on an element's side: quadratic fields are sampled at 15 points of each element."""

CHORD_REACH = 2e-3
"""Points this far outside the mesh (m) still count as on the panel: a curved edge bulges past its chords."""


@dataclass(frozen=True)
class Field:
    """Values on a triangulation that follows the panel's outline.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        In m.
    triangles : ndarray of int, shape (m, 3)
    values : ndarray, shape (n,)
        In SI units.
    """

    x: Array
    y: Array
    triangles: Index
    values: Array

    def highest(self) -> tuple[float, tuple[float, float]]:
        """Largest value and its place."""
        return self._at(int(np.argmax(self.values)))

    def lowest(self) -> tuple[float, tuple[float, float]]:
        """Smallest value and its place."""
        return self._at(int(np.argmin(self.values)))

    def _at(self, i: int) -> tuple[float, tuple[float, float]]:
        return float(self.values[i]), (float(self.x[i]), float(self.y[i]))


def sampled(panel: Panel, n: int = SUBDIVISION) -> tuple[Index, Array, Index]:
    """Sample points of every element with a triangulation of them.

    Returns
    -------
    elements : ndarray of int, shape (k,)
    xy : ndarray, shape (2, k)
    triangles : ndarray of int, shape (m, 3)
    """
    elements, xy = lattice(panel, n)
    number = -np.ones((n + 1, n + 1), dtype=np.int64)
    keep = [(i, j) for i in range(n + 1) for j in range(n + 1 - i)]
    for k, (i, j) in enumerate(keep):
        number[i, j] = k
    cells = [(number[i, j], number[i + 1, j], number[i, j + 1]) for i, j in keep if i + j < n]
    cells += [(number[i + 1, j], number[i + 1, j + 1], number[i, j + 1]) for i, j in keep if i + j < n - 1]
    per_element = len(keep)
    offsets = per_element * np.arange(panel.space.n_elements)
    triangles = (np.array(cells)[None] + offsets[:, None, None]).reshape(-1, 3)
    return elements, xy, triangles


def sag_field(model: Model, x: Array, n: int = SUBDIVISION) -> Field:
    """Sag in m, positive down, over the panel."""
    elements, xy, triangles = sampled(model.panel, n)
    space = model.panel.space
    per_element = len(elements) // space.n_elements
    # the deflection has no bubble: six nodal values give it anywhere in an element
    shapes = tabulate_p2b(space.to_local(elements[:per_element], xy[:, :per_element]))[0][:, :N_NODES]
    w = x[space.dofs[:, 2::5]] @ shapes.T
    return Field(xy[0], xy[1], triangles, -w.ravel())


def displacements_at(model: Model, x: Array, xy: Array) -> Array:
    """(u, v, w, phi_x, phi_y) at points (2, n), shape (n, 5); nan off the panel."""
    elements = model.locator.find(xy, reach=CHORD_REACH)
    found = elements >= 0
    values = np.full((xy.shape[1], 5), np.nan)
    values[found] = displacements(model.panel, x, elements[found], xy[:, found])
    return values
