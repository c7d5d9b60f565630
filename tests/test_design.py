"""Designs: what is accepted, what is refused and in which words, and the geometry that follows.

Areas and tangent lengths are compared with closed forms of plane geometry.
"""

from __future__ import annotations

import copy
import math
import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splitterfem import curves
from splitterfem.design import (
    Bolt,
    Car,
    Circle,
    CutOut,
    Edge,
    FunctionMap,
    LoadCase,
    MeshSettings,
    Outline,
    Pad,
    Panel,
    PatchForce,
    Pin,
    PointForce,
    RearPocket,
    Rectangle,
    Rib,
    Sheet,
    Splitter,
    Stop,
    Strut,
    TapMap,
    UniformMap,
    check,
)
from splitterfem.errors import DesignError, SplitterError
from splitterfem.materials import AngleSection, BarMaterial, SheetMaterial, TubeSection

TUBE = TubeSection(width="25 mm", height="25 mm", wall="3 mm")
SHEET = Sheet(material="birch plywood 12 mm", thickness="12 mm")


def panel(**changes: Any) -> Panel:
    """A rectangle of 600 x 1600 mm."""
    outline = Outline.rectangle(0, "600 mm", "-800 mm", "800 mm")
    return Panel(**({"outline": outline, "sheet": SHEET} | changes))


def plain(**changes: Any) -> Splitter:
    """A splitter without any part."""
    return Splitter(**({"name": "plain", "panel": panel(), "car": Car(ride_height="80 mm")} | changes))


def rib(name: str = "cross", **changes: Any) -> Rib:
    points = (("400 mm", "-500 mm"), ("400 mm", "500 mm"))
    return Rib(**({"name": name, "points": points, "section": TUBE, "material": "mild steel"} | changes))


def strut(name: str = "front", **changes: Any) -> Strut:
    fields = {"foot": ("500 mm", "300 mm"), "head": ("450 mm", "300 mm", "300 mm"), "diameter": "8 mm"}
    return Strut(**({"name": name} | fields | changes))


def complaint(make: Any, *args: Any, **fields: Any) -> str:
    """The text of the error that something raises."""
    with pytest.raises(DesignError) as caught:
        make(*args, **fields)
    return str(caught.value)


# outlines ---------------------------------------------------------------------------------------


def test_rectangle_with_rounded_corners_has_the_area_of_the_formula() -> None:
    outline = Outline.rectangle("0 mm", "600 mm", "-800 mm", "800 mm", round="50 mm")
    assert curves.area(outline.loop()) == pytest.approx(0.6 * 1.6 - (4 - math.pi) * 0.05**2, rel=1e-12)
    assert outline.polygon(1e-5).area == pytest.approx(0.6 * 1.6 - (4 - math.pi) * 0.05**2, rel=1e-5)


def test_rounding_that_uses_up_the_sides_makes_a_circle() -> None:
    outline = Outline.rectangle(0, 1, 0, 1, round=0.5)
    assert all(isinstance(curve, curves.Arc) for curve in outline.loop())
    assert curves.area(outline.loop()) == pytest.approx(math.pi / 4, rel=1e-12)


def test_circle_has_the_area_of_the_formula() -> None:
    outline = Outline.circle(("0.2 m", 0), "10 in")
    assert curves.area(outline.loop()) == pytest.approx(math.pi * 0.254**2, rel=1e-12)


@settings(deadline=None)
@given(st.floats(0.2, 2.9), st.floats(0.001, 0.05), st.booleans())
def test_rounded_corner_is_tangent_to_both_sides(turn: float, radius: float, left: bool) -> None:
    """Cut r tan(turn/2), arc length r turn, tangent at both ends: plane geometry."""
    sign = 1.0 if left else -1.0
    end = (1 + math.cos(turn), sign * math.sin(turn))
    edges = [{"to": (1, 0), "round": radius}, {"to": end}, {"to": (0.9, 10.0 * sign)}]
    line, arc, *_ = Outline(start=(0, 0), edges=edges).loop()
    assert isinstance(arc, curves.Arc)
    assert arc.radius == pytest.approx(radius, rel=1e-6)
    assert arc.length == pytest.approx(radius * turn, rel=1e-6)
    assert line.length == pytest.approx(1 - radius * math.tan(turn / 2), rel=1e-9)
    slope = arc.derivative(np.array([0.0, 1.0]))
    assert math.atan2(slope[0, 1], slope[0, 0]) == pytest.approx(0.0, abs=1e-5)
    assert math.atan2(slope[1, 1], slope[1, 0]) == pytest.approx(sign * turn, abs=1e-5)


def test_rounding_at_the_closing_corner() -> None:
    edges = [{"to": (1, 0)}, {"to": (1, 1)}, {"to": (0, 1)}, {"to": (0, 0), "round": 0.1}]
    area = curves.area(Outline(start=(0, 0), edges=edges).loop())
    assert area == pytest.approx(1 - (1 - math.pi / 4) * 0.1**2, rel=1e-12)


def test_an_open_outline_closes_by_a_straight_line() -> None:
    outline = Outline(start=(0, 0), edges=[{"to": (1, 0)}, {"to": (0, 1)}])
    assert len(outline.loop()) == 3
    assert curves.area(outline.loop()) == pytest.approx(0.5)


def test_arc_edge_passes_through_its_middle_point() -> None:
    outline = Outline(start=(1, 0), edges=[{"to": (-1, 0), "via": (0, 1)}])
    assert curves.area(outline.loop()) == pytest.approx(math.pi / 2, rel=1e-12)


def test_half_an_outline_and_its_mirror_image_are_the_whole() -> None:
    half = [
        {"to": ("550 mm", "600 mm")},
        {"to": ("400 mm", "800 mm"), "via": ("500 mm", "740 mm")},
        {"to": ("0 mm", "800 mm"), "round": "40 mm"},
        {"to": ("0 mm", "0 mm")},
    ]
    whole = Outline(start=("600 mm", 0), edges=half, mirror=True).polygon(1e-5)
    left = Outline(start=("600 mm", 0), edges=half).polygon(1e-5)
    assert whole.area == pytest.approx(2 * left.area, rel=1e-12)
    x0, y0, x1, y1 = whole.bounds
    assert (x0, x1, y1 + y0) == pytest.approx((0, 0.6, 0), abs=1e-12)


@pytest.mark.parametrize("closed_by_spline", [False, True])
def test_a_spline_runs_smoothly_across_the_centre_plane(closed_by_spline: bool) -> None:
    front = {"to": (0.4, 0.8), "through": [(0.58, 0.3), (0.5, 0.6)]}
    rear = (
        [{"to": (0, 0), "through": [(0.1, 0.5)]}] if closed_by_spline else [{"to": (0, 0.8)}, {"to": (0, 0)}]
    )
    outline = Outline(start=(0.6, 0), edges=[front, *rear], mirror=True)
    splines = [curve for curve in outline.loop() if isinstance(curve, curves.Spline)]
    assert len(splines) == (2 if closed_by_spline else 1)
    for spline in splines:
        t = np.linspace(0, 1, 20001)
        nearest = int(np.argmin(np.abs(spline.at(t)[:, 1])))
        tangent = spline.derivative(t[nearest])[0]
        assert abs(tangent[0]) < 1e-4 * abs(tangent[1])  # square to the centre plane: no kink


def test_one_spline_makes_a_closed_smooth_outline() -> None:
    edge = {"to": (-1, 0), "through": [(math.cos(a), math.sin(a)) for a in np.linspace(0, math.pi, 18)[1:-1]]}
    outline = Outline(start=(1, 0), edges=[edge], mirror=True)
    assert curves.area(outline.loop()) == pytest.approx(math.pi, rel=1e-4)  # a spline through a circle


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"start": (0, 0.1), "edges": [{"to": (1, 0)}], "mirror": True}, "starts at (0.0, 100.0) mm"),
        ({"start": (0, 0), "edges": [{"to": (1, 0.1)}], "mirror": True}, "ends at (1000.0, 100.0) mm"),
        (
            {"start": (0, 0), "edges": [{"to": (1, -0.1)}, {"to": (1, 0)}], "mirror": True},
            "runs on the left side, where y is positive, but it has a point at (1000.0, -100.0) mm",
        ),
        ({"start": (0, 0), "edges": [{"to": (0, 0)}]}, "The line at (0.0, 0.0) mm has no length"),
        ({"start": (0, 0), "edges": [{"to": (2, 0), "via": (1, 0)}]}, "has its points on a straight line"),
        (
            {"start": (0, 0), "edges": [{"to": (1, 0), "round": 1.1}, {"to": (1, 3)}]},
            "the rounding does not fit the side from (0.0, 0.0) to (1000.0, 0.0) mm",
        ),
        (
            {"start": (0, 0), "edges": [{"to": (1, 0), "round": 0.1}, {"to": (0, 1), "via": (1, 1)}]},
            "the corner at (1000.0, 0.0) mm joins a curve and cannot be rounded",
        ),
        (
            {"start": (0, 0), "edges": [{"to": (1, 0), "via": (0.5, 0.5), "round": 0.1}, {"to": (1, 1)}]},
            "edges.#1: round belongs to the corner between two straight edges",
        ),
        (
            {"start": (0, 0), "edges": [{"to": (1, 0), "via": (0.5, 0.5), "through": [(0.2, 0.2)]}]},
            "an edge has via (an arc) or through (a spline), not both",
        ),
        ({"start": (0, 0), "edges": []}, "edges: has 0 items; give at least 1"),
        ({"start": (0, 0), "edges": [{"to": (1, "1,5 mm")}]}, 'edges.#1.to.y: "1,5 mm" has a decimal comma'),
        ({"start": (0, 0), "edges": [{"two": (1, 0)}]}, "edges.#1.two: there is no such field"),
        ({"start": (0, 0), "edges": [{"too": (1, 0)}]}, "did you mean 'to'?"),
    ],
)
def test_outlines_that_cannot_be_drawn(fields: dict[str, Any], sentence: str) -> None:
    assert sentence in complaint(Outline, **fields)


def test_short_forms_of_shapes() -> None:
    assert "x runs from 500 mm to 200 mm; write the smaller first" in complaint(
        Rectangle, x=("500 mm", "200 mm"), y=("0 mm", "1 mm")
    )
    assert "corners of radius 60 mm do not fit a side of 100 mm; give at most 50 mm" in complaint(
        Rectangle, x=("0 mm", "100 mm"), y=("0 mm", "1 m"), round="60 mm"
    )
    square = Rectangle(x=("0 mm", "100 mm"), y=("0 mm", "100 mm"))
    assert square.shifted(0.1, 0.0).x == (0.1, 0.2)
    assert Circle(centre=(0, 0), radius=1).shifted(0.0, 2.0).centre == (0.0, 2.0)


def test_cut_out_has_exactly_one_shape() -> None:
    square = {"x": ["0 mm", "100 mm"], "y": ["0 mm", "100 mm"]}
    assert CutOut(name="a", rectangle=square).outline.polygon().area == pytest.approx(0.01)
    round_one = CutOut(name="a", circle={"centre": (0, 0), "radius": 0.1})
    assert curves.area(round_one.outline.loop()) == pytest.approx(math.pi * 0.01)
    assert "has no shape; write exactly one of outline, rectangle and circle" in complaint(CutOut, name="a")
    both = {"rectangle": square, "circle": {"centre": (0, 0), "radius": 0.1}}
    assert "has rectangle and circle" in complaint(CutOut, name="a", **both)
    assert round_one.with_(rectangle=square).circle is None
    assert 'rectangle.x.#1: "1,5 mm"' in complaint(
        CutOut, name="a", rectangle={"x": ["1,5 mm", "2 mm"], "y": ["0 mm", "1 mm"]}
    )


def test_mirrored_cut_out_is_two() -> None:
    cutout = CutOut(name="tunnel", rectangle={"x": (0.1, 0.2), "y": (0.3, 0.5)}, mirror=True)
    (left, one), (right, other) = cutout.sides()
    assert (left, right) == ("tunnel left", "tunnel right")
    assert curves.polygon(one, 1e-4).bounds == pytest.approx((0.1, 0.3, 0.2, 0.5))
    assert curves.polygon(other, 1e-4).bounds == pytest.approx((0.1, -0.5, 0.2, -0.3))
    on_the_right = CutOut(name="tunnel", rectangle={"x": (0.1, 0.2), "y": (-0.5, -0.3)}, mirror=True)
    assert [name for name, _ in on_the_right.sides()] == ["tunnel right", "tunnel left"]
    whole = panel(cutouts=[cutout])
    assert whole.polygon().area == pytest.approx(0.96 - 2 * 0.02)
    assert [name for name, _ in whole.holes()] == ["tunnel left", "tunnel right"]


# parts ------------------------------------------------------------------------------------------


def test_pads() -> None:
    assert strut(pad="40 mm").pad == strut(pad=0.04).pad == Pad(diameter="40 mm")
    assert strut().pad == Pad(diameter="40 mm")
    assert Bolt(name="b", at=(0.1, 0)).pad == Pad(diameter="25 mm")
    plate = Pad(shape="rectangle", length="60 mm", width="30 mm", angle="30 deg")
    assert plate.area == pytest.approx(0.0018)
    assert Pad(diameter=0.04).area == pytest.approx(math.pi * 0.02**2)
    for pad in (plate, Pad(diameter=0.04)):
        polygon = curves.polygon(pad.loop((0.3, -0.2)), 1e-6)
        assert polygon.area == pytest.approx(pad.area, rel=1e-3)
        assert (polygon.centroid.x, polygon.centroid.y) == pytest.approx((0.3, -0.2))
    corner = np.array(
        [0.03 * math.cos(math.pi / 6) - 0.015 * 0.5, 0.03 * 0.5 + 0.015 * math.cos(math.pi / 6)]
    )
    corners = curves.flatten(plate.loop((0, 0)), 1e-3)
    assert np.linalg.norm(corners - corner, axis=1).min() < 1e-12
    assert "a round pad has diameter, not no size" in complaint(Pad)
    assert "a rectangle pad has length and width, not length" in complaint(Pad, shape="rectangle", length=1)
    assert "a round pad has diameter, not diameter and width" in complaint(Pad, diameter=1, width=1)
    assert 'pad.diameter: "40" has no unit' in complaint(strut, pad="40")


def test_strut_has_one_size() -> None:
    assert strut().section_area == pytest.approx(math.pi * 0.004**2)
    assert strut(diameter=None, area="36.6 mm^2").section_area == pytest.approx(36.6e-6)
    assert strut(diameter=None, stiffness="2 kN/mm").section_area is None
    assert strut(bracket_height="30 mm").length == pytest.approx(math.hypot(0.05, 0.27))
    assert "has a diameter and an area; give one of the two" in complaint(strut, area="1 mm^2")
    assert "has no size; give its diameter, its area or its stiffness" in complaint(strut, diameter=None)
    assert "begins and ends in the same place" in complaint(strut, head=(0.5, 0.3, 0.0))
    assert strut().with_(area="10 mm^2").diameter is None


def test_directions_that_are_held() -> None:
    assert Bolt(name="b", at=(0.1, 0)).holds == "xyz"
    assert Pin(name="p", at=(0.1, 0)).holds == "xy"
    assert Bolt(name="b", at=(0.1, 0), holds=["z", "x"]).holds == "xz"
    assert "write letters of x, y and z" in complaint(Bolt, name="b", at=(0, 0), holds="xw")
    assert "write letters of x, y and z" in complaint(Bolt, name="b", at=(0, 0), holds="")
    assert "names a direction twice" in complaint(Bolt, name="b", at=(0, 0), holds="xx")
    assert 'has a slot but holds "x"' in complaint(Pin, name="p", at=(0, 0), holds="x", slot="0 deg")


def test_pairs_left_and_right() -> None:
    angle = AngleSection(foot="25 mm", upright="25 mm", wall="3 mm")
    one = rib("long", points=((0.1, 0.2), (0.5, 0.3)), section=angle, mirror=True)
    left, right = one.sides()
    assert (left.name, right.name) == ("long left", "long right")
    assert right.points == ((0.1, -0.2), (0.5, -0.3))
    assert (left.flip, right.flip) == (False, True)  # the mirror image of an unsymmetric section
    assert not left.mirror
    assert one.with_(mirror=False).sides() == (one.with_(mirror=False),)
    pad = Pad(shape="rectangle", length=0.06, width=0.03, angle=0.3)
    _, other = strut(mirror=True, pad=pad).sides()
    assert (other.foot, other.head, other.pad.angle) == ((0.5, -0.3), (0.45, -0.3, 0.3), -0.3)
    _, pin = Pin(name="p", at=(0.1, 0.2), slot="30 deg", mirror=True).sides()
    assert pin.slot == pytest.approx(-math.pi / 6)
    near, far = RearPocket(name="r", mouth=(0.04, -0.3), width=0.1, overlap=0.04, mirror=True).sides()
    assert (near.name, far.name) == ("r right", "r left")
    assert far.bounds == pytest.approx((0.0, 0.25, 0.04, 0.35))


def test_rib_points_and_sections() -> None:
    assert rib().length == pytest.approx(1.0)
    assert "points: has 1 item; give at least 2" in complaint(rib, points=((0, 0),))
    assert "points 1 and 2 are both at (0.0, 0.0) mm" in complaint(rib, points=((0, 0), (0, 0)))
    assert "\"belw\" is not a choice here; did you mean 'below'?" in complaint(rib, side="belw")
    told = complaint(rib, section={"shape": "tub", "width": 1, "height": 1, "wall": 0.1})
    assert "section: \"tub\" is not a shape; did you mean 'tube'?" in told
    assert "section: has no shape; write it to say which one is meant" in complaint(rib, section={"width": 1})
    told = complaint(rib, section={"shape": "tube", "width": 0.02, "height": 0.02, "wall": 0.02})
    assert "which leaves no hollow" in told
    assert "rib \"cross\", section.wal: there is no such field; did you mean 'wall'" in complaint(
        rib, section={"shape": "tube", "width": 0.02, "height": 0.02, "wal": 0.002}
    )


def test_materials_by_name_or_written_out() -> None:
    assert SHEET.resolved.name == "birch plywood 12 mm"
    own = SheetMaterial(name="own", kind="isotropic", E1="70 GPa", nu12=0.33, density="2700 kg/m^3")
    assert Sheet(material=own, thickness="3 mm").resolved == own
    bar = {"name": "own", "E": "70 GPa", "nu": 0.33, "density": "2700 kg/m^3"}
    assert rib(material=bar).resolved == BarMaterial(**bar)
    told = complaint(Sheet, material="birch plywod 12 mm", thickness="12 mm")
    assert "sheet, material: " in told
    assert "did you mean 'birch plywood 12 mm'" in told
    assert "material: The catalogue has no bar material 'mild steal'" in complaint(rib, material="mild steal")
    layup = {"name": "two", "kind": "layup", "plies": [{"material": own, "thickness": "1 mm"}] * 2}
    assert Sheet(material=layup, thickness="2 mm").resolved.thickness == pytest.approx(0.002)
    assert "thickness is 3 mm but the plies of 'two' add up to 2 mm" in complaint(
        Sheet, material=layup, thickness="3 mm"
    )
    assert "material.E1: is missing" in complaint(
        Sheet, material={"name": "x", "kind": "isotropic", "nu12": 0.3, "density": 1000.0}, thickness=0.01
    )


@pytest.mark.parametrize(
    ("make", "fields", "sentence"),
    [
        (TapMap, {"file": "a.csv", "quantity": "cp", "length_unit": "kg"}, '"kg" is not a unit of length'),
        (TapMap, {"file": "a.csv", "quantity": "cp"}, "length_unit: is missing; write it"),
        (
            TapMap,
            {"file": "a.csv", "quantity": "pressure", "length_unit": "mm"},
            "gives a pressure but no pressure_unit",
        ),
        (
            TapMap,
            {"file": "a.csv", "quantity": "pressure", "length_unit": "mm", "pressure_unit": "Pa"},
            'gives a pressure but no reference_speed; write for example reference_speed = "160 km/h"',
        ),
        (
            TapMap,
            {"file": "a.csv", "quantity": "cp", "length_unit": "mm", "pressure_unit": "Pa"},
            'gives a pressure_unit although its quantity is "cp"',
        ),
        (
            TapMap,
            {"file": "a\nb", "quantity": "cp", "length_unit": "mm"},
            "characters that cannot be printed",
        ),
        (UniformMap, {}, "has neither cp nor pressure"),
        (UniformMap, {"cp": 1, "pressure": 2}, "has cp and pressure"),
        (FunctionMap, {"function": 3}, "is not a function of x and y"),
        (PatchForce, {"pressure": 2}, "has neither rectangle nor circle"),
        (PatchForce, {"circle": {"centre": (0, 0), "radius": 1}}, "has neither pressure nor force"),
        (PointForce, {"at": (0, 0), "force": (0, 0, "-40 kg")}, 'force.z: "-40 kg" has a mass where a force'),
        (PointForce, {"at": (0, 0), "force": 40}, "force: 40 is not a list"),
        (LoadCase, {"name": "a", "gravity": "yes"}, '"yes" is neither true nor false'),
        (LoadCase, {"name": "a", "pressure": {"kind": "tap"}}, "did you mean 'taps'?"),
        (
            LoadCase,
            {"name": "a", "pressure": 3},
            "pressure: 3 is not a table; write one with the field kind (choices: ",
        ),
        (LoadCase, {"name": ""}, "cannot be a name"),
        (LoadCase, {"name": " a"}, "cannot be a name"),
        (LoadCase, {"name": "a\nb"}, "cannot be a name"),
        (LoadCase, {"name": 3}, "3 is not a text; write it in double quotes"),
        (LoadCase, {"name": "a", "acceleration": ("1 g", "2 kg", 0)}, 'acceleration.y: "2 kg" is a mass'),
        (Car, {"ride_height": "-80 mm"}, '"-80 mm" is not above zero'),
        (Car, {"ride_height": "80 mm", "rake": "1 %"}, "is a plain number, not an angle"),
        (Sheet, {"material": "birch plywood 12 mm", "thickness": "-12 mm"}, '"-12 mm" is not above zero'),
        (Sheet, {"material": "birch plywood 12 mm", "thickness": "16 ga"}, "is a gauge number"),
        (MeshSettings, {"size": 0}, "0 mm is not above zero"),
    ],
)
def test_refused_fields(make: Any, fields: dict[str, Any], sentence: str) -> None:
    told = complaint(make, **fields)
    assert sentence in told
    assert "pydantic" not in told
    assert "type=" not in told
    assert "https" not in told


def test_every_fault_gets_a_line() -> None:
    told = complaint(
        Splitter,
        name="x",
        panel={"outline": Outline.rectangle(0, 1, 0, 1), "sheet": {"material": "mild", "thickness": "12"}},
        struts=[{"name": "front", "foot": ["1,5 mm", "0 mm"], "head": [0, 0, 1], "diametre": "8 mm"}],
        car={},
    )
    assert [line.split(": ")[0] for line in told.splitlines()] == [
        "panel.sheet.material",
        "panel.sheet.thickness",
        "struts.front.foot.x",
        "struts.front.diametre",
        "car.ride_height",
    ]


def test_many_faults_are_cut_short() -> None:
    told = complaint(plain, bolts=[{"name": f"b{i}", "at": "here"} for i in range(50)])
    assert len(told.splitlines()) == 21
    assert told.splitlines()[-1] == "and 30 more faults"


# the whole --------------------------------------------------------------------------------------


def full() -> Splitter:
    """A splitter with one of each."""
    cutout = CutOut(name="tunnel", rectangle={"x": (0.1, 0.3), "y": (0.3, 0.5)}, mirror=True)
    return plain(
        panel=panel(cutouts=[cutout]),
        ribs=[rib()],
        struts=[strut(mirror=True)],
        bolts=[Bolt(name="middle", at=(0.05, 0))],
        pins=[Pin(name="locator", at=(0.05, 0.2), slot="90 deg", mirror=True)],
        pockets=[RearPocket(name="rear", mouth=(0.04, 0.6), width=0.1, overlap=0.04, mirror=True)],
        stops=[Stop(name="buffer", at=(0.4, 0.6), gap_up=0.002, mirror=True)],
        cases=[LoadCase(name="straight, 210 km/h", speed="210 km/h", pressure=UniformMap(cp=0.5))],
    )


def test_values_compare_and_nothing_can_be_changed() -> None:
    one, other = full(), full()
    assert one == other
    assert hash(one) == hash(other)
    assert one != one.with_(name="other")
    assert one == one.in_folder("/somewhere")
    assert hash(one) == hash(one.in_folder("/somewhere"))
    assert one != "a splitter"
    assert pickle.loads(pickle.dumps(one)) == one
    assert copy.deepcopy(one) == one
    with pytest.raises(Exception, match="frozen"):
        one.name = "other"
    with pytest.raises(Exception, match="frozen"):
        one.struts[0].pad.diameter = 1.0


def test_words_and_numbers_are_the_same_design() -> None:
    assert rib(points=((0.4, -0.5), (0.4, 0.5))) == rib(points=(("400 mm", "-50 cm"), ("0.4 m", "500 mm")))


def test_parts_and_cases_by_name() -> None:
    splitter = full()
    assert splitter.case("straight, 210 km/h").speed == pytest.approx(210 / 3.6)
    assert splitter.part("front") is splitter.struts[0]
    assert splitter.part("front right").foot == (0.5, -0.3)
    assert splitter.part("tunnel").name == "tunnel"
    with pytest.raises(
        DesignError, match="there is no load case 'straight, 210 kmh'; did you mean 'straight, 210 km/h'"
    ):
        splitter.case("straight, 210 kmh")
    with pytest.raises(DesignError, match="no load case 'x', and no load case at all"):
        plain().case("x")
    with pytest.raises(DesignError, match="there is no part 'frnt'; did you mean 'front'"):
        splitter.part("frnt")


def test_the_same_with_this_strut_further_aft() -> None:
    splitter = full()
    left = splitter.moved("front left", dx="-70 mm").struts
    assert [part.name for part in left] == ["front left", "front right"]
    assert left[0].foot == pytest.approx((0.43, 0.3))
    assert left[0].head == pytest.approx((0.38, 0.3, 0.3))
    assert left[1].foot == (0.5, -0.3)
    both = splitter.moved("front", dx="-70 mm", dy=0)
    assert both.part("front right").foot == pytest.approx((0.43, -0.3))
    assert splitter.with_part("front left", foot=("480 mm", "200 mm")).part("front left").foot == (0.48, 0.2)
    assert splitter.struts[0].foot == (0.5, 0.3)  # the first one is as it was
    assert splitter.moved("cross", dx="50 mm").ribs[0].points[1] == pytest.approx((0.45, 0.5))
    assert splitter.moved("tunnel", dx="1 in").panel.cutouts[0].rectangle.x == pytest.approx((0.1254, 0.3254))
    assert len(splitter.without("front left").struts) == 1
    assert splitter.without("tunnel").panel.cutouts == ()
    with pytest.raises(DesignError, match=r"struts\.front left\.foot: lies past the edge of the panel at"):
        splitter.moved("front left", dx="200 mm")
    with pytest.raises(SplitterError, match='dx: "70" has no unit'):
        splitter.moved("front", dx="70")
    with pytest.raises(DesignError, match="did you mean 'foot'"):
        splitter.with_part("front", foott=(0, 0))


def test_mirrored_outline_moves_only_along() -> None:
    outline = Outline(start=(0.5, 0), edges=[{"to": (0.5, 0.1)}, {"to": (0.4, 0)}], mirror=True)
    splitter = plain(panel=panel(cutouts=[CutOut(name="window", outline=outline)]))
    moved = splitter.moved("window", dx="-0.1 m").panel.cutouts[0].outline
    assert moved.start == pytest.approx((0.4, 0.0))
    with pytest.raises(DesignError, match="cannot move sideways"):
        splitter.moved("window", dy="10 mm")
    edge = Edge(to=(1, 1), through=((0, 1), (0.5, 1.2))).shifted(1.0, -1.0)
    assert edge.through == ((1.0, 0.0), (1.5, pytest.approx(0.2)))
    assert Edge(to=(1, 1), via=(0, 1)).shifted(1.0, 0.0).via == (1.0, 1.0)


@pytest.mark.parametrize(
    ("path", "value", "read"),
    [
        ("panel.sheet.thickness", "12.3 mm", lambda s: s.panel.sheet.thickness == 0.0123),
        ("struts.front.foot", ("480 mm", "290 mm"), lambda s: s.struts[0].foot == (0.48, 0.29)),
        ("struts.front.foot.x", "480 mm", lambda s: s.struts[0].foot == (0.48, 0.3)),
        ("struts.#1.head.z", 0.4, lambda s: s.struts[0].head[2] == 0.4),
        ("ribs.cross.section.wall", "2 mm", lambda s: s.ribs[0].section.wall == 0.002),
        ("ribs.cross.points.#2.y", 0.6, lambda s: s.ribs[0].points[1] == (0.4, 0.6)),
        ("cases.straight, 210 km/h.speed", "100 km/h", lambda s: math.isclose(s.cases[0].speed * 3.6, 100)),
        (
            "panel.cutouts.tunnel.rectangle.round",
            "20 mm",
            lambda s: s.panel.cutouts[0].rectangle.round == 0.02,
        ),
        ("name", "other", lambda s: s.name == "other"),
    ],
)
def test_change_by_path(path: str, value: object, read: Any) -> None:
    splitter = full().in_folder("/somewhere")
    changed = splitter.with_(path, value)
    assert read(changed)
    assert not read(splitter)
    assert changed.folder == splitter.folder


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        ("panl.sheet", "there is no field 'panl'; did you mean 'panel'?"),
        ("panel.sheet.thicknes", "did you mean 'thickness'?"),
        ("struts.frnt.foot", "there is no 'frnt' here; did you mean 'front'?"),
        ("struts.#9.foot", "there is no '#9' here"),
        ("struts.front.foot.w", "there is no 'w' here"),
        ("struts.front.foot.x.y", "there is nothing below the place before 'y'"),
        ("ribs.cross.section.wal", "did you mean 'wall'?"),
    ],
)
def test_paths_that_lead_nowhere(path: str, sentence: str) -> None:
    assert sentence in complaint(full().with_, path, 1.0)


def test_pairs_written_out() -> None:
    splitter = full()
    expanded = splitter.expanded()
    assert [part.name for part in expanded.struts] == ["front left", "front right"]
    assert [part.name for part in expanded.pockets] == ["rear left", "rear right"]
    assert [part.name for part in expanded.stops] == ["buffer left", "buffer right"]
    assert expanded.expanded() == expanded
    assert [p.name for p in expanded.bolts] == ["middle"]


def test_names_are_unique() -> None:
    assert "two parts are called 'a'; give each a name of its own" in complaint(
        plain, ribs=[rib("a")], bolts=[Bolt(name="a", at=(0.1, 0.1))]
    )
    assert "two parts are called 'a left'" in complaint(
        plain, struts=[strut("a", mirror=True), strut("a left", foot=(0.3, 0))]
    )
    assert "two cases are called 'c'" in complaint(plain, cases=[LoadCase(name="c"), LoadCase(name="c")])


def test_texts_of_a_splitter_are_short() -> None:
    splitter = full()
    assert str(splitter) == (
        "Splitter 'plain': 600 x 1600 mm, 12 mm birch plywood 12 mm; 2 cut-outs, 1 rib, 2 struts, 1 bolt, "
        "2 pins, 2 pockets, 2 stops, 1 load case"
    )
    assert repr(splitter.bolts[0]) == "Bolt(name='middle', at=['50 mm', '0 mm'])"
    assert len(repr(splitter.panel)) < 200
    assert "function" in repr(LoadCase(name="c", speed=1, pressure=FunctionMap(function=max)))


def test_changes_of_a_record_are_validated() -> None:
    assert strut().with_(diameter="10 mm").diameter == 0.01
    assert "did you mean 'diameter'" in complaint(strut().with_, diametr=1)


# findings ---------------------------------------------------------------------------------------


def bowtie() -> Outline:
    return Outline(start=(0, 0), edges=[{"to": (0.6, 0.6)}, {"to": (0.6, 0)}, {"to": (0, 0.6)}])


SQUARE = {"x": (0.1, 0.2), "y": (0.1, 0.2)}


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        (
            {"panel": {"outline": bowtie(), "sheet": SHEET}},
            "panel.outline: crosses or touches itself at (300.0, 300.0) mm; let edges meet",
        ),
        (
            {"panel": {"outline": Outline.rectangle(0, 600, -0.8, 0.8), "sheet": SHEET}},
            "panel.outline: measures 600000 mm along x; give one between 20 mm and 10000 mm",
        ),
        (
            {"panel": panel(cutouts=[{"name": "a", "outline": bowtie().shifted(0, 0.1)}])},
            "panel.cutouts.a: crosses or touches itself at (300.0, 400.0) mm",
        ),
        (
            {"panel": panel(cutouts=[{"name": "a", "circle": {"centre": (1.6, 0), "radius": 0.1}}])},
            "panel.cutouts.a: lies outside the panel at (1600.0, 0.0) mm; move it inside the outline",
        ),
        (
            {"panel": panel(cutouts=[{"name": "a", "rectangle": {"x": (0.5, 0.7), "y": (0.1, 0.3)}}])},
            "panel.cutouts.a: runs over the edge of the panel at (650.0, 200.0) mm; move it in, or draw it",
        ),
        (
            {"panel": panel(cutouts=[{"name": "a", "rectangle": {"x": (0.5, 0.6), "y": (0.1, 0.3)}}])},
            "panel.cutouts.a: runs over the edge of the panel at (600.0, ",
        ),
        (
            {
                "panel": panel(
                    cutouts=[
                        {"name": "a", "rectangle": SQUARE},
                        {"name": "b", "rectangle": {"x": (0.15, 0.3), "y": (0.15, 0.3)}},
                    ]
                )
            },
            "panel.cutouts.a: overlaps the opening 'b' at (175.0, 175.0) mm; move one, or draw one opening",
        ),
        (
            {
                "panel": panel(
                    cutouts=[{"name": "a", "rectangle": {"x": (0.1, 0.2), "y": (-0.1, 0.2)}, "mirror": True}]
                )
            },
            "panel.cutouts.a left: overlaps the opening 'a right' at ",
        ),
        (
            {"panel": panel(sheet=Sheet(material="birch plywood 12 mm", thickness=12))},
            "panel.sheet.thickness: is 12000 mm, more than a quarter of the panel's 600 mm; give",
        ),
        (
            {"ribs": [rib(points=((0.4, 0), (0.9, 0)))]},
            "ribs.cross.points: runs past the edge of the panel at (600.0, 0.0) mm; end it on the panel",
        ),
        (
            {
                "panel": panel(cutouts=[{"name": "a", "rectangle": {"x": (0.3, 0.5), "y": (0.1, 0.3)}}]),
                "ribs": [rib()],
            },
            "ribs.cross.points: runs over the opening 'a' at (400.0, 100.0) mm; end it on the panel",
        ),
        (
            {"ribs": [rib(points=((0.1, 0), (0.5, 0), (0.5, 0.2), (0.3, 0.2), (0.3, -0.2)))]},
            "ribs.cross.points: crosses or touches itself at (300.0, 0.0) mm",
        ),
        (
            {"ribs": [rib("a"), rib("b", points=((0.4, 0.1), (0.4, 0.7)))]},
            "ribs.a.points: lies in the same place as the rib 'b' over 400 mm at (400.0, ",
        ),
        (
            {"ribs": [rib(points=((0.1, 0), (0.5, 0)), mirror=True)]},
            "ribs.cross.points: lies in the same place as the rib 'cross right' over 400 mm",
        ),
        (
            {"struts": [strut(foot=(0.7, 0.3))]},
            "struts.front.foot: lies past the edge of the panel at (700.0, 300.0) mm; move it onto the panel",
        ),
        (
            {"struts": [strut(foot=(0.59, 0.3))]},
            "struts.front.foot: at (590.0, 300.0) mm has a pad that reaches past the edge of the panel",
        ),
        (
            {
                "panel": panel(cutouts=[{"name": "a", "rectangle": SQUARE}]),
                "bolts": [Bolt(name="b", at=(0.15, 0.15))],
            },
            "bolts.b.at: lies over the opening 'a' at (150.0, 150.0) mm; move it onto the panel",
        ),
        (
            {
                "panel": panel(cutouts=[{"name": "a", "rectangle": SQUARE}]),
                "pins": [Pin(name="p", at=(0.205, 0.15))],
            },
            "pins.p.at: at (205.0, 150.0) mm has a pad that reaches over the opening 'a'",
        ),
        (
            {"stops": [Stop(name="s", at=(0.59, 0.3), gap_up=0)]},
            "stops.s.at: at (590.0, 300.0) mm has a pad that reaches past the edge of the panel",
        ),
        (
            {
                "panel": panel(cutouts=[{"name": "a", "rectangle": SQUARE}]),
                "stops": [Stop(name="s", at=(0.15, 0.15), gap_up=0)],
            },
            "stops.s.at: lies over the opening 'a' at (150.0, 150.0) mm; move it onto the panel",
        ),
        (
            {"bolts": [Bolt(name="b", at=(0.1, 0), mirror=True)]},
            "bolts.b.at: is on the centre plane at (100.0, 0.0) mm and is its own mirror image",
        ),
        (
            {"pockets": [RearPocket(name="r", mouth=(0.03, 0), width=0.1, overlap=0.04)]},
            "pockets.r.mouth: reaches past the edge of the panel at (-5.0, 0.0) mm; move its mouth",
        ),
        (
            {
                "pockets": [
                    RearPocket(name="r", mouth=(0.04, 0), width=0.1, overlap=0.04),
                    RearPocket(name="s", mouth=(0.04, 0.05), width=0.1, overlap=0.04),
                ]
            },
            "pockets.r.mouth: overlaps the pocket 's' at (20.0, 25.0) mm; move one",
        ),
        (
            {"cases": [LoadCase(name="c", forces=[{"kind": "point", "at": (0.7, 0), "force": (0, 0, -1)}])]},
            "cases.c.forces.#1.at: lies past the edge of the panel at (700.0, 0.0) mm",
        ),
        (
            {
                "cases": [
                    LoadCase(
                        name="c", forces=[PatchForce(circle=Circle(centre=(0.8, 0), radius=0.1), pressure=1)]
                    )
                ]
            },
            "cases.c.forces.#1: acts beside the panel at (800.0, 0.0) mm; move it onto the panel",
        ),
        (
            {"car": Car(ride_height="50 mm", rake="5 deg")},
            "car.ride_height: leaves -2.5 mm to the ground at x = 600.0 mm with a rake of 5 deg",
        ),
        (
            {"car": Car(ride_height="50 mm", rake=1.6)},
            "car.rake: the rake is 91.67 deg; give one below 45",
        ),
        (
            {"cases": [LoadCase(name="dive", rake="10 deg")]},
            "cases.dive.rake: leaves -25.8 mm to the ground at x = 600.0 mm with a rake of 10 deg",
        ),
        (
            {"mesh": MeshSettings(size="0.1 mm")},
            "mesh.size: is 0.1 mm, which makes 2.2e+08 triangles, more than 500000; give at least 2.11 mm",
        ),
        ({"mesh": MeshSettings(pad_size="0.1 mm")}, "mesh.pad_size: is 0.1 mm; give at least 0.2 mm"),
        (
            {"panel": panel(outline=Outline.circle((0, 0), 1)), "mesh": MeshSettings(chord=1e-12)},
            "mesh.chord: The curve that starts at (1000.0, 0.0) mm needs ",
        ),
    ],
)
def test_designs_that_cannot_be_built(fields: dict[str, Any], line: str) -> None:
    told = complaint(plain, **fields)
    assert told.startswith(line), told
    assert len(told.splitlines()) == 1


@pytest.mark.parametrize(
    ("fields", "code", "severity"),
    [
        ({"ribs": [rib(points=((0.1, 0.5), (0.5995, 0.5)))]}, "rib-near-edge", "note"),
        ({"ribs": [rib(points=((0.595, -0.5), (0.595, 0.5)))]}, "rib-foot-off-panel", "warning"),
        (
            {"panel": panel(sheet=Sheet(material="birch plywood 12 mm", thickness="15 mm"))},
            "sheet-other-board",
            "warning",
        ),
        ({"struts": [strut(head=(0.4, 0.3, 0.0))]}, "strut-level", "warning"),
        ({"cases": [LoadCase(name="c", pressure=UniformMap(cp=1))]}, "case-at-rest", "warning"),
        ({"mesh": MeshSettings(size="0.5 m")}, "mesh-too-coarse", "warning"),
        ({"struts": [strut()], "bolts": [Bolt(name="b", at=(0.5, 0.3))]}, "fixings-together", "warning"),
    ],
)
def test_findings_that_let_a_design_be(fields: dict[str, Any], code: str, severity: str) -> None:
    (finding,) = check(plain(**fields))
    assert (finding.code, finding.severity) == (code, severity)
    assert str(finding) == f"{finding.path}: {finding.sentence}"


def test_nothing_is_found_in_a_sound_design() -> None:
    assert check(full()) == ()
    # a rib may end on an edge, be notched for others, and lie under one on the other face
    ribs = [
        rib("a", points=((0.0, 0.0), (0.6, 0.0)), crossing="notched"),
        rib("b"),
        rib("c", side="below"),
        rib("d", points=((0.3, -0.5), (0.3, 0.5))),
    ]
    assert check(plain(ribs=ribs)) == ()


@settings(max_examples=60, deadline=None)
@given(st.floats(-0.1, 0.7), st.floats(-0.9, 0.9), st.floats(0.01, 0.1))
def test_a_pad_is_on_the_panel_or_refused(x: float, y: float, diameter: float) -> None:
    """Against the closed form for a rectangle: the centre is half a diameter from every edge."""
    margin = min(x, 0.6 - x, y + 0.8, 0.8 - y) - diameter / 2
    try:
        plain(bolts=[Bolt(name="b", at=(x, y), pad=diameter)])
        accepted = True
    except DesignError:
        accepted = False
    if abs(margin) > 0.01 * diameter + 1e-5:
        assert accepted == (margin > 0)


def refusal(make: Any, *args: Any, **fields: Any) -> str:
    """The text of the error that something raises; empty when it does not."""
    try:
        make(*args, **fields)
    except SplitterError as problem:
        return str(problem)
    return ""


ANY_POINT = st.lists(st.floats() | st.floats(-1, 1) | st.text(max_size=5), max_size=3) | st.text(max_size=5)


@settings(max_examples=150, deadline=None)
@given(st.lists(ANY_POINT, max_size=6))
def test_any_points_are_taken_or_refused_by_name(points: list[Any]) -> None:
    fields = {"start": (0, 0), "edges": [{"to": point} for point in points]}
    told = refusal(plain, panel={"outline": fields, "sheet": SHEET})
    assert not told or told.startswith("panel.outline")
