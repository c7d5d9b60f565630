"""Consistent mass of the panel, its ribs and what is bolted to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution
from splitterfem.fem.panel import CHUNK, Panel, at_point
from splitterfem.fem.reference import N_OUTER, tables_at_quadrature
from splitterfem.fem.space import displacement_rows

Array = NDArray[np.float64]

MASS_ORDER = 6
"""Degree of the quadrature: exact for products of the cubic bubbles."""


@dataclass(frozen=True)
class SheetMass:
    """Mass of the sheet per area, element by element.

    Attributes
    ----------
    area : ndarray, shape (nt,)
        Mass per area in kg/m2.
    rotary : ndarray, shape (nt,)
        Second moment of the mass through the thickness in kg.
    offset : ndarray, shape (nt,)
        First moment of the mass through the thickness in kg/m; zero for a symmetric sheet.
    """

    area: Array
    rotary: Array
    offset: Array

    @classmethod
    def uniform(cls, panel: Panel, density: float, thickness: float) -> SheetMass:
        """Return the mass of a homogeneous sheet: density in kg/m3, thickness in m."""
        n = panel.space.n_elements
        return cls(np.full(n, density * thickness), np.full(n, density * thickness**3 / 12.0), np.zeros(n))


def mass_matrix(
    panel: Panel,
    sheet: SheetMass,
    contributions: tuple[Contribution, ...] = (),
    *,
    n_extra: int = 0,
) -> sp.csc_array:
    """Assemble the consistent mass matrix over the panel's and the extra unknowns.

    The kinetic energy is that of the displacement (u, v) - z phi, w: translation and rotary inertia of the sheet, and
    of every part of a rib at the height of its own centroid.

    Parameters
    ----------
    panel : Panel
    sheet : SheetMass
    contributions : tuple of Contribution
        Ribs; those without mass are passed over.
    n_extra : int
        Number of extra unknowns, which carry no mass of their own.
    """
    elements = np.arange(panel.space.n_elements, dtype=np.int64)
    matrices = np.concatenate(
        [_sheet(panel, sheet, elements[i : i + CHUNK]) for i in range(0, len(elements), CHUNK)]
    )
    for part in contributions:
        if part.motion is None or part.mass == 0.0:
            continue
        density = part.samples.weights * part.mass
        per_sample = np.matmul((part.motion * density[:, None, None]).transpose(0, 2, 1), part.motion)
        np.add.at(matrices, part.samples.elements, per_sample)
    matrix = panel.assemble(matrices)
    if n_extra == 0:
        return matrix
    return sp.csc_array(sp.block_diag([matrix, sp.csc_array((n_extra, n_extra))], format="csc"))


def _sheet(panel: Panel, sheet: SheetMass, elements: NDArray[np.int64]) -> Array:
    """Mass matrices (n, 30, 30) of the sheet in some elements, the bubbles following their neighbours."""
    tables, weights = tables_at_quadrature(MASS_ORDER)
    n = len(elements)
    found = np.zeros((n, N_OUTER, N_OUTER))
    density = np.zeros((n, 5, 5))
    for i in range(3):
        density[:, i, i] = sheet.area[elements]
    for i in range(2):
        density[:, 3 + i, 3 + i] = sheet.rotary[elements]
        density[:, i, 3 + i] = density[:, 3 + i, i] = -sheet.offset[elements]
    for q, weight in enumerate(weights):
        rows = panel.slaved(elements, displacement_rows(at_point(tables, q, n)))
        scale = (2.0 * weight * panel.space.area[elements])[:, None, None]
        found += np.matmul(rows.transpose(0, 2, 1), np.matmul(density * scale, rows))
    return found
