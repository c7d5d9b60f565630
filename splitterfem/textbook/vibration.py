"""Natural frequencies of squares.

Sources
-------
Leissa, Vibration of Plates, NASA SP-160, 1969 (values from memory [M], but for the closed form of the supported
square); Dawe & Roufaeil, J. Sound Vib. 69 (1980) 345-359 (thick squares, from memory [M]).
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.mass import SheetMass, mass_matrix
from splitterfem.fem.modes import vibration
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Edge, Homogeneous, Plate
from splitterfem.textbook.case import Case
from splitterfem.textbook.plates import NU, THIN, sides

EDGES: dict[str, Edge] = {"hard": "hard", "clamped": "clamped"}


@cache
def frequencies(
    edge: str, thickness: float, count: int, shear_factor: float = 5.0 / 6.0
) -> NDArray[np.float64]:
    """Angular frequencies of the unit square of unit modulus and density; ``edge`` may be "cantilever"."""
    where = EDGES.get(edge) or sides(("clamped", "free", "free", "free"))
    laminate = Homogeneous(thickness, shear_factor=shear_factor)
    plate = Plate(*rectangle_mesh(1.0, 1.0, 10, 10), laminate, edge=where)
    turn = plate.turn
    stiffness = sp.csc_array(turn.T @ plate.panel.matrix @ turn)
    mass = sp.csc_array(
        turn.T @ mass_matrix(plate.panel, SheetMass.uniform(plate.panel, 1.0, thickness)) @ turn
    )
    found = vibration(stiffness, mass, plate.free, count, shift=3.0 * thickness**2)
    return np.sqrt(np.maximum(found.values, 0.0))


def thin_frequency(edge: str, number: int, count: int) -> float:
    """Frequency of a thin square as ``omega a^2 sqrt(rho t / D)``."""
    return float(frequencies(edge, THIN, count)[number]) * float(np.sqrt(12.0 * (1.0 - NU**2))) / THIN


def thick_frequency(edge: str, number: int, count: int, shear_factor: float) -> float:
    """Frequency of a square of a tenth of its side as ``omega a sqrt(rho / G)``."""
    found = float(frequencies(edge, 0.1, count, shear_factor)[number])
    return found * float(np.sqrt(2.0 * (1.0 + NU)))


def cases() -> list[Case]:
    """All natural frequencies."""
    unit, leissa = "omega a^2 sqrt(rho t / D)", "Leissa 1969 [M]"
    thin = (
        ("hard", (19.739, 49.348), "closed form, (m^2 + n^2) pi^2"),
        ("clamped", (35.985, 73.394), leissa),
        ("cantilever", (3.471, 8.507, 21.285), leissa),
    )
    words = {
        "hard": "square, hard edges",
        "clamped": "square, clamped edges",
        "cantilever": "square cantilever",
    }
    found = [
        Case("vibration", f"{words[edge]}, a/t = 1000, mode {number + 1}", unit, value, 1.5e-3, source,
             partial(thin_frequency, edge, number, len(values)))
        for edge, values, source in thin
        for number, value in enumerate(values)
    ]  # fmt: skip
    thick = (("hard", 5.0 / 6.0, 0.930, 1e-3), ("clamped", 0.8601, 1.594, 3e-3))
    found += [
        Case("vibration", f"{words[edge]}, a/t = 10, mode 1", "omega a sqrt(rho / G)", value, within,
             "Dawe & Roufaeil 1980 [M]", partial(thick_frequency, edge, 0, 3, factor))
        for edge, factor, value, within in thick
    ]  # fmt: skip
    return found
