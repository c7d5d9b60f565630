"""Ribs of a design as beam lines, foot layers and torsion cells at their heights."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import Rib, Splitter
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel
from splitterfem.fem.ribrows import RibOperators, rib_operators
from splitterfem.fem.ribs import BeamLine, FootLayer, RibParts, TorsionCell, offset_polyline
from splitterfem.materials import BarMaterial, SectionProperties
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


def model_ribs(panel: Panel, locator: Locator, splitter: Splitter, thickness: float) -> Iterator[ModelRib]:
    """Put the ribs of a design on a panel ``thickness`` thick (m), mirrored pairs written out."""
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
