"""Panels read from DXF files: shapes against closed forms, and files that are wrong or hostile.

The files are written with ezdxf, a general-purpose library, and its own flattening and exploding of entities
serve as references. Areas and perimeters are those of elementary geometry.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

ezdxf = pytest.importorskip("ezdxf")

from ezdxf import path as ezpath  # noqa: E402
from ezdxf.disassemble import recursive_decompose  # noqa: E402
from hypothesis import HealthCheck, given, settings  # noqa: E402
from hypothesis import strategies as st  # noqa: E402
from scipy.special import ellipe  # noqa: E402

from splitterfem import curves  # noqa: E402
from splitterfem.design.drawing import Drawing, read_dxf  # noqa: E402
from splitterfem.errors import DesignError, FileError, MissingExtraError, SplitterError  # noqa: E402

FIT = 1e-5  # what the reader promises for ellipses and splines, m
BOX = [(-600, -800), (0, -800), (0, 800), (-600, 800)]


@pytest.fixture
def draw(tmp_path: Path) -> Callable[..., Drawing]:
    """Write a drawing by a function of its model space, and read it."""

    def both(
        what: Callable[..., object], *, units: int = 4, version: str = "R2013", **options: object
    ) -> Drawing:
        document = ezdxf.new(version, units=units)
        what(document.modelspace())
        place = tmp_path / "panel.dxf"
        document.saveas(place)
        return read_dxf(place, **options)

    return both


def box(msp, corners=BOX, **attributes) -> None:
    msp.add_lwpolyline(corners, close=True, dxfattribs=attributes)


def area(drawing: Drawing) -> float:
    return curves.area(drawing.outline.loop())


def perimeter(drawing: Drawing) -> float:
    return curves.length(drawing.outline.loop())


def told(drawing: Drawing, words: str) -> bool:
    return any(words in sentence for sentence in drawing.report)


# --- shapes ---------------------------------------------------------------------------------------------------


def test_rectangle_of_a_polyline(draw) -> None:
    drawing = draw(box)
    assert area(drawing) == pytest.approx(0.96, rel=1e-12)
    assert perimeter(drawing) == pytest.approx(4.4, rel=1e-12)
    assert drawing.outline.polygon().bounds == pytest.approx((-0.6, -0.8, 0.0, 0.8), abs=1e-12)
    assert drawing.cutouts == ()
    assert drawing.report[0] == "The unit is mm, as the file says."


@pytest.mark.parametrize("old", [False, True], ids=["LWPOLYLINE", "POLYLINE"])
@pytest.mark.parametrize("bulge", [1.0, math.tan(math.radians(15)), -math.tan(math.radians(15)), 2.0])
def test_bulges_are_true_arcs(draw, old: bool, bulge: float) -> None:
    """A bulge is tan(angle / 4) (DXF reference); circular segment r²/2 (a - sin a)."""
    rows = [(-600, -300, 0), (0, -300, bulge), (0, 300, 0), (-600, 300, 0)]

    def what(msp) -> None:
        if old:
            msp.add_polyline2d(rows, format="xyb", close=True)
        else:
            msp.add_lwpolyline(rows, format="xyb", close=True)

    drawing = draw(what, version="R12" if old else "R2013", unit="mm")
    angle = 4.0 * math.atan(bulge)
    radius = 0.3 / abs(math.sin(0.5 * angle))
    segment = 0.5 * radius**2 * (angle - math.sin(angle))
    assert area(drawing) == pytest.approx(0.36 + segment, rel=1e-8)
    assert perimeter(drawing) == pytest.approx(1.8 + radius * abs(angle), rel=1e-8)
    assert not any(isinstance(curve, curves.Spline) for curve in drawing.outline.loop())
    assert sum(edge.via is not None for edge in drawing.outline.edges) == (2 if abs(bulge) > 1.0 else 1)


@pytest.mark.parametrize("seed", range(6))
def test_loose_lines_and_arcs_in_any_order(draw, seed: int) -> None:
    """A rectangle with rounded corners: area b h - (4 - pi) r², perimeter 2 (b + h) - (8 - 2 pi) r."""
    rng = np.random.default_rng(20 + seed)
    r, b, h = 150.0, 600.0, 1600.0
    parts: list[tuple] = []
    for i, (x, y) in enumerate([(r, r), (b - r, r), (b - r, h - r), (r, h - r)]):
        parts.append(("arc", (x, y), 180 + 90 * i, 270 + 90 * i))
    parts += [
        ("line", (r, 0), (b - r, 0)),
        ("line", (b, r), (b, h - r)),
        ("line", (b - r, h), (r, h)),
        ("line", (0, h - r), (0, r)),
    ]

    def what(msp) -> None:
        for i in rng.permutation(len(parts)):
            kind, *rest = parts[i]
            if kind == "arc":
                msp.add_arc(rest[0], r, rest[1], rest[2])
            else:
                msp.add_line(*(rest if rng.random() < 0.5 else rest[::-1]))

    drawing = draw(what)
    assert area(drawing) == pytest.approx(1e-6 * (b * h - (4 - math.pi) * r**2), rel=1e-8)
    assert perimeter(drawing) == pytest.approx(1e-3 * (2 * (b + h) - (8 - 2 * math.pi) * r), rel=1e-8)
    arcs = [curve for curve in drawing.outline.loop() if isinstance(curve, curves.Arc)]
    assert [arc.radius for arc in arcs] == pytest.approx([0.15] * 4, rel=1e-6)
    assert not told(drawing, "were joined")


def test_circles_keep_their_radius(draw) -> None:
    def what(msp) -> None:
        box(msp)
        msp.add_circle((-200, 300), 4.0, dxfattribs={"layer": "HOLES"})
        msp.add_arc((-200, 100), 12.5, 30, 390, dxfattribs={"layer": "HOLES"})
        msp.add_lwpolyline([(-210, -100, 1), (-190, -100, 1)], format="xyb", close=True)
        msp.add_ellipse((-200, -300), (20, 0), 1.0, dxfattribs={"layer": "HOLES"})

    drawing = draw(what)
    found = {cutout.name: cutout.circle for cutout in drawing.cutouts}
    assert {name: (c.centre, c.radius) for name, c in found.items()} == {
        "HOLES 1": ((-0.2, -0.3), 0.02),  # reaches furthest forward
        "HOLES 2": ((-0.2, 0.1), 0.0125),
        "HOLES 3": ((-0.2, 0.3), 0.004),
        "opening 1": ((-0.2, -0.1), 0.01),
    }


def test_an_ellipse(draw) -> None:
    """Area pi a b; perimeter 4 a E(e²), Abramowitz & Stegun 17.3.3."""
    drawing = draw(lambda msp: msp.add_ellipse((-300, 50), (300, 500), 0.3))
    a = math.hypot(0.3, 0.5)
    b = 0.3 * a
    assert perimeter(drawing) == pytest.approx(4.0 * a * ellipe(1.0 - 0.3**2), abs=8 * FIT)
    assert abs(area(drawing) - math.pi * a * b) <= FIT * perimeter(drawing)
    assert len(drawing.outline.edges) == 1  # one smooth closed curve
    points = curves.flatten(drawing.outline.loop(), 1e-6) - [-0.3, 0.05]
    along, across = points @ [0.3, 0.5] / a, points @ [-0.5, 0.3] / a
    off = (np.hypot(along / a, across / b) - 1.0) * b
    assert np.abs(off).max() <= 2.0 * FIT
    assert told(drawing, "1 ELLIPSE became smooth curves that lie within 0.01 mm")


def test_part_of_an_ellipse_and_its_chord(draw) -> None:
    """Half an ellipse: pi a b / 2. Parameters run counter-clockwise from the major axis (DXF reference)."""

    def what(msp) -> None:
        msp.add_ellipse((0, 0), (0, 800), 0.5, start_param=0.0, end_param=math.pi)
        msp.add_line((0, -800), (0, 800))

    drawing = draw(what)
    assert area(drawing) == pytest.approx(0.5 * math.pi * 0.8 * 0.4, abs=FIT * 2.5)
    assert drawing.outline.polygon().bounds[:3:2] == pytest.approx((-0.4, 0.0), abs=1e-5)


def rational_circle(msp, radius: float, **attributes) -> None:
    """A whole circle as a quadratic rational B-spline of nine points: Piegl & Tiller, The NURBS Book, ex. 7.2."""
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    w = math.sqrt(0.5)
    msp.add_rational_spline(
        [(radius * x, radius * y) for x, y in square],
        weights=[1, w, 1, w, 1, w, 1, w, 1],
        degree=2,
        knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
        dxfattribs=attributes,
    )


def test_a_rational_spline(draw) -> None:
    drawing = draw(lambda msp: rational_circle(msp, 500.0))
    points = curves.flatten(drawing.outline.loop(), 1e-6)
    assert np.abs(np.hypot(*points.T) - 0.5).max() <= FIT + 1e-6
    assert area(drawing) == pytest.approx(math.pi * 0.25, abs=FIT * math.pi)


def test_a_parabola(draw) -> None:
    """A quadratic Bézier curve is a parabola, with two thirds of base times height (Archimedes)."""

    def what(msp) -> None:
        msp.add_open_spline([(0, -800), (1000, 0), (0, 800)], degree=2)
        msp.add_line((0, 800), (0, -800))

    drawing = draw(what)
    assert area(drawing) == pytest.approx(2.0 / 3.0 * 1.6 * 0.5, abs=2.0 * FIT)
    assert drawing.outline.polygon().bounds[2] == pytest.approx(0.5, abs=FIT)


def test_a_spline_through_fit_points(draw) -> None:
    """Against the flattening of ezdxf."""
    points = [(-600, -700), (-100, -750), (0, -300), (20, 0), (0, 300), (-100, 750), (-600, 700)]
    document = ezdxf.new()
    spline = document.modelspace().add_spline(points)
    reference = np.array([p.xyz[:2] for p in ezpath.make_path(spline).flattening(0.001)])

    def what(msp) -> None:
        msp.add_spline(points)
        msp.add_line(points[-1], points[0])

    drawing = draw(what)
    x, y = 1e-3 * reference.T
    shoelace = 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))
    assert area(drawing) == pytest.approx(shoelace, abs=FIT * perimeter(drawing))


def test_a_spline_with_corners_keeps_them(draw) -> None:
    """A cubic with a triple knot has a corner there; of degree one it is a polygon."""
    polygon = [(-600, -800), (0, -700), (0, 700), (-600, 800), (-600, -800)]
    drawing = draw(lambda msp: msp.add_open_spline(polygon, degree=1))
    assert area(drawing) == pytest.approx(0.5 * (1.6 + 1.4) * 0.6, rel=1e-9)
    assert all(isinstance(curve, curves.Line) for curve in drawing.outline.loop())

    def two_parabolas(msp) -> None:
        control = [(0, -800), (400, -400), (0, 0), (400, 400), (0, 800)]
        msp.add_open_spline(control, degree=2, knots=[0, 0, 0, 1, 1, 2, 2, 2])
        msp.add_lwpolyline([(0, 800), (-500, 800), (-500, -800), (0, -800)])

    drawing = draw(two_parabolas)
    assert area(drawing) == pytest.approx(0.8 + 2 * 2.0 / 3.0 * 0.8 * 0.2, abs=2.0 * FIT)
    ends = [edge.to for edge in drawing.outline.edges]
    assert (0.0, 0.0) in ends


def test_a_spline_that_closes_smoothly_is_one_curve(draw) -> None:
    """Uniform cubic B-spline in closed form: de Boor, A Practical Guide to Splines (1978), ch. X."""
    control = np.array([(500 * math.cos(t), 700 * math.sin(t)) for t in np.linspace(0, math.tau, 13)[:-1]])

    def what(msp) -> None:
        msp.add_spline().set_closed([(x, y, 0.0) for x, y in control])

    drawing = draw(what)
    assert len(drawing.outline.edges) == 1
    u = np.linspace(0.0, 1.0, 200, endpoint=False)[:, None]
    basis = [(1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3]
    spans = [sum(b * np.roll(control, -i, axis=0)[k] for k, b in enumerate(basis)) / 6 for i in range(12)]
    x, y = 1e-3 * np.concatenate(spans).T
    shoelace = 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))
    assert area(drawing) == pytest.approx(shoelace, abs=FIT * perimeter(drawing))


def test_polylines_in_space_are_read_when_they_are_level(draw) -> None:
    level = [(x, y, 25.0) for x, y in BOX]
    assert area(draw(lambda msp: msp.add_polyline3d(level, close=True))) == pytest.approx(0.96)
    with pytest.raises(FileError, match=r"POLYLINE .* it is not level, for its heights differ by 50 mm"):
        draw(lambda msp: msp.add_polyline3d([*level[:3], (-600, 800, 75.0)], close=True))
    with pytest.raises(FileError, match=r"CIRCLE .* it does not lie flat in the plan"):
        draw(lambda msp: msp.add_circle((0, 0), 500, dxfattribs={"extrusion": (0, 1, 1)}))


def test_entities_seen_from_below(draw) -> None:
    """With extrusion (0, 0, -1) the x of the entity's own axes runs backwards (DXF reference, OCS)."""

    def what(msp) -> None:
        down = {"extrusion": (0, 0, -1)}
        msp.add_lwpolyline([(x, y) for x, y in BOX], close=True, dxfattribs=down)
        msp.add_circle((-450, 300), 20, dxfattribs=down)
        msp.add_arc((-300, 0), 100, 0, 180, dxfattribs=down)
        msp.add_line((200, 0), (400, 0))

    drawing = draw(what)
    assert drawing.outline.polygon().bounds == pytest.approx((0.0, -0.8, 0.6, 0.8))
    assert drawing.cutouts[0].circle.centre == (0.45, 0.3)
    half = drawing.cutouts[1].outline.polygon().bounds
    assert half == pytest.approx((0.2, 0.0, 0.4, 0.1), abs=1e-6)


# --- blocks ---------------------------------------------------------------------------------------------------


def test_nested_mirrored_and_scaled_blocks(draw) -> None:
    """Against the exploding of ezdxf."""
    centres = []

    def what(msp) -> None:
        inner = msp.doc.blocks.new("inner", base_point=(5, 7))
        inner.add_circle((10, 20), 6)
        inner.add_lwpolyline([(30, 0, 0.4), (60, 10), (45, 40)], format="xyb", close=True)
        outer = msp.doc.blocks.new("outer")
        outer.add_blockref("inner", (3, 4), dxfattribs={"xscale": 2, "yscale": -2, "rotation": 30})
        box(msp)
        scale = {"xscale": -0.5, "yscale": 0.5, "zscale": 0.5, "rotation": -50}
        for place in ((-300, 200), (-200, -300)):
            msp.add_blockref("outer", place, dxfattribs={**scale, "layer": "HOLES"})
        circles = [entity.dxf for entity in recursive_decompose(msp) if entity.dxftype() == "CIRCLE"]
        centres.extend((1e-3 * c.center.x, 1e-3 * c.center.y, 1e-3 * c.radius) for c in circles)

    drawing = draw(what)
    circles = [cutout.circle for cutout in drawing.cutouts if cutout.circle is not None]
    found = sorted((*circle.centre, circle.radius) for circle in circles)
    assert np.array(found) == pytest.approx(np.array(sorted(centres)), abs=1e-8)
    assert {cutout.name for cutout in drawing.cutouts} == {f"HOLES {i}" for i in (1, 2, 3, 4)}
    angle, chord = 4 * math.atan(0.4), math.hypot(30, 10)
    radius = chord / 2 / math.sin(angle / 2)
    expected = 0.5 * abs(30 * 40 - 10 * 15) + 0.5 * radius**2 * (angle - math.sin(angle))
    others = [cutout for cutout in drawing.cutouts if cutout.circle is None]
    assert [curves.area(cutout.outline.loop()) for cutout in others] == pytest.approx([1e-6 * expected] * 2)
    assert all(not isinstance(c, curves.Spline) for cutout in others for c in cutout.outline.loop())


def test_an_uneven_scale_makes_an_ellipse_of_a_circle(draw) -> None:
    def what(msp) -> None:
        block = msp.doc.blocks.new("round")
        block.add_circle((0, 0), 1)
        block.add_lwpolyline([(2, 0, 1), (4, 0, 1)], format="xyb", close=True)
        box(msp)
        msp.add_blockref("round", (-400, 0), dxfattribs={"xscale": 50, "yscale": 100, "rotation": 20})

    drawing = draw(what)
    areas = sorted(curves.area(cutout.outline.loop()) for cutout in drawing.cutouts)
    assert areas == pytest.approx([math.pi * 0.05 * 0.1] * 2, abs=FIT * 0.5)
    assert all(cutout.circle is None for cutout in drawing.cutouts)


def test_rows_and_columns_of_a_block(draw) -> None:
    def what(msp) -> None:
        msp.doc.blocks.new("hole").add_circle((0, 0), 10)
        box(msp)
        grid = {"row_count": 3, "column_count": 2, "row_spacing": 100, "column_spacing": 150}
        msp.add_blockref("hole", (-400, 0), dxfattribs=grid)

    centres = {cutout.circle.centre for cutout in draw(what).cutouts}
    assert centres == {(x, y) for x in (-0.4, -0.25) for y in (0.0, 0.1, 0.2)}


# --- ends, gaps and doubles -------------------------------------------------------------------------------------


def test_ends_that_nearly_meet_are_joined_and_told(draw) -> None:
    def what(msp) -> None:
        msp.add_line((0, -500), (0, 500.04))
        msp.add_arc((-300, 500), 300, 0, 90)
        msp.add_lwpolyline([(-300, 800), (-600, 800), (-600, -800)])
        msp.add_lwpolyline([(-600.03, -800.04), (-300, -800)])
        msp.add_arc((-300, -500), 300, 270, 360)

    drawing = draw(what)
    assert told(drawing, "Two ends at (-600, -800) mm were 0.05 mm apart and were joined.")
    assert told(drawing, "Two ends at (0, 500.04) mm were 0.04 mm apart and were joined.")
    arcs = [curve for curve in drawing.outline.loop() if isinstance(curve, curves.Arc)]
    assert [arc.radius for arc in arcs] == pytest.approx([0.3] * 2, abs=5e-9)  # the lines gave way
    assert area(drawing) == pytest.approx(0.6 * 1.6 - (2 - math.pi / 2) * 0.3**2, abs=0.5e-4 * 4.0)


def test_a_larger_gap_is_named_with_place_and_size(draw) -> None:
    def what(msp) -> None:
        msp.add_lwpolyline([(0, 0.5), (0, 800), (600, 800), (600, -800), (0, -800), (0, 0)])

    with pytest.raises(
        FileError, match=r"open by 0\.5 mm between \(0, 0(\.5)?\) mm and \(0, 0(\.5)?\) mm; close"
    ):
        draw(what)
    assert told(draw(what, snap="0.6 mm"), "were 0.5 mm apart and were joined")
    with pytest.raises(DesignError, match="snap is 6 mm; give a length between 0 and 5 mm"):
        draw(what, snap="6 mm")


def test_places_are_those_of_the_drawing(draw) -> None:
    """In its own axes and unit, whatever the car's are."""

    def what(msp) -> None:
        msp.add_lwpolyline([(10, 20), (70, 20), (70, 40), (10, 40), (10, 22.5)])

    with pytest.raises(
        FileError, match=r"panel\.dxf: .*open by 2\.5 in between \(10, 2.*\) in and \(10, 2.*\) in"
    ):
        draw(what, units=1, forward="-y", origin=("25 in", "-3 in"))


def test_short_chords_are_not_joined_with_each_other(draw) -> None:
    """A circle drawn as 60 000 / 5 lines far shorter than the snap distance keeps its shape."""
    t = np.linspace(0.0, math.tau, 3001)[:-1]
    rows = [(20 * math.cos(a), 20 * math.sin(a)) for a in t]

    def what(msp) -> None:
        box(msp, [(x + 300, y) for x, y in BOX])
        for a, b in zip(rows, rows[1:] + rows[:1], strict=True):
            msp.add_line(a, b)

    (hole,) = draw(what).cutouts
    assert len(hole.outline.edges) == 3000
    assert curves.area(hole.outline.loop()) == pytest.approx(math.pi * 0.02**2, rel=1e-5)


def test_three_lines_at_a_point_are_named(draw) -> None:
    def what(msp) -> None:
        box(msp)
        msp.add_lwpolyline([(-500, -700), (-300, 0), (-300, 200)])

    with pytest.raises(FileError, match="a loop is open by"):
        draw(what)

    def loose(msp) -> None:
        for a, b in zip(BOX, BOX[1:] + BOX[:1], strict=True):
            msp.add_line(a, b)
        msp.add_line((-600, -800), (0, 800))

    with pytest.raises(FileError, match=r"three or more ends of lines meet at \((0, 800|-600, -800)\) mm"):
        draw(loose)


def test_doubles_are_taken_once_and_told(draw) -> None:
    def what(msp) -> None:
        for a, b in zip(BOX, BOX[1:] + BOX[:1], strict=True):
            msp.add_line(a, b)
        msp.add_line(BOX[1], BOX[0])
        msp.add_point((0, 0))
        msp.add_line((-5, -5), (-5, -5))
        msp.add_circle((-300, 0), 50)
        msp.add_lwpolyline([(-350, 0, 1), (-250, 0, 1)], format="xyb", close=True)

    drawing = draw(what)
    assert area(drawing) == pytest.approx(0.96)
    assert [cutout.circle.radius for cutout in drawing.cutouts] == [0.05]
    assert sum("Drawn twice and taken once" in sentence for sentence in drawing.report) == 2
    assert told(drawing, "no extent: 1 LINE")
    assert told(drawing, "1 POINT")


# --- unit, axes, halves -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "unit", "metres"),
    [(1, "in", 0.0254), (2, "ft", 0.3048), (4, "mm", 0.001), (5, "cm", 0.01), (6, "m", 1.0)],
)
def test_unit_of_the_file(draw, code: int, unit: str, metres: float) -> None:
    """Codes of $INSUNITS in the DXF reference; the inch is 25.4 mm exactly."""
    size = 0.5 / metres
    drawing = draw(lambda msp: box(msp, [(0, 0), (size, 0), (size, size), (0, size)]), units=code)
    assert area(drawing) == pytest.approx(0.25, rel=1e-9)
    assert told(drawing, f"The unit is {unit}, as the file says.")


def test_a_file_without_unit_asks_for_it(draw) -> None:
    with pytest.raises(
        FileError, match=r"panel\.dxf does not name the unit .* give it, for example unit='mm'"
    ):
        draw(box, units=0)
    with pytest.raises(FileError, match="names a unit of code 7"):
        draw(box, units=7)
    assert told(draw(box, units=0, unit="mm"), "as asked for; the file names none")
    other = draw(lambda msp: box(msp, [(0, 0), (20, 0), (20, 40), (0, 40)]), units=4, unit="in")
    assert area(other) == pytest.approx(800 * 0.0254**2)
    assert told(other, "The unit is in, as asked for; the file names mm.")
    with pytest.raises(DesignError, match=r"unit: .kg. is not a unit of"):
        draw(box, unit="kg")
    with pytest.raises(
        FileError, match=r"largest loop is 600000 x 1600000 mm with the unit m, .* right unit"
    ):
        draw(box, units=6)


@pytest.mark.parametrize(
    ("forward", "place"),
    [("+x", (0.3, 0.1)), ("+y", (0.1, -0.3)), ("-x", (-0.3, -0.1)), ("-y", (-0.1, 0.3))],
)
def test_forward_and_origin(draw, forward: str, place: tuple[float, float]) -> None:
    """A hole 300 mm along +x and 100 mm along +y of the drawing from the origin, seen from above."""

    def what(msp) -> None:
        box(msp, [(0, 0), (1000, 0), (1000, 900), (0, 900)])
        msp.add_circle((500, 450), 20)
        msp.add_arc((400, 200), 50, 0, 90)
        msp.add_lwpolyline([(450, 200), (400, 200), (400, 250)])

    drawing = draw(what, forward=forward, origin=("200 mm", 0.35))
    round_one = next(cutout for cutout in drawing.cutouts if cutout.circle)
    assert round_one.circle.centre == pytest.approx(place, abs=1e-12)
    other = next(cutout for cutout in drawing.cutouts if not cutout.circle)
    assert curves.area(other.outline.loop()) == pytest.approx(math.pi * 0.05**2 / 4, rel=1e-6)
    assert area(drawing) == pytest.approx(0.9)  # counter-clockwise: turned and not mirrored
    assert told(drawing, f"its {forward} points forward")
    assert told(drawing, "its point (200, 350) mm lies on the front axle line")


def test_wrong_axes_are_refused(draw) -> None:
    with pytest.raises(DesignError, match=r"forward is 'x', .* did you mean"):
        draw(box, forward="x")
    with pytest.raises(DesignError, match=r"origin is .*; give two lengths"):
        draw(box, origin=("1 mm",))


def half_panel(msp, side: int = 1, *, centre_line: str = "none") -> None:
    """Half of a rounded rectangle, 600 x 800 mm, with openings."""
    rows = [
        (0, 0, 0),
        (0, 500, 0.0),
        (0, 500, math.tan(math.pi / 8)),
        (-300, 800, 0),
        (-600, 800, 0),
        (-600, 0, 0),
    ]
    rows = [(x, side * y, side * b) for x, y, b in rows]
    msp.add_lwpolyline(rows, format="xyb", close=centre_line == "closed")
    if centre_line == "line":
        msp.add_line((-700, 0), (200, 0))
    msp.add_circle((-300, side * 400), 60, dxfattribs={"layer": "tunnel"})
    msp.add_circle((-100, 0), 5, dxfattribs={"layer": "bolt"})
    msp.add_lwpolyline(
        [(-250, 0), (-250, side * 40), (-200, side * 40), (-200, 0)], dxfattribs={"layer": "slot"}
    )


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("centre_line", ["none", "line", "closed"])
def test_half_drawings_are_mirrored(draw, side: int, centre_line: str) -> None:
    drawing = draw(lambda msp: half_panel(msp, side, centre_line=centre_line), mirror=True)
    assert area(drawing) == pytest.approx(0.6 * 1.6 - (2 - math.pi / 2) * 0.3**2, rel=1e-8)
    assert drawing.outline.polygon().bounds == pytest.approx((-0.6, -0.8, 0.0, 0.8))
    found = {cutout.name: cutout for cutout in drawing.cutouts}
    assert set(found) == {"tunnel 1", "bolt 1", "slot 1"}
    assert found["tunnel 1"].mirror
    assert {name for name, _ in found["tunnel 1"].sides()} == {"tunnel 1 left", "tunnel 1 right"}
    assert not found["bolt 1"].mirror
    assert not found["slot 1"].mirror
    assert curves.area(found["slot 1"].outline.loop()) == pytest.approx(0.05 * 0.08)
    assert told(drawing, "centre line of a half drawing") == (centre_line != "none")


def test_a_half_drawing_that_is_none_is_refused(draw) -> None:
    with pytest.raises(
        FileError, match="no half drawing, for the largest loop does not end on the centre plane"
    ):
        draw(lambda msp: box(msp, [(x, y + 900) for x, y in BOX]), mirror=True)
    with pytest.raises(
        FileError, match=r"open by .* centre plane of a half drawing is y = 0|a loop is open by"
    ):
        draw(half_panel, mirror=True, origin=("0 mm", "20 mm"))
    with pytest.raises(FileError, match="no half drawing"):
        draw(box, mirror=True)

    def other_side(msp) -> None:
        half_panel(msp)
        msp.add_circle((-300, -400), 60)

    with pytest.raises(FileError, match="lies on the other side of the centre plane at"):
        draw(other_side, mirror=True)


def test_an_end_near_the_centre_plane_is_moved_onto_it(draw) -> None:
    drawing = draw(lambda msp: msp.add_lwpolyline([(0, 0.05), (0, 800), (-600, 800), (-600, 0)]), mirror=True)
    assert area(drawing) == pytest.approx(0.96)
    assert told(drawing, "The end at (0, 0.05) mm was 0.05 mm off the centre plane and was moved onto it.")


def test_a_smooth_half_is_mirrored(draw) -> None:
    """A quarter of an ellipse and its image: pi a b / 2."""

    def what(msp) -> None:
        msp.add_ellipse((0, 0), (0, 800), 0.5, start_param=1.5 * math.pi, end_param=math.tau)
        msp.add_line((0, 0), (0, 800))

    drawing = draw(what, mirror=True)
    assert area(drawing) == pytest.approx(0.5 * math.pi * 0.8 * 0.4, abs=FIT * 2.5)


# --- what belongs to the panel ----------------------------------------------------------------------------------


def test_text_dimensions_and_hidden_layers_are_left_out(draw) -> None:
    def what(msp) -> None:
        doc = msp.doc
        box(msp, layer="CUT")
        msp.add_text("OUTLINE")
        msp.add_mtext("15 mm")
        msp.add_linear_dim(base=(0, 900), p1=(-600, 800), p2=(0, 800)).render()
        msp.add_hatch().paths.add_polyline_path(BOX, is_closed=True)
        doc.layers.add("OFF").off()
        doc.layers.add("ICE").freeze()
        msp.add_line((0, 0), (9, 9), dxfattribs={"layer": "OFF"})
        msp.add_line((0, 0), (9, 9), dxfattribs={"layer": "ICE"})
        msp.add_line((0, 0), (9, 9), dxfattribs={"invisible": 1})
        doc.layout("Layout1").add_line((0, 0), (100, 100))

    drawing = draw(what)
    assert area(drawing) == pytest.approx(0.96)
    assert told(drawing, "Left out, for they draw no edges: 1 DIMENSION, 1 HATCH, 1 MTEXT, 1 TEXT.")
    assert sum("cannot be seen: 1 entity" in sentence for sentence in drawing.report) == 3


def test_layers_can_be_chosen(draw) -> None:
    def what(msp) -> None:
        block = msp.doc.blocks.new("bolts")
        block.add_circle((0, 0), 5)
        block.add_circle((30, 0), 5, dxfattribs={"layer": "NOTES"})
        box(msp, [(-900, -1000), (300, -1000), (300, 1000), (-900, 1000)], layer="FRAME")
        box(msp, layer="Outline")
        msp.add_blockref("bolts", (-300, 0), dxfattribs={"layer": "HOLES"})

    with pytest.raises(FileError, match=r"lies within an opening.*a frame was taken for the outline"):
        draw(what)
    drawing = draw(what, layer=("outline", "HOLES"))
    assert area(drawing) == pytest.approx(0.96)
    assert [cutout.name for cutout in drawing.cutouts] == ["HOLES 1"]
    assert told(drawing, "not asked for: everything on layer 'FRAME', 'NOTES'.")
    with pytest.raises(FileError, match="nothing is drawn on a layer 'outlin'; did you mean 'Outline'"):
        draw(what, layer="outlin")


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        (
            lambda msp: msp.add_circle((100, 0), 20),
            r"loop of 40 x 40 mm .* at \(120, 0\) mm lies outside the largest",
        ),
        (lambda msp: msp.add_circle((0, 0), 20), "crosses or touches the outline"),
        (lambda msp: msp.add_circle((-20, 0), 20), "crosses or touches the outline"),
        (
            lambda msp: [msp.add_circle((-300, 0), 50), msp.add_circle((-300, 0), 20)],
            r"loop on layer '0' at \(-280, 0\) mm lies within an opening",
        ),
        (
            lambda msp: [msp.add_circle((-300, 0), 50), msp.add_circle((-300, 80), 50)],
            "two openings cross or touch at",
        ),
        (
            lambda msp: box(msp, [(-400, 0), (-300, 100), (-300, 0), (-400, 100)]),
            r"crosses or touches itself at \(-350, 50\) mm",
        ),
        (lambda msp: box(msp, [(-400, 0), (-300, 0)]), "encloses nothing"),
    ],
)
def test_loops_that_make_no_panel(draw, extra, sentence: str) -> None:
    def what(msp) -> None:
        box(msp)
        extra(msp)

    with pytest.raises(FileError, match=sentence):
        draw(what)


def test_too_many_openings(draw) -> None:
    def what(msp) -> None:
        box(msp)
        for i in range(201):
            msp.add_circle((-580 + 27 * (i % 20), -700 + 100 * (i // 20)), 5)

    with pytest.raises(FileError, match="there are 201 openings; a panel has at most 200"):
        draw(what)


def test_names_of_layers_become_names_of_parts(draw) -> None:
    long = "a very long name of a layer that somebody thought of " * 2

    def what(msp) -> None:
        box(msp)
        msp.add_circle((-300, 0), 20, dxfattribs={"layer": long})
        msp.add_circle((-300, 100), 20, dxfattribs={"layer": " spaced\u200b "})

    names = [cutout.name for cutout in draw(what).cutouts]
    assert all(len(name) <= 60 and name.isprintable() and name == name.strip() for name in names)
    assert len(set(names)) == 2


# --- wrong and hostile files ------------------------------------------------------------------------------------


def refused(place: Path, sentence: str, **options: object) -> None:
    with pytest.raises(FileError, match=sentence) as caught:
        read_dxf(place, unit="mm", **options)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 700


def test_files_that_are_no_dxf(tmp_path: Path) -> None:
    place = tmp_path / "panel.dxf"
    refused(place, "there is no file .*panel.dxf; check the path")
    refused(tmp_path, "is not a file; give the path")
    for content, sentence in [
        (b"", "has no SECTION"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00", "panel.dxf is a binary DXF; save it as ASCII DXF"),
        (b"AC1032\x00\x00", "panel.dxf is a DWG; save it as DXF"),
        (b"\x00\x01\x02", "is not text"),
        (b"x_mm,y_mm\n1,2\n", "has no SECTION"),
        (
            b"0\nSECTION\n2\n" + b"A" * 20_000 + b"\n0\nEOF\n",
            "line 4: the line is longer than 10000 characters",
        ),
        (
            b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nzero\n0\nENDSEC\n0\nEOF\n",
            "cannot be read as DXF|LINE|nothing is left that could be an outline",
        ),
        (b"0\nSECTION\nx\ny\n0\nEOF\n", "cannot be read as DXF|nothing that draws"),
        (b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", "there is nothing that draws an edge"),
        (b" " * 10_000_001, "larger than 10 MB"),
        (b"0\nSECTION\n2\nENTITIES\n" + b"0\nPOINT\n" * 100_000 + b"0\nEOF\n", "has 100001 records"),
    ]:
        place.write_bytes(content)
        refused(place, sentence)


def test_a_truncated_file_is_refused_wherever_it_ends(tmp_path: Path) -> None:
    document = ezdxf.new("R12")
    box(document.modelspace()) if document.dxfversion > "AC1009" else document.modelspace().add_polyline2d(
        BOX, close=True
    )
    document.modelspace().add_circle((-300, 0), 50)
    place = tmp_path / "panel.dxf"
    document.saveas(place)
    content = place.read_bytes()
    assert len(read_dxf(place, unit="mm").cutouts) == 1
    for share in (0.2, 0.5, 0.9, 0.97, 0.999):
        place.write_bytes(content[: int(share * len(content)) - 4])
        refused(
            place, "is cut off, for it ends with .* and not with EOF; save or copy it anew|has no SECTION"
        )


def test_a_damaged_file_is_mended_and_told(tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    box(document.modelspace())
    place = tmp_path / "panel.dxf"
    document.saveas(place)
    text = place.read_text()
    head, tail = text.split("  2\nTABLES", 1)  # a section without its beginning
    place.write_text(head.replace("  0\nSECTION\n", "", 1) + "  2\nTABLES" + tail)
    drawing = read_dxf(place, unit="mm")
    assert area(drawing) == pytest.approx(0.96)
    assert told(drawing, "The file is damaged")


def hostile(tmp_path: Path, what: Callable[..., object], *changes: tuple[str, str]) -> Path:
    document = ezdxf.new("R2000", units=4)
    box(document.modelspace())
    what(document)
    place = tmp_path / "panel.dxf"
    document.saveas(place)
    text = place.read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    place.write_text(text)
    return place


def test_blocks_that_contain_themselves(tmp_path: Path) -> None:
    def itself(doc) -> None:
        doc.blocks.new("A").add_blockref("A", (1, 1))
        doc.modelspace().add_blockref("A", (0, 0))

    refused(hostile(tmp_path, itself), "the block 'A' contains itself; save the drawing anew")

    def each_other(doc) -> None:
        doc.blocks.new("A").add_blockref("B", (1, 1))
        doc.blocks.new("B").add_blockref("a", (1, 1))
        doc.modelspace().add_blockref("A", (0, 0))

    refused(hostile(tmp_path, each_other), "the block 'a' contains itself")


def test_blocks_nested_too_deeply_or_too_often(tmp_path: Path) -> None:
    def tower(width: int, height: int) -> Callable[..., None]:
        def what(doc) -> None:
            for level in range(height):
                block = doc.blocks.new(f"L{level}")
                for i in range(width if level else 0):
                    block.add_blockref(f"L{level - 1}", (i, 0))
            doc.modelspace().add_blockref(f"L{height - 1}", (0, 0))

        return what

    refused(hostile(tmp_path, tower(1, 40)), "blocks are nested more than 12 deep at 'L27'; explode them")
    refused(hostile(tmp_path, tower(1, 1500)), "blocks are nested more than 12 deep")
    refused(
        hostile(tmp_path, tower(30, 10)), "more than 20000 entities, counted as often as blocks repeat them"
    )

    def grid(doc) -> None:
        doc.blocks.new("dot").add_circle((0, 0), 1)
        doc.modelspace().add_blockref("dot", (0, 0), dxfattribs={"row_count": 32000, "column_count": 32000})

    refused(hostile(tmp_path, grid), "more than 20000 entities")


def test_references_to_other_drawings_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "secret.dxf").write_text("no drawing at all")

    def what(doc) -> None:
        doc.add_xref_def("secret.dxf", "other")
        doc.modelspace().add_blockref("other", (0, 0))
        doc.modelspace().add_blockref("nowhere", (0, 0))

    drawing = read_dxf(hostile(tmp_path, what))
    assert told(drawing, "1 INSERT of 'other' (reference to another drawing)")
    assert told(drawing, "1 INSERT of 'nowhere' (missing block)")


CIRCLE = (lambda doc: doc.modelspace().add_circle((-311, 17), 53.5), "CIRCLE")


@pytest.mark.parametrize("bad", ["nan", "inf", "-inf", "1e308", "1e400", "-1e12"])
@pytest.mark.parametrize("number", ["-311.0", "53.5"])
def test_numbers_that_are_none(tmp_path: Path, bad: str, number: str) -> None:
    place = hostile(tmp_path, CIRCLE[0], (f"\n{number}\n", f"\n{bad}\n"))
    refused(place, "CIRCLE .* on layer '0': .*(not a finite number|not finite|reaches|above zero)")


@pytest.mark.parametrize("bad", ["nan", "1e308", "1e7", "zero"])
def test_bad_numbers_in_lines_polylines_and_insertions(tmp_path: Path, bad: str) -> None:
    def line(doc) -> None:
        doc.modelspace().add_line((-311, 17), (-300, 50))

    def polyline(doc) -> None:
        doc.modelspace().add_lwpolyline([(-311, 17), (-300, 50), (-200, 0)])

    def bulge(doc) -> None:
        doc.modelspace().add_lwpolyline([(-300, 17, -311), (-300, 50, 0), (-200, 0, 0)], format="xyb")

    def insertion(doc) -> None:
        doc.blocks.new("dot").add_circle((0, 0), 1)
        doc.modelspace().add_blockref("dot", (-311, 17))

    for what in (line, polyline, bulge, insertion):
        place = hostile(tmp_path, what, ("\n-311.0\n", f"\n{bad}\n"))
        refused(place, "panel.dxf")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda s: setattr(s, "knots", [0, 0, 0, 0, 3, 2, 4, 4, 4, 4]), "knots do not increase"),
        (lambda s: setattr(s, "knots", [0, 0, 0, 0, 4, 4, 4, 4]), "do not belong together|knot"),
        (lambda s: setattr(s, "knots", [1.0] * 10), "knots span nothing|knot"),
        (lambda s: setattr(s, "weights", [1, 1, -1, 1, 1, 1]), "weights are not all above zero"),
        (lambda s: setattr(s, "weights", [1, 1, math.nan, 1, 1, 1]), "weights are not all above zero"),
        (lambda s: s.dxf.set("degree", 99), "6 control points and degree 99"),
        (lambda s: setattr(s, "knots", [0, 0, 0, 2, 2, 2, 2, 4, 4, 4]), "torn apart|knot|span"),
    ],
)
def test_splines_that_are_none(tmp_path: Path, change, sentence: str) -> None:
    def what(doc) -> None:
        control = [(-400, 0), (-380, 60), (-300, 80), (-200, 10), (-300, -50), (-350, -20)]
        spline = doc.modelspace().add_open_spline(control)
        change(spline)

    refused(hostile(tmp_path, what), rf"SPLINE .* on layer '0': .*({sentence})")


def test_too_many_vertices_and_edges(tmp_path: Path) -> None:
    def vertices(doc) -> None:
        doc.modelspace().add_lwpolyline([(i % 7, i % 5) for i in range(20_001)])

    refused(hostile(tmp_path, vertices), "more than 20000 vertices together")

    def edges(doc) -> None:
        t = np.linspace(0.0, math.tau, 6001)[:-1]
        rows = np.column_stack([100 * np.cos(t) - 300, 100 * np.sin(t)])
        doc.modelspace().add_lwpolyline(rows.tolist(), close=True)

    refused(hostile(tmp_path, edges), "has 6000 edges and may have 5000; redraw it with arcs or splines")


def test_a_shrunken_block_and_a_flat_ellipse_have_no_extent(tmp_path: Path) -> None:
    def what(doc) -> None:
        doc.blocks.new("dot").add_circle((0, 0), 1)
        doc.modelspace().add_blockref("dot", (-300, 0), dxfattribs={"xscale": 1e-9, "yscale": 1e-9})

    assert told(read_dxf(hostile(tmp_path, what)), "no extent: 1 CIRCLE")


def test_the_missing_package_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = hostile(tmp_path, lambda doc: None)
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(
        MissingExtraError, match=r"needs ezdxf, which is not installed: run  pip install 'splitterfem\[dxf\]'"
    ):
        read_dxf(place)


def test_nothing_is_written_to_the_terminal(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    place = hostile(tmp_path, CIRCLE[0], ("\n53.5\n", "\nzero\n"))
    with pytest.raises(FileError):
        read_dxf(place)
    assert capfd.readouterr() == ("", "")


@pytest.fixture(scope="module")
def whole_file(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    document = ezdxf.new("R12", units=4)
    msp = document.modelspace()
    msp.add_polyline2d([(*p, 0.1) for p in BOX], format="xyb", close=True)
    document.blocks.new("hole").add_circle((0, 0), 20)
    msp.add_blockref("hole", (-300, 100))
    msp.add_arc((-300, -100), 50, 0, 180)
    msp.add_line((-350, -100), (-250, -100))
    place = tmp_path_factory.mktemp("dxf") / "whole.dxf"
    document.saveas(place)
    assert len(read_dxf(place, unit="mm").cutouts) == 2
    return place.read_bytes().splitlines()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_scrambled_files_are_read_or_refused(
    tmp_path: Path, whole_file: list[bytes], data: st.DataObject
) -> None:
    """Whatever is changed, there is a drawing or one sentence."""
    lines = list(whole_file)
    entities = lines.index(b"ENTITIES")
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(entities if data.draw(st.booleans()) else 0, len(lines) - 3))
        new = data.draw(
            st.sampled_from(
                [b"nan", b"0", b"-1", b"1e999", b"INSERT", b"hole", b"SPLINE", b"70", b"", b"\xff", b"41"]
            )
        )
        lines[at] = new
    place = tmp_path / "scrambled.dxf"
    place.write_bytes(b"\n".join(lines) + b"\n")
    sentence, found = "", 1.0
    try:
        found = area(read_dxf(place, unit="mm"))
    except SplitterError as problem:
        sentence = str(problem)
    assert "\n" not in sentence
    assert found > 0.0
