"""Plates with ribs: a T-section, one rib in the middle, two that cross.

Sources
-------
The transformed section of beam theory; Rossow & Ibrahimkhail, Computers & Structures 8 (1978) 51-60, whose plates with
ribs were solved anew by Ritz and Fourier series until the digits stood.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import BeamLine, RibParts
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.textbook.case import Case

Array = NDArray[np.float64]
Index = NDArray[np.int64]

ROSSOW = "Rossow & Ibrahimkhail 1978, converged Ritz and Fourier solution"
STIFF = 1e2
"""Shear stiffness over what it really is: the sources know no shear lag."""


def solid_rib(
    points: Sequence[Sequence[float]], width: float, depth: float, modulus: float, thickness: float
) -> BeamLine:
    """Solid rectangular rib on a plate of some thickness, as one line; shear-rigid and without torsion."""
    area = width * depth
    return BeamLine(
        points=np.array(points, dtype=float),
        z=0.5 * (thickness + depth),
        EA=modulus * area,
        EI=modulus * width * depth**3 / 12.0,
        GJ=0.0,
        GAs=STIFF * modulus * area,
    )


def with_ribs(
    mesh: tuple[Array, Index], laminate: Homogeneous, lines: Sequence[BeamLine]
) -> tuple[Panel, tuple[Contribution, ...]]:
    """Plate with its ribs."""
    panel = Panel(PanelSpace(*mesh), generalised_stiffness(laminate))
    locator = Locator(panel.space)
    ribs = [rib_operators(panel, locator, RibParts("rib", line.points, (line,), ())) for line in lines]
    return panel, tuple(part for rib in ribs for part in rib.contributions)


def sag(panel: Panel, unknowns: Array, at: tuple[float, float]) -> float:
    """Sag at a point in m."""
    place = np.array(at, dtype=float)[:, None]
    found = displacements(panel, unknowns, Locator(panel.space).find(place, reach=1e-6), place)
    return -float(found[0, 2])


def strip_ends(panel: Panel, length: float, width: float) -> Index:
    """Unknowns that are zero in a strip which bends as a beam on two supports."""
    space = panel.space
    x, y = space.node_points
    ends = np.flatnonzero((x < 1e-9) | (x > length - 1e-9))
    middle = np.flatnonzero((np.abs(x - 0.5 * length) < 1e-9) & (np.abs(y - 0.5 * width) < 1e-9))
    held = (
        space.dofs_of(ends, "w"),
        space.dofs_of(np.arange(space.n_nodes), ("v", "phi_y")),
        space.dofs_of(middle, "u"),
    )
    return np.unique(np.concatenate(held)).astype(np.int64)


def t_section() -> float:
    """Sag in m of a T: flange 100 x 10 mm, web 10 x 40 mm, E = 10 GPa, 1 m between supports, 100 N/m."""
    length, width, thickness, modulus = 1.0, 0.1, 0.01, 10e9
    much = STIFF * modulus
    laminate = Homogeneous(thickness, E1=modulus, nu12=0.0, G12=much, G13=much, G23=much)
    middle = 0.5 * width
    rib = solid_rib([[0.0, middle], [length, middle]], 0.01, 0.04, modulus, thickness)
    panel, parts = with_ribs(rectangle_mesh(length, width, 20, 2), laminate, [rib])
    structure = Structure(panel, contributions=parts, fixed=strip_ends(panel, length, width))
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, 100.0 / width)))
    return sag(panel, response.x, (0.5 * length, middle))


def t_section_by_theory() -> float:
    """Sag 5 q L^4 / (384 E I) with I of the transformed section."""
    flange, web = 0.1 * 0.01, 0.01 * 0.04
    centre = web * 0.025 / (flange + web)
    inertia = 0.1 * 0.01**3 / 12.0 + flange * centre**2 + 0.01 * 0.04**3 / 12.0 + web * (0.025 - centre) ** 2
    return 5.0 * 100.0 / (384.0 * 10e9 * inertia)


def ribbed_plate(
    size: tuple[float, float],
    thickness: float,
    modulus: float,
    pressure: float,
    *,
    cells: tuple[int, int],
    ribs: Sequence[BeamLine] = (),
) -> float:
    """Sag in m in the middle of a plate with ribs on supports that hold it along the edge and let it draw in."""
    a, b = size
    panel, parts = with_ribs(rectangle_mesh(a, b, *cells), Homogeneous(thickness, E1=modulus), ribs)
    space = panel.space
    x, y = space.node_points
    across = np.flatnonzero((x < 1e-9 * a) | (x > a * (1.0 - 1e-9)))
    along = np.flatnonzero((y < 1e-9 * b) | (y > b * (1.0 - 1e-9)))
    held = (space.dofs_of(across, ("w", "v", "phi_y")), space.dofs_of(along, ("w", "u", "phi_x")))
    structure = Structure(panel, contributions=parts, fixed=np.unique(np.concatenate(held)))
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, pressure)))
    return sag(panel, response.x, (0.5 * a, 0.5 * b))


def small_square(*, ribbed: bool) -> float:
    """Sag of a square of 25.4 mm, 0.254 mm thick, with or without a rib 2.54 mm deep, its line between mesh lines."""
    a, thickness, modulus = 25.4e-3, 0.254e-3, 117.2109e9
    rib = solid_rib([[0.0, 0.5 * a], [a, 0.5 * a]], 0.254e-3, 2.54e-3, modulus, thickness)
    ribs = [rib] if ribbed else []
    return ribbed_plate((a, a), thickness, modulus, 6894.757, cells=(15, 15), ribs=ribs)


def crossing(depths: tuple[float, float]) -> float:
    """Sag of a plate of 1524 x 762 mm, 6.35 mm thick, with one rib along and one across, 12.7 mm wide."""
    a, b, thickness, modulus = 1.524, 0.762, 6.35e-3, 206.8427e9
    ribs = [
        solid_rib([[0.0, 0.5 * b], [a, 0.5 * b]], 12.7e-3, depths[0], modulus, thickness),
        solid_rib([[0.5 * a, 0.0], [0.5 * a, b]], 12.7e-3, depths[1], modulus, thickness),
    ]
    return ribbed_plate((a, b), thickness, modulus, 68947.57, cells=(24, 16), ribs=ribs)


def cases() -> list[Case]:
    """All plates with ribs."""
    deep, low = (76.2e-3, 127e-3), (127e-3, 76.2e-3)
    return [
        Case("ribs", "T-section on two supports", "m", t_section_by_theory(), 1e-3, "closed form, transformed section",
             t_section),
        Case("ribs", "square without a rib", "m", 0.0662804e-3, 6e-3, ROSSOW, lambda: small_square(ribbed=False)),
        Case("ribs", "square with one rib", "m", 0.00347239e-3, 6e-3, ROSSOW, lambda: small_square(ribbed=True)),
        Case("ribs", "crossing ribs, deeper one across", "m", 0.228709e-3, 1e-2, ROSSOW, lambda: crossing(deep)),
        Case("ribs", "crossing ribs, deeper one along", "m", 0.535144e-3, 1e-2, ROSSOW, lambda: crossing(low)),
    ]  # fmt: skip
