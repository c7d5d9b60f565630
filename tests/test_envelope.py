"""The envelope against closed forms of plane geometry; all limits here are invented."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

import splitterfem as sf
from splitterfem import curves
from splitterfem.analysis.corners import sharpest_corner
from splitterfem.analysis.envelope import (
    CAUTION,
    COLUMNS,
    cases_to_solve,
    check_envelope,
    envelope_table,
)
from splitterfem.analysis.planform import ACCURACY, largest_distance, steps_of
from splitterfem.design import Bodywork, Envelope, dumps
from splitterfem.errors import DesignError, UnitError
from splitterfem.output import style
from splitterfem.output.envelopeview import plot_envelope

NEAR = ACCURACY  # the accuracy that the module states: 0.01 mm


def splitter(outline, envelope=None, **more):
    """A panel held by three bolts, with the limits given."""
    panel = {"outline": outline, "sheet": {"material": "birch plywood 12 mm", "thickness": 0.0118}}
    panel |= more.pop("panel", {})
    x0, y0, x1, y1 = shapely.Polygon(sf.Outline(**outline).polygon().exterior).bounds
    xm = 0.5 * (x0 + x1)
    at = [(xm, 0.6 * y0 + 0.4 * y1), (xm, 0.4 * y0 + 0.6 * y1), (xm - 0.1, 0.5 * (y0 + y1))]
    bolts = [{"name": f"bolt {i}", "at": place} for i, place in enumerate(at)]
    car = more.pop("car", {"ride_height": 0.08})
    return sf.Splitter(name="test", panel=panel, bolts=bolts, car=car, envelope=envelope, **more)


def loop_of(points):
    """An outline of straight edges through points."""
    return {"start": points[0], "edges": [{"to": point} for point in points[1:]]}


RECTANGLE = loop_of([(0.4, -0.7), (1.0, -0.7), (1.0, 0.7), (0.4, 0.7)])


def turned(points, angle, about=(0.0, 0.0)):
    c, s = math.cos(angle), math.sin(angle)
    return [(about[0] + c * x - s * y, about[1] + s * x + c * y) for x, y in points]


def only(design, rule=None):
    checks = check_envelope(design)
    found = [check for check in checks if rule is None or check.rule.startswith(rule)]
    assert len(found) == 1
    return found[0]


def forward(outline, body, measured, limit=0.1, **more):
    limits = {"bodywork": body, "forward": {"limit": limit, "measured": measured}}
    return only(splitter(outline, limits, **more))


BOTH = pytest.mark.parametrize("measured", ["straight ahead", "along the normal"])

# --- forward of the bodywork -----------------------------------------------------------------------------------


@BOTH
def test_straight_panel_ahead_of_a_straight_bodywork(measured):
    check = forward(RECTANGLE, {"points": [(0.87, -0.8), (0.87, 0.8)]}, measured, limit=0.12)
    assert check.found == pytest.approx(0.13, abs=1e-9)
    assert check.distance == pytest.approx(-0.01, abs=1e-9)
    assert check.verdict == "outside"
    assert check.at[0] - check.since[0] == pytest.approx(0.13, abs=1e-9)


@pytest.mark.parametrize("angle", [0.1, 0.3, 0.6])
def test_oblique_bodywork_tells_the_two_measures_apart(angle):
    """A gap d between parallel lines at an angle to the axle is d along the normal and d / cos straight ahead."""
    d, t = 0.09, math.tan(angle)
    outline = loop_of([(0.2, -0.5), (1.0 + 0.5 * t, -0.5), (1.0 - 0.5 * t, 0.5), (0.2, 0.5)])
    back = d / math.cos(angle)
    body = {"points": [(1.0 - back + 0.9 * t, -0.9), (1.0 - back - 0.9 * t, 0.9)]}
    assert forward(outline, body, "along the normal").found == pytest.approx(d, abs=1e-9)
    assert forward(outline, body, "straight ahead").found == pytest.approx(back, abs=1e-9)


def arc_panel(radius, half, centre):
    tip = math.sqrt(radius**2 - half**2)
    start, end, via = (centre + tip, -half), (centre + tip, half), (centre + radius, 0.0)
    edges = [{"to": end, "via": via}, {"to": (centre + tip - 0.4, half)}, {"to": (centre + tip - 0.4, -half)}]
    return {"start": start, "edges": edges}


@pytest.mark.parametrize(("radius", "gap"), [(1.2, 0.1), (3.0, 0.15), (0.9, 0.05)])
def test_offset_of_a_round_bodywork(radius, gap):
    """Concentric arcs R and R + d are d apart along the normal, and furthest apart straight ahead at the sides."""
    half, centre = 0.75, 0.3
    body_half = 0.8
    tip = math.sqrt(radius**2 - body_half**2)
    body = {
        "start": (centre + tip, -body_half),
        "edges": [{"to": (centre + tip, body_half), "via": (centre + radius, 0.0)}],
    }
    outline = arc_panel(radius + gap, half, centre)
    assert forward(outline, body, "along the normal").found == pytest.approx(gap, abs=NEAR)
    ahead = math.sqrt((radius + gap) ** 2 - half**2) - math.sqrt(radius**2 - half**2)
    check = forward(outline, body, "straight ahead")
    assert check.found == pytest.approx(ahead, abs=NEAR)
    assert check.at[1] == pytest.approx(half, abs=1e-6)


def test_round_panel_ahead_of_a_straight_bodywork():
    """The crown of an arc that is no point of its polygon: R - (R cos) above the chord."""
    outline = arc_panel(1.5, 0.7, 0.0)
    check = forward(outline, {"points": [(1.4, -0.8), (1.4, 0.8)]}, "straight ahead")
    assert check.found == pytest.approx(0.1, abs=NEAR)
    assert check.at[1] == pytest.approx(0.0, abs=2e-3)


def test_notch_in_the_bodywork_is_found_between_the_corners():
    """Before the mouth of a V of half angle a, depth h: the nearest flank of its bottom is h sin(a') away."""
    body = {"points": [(0.8, -0.8), (0.6, 0.1), (0.8, 0.8)]}
    check = forward(RECTANGLE, body, "along the normal")
    # from a point (1, y) to both flanks alike: on the bisector of the notch, by the distances of point and line
    flanks = [((0.8, -0.8), (0.6, 0.1)), ((0.6, 0.1), (0.8, 0.8))]

    def off(y, a, b):
        dx, dy = b[0] - a[0], b[1] - a[1]
        return abs(dx * (y - a[1]) - dy * (1.0 - a[0])) / math.hypot(dx, dy)

    low, high = 0.0, 0.5  # bisection on the difference of the two distances
    for _ in range(60):
        y = 0.5 * (low + high)
        low, high = (low, y) if off(y, *flanks[0]) > off(y, *flanks[1]) else (y, high)
    assert check.found == pytest.approx(off(y, *flanks[0]), abs=NEAR)
    assert check.at[1] == pytest.approx(y, abs=1e-4)


@BOTH
def test_panel_behind_the_bodywork_counts_as_negative(measured):
    check = forward(RECTANGLE, {"points": [(1.05, -0.8), (1.05, 0.8)]}, measured, limit=0.02)
    assert check.found == pytest.approx(-0.05, abs=1e-9)
    assert check.verdict == "inside"
    assert "behind the bodywork" in check.note


def test_half_a_bodywork_line_is_completed_by_its_mirror_image():
    whole = Bodywork(points=[(0.8, -0.8), (0.9, 0.0), (0.8, 0.8)])
    for points in ([(0.9, 0.0), (0.8, 0.8)], [(0.8, 0.8), (0.9, 0.0)]):
        half = Bodywork(points=points, mirror=True)
        assert shapely.equals(shapely.LineString(half.line()), shapely.LineString(whole.line()))


def test_splines_and_roundings_of_half_a_line_run_on_through_the_centre_plane():
    half = [(0.9, 0.0), (0.88, 0.3), (0.8, 0.6), (0.6, 0.8)]
    line = Bodywork(start=half[0], edges=[{"to": half[-1], "through": half[1:-1]}], mirror=True).line(1e-6)
    middle = int(np.argmin(np.abs(line[:, 1])))
    assert line[middle, 0] == pytest.approx(line[:, 0].max(), abs=1e-6)  # at right angles to y = 0
    rounded = Bodywork(
        start=(0.6, 0.8), edges=[{"to": (0.9, 0.8), "round": 0.1}, {"to": (0.9, 0.0)}], mirror=True
    )
    expected = (0.3 - 0.1) + 0.1 * math.pi / 2.0 + (0.8 - 0.1)
    assert curves.length(rounded.chain()) == pytest.approx(2.0 * expected, rel=1e-12)


# --- width, rear, symmetry -------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [0.05, 0.4, 1.2])
def test_rotated_rectangle(angle):
    """Half extents of an a by b rectangle turned by t: (a cos t + b sin t) / 2 along x, (a sin t + b cos t) / 2."""
    a, b, centre = 0.6, 1.4, (0.7, 0.02)
    corners = [(-a / 2, -b / 2), (a / 2, -b / 2), (a / 2, b / 2), (-a / 2, b / 2)]
    outline = loop_of(turned(corners, angle, about=centre))
    limits = {"rear": 0.1, "widths": [{"against": "tyre", "half_width": 0.8}]}
    width, rear = check_envelope(splitter(outline, limits))
    c, s = math.cos(angle), math.sin(angle)
    assert width.found == pytest.approx(0.5 * (a * s + b * c) + centre[1], abs=1e-9)
    assert rear.found == pytest.approx(centre[0] - 0.5 * (a * c + b * s), abs=1e-9)
    assert rear.distance == pytest.approx(rear.found - 0.1, abs=1e-12)


@pytest.mark.parametrize("angle", [0.01, 0.04, 0.08])
def test_asymmetry_of_a_rotated_rectangle(angle):
    """A corner stands off the mirror image, which is turned by 2 t, by (a sin 2t - b (1 - cos 2t)) / 2."""
    a, b = 1.4, 0.6
    corners = [(-b / 2, -a / 2), (b / 2, -a / 2), (b / 2, a / 2), (-b / 2, a / 2)]
    outline = loop_of(turned(corners, angle, about=(0.7, 0.0)))
    check = only(splitter(outline, {"symmetry": 0.005}))
    expected = 0.5 * (a * math.sin(2.0 * angle) - b * (1.0 - math.cos(2.0 * angle)))
    assert check.found == pytest.approx(expected, abs=1e-6)


def test_asymmetry_by_a_known_shift():
    off = loop_of([(0.4, -0.7 + 0.006), (1.0, -0.7 + 0.006), (1.0, 0.7 + 0.006), (0.4, 0.7 + 0.006)])
    assert only(splitter(off, {"symmetry": 0.005})).found == pytest.approx(0.012, abs=1e-9)
    circles = [
        {"name": "left", "circle": {"centre": (0.8, 0.4), "radius": 0.05}},
        {"name": "right", "circle": {"centre": (0.8, -0.393), "radius": 0.05}},
    ]
    check = only(splitter(RECTANGLE, {"symmetry": 0.005}, panel={"cutouts": circles}))
    assert check.found == pytest.approx(0.007, abs=NEAR)  # equal circles, one moved by 7 mm
    assert check.note == "at an opening"
    same = only(splitter(RECTANGLE, {"symmetry": 0.005}))
    assert (same.found, same.note) == (0.0, "symmetric as drawn")


def test_largest_distance_against_the_hausdorff_distance_of_another_library():
    """GEOS (through shapely) takes the distance at sampled points, 0.1 % of each side apart here."""
    rng = np.random.default_rng(20240817)
    for _ in range(5):
        a = rng.uniform(-0.5, 0.5, (12, 2)).cumsum(axis=0)
        b = a + rng.normal(0.0, 0.05, a.shape)
        ours = max(
            largest_distance(steps_of(p), steps_of(q)).value for p, q in ((a, b), (b, a))
        )  # in either direction
        theirs = shapely.hausdorff_distance(shapely.LineString(a), shapely.LineString(b), densify=0.001)
        assert ours == pytest.approx(theirs, abs=1e-3)
        assert ours >= theirs - 1e-9  # samples cannot miss in the other sense


def test_width_against_the_bodywork():
    body = {"points": [(0.95, 0.0), (0.9, 0.65), (0.4, 0.68)], "mirror": True}
    limits = {
        "bodywork": body,
        "widths": [
            {"against": "widest bodywork", "allowance": 0.05},
            {"against": "bodywork at the same x", "stations": (0.4, 0.9), "allowance": 0.05},
        ],
    }
    widest, alongside = check_envelope(splitter(RECTANGLE, limits))
    assert (widest.limit, widest.found) == (pytest.approx(0.73), pytest.approx(0.7))
    assert alongside.found == pytest.approx(0.7 - 0.65, abs=1e-9)  # where the bodywork is narrowest
    assert alongside.at == (pytest.approx(0.9), pytest.approx(0.7))
    assert alongside.verdict == "measure it"


def test_width_is_that_of_the_worse_side():
    outline = loop_of([(0.4, -0.72), (1.0, -0.72), (1.0, 0.7), (0.4, 0.7)])
    body = {"points": [(1.0, -0.65), (0.4, -0.65), (0.3, 0.0), (0.4, 0.65), (1.0, 0.65)]}
    limits = {
        "bodywork": body,
        "widths": [
            {"against": "tyre", "half_width": 0.7},
            {"against": "bodywork at the same x", "stations": (0.5, 0.9)},
        ],
    }
    tyre, alongside = check_envelope(splitter(outline, limits))
    assert (tyre.found, tyre.at[1], tyre.verdict) == (pytest.approx(0.72), -0.72, "outside")
    assert (alongside.found, alongside.at[1]) == (pytest.approx(0.07), pytest.approx(-0.72))


def test_rear_of_a_round_panel():
    """The rear-most point of a circle lies between the points of any polygon of it."""
    outline = sf.Outline.circle((0.8, 0.0), 0.3).given()
    check = only(splitter(outline, {"rear": 0.499}))
    assert check.found == pytest.approx(0.5, abs=NEAR)
    assert check.verdict == "measure it"


# --- radii -----------------------------------------------------------------------------------------------------


def test_corner_radius_of_rounded_and_sharp_corners():
    rounded = sf.Outline.rectangle(0.4, 1.0, -0.7, 0.7, round=0.05).given()
    limit = {"corner_radius": {"least": 0.03}}
    assert only(splitter(rounded, limit)).found == pytest.approx(0.05, abs=1e-9)
    sharp = only(splitter(RECTANGLE, limit))
    assert (sharp.found, sharp.note, sharp.verdict) == (0.0, "a sharp corner", "outside")
    mixed = {
        "start": (0.4, 0.0),
        "edges": [{"to": (0.4, 0.7)}, {"to": (1.0, 0.7), "round": 0.08}, {"to": (1.0, 0.0)}],
        "mirror": True,
    }
    front = {"corner_radius": {"least": 0.03, "ahead_of": 0.6}}
    assert only(splitter(mixed, front)).found == pytest.approx(0.08, abs=1e-9)


def test_radius_of_a_spline_is_that_of_the_ellipse_it_follows():
    """An ellipse of half axes a > b is sharpest at the ends of the long one: b² / a."""
    a, b = 0.7, 0.5
    t = np.linspace(0.0, 2.0 * math.pi, 97)
    points = [(0.7 + b * math.cos(angle), a * math.sin(angle)) for angle in t[:-1]]
    radius, at = sharpest_corner((curves.Spline((*points, points[0])),))
    assert radius == pytest.approx(b**2 / a, rel=2e-3)
    assert abs(at[1]) == pytest.approx(a, rel=1e-3)


def test_inward_corners_do_not_count():
    """A sharp notch between rounded outward corners: the least radius is theirs."""
    corners = [
        ((1.0, -0.7), 0.06),
        ((1.0, -0.1), 0.04),
        ((0.9, 0.0), 0.0),
        ((1.0, 0.1), 0.04),
        ((1.0, 0.7), 0.06),
    ]
    edges = [{"to": to, "round": radius} for to, radius in corners]
    outline = {"start": (0.4, -0.7), "edges": [*edges, {"to": (0.4, 0.7)}]}
    limit = {"corner_radius": {"least": 0.03, "ahead_of": 0.5}}
    for way in (outline, mirrored_way(outline)):  # whichever way round the outline runs
        assert only(splitter(way, limit)).found == pytest.approx(0.04, abs=1e-9)


def mirrored_way(outline):
    """The mirror image about y = 0, which runs the other way round."""
    edges = [edge | {"to": (edge["to"][0], -edge["to"][1])} for edge in outline["edges"]]
    return {"start": (outline["start"][0], -outline["start"][1]), "edges": edges}


def test_edge_radius_is_taken_as_given():
    limit = {"edge_radius": {"least": "3 mm", "built": "5 mm", "tolerance": "0.5 mm"}}
    check = only(splitter(RECTANGLE, limit))
    assert (check.found, check.verdict) == (pytest.approx(0.005), "inside")
    open_ = only(splitter(RECTANGLE, {"edge_radius": {"least": "3 mm"}}))
    assert open_.verdict == "not measured"
    assert "built" in open_.note


# --- clearance and test forces ---------------------------------------------------------------------------------


def test_clearance_of_the_standing_car_counts_what_hangs_below():
    car = {"ride_height": 0.08, "rake": math.radians(1.0)}
    tube = {"shape": "tube", "width": 0.025, "height": 0.025, "wall": 0.002}
    rib = {
        "name": "keel",
        "points": [(0.5, 0.0), (0.8, 0.0)],
        "section": tube,
        "material": "6061-T6 extrusion",
    }
    limit = {"clearance": {"static": 0.05}}
    bare = only(splitter(RECTANGLE, limit, car=car, ribs=[rib]))
    assert bare.found == pytest.approx(0.08 - 1.0 * math.tan(math.radians(1.0)), abs=1e-12)
    below = only(splitter(RECTANGLE, limit, car=car, ribs=[rib | {"side": "below"}]))
    assert below.found == pytest.approx(0.08 - 0.8 * math.tan(math.radians(1.0)) - 0.025, abs=1e-9)
    assert (below.note, below.at[0]) == ("under keel", pytest.approx(0.8))
    sheet = {"material": "birch plywood 12 mm", "thickness": 0.03}
    doubler = {
        "name": "skid",
        "rectangle": {"x": (0.5, 0.9), "y": (-0.3, -0.1)},
        "sheet": sheet,
        "side": "below",
    }
    skid = only(splitter(RECTANGLE, limit, car=car, doublers=[doubler]))
    assert skid.found == pytest.approx(0.08 - 0.9 * math.tan(math.radians(1.0)) - 0.03, abs=1e-9)


def test_clearance_under_load_is_that_of_the_solution(demo_solutions):
    design = demo_solutions[0].model.design
    names = [case.name for case in design.cases]
    own = {"case": names[1], "least": "25 mm"}
    design = design.with_(
        handling=(), buckling=(), envelope={"clearance": {"loaded": "40 mm", "cases": [own]}}
    )
    assert cases_to_solve(design) == tuple(names)
    checks = {check.rule: check for check in check_envelope(design, demo_solutions[:2])}
    for solution, limit in zip(demo_solutions[:2], (0.04, 0.025), strict=True):
        check = checks[f"clearance, {solution.case.name}"]
        assert (check.limit, check.found) == (limit, solution.min_clearance)
        assert check.at == solution.min_clearance_at
    unsolved = checks[f"clearance, {names[2]}"]
    assert unsolved.verdict == "not measured"
    assert f"load case '{names[2]}' is not solved" in unsolved.note


def test_deflection_is_that_of_the_force_alone():
    """In a linear model weight and air drop out: the movement is that of the same force without them."""
    push = {"kind": "point", "at": (0.95, 0.2), "force": (0.0, 0.0, -200.0)}
    air = {"kind": "uniform", "pressure": 800.0}
    cases = [
        {"name": "push", "forces": [push], "pressure": air},
        {"name": "force alone", "forces": [push], "gravity": False},
    ]
    limit = {"deflections": [{"case": "push", "most": "10 mm"}]}
    design = splitter(RECTANGLE, limit, cases=cases, mesh={"size": 0.08})
    check = check_envelope(design, [sf.solve(design, "push")])[0]
    alone = sf.solve(design, "force alone")
    assert check.found == pytest.approx(float(alone.sag_at(0.95, 0.2)), rel=1e-6)
    assert check.found > 1e-4
    assert "200 N" in check.measured
    table = sf.envelope(design, solve_cases=True)
    assert table["found_mm"][0] == pytest.approx(1e3 * check.found, rel=1e-9)
    bare = design.with_(envelope={"deflections": [{"case": "force alone", "most": "10 mm"}]})
    assert check_envelope(bare, alone)[0].found == pytest.approx(check.found, rel=1e-6)


# --- verdicts and table ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rear", "verdict"),
    [(0.390, "inside"), (0.3959, "inside"), (0.397, "measure it"), (0.4, "measure it"), (0.4039, "measure it"),
     (0.405, "outside")],
)  # fmt: skip
def test_near_a_limit_the_car_is_to_be_measured(rear, verdict):
    """4 mm is the default tolerance: common practice, no source."""
    assert only(splitter(RECTANGLE, {"rear": rear})).verdict == verdict


def test_tolerance_is_the_users():
    limits = {"rear": 0.39, "tolerance": "12 mm", "edge_radius": {"least": 0.003, "built": 0.005}}
    assert [check.verdict for check in check_envelope(splitter(RECTANGLE, limits))] == ["measure it"] * 2


@pytest.fixture(scope="module")
def limited():
    """The demonstration within invented limits."""
    return sf.demo().with_(
        handling=(),
        buckling=(),
        cases=sf.demo().cases[:3],
        envelope={
            "bodywork": {
                "start": ("905 mm", "0 mm"),
                "mirror": True,
                "edges": [
                    {
                        "to": ("430 mm", "830 mm"),
                        "through": [
                            ("898 mm", "200 mm"),
                            ("875 mm", "420 mm"),
                            ("820 mm", "640 mm"),
                            ("760 mm", "735 mm"),
                            ("680 mm", "782 mm"),
                            ("560 mm", "812 mm"),
                        ],
                    }
                ],
            },
            "forward": {"limit": "120 mm", "measured": "along the normal"},
            "widths": [
                {"against": "tyre", "half_width": "815 mm"},
                {"against": "bodywork at the same x", "stations": ("430 mm", "600 mm"), "allowance": "15 mm"},
            ],
            "rear": "350 mm",
            "clearance": {"static": "55 mm", "loaded": "40 mm"},
            "symmetry": "3 mm",
            "corner_radius": {"least": "35 mm"},
            "deflections": [{"case": "push on the lip", "most": "5 mm", "tolerance": "1 mm"}],
        },
    )


def test_table(limited, demo_solutions):
    table = sf.envelope(limited)
    assert tuple(table.columns) == COLUMNS
    assert table.attrs["caution"] == CAUTION
    row = table.set_index("rule").loc["width, tyre"]
    assert (row.limit_mm, row.found_mm, row.distance_mm) == pytest.approx((815.0, 800.0, 15.0))
    assert row.y_mm == pytest.approx(800.0)
    unsolved = table[table["verdict"] == "not measured"]
    assert len(unsolved) == len(cases_to_solve(limited)) + 1  # and the deflection
    solved = envelope_table(check_envelope(limited, demo_solutions))
    assert "not measured" not in set(solved["verdict"])
    measured = solved.dropna(subset=["distance_mm"])
    gap = measured["limit_mm"] - measured["found_mm"]
    assert np.allclose(np.abs(gap), np.abs(measured["distance_mm"]))


def test_nothing_is_ever_called_legal(limited, demo_solutions):
    words = " ".join(
        [CAUTION, sf.envelope(limited, demo_solutions).to_string(), *texts(plot_envelope(limited))]
    ).lower()
    for word in ("legal", "complian", "complies", "conform", "permitted", "approved", "passed"):
        assert word not in words


def test_file_keeps_the_envelope(limited, tmp_path):
    sf.save(limited.with_(cases=limited.cases[2:]), tmp_path / "one.toml")
    again = sf.load(tmp_path / "one.toml")
    assert again.envelope == limited.envelope
    assert dumps(again) == (tmp_path / "one.toml").read_text("utf-8")
    assert "envelope" in sf.json_schema()["properties"]
    assert limited.with_("envelope.forward.limit", "90 mm").envelope.forward.limit == pytest.approx(0.09)


# --- bad input -------------------------------------------------------------------------------------------------

LINE = {"points": [(0.9, -0.8), (0.9, 0.8)]}
AHEAD = {"limit": 0.1, "measured": "straight ahead"}


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        ({}, "has no limit; write at least one"),
        ({"bodywork": LINE}, "has no limit; write at least one"),
        ({"forward": AHEAD}, "has a forward limit but no bodywork to measure from"),
        ({"widths": [{"against": "widest bodywork"}]}, 'a width limit against "widest bodywork" but no bodywork'),
        ({"bodywork": LINE, "forward": AHEAD | {"limit": "-5 mm"}}, "forward.limit: .*is below zero"),
        ({"bodywork": LINE, "forward": {"limit": 0.1}}, "forward.measured: is missing"),
        (
            {"bodywork": LINE, "forward": AHEAD | {"measured": "straight"}},
            "forward.measured: .*did you mean 'straight ahead'",
        ),
        ({"rear": 0.4, "tolerance": "-1 mm"}, "tolerance: .*is below zero"),
        ({"widths": [{"against": "tyre"}]}, "is against the tyre but has no half_width"),
        ({"widths": [{"against": "tyre", "half_width": 0.8, "stations": (0.1, 0.2)}]}, "stations have no use"),
        ({"bodywork": LINE, "widths": [{"against": "bodywork at the same x"}]}, "has no stations"),
        (
            {"bodywork": LINE, "widths": [{"against": "bodywork at the same x", "stations": (0.5, 0.4)}]},
            "x = 500.0 mm to x = 400.0 mm; write the smaller first",
        ),
        ({"clearance": {}}, "has no limit; write static, loaded or cases"),
        (
            {"clearance": {"cases": [{"case": "a", "least": 0.01}] * 2}},
            "has two limits for the load case 'a'",
        ),
        ({"bodywork": {"mirror": True}, "forward": AHEAD}, "has no line; write points, or start and edges"),
        ({"bodywork": LINE | {"start": (0, 0)}, "forward": AHEAD}, "has points and start; write points, or"),
        ({"bodywork": {"start": (0, 0)}, "forward": AHEAD}, "has start; write points, or start and edges"),
        (
            {"bodywork": {"points": [(0.8, -0.8), (0.9, 0.5), (0.9, -0.5), (0.8, 0.8)]}, "forward": AHEAD},
            r"the line of the bodywork crosses itself at \(8\d\d\.\d, -?0\.0\) mm",
        ),
        (
            {"bodywork": {"points": [(0.9, 0.1), (0.8, 0.8)], "mirror": True}, "forward": AHEAD},
            r"one of its two ends on y = 0, but these are \(900.0, 100.0\) and \(800.0, 800.0\) mm",
        ),
        (
            {"bodywork": {"points": [(0.9, 0.0), (0.8, -0.8)], "mirror": True}, "forward": AHEAD},
            r"it has a point at \(800.0, -800.0\) mm; change the sign of its y",
        ),
        (
            {
                "bodywork": {"start": (0.9, -0.8), "edges": [{"to": (0.9, 0.8), "round": 0.1}]},
                "forward": AHEAD,
            },
            "no corner to round; leave its round out",
        ),
    ],
)  # fmt: skip
def test_limits_that_cannot_be_are_refused_in_one_sentence(limits, sentence):
    with pytest.raises(DesignError, match=sentence) as problem:
        Envelope(**limits)
    assert "\n" not in str(problem.value)


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        (
            {"bodywork": {"points": [(0.9, -0.8), (0.9, 0.6)]}, "forward": AHEAD},
            "runs from y = -800.0 mm to y = 600.0 mm and the panel reaches y = 700.0 mm; carry the line on",
        ),
        (
            {"bodywork": {"points": [(0.9, -0.6), (0.9, 0.8)]}, "forward": AHEAD},
            "the panel reaches y = -700.0 mm; carry the line on",
        ),
        (
            {
                "bodywork": {"points": [(0.5, -0.71), (0.9, 0.0), (0.5, 0.71)]},
                "widths": [{"against": "bodywork at the same x", "stations": (0.45, 0.8)}],
            },
            "does not reach x = 450.0 mm on the left side",
        ),
        (
            {"bodywork": LINE, "widths": [{"against": "bodywork at the same x", "stations": (1.2, 1.4)}]},
            "the panel lies from x = 400.0 mm to x = 1000.0 mm; give stations that meet it",
        ),
        ({"clearance": {"cases": [{"case": "brakng", "least": 0.01}]}}, "no load case 'brakng'"),
        ({"clearance": {"loaded": 0.03}}, "has no load case; add one, or leave loaded out"),
        ({"deflections": [{"case": "push", "most": 0.01}]}, "no load case 'push'"),
    ],
)  # fmt: skip
def test_limits_that_do_not_fit_the_panel_name_the_place(limits, sentence):
    with pytest.raises(DesignError, match=sentence) as problem:
        check_envelope(splitter(RECTANGLE, limits))
    assert "\n" not in str(problem.value)


def test_line_that_ends_before_the_normal_is_refused():
    """The front edge stands where only the end of the line is near: no normal of it leads there."""
    body = {"points": [(0.4, -0.8), (0.9, 0.705)]}
    with pytest.raises(
        DesignError, match=r"ends at \(900.0, 705.0\) mm, before the normal that meets .* carry"
    ):
        forward(loop_of([(0.0, -0.1), (0.7, -0.1), (1.4, 0.7), (0.0, 0.7)]), body, "along the normal")


def test_case_of_a_deflection_needs_one_force_or_a_place():
    push = {"kind": "point", "at": (0.9, 0.2), "force": (0.0, 0.0, -200.0)}
    cases = [{"name": "still"}, {"name": "two", "forces": [push, push | {"at": (0.9, -0.2)}]}]
    for case, sentence in (("still", "has no force"), ("two", "has 2 point forces; write at")):
        limit = {"deflections": [{"case": case, "most": 0.01}]}
        with pytest.raises(DesignError, match=sentence):
            check_envelope(splitter(RECTANGLE, limit, cases=cases))


def test_envelope_and_solutions_belong_to_the_design(demo_solutions, limited):
    with pytest.raises(DesignError, match="has no envelope; give it one"):
        sf.envelope(sf.demo().with_(envelope=None))
    other = limited.with_("panel.sheet.grain_angle", "0 deg")
    with pytest.raises(DesignError, match="belongs to another design"):
        sf.envelope(other, demo_solutions[0])


# --- drawing ---------------------------------------------------------------------------------------------------


def texts(ax):
    return [text.get_text() for text in ax.texts] + [ax.get_title(loc="left")]


def artist(ax, gid):
    found = [a for a in ax.findobj() if a.get_gid() == gid]
    assert found, gid
    return found[0]


@pytest.fixture(scope="module")
def picture(limited):
    return plot_envelope(limited)


def test_limits_are_drawn_where_they_are(picture, limited):
    tyre = artist(picture, "limit width, tyre, left").get_xydata()
    assert np.allclose(tyre[:, 0], 815.0)
    assert np.allclose(artist(picture, "limit rear").get_xydata()[:, 1], 350.0)
    limit = shapely.LineString(artist(picture, "limit forward").get_xydata()[:, ::-1] / 1e3)
    body = shapely.LineString(limited.envelope.bodywork.line(1e-5))
    gaps = shapely.distance(shapely.points(shapely.get_coordinates(limit)), body)
    assert np.allclose(gaps, 0.12, atol=5e-4)  # of a picture, whose curves are drawn within 0.2 mm


def test_tolerance_is_shaded_on_both_sides(picture):
    band = artist(picture, "tolerance width, tyre, right").get_xy()
    assert (band[:, 0].min(), band[:, 0].max()) == pytest.approx((-819.0, -811.0))


def test_worst_places_are_called_out(picture, limited):
    check = next(check for check in check_envelope(limited) if check.rule == "forward")
    mark = artist(picture, "worst forward").get_xydata()[0]
    assert mark == pytest.approx((1e3 * check.at[1], 1e3 * check.at[0]))
    text = artist(picture, "call-out forward")
    assert text.get_text() == f"forward\n{1e3 * abs(check.distance):.1f} mm outside"
    assert text.get_color() == style.ALARM
    assert artist(picture, "call-out rear").get_color() == style.INK


def test_what_is_beyond_a_limit_is_coloured(picture, limited):
    shapes = [shapely.Polygon(a.get_xy()) for a in picture.findobj() if a.get_gid() == "beyond"]
    beyond = shapely.union_all(shapes)
    worst = artist(picture, "worst forward").get_xydata()[0]
    assert beyond.distance(shapely.Point(*worst)) < 1.0
    assert shapely.Point(0.0, 700.0).distance(beyond) > 100.0
    far = plot_envelope(limited.with_("envelope.forward.limit", "200 mm"), table=False)
    assert not [a for a in far.findobj() if a.get_gid() == "beyond"]


def test_caution_and_count_are_in_the_picture(picture, limited):
    said = " ".join(texts(picture)).replace("\n", " ")
    assert CAUTION in said
    assert "1 outside" in said
    assert "invented data" in said
    bare = plot_envelope(limited, table=False, title="")
    assert CAUTION in " ".join(texts(bare)).replace("\n", " ")
    assert bare.get_title(loc="left") == ""


def test_inches(limited):
    ax = plot_envelope(limited, unit="in")
    assert ax.get_xlabel().endswith("(in)")
    assert np.allclose(artist(ax, "limit rear").get_xydata()[:, 1], 350.0 / 25.4)
    assert artist(ax, "call-out rear").get_text() == f"rear\n{30.0 / 25.4:.3f} in inside"
    with pytest.raises(UnitError, match="cannot be drawn in 'cm'"):
        plot_envelope(limited, unit="cm")


def test_call_outs_do_not_cover_one_another(picture):
    picture.figure.draw_without_rendering()
    boxes = [
        shapely.box(*a.get_bbox_patch().get_window_extent().extents)
        for a in picture.texts
        if (a.get_gid() or "").startswith("call-out")
    ]
    assert len(boxes) >= 4
    for i, one in enumerate(boxes):
        for other in boxes[:i]:
            assert one.intersection(other).area < 0.05 * min(one.area, other.area)
