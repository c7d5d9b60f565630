"""Panel, ribs and supports of a design as operators on a mesh."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal, TypeVar

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Bolt, Pad, Part, Pin, RearPocket, Rib, Splitter, Strut
from splitterfem.fem.locate import Locator
from splitterfem.fem.meshing import EmbeddedLine, PlateMesh, Refinement, Region, mesh_region
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.restraint import Restraint, held_directions, mean_rows, pad_samples, pocket, strut
from splitterfem.fem.ribs import (
    BeamLine,
    FootLayer,
    RibOperators,
    RibParts,
    TorsionCell,
    offset_polyline,
    rib_operators,
)
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.materials import BarMaterial, PlateStiffness, SectionProperties
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
P = TypeVar("P", bound=Part)
Kind = Literal["strut", "bolt", "pin", "rear pocket"]

PEAK = 0.2
"""Element size, over the usual size, where forces peak: a rib hands its force over at its ends, a lip at its."""

PAD_CHORD = 0.01
"""Largest distance of a round pad's polygon from its circle, over the radius."""


@dataclass(frozen=True)
class ModelRib:
    """A rib on the panel.

    Attributes
    ----------
    name : str
    design : Rib
    material : BarMaterial
    properties : SectionProperties
    parts : RibParts
        Its lines and foot layer at their heights, in the panel's axes.
    operators : RibOperators
        Strain rows of its parts, and its own unknowns.
    side : int
        +1 above the panel, -1 below.
    face : float
        Height of the panel's face that it stands on, above the mid-surface, in m.
    """

    name: str
    design: Rib
    material: BarMaterial
    properties: SectionProperties
    parts: RibParts
    operators: RibOperators
    side: int
    face: float

    @property
    def length(self) -> float:
        """Length of the rib line in m."""
        return float(np.hypot(*np.diff(self.parts.points, axis=0).T).sum())

    @property
    def mass(self) -> float:
        """In kg."""
        return self.length * self.properties.area * float(self.material.density)

    @property
    def centroid_z(self) -> float:
        """Height of the section's centroid above the panel's mid-surface in m."""
        return self.face + self.side * self.properties.z_c


@dataclass(frozen=True)
class ModelSupport:
    """A support of the panel and its restraints.

    Attributes
    ----------
    name : str
    kind : str
    at : ndarray, shape (3,)
        Where its force acts on the panel, in m; for a rear pocket the middle of the overlap.
    restraints : tuple of Restraint
    directions : ndarray, shape (m, 3)
        Direction of each restraint's measured motion of the panel.
    places : ndarray, shape (m, 3)
        Where each restraint acts, in m.
    """

    name: str
    kind: Kind
    at: Array
    restraints: tuple[Restraint, ...]
    directions: Array
    places: Array


@dataclass(frozen=True)
class Model:
    """A design as operators on a mesh: factorised once, solved for any load case.

    Attributes
    ----------
    design : Splitter
    mesh : PlateMesh
    panel : Panel
    locator : Locator
    sheet : PlateStiffness
    ribs : tuple of ModelRib
    supports : tuple of ModelSupport
    structure : Structure
    seconds : dict of str to float
        Time of each step of the building.
    """

    design: Splitter
    mesh: PlateMesh
    panel: Panel
    locator: Locator
    sheet: PlateStiffness
    ribs: tuple[ModelRib, ...]
    supports: tuple[ModelSupport, ...]
    structure: Structure
    seconds: dict[str, float] = field(default_factory=dict, compare=False)

    @property
    def unknowns(self) -> int:
        """Number of unknowns of the linear system."""
        return len(self.structure.free)


@one_blas_thread()
def build(splitter: Splitter) -> Model:
    """Turn a design into a model.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    Model

    Raises
    ------
    DesignError
        If a part does not lie on the panel or a material is impossible.
    MeshError
        If the mesh does not come out as the design has it.
    MechanismError
        If the supports cannot hold the panel.
    """
    seconds: dict[str, float] = {}
    start = time.perf_counter()
    mesh = mesh_design(splitter)
    seconds["mesh"] = time.perf_counter() - start
    start = time.perf_counter()
    sheet = splitter.panel.sheet
    stiffness = sheet.resolved.stiffness(float(sheet.thickness), float(sheet.grain_angle))
    panel = Panel(PanelSpace(mesh.points, mesh.triangles), generalised_stiffness(stiffness))
    seconds["panel"] = time.perf_counter() - start
    start = time.perf_counter()
    locator = Locator(panel.space)
    ribs = tuple(_ribs(panel, locator, splitter, stiffness.thickness))
    seconds["ribs"] = time.perf_counter() - start
    start = time.perf_counter()
    supports = tuple(_supports(panel, locator, splitter))
    seconds["supports"] = time.perf_counter() - start
    restraints = tuple(r for support in supports for r in support.restraints)
    structure = Structure(
        panel,
        restraints,
        contributions=tuple(part for rib in ribs for part in rib.operators.contributions),
        n_extra=sum(rib.operators.n_extra for rib in ribs),
    )
    seconds["assembly"] = structure.seconds["assembly"]
    seconds["factorisation"] = structure.seconds["factorisation"]
    seconds["supports"] += structure.seconds["supports"]
    return Model(splitter, mesh, panel, locator, stiffness, ribs, supports, structure, seconds)


def written_out(parts: tuple[P, ...]) -> tuple[P, ...]:
    """Parts with every mirrored pair as two."""
    return tuple(side for part in parts for side in part.sides())


def mesh_design(design: Splitter) -> PlateMesh:
    """Mesh a design's panel: ribs as embedded lines, finer at pads, cut-out corners and ribs.

    Parameters
    ----------
    design : Splitter
    """
    settings = design.mesh
    size = float(settings.size)
    holes = design.panel.holes()
    region = Region(
        design.panel.outline.loop(), tuple(loop for _, loop in holes), tuple(name for name, _ in holes)
    )
    lines = tuple(
        EmbeddedLine(rib.name, np.array(rib.points, dtype=float)) for rib in written_out(design.ribs)
    )
    pad_size = None if settings.pad_size is None else float(settings.pad_size)
    refinements = tuple(_refinement(*place, size=size, pad_size=pad_size) for place in _pads(design))
    refinements += tuple(Refinement(x, y, radius, PEAK * size) for x, y, radius in _peaks(design))
    return mesh_region(
        region,
        size=size,
        lines=lines,
        refinements=refinements,
        corner_size=0.5 * size,
        line_size=_line_size(design),
        chord=float(settings.chord),
    )


def _line_size(design: Splitter) -> float:
    """Element size along ribs in m: half a foot's width, or half the usual size where that is less.

    Compared with three-dimensional solids, sag comes within 2 % of the largest one so, and no better with
    smaller elements.
    """
    feet = [rib.section.properties().foot_width for rib in design.ribs]
    return 0.5 * min([float(design.mesh.size), *feet])


def _peaks(design: Splitter) -> list[tuple[float, float, float]]:
    """Places where forces peak, with a radius in m: ends of ribs, and the corners of rear pockets."""
    found = []
    for rib in written_out(design.ribs):
        reach = 0.5 * rib.section.properties().foot_width
        found += [(float(x), float(y), reach) for x, y in (rib.points[0], rib.points[-1])]
    for part in written_out(design.pockets):
        x0, y0, x1, y1 = part.bounds
        found += [(x, y, 0.1 * (y1 - y0)) for x in (x0, x1) for y in (y0, y1)]
    return found


def _pads(design: Splitter) -> list[tuple[float, float, float]]:
    """Centre and radius of every pad of a support or of a force."""
    pads = [(part.foot, part.pad) for part in written_out(design.struts)]
    pads += [(part.at, part.pad) for part in written_out(design.bolts)]
    pads += [(part.at, part.pad) for part in written_out(design.pins)]
    return [(float(x), float(y), pad_radius(pad)) for (x, y), pad in pads]


def _refinement(x: float, y: float, radius: float, *, size: float, pad_size: float | None) -> Refinement:
    wanted = max(min(0.5 * size, radius), 0.2 * size) if pad_size is None else pad_size
    return Refinement(x, y, radius, wanted)


def pad_radius(pad: Pad) -> float:
    """Radius of the circle around a pad in m."""
    if pad.diameter is not None:
        return 0.5 * float(pad.diameter)
    return 0.5 * float(np.hypot(pad.length or 0.0, pad.width or 0.0))


def pad_polygon(pad: Pad, at: tuple[float, float]) -> shapely.Polygon:
    """Area of a pad in plan, centred at a point in m, blown up to its true area where it is round."""
    polygon = curves.polygon(pad.loop(at), PAD_CHORD * pad_radius(pad))
    grow = float(np.sqrt(pad.area / polygon.area))
    return shapely.affinity.scale(polygon, grow, grow, origin=at)


def rib_parts(rib: Rib, material: BarMaterial, properties: SectionProperties, thickness: float) -> RibParts:
    """Split a rib into its foot layer and the lines under its webs, at their heights above the mid-surface."""
    points = np.array(rib.points, dtype=float)
    side = 1.0 if rib.side == "above" else -1.0
    face = side * 0.5 * thickness
    E, G, density = float(material.E), float(material.G), float(material.density)
    mirror = -1.0 if rib.flip else 1.0
    lines = tuple(
        BeamLine(
            points=offset_polyline(points, mirror * web.offset),
            z=face + side * web.centroid_height,
            EA=E * web.area,
            EI=E * web.I,
            GJ=G * web.J,
            GAs=G * web.shear_area,
            mass=density * web.area,
        )
        for web in properties.webs
    )
    t_foot = properties.foot_thickness
    foot = FootLayer(
        points=points,
        width=properties.foot_width,
        thickness=t_foot,
        z=face + side * 0.5 * t_foot,
        E=E,
        G=G,
        mass=density * t_foot,
    )
    return RibParts(rib.name, points, lines, (foot,), _cells(points, properties, G=G, side=side, face=face))


def _cells(
    points: Array, properties: SectionProperties, *, G: float, side: float, face: float
) -> tuple[TorsionCell, ...]:
    """Halves of the section's torsion cell along both edges of its foot; none for an open section."""
    cell = properties.cell
    if cell is None:
        return ()
    z = face + side * 0.5 * cell.foot_thickness
    return tuple(
        TorsionCell(offset_polyline(points, offset), z, cell.area, side * cell.foot, 0.5 * G / cell.rest)
        for offset in (0.5 * cell.foot, -0.5 * cell.foot)
    )


def _ribs(panel: Panel, locator: Locator, splitter: Splitter, thickness: float) -> Iterator[ModelRib]:
    first = 0
    for rib in written_out(splitter.ribs):
        yield (made := _rib(panel, locator, rib, thickness, first))
        first += made.operators.n_extra


def _rib(panel: Panel, locator: Locator, rib: Rib, thickness: float, first_extra: int) -> ModelRib:
    material, properties = rib.resolved, rib.section.properties()
    parts = rib_parts(rib, material, properties, thickness)
    operators = rib_operators(panel, locator, parts, first_extra=first_extra)
    side = 1 if rib.side == "above" else -1
    return ModelRib(rib.name, rib, material, properties, parts, operators, side, side * 0.5 * thickness)


def _supports(panel: Panel, locator: Locator, design: Splitter) -> list[ModelSupport]:
    return [
        *(_strut(panel, locator, part) for part in written_out(design.struts)),
        *(_fixing(panel, locator, part) for part in written_out(design.bolts)),
        *(_fixing(panel, locator, part) for part in written_out(design.pins)),
        *(_pocket(panel, locator, part) for part in written_out(design.pockets)),
    ]


def _strut(panel: Panel, locator: Locator, part: Strut) -> ModelSupport:
    samples = pad_samples(locator, pad_polygon(part.pad, part.foot), name=f"strut {part.name}")
    eye = np.array([*part.foot, part.bracket_height], dtype=float)
    reach = np.asarray(part.head, dtype=float) - eye
    direction = reach / np.linalg.norm(reach)
    restraint = strut(
        mean_rows(panel, samples),
        direction,
        support=part.name,
        bracket_height=float(part.bracket_height),
        stiffness=strut_stiffness(part),
        preload=float(part.preload),
        slack=float(part.slack),
        tension_only=part.tension_only,
    )
    return ModelSupport(part.name, "strut", eye, (restraint,), -direction[None], eye[None])


def _fixing(panel: Panel, locator: Locator, part: Bolt | Pin) -> ModelSupport:
    kind: Kind = "bolt" if isinstance(part, Bolt) else "pin"
    rows = mean_rows(panel, pad_samples(locator, pad_polygon(part.pad, part.at), name=f"{kind} {part.name}"))
    directions = held_by(part)
    restraints = held_directions(rows, directions, support=part.name)
    at = np.array([*part.at, 0.0], dtype=float)
    unit = np.array(list(directions.values()), dtype=float)
    return ModelSupport(part.name, kind, at, tuple(restraints), unit, np.tile(at, (len(unit), 1)))


def strut_stiffness(part: Strut) -> float:
    """Stiffness of a strut along itself in N/m: E A / L or as given, in series with its end fittings."""
    bar = part.stiffness
    if bar is None:
        bar = float(part.modulus) * float(part.section_area or 0.0) / part.length
    return (
        float(bar)
        if part.end_stiffness is None
        else 1.0 / (1.0 / float(bar) + 1.0 / float(part.end_stiffness))
    )


def held_by(part: Bolt | Pin) -> dict[str, tuple[float, float, float]]:
    """Unit directions that a bolt or pin holds; a slot leaves only the direction across it in the plane."""
    unit = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
    slot = getattr(part, "slot", None)
    if slot is None:
        return {letter: unit[letter] for letter in part.holds}
    across = {"across slot": (-float(np.sin(slot)), float(np.cos(slot)), 0.0)}
    return across | ({"z": unit["z"]} if "z" in part.holds else {})


def _pocket(panel: Panel, locator: Locator, part: RearPocket) -> ModelSupport:
    mouth = (float(part.mouth[0]), float(part.mouth[1]))
    lips = pocket(
        panel,
        locator,
        support=part.name,
        mouth=mouth,
        width=float(part.width),
        overlap=float(part.overlap),
        clearance_up=float(part.clearance_up),
        clearance_down=float(part.clearance_down),
    )
    middle = np.array([mouth[0] - 0.5 * float(part.overlap), mouth[1], 0.0])
    places = np.array([[*lip.place, 0.0] for lip in lips])
    return ModelSupport(
        part.name, "rear pocket", middle, tuple(lips), np.tile([0.0, 0.0, 1.0], (len(lips), 1)), places
    )
