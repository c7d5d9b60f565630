"""Plates with known answers, as every formulation of the comparison is given them: mesh, edges, stiffness, load.

The published values are those of `splitterfem.textbook`, but for the laminate, whose source stands beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.panel import Laminate
from splitterfem.fem.structured import rectangle_mesh, rhombus_mesh
from splitterfem.fem.textbook import Edge, Homogeneous
from splitterfem.materials import Ply, SheetMaterial, laminate
from splitterfem.textbook import plates

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mesh = tuple[Array, Index]


@dataclass(frozen=True)
class Problem:
    """A plate under pressure, of which one deflection is known.

    Attributes
    ----------
    name, unit, source : str
    exact : float
        Deflection at ``at``, in ``unit``.
    known : float
        How much of it the source leaves open, over the value: half a unit of its last digit.
    stiffness : Laminate
    mesh : callable
        From a number of divisions to vertices (2, nv) and triangles (3, nt).
    at : tuple of float
        In m.
    scale : float
        Deflection in m times this is in ``unit``.
    edge : str
        "clamped", "hard", "soft" or "free", see `splitterfem.fem.textbook.Plate`.
    on_corners : bool
        Whether the corners of a unit square are held.
    wave : bool
        Whether the pressure is sin(pi x) sin(pi y); 1 Pa everywhere when not.
    smooth : bool
        Whether it is a square with a solution without singular corners or boundary layers.
    """

    name: str
    unit: str
    source: str
    exact: float
    known: float
    stiffness: Laminate
    mesh: Callable[[int], Mesh]
    at: tuple[float, float] = (0.5, 0.5)
    scale: float = 1.0
    edge: Edge = "clamped"
    on_corners: bool = False
    wave: bool = False
    smooth: bool = False

    def error(self, deflection: float) -> float:
        """Error over the exact value of a deflection in m."""
        return deflection * self.scale / self.exact - 1.0


def unit_square(cells: int) -> Mesh:
    """Even mesh."""
    return rectangle_mesh(1.0, 1.0, cells, cells)


def closed_up(cells: int) -> Mesh:
    """Mesh that closes up to the edges, where soft supports have a layer as wide as the plate is thick."""
    points, triangles = unit_square(cells)
    return 0.5 * (1.0 - np.cos(np.pi * points)), triangles


def rhombus(cells: int) -> Mesh:
    """Rhombus of 30 degrees, closing up to its obtuse corners."""
    return rhombus_mesh(1.0, np.pi / 6.0, cells, grade_to_obtuse=True)


def plywood_mesh(cells: int) -> Mesh:
    """Mesh of the panel of 800 x 500 mm."""
    return rectangle_mesh(*plates.PANELS[0], cells, cells)


def squares() -> list[Problem]:
    """Thin and thick squares on their edges."""
    words = {"clamped": "clamped", "hard": "hard supports", "soft": "soft supports"}
    source = "Reissner-Mindlin, converged spectral elements; thin limit Timoshenko & Woinowsky-Krieger 1959"
    return [
        Problem(
            f"square, {words[edge]}, t/L = {t:g}",
            plates.LOAD,
            source,
            exact,
            5e-9 / exact,
            Homogeneous(t),
            closed_up if edge == "soft" else unit_square,
            scale=plates.bending_stiffness(t),
            edge=edge,
            smooth=edge != "soft",
        )
        for edge, t, exact, _ in plates.SQUARES
        if (edge, t) != ("soft", 0.001) and t < 0.2
    ]


def others() -> list[Problem]:
    """Skew plate, plate on its corners, plywood panel, laminate."""
    skew = next(row for row in plates.SKEWS if row[:2] == ("hard", 0.01))
    series, (a, b) = plates.navier(*plates.PANELS[0]), plates.PANELS[0]
    return [
        Problem(
            "rhombus of 30 degrees, hard supports, t/L = 0.01",
            plates.LOAD,
            skew[4],
            skew[2],
            1e-5,
            Homogeneous(0.01),
            rhombus,
            at=plates.SKEW_CENTRE,
            scale=plates.bending_stiffness(0.01),
            edge="hard",
        ),
        Problem(
            "square on four corners, t/L = 0.0001",
            plates.LOAD,
            f"{plates.TIMOSHENKO}, art. 47",
            0.0255065,
            2e-6,
            Homogeneous(1e-4),
            unit_square,
            scale=plates.bending_stiffness(1e-4),
            edge="free",
            on_corners=True,
        ),
        Problem(
            "plywood 800 x 500 x 12 mm, hard supports",
            "m",
            "Whitney & Pagano 1970, series",
            series,
            1e-7,
            plates.PLYWOOD,
            plywood_mesh,
            at=(0.5 * a, 0.5 * b),
            edge="hard",
            smooth=True,
        ),
        laminated(),
    ]


SHEAR = (0.5, 0.2)
"""G13 and G23 of the lamina, over E_T."""

LAMINA = SheetMaterial(
    name="lamina",
    kind="orthotropic",
    E1=25.0,
    E2=1.0,
    nu12=0.25,
    G12=0.5,
    G13=SHEAR[0],
    G23=SHEAR[1],
    density=1.0,
)
"""Pagano, J. Compos. Mater. 4 (1970) 20-34, in moduli across the fibres."""

EXACT_LAMINATES = (
    (4, 1.936715, 2.088946),
    (10, 0.736979, 0.744749),
    (20, 0.512951, 0.513829),
    (100, 0.434599, 0.434618),
)
"""Side over thickness of a square 0/90/90/0 on hard supports under one wave of pressure, and its deflection
100 E_T t^3 w / (q a^4): exact by three-dimensional elasticity (Pagano 1970), and by first-order theory with the shear
stiffness of Whitney (1973); both recomputed."""


def four_plies(thickness: float) -> Laminate:
    """Stiffness of 0/90/90/0, with the shear stiffness that the library gives it."""
    return laminate(
        [
            Ply(material=LAMINA, thickness=thickness / 4, angle=angle)
            for angle in (0.0, np.pi / 2, np.pi / 2, 0.0)
        ]
    )


def laminated() -> Problem:
    """Return the laminate of a tenth of its side."""
    ratio, _, first_order = EXACT_LAMINATES[1]
    return Problem(
        "laminate 0/90/90/0, hard supports, t/L = 0.1",
        "q a^4 / (100 E_T t^3)",
        "first-order theory, shear stiffness of Whitney 1973, series",
        first_order,
        1e-6,
        four_plies(1.0 / ratio),
        unit_square,
        scale=100.0 / ratio**3,
        edge="hard",
        wave=True,
        smooth=True,
    )


def all_problems() -> list[Problem]:
    """All plates of the comparison."""
    return [*squares(), *others()]
