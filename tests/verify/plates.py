"""The reference cases as plates with ribs, for comparison with the three-dimensional solids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from solid_cases import MATERIALS, Case

from splitterfem.analysis.ribforces import RibForces, rib_forces
from splitterfem.curves import polyline
from splitterfem.design import Rib
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.meshing import EmbeddedLine, Refinement, Region, mesh_region
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Response, Structure
from splitterfem.fem.textbook import Homogeneous
from splitterfem.materials import AngleSection, BarMaterial, TubeSection
from splitterfem.model.ribs import ModelRib, rib_parts


def mesh(case: Case, size: float, line_size: float):
    """Mesh as a design would get it: ribs embedded, finer along them and at the ends of clamped zones."""
    half, length = case.width / 2, case.length
    rear = sorted(
        {-half, half, *(y for edge, *ends in case.clamps for y in ends if edge == 0.0)}, reverse=True
    )
    front = sorted({-half, half, *(y for edge, *ends in case.clamps for y in ends if edge == length)})
    outline = [(0.0, y) for y in rear] + [(length, y) for y in front]
    corners = [(edge, y) for edge, *ends in case.clamps for y in ends if case.ribs or abs(y) < half]
    found = [Refinement(x, y, 0.01, 0.2 * size) for x, y in corners]
    for rib in case.ribs:
        found += [Refinement(x, y, 0.5 * rib.side, 0.2 * size) for x, y in course(rib)]
    return mesh_region(
        Region(polyline(outline), (), ()),
        size=size,
        lines=tuple(EmbeddedLine(rib.name, np.array(course(rib))) for rib in case.ribs),
        refinements=tuple(found),
        line_size=line_size,
    )


def course(rib):
    """Ends of a rib's line in plan."""
    return [(s, rib.centre) if rib.along == "x" else (rib.centre, s) for s in rib.span]


def laminate(case: Case):
    data: dict[str, Any] = MATERIALS[case.material]
    if isinstance(data["E"], tuple):
        (E1, E2, _), (nu12, _, _), (G12, G13, G23) = data["E"], data["nu"], data["G"]
        return Homogeneous(case.thickness, E1=E1, E2=E2, nu12=nu12, G12=G12, G13=G13, G23=G23)
    return Homogeneous(case.thickness, E1=data["E"], nu12=data["nu"])


def design_of(rib) -> Rib:
    section = (
        TubeSection(width=rib.side, height=rib.side, wall=rib.wall)
        if rib.section == "tube"
        else AngleSection(foot=rib.side, upright=rib.side, wall=rib.wall)
    )
    metal = BarMaterial(
        name="aluminium", E=69e9, nu=0.33, density=2700.0, source="reference case", basis="user"
    )
    return Rib(
        name=rib.name,
        points=course(rib),
        section=section,
        material=metal,
        side="below",
        # The upright stands at the edge of greatest transverse coordinate: left of +x, right of +y.
        flip=rib.along == "y",
    )


def model_rib(case: Case, rib, panel: Panel, locator: Locator) -> ModelRib:
    made = design_of(rib)
    parts = rib_parts(made, np.array(course(rib)), case.thickness, name=rib.name, joint=None)
    return ModelRib(
        name=rib.name,
        design=made,
        material=made.resolved,
        properties=made.section.properties(),
        parts=parts,
        operators=rib_operators(panel, locator, parts),
        side=-1,
        face=-0.5 * case.thickness,
    )


@dataclass(frozen=True)
class Solved:
    """A case as a plate: enough of a model for sags at points and forces in ribs."""

    case: Case
    panel: Panel
    locator: Locator
    ribs: list[ModelRib]
    structure: Structure
    response: Response

    def sags(self) -> dict[str, float]:
        """Deflection w (m) at the case's points."""
        at = np.array(list(self.case.points.values())).T
        w = displacements(self.panel, self.response.x, self.locator.find(at, reach=1e-6), at)[:, 2]
        return dict(zip(self.case.points, w.tolist(), strict=True))

    def forces(self, number: int = 0) -> RibForces:
        """Forces along one of the case's ribs."""
        return rib_forces(self, self.ribs[number], self.response.x)


def solved(case: Case, size: float, line_size: float) -> Solved:
    """Solve a case with plate elements of about ``size`` (m), and of ``line_size`` along ribs."""
    made = mesh(case, size, line_size)
    panel = Panel(PanelSpace(made.points, made.triangles), generalised_stiffness(laminate(case)))
    locator = Locator(panel.space)
    ribs = [model_rib(case, rib, panel, locator) for rib in case.ribs]
    x, y = panel.space.node_points
    held = np.zeros(len(x), dtype=bool)
    for edge, low, high in case.clamps:
        held |= (np.abs(x - edge) < 1e-9) & (y > low - 1e-9) & (y < high + 1e-9)
    fixed = panel.space.dofs_of(np.flatnonzero(held), COMPONENTS)
    parts = tuple(part for rib in ribs for part in rib.operators.contributions)
    structure = Structure(panel, contributions=parts, fixed=fixed)
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, case.pressure)))
    return Solved(case, panel, locator, ribs, structure, response)
