"""The panel of the demonstration as a job for every formulation: openings, pads, pockets and eccentric ribs.

Simplified so that a general-purpose library can carry it within reason: pads and pockets are elastic beds of the same
stiffness over their true areas, ribs are Timoshenko lines at their height without torsion, the load is one pressure,
and the sheet is homogeneous.  Everybody solves this same problem.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

import splitterfem as sf
from splitterfem.fem.meshing import EmbeddedLine, PlateMesh, Refinement, Region, mesh_region
from splitterfem.fem.ribs import BeamLine
from splitterfem.fem.textbook import Homogeneous
from splitterfem.model.meshsize import GRADING, PEAK
from splitterfem.model.pads import written_out

Array = NDArray[np.float64]

THICKNESS, PRESSURE = 14.8e-3, 3000.0
SHEET = Homogeneous(THICKNESS, E1=6.8e9, E2=10.7e9, nu12=0.032, G12=0.62e9, G13=0.170e9, G23=0.207e9)
"""Birch-like, face grain from side to side; the same moduli as the plywood of the textbook cases."""

GRID = 0.01
"""Distance in m of the places where sag and stress are looked at."""

AWAY = 0.03
"""Distance in m from the ends of ribs and from the edge of pads within which stress is not looked at: an ideal line
that ends makes it grow without limit."""


@dataclass(frozen=True)
class Bed:
    """An elastic bed.

    Attributes
    ----------
    bounds : tuple of float
        x0, y0, x1, y1 in m.
    along, up : float
        Stiffness in the plane and across it, in N/m3.
    """

    bounds: tuple[float, float, float, float]
    along: float
    up: float

    @property
    def polygon(self) -> shapely.Polygon:
        """Its area."""
        return shapely.box(*self.bounds)


def bed(bounds: tuple[float, float, float, float], stiffness: float) -> Bed:
    """Bed of some stiffness in N/m in every direction."""
    area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
    return Bed(bounds, stiffness / area, stiffness / area)


def beds(design: sf.Splitter) -> list[Bed]:
    """Beds in place of struts and pockets."""
    found = []
    for strut in written_out(design.struts):
        x, y = strut.foot
        found.append(bed((x - 0.03, y - 0.02, x + 0.03, y + 0.02), float(strut.end_stiffness or 0.0)))
    found += [bed(pocket.bounds, 2e7) for pocket in written_out(design.pockets)]
    return found


def ribs(design: sf.Splitter) -> list[tuple[str, BeamLine]]:
    """Ribs as lines at the height of their centroid, with all of their section but its torsion."""
    found = []
    for rib in written_out(design.ribs):
        section, metal = rib.section.properties(), rib.resolved
        side = 1.0 if rib.side == "above" else -1.0
        line = BeamLine(
            points=np.array(rib.points, dtype=float),
            z=side * (0.5 * THICKNESS + section.z_c),
            EA=metal.E * section.area,
            EI=metal.E * section.I,
            GJ=0.0,
            GAs=metal.E / (2.0 * (1.0 + metal.nu)) * section.shear_area,
        )
        found.append((rib.name, line))
    return found


@dataclass(frozen=True)
class Job:
    """The panel with everything on it.

    Attributes
    ----------
    design : Splitter
    beds : list of Bed
    ribs : list of (str, BeamLine)
    places, stressed : ndarray, shapes (2, n) and (2, m)
        Where sag and stress are looked at, in m.
    """

    design: sf.Splitter
    beds: list[Bed]
    ribs: list[tuple[str, BeamLine]]
    places: Array
    stressed: Array


def job() -> Job:
    """Make the job from the demonstration."""
    design = sf.demo()
    lines = ribs(design)
    panel = design.panel.polygon(1e-4).buffer(-4e-3)
    ends = shapely.MultiPoint(np.vstack([line.points[[0, -1]] for _, line in lines]))
    courses = shapely.MultiLineString([line.points for _, line in lines])
    off = panel.difference(ends.buffer(AWAY)).difference(courses.buffer(4e-3))
    return Job(design, beds(design), lines, _grid(panel), _grid(off))


def _grid(area: shapely.Polygon) -> Array:
    x0, y0, x1, y1 = area.bounds
    x, y = np.meshgrid(np.arange(x0, x1, GRID), np.arange(y0, y1, GRID))
    inside = shapely.contains_xy(area, x.ravel(), y.ravel())
    return np.vstack([x.ravel()[inside], y.ravel()[inside]])


def mesh(given: Job, size: float, *, graded: bool) -> PlateMesh:
    """Mesh that follows ribs and the edges of beds, of even elements or closing up where forces peak.

    Parameters
    ----------
    given : Job
    size : float
        Largest element size in m.
    graded : bool
        Whether elements are finer at the ends of ribs, at beds, along ribs and at the corners of openings, as those of
        a design are.
    """
    holes = given.design.panel.holes()
    region = Region(
        given.design.panel.outline.loop(), tuple(loop for _, loop in holes), tuple(name for name, _ in holes)
    )
    lines = [EmbeddedLine(name, line.points) for name, line in given.ribs]
    lines += [
        EmbeddedLine(f"bed {k}", np.array(one.polygon.exterior.coords)) for k, one in enumerate(given.beds)
    ]
    if not graded:
        return mesh_region(region, size=size, lines=lines, chord=CHORD)
    ends = [tuple(end) for _, line in given.ribs for end in line.points[[0, -1]]]
    finer = [Refinement(float(x), float(y), 0.012, PEAK * size) for x, y in ends]
    for one in given.beds:
        x, y = one.polygon.centroid.coords[0]
        finer.append(Refinement(x, y, 0.03, min(0.5 * size, 0.02)))
    return mesh_region(
        region,
        size=size,
        lines=lines,
        refinements=finer,
        corner_size=0.5 * size,
        line_size=0.5 * size,
        grading=GRADING,
        chord=CHORD,
    )


CHORD = 0.5e-3
"""Largest distance in m between a curved edge and the side of an element."""


def worst_stress(force: Array, moment: Array) -> float:
    """Largest stress along or across the grain on either face in Pa, from forces and moments (n, 3)."""
    stretch, bent = force[:, :2] / THICKNESS, 6.0 * moment[:, :2] / THICKNESS**2
    return float(np.abs(np.concatenate([stretch + bent, stretch - bent])).max())
