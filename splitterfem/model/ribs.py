"""Ribs of a design as beam lines, foot layers and torsion cells at their heights."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import Adhesive, Bond, Rib, Sheet, Splitter
from splitterfem.design.crossing import pieces
from splitterfem.errors import DesignError, nearest
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel
from splitterfem.fem.ribrows import RibOperators, rib_operators
from splitterfem.fem.ribs import BeamLine, FootLayer, RibParts, SlipJoint, TorsionCell, offset_polyline
from splitterfem.fem.slip import SlipField, stretched
from splitterfem.materials import BarMaterial, Layup, SectionProperties
from splitterfem.materials.slip import Fastener, slip_modulus
from splitterfem.model.pads import written_out

Array = NDArray[np.float64]


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
    unbonded : bool
        Whether its joint is lost, so that it only bends with the panel.
    """

    name: str
    design: Rib
    material: BarMaterial
    properties: SectionProperties
    parts: RibParts
    operators: RibOperators
    side: int
    face: float
    unbonded: bool = False

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


def model_ribs(
    panel: Panel,
    locator: Locator,
    splitter: Splitter,
    thickness: float,
    *,
    unbonded: frozenset[str] = frozenset(),
    known: Sequence[ModelRib] = (),
    alike: Sequence[ModelRib] = (),
) -> Iterator[ModelRib]:
    """Put the ribs of a design on a panel, mirrored pairs written out and notched ribs cut into their pieces.

    Parameters
    ----------
    panel : Panel
    locator : Locator
    splitter : Splitter
    thickness : float
        Of the panel in m.
    unbonded : frozenset of str
        Names of ribs that only bend with the panel, as when their joint is lost.
    known : sequence of ModelRib
        Ribs on the same panel, taken as they are where the design has the same and their joint is as it is asked for.
    alike : sequence of ModelRib
        Ribs whose cells those of the same name have, stretched with their lines.
    """
    ribs, first = written_out(splitter.ribs), 0
    there = {rib.name: rib for rib in known}
    for lost in sorted(unbonded - {rib.name for rib in ribs}):
        meant = nearest(lost, [rib.name for rib in ribs])
        raise DesignError(f"There is no rib '{lost}' whose joint could be lost; {meant}")
    for rib in ribs:
        stretches = pieces(rib, ribs)
        loose = rib.name in unbonded
        k = 0.0 if loose else joint_stiffness(rib, splitter.panel.sheet)
        for number, points in enumerate(stretches, start=1):
            name = rib.name if len(stretches) == 1 else f"{rib.name}, piece {number}"
            piece, line = there.get(name), np.array(points, dtype=float)
            if piece is None or piece.unbonded != loose or not _fits(piece, rib, line, k, first):
                parts = rib_parts(rib, line, thickness, name=name, joint=k)
                cells = _cells_of(next((rib for rib in alike if rib.name == name), None), line, first)
                operators = rib_operators(panel, locator, parts, first_extra=first, cells=cells)
                piece = _placed(rib, parts, operators, thickness=thickness, unbonded=loose)
            first += piece.operators.n_extra
            yield piece


def _cells_of(rib: ModelRib | None, line: Array, first: int) -> SlipField | None:
    """Cells of a rib on another line of as many corners; none where it has no unknowns of its own."""
    field = None if rib is None else rib.operators.field
    if rib is None or field is None or len(rib.parts.points) != len(line) or field.first != first:
        return None
    return stretched(field, rib.parts.points, line)


def _fits(known: ModelRib, rib: Rib, line: Array, joint: float | None, first: int) -> bool:
    """Whether a known rib is the same on the same line, and its own unknowns, if any, begin with number ``first``."""
    slip, field = known.parts.slip, known.operators.field
    return (
        known.design == rib
        and np.array_equal(known.parts.points, line)
        and (joint if joint else None) == (None if slip is None else slip.stiffness)
        and (field is None or field.first == first)
    )


def _placed(
    rib: Rib, parts: RibParts, operators: RibOperators, *, thickness: float, unbonded: bool
) -> ModelRib:
    side = 1 if rib.side == "above" else -1
    face = side * 0.5 * thickness
    properties = rib.section.properties()
    return ModelRib(parts.name, rib, rib.resolved, properties, parts, operators, side, face, unbonded)


def joint_stiffness(rib: Rib, sheet: Sheet) -> float | None:
    """Shear flow per slip of a rib's joint in N/m2; None for an ideal bond.

    Adhesive: ``G b / t``.  Fasteners: rows times slip modulus over pitch, the modulus of EN 1995-1-1 table 7.1 for a
    metal side plate where none is given.

    Raises
    ------
    DesignError
        If the fasteners' slip modulus is not given and no table has it: the sheet is no wood, or they are rivets.
    """
    joint = rib.joint
    if isinstance(joint, Bond):
        return None
    if isinstance(joint, Adhesive):
        width = rib.foot_width if joint.width is None else float(joint.width)
        return float(joint.shear_modulus) * width / float(joint.thickness)
    modulus = joint.slip_modulus
    if modulus is None:
        if not is_wood(sheet):
            raise DesignError(
                f"Rib {rib.name} is fastened by {joint.kind} to a sheet that is no wood, for which there is no slip "
                "modulus: give slip_modulus, for example from a test."
            )
        if joint.kind == "rivets":
            raise DesignError(
                f"Rib {rib.name} is riveted to wood, for which EN 1995-1-1 table 7.1 has no slip modulus: give "
                "slip_modulus, for example from a test, or use screws or bolts."
            )
        kind: Fastener = "screw" if joint.kind == "screws" else "bolt"
        modulus = slip_modulus(float(joint.diameter), mean_density(sheet), fastener=kind, metal_side=True)
    return joint.rows * float(modulus) / float(joint.pitch)


def is_wood(sheet: Sheet) -> bool:
    """Whether a sheet is plywood: orthotropic throughout, with the strengths or the density of wood."""
    material = sheet.resolved
    plies = [ply.material for ply in material.plies] if isinstance(material, Layup) else [material]
    return all(ply.kind == "orthotropic" and 350.0 < ply.density < 900.0 for ply in plies)


def mean_density(sheet: Sheet) -> float:
    """Mean density of a sheet in kg/m3."""
    stiffness = sheet.resolved.stiffness(float(sheet.thickness))
    return stiffness.mass_per_area / stiffness.thickness


def rib_parts(rib: Rib, points: Array, thickness: float, *, name: str, joint: float | None) -> RibParts:
    """Split a rib into its foot layer and the lines under its webs, at their heights above the mid-surface.

    Parameters
    ----------
    rib : Rib
    points : ndarray, shape (n, 2)
        Line of the piece in m.
    thickness : float
        Of the panel in m.
    name : str
    joint : float or None
        Shear flow per slip in N/m2; None for an ideal bond, zero for a rib that only bends with the panel.
    """
    material, properties = rib.resolved, rib.section.properties()
    side = 1.0 if rib.side == "above" else -1.0
    face = side * 0.5 * thickness
    if joint == 0.0:
        return RibParts(name, points, (_loose_line(points, properties, material, side=side, face=face),), ())
    E, G, density = float(material.E), float(material.G), float(material.density)
    mirror = -1.0 if rib.flip else 1.0
    # A joint that slips does not force the foot's shear on the panel, so the section twists by itself.
    own_twist = 0.0 if joint is None or properties.cell is None else properties.cell.J / len(properties.webs)
    lines = tuple(
        BeamLine(
            points=offset_polyline(points, mirror * web.offset),
            z=face + side * web.centroid_height,
            EA=E * web.area,
            EI=E * web.I,
            GJ=G * (web.J + own_twist),
            GAs=G * web.shear_area,
            mass=density * web.area,
        )
        for web in properties.webs
    )
    t_foot = properties.foot_thickness
    z_foot = face + side * 0.5 * t_foot
    if joint is None:
        feet = tuple(
            FootLayer(
                offset_polyline(points, mirror * foot.offset),
                foot.width,
                t_foot,
                z_foot,
                E,
                G,
                density * t_foot,
            )
            for foot in properties.feet
        )
        return RibParts(name, points, lines, feet, _cells(points, properties, G=G, side=side, face=face))
    area = properties.foot_area
    wall = BeamLine(points, z_foot, EA=E * area, EI=0.0, GJ=0.0, GAs=0.0, mass=density * area)
    return RibParts(name, points, (*lines, wall), (), slip=SlipJoint(joint, face))


def _loose_line(
    points: Array, properties: SectionProperties, material: BarMaterial, *, side: float, face: float
) -> BeamLine:
    """One line that bends about the section's own axis and carries its weight, without stretch or twist."""
    return BeamLine(
        points=points,
        z=face + side * properties.z_c,
        EA=0.0,
        EI=float(material.E) * properties.I,
        GJ=0.0,
        GAs=float(material.G) * properties.shear_area,
        mass=float(material.density) * properties.area,
    )


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
