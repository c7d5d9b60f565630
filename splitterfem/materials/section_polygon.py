"""Properties of a section drawn as a polygon that stands on the panel.

Area, centroid and second moments are exact (Green's theorem over the sides); torsion and shear are found
numerically (`section_solver`). The split into foot and web lines follows the drawing:

- The *feet* are the sides at height 0. They are as thick as the section is there: the wall over nine tenths
  of them, so that a fillet or a slanting edge does not count.
- A *web line* stands under every part of the section that a cut just above the feet meets. The lines share
  what is beyond the feet in the ratio of their widths at that cut.
- The *cell* is the hole. Its Bredt area and walls come from the numerical solution; its foot is the part of
  the feet under it. A section on two feet without a hole has the hollow between the feet as its cell, closed
  by the panel.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from splitterfem.materials.section_outline import Moments, Ring, checked_polygon, contacts_of, moments
from splitterfem.materials.section_properties import Cell, FootStrip, SectionProperties, WebLine

if TYPE_CHECKING:
    import shapely

_SLICES = 200
_NOTHING = 1e-9


def polygon_properties(points: Ring, hole: Ring | None = None) -> SectionProperties:
    """Properties of a polygon (offset, height) that stands on height 0.

    The rib line runs through the middle between the outer edges of its feet, wherever the offsets were
    counted from.

    Parameters
    ----------
    points : tuple of points
        Corners in order, either way round, m.
    hole : tuple of points, optional
        Corners of a hollow, m.

    Raises
    ------
    DesignError
        If a line crosses itself, the hole is not inside, or the section does not stand on the panel.
    SolveError
        If torsion cannot be found.
    """
    return _properties(points, hole)


@lru_cache(maxsize=256)
def _properties(points: Ring, hole: Ring | None) -> SectionProperties:
    from splitterfem.materials.section_solver import section_constants

    polygon = checked_polygon(points, hole)
    m = moments(polygon)
    found = section_constants(polygon)
    y_c, z_c = m.y / m.area, m.z / m.area
    height = float(polygon.bounds[3])
    contacts = contacts_of(np.asarray(polygon.exterior.coords)[:-1])
    thickness = _foot_thickness(polygon, contacts, m, height)
    hollow = found.hollows[0] if found.hollows else None
    if hollow is None:
        cell = _panel_cell(polygon, contacts)
    else:
        foot = _under_hole(polygon, contacts, polygon.interiors[0].length / hollow.ratio)
        foot = min(foot, 0.9 * hollow.ratio * thickness)
        cell = Cell(hollow.area, foot, hollow.ratio - foot / thickness, thickness)
    return SectionProperties(
        area=m.area,
        height=height,
        foot_width=sum(b - a for a, b in contacts),
        foot_thickness=thickness,
        z_c=z_c,
        y_c=y_c,
        I=m.zz - m.area * z_c**2,
        I_z=m.yy - m.area * y_c**2,
        I_yz=m.yz - m.area * y_c * z_c,
        J=found.J,
        shear_area=found.shear_area,
        webs=_lines(
            m,
            contacts,
            thickness,
            J=found.J - (cell.J if cell else 0.0),
            shear_area=found.shear_area,
            webs=_webs(polygon, contacts, thickness, height),
        ),
        feet=tuple(FootStrip((a + b) / 2, b - a) for a, b in contacts),
        cell=cell,
    )


def _lines(
    m: Moments,
    contacts: Sequence[tuple[float, float]],
    thickness: float,
    *,
    J: float,
    shear_area: float,
    webs: Sequence[tuple[float, float]],
) -> tuple[WebLine, ...]:
    """Share what is beyond the feet among the webs, by their widths."""
    width = sum(b - a for a, b in contacts)
    foot = width * thickness
    area, first, about_face = m.area - foot, m.z - foot * thickness / 2, m.zz - foot * thickness**2 / 4
    sideways = m.y - thickness * sum((b**2 - a**2) / 2 for a, b in contacts)
    some = area > _NOTHING * m.area
    level = first / area if some else 0.0
    whole = sum(b - a for a, b in webs)
    mean = sum((b**2 - a**2) / 2 for a, b in webs) / whole
    lean = sideways / area - mean if some else 0.0
    return tuple(
        WebLine(
            offset=(a + b) / 2,
            area=share * area if some else 0.0,
            centroid_height=level,
            I=share * (about_face - area * level**2 if some else about_face),
            J=share * J,
            shear_area=share * shear_area,
            width=b - a,
            centroid_offset=(a + b) / 2 + lean,
        )
        for a, b in webs
        for share in ((b - a) / whole,)
    )


def _foot_thickness(
    polygon: shapely.Polygon, contacts: Sequence[tuple[float, float]], m: Moments, height: float
) -> float:
    """Wall over nine tenths of the feet, less where foot and lines would not make up the section."""
    import shapely

    at = np.concatenate([a + (b - a) * (np.arange(_SLICES) + 0.5) / _SLICES for a, b in contacts])
    cuts = shapely.linestrings([[[y, 0.0], [y, 1.01 * height]] for y in at])
    walls = [
        min(part.bounds[3] for part in shapely.get_parts(one) if part.length > 0)
        for one in shapely.intersection(cuts, polygon)
    ]
    width = sum(b - a for a, b in contacts)
    thickness = float(np.quantile(walls, 0.1))
    while True:
        area, first = m.area - width * thickness, m.z - width * thickness**2 / 2
        about_face = m.zz - width * thickness**3 / 4  # the feet's own b t^3 / 12 stays with the lines
        solid = abs(area) <= 1e-9 * m.area
        if solid or (
            area > 0 and first > 0 and about_face - first**2 / area > 1e-3 * width * thickness**3 / 12
        ):
            return thickness
        thickness *= 0.9


def _webs(
    polygon: shapely.Polygon, contacts: Sequence[tuple[float, float]], thickness: float, height: float
) -> list[tuple[float, float]]:
    """Edges of what a cut a little above the feet meets, from left to right; the feet if nothing is above."""
    import shapely

    if thickness > (1 - 1e-6) * height:
        return list(contacts)
    level = thickness + 0.1 * (height - thickness)
    x0, _, x1, _ = polygon.bounds
    cut = shapely.intersection(shapely.LineString([(x0 - 1, level), (x1 + 1, level)]), polygon)
    found = [(float(one.bounds[0]), float(one.bounds[2])) for one in shapely.get_parts(cut) if one.length > 0]
    return sorted(found, reverse=True)


def _under_hole(polygon: shapely.Polygon, contacts: Sequence[tuple[float, float]], wall: float) -> float:
    """Length of the foot's mid-line under the hole: what is right under it and half a wall on either side."""
    left, _, right, _ = polygon.interiors[0].bounds
    over = sum(max(0.0, min(right, b) - max(left, a)) for a, b in contacts)
    width = sum(b - a for a, b in contacts if min(right, b) > max(left, a))
    return over + min(width - over, wall) if over else 0.0


def _panel_cell(polygon: shapely.Polygon, contacts: Sequence[tuple[float, float]]) -> Cell | None:
    """Cell between two feet that the panel closes; the largest one."""
    import shapely

    from splitterfem.materials.section_solver import wall_ratio

    left, right = contacts[0][0], contacts[-1][1]
    closed = shapely.union(polygon, shapely.box(left, -(right - left), right, 0.0))
    pockets = [shapely.Polygon(ring) for ring in getattr(closed, "interiors", ())]
    if not pockets:
        return None
    pocket = max(pockets, key=lambda one: one.area)
    x0, _, x1, _ = pocket.bounds
    gaps = [(a, b) for (_, a), (b, _) in pairwise(contacts)]
    gap = max((b - a for a, b in gaps if x0 < (a + b) / 2 < x1), default=0.0)
    ratio = wall_ratio(polygon, pocket)
    wall = pocket.exterior.length - gap  # the inner side; half a wall's thickness is added all along it
    half = wall / ratio / 2
    return Cell(pocket.area + half * wall, gap + 2 * half, ratio, 0.0)
