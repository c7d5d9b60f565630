"""Laminates against three-dimensional elasticity: what the theory gives, and what the shear stiffness is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchmarks.problems import EXACT_LAMINATES, SHEAR, Array, four_plies, unit_square
from benchmarks.section import Options, Row, Table
from splitterfem.fem.textbook import Plate
from splitterfem.textbook.plates import CENTRE

CELLS = 8


@dataclass(frozen=True)
class FiveSixths:
    """A laminate whose shear stiffness is 5/6 of that of its plies side by side, the habit for homogeneous plates."""

    A: Array
    B: Array
    D: Array
    S: Array


def habit(thickness: float) -> FiveSixths:
    """Return 0/90/90/0 with that shear stiffness."""
    given = four_plies(thickness)
    mean = 0.5 * (SHEAR[0] + SHEAR[1])
    return FiveSixths(given.A, given.B, given.D, 5.0 / 6.0 * thickness * mean * np.eye(2))


def deflection(stiffness: object, thickness: float) -> float:
    """Deflection 100 E_T t^3 w / (q a^4) of the middle under one wave of pressure."""
    plate = Plate(*unit_square(CELLS), stiffness, edge="hard")  # type: ignore[arg-type]
    found = plate.solve_pressure(lambda x, y: np.sin(np.pi * x) * np.sin(np.pi * y))
    return 100.0 * thickness**3 * float(plate.deflection(found, CENTRE)[0])


def measure(options: Options) -> list[Table]:
    """Return one table."""
    rows: list[Row] = []
    for ratio, solid, first_order in EXACT_LAMINATES:
        t = 1.0 / ratio
        ours, by_habit = deflection(four_plies(t), t), deflection(habit(t), t)
        rows.append(
            {
                "layup": "0/90/90/0",
                "side / thickness": ratio,
                "exact": solid,
                "this project": ours,
                "off exact, %": 100.0 * (ours / solid - 1.0),
                "of that the element, %": 100.0 * (ours / first_order - 1.0),
                "with 5/6 instead, off exact, %": 100.0 * (by_habit / solid - 1.0),
                "unit": "q a^4 / (100 E_T t^3)",
                "source": "Pagano 1970, three-dimensional elasticity",
            }
        )
    note = (
        "What a laminate is off is first-order theory and not the element; much hangs on the shear stiffness, which "
        "the library takes from the layup."
    )
    return [Table("Laminate against three-dimensional elasticity", rows, (note,))]
