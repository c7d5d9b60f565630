"""The reference cases as plates with ribs, for comparison with the three-dimensional solids."""

from __future__ import annotations

from typing import Any

import numpy as np
from solid_cases import MATERIALS, Case

from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.ribs import rib_contributions
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.textbook import Homogeneous
from splitterfem.materials import AngleSection, BarMaterial, TubeSection
from splitterfem.model.assembly import rib_parts


def grid(xs, ys):
    """Mesh of four triangles a cell over the product of two sets of lines."""
    nx, ny = len(xs), len(ys)
    X, Y = np.meshgrid(xs, ys, indexing="ij")
    corners = np.vstack([X.ravel(), Y.ravel()])
    number = np.arange(nx * ny).reshape(nx, ny)
    a, b, c, d = (
        number[:-1, :-1].ravel(),
        number[1:, :-1].ravel(),
        number[1:, 1:].ravel(),
        number[:-1, 1:].ravel(),
    )
    middle = corners[:, np.vstack([a, b, c, d])].mean(axis=1)
    m = nx * ny + np.arange(len(a))
    triangles = np.hstack([np.vstack([p, q, m]) for p, q in ((a, b), (b, c), (c, d), (d, a))])
    return np.hstack([corners, middle]), triangles


def lines(low, high, size, breaks, *, finest):
    """Lines between ``low`` and ``high`` that include the breaks and close up to ``finest`` around them."""
    stops = np.unique([low, high, *(b for b in breaks if low < b < high)])

    def wanted(at):
        return min(size, finest + 0.35 * min(abs(at - b) for b in breaks)) if breaks else size

    parts = []
    for p, q in zip(stops[:-1], stops[1:], strict=True):
        at, found = p, [p]
        while at < q:
            at += wanted(at + 0.5 * wanted(at))
            found.append(at)
        parts.append(p + (np.array(found[:-1]) - p) * (q - p) / (found[-1] - p))
    return np.concatenate([*parts, [high]])


def laminate(case: Case):
    data: dict[str, Any] = MATERIALS[case.material]
    if isinstance(data["E"], tuple):
        (E1, E2, _), (nu12, _, _), (G12, G13, G23) = data["E"], data["nu"], data["G"]
        return Homogeneous(case.thickness, E1=E1, E2=E2, nu12=nu12, G12=G12, G13=G13, G23=G23)
    return Homogeneous(case.thickness, E1=data["E"], nu12=data["nu"])


class _Rib:
    """What the rib split asks of a design's rib."""

    def __init__(self, rib):
        course = [(s, rib.centre) if rib.along == "x" else (rib.centre, s) for s in rib.span]
        self.name, self.points, self.side = rib.name, course, "below"
        # The upright stands at the edge of greatest transverse coordinate: left of +x, right of +y.
        self.flip = rib.along == "y"


def parts_of(case: Case, rib):
    section = (
        TubeSection(width=rib.side, height=rib.side, wall=rib.wall)
        if rib.section == "tube"
        else AngleSection(foot=rib.side, upright=rib.side, wall=rib.wall)
    )
    metal = BarMaterial(
        name="aluminium", E=69e9, nu=0.33, density=2700.0, source="reference case", basis="user"
    )
    return rib_parts(_Rib(rib), metal, section.properties(), case.thickness)


def solve(case: Case, size: float) -> tuple[dict[str, float], Structure]:
    """Deflection w (m) at the case's points with plate elements of about ``size`` (m)."""
    half = case.width / 2
    x_breaks = [edge for edge, _, _ in case.clamps] if case.ribs or len(case.clamps) > 1 else []
    y_breaks = [y for _, *ends in case.clamps for y in ends if abs(y) < half]
    for rib in case.ribs:
        across, lengthwise = (y_breaks, x_breaks) if rib.along == "x" else (x_breaks, y_breaks)
        across += [rib.centre - rib.side / 2, rib.centre, rib.centre + rib.side / 2]
        lengthwise += rib.span
    xs = lines(0.0, case.length, size, x_breaks, finest=size / 8)
    ys = lines(-half, half, size, y_breaks, finest=size / 8)
    panel = Panel(PanelSpace(*grid(xs, ys)), generalised_stiffness(laminate(case)))
    locator = Locator(panel.space)
    matrices = panel.element_matrices.copy()
    for rib in case.ribs:
        for contribution in rib_contributions(panel, locator, parts_of(case, rib)):
            contribution.add_to(matrices)
    x, y = panel.space.node_points
    held = np.zeros(len(x), dtype=bool)
    for edge, low, high in case.clamps:
        held |= (np.abs(x - edge) < 1e-9) & (y > low - 1e-9) & (y < high + 1e-9)
    fixed = panel.space.dofs_of(np.flatnonzero(held), COMPONENTS)
    structure = Structure(panel, element_matrices=matrices, fixed=fixed)
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, case.pressure)))
    at = np.array(list(case.points.values())).T
    w = displacements(panel, response.x, locator.find(at, reach=1e-6), at)[:, 2]
    return dict(zip(case.points, w.tolist(), strict=True)), structure
