"""Joints of ribs, ribs that meet, and what is left of a rib that is notched.

Cut lengths are compared with closed forms of plane geometry.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from splitterfem.design import (
    Adhesive,
    Bond,
    Car,
    Fasteners,
    Outline,
    Panel,
    Rib,
    Sheet,
    Splitter,
    check,
    pieces,
)
from splitterfem.design.crossing import covered, meeting
from splitterfem.errors import DesignError
from splitterfem.materials import AngleSection, FlatSection, TubeSection

TUBE = TubeSection(width="25 mm", height="25 mm", wall="3 mm")
SCREWS = {"kind": "screws", "diameter": "5 mm", "pitch": "100 mm"}
COORDINATE = st.floats(0, 1, allow_subnormal=False)  # GEOS loses intersections at 2e-311 m
PASTE = {"kind": "adhesive", "thickness": "0.5 mm", "shear_modulus": "900 MPa"}


def plain(*ribs: Rib, **changes: Any) -> Splitter:
    """A panel of 600 x 1600 mm, 12 mm thick, with ribs."""
    sheet = Sheet(material="birch plywood 12 mm", thickness="12 mm")
    whole = Panel(outline=Outline.rectangle(0, "600 mm", "-800 mm", "800 mm"), sheet=sheet)
    fields = {"name": "plain", "panel": whole, "car": Car(ride_height="80 mm"), "ribs": ribs}
    return Splitter(**(fields | changes))


def rib(name: str = "cross", *points: tuple[float, float], **changes: Any) -> Rib:
    fields = {"points": points or ((0.4, -0.5), (0.4, 0.5)), "section": TUBE, "material": "mild steel"}
    return Rib(**({"name": name} | fields | changes))


def notched(name: str, *points: tuple[float, float], **changes: Any) -> Rib:
    return rib(name, *points, crossing="notched", **changes)


def complaint(make: Any, *args: Any, **fields: Any) -> str:
    """The text of the error that something raises."""
    with pytest.raises(DesignError) as caught:
        make(*args, **fields)
    return str(caught.value)


def length(points: tuple[tuple[float, float], ...]) -> float:
    return math.fsum(math.dist(a, b) for a, b in pairwise(points))


# joints -----------------------------------------------------------------------------------------


def test_kinds_of_joints() -> None:
    assert rib().joint == Bond()
    assert rib(joint={"kind": "bond"}).joint == Bond()
    glue = rib(joint=PASTE | {"width": "20 mm", "strength": "15 MPa", "name": "paste, invented"}).joint
    assert glue == Adhesive(
        thickness=0.0005, shear_modulus=0.9e9, width=0.02, strength=15e6, name="paste, invented"
    )
    assert (
        Adhesive(thickness=1e-3, shear_modulus=1e9).width,
        Adhesive(thickness=1e-3, shear_modulus=1).strength,
    ) == (
        None,
        None,
    )
    assert (glue.tensile_strength, Adhesive(**PASTE, tensile_strength="8 MPa").tensile_strength) == (
        None,
        8e6,
    )
    screws = rib(joint=SCREWS).joint
    assert screws == Fasteners(kind="screws", diameter=0.005, pitch=0.1)
    assert (screws.rows, screws.slip_modulus, screws.strength, screws.penetration) == (1, None, None, None)
    full = Fasteners(
        kind="screws",
        diameter="5 mm",
        pitch="4 in",
        rows=2,
        slip_modulus="2 kN/mm",
        strength="1.2 kN",
        penetration="11 mm",
    )
    assert (full.slip_modulus, full.strength, full.penetration) == (2e6, 1200.0, 0.011)
    assert full.pitch == pytest.approx(0.1016)


@pytest.mark.parametrize(
    ("joint", "sentence"),
    [
        ({"kind": "screw"}, "joint: \"screw\" is not a kind; did you mean 'screws'"),
        ({"pitch": 1}, "joint: has no kind; write it to say which one is meant (choices: "),
        ({"kind": "bond", "width": 1}, "joint.width: there is no such field"),
        ({"kind": "adhesive", "thickness": "1 mm"}, "joint.shear_modulus: is missing; write it"),
        (PASTE | {"thickness": "0 mm"}, 'joint.thickness: "0 mm" is not above zero'),
        (PASTE | {"shear_moduls": 1}, "did you mean 'shear_modulus'"),
        (PASTE | {"tensile_strength": "0 MPa"}, 'joint.tensile_strength: "0 MPa" is not above zero'),
        (PASTE | {"width": "30 mm"}, "has a joint 30 mm wide on a foot of 25 mm; make the joint narrower"),
        (SCREWS | {"rows": 0}, "joint.rows: 0 is not a number of rows; write a whole number from 1 to 20"),
        (SCREWS | {"rows": 2.5}, "joint.rows: 2.5 is not a number of rows"),
        (SCREWS | {"rows": True}, "joint.rows: True is not a number of rows"),
        (SCREWS | {"rows": 6}, "has 6 rows of screws 30 mm wide on a foot of 25 mm"),
        (SCREWS | {"pitch": "4 mm"}, "joint: a pitch of 4 mm leaves nothing between screws of 5 mm"),
        (SCREWS | {"pitch": 100}, "has screws at a pitch of 100000 mm on a length of 1000 mm"),
        (SCREWS | {"strength": "0 N"}, 'joint.strength: "0 N" is not above zero'),
        (SCREWS | {"slip_modulus": "3 kN"}, 'joint.slip_modulus: "3 kN" is a force, not a spring rate'),
        (
            SCREWS | {"kind": "rivets", "penetration": "9 mm"},
            "has a penetration, but rivets go through the panel",
        ),
    ],
)
def test_joints_that_are_refused(joint: dict[str, Any], sentence: str) -> None:
    told = complaint(rib, joint=joint)
    assert sentence in told
    assert told.startswith('rib "cross"')


def test_foot_of_each_section() -> None:
    assert rib().foot_width == 0.025
    angle = AngleSection(foot="30 mm", upright="20 mm", wall="3 mm")
    for section in (TUBE, angle, FlatSection(width="40 mm", height="5 mm")):
        assert rib(section=section).foot_width == pytest.approx(section.properties().foot_width)


def test_joints_change_by_path() -> None:
    splitter = plain(rib(joint=SCREWS))
    assert splitter.with_("ribs.cross.joint.pitch", "50 mm").ribs[0].joint.pitch == 0.05
    assert splitter.with_("ribs.cross.joint", PASTE).ribs[0].joint.kind == "adhesive"
    left, right = rib("long", (0.1, 0.2), (0.5, 0.2), joint=SCREWS, mirror=True).sides()
    assert left.joint == right.joint == Fasteners(**SCREWS)


# pieces -----------------------------------------------------------------------------------------


@settings(deadline=None)
@given(st.floats(0.3, math.pi - 0.3), st.floats(0.005, 0.05), st.floats(-0.2, 0.2))
def test_a_straight_crossing_takes_half_the_width_over_the_sine(
    angle: float, width: float, at: float
) -> None:
    """On either side of the crossing b / (2 sin a) is cut: plane geometry."""
    cut = notched("cut", (0.3, -0.5), (0.3, 0.5))
    dx, dy = 0.3 * math.sin(angle), 0.3 * math.cos(angle)
    through = rib("through", (0.3 - dx, at - dy), (0.3 + dx, at + dy))
    first, second = pieces(cut, [cut, through], width=lambda _: width)
    half = 0.5 * width / math.sin(angle)
    assert first == (pytest.approx((0.3, -0.5)), pytest.approx((0.3, at - half)))
    assert second == (pytest.approx((0.3, at + half)), pytest.approx((0.3, 0.5)))


def test_width_is_that_of_the_foot_unless_given() -> None:
    cut, through = notched("cut", (0.1, 0.0), (0.5, 0.0)), rib()
    assert pieces(cut, [through])[0][-1] == pytest.approx((0.4 - 0.0125, 0.0))
    assert pieces(cut, [through], width=lambda other: 2 * other.foot_width)[0][-1][0] == pytest.approx(0.375)


def test_only_a_notched_rib_is_cut_and_only_by_those_in_its_way() -> None:
    through, cut = rib(), notched("cut", (0.1, 0.0), (0.5, 0.0))
    assert pieces(through, [cut, through]) == (through.points,)
    assert pieces(cut, [cut, rib(side="below"), rib("far", (0.2, 0.1), (0.2, 0.4))]) == (cut.points,)
    assert len(pieces(cut, [through, rib("other", (0.2, -0.1), (0.2, 0.1))])) == 3


def test_bends_stay_where_they_are() -> None:
    cut = notched("cut", (0.1, -0.4), (0.1, 0.0), (0.5, 0.0), (0.5, 0.4))
    left, right = pieces(cut, [rib("through", (0.3, -0.2), (0.3, 0.2))])
    assert left == (pytest.approx((0.1, -0.4)), pytest.approx((0.1, 0.0)), pytest.approx((0.2875, 0.0)))
    assert right == (pytest.approx((0.3125, 0.0)), pytest.approx((0.5, 0.0)), pytest.approx((0.5, 0.4)))


def test_a_rib_that_ends_on_another_ends_at_its_foot() -> None:
    (only,) = pieces(notched("cut", (0.4, 0.0), (0.1, 0.0)), [rib()])
    assert only == (pytest.approx((0.3875, 0.0)), pytest.approx((0.1, 0.0)))


def test_the_strip_has_the_corner_of_a_bent_rib() -> None:
    """A strip of width b with a right angle in it has a mitre; along its diagonal it measures b sqrt(2)."""
    bent = rib("bent", (0.1, 0.0), (0.3, 0.0), (0.3, 0.3))
    first, second = pieces(notched("cut", (0.2, 0.1), (0.4, -0.1)), [bent])
    assert math.dist(first[-1], second[0]) == pytest.approx(0.025 * math.sqrt(2))


def test_mirrored_pairs_cut_on_both_sides() -> None:
    cut = notched("cut", (0.4, -0.5), (0.4, 0.5))
    pair = rib("pair", (0.1, 0.2), (0.55, 0.2), mirror=True)
    ends = [y for piece in pieces(cut, [cut, pair]) for _, y in piece]
    assert ends == pytest.approx([-0.5, -0.2125, -0.1875, 0.1875, 0.2125, 0.5])
    half = notched("pair", (0.1, 0.2), (0.55, 0.2), mirror=True).sides()[1]
    assert [len(piece) for piece in pieces(half, [rib()])] == [2, 2]


def test_pieces_that_cannot_be() -> None:
    pair = notched("pair", (0.1, 0.2), (0.55, 0.2), mirror=True)
    assert "the rib 'pair' is a pair; give one of its sides()" in complaint(pieces, pair, [])
    one, other = notched("one", (0.1, 0.0), (0.5, 0.0)), notched("other", (0.4, -0.1), (0.4, 0.1))
    assert "'one' and 'other' meet at (400.0, 0.0) mm and both are notched" in complaint(pieces, one, [other])
    assert pieces(notched("short", (0.395, 0.0), (0.405, 0.0)), [rib()]) == ()


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(COORDINATE, COORDINATE), min_size=2, max_size=5), st.floats(0.01, 0.2))
def test_pieces_and_cuts_are_the_whole(points: list[tuple[float, float]], width: float) -> None:
    """Against the difference and the intersection that a geometry library makes."""
    line = shapely.LineString(points)
    if not line.is_simple or min(math.dist(a, b) for a, b in pairwise(points)) < 0.01:
        return
    through = rib("through", (0.0, 0.5), (1.0, 0.6))
    area = shapely.LineString(through.points).buffer(0.5 * width, cap_style="flat", join_style="mitre")
    left = pieces(notched("cut", *points), [through], width=lambda _: width)
    cuts = covered(points, [area])
    assert sum(map(length, left)) == pytest.approx(line.difference(area).length, abs=5e-4)
    assert sum(end - start for start, end in cuts) == pytest.approx(line.intersection(area).length, abs=1e-9)
    for piece in left:
        assert shapely.LineString(piece).intersection(area).length < 1e-6


def test_where_two_ribs_meet() -> None:
    assert meeting(rib(), rib("b", (0.1, 0.1), (0.5, 0.1))) == pytest.approx((0.4, 0.1))
    # the end of one lies 5 mm beside the line of the other, within its foot of 12.5 mm on either side
    place = meeting(rib(), rib("b", (0.1, 0.1), (0.395, 0.1)))
    assert place == pytest.approx((0.5 * (0.3875 + 0.395), 0.1))
    assert meeting(rib(), rib("b", (0.1, 0.1), (0.3875, 0.1))) is None  # butts against the foot
    assert meeting(rib(), rib("b", (0.1, 0.1), (0.3, 0.1))) is None


# findings ---------------------------------------------------------------------------------------

LONG = ((0.1, 0.0), (0.5, 0.0))
FIVE_FOOT = FlatSection(width="60 mm", height="5 mm")


@pytest.mark.parametrize(
    ("ribs", "line"),
    [
        (
            [rib("a", *LONG), rib("b")],
            "ribs.a.crossing: crosses the rib 'b' at (400.0, 0.0) mm and both run through; notch one: "
            'crossing = "notched", or put one on the other face',
        ),
        (
            [rib("a", (0.1, 0.0), (0.4, 0.0)), rib("b")],
            "ribs.a.crossing: crosses the rib 'b' at (400.0, 0.0) mm",
        ),
        (
            [rib("a", (0.1, 0.0), (0.395, 0.0)), rib("b")],
            "ribs.a.crossing: runs into the foot of the rib 'b' at (391.2",
        ),
        (
            [rib("cross"), rib("pair", (0.1, 0.2), (0.55, 0.2), mirror=True)],
            "ribs.cross.crossing: crosses the rib 'pair ",
        ),
        (
            [rib("a", (0.1, -0.1), (0.5, 0.2), mirror=True)],
            "ribs.a.crossing: crosses its own mirror image 'a right' at (233.3",
        ),
        (
            [notched("a", *LONG), notched("b")],
            "ribs.a.crossing: meets the rib 'b' at (400.0, 0.0) mm and both are notched; let one run through",
        ),
        (
            [rib("a", (0.1, 0.0), (0.395, 0.0)), notched("b", section=FIVE_FOOT)],
            "ribs.b.crossing: is notched for the rib 'a', which only ends within its foot at ",
        ),
        (
            [notched("a", (0.39, 0.0), (0.41, 0.0)), rib("b")],
            "ribs.a.crossing: is notched away altogether by the ribs that it meets",
        ),
        (
            [notched("a", *LONG), notched("b"), rib("c", (0.2, -0.3), (0.2, 0.3))],
            "ribs.a.crossing: meets the rib 'b' at (400.0, 0.0) mm and both are notched",
        ),
        (
            [notched("a"), notched("b"), rib("c", *LONG)],
            "ribs.a.points: lies in the same place as the rib 'b' over 1000 mm",
        ),
        (
            [notched("a"), rib("b")],
            "ribs.a.points: lies in the same place as the rib 'b' over 1000 mm",
        ),
    ],
)
def test_ribs_that_cannot_be_built_together(ribs: list[Rib], line: str) -> None:
    told = complaint(plain, *ribs)
    assert told.startswith(line), told
    assert len(told.splitlines()) == 1


def found(*ribs: Rib) -> list[tuple[str, str, str]]:
    return [(finding.code, finding.severity, str(finding)) for finding in check(plain(*ribs))]


def test_ribs_that_go_together() -> None:
    assert found(notched("a", *LONG), rib("b"), rib("c", (0.2, -0.3), (0.2, 0.3))) == []
    assert found(rib("a", *LONG), rib("b", side="below")) == []
    assert found(rib("a", (0.1, 0.0), (0.351, 0.0)), rib("b")) == []  # 36.5 mm away, of 36 mm
    # side by side, ending together and one before the other
    assert found(rib("a", (0.1, 0.0), (0.5, 0.0)), rib("b", (0.1, 0.04), (0.45, 0.04))) == []
    assert found(notched("a", (0.1, 0.0), (0.4, 0.0)), rib("b")) == []


def test_a_rib_that_ends_close_to_another_is_noted() -> None:
    ((code, severity, text),) = found(rib("a", (0.1, 0.0), (0.3605, 0.0)), rib("b"))
    assert (code, severity) == ("rib-ends-at-rib", "note")
    assert text == (
        "ribs.a.points: ends 27 mm from the rib 'b' at (360.5, 0.0) mm: panels give way there more than the "
        "calculation shows (up to a seventh more sag); run it through or leave more room"
    )
    assert found(rib("b"), rib("a", (0.1, 0.0), (0.3605, 0.0)))[0][2].startswith("ribs.a.points: ends 27 mm")
    assert found(rib("a", (0.1, 0.0), (0.3875, 0.0)), rib("b"))[0][2].startswith("ribs.a.points: ends 0 mm")
    (once,) = found(rib("a", (0.1, 0.0), (0.3, 0.0)), rib("b", (0.32, 0.0), (0.5, 0.0)))
    assert "ends 20 mm from the rib 'b' at (300.0, 0.0) mm" in once[2]
    (pair,) = found(rib("pair", (0.1, 0.2), (0.3695, 0.2), mirror=True), rib("cross"))
    assert pair[2].startswith("ribs.pair.points: ends 18 mm from the rib 'cross' at (369.5, ")


def test_feet_that_overlap_and_stubs_are_warned_of() -> None:
    ((code, severity, text),) = found(rib("a", *LONG), rib("b", (0.1, 0.02), (0.5, 0.02)))
    assert (code, severity) == ("rib-feet-overlap", "warning")
    assert text.startswith(
        "ribs.a.points: has a foot that overlaps the one of the rib 'b' at (300.0, 10.0) mm"
    )
    ((code, severity, text),) = found(notched("a", (0.1, 0.0), (0.42, 0.0)), rib("b"))
    assert (code, severity) == ("rib-stub", "warning")
    assert text.startswith("ribs.a.crossing: leaves a piece of 7.5 mm at (416.2")
