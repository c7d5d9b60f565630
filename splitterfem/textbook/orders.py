"""How fast errors fall as the mesh gets finer, on a plate with an exact solution.

A rectangle on hard supports under one wave of pressure each way: one term of the series of Whitney & Pagano, J. Appl.
Mech. 37 (1970) 1031-1036.  By Brezzi, Bathe & Fortin, Int. J. Numer. Meth. Eng. 28 (1989) 1787-1801, the error in the
energy norm falls with the square of the size of the triangles, whatever the thickness.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.fem.panel import points_on_elements
from splitterfem.fem.recover import displacements
from splitterfem.fem.reference import quadrature
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate

Array = NDArray[np.float64]

SIDES = (1.0, 0.7)
ALPHA, BETA = np.pi / SIDES[0], np.pi / SIDES[1]


def exact_amplitudes(laminate: Homogeneous) -> Array:
    """Amplitudes (3,) of deflection and of both rotations under a wave of unit pressure."""
    D, S = laminate.D, laminate.S
    mixed = (D[0, 1] + D[2, 2]) * ALPHA * BETA
    rows = [
        [S[0, 0] * ALPHA**2 + S[1, 1] * BETA**2, -S[0, 0] * ALPHA, -S[1, 1] * BETA],
        [-S[0, 0] * ALPHA, D[0, 0] * ALPHA**2 + D[2, 2] * BETA**2 + S[0, 0], mixed],
        [-S[1, 1] * BETA, mixed, D[2, 2] * ALPHA**2 + D[1, 1] * BETA**2 + S[1, 1]],
    ]
    return np.asarray(np.linalg.solve(np.array(rows), [1.0, 0.0, 0.0]))


def errors(cells: int, thickness: float) -> tuple[int, float, float]:
    """Unknowns, and the errors in the energy norm and of the deflection (mean square), over what they are of."""
    laminate = Homogeneous(thickness)
    plate = Plate(*rectangle_mesh(*SIDES, cells, cells, pattern="cross"), laminate, edge="hard")
    x = plate.solve_pressure(lambda px, py: np.sin(ALPHA * px) * np.sin(BETA * py))
    points, weights = quadrature(6)
    elements, at = points_on_elements(plate.space, points)
    places = np.vstack(list(at))
    area = np.tile(weights, plate.space.n_elements) * 2.0 * plate.space.area[elements]
    amplitudes = exact_amplitudes(laminate)
    strain = _exact_strain(amplitudes, places)
    gap = plate.panel.gather(elements, plate.panel.strain_rows(elements, places), x) - strain
    stiffness = plate.panel.stiffness[0]
    off, whole = (area @ np.einsum("ni,ij,nj->n", part, stiffness, part) for part in (gap, strain))
    wave = np.sin(ALPHA * places[0]) * np.sin(BETA * places[1])
    w = displacements(plate.panel, x, elements, places)[:, 2] - amplitudes[0] * wave
    return plate.unknowns, float(np.sqrt(off / whole)), float(np.sqrt(area @ w**2) / abs(amplitudes[0]))


def _exact_strain(amplitudes: Array, places: Array) -> Array:
    """Strains (n, 8) of the exact solution at places (2, n): membrane, curvatures, shear."""
    W, X, Y = amplitudes
    (sx, sy), (cx, cy) = (
        np.sin([ALPHA * places[0], BETA * places[1]]),
        np.cos([ALPHA * places[0], BETA * places[1]]),
    )
    strain = np.zeros((places.shape[1], 8))
    strain[:, 3], strain[:, 4] = -X * ALPHA * sx * sy, -Y * BETA * sx * sy
    strain[:, 5] = (X * BETA + Y * ALPHA) * cx * cy
    strain[:, 6], strain[:, 7] = (W * ALPHA - X) * cx * sy, (W * BETA - Y) * sx * cy
    return strain


def orders(
    thicknesses: Sequence[float] = (1e-1, 1e-2, 1e-3, 1e-4), cells: Sequence[int] = (4, 8, 16)
) -> pd.DataFrame:
    """Solve the plate on finer and finer meshes.

    Parameters
    ----------
    thicknesses : sequence of float
        Over the longer side.
    cells : sequence of int
        Divisions of each side.

    Returns
    -------
    pandas.DataFrame
        ``thickness``, ``cells``, ``unknowns``, ``energy_error``, ``deflection_error``, and the orders ``energy_order``
        and ``deflection_order`` since the coarser mesh.
    """
    rows = []
    for thickness in thicknesses:
        before: tuple[int, float, float] | None = None
        for number in cells:
            unknowns, energy, deflection = errors(number, thickness)
            finer = np.nan if before is None else np.log(number / before[0])
            rows.append(
                {
                    "thickness": thickness,
                    "cells": number,
                    "unknowns": unknowns,
                    "energy_error": energy,
                    "deflection_error": deflection,
                    "energy_order": np.nan if before is None else np.log(before[1] / energy) / finer,
                    "deflection_order": np.nan if before is None else np.log(before[2] / deflection) / finer,
                }
            )
            before = (number, energy, deflection)
    return pd.DataFrame(rows)
