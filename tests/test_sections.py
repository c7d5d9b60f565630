"""Sections of ribs: the split for the panel model, closed forms, polygons, refusals."""

from __future__ import annotations

from dataclasses import astuple
from math import hypot, pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from splitterfem.errors import DesignError, SolveError
from splitterfem.materials import (
    AngleSection,
    ChannelSection,
    FlatSection,
    HatSection,
    PolygonSection,
    RoundTubeSection,
    Section,
    TeeSection,
    TubeSection,
)
from splitterfem.materials.section_polygon import polygon_properties
from splitterfem.materials.section_shapes import (
    angle_properties,
    channel_properties,
    flat_properties,
    hat_properties,
    rectangle_torsion,
    round_shear_factor,
    round_tube_properties,
    tee_properties,
    tube_properties,
)
from splitterfem.materials.section_solver import section_constants

sizes = st.floats(5e-3, 0.1)
shares = st.floats(0.05, 0.9)


def star(radii: list[float], wall: float | None) -> tuple:
    """Corners round a centre, the two lowest of them on the panel, with a hollow that leaves a wall."""
    turn = 2 * pi * (np.arange(len(radii)) - 0.5) / len(radii) - pi / 2
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * np.array(radii)[:, None]
    points[:2, 1] = points[:, 1].min()
    points[:2, 0] = -0.01, 0.01
    hole = None if wall is None else wall * points
    floor = points[:, 1].min()
    lift = [0.0, -floor]
    rings = [points + lift, None if hole is None else hole + lift]
    return tuple(None if r is None else tuple(map(tuple, r.tolist())) for r in rings)


polygons = st.builds(
    star, st.lists(st.floats(0.015, 0.03), min_size=6, max_size=9), st.one_of(st.none(), st.floats(0.3, 0.8))
)
properties = st.one_of(
    st.builds(lambda b, h, s: tube_properties(b, h, s * min(b, h) / 2), sizes, sizes, shares),
    st.builds(lambda b, h, s: angle_properties(b, h, s * min(b, h)), sizes, sizes, shares),
    st.builds(lambda b, h, s: tee_properties(b, h, s * min(b, h)), sizes, sizes, shares),
    st.builds(
        lambda w, f, s, foot: channel_properties(w, f, s * min(w / 2, f), foot=foot),
        sizes,
        sizes,
        shares,
        st.sampled_from(("web", "flange")),
    ),
    st.builds(lambda b, h, f, s: hat_properties(b, h, f, s * min(b, h) / 2), sizes, sizes, sizes, shares),
    st.builds(flat_properties, sizes, sizes),
    st.builds(
        lambda d, s, w: round_tube_properties(d, s * d / 2, None if w is None else w * d),
        sizes,
        shares,
        st.one_of(st.none(), st.floats(0.05, 1)),
    ),
    polygons.map(lambda rings: polygon_properties(*rings)),
)


@settings(deadline=None, max_examples=80)
@given(properties)
def test_foot_and_lines_make_up_the_section(p) -> None:
    """Area, first moment, second moment about the panel's face, sideways moment: parallel axes, exact."""
    foot, level = p.foot_area, p.foot_thickness / 2
    assert foot == pytest.approx(sum(f.width for f in p.feet) * p.foot_thickness, rel=1e-12)
    assert foot + sum(w.area for w in p.webs) == pytest.approx(p.area, rel=1e-9)
    first = foot * level + sum(w.area * w.centroid_height for w in p.webs)
    assert first == pytest.approx(p.area * p.z_c, rel=1e-9)
    second = foot * level**2 + sum(w.I + w.area * w.centroid_height**2 for w in p.webs)
    assert second == pytest.approx(p.I + p.area * p.z_c**2, rel=1e-9)
    sideways = sum(w.area * w.centroid_offset for w in p.webs)
    sideways += sum(f.offset * f.width * p.foot_thickness for f in p.feet)
    assert sideways == pytest.approx(p.area * p.y_c, rel=1e-9, abs=1e-9 * p.area * p.height)
    cell = 0.0 if p.cell is None else p.cell.J
    assert sum(w.J for w in p.webs) + cell == pytest.approx(p.J, rel=1e-9)
    assert sum(w.shear_area for w in p.webs) == pytest.approx(p.shear_area, rel=1e-9)
    assert 0 < p.shear_area < p.area
    assert all(w.I > 0 and w.J > 0 and w.shear_area > 0 and w.area >= 0 for w in p.webs)
    assert p.feet[0].offset + p.feet[-1].offset == pytest.approx(
        (p.feet[0].width - p.feet[-1].width) / 2, abs=1e-9
    )
    if p.cell is not None:
        assert p.cell.rest > 0
    assert p.I_min <= min(p.I, p.I_z) * (1 + 1e-9)
    assert p.I * p.I_z > p.I_yz**2


@settings(deadline=None, max_examples=40)
@given(b=sizes, h=sizes, share=shares)
def test_tube_is_outer_minus_inner_rectangle(b: float, h: float, share: float) -> None:
    """Closed form: I of the outer rectangle less that of the hollow, both about the same axis."""
    t = share * min(b, h) / 2
    p = tube_properties(b, h, t)
    bi, hi = b - 2 * t, h - 2 * t
    assert p.area == pytest.approx(b * h - bi * hi, rel=1e-9)
    assert pytest.approx((b * h**3 - bi * hi**3) / 12, rel=1e-9) == p.I
    assert p.I_z == pytest.approx((h * b**3 - hi * bi**3) / 12, rel=1e-9)
    assert p.z_c == pytest.approx(h / 2, rel=1e-12)


@settings(deadline=None, max_examples=40)
@given(b=sizes, h=sizes, share=shares)
def test_angle_is_outer_minus_notch(b: float, h: float, share: float) -> None:
    """Closed form: the enclosing rectangle less the empty one, about the panel's face and the left edge."""
    t = share * min(b, h)
    p = angle_properties(b, h, t)
    notch = (b - t) * (h - t)
    area = b * h - notch
    z = (b * h * h / 2 - notch * (h + t) / 2) / area
    about_face = b * h**3 / 3 - (b - t) * (h**3 - t**3) / 3
    assert p.area == pytest.approx(area, rel=1e-9)
    assert p.z_c == pytest.approx(z, rel=1e-9)
    assert p.I + p.area * p.z_c**2 == pytest.approx(about_face, rel=1e-9)
    y = (b * h * b / 2 - notch * (b + t) / 2) / area  # from the left edge to the right
    about_edge = h * b**3 / 3 - (h - t) * (b**3 - t**3) / 3
    assert b / 2 - p.y_c == pytest.approx(y, rel=1e-9)
    assert p.I_z + p.area * y**2 == pytest.approx(about_edge, rel=1e-9)


def test_principal_moments_of_an_equal_angle() -> None:
    """The weak axis of an equal angle stands at 45 degrees: I - |I_yz|."""
    p = angle_properties(0.025, 0.025, 0.003)
    assert p.I_min == pytest.approx(p.I - abs(p.I_yz), rel=1e-12)
    assert p.I_yz > 0  # the upright leg stands on the left, where the offset is positive


def test_round_tube() -> None:
    """Closed forms of a ring; shear of a thin ring is half of its area, of a solid circle 6/7 (Cowper 1966)."""
    d, t = 0.025, 0.002
    p = round_tube_properties(d, t)
    r = d / 2 - t
    assert p.area == pytest.approx(pi * (d**2 / 4 - r**2), rel=1e-12)
    assert p.I == p.I_z == pytest.approx(pi / 4 * ((d / 2) ** 4 - r**4), rel=1e-12)
    assert pytest.approx(2 * p.I, rel=1e-12) == p.J
    assert p.foot_width == d / 4
    assert round_tube_properties(d, t, 0.01).foot_width == 0.01
    assert round_shear_factor(0.0) == pytest.approx(6 / 7)
    assert round_shear_factor(1 - 1e-9) == pytest.approx(0.5)


def test_lines_stand_where_the_walls_are() -> None:
    tube = tube_properties(0.03, 0.02, 0.002)
    assert [w.offset for w in tube.webs] == pytest.approx([0.014, -0.014], rel=1e-14)
    assert {w.width for w in tube.webs} == {0.002}
    angle = angle_properties(0.03, 0.02, 0.002)
    assert [w.offset for w in angle.webs] == pytest.approx([0.014], rel=1e-14)
    flat = flat_properties(0.03, 0.004)
    assert (flat.foot_width, flat.foot_thickness, flat.webs[0].area) == (0.03, 0.004, 0.0)
    assert pytest.approx(0.03 * 0.004**3 / 12, rel=1e-12) == flat.webs[0].I
    assert [w.offset for w in tee_properties(0.03, 0.02, 0.002).webs] == [0.0]
    down = channel_properties(0.04, 0.02, 0.002, foot="web")
    assert (down.foot_width, down.height) == (0.04, 0.02)
    assert [w.offset for w in down.webs] == pytest.approx([0.019, -0.019])
    side = channel_properties(0.04, 0.02, 0.002, foot="flange")
    assert (side.foot_width, side.height) == (0.02, 0.04)
    (web,) = side.webs
    assert web.offset == pytest.approx(0.009)
    assert web.centroid_offset == pytest.approx(0.009 * 72 / 112)  # 72 mm2 of web, 40 of far flange
    hat = hat_properties(0.03, 0.025, 0.015, 0.002)
    assert [f.offset for f in hat.feet] == pytest.approx([-0.0215, 0.0215])
    assert [f.width for f in hat.feet] == pytest.approx([0.017, 0.017])
    assert hat.span == pytest.approx(0.06)
    assert [w.offset for w in hat.webs] == pytest.approx([0.014, -0.014])


# Torsion and shear -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "k"),
    # J = k a b^3, Timoshenko & Goodier, Theory of Elasticity, 3rd ed., section 109, table (from memory).
    [(1.0, 0.1406), (1.5, 0.196), (2.0, 0.229), (3.0, 0.263), (5.0, 0.291), (10.0, 0.312), (1e4, 1 / 3)],
)
def test_torsion_of_a_rectangle(ratio: float, k: float) -> None:
    assert rectangle_torsion(ratio, 1.0) / ratio == pytest.approx(k, abs=6e-4)
    assert rectangle_torsion(1.0, ratio) == pytest.approx(rectangle_torsion(ratio, 1.0), rel=1e-14)


def box(width: float, height: float) -> tuple:
    return (-width / 2, 0.0), (width / 2, 0.0), (width / 2, height), (-width / 2, height)


@pytest.mark.parametrize("ratio", [0.2, 1.0, 4.0])
def test_solver_on_a_rectangle(ratio: float) -> None:
    """Series for torsion; 5/6 of the area in shear at Poisson's ratio 0 (Reissner 1945, Cowper 1966)."""
    p = polygon_properties(box(ratio, 1.0))
    assert pytest.approx(rectangle_torsion(ratio, 1.0), rel=2.5e-3) == p.J
    assert p.shear_area == pytest.approx(5 / 6 * ratio, rel=2e-3)


def test_solver_on_an_equilateral_triangle() -> None:
    """J = sqrt(3) a^4 / 80 (Timoshenko & Goodier, section 108)."""
    p = polygon_properties(((-0.5, 0), (0.5, 0), (0, 3**0.5 / 2)))
    assert pytest.approx(3**0.5 / 80, rel=2.5e-3) == p.J


def ring(radius: float, count: int = 120) -> tuple:
    """Polygon round a circle that stands on the panel with one side, of the circle's own area."""
    turn = 2 * pi * (np.arange(count) + 0.5) / count - pi / 2
    grown = radius * np.sqrt(2 * pi / count / np.sin(2 * pi / count))
    return tuple(map(tuple, (grown * np.column_stack([np.cos(turn), np.sin(turn)])).tolist()))


def test_solver_on_a_round_tube() -> None:
    import shapely

    d, t = 2.0, 0.2
    found = section_constants(shapely.Polygon(ring(d / 2), [ring(d / 2 - t)]))
    exact = round_tube_properties(d, t)
    assert pytest.approx(exact.J, rel=1e-3) == found.J
    assert found.shear_area == pytest.approx(exact.shear_area, rel=2e-3)
    (hollow,) = found.hollows
    assert hollow.ratio == pytest.approx(2 * pi / np.log(1 / 0.8), rel=1e-3)
    assert 4 * hollow.area**2 / hollow.ratio == pytest.approx(exact.cell.J, rel=0.01)


@pytest.mark.parametrize("walls", [(0.02, 0.02, 2e-5), (0.03, 0.01, 2e-5), (0.01, 0.03, 2e-5)])
def test_thin_tube(walls: tuple[float, float, float]) -> None:
    """Thin walls: Bredt's torsion constant and the shear factor of Cowper (1966), J. Appl. Mech. 33, 335-340.

    His thin-walled box at Poisson's ratio 0, from memory.
    """
    b, h, t = walls
    p = tube_properties(b + t, h + t, t)
    assert pytest.approx(2 * t * (b * h) ** 2 / (b + h), rel=4e-3) == p.J
    m = n = b / h
    k = 10 * (1 + 3 * m) ** 2 / (12 + 72 * m + 150 * m**2 + 90 * m**3 + 10 * n**2 * (3 * m + 3 * m**2))
    assert p.shear_area == pytest.approx(k * 2 * t * (b + h), rel=6e-3)


def test_thin_square_tube() -> None:
    """Thin walls (Roark's Formulas for Stress and Strain): I = 2/3 t a^3 on the mid-line."""
    t, a = 2e-5, 0.025
    assert pytest.approx(2 / 3 * t * a**3, rel=1e-5) == tube_properties(a + t, a + t, t).I


def test_shear_area_of_a_thin_angle() -> None:
    """The shear flow of thin-walled sections (Timoshenko & Gere) along the mid-line, numerically.

    The section bends about the axis parallel to the panel alone, as the panel makes it.
    """
    b, h, t = 0.03, 0.025, 5e-5
    length = h - t / 2
    s = np.linspace(0.0, 1.0, 20_001)
    z_leg, z_web = np.zeros_like(s), length * (1 - s)
    centroid = length * length / 2 / (length + b)
    inertia = t * (np.trapezoid((z_web - centroid) ** 2, s * length) + b * centroid**2)
    flow_web = t * np.concatenate([[0], np.cumsum((z_web[1:] + z_web[:-1]) / 2 - centroid)]) * length * s[1]
    flow_leg = t * (z_leg - centroid) * b * s
    assert flow_web[-1] + flow_leg[-1] == pytest.approx(0, abs=1e-6 * np.abs(flow_leg).max())
    energy = (np.trapezoid(flow_web**2, s * length) + np.trapezoid(flow_leg**2, s * b)) / t
    assert angle_properties(b, h, t).shear_area == pytest.approx(inertia**2 / energy, rel=6e-3)


@settings(deadline=None, max_examples=15)
@given(polygons, st.floats(0.1, 10))
def test_properties_scale(rings: tuple, factor: float) -> None:
    one = polygon_properties(*rings)
    grown = [None if r is None else tuple((factor * a, factor * b) for a, b in r) for r in rings]
    two = polygon_properties(*grown)
    assert pytest.approx(factor**4 * one.J, rel=6e-3) == two.J
    assert two.shear_area == pytest.approx(factor**2 * one.shear_area, rel=6e-3)
    assert pytest.approx(factor**4 * one.I, rel=1e-6) == two.I


@settings(deadline=None, max_examples=15)
@given(polygons)
def test_mirrored_polygon(rings: tuple) -> None:
    one = polygon_properties(*rings)
    two = polygon_properties(*(None if r is None else tuple((-a, b) for a, b in r) for r in rings))
    assert two.y_c == pytest.approx(-one.y_c, abs=1e-9)
    assert two.I_yz == pytest.approx(-one.I_yz, abs=1e-9 * one.I)
    assert two.shear_area == pytest.approx(one.shear_area, rel=6e-3)


def test_walls_too_thin_to_solve() -> None:
    with pytest.raises(SolveError, match="walls that are less thin"):
        angle_properties(0.1, 0.1, 1e-8)


# Polygons ----------------------------------------------------------------------------------------------


def mm(*points: tuple[float, float]) -> tuple:
    return tuple((a / 1000, b / 1000) for a, b in points)


DRAWN = {
    "tube": (
        tube_properties(0.025, 0.04, 0.002),
        mm((0, 0), (25, 0), (25, 40), (0, 40)),
        mm((2, 2), (23, 2), (23, 38), (2, 38)),
    ),
    "angle": (
        angle_properties(0.03, 0.02, 0.002),
        mm((0, 0), (30, 0), (30, 20), (28, 20), (28, 2), (0, 2)),
        None,
    ),
    "tee": (
        tee_properties(0.03, 0.02, 0.002),
        mm((0, 0), (30, 0), (30, 2), (16, 2), (16, 20), (14, 20), (14, 2), (0, 2)),
        None,
    ),
    "channel, web down": (
        channel_properties(0.04, 0.02, 0.002, foot="web"),
        mm((0, 0), (40, 0), (40, 20), (38, 20), (38, 2), (2, 2), (2, 20), (0, 20)),
        None,
    ),
    "channel, flange down": (
        channel_properties(0.04, 0.02, 0.002, foot="flange"),
        mm((0, 0), (20, 0), (20, 40), (0, 40), (0, 38), (18, 38), (18, 2), (0, 2)),
        None,
    ),
    "hat": (
        hat_properties(0.03, 0.025, 0.015, 0.002),
        mm(
            *((-30, 0), (-13, 0), (-13, 23), (13, 23), (13, 0), (30, 0)),
            *((30, 2), (15, 2), (15, 25), (-15, 25), (-15, 2), (-30, 2)),
        ),
        None,
    ),
    "flat": (flat_properties(0.03, 0.005), mm((7, 0), (37, 0), (37, 5), (7, 5)), None),
}


@pytest.mark.parametrize("name", DRAWN)
def test_drawn_shape_is_the_named_one(name: str) -> None:
    """The polygon's exact area moments, feet, webs and cell are those of the shape put together of walls."""
    expected, points, hole = DRAWN[name]
    found = polygon_properties(points[::-1], hole)  # either way round
    for field in ("area", "height", "foot_width", "foot_thickness", "z_c", "I", "I_z"):
        assert getattr(found, field) == pytest.approx(getattr(expected, field), rel=1e-9), field
    for field in ("y_c", "I_yz"):
        assert getattr(found, field) == pytest.approx(getattr(expected, field), abs=1e-12), field
    for field in ("J", "shear_area"):
        assert getattr(found, field) == pytest.approx(getattr(expected, field), rel=5e-3), field
    for here, there in zip(found.feet, expected.feet, strict=True):
        assert astuple(here) == pytest.approx(astuple(there), abs=1e-12)
    for one, two in zip(found.webs, expected.webs, strict=True):
        assert (one.offset, one.width, one.area, one.centroid_height, one.I) == pytest.approx(
            (two.offset, two.width, two.area, two.centroid_height, two.I), rel=1e-6, abs=1e-12
        )
        assert pytest.approx(two.J, rel=5e-3) == one.J
    if expected.cell is None:
        assert found.cell is None
    else:
        assert astuple(found.cell) == pytest.approx(astuple(expected.cell), rel=0.01)


def test_polygon_by_the_rules_of_green() -> None:
    """Right triangle with legs b and h: b h^3 / 36, b^3 h / 36 and -b^2 h^2 / 72 (any handbook)."""
    b, h = 0.04, 0.03
    p = polygon_properties(((0.1, 0), (0.1 + b, 0), (0.1, h)))
    assert (p.area, p.z_c) == pytest.approx((b * h / 2, h / 3))
    assert p.y_c == pytest.approx(b / 3 - b / 2)  # from the middle of the foot
    assert (p.I, p.I_z, p.I_yz) == pytest.approx((b * h**3 / 36, h * b**3 / 36, -((b * h) ** 2) / 72))


def test_hat_closed_by_the_panel() -> None:
    """Torsion of hat and panel strip glued together, solved as one section of one material.

    By hand: the flow round the cell, with its fourth wall at the panel's face, and the strip's own shear
    ``g`` between the webs at rest under it; the strip and the hat's open walls twist besides. Without the cell
    four fifths of the stiffness would be missing.
    """
    import shapely

    width, height, flange, t, panel = 0.03, 0.025, 0.015, 0.002, 0.006
    hat = hat_properties(width, height, flange, t)
    assert hat.cell is not None
    assert hat.cell.J == 0.0
    points = DRAWN["hat"][1]
    half = hat.span / 2 + 0.01
    both = shapely.union(shapely.Polygon(points), shapely.box(-half, -panel, half, 0))
    exact = section_constants(both).J

    cell, strip = hat.cell, rectangle_torsion(2 * half, panel)
    inside, outside = t, 2 * (flange + t / 2)  # of the feet, within and beyond the webs' mid-lines

    def energy(g: float) -> float:
        face = g - panel  # shear strain at the panel's face for a unit twist rate
        flow = (2 * cell.area - cell.foot * face) ** 2 / cell.rest
        feet = t * (inside * (face - t) ** 2 + outside * (panel + t) ** 2)
        return hat.J + strip + flow + feet + panel * cell.foot * g**2

    slope, curve = (energy(1) - energy(-1)) / 2, (energy(1) + energy(-1)) / 2 - energy(0)
    assert energy(-slope / (2 * curve)) == pytest.approx(exact, rel=0.02)
    assert (hat.J + strip) / exact < 0.2


# As data -----------------------------------------------------------------------------------------------

TRAPEZIUM = [["-20 mm", "0 mm"], ["20 mm", "0 mm"], ["10 mm", "30 mm"], ["-10 mm", "30 mm"]]


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        ({"shape": "tube", "width": "25 mm", "height": "1 in", "wall": 0.002}, TubeSection),
        ({"shape": "round tube", "diameter": "1 in", "wall": "2 mm"}, RoundTubeSection),
        ({"shape": "round tube", "diameter": "1 in", "wall": "2 mm", "saddle": "15 mm"}, RoundTubeSection),
        ({"shape": "angle", "foot": "30 mm", "upright": "25 mm", "wall": "3 mm"}, AngleSection),
        ({"shape": "tee", "foot": "30 mm", "upright": "25 mm", "wall": "3 mm"}, TeeSection),
        (
            {"shape": "channel", "web": "40 mm", "flange": "20 mm", "wall": "2 mm", "foot": "web"},
            ChannelSection,
        ),
        (
            {"shape": "channel", "web": "40 mm", "flange": "20 mm", "wall": "2 mm", "foot": "flange"},
            ChannelSection,
        ),
        (
            {"shape": "hat", "width": "30 mm", "height": "25 mm", "flange": "15 mm", "wall": "1 mm"},
            HatSection,
        ),
        ({"shape": "flat", "width": "30 mm", "height": "4 mm"}, FlatSection),
        ({"shape": "polygon", "points": TRAPEZIUM}, PolygonSection),
        (
            {
                "shape": "polygon",
                "points": TRAPEZIUM,
                "hole": [["-5 mm", "5 mm"], ["5 mm", "5 mm"], ["0 mm", "9 mm"]],
            },
            PolygonSection,
        ),
    ],
)
def test_sections_are_told_apart_by_their_shape(data: dict[str, object], kind: type) -> None:
    section = TypeAdapter(Section).validate_python(data)
    assert isinstance(section, kind)
    assert TypeAdapter(Section).validate_json(section.model_dump_json()) == section
    p = section.properties()
    assert p.foot_width == pytest.approx(section.foot_width, rel=1e-12)
    assert all(0 < size <= 2 * hypot(p.span, p.height) for size in section.sizes)


def test_sizes_reach_the_properties() -> None:
    p = TubeSection(width="25.4 mm", height="25.4 mm", wall="3.2 mm").properties()
    assert p == tube_properties(0.0254, 0.0254, 0.0032)
    assert AngleSection(foot=0.03, upright=0.02, wall=0.002).properties() == angle_properties(
        0.03, 0.02, 0.002
    )
    assert TeeSection(foot=0.03, upright=0.02, wall=0.002).properties() == tee_properties(0.03, 0.02, 0.002)
    assert FlatSection(width=0.03, height=0.004).properties() == flat_properties(0.03, 0.004)
    assert RoundTubeSection(diameter=0.02, wall=0.002, saddle=0.01).properties() == round_tube_properties(
        0.02, 0.002, 0.01
    )
    assert ChannelSection(
        web=0.04, flange=0.02, wall=0.002, foot="flange"
    ).properties() == channel_properties(0.04, 0.02, 0.002, foot="flange")
    assert HatSection(width=0.03, height=0.02, flange=0.01, wall=0.001).properties() == hat_properties(
        0.03, 0.02, 0.01, 0.001
    )


def test_either_leg_of_an_angle_lies_down() -> None:
    flat = AngleSection(foot="40 mm", upright="20 mm", wall="3 mm").properties()
    tall = AngleSection(foot="20 mm", upright="40 mm", wall="3 mm").properties()
    assert (flat.area, flat.J, flat.I, flat.I_z) == pytest.approx(
        (tall.area, tall.J, tall.I_z, tall.I), rel=1e-3
    )
    assert (flat.foot_width, tall.foot_width) == (0.04, 0.02)


def polygon(*points: tuple[float, float], hole: tuple | None = None) -> PolygonSection:
    return PolygonSection(points=mm(*points), hole=None if hole is None else mm(*hole))


SQUARE = ((0, 0), (20, 0), (20, 20), (0, 20))


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: TubeSection(width="25 mm", height="20 mm", wall="10 mm"),
            "TubeSection: The tube 25 x 20 mm has a wall of 10 mm, which leaves no hollow; give a wall under "
            "10 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: TubeSection(width="25 mm", height="25 mm", wall="20 mm"),
            "TubeSection: The tube 25 x 25 mm has a wall of 20 mm, which leaves no hollow; give a wall under "
            "12.5 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: RoundTubeSection(diameter="25 mm", wall="12.5 mm"),
            "RoundTubeSection: The round tube of 25 mm has a wall of 12.5 mm, which leaves no hollow; give a "
            "wall under 12.5 mm.",
        ),
        (
            lambda: RoundTubeSection(diameter="25 mm", wall="2 mm", saddle="30 mm"),
            "RoundTubeSection: The saddle is 30 mm wide under a round tube of 25 mm; give the width in which "
            "it holds the tube, at most its diameter.",
        ),
        (
            lambda: AngleSection(foot="20 mm", upright="30 mm", wall="20 mm"),
            "AngleSection: The angle 20 x 30 mm has a wall of 20 mm, as thick as a leg is long; give a wall "
            "under 20 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: AngleSection(foot="20 mm", upright="30 mm", wall="2 mm", flip=True),
            "AngleSection.flip: there is no such field; known: foot, shape, upright, wall",
        ),
        (
            lambda: TeeSection(foot="20 mm", upright="30 mm", wall="20 mm"),
            "TeeSection: The T 20 x 30 mm has a wall of 20 mm, which leaves no flange or no web; give a wall "
            "under 20 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: ChannelSection(web="40 mm", flange="30 mm", wall="20 mm", foot="web"),
            "ChannelSection: The channel 40 x 30 mm has a wall of 20 mm, which closes it; give a wall under "
            "20 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: HatSection(width="40 mm", height="30 mm", flange="10 mm", wall="15 mm"),
            "HatSection: The hat 40 x 30 mm has a wall of 15 mm, which leaves no hollow; give a wall under "
            "15 mm, or a section of shape 'flat'.",
        ),
        (
            lambda: FlatSection(width="20 mm", height="-3 mm"),
            'FlatSection.height: "-3 mm" is not above zero',
        ),
        (
            lambda: FlatSection(width="20 mm", hight="3 mm", height="3 mm"),
            "FlatSection.hight: there is no such field; did you mean 'height'?",
        ),
        (lambda: FlatSection(width="20 mm"), "FlatSection.height: is missing; give it"),
        (
            lambda: polygon((0, 0), (20, 0), (0, 20), (20, 20)),
            "PolygonSection: The section crosses or touches itself near offset 10 mm, height 10 mm; list its "
            "corners in order, once round.",
        ),
        (
            lambda: polygon((0, 0), (20, 0), (40, 0)),
            "PolygonSection: The section encloses no area; give corners that do not lie on one line.",
        ),
        (
            lambda: polygon((0, 5), (20, 5), (20, 20)),
            "PolygonSection: The section does not stand on the panel: its lowest point is at height 5 mm; move "
            "it down by 5 mm.",
        ),
        (
            lambda: polygon((0, -5), (20, -5), (20, 20)),
            "PolygonSection: The section does not stand on the panel: its lowest point is at height -5 mm; "
            "move it up by 5 mm.",
        ),
        (
            lambda: polygon((0, 0), (20, 10), (0, 20), (-20, 10)),
            "PolygonSection: The section does not stand on the panel: it touches it in a point only; give it a "
            "side at height 0, or take a section of shape 'round tube' with a saddle.",
        ),
        (
            lambda: polygon(*SQUARE, hole=((5, 5), (25, 5), (5, 15))),
            "PolygonSection: The section's hole is not inside its outline; move the hole's points so that wall "
            "is left all round.",
        ),
        (
            lambda: polygon(*SQUARE, hole=((5, 5), (15, 5), (5, 15), (15, 15))),
            "PolygonSection: The section's hole crosses or touches itself near offset 10 mm, height 10 mm; list "
            "its corners in order, once round.",
        ),
    ],
)
def test_impossible_sections(make, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make()
    assert str(caught.value) == sentence
