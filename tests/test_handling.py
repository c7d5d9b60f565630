"""Handling cases: total forces and places by statics, pads on any panel, names, and what needs saying first.

All magnitudes are common practice without a source, and the tests hold them to the ranges that are usual.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import event, given, settings
from hypothesis import strategies as st

import splitterfem as sf
from splitterfem import curves
from splitterfem.design import LoadCase, Outline, Pad, PointForce, dumps, load, usual_handling
from splitterfem.design.handling import (
    BASIS,
    Gravel,
    KerbStrike,
    Lifting,
    PushTest,
    Shaking,
    Standing,
    place_of,
)
from splitterfem.errors import DesignError
from splitterfem.model.loads import case_load

G = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""

TUBE = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
BOLTS = [(0.1, -0.5), (0.1, 0.5), (0.45, -0.5), (0.45, 0.5)]


def rectangle(front: float = 0.6, half: float = 0.7) -> dict[str, Any]:
    return {
        "start": (0.0, -half),
        "edges": [{"to": (front, -half)}, {"to": (front, half)}, {"to": (0.0, half)}],
    }


def splitter(outline: Any = None, **more: Any) -> sf.Splitter:
    panel = {
        "outline": outline or rectangle(),
        "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        "cutouts": more.pop("cutouts", ()),
    }
    return sf.Splitter(name="handled", panel=panel, car={"ride_height": 0.08}, mesh={"size": 0.12}, **more)


@pytest.fixture(scope="module")
def held() -> sf.Splitter:
    """On four bolts, with a rib and a pair of struts."""
    return splitter(
        bolts=[{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(BOLTS)],
        ribs=[{"name": "rib", "points": [(0.3, -0.5), (0.3, 0.5)], "section": TUBE, "material": "6061-T6 extrusion"}],
        struts=[
            {"name": "front strut", "foot": (0.5, 0.3), "head": (0.4, 0.28, 0.3), "diameter": 0.008, "mirror": True}
        ],
    )  # fmt: skip


def one(handling: Any, design: sf.Splitter) -> tuple[LoadCase, PointForce]:
    (case,) = handling.load_cases(design)
    (force,) = case.forces
    assert isinstance(force, PointForce)
    return case, force


# Magnitudes and places ---------------------------------------------------------------------------------

# Common practice, no source: kerb 1-2 kN up on 100-150 mm and 1-3 kN rearward; a person of 0.9-1.0 kN times 1.5-2;
# a strap of 0.5-1 kN; gravel 2-4 kN rearward and upward; a push by hand of 200-400 N.
KINDS: dict[str, tuple[Any, tuple[float, float, float], str]] = {
    "kerb": (KerbStrike(), (-2000.0, 0.0, 1500.0), "kerb strike, left corner"),
    "standing": (Standing(declared=True), (0.0, 0.0, -1662.5), "person standing, lip middle"),
    "lifting": (Lifting(), (0.0, 0.0, 750.0), "lifting by one end, left corner"),
    "gravel": (Gravel(), (-2100.0, 0.0, 2100.0), "gravel, lip middle"),
    "push": (PushTest(), (0.0, 0.0, -300.0), "push test, lip middle"),
}


@pytest.mark.parametrize("kind", list(KINDS))
def test_total_force_and_place(kind: str, held: sf.Splitter) -> None:
    handling, expected, name = KINDS[kind]
    case, force = one(handling, held)
    assert case.name == name
    assert force.force == pytest.approx(expected)
    # By statics the load vector has this force, and the moment of it at the pad's centre.
    model = sf.build(held)
    found = case_load(model, case).resultants["force 1"]
    x, y = force.at
    moment = np.cross([x, y, 0.0], expected)
    assert found == pytest.approx([*expected, *moment], abs=1e-6 * np.abs(expected).max())


def test_usual_magnitudes_are_within_what_is_usual() -> None:
    kerb, person, strap, gravel, push = (KINDS[kind][0] for kind in KINDS)
    assert 1000.0 <= kerb.up <= 2000.0
    assert 1000.0 <= kerb.rearward <= 3000.0
    assert 0.100 <= kerb.width <= 0.150
    assert 900.0 <= person.weight <= 1000.0
    assert 1.5 <= person.impact <= 2.0
    assert 500.0 <= strap.force <= 1000.0
    assert 2000.0 <= math.hypot(gravel.force, gravel.force) <= 4000.0
    assert 200.0 <= push.force <= 400.0
    assert Shaking().acceleration == pytest.approx(3.0 * G)  # transport, both ways
    assert BASIS == "common practice, no source"


def test_every_case_says_where_its_magnitude_comes_from(held: sf.Splitter) -> None:
    for handling in (*usual_handling(held), Standing(declared=True)):
        for case in handling.load_cases(held):
            assert case.note == BASIS
    weighed = PushTest(force="310 N", note="spring scale, in the shop")
    assert weighed.load_cases(held)[0].note == "spring scale, in the shop"


def test_places(held: sf.Splitter) -> None:
    # Edges keep 5 mm off: round pads of radius r come to r + 5 mm from both edges of the corner.
    assert one(KerbStrike(), held)[1].at == pytest.approx((0.6 - 0.0675, 0.7 - 0.0675), abs=1e-6)
    right = one(KerbStrike(at="right corner"), held)[1]
    assert right.at == pytest.approx((0.6 - 0.0675, -0.7 + 0.0675), abs=1e-6)
    assert one(PushTest(), held)[1].at == pytest.approx((0.6 - 0.045, 0.0), abs=1e-9)
    # A foot of 250 x 100 mm stands along the lip.
    foot = one(Standing(declared=True), held)[1]
    assert foot.at == pytest.approx((0.6 - 0.055, 0.0), abs=1e-9)
    corners = curves.flatten(foot.pad.loop(foot.at), 1e-4)
    assert np.ptp(corners, axis=0) == pytest.approx([0.1, 0.25])
    case, under = one(KerbStrike(at="front strut right"), held)
    assert under.at == pytest.approx((0.5, -0.3), abs=1e-9)
    assert case.name == "kerb strike, under front strut right"
    case, there = one(PushTest(at=("300 mm", "-0.4 mm")), held)
    assert there.at == pytest.approx((0.3, -0.0004))
    assert case.name == "push test, at x 300 y 0 mm"


def test_under_a_strut_near_the_edge_the_pad_comes_in() -> None:
    design = splitter(
        struts=[{"name": "s", "foot": (0.57, 0.0), "head": (0.5, 0.0, 0.3), "diameter": 0.008, "pad": 0.03}]
    )
    assert one(KerbStrike(at="s"), design)[1].at == pytest.approx((0.5325, 0.0), abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "duration", "gravity"),
    [
        ("kerb", "instantaneous", True),
        ("standing", "short", True),
        ("lifting", "short", True),
        ("gravel", "instantaneous", True),
        ("push", "short", False),
    ],
)
def test_duration_and_weight(kind: str, duration: str, gravity: bool, held: sf.Splitter) -> None:
    # EN 1995-1-1 2.3.1.2: accidental actions are instantaneous. A push is what the dial moves by, so without weight.
    case, _ = one(KINDS[kind][0], held)
    assert (case.duration, case.gravity) == (duration, gravity)
    assert case.speed == 0.0
    assert case.acceleration == (0.0, 0.0, 0.0)


# Shaking -----------------------------------------------------------------------------------------------


def test_three_g_are_three_g_in_all(held: sf.Splitter) -> None:
    # Newton: the supports together carry 3 m g, down on the panel when it is thrown up, and up when it is thrown down.
    up, down = Shaking().load_cases(held)
    assert (up.name, down.name) == ("shaking, 3 g up", "shaking, 3 g down")
    for case, sign in ((up, -1.0), (down, 1.0)):
        solution = sf.solve(held, case)
        force = solution.supports[["fx_N", "fy_N", "fz_N"]].to_numpy().sum(axis=0)
        assert force == pytest.approx([0.0, 0.0, sign * 3.0 * solution.mass * G], abs=1e-6)
        assert case.duration == "instantaneous"


def test_lengthwise_the_weight_stays(held: sf.Splitter) -> None:
    forward, rearward = Shaking(direction="lengthwise", acceleration="10 g").load_cases(held)
    assert (forward.name, rearward.name) == ("shaking, 10 g forward", "shaking, 10 g rearward")
    for case, sign in ((forward, -1.0), (rearward, 1.0)):
        solution = sf.solve(held, case)
        force = solution.supports[["fx_N", "fy_N", "fz_N"]].to_numpy().sum(axis=0)
        weight = solution.mass * G
        assert force == pytest.approx([sign * 10.0 * weight, 0.0, weight], abs=1e-6)


# Names -------------------------------------------------------------------------------------------------

USUAL = [
    "kerb strike, left corner",
    "kerb strike, under front strut left",
    "lifting by one end, left corner",
    "transport, 3 g up",
    "transport, 3 g down",
    "rough ground, 4 g up",
    "rough ground, 4 g down",
    "gravel, lip middle",
    "push test, lip middle",
]


def test_names_are_stable_and_unique(held: sf.Splitter) -> None:
    handled = held.with_(handling=usual_handling(held))
    assert [case.name for case in handled.all_cases] == USUAL
    assert [handled.case(name).name for name in USUAL] == USUAL
    moved = handled.moved("front strut", dx=-0.02)
    assert [case.name for case in moved.all_cases] == USUAL
    assert [h.kind for h in usual_handling(splitter())].count("kerb") == 1
    with pytest.raises(DesignError) as caught:
        held.with_(handling=(KerbStrike(), KerbStrike(up="1 kN")))
    assert str(caught.value) == "two cases are called 'kerb strike, left corner'; give each a name of its own"
    both = held.with_(handling=(KerbStrike(), KerbStrike(up="1 kN", name="small kerb")))
    assert [case.name for case in both.all_cases] == ["kerb strike, left corner", "small kerb"]


def test_a_name_that_grows_too_long_is_told() -> None:
    long = "the strut whose name somebody wrote out at great length"
    design = splitter(struts=[{"name": long, "foot": (0.3, 0.0), "head": (0.3, 0.0, 0.3), "diameter": 0.008}])
    with pytest.raises(DesignError) as caught:
        design.with_(handling=(KerbStrike(at=long),))
    assert str(caught.value) == (
        f"the handling case 'kerb strike, under {long}' has a name of 74 characters; give it one of its own, of at "
        "most 60 with what is added"
    )
    assert design.with_(handling=(KerbStrike(at=long, name="kerb"),)).case("kerb").forces


# What is refused ---------------------------------------------------------------------------------------


def test_standing_has_to_be_declared() -> None:
    for fields in ({}, {"declared": False}, {"at": "lip middle"}):
        with pytest.raises(DesignError) as caught:
            Standing(**fields)
        assert str(caught.value) == (
            "standing: standing on the panel is not taken for granted; write declared = true if it is meant to carry "
            "a person, or leave the case out"
        )


@pytest.mark.parametrize(
    ("handling", "sentence"),
    [
        (
            KerbStrike(at="left corne"),
            "the handling case 'kerb strike' acts at 'left corne', which is neither a place nor a strut; did you mean "
            "'left corner' or 'right corner'?",
        ),
        (
            KerbStrike(at="front strut"),
            "the handling case 'kerb strike' acts at 'front strut', which is neither a place nor a strut; did you "
            "mean 'front strut left' or 'front strut right'?",
        ),
        (
            Gravel(at="somewhere", name="run-off"),
            "the handling case 'run-off' acts at 'somewhere', which is neither a place nor a strut; known: front "
            "strut left, front strut right, left corner, lip middle, right corner",
        ),
        (
            PushTest(at=(0.59, 0.0)),
            "the handling case 'push test' acts at (590.0, 0.0) mm with an area of 80 mm across, which is not wholly "
            "on the panel; move it onto the panel or make it smaller",
        ),
        (
            Gravel(width="700 mm"),
            "the handling case 'gravel' acts on an area of 700 mm across, for which the panel has no room; make it "
            "smaller or leave the case out",
        ),
    ],
)
def test_places_that_are_not_there(handling: Any, sentence: str, held: sf.Splitter) -> None:
    with pytest.raises(DesignError) as caught:
        held.with_(handling=(handling,))
    assert str(caught.value) == sentence


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kind": "kerb", "up": 0.0}, "up: 0 N is not above zero"),
        ({"kind": "kerb", "rearward": -1.0}, "rearward: -1 N is below zero"),
        ({"kind": "standing", "declared": True, "impact": -1.0}, "impact: -1 is below 1"),
        ({"kind": "standing", "declared": True, "impact": 0.5}, "impact: 0.5 is below 1"),
        ({"kind": "standing", "declared": "yes"}, "declared: .yes. is neither true nor false"),
        ({"kind": "shaking", "acceleration": 0.0}, "acceleration: 0 .* is not above zero"),
        ({"kind": "push", "width": 0.0}, "width: 0 mm is not above zero"),
        ({"kind": "jack"}, ".jack. is not a kind"),
    ],
)
def test_magnitudes_that_cannot_be(fields: dict[str, Any], words: str, held: sf.Splitter) -> None:
    with pytest.raises(DesignError, match=rf"handling\.#1.*{words}"):
        held.with_(handling=(fields,))


def test_a_panel_cut_in_two_is_told_and_not_a_crash() -> None:
    slit = {"name": "slit", "rectangle": {"x": (0.2, 0.3), "y": (-0.8, 0.8)}}
    with pytest.raises(DesignError, match="slit: runs over the edge"):
        splitter(cutouts=[slit], handling=[{"kind": "kerb"}])


# Files -------------------------------------------------------------------------------------------------


def test_magnitudes_survive_a_file(held: sf.Splitter, tmp_path: Path) -> None:
    given_by_hand = (
        KerbStrike(at="right corner", up="300 lbf", rearward="1.2 kN", width="4 in"),
        Standing(declared=True, weight="210 lbf", impact=1.5, at=("300 mm", "100 mm")),
        Lifting(force="0.6 kN", at="front strut left"),
        Shaking(direction="lengthwise", acceleration="10 g", name="stop"),
        Gravel(force="2.5 kN", note="measured on a test sled"),
        PushTest(force="50 lbf"),
    )
    design = held.with_(handling=given_by_hand)
    place = tmp_path / "handled.toml"
    place.write_text(dumps(design), encoding="utf-8")
    again = load(place)
    assert again == design
    assert again.all_cases == design.all_cases
    kerb = again.case("kerb strike, right corner").forces[0]
    assert kerb.force == pytest.approx((-1200.0, 0.0, 300.0 * 4.4482216152605))
    for words in (
        'up = "300 lbf"',
        'width = "4 in"',
        'acceleration = "10 g"',
        'note = "measured on a test sled"',
    ):
        assert words in dumps(again)
    text = dumps(design).replace("declared = true", "declared = false")
    place.write_text(text, encoding="utf-8")
    with pytest.raises(DesignError, match=r"handling\.#2: standing on the panel is not taken for granted"):
        load(place)


def test_changed_magnitudes_change_the_case(held: sf.Splitter) -> None:
    mild = held.with_(handling=(KerbStrike().with_(up="1 kN", rearward="0 N"),))
    assert mild.all_cases[0].forces[0].force == (0.0, 0.0, 1000.0)


# Odd panels --------------------------------------------------------------------------------------------


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """Narrow, notched, swept and smooth panels, most of them lopsided."""
    front, half = draw(st.floats(0.06, 0.9)), draw(st.floats(0.15, 0.9))
    kind = draw(st.sampled_from(["rectangle", "swept", "notched", "smooth", "forked"]))
    share, place = draw(st.floats(0.1, 0.8)), draw(st.floats(-0.6, 0.6)) * half
    if kind == "rectangle":
        points = [(front, -half), (front, half), (0.0, half)]
    elif kind == "swept":
        points = [(front * share, -half), (front, place), (front * (1.0 - share), half), (0.0, half)]
    elif kind == "notched":
        notch = [(front, place - 0.2 * half), (front * share, place), (front, place + 0.2 * half)]
        points = [(front, -half), *notch, (front, half), (0.0, half)]
    elif kind == "forked":
        prongs = [(front, -0.9 * half), (0.3 * front, 0.0), (front, 0.8 * half)]
        points = [(front, -half), *prongs, (front, half), (0.0, half)]
    else:
        through = [(front * share, -half), (front, place), (front * (1.0 - 0.5 * share), 0.95 * half)]
        edges = [{"to": (0.0, half), "through": through}]
        return Outline(start=(0.0, -half), edges=edges)
    return Outline(start=(0.0, -half), edges=[{"to": point} for point in points])


PADS = [
    Pad(diameter=0.125),
    Pad(diameter=0.08),
    Pad(diameter=0.15),
    Pad(shape="rectangle", length=0.1, width=0.25),
]


@settings(deadline=None, max_examples=60)
@given(
    outlines(),
    st.sampled_from(PADS),
    st.sampled_from(["left corner", "right corner", "lip middle"]),
    st.booleans(),
)
def test_pads_are_wholly_on_the_panel(outline: Outline, pad: Pad, at: str, opened: bool) -> None:
    try:
        plain = outline.polygon(1e-5)
        middle = plain.representative_point()
        radius = 0.4 * plain.boundary.distance(middle)
        hole = {"name": "hole", "circle": {"centre": (middle.x, middle.y), "radius": radius}}
        design = splitter(outline.given(), cutouts=[hole] if opened and radius > 0.01 else [])
    except DesignError:
        return  # an outline that crosses itself is refused by itself
    true = design.panel.polygon(1e-5)
    reach = 0.5 * float(pad.diameter) if pad.diameter else 0.0
    half = (0.0, 0.0) if pad.diameter else (0.5 * float(pad.length or 0), 0.5 * float(pad.width or 0))

    def area(x: float, y: float, more: float) -> Any:
        core = shapely.box(x - half[0] - more, y - half[1] - more, x + half[0] + more, y + half[1] + more)
        return shapely.Point(x, y).buffer(reach + more, quad_segs=64) if pad.diameter else core

    try:
        (x, y), word = place_of(design, at, pad)
    except DesignError as problem:
        sentence, found = str(problem), False
    else:
        sentence, found = "", True
    event(f"{'room' if found else 'no room'}")
    if not found:
        # No pad with the margin and a little more lies on the panel, on a grid of places.
        assert "for which the panel has no room" in sentence
        x0, y0, x1, y1 = true.bounds
        grid = np.stack(np.meshgrid(np.linspace(x0, x1, 23), np.linspace(y0, y1, 33)), axis=-1).reshape(-1, 2)
        assert not any(true.covers(area(*place, 0.006)) for place in grid.tolist())
        return
    assert word == at
    assert true.covers(area(x, y, 0.004))  # 5 mm less chords of half a millimetre and of the rounded offset
    # No place of a grid that has room for it is clearly nearer to the one that was asked for.
    corners = shapely.get_coordinates(true)
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    sign = {"left corner": 1.0, "right corner": -1.0, "lip middle": 0.0}[at]
    score = (corners[:, 0] - x0) / (x1 - x0) + sign * (corners[:, 1] - 0.5 * (y0 + y1)) / (y1 - y0)
    wanted = corners[score.argmax()] if sign else np.array([x1, 0.5 * (y0 + y1)])
    grid = np.stack(np.meshgrid(np.linspace(x0, x1, 23), np.linspace(y0, y1, 33)), axis=-1).reshape(-1, 2)
    away = np.hypot(*(grid - wanted).T)
    nearer = grid[away < math.dist((x, y), wanted) - 0.002]
    assert not any(true.covers(area(*place, 0.006)) for place in nearer.tolist())


def test_a_drawn_panel_takes_all_usual_cases(tmp_path: Path) -> None:
    rows = "y_mm,x_front_mm,x_rear_mm\n0,520,-100\n250,500,-100\n500,440,-90\n750,300,-60\n"
    (tmp_path / "lip.csv").write_text(rows, encoding="utf-8")
    text = """version = 1
name = "drawn"
car = { ride_height = "80 mm" }
[panel]
drawing = { file = "lip.csv" }
sheet = { material = "birch plywood 12 mm", thickness = "12 mm" }
[[handling]]
kind = "kerb"
[[handling]]
kind = "standing"
declared = true
at = "right corner"
[[handling]]
kind = "gravel"
"""
    place = tmp_path / "drawn.toml"
    place.write_text(text, encoding="utf-8")
    design = load(place)
    true = design.panel.polygon(1e-5)
    for case in design.all_cases:
        (force,) = case.forces
        pad = shapely.Polygon(curves.flatten(force.pad.loop(force.at), 1e-5))
        assert true.covers(pad)
    assert len(design.all_cases) == 3
