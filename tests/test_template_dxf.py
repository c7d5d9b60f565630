"""The template as DXF, read back with ezdxf and with the library's own reader of drawings."""

from __future__ import annotations

import math
import re
from collections import Counter

import pytest
from template_panel import rich_panel

ezdxf = pytest.importorskip("ezdxf")

from ezdxf import path as paths  # noqa: E402

import splitterfem as sf  # noqa: E402
from splitterfem.errors import FileError, MissingExtraError  # noqa: E402

INCH = 25.4


@pytest.fixture(scope="module")
def rich():
    return rich_panel()


@pytest.fixture(scope="module")
def written(rich, tmp_path_factory):
    return sf.template(rich, tmp_path_factory.mktemp("dxf") / "template.dxf")


@pytest.fixture(scope="module")
def document(written):
    return ezdxf.readfile(written)


@pytest.fixture(scope="module")
def in_inches(rich, tmp_path_factory):
    return sf.template(rich, tmp_path_factory.mktemp("dxf") / "inches.dxf", units="us")


def on(document, layer, kinds="*"):
    return [one for one in document.modelspace().query(kinds) if one.dxf.layer == layer]


def texts(document):
    return [one.plain_text() for one in document.modelspace().query("TEXT")]


def area_of(entity):
    points = list(paths.make_path(entity).flattening(1e-4))
    return 0.5 * abs(sum(p.x * q.y - q.x * p.y for p, q in zip(points, points[1:] + points[:1], strict=True)))


def test_the_file_is_sound_and_names_its_unit(document, in_inches):
    """DXF reference: $INSUNITS 4 is mm and 1 is in; $MEASUREMENT 1 is metric, 0 is not."""
    us = ezdxf.readfile(in_inches)
    for doc, insert, measure in ((document, 4, 1), (us, 1, 0)):
        assert not doc.audit().errors
        assert (doc.header["$INSUNITS"], doc.header["$MEASUREMENT"]) == (insert, measure)
    assert any("all numbers in mm" in text for text in texts(document))
    assert any("all numbers in inches" in text for text in texts(us))


def test_the_panel_is_one_closed_line_with_true_arcs(document, rich):
    """Half of the outline has an arc and a rounded corner of 30 mm; the spline becomes arcs as well."""
    (edge,) = on(document, "panel")
    assert edge.dxftype() == "LWPOLYLINE"
    assert edge.closed
    assert area_of(edge) == pytest.approx(1e6 * rich.panel.outline.polygon(1e-7).area, rel=1e-6)
    radii = Counter()
    points = edge.get_points("xyb")
    for (x, y, bulge), (u, v, _) in zip(points, points[1:] + points[:1], strict=True):
        if bulge:  # chord = 2 r sin(a / 2), bulge = tan(a / 4)
            radii[round(math.dist((x, y), (u, v)) / (2 * math.sin(2 * math.atan(abs(bulge)))), 3)] += 1
    assert radii[30.0] == 2
    chord = math.dist((900, 0), (800, 450))  # circle through three points, by the lengths of the triangle
    legs = math.dist((900, 0), (870, 250)), math.dist((870, 250), (800, 450))
    half = 0.5 * (chord + sum(legs))
    triangle = math.sqrt(half * (half - chord) * (half - legs[0]) * (half - legs[1]))
    assert radii[round(chord * legs[0] * legs[1] / (4 * triangle), 3)] == 2


@pytest.mark.parametrize("file", ["written", "in_inches"])
def test_the_reader_of_drawings_gets_the_same_panel(request, rich, file):
    """Within 0.01 mm, the spline included."""
    path = request.getfixturevalue(file)
    drawn = sf.read_dxf(path, layer="panel").outline.polygon(1e-6)
    wanted = rich.panel.outline.polygon(1e-6)
    assert wanted.boundary.hausdorff_distance(drawn.boundary) < 1e-5
    whole = sf.read_dxf(path, layer=["panel", "openings"])
    assert len(whole.cutouts) == 3
    area = sf.Panel(outline=whole.outline, cutouts=whole.cutouts, sheet=rich.panel.sheet).polygon(1e-6).area
    assert area == pytest.approx(rich.panel.polygon(1e-6).area, rel=1e-6)


def test_holes_have_their_true_diameters_and_places(document, in_inches):
    wanted = {(330.0, 300.0, 8.0), (330.0, -300.0, 8.0), (330.0, -200.0, 6.35), (850.0, 0.0, 10.0)}
    us = ezdxf.readfile(in_inches)
    for doc, k in ((document, 1.0), (us, INCH)):
        found = {
            tuple(round(k * value, 6) for value in (c.dxf.center.x, c.dxf.center.y, 2.0 * c.dxf.radius))
            for c in on(doc, "holes", "CIRCLE")
        }
        assert {hole for hole in found if hole[2] != 4.8} == wanted
    ports = {
        (round(c.dxf.center.x, 6), round(c.dxf.center.y, 6), round(c.dxf.radius, 6))
        for c in on(document, "openings", "CIRCLE")
    }
    assert ports == {(420.0, 480.0, 45.0), (420.0, -480.0, 45.0)}
    feet = {(c.dxf.center.x, c.dxf.center.y, c.dxf.radius) for c in on(document, "strut feet", "CIRCLE")}
    assert feet == {(760.0, 330.0, 25.0), (760.0, -330.0, 25.0)}


def test_every_hole_and_foot_has_its_centre_marked(document):
    crossings = Counter()
    for line in on(document, "hole centres", "LINE"):
        middle = 0.5 * (line.dxf.start + line.dxf.end)
        crossings[round(middle.x, 4), round(middle.y, 4)] += 1
    for layer in ("holes", "screws", "strut feet"):
        for circle in on(document, layer, "CIRCLE"):
            assert crossings[round(circle.dxf.center.x, 4), round(circle.dxf.center.y, 4)] == 2


def test_fasteners_stand_at_their_pitch(document):
    """1000 mm at a pitch of 100 mm: ten in each of two rows, the first 50 mm from the end, on quarters of 30 mm."""
    screws = sorted(
        (round(c.dxf.center.y, 6), round(c.dxf.center.x, 6)) for c in on(document, "screws", "CIRCLE")
    )
    assert screws == sorted((-450.0 + 100.0 * i, x) for i in range(10) for x in (592.5, 607.5))
    assert {c.dxf.radius for c in on(document, "screws", "CIRCLE")} == {2.0}
    rivets = [c.dxf.center for c in on(document, "holes", "CIRCLE") if c.dxf.radius == pytest.approx(2.4)]
    assert len(rivets) == 8  # two pieces of 155.9 mm, four pitches of at most 40 mm in each
    steps = sorted(a.distance(b) for i, a in enumerate(rivets) for b in rivets[:i])[:6]
    assert steps == pytest.approx([155.8845726811989 / 4] * 6)  # (300 - 30) / cos(30 deg) / 2


def test_feet_of_ribs_cover_what_the_ribs_stand_on(document):
    """The pieces of a 25 mm foot that meets one of 30 mm at 60 degrees: parallelograms of the same length."""
    areas = sorted(round(area_of(foot), 2) for foot in on(document, "rib feet above"))
    assert areas == [pytest.approx(25.0 * 155.8845726811989, abs=0.02)] * 2 + [30_000.0]
    (bent,) = on(document, "rib feet below")
    assert area_of(bent) == pytest.approx(
        30.0 * (200.0 + 120.0), rel=1e-9
    )  # a mitre takes off as much as it adds
    # the oblique ends lie on the edges of the cross rib's foot, x = 585 and x = 615
    xs = [round(x, 6) for foot in on(document, "rib feet above") for x, y in foot.get_points("xy")]
    assert xs.count(585.0) == 4
    assert xs.count(615.0) == 4


def test_dimensions_say_what_they_measure(rich, tmp_path):
    """The usual style of the package would say a hundredfold; a rounding to 0 would drop the decimals."""
    odd = rich.with_("panel.outline", sf.Outline.rectangle("287.4 mm", "912.7 mm", "-633.3 mm", "633.3 mm"))
    for units, k, unit in (("metric", 1.0, "mm"), ("us", INCH, "in")):
        doc = ezdxf.readfile(sf.template(odd, tmp_path / f"{units}.dxf", units=units))
        said = []
        for dimension in doc.modelspace().query("DIMENSION"):
            assert doc.dimstyles.get(dimension.dxf.dimstyle).dxf.dimlfac == 1.0
            block = doc.blocks.get(dimension.dxf.geometry)
            (text,) = [e.plain_text() for e in block.query("MTEXT TEXT")]
            number, _, suffix = text.partition(" ")
            assert suffix == unit
            assert float(number) == pytest.approx(
                dimension.get_measurement(), abs=0.051 if k == 1.0 else 6e-4
            )
            said.append(k * dimension.get_measurement())
        assert sorted(said) == pytest.approx([625.3, 1266.6])


def test_check_square(document, in_inches):
    """100 mm, and 4 in for those who work in inches."""
    for doc, side in ((document, 100.0), (ezdxf.readfile(in_inches), 4.0)):
        (square,) = on(doc, "check square", "LWPOLYLINE")
        corners = square.get_points("xy")
        assert square.closed
        assert [
            math.dist(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
        ] == pytest.approx([side] * 4)
        assert math.dist(corners[0], corners[2]) == pytest.approx(side * math.sqrt(2.0))
        (panel,) = on(doc, "panel")
        assert max(y for _, y in corners) < min(y for _, y in panel.get_points("xy"))


def test_grain_and_travel(document):
    """30 degrees from forward to the left; travel is along +x."""
    for layer, angle in (("grain", 30.0), ("travel", 0.0)):
        (shaft,) = on(document, layer, "LINE")
        along = shaft.dxf.end - shaft.dxf.start
        assert math.degrees(math.atan2(along.y, along.x)) == pytest.approx(angle)


def test_metal_has_no_grain(rich, tmp_path):
    plain = rich.with_("panel.sheet", sf.Sheet(material="6061-T6 sheet", thickness="5 mm"))
    document = ezdxf.readfile(sf.template(plain, tmp_path / "metal.dxf"))
    assert not on(document, "grain")
    assert on(document, "travel")


def test_half_symmetry_line(document, rich, tmp_path):
    line, *more = on(document, "half-symmetry line", "LINE")
    assert not more
    assert sorted((line.dxf.start.x, line.dxf.end.x)) == pytest.approx([300.0, 900.0])
    assert line.dxf.start.y == line.dxf.end.y == 0.0
    lopsided = rich.panel.cutouts[1].with_(rectangle={"x": ("340 mm", "400 mm"), "y": ("-60 mm", "61 mm")})
    other = rich.with_("panel.cutouts", (rich.panel.cutouts[0], lopsided))
    assert not on(ezdxf.readfile(sf.template(other, tmp_path / "lopsided.dxf")), "half-symmetry line")


def test_seen_from_below_is_the_mirror_image(rich, document, tmp_path):
    below = ezdxf.readfile(sf.template(rich, tmp_path / "below.dxf", seen_from="below"))
    bolts = {
        (c.dxf.center.x, c.dxf.center.y) for c in on(below, "holes") if c.dxf.radius == pytest.approx(3.175)
    }
    assert bolts == {(330.0, 200.0)}
    (shaft,) = on(below, "grain", "LINE")
    along = shaft.dxf.end - shaft.dxf.start
    assert math.degrees(math.atan2(along.y, along.x)) == pytest.approx(-30.0)
    assert any("Seen from below" in text for text in texts(below))
    for layer, seen in (("rib feet above", document), ("rib feet below", below)):
        hidden = below if seen is document else document
        assert seen.layers.get(layer).dxf.linetype == "CONTINUOUS"
        assert hidden.layers.get(layer).dxf.linetype == "DASHES"


@pytest.mark.parametrize(
    "name", ["100%%d ^I", "%%%", r"a\U+0041 \P {b}", "Ø 8 – Straße 車", "x" * 60, "<>&\"'"]
)
def test_odd_names_stay_what_they_are(rich, tmp_path, name):
    """A name is shown, whatever codes of the format it looks like; only what such codes begin with is set apart."""
    document = ezdxf.readfile(sf.template(rich.with_(name=name), tmp_path / "odd.dxf"))
    plain = re.sub(r"\\(?=U\+)", r"\\ ", re.sub("%(?=%)", "% ", name))
    assert f"{plain} (invented data)" in texts(document)


def test_nothing_is_left_of_a_file_that_cannot_be_written(rich, tmp_path):
    with pytest.raises(FileError, match=r"template\.svg is neither a \.dxf nor a \.pdf file"):
        sf.template(rich, tmp_path / "template.svg")
    with pytest.raises(FileError, match="paper belongs to a PDF"):
        sf.template(rich, tmp_path / "template.dxf", paper="a4")
    with pytest.raises(FileError, match="There is no folder"):
        sf.template(rich, tmp_path / "none" / "template.dxf")
    assert not list(tmp_path.iterdir())


def test_without_the_package(rich, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "ezdxf", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'splitterfem\[dxf\]'"):
        sf.template(rich, tmp_path / "template.dxf")
    assert not list(tmp_path.iterdir())
