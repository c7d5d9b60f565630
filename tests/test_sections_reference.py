"""Every shape of section against the general-purpose library sectionproperties, which solves them itself.

Area, centroid and area moments within rounding, torsion constant and shear area within 0.5 % (of two numerical
solutions), width and place of the foot within rounding of the polygon's sides on the panel. Its
sections bend freely; ours is kept from bending sideways by the panel, so that the shear area of one that is not
symmetric about the vertical axis is compared with half of that of the section and its mirror image back to back.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import scale

from splitterfem.materials import (
    AngleSection,
    ChannelSection,
    FlatSection,
    HatSection,
    PolygonSection,
    RoundTubeSection,
    TeeSection,
    TubeSection,
)

pytest.importorskip("sectionproperties", reason="comes with the extra 'verify'")

ELEMENTS = 500


def box(y0: float, z0: float, y1: float, z1: float) -> shapely.Polygon:
    return shapely.box(y0, z0, y1, z1)


def solved(polygon: shapely.Polygon):
    from sectionproperties.analysis import Section
    from sectionproperties.pre.geometry import Geometry

    section = Section(Geometry(polygon).create_mesh([polygon.area / ELEMENTS]))
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return section


def circle(diameter: float, radius: float) -> shapely.Polygon:
    return shapely.Point(0, diameter / 2).buffer(radius, quad_segs=64)


def rounded(polygon: shapely.Polygon, radius: float) -> shapely.Polygon:
    return polygon.buffer(-radius).buffer(radius, quad_segs=6)


def corners(ring) -> tuple:
    return tuple((y / 1000, z / 1000) for y, z in list(ring.coords)[:-1])


def drawn(polygon: shapely.Polygon) -> PolygonSection:
    hole = corners(polygon.interiors[0]) if polygon.interiors else None
    return PolygonSection(points=corners(polygon.exterior), hole=hole)


def tube(b: float, h: float, t: float):
    made = TubeSection(width=b / 1000, height=h / 1000, wall=t / 1000)
    return made, box(0, 0, b, h) - box(t, t, b - t, h - t)


def angle(b: float, h: float, t: float):
    made = AngleSection(foot=b / 1000, upright=h / 1000, wall=t / 1000)
    return made, box(0, 0, b, t) | box(b - t, 0, b, h)


def tee(b: float, h: float, t: float):
    made = TeeSection(foot=b / 1000, upright=h / 1000, wall=t / 1000)
    return made, box(0, 0, b, t) | box(b / 2 - t / 2, 0, b / 2 + t / 2, h)


def channel(w: float, f: float, t: float, foot: str):
    made = ChannelSection(web=w / 1000, flange=f / 1000, wall=t / 1000, foot=foot)
    if foot == "web":
        return made, box(0, 0, w, t) | box(0, 0, t, f) | box(w - t, 0, w, f)
    return made, box(0, 0, f, t) | box(f - t, 0, f, w) | box(0, w - t, f, w)


def hat(w: float, h: float, f: float, t: float):
    made = HatSection(width=w / 1000, height=h / 1000, flange=f / 1000, wall=t / 1000)
    half = w / 2
    feet = box(-half - f, 0, -half + t, t) | box(half - t, 0, half + f, t)
    webs = box(-half, 0, -half + t, h) | box(half - t, 0, half, h)
    return made, feet | webs | box(-half, h - t, half, h)


def round_tube(d: float, t: float):
    made = RoundTubeSection(diameter=d / 1000, wall=t / 1000)
    return made, circle(d, d / 2) - circle(d, d / 2 - t)


TRAPEZIUM = shapely.Polygon([(-20, 0), (20, 0), (10, 30), (-10, 30)])
TAPERED_TUBE = shapely.Polygon(
    [(-20, 0), (20, 0), (12, 30), (-12, 30)], [[(-17, 2), (17, 2), (10.5, 28), (-10.5, 28)]]
)
EXTRUSION = rounded(box(0, 0, 30, 20), 4) - rounded(box(2.5, 2.5, 27.5, 17.5), 1.5)
ZED = box(0, 0, 20, 2) | box(18, 0, 20, 40) | box(18, 38, 38, 40)
DOME = shapely.Point(0, 0).buffer(20, quad_segs=32) & box(-30, 0, 30, 30)
SLANTING_HAT = shapely.Polygon(
    [
        *((-40, 0), (-18, 0), (-10, 28), (10, 28), (18, 0), (40, 0)),
        *((40, 2), (19.5, 2), (11.5, 30), (-11.5, 30), (-19.5, 2), (-40, 2)),
    ]
)

SHAPES = {
    "square tube": tube(25.4, 25.4, 3.2),
    "thin tube": tube(25, 25, 1),
    "flat tube": tube(40, 20, 2),
    "tall tube": tube(20, 40, 1.5),
    "round tube": round_tube(25, 2),
    "thick round tube": round_tube(20, 5),
    "equal angle": angle(25, 25, 3),
    "angle, long leg down": angle(30, 20, 2),
    "angle, short leg down": angle(20, 40, 5),
    "tee": tee(30, 25, 3),
    "channel, web down": channel(40, 20, 2, "web"),
    "channel, flange down": channel(40, 20, 2, "flange"),
    "hat": hat(30, 25, 15, 2),
    "flat": (FlatSection(width=0.03, height=0.005), box(0, 0, 30, 5)),
    **{
        f"polygon: {name}": (drawn(shape), shape)
        for name, shape in {
            "trapezium": TRAPEZIUM,
            "tapered tube": TAPERED_TUBE,
            "rounded extrusion": EXTRUSION,
            "Z": ZED,
            "dome": DOME,
            "hat with slanting webs": SLANTING_HAT,
        }.items()
    },
}


def is_symmetric(polygon: shapely.Polygon) -> bool:
    middle = (polygon.bounds[0] + polygon.bounds[2]) / 2
    other = scale(polygon, -1, 1, origin=(middle, 0))
    return shapely.symmetric_difference(polygon, other).area < 1e-6 * polygon.area


def doubled(polygon: shapely.Polygon) -> shapely.Polygon:
    """Section and mirror image, joined at the vertical face on its left, where the web stands."""
    left = polygon.bounds[2]
    return shapely.union_all([polygon, scale(polygon, -1, 1, origin=(left, 0))], grid_size=1e-9)


def hung_together(polygon: shapely.Polygon, reference) -> shapely.Polygon:
    """Section and mirror image, joined by a thin strip at the height of the centroid.

    The strip has no first moment, so that no shear flow runs along it, and it keeps both from bending sideways.
    """
    height, right, thick = reference.get_c()[1], polygon.bounds[2] + 5, 0.3
    # from within the web of the Z, 19 mm from its side
    half = polygon | box(polygon.bounds[2] - 19, height - thick / 2, right, height + thick / 2)
    return shapely.union_all([half, scale(half, -1, 1, origin=(right, 0))], grid_size=1e-9)


def shear_area_of(name: str, polygon: shapely.Polygon, reference) -> float:
    """Shear area of a section that bends about the axis parallel to the panel alone."""
    if is_symmetric(polygon):
        return reference.get_as()[1]
    if name == "polygon: Z":  # its mirror image does not fit back to back
        return solved(hung_together(polygon, reference)).get_as()[1] / 2
    return solved(doubled(polygon)).get_as()[1] / 2


def strips(polygon: shapely.Polygon) -> list[tuple[float, float]]:
    """Stretches of the section's boundary on the panel's face, from right to left."""
    line = shapely.LineString([(-1000, 0), (1000, 0)])
    parts = shapely.get_parts(shapely.line_merge(shapely.intersection(polygon.boundary, line)))
    found = sorted((part.bounds[0], part.bounds[2]) for part in parts if part.length)
    return found or [(0.0, 0.0)]  # a round tube touches in its middle


@pytest.mark.parametrize("name", SHAPES)
def test_against_sectionproperties(name: str) -> None:
    made, polygon = SHAPES[name]
    found, reference = made.properties(), solved(polygon)
    exact = 3e-4 if "round tube" in name else 1e-9  # the reference has a circle of 256 sides
    inertia = reference.get_ic()
    assert found.area * 1e6 == pytest.approx(reference.get_area(), rel=exact)
    assert found.z_c * 1e3 == pytest.approx(reference.get_c()[1], rel=exact)
    assert pytest.approx(inertia[0], rel=exact) == found.I * 1e12
    assert found.I_z * 1e12 == pytest.approx(inertia[1], rel=exact)
    assert found.I_yz * 1e12 == pytest.approx(inertia[2], abs=exact * inertia[0])
    least = np.linalg.eigvalsh([[inertia[0], inertia[2]], [inertia[2], inertia[1]]])[0]
    assert found.I_min * 1e12 == pytest.approx(least, rel=exact)
    assert pytest.approx(reference.get_j(), rel=5e-3) == found.J * 1e12
    assert found.shear_area * 1e6 == pytest.approx(shear_area_of(name, polygon, reference), rel=5e-3)
    low, high = strips(polygon)[0][0], strips(polygon)[-1][1]
    middle = (low + high) / 2  # of the foot, which is put on the rib line
    assert found.y_c * 1e3 == pytest.approx(reference.get_c()[0] - middle, abs=1e-6)


@pytest.mark.parametrize("name", SHAPES)
def test_foot(name: str) -> None:
    """Position and width of what lies on the panel, by the sides of the polygon at height 0 (shapely)."""
    made, polygon = SHAPES[name]
    found = made.properties()
    if "round tube" in name:  # touches in a line: a quarter of its diameter by convention, in the middle
        width = polygon.bounds[3] / 4
        expected = [(0.0, width)]
    else:
        low, high = strips(polygon)[0][0], strips(polygon)[-1][1]
        expected = [((a + b - low - high) / 2, b - a) for a, b in strips(polygon)]
    assert len(found.feet) == len(expected)
    for foot, (offset, width) in zip(found.feet, expected, strict=True):
        assert foot.offset * 1e3 == pytest.approx(offset, abs=1e-9)
        assert foot.width * 1e3 == pytest.approx(width, rel=1e-9)
    assert found.foot_width * 1e3 == pytest.approx(sum(width for _, width in expected), rel=1e-9)
    assert made.foot_width == pytest.approx(found.foot_width, rel=1e-12)
    assert found.height * 1e3 == pytest.approx(polygon.bounds[3], rel=3e-4 if "round" in name else 1e-9)
