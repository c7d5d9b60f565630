"""Properties of the usual shapes: tubes, angle, flat bar, channel, hat and T.

Torsion constant and shear area of thin-walled formulas are off by 2 to 5 % on ordinary extrusions, because
they leave out what corners add and ends take away; they are found numerically here (`section_solver`), except
for the flat bar and the torsion of the round tube, which have exact formulas.
"""

from __future__ import annotations

from functools import lru_cache
from math import pi, tanh
from typing import Literal

from splitterfem.materials.section_properties import Cell, FootStrip, SectionProperties, WebLine
from splitterfem.materials.section_split import Rectangle, Web, assemble, numerical

LINE_OF_CONTACT = 0.25
"""Foot of a round tube without a saddle, over its diameter: there the gap under it stays below 1.6 % of the
diameter, 0.4 mm under a tube of 25 mm, which is what a line of glue fills."""


def tube_properties(width: float, height: float, wall: float) -> SectionProperties:
    """Rectangular tube of uniform wall, one wall on the panel.

    Two lines, under the two side walls, share what is beyond the foot.

    Parameters
    ----------
    width : float
        Along the panel, outside, m.
    height : float
        Outside, m.
    wall : float
        m, less than half of the smaller side.
    """
    feet, webs = [Rectangle(width, wall, 0.0, wall / 2)], _box_webs(width, height, wall)
    found = numerical((*feet, *(member for web in webs for member in web.members)))
    b, hollow = width - wall, found.hollows[0]
    cell = Cell(area=hollow.area, foot=b, rest=hollow.ratio - b / wall, foot_thickness=wall)
    return assemble(feet=feet, webs=webs, height=height, cell=cell)


def _box_webs(width: float, height: float, wall: float) -> list[Web]:
    """Two side walls above the foot, each with half of the far wall."""
    return [
        Web(
            side * (width - wall) / 2,
            wall,
            (
                Rectangle(wall, height - 2 * wall, side * (width - wall) / 2, height / 2),
                Rectangle(width / 2, wall, side * width / 4, height - wall / 2),
            ),
        )
        for side in (1.0, -1.0)
    ]


def angle_properties(foot: float, upright: float, wall: float) -> SectionProperties:
    """Angle with one leg on the panel, centred on the rib line, and the other upright at its left edge.

    Parameters
    ----------
    foot : float
        Length of the leg on the panel, corner included, m.
    upright : float
        Length of the upright leg, corner included, m.
    wall : float
        m.
    """
    edge = (foot - wall) / 2
    return assemble(
        feet=[Rectangle(foot, wall, 0.0, wall / 2)],
        webs=[Web(edge, wall, (Rectangle(wall, upright - wall, edge, (upright + wall) / 2),))],
        height=upright,
    )


def tee_properties(foot: float, upright: float, wall: float) -> SectionProperties:
    """T with its flange on the panel and its web upright in the middle.

    Parameters
    ----------
    foot : float
        Width of the flange, m.
    upright : float
        Height over all, flange included, m.
    wall : float
        Of flange and web, m.
    """
    return assemble(
        feet=[Rectangle(foot, wall, 0.0, wall / 2)],
        webs=[Web(0.0, wall, (Rectangle(wall, upright - wall, 0.0, (upright + wall) / 2),))],
        height=upright,
    )


def channel_properties(
    web: float, flange: float, wall: float, *, foot: Literal["web", "flange"]
) -> SectionProperties:
    """Channel with its web or one of its flanges on the panel.

    With the web down a line stands under each flange. With a flange down, centred on the rib line, the web
    stands at its left edge and both flanges point to the right; the one line under the web carries the far
    flange as well.

    Parameters
    ----------
    web : float
        Outside length of the web, m.
    flange : float
        Outside length of a flange, corner included, m.
    wall : float
        m.
    foot : {"web", "flange"}
        What lies on the panel.
    """
    if foot == "web":
        edge = (web - wall) / 2
        up = [
            (side * edge, Rectangle(wall, flange - wall, side * edge, (flange + wall) / 2))
            for side in (1, -1)
        ]
        return assemble(
            feet=[Rectangle(web, wall, 0.0, wall / 2)],
            webs=[Web(offset, wall, (member,)) for offset, member in up],
            height=flange,
        )
    edge = (flange - wall) / 2
    members = (
        Rectangle(wall, web - 2 * wall, edge, web / 2),
        Rectangle(flange, wall, 0.0, web - wall / 2),
    )
    return assemble(
        feet=[Rectangle(flange, wall, 0.0, wall / 2)], webs=[Web(edge, wall, members)], height=web
    )


def hat_properties(width: float, height: float, flange: float, wall: float) -> SectionProperties:
    """Hat with two flanges on the panel, open by itself and closed by the panel between them.

    Each foot strip reaches from the outer edge of a flange to the inner face of its web. Two lines under the
    webs share the crown. The cell's fourth wall is the panel between the webs.

    Parameters
    ----------
    width : float
        Of the crown, over the outer faces of the webs, m.
    height : float
        Over all, m.
    flange : float
        From the outer face of a web to the edge of its flange, m.
    wall : float
        m.
    """
    strip, middle = flange + wall, (width + flange - wall) / 2
    feet = [Rectangle(strip, wall, side * middle, wall / 2) for side in (1.0, -1.0)]
    b, h = width - wall, height - wall / 2
    cell = Cell(area=b * h, foot=b, rest=_hat_ratio(width, height, flange, wall), foot_thickness=0.0)
    return assemble(feet=feet, webs=_box_webs(width, height, wall), height=height, cell=cell)


@lru_cache(maxsize=256)
def _hat_ratio(width: float, height: float, flange: float, wall: float) -> float:
    """Sum of length over thickness of a hat's webs and crown, corners included."""
    import shapely

    from splitterfem.materials.section_solver import wall_ratio

    inside = shapely.box(-width / 2 + wall, 0.0, width / 2 - wall, height - wall)
    edge = width / 2 + flange
    hat = [(-edge, 0), (-edge, wall), (-width / 2, wall), (-width / 2, height)]
    outside = [*hat, *((-y, z) for y, z in reversed(hat))]
    return wall_ratio(shapely.Polygon(outside).difference(inside), inside)


def flat_properties(width: float, height: float) -> SectionProperties:
    """Solid bar lying on the panel: all of it is foot, its own bending and torsion in one line."""
    bar = Rectangle(width, height, 0.0, height / 2)
    return assemble(
        feet=[bar],
        webs=[Web(0.0, width, ())],
        height=height,
        constants=(rectangle_torsion(width, height), 5 / 6 * bar.area),
    )


def round_tube_properties(diameter: float, wall: float, saddle: float | None = None) -> SectionProperties:
    """Round tube that touches the panel along a line, or is held to it over the width of a saddle.

    The foot is as wide as the saddle and as thick as the wall, or less where the saddle is wider than half of
    the diameter, for there the wall turns away from the panel; the saddle itself adds no stiffness. Everything
    else is in one line under the middle.

    Parameters
    ----------
    diameter : float
        Outside, m.
    wall : float
        m, less than half of the diameter.
    saddle : float, optional
        Width of the block or fillet that holds it, up to the diameter; a quarter of the diameter when left
        out, see `LINE_OF_CONTACT`.
    """
    foot = LINE_OF_CONTACT * diameter if saddle is None else saddle
    flat = min(foot, diameter / 2)
    thickness = wall * flat / foot
    R, r = diameter / 2, diameter / 2 - wall
    area, inertia = pi * (R**2 - r**2), pi / 4 * (R**4 - r**4)
    mid = (R + r) / 2
    cell = Cell(area=pi * mid**2, foot=flat, rest=(2 * pi * mid - flat) / wall, foot_thickness=wall)
    rest = area - foot * thickness
    level = (area * R - foot * thickness**2 / 2) / rest
    shear_area = round_shear_factor(r / R) * area
    line = WebLine(
        offset=0.0,
        area=rest,
        centroid_height=level,
        I=inertia + area * R**2 - foot * thickness**3 / 4 - rest * level**2,
        J=2 * inertia - cell.J,
        shear_area=shear_area,
        width=foot,
        centroid_offset=0.0,
    )
    return SectionProperties(
        area=area,
        height=diameter,
        foot_width=foot,
        foot_thickness=thickness,
        z_c=R,
        y_c=0.0,
        I=inertia,
        I_z=inertia,
        I_yz=0.0,
        J=2 * inertia,
        shear_area=shear_area,
        webs=(line,),
        feet=(FootStrip(0.0, foot),),
        cell=cell,
    )


def round_shear_factor(m: float) -> float:
    """Shear area over area of a round tube with radii in the ratio ``m``, at Poisson's ratio 0.

    Cowper, G. R. (1966), The shear coefficient in Timoshenko's beam theory, Journal of Applied Mechanics 33,
    335-340, hollow circle: ``6 (1 + m^2)^2 / (7 (1 + m^2)^2 + 20 m^2)``.
    """
    square = (1 + m**2) ** 2
    return 6 * square / (7 * square + 20 * m**2)


@lru_cache(maxsize=256)
def rectangle_torsion(width: float, height: float) -> float:
    """Torsion constant of a solid rectangle, m4.

    Series of Timoshenko & Goodier, Theory of Elasticity, 3rd ed., section 109:
    ``a b^3 [1/3 - 64 b / (pi^5 a) sum tanh(n pi a / 2b) / n^5]``, n odd, a the longer side.
    """
    long, short = max(width, height), min(width, height)
    series = sum(tanh(n * pi * long / (2 * short)) / n**5 for n in range(1, 40, 2))
    return long * short**3 * (1 / 3 - 64 / pi**5 * short / long * series)
