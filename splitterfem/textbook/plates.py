"""Plates under pressure and forces: squares, discs, a skew plate, a plywood panel.

Sources
-------
Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959; Morley, Skew Plates and Structures, 1963;
Whitney & Pagano, J. Appl. Mech. 37 (1970) 1031-1036.  Digits are those of the same series and Ritz solutions, summed
until they stand, for the tables print three or four; thick squares are converged spectral solutions of Reissner's and
Mindlin's equations, shear factor 5/6.  Poisson's ratio is 0.3.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.structured import disc_mesh, rectangle_mesh, rhombus_mesh
from splitterfem.fem.textbook import Edge, Homogeneous, Plate
from splitterfem.textbook.case import Case

Array = NDArray[np.float64]

NU, THIN = 0.3, 1e-3
CENTRE = np.array([[0.5], [0.5]])
TIMOSHENKO = "Timoshenko & Woinowsky-Krieger 1959"
PLYWOOD = Homogeneous(0.012, E1=10.7e9, E2=6.8e9, nu12=0.05, G12=0.62e9, G13=0.207e9, G23=0.170e9)
"""Stiffness of a birch-like board, grain along x."""


def bending_stiffness(thickness: float) -> float:
    """D of a plate of unit modulus."""
    return thickness**3 / (12.0 * (1.0 - NU**2))


def square(thickness: float, edge: Edge | Callable[[Array], list[Edge]], *, cells: int = 16) -> Plate:
    """Make a unit square of unit modulus; on soft supports the mesh closes up to the edges, where it has a layer."""
    points, triangles = rectangle_mesh(1.0, 1.0, cells, cells)
    if edge == "soft":
        points = 0.5 * (1.0 - np.cos(np.pi * points))
    return Plate(points, triangles, Homogeneous(thickness), edge=edge)


def sides(words: tuple[Edge, Edge, Edge, Edge]) -> Callable[[Array], list[Edge]]:
    """Give the sides x = 0, x = 1, y = 0 and y = 1 of a unit square their words."""

    def edge(middle: Array) -> list[Edge]:
        x, y = middle
        where = np.select([x < 1e-9, x > 1.0 - 1e-9, y < 1e-9], [0, 1, 2], 3)
        return [words[int(side)] for side in where]

    return edge


def deflection(
    thickness: float,
    edge: Edge | Callable[[Array], list[Edge]],
    at: tuple[float, float] = (0.5, 0.5),
    *,
    cells: int = 16,
) -> float:
    """Deflection of the unit square under unit pressure, in q a^4 / D."""
    plate = square(thickness, edge, cells=cells)
    found = plate.deflection(plate.solve_pressure(1.0), np.array(at)[:, None])
    return float(found[0]) * bending_stiffness(thickness)


def moment(edge: Edge | Callable[[Array], list[Edge]], at: tuple[float, float], component: int) -> float:
    """Moment of the thin unit square under unit pressure, in q a^2."""
    plate = square(THIN, edge)
    return float(plate.moment(plate.solve_pressure(1.0), np.array(at)[:, None])[0, component])


def under_a_force(edge: Edge) -> float:
    """Deflection of the thin unit square under a force in its middle, in P a^2 / D."""
    plate = square(THIN, edge)
    found = plate.deflection(plate.solve(plate.load_of_point(np.array([0.5, 0.5]), 1.0)), CENTRE)
    return float(found[0]) * bending_stiffness(THIN)


def corner_plate(thickness: float = THIN, *, cells: int = 16) -> Plate:
    """Make the unit square that stands on its four corners."""
    points, triangles = rectangle_mesh(1.0, 1.0, cells, cells)
    return Plate(points, triangles, Homogeneous(thickness), edge="free", pinned=corners(points))


def corners(points: Array) -> NDArray[np.int64]:
    """Vertices (4,) at the corners of a unit square among those of a mesh (2, n)."""
    places = [(a, b) for a in (0.0, 1.0) for b in (0.0, 1.0)]
    return np.array([np.argmin(np.hypot(points[0] - a, points[1] - b)) for a, b in places], dtype=np.int64)


def on_four_corners(at: tuple[float, float] = (0.5, 0.5)) -> float:
    """Deflection of the thin unit square that stands on its corners, in q a^4 / D."""
    plate = corner_plate()
    found = plate.deflection(plate.solve_pressure(1.0), np.array(at)[:, None])
    return float(found[0]) * bending_stiffness(THIN)


def moment_on_four_corners() -> float:
    """Moment in its middle, in q a^2."""
    plate = corner_plate()
    return float(plate.moment(plate.solve_pressure(1.0), CENTRE)[0, 0])


def disc(thickness: float, edge: Edge) -> float:
    """Deflection in the middle of the unit disc of unit modulus under unit pressure."""
    plate = Plate(*disc_mesh(1.0, 24), Homogeneous(thickness), edge=edge)
    return float(plate.deflection(plate.solve_pressure(1.0), np.zeros((2, 1)))[0])


def disc_scaled(thickness: float, edge: Edge) -> float:
    """Deflection of the same in q R^4 / (E t^3)."""
    return disc(thickness, edge) * thickness**3


def disc_by_theory(thickness: float, edge: Edge) -> float:
    """Return the same in closed form: thin plate (T&WK ch. 3), and the shear term q R^2 / (4 k G t) of Mindlin."""
    shear = 5.0 / 6.0 * thickness / (2.0 * (1.0 + NU))
    factor = 1.0 if edge == "clamped" else (5.0 + NU) / (1.0 + NU)
    return factor / (64.0 * bending_stiffness(thickness)) + 1.0 / (4.0 * shear)


SKEW_CENTRE = (0.5 * (1.0 + np.cos(np.pi / 6.0)), 0.25)
"""Middle of the rhombus."""


def skew(thickness: float = THIN, edge: Edge = "hard") -> float:
    """Deflection in the middle of a rhombus of 30 degrees, in q a^4 / D."""
    mesh = rhombus_mesh(1.0, np.pi / 6.0, 20, grade_to_obtuse=True)
    plate = Plate(*mesh, Homogeneous(thickness), edge=edge)
    found = plate.deflection(plate.solve_pressure(1.0), np.array(SKEW_CENTRE)[:, None])
    return float(found[0]) * bending_stiffness(thickness)


def plywood(a: float, b: float) -> float:
    """Deflection in the middle of a plywood panel on hard supports under 1 Pa, in m."""
    plate = Plate(*rectangle_mesh(a, b, 16, 12), PLYWOOD, edge="hard")
    return float(plate.deflection(plate.solve_pressure(1.0), np.array([[0.5 * a], [0.5 * b]]))[0])


def navier(a: float, b: float, *, terms: int = 120) -> float:
    """Series of Whitney & Pagano (1970) for the same."""
    D, S = PLYWOOD.D, PLYWOOD.S
    total = 0.0
    for m in range(1, terms, 2):
        for n in range(1, terms, 2):
            al, be = m * np.pi / a, n * np.pi / b
            mixed = (D[0, 1] + D[2, 2]) * al * be
            rows = [
                [S[0, 0] * al**2 + S[1, 1] * be**2, -S[0, 0] * al, -S[1, 1] * be],
                [-S[0, 0] * al, D[0, 0] * al**2 + D[2, 2] * be**2 + S[0, 0], mixed],
                [-S[1, 1] * be, mixed, D[2, 2] * al**2 + D[1, 1] * be**2 + S[1, 1]],
            ]
            amplitude = np.linalg.solve(np.array(rows), [16.0 / (np.pi**2 * m * n), 0.0, 0.0])[0]
            total += float(amplitude) * (-1) ** ((m + n) // 2 - 1)
    return total


SQUARES: tuple[tuple[Edge, float, float, float], ...] = (
    ("clamped", 0.001, 0.00126535, 1e-4),
    ("clamped", 0.01, 0.00126786, 1e-4),
    ("clamped", 0.1, 0.00150463, 1e-4),
    ("clamped", 0.2, 0.00217216, 1e-4),
    ("hard", 0.001, 0.00406237, 1e-4),
    ("hard", 0.01, 0.00406446, 1e-4),
    ("hard", 0.1, 0.00427284, 1e-4),
    ("hard", 0.2, 0.00490431, 1e-4),
    ("soft", 0.001, 0.00406585, 8e-4),
    ("soft", 0.01, 0.00409930, 4e-4),
    ("soft", 0.1, 0.00461691, 1e-4),
    ("soft", 0.2, 0.00554504, 1e-4),
)
"""Edge, thickness over side, deflection of the middle in q a^4 / D, and what it may differ by."""

SKEWS: tuple[tuple[Edge, float, float, float, str], ...] = (
    ("hard", 0.001, 4.07852e-4, 4e-3, "Morley 1963, thick by Wang, Reddy & Lee 2000"),
    ("hard", 0.01, 4.08503e-4, 4e-3, "Morley 1963, thick by Wang, Reddy & Lee 2000"),
    ("soft", 0.001, 4.143e-4, 1e-2, "Reissner-Mindlin, converged"),
    ("soft", 0.01, 4.248e-4, 1e-2, "Reissner-Mindlin, converged"),
)
"""The same of the rhombus of 30 degrees, and the source."""

DISCS: tuple[tuple[Edge, float], ...] = (
    *(("clamped", t) for t in (0.01, 0.1, 0.2, 0.4)),
    *(("soft", t) for t in (0.1, 0.2, 0.4)),
)
"""Edge, and thickness over radius.

A thin polygon on soft supports does not tend to the disc (paradox of Babuska & Pitkaranta, SIAM J. Math. Anal. 21
(1990) 551-576), so that edge is looked at where the plate is as thick as a side is long.
"""

PANELS = ((0.8, 0.5), (0.3, 0.2), (1.6, 0.6))
"""Sides of the plywood panels in m."""

LOAD = "q a^4 / D"


def cases() -> list[Case]:
    """All plates under pressure and forces."""
    return [*_squares(), *_on_some_sides(), *_forces_and_moments(), *_other_shapes()]


def _squares() -> list[Case]:
    spectral = "Reissner-Mindlin, converged spectral elements; thin limit T&WK 8, 35"
    return [
        Case("plates", f"square, {edge} edges, a/t = {1.0 / t:.0f}", LOAD, value, within, spectral,
             partial(deflection, t, edge))
        for edge, t, value, within in SQUARES
    ]  # fmt: skip


def _on_some_sides() -> list[Case]:
    two, one = sides(("hard", "hard", "free", "free")), sides(("clamped", "free", "free", "free"))
    four, opposite, ritz = f"{TIMOSHENKO}, art. 47", f"{TIMOSHENKO}, table 47", "converged Ritz solution"
    return [
        Case("plates", "square on four corners", LOAD, 0.0255065, 2e-4, four, on_four_corners),
        Case("plates", "square on four corners, middle of a side", LOAD, 0.0177474, 3e-4, four,
             partial(on_four_corners, (0.5, 0.0))),
        Case("plates", "square on four corners, moment in the middle", "q a^2", 0.111711, 4e-3, four,
             moment_on_four_corners),
        Case("plates", "square on two sides, middle", LOAD, 0.01309368, 3e-4, opposite,
             partial(deflection, THIN, two)),
        Case("plates", "square on two sides, free side", LOAD, 0.01501126, 3e-4, opposite,
             partial(deflection, THIN, two, (0.5, 0.0))),
        Case("plates", "square on two sides, moment along", "q a^2", 0.122545, 5e-3, opposite,
             partial(moment, two, (0.5, 0.5), 0)),
        Case("plates", "square on two sides, moment across", "q a^2", 0.0270781, 5e-3, opposite,
             partial(moment, two, (0.5, 0.5), 1)),
        Case("plates", "square cantilever, middle of free end", LOAD, 0.1290746, 5e-4, ritz,
             partial(deflection, THIN, one, (1.0, 0.5))),
        Case("plates", "square cantilever, corner", LOAD, 0.1272357, 5e-4, ritz,
             partial(deflection, THIN, one, (1.0, 0.0))),
        Case("plates", "square cantilever, middle", LOAD, 0.0458458, 5e-4, ritz,
             partial(deflection, THIN, one)),
    ]  # fmt: skip


def _forces_and_moments() -> list[Case]:
    return [
        Case("plates", "square, hard edges, force in the middle", "P a^2 / D", 0.01160084, 1.5e-3,
             f"{TIMOSHENKO}, table 23", partial(under_a_force, "hard")),
        Case("plates", "square, clamped edges, force in the middle", "P a^2 / D", 0.00561202, 4e-3,
             f"{TIMOSHENKO}, table 37", partial(under_a_force, "clamped")),
        Case("plates", "square, hard edges, moment in the middle", "q a^2", 0.0478864, 3e-3,
             f"{TIMOSHENKO}, table 8", partial(moment, "hard", (0.5, 0.5), 0)),
        Case("plates", "square, clamped edges, moment in the middle", "q a^2", 0.0229051, 6e-3,
             f"{TIMOSHENKO}, table 35", partial(moment, "clamped", (0.5, 0.5), 0)),
        Case("plates", "square, clamped edges, moment at the edge", "q a^2", -0.0513338, 1.2e-2,
             f"{TIMOSHENKO}, table 35", partial(moment, "clamped", (1e-9, 0.5), 0)),
    ]  # fmt: skip


def _other_shapes() -> list[Case]:
    found = [
        Case("plates", f"rhombus of 30 degrees, {edge} edges, a/t = {1.0 / t:.0f}", LOAD, value, within, source,
             partial(skew, t, edge))
        for edge, t, value, within, source in SKEWS
    ]  # fmt: skip
    found += [
        Case("plates", f"plywood {1e3 * a:.0f} x {1e3 * b:.0f} mm, hard edges, 1 Pa", "m", navier(a, b), 2e-4,
             "Whitney & Pagano 1970", partial(plywood, a, b))
        for a, b in PANELS
    ]  # fmt: skip
    found += [
        Case("plates", f"disc, {edge} edge, R/t = {1.0 / t:.3g}", "q R^4 / (E t^3)",
             disc_by_theory(t, edge) * t**3, 4e-3, f"{TIMOSHENKO}, ch. 3, with Mindlin's shear term",
             partial(disc_scaled, t, edge))
        for edge, t in DISCS
    ]  # fmt: skip
    return found
