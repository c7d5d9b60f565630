"""The template as PDF: sizes and places measured in the pages, read with pypdf."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from template_panel import rich_panel

pytest.importorskip("pypdf")

from pdf_pages import sheets_of

import splitterfem as sf
from splitterfem.errors import DesignError, UnitError
from splitterfem.output.template.make import template_drawing
from splitterfem.output.template.paper import pages_of
from splitterfem.output.template.tiles import row_name, tiling

FIRST = 2
"""Pages before the sheets: assembly map and lists."""

MM = 1e3


@pytest.fixture(scope="module")
def rich():
    return rich_panel()


@pytest.fixture(scope="module")
def a4(rich, tmp_path_factory):
    return sheets_of(sf.template(rich, tmp_path_factory.mktemp("pdf") / "template.pdf"))


@pytest.fixture(scope="module")
def tiles(rich):
    return tiling(template_drawing(rich), pages_of("a4"))


def ring_marks(sheet):
    """Names of the ring marks on a sheet."""
    return set(re.findall(r"\b\d+[ab]\b", sheet.text))


def name_of(sheet):
    (name,) = set(re.findall(r"^[A-Z]+\d+$", sheet.text, flags=re.MULTILINE))
    return name


@pytest.mark.parametrize(
    ("paper", "size"),
    [("a4", (210.0, 297.0)), ("letter", (8.5 * 25.4, 11.0 * 25.4)), ("a3", (297.0, 420.0))],
)
def test_pages_are_as_large_as_the_paper_and_every_check_line_is_true(rich, tmp_path, paper, size):
    """ISO 216 and ANSI/ASME Y14.1; 100 mm within 0.05 mm, measured in the file."""
    sheets = sheets_of(sf.template(rich, tmp_path / "t.pdf", paper=paper))
    assert len(sheets) > 6
    for sheet in sheets:
        assert sorted((sheet.width, sheet.height)) == pytest.approx(sorted(size), abs=1e-4)
        (line,) = sheet.check_lines(100.0)
        assert line.size[0] == pytest.approx(100.0, abs=0.05)
        assert "check line, 100 mm long" in sheet.text
        assert line.box[0] > 4.0
        assert line.box[2] < sheet.width - 4.0  # printers leave some 4 mm blank


def test_inches(rich, tmp_path):
    """A design in inches is drawn on Letter with 4 in, as one in mm is when that is asked for."""
    sheets = sheets_of(sf.template(rich, tmp_path / "t.pdf", units="us"))
    assert {tuple(sorted((round(s.width, 3), round(s.height, 3)))) for s in sheets} == {(215.9, 279.4)}
    for sheet in sheets:
        (line,) = sheet.check_lines(101.6)
        assert line.size[0] == pytest.approx(101.6, abs=0.05)
    assert "4 in by 4 in" in sheets[0].text
    square = [one for one in sheets[0].lines if np.allclose(one.size, 101.6, atol=1e-3)]
    assert len(square) == 1
    inches = {
        "start": ["36 in", "0 in"],
        "mirror": True,
        "edges": [{"to": ["36 in", "24 in"]}, {"to": ["12 in", "24 in"]}, {"to": ["12 in", "0 in"]}],
    }
    plain = sf.Splitter(
        name="inches",
        panel={"outline": inches, "sheet": {"material": "birch plywood 12 mm", "thickness": "0.47 in"}},
        bolts=[
            {"name": "bolt", "at": ["20 in", "10 in"], "diameter": "5/16 in", "pad": "1 in", "mirror": True}
        ],
        car={"ride_height": "3 in"},
    )
    sheets = sheets_of(sf.template(plain, tmp_path / "u.pdf"))
    assert "check line, 4 in long" in sheets[-1].text
    assert any("bolt left, 0.3125 in" in sheet.text for sheet in sheets)
    assert any(sheet.circles(25.4 * 5.0 / 16.0) for sheet in sheets[1:])


def test_the_panel_lies_on_the_sheets_in_true_size(a4, tiles, rich):
    """Every hole, on every sheet that shows it, at the place that the sheet's own place gives; the sheets in order."""
    names = [name_of(sheet) for sheet in a4[FIRST:]]
    assert names == [tile.name for tile in tiles.tiles]
    seen = 0
    for sheet, tile in zip(a4[FIRST:], tiles.tiles, strict=True):
        left, bottom = (MM * value for value in tiles.page.corner)
        for circle in (c for d in (8.0, 6.35, 10.0, 90.0, 50.0) for c in sheet.circles(d)):
            x, y = circle.middle - (left, bottom) + MM * np.array([tile.left, tile.bottom])
            place = (y, -x)  # forward is up the page, left is to the left
            wanted = [b.at for b in rich.bolts] + [rich.pins[0].at, (0.42, 0.48), (0.76, 0.33)]
            wanted = MM * np.array(wanted)
            away = np.hypot(*(wanted * (1.0, np.sign(place[1]) or 1.0) - place).T)
            away = np.minimum(away, np.hypot(*(wanted - place).T))
            assert away.min() < 0.01
            seen += 1
    assert seen >= 9


def test_what_two_sheets_show_agrees_where_they_are_joined(a4, tiles):
    """Laid on each other by their ring marks, both show the edge of the foot at the same places within 0.01 mm."""
    sheets = {name_of(sheet): sheet for sheet in a4[FIRST:]}
    page = tiles.page
    compared = 0
    for seam in tiles.seams:
        places = []
        for tile in (seam.upper, seam.lower):
            sheet = sheets[tile.name]
            assert {f"{seam.number}a", f"{seam.number}b"} <= ring_marks(sheet)
            rings = [MM * (np.array(at) - (tile.left, tile.bottom) + page.corner) for _, at in seam.marks()]
            for ring in rings:
                assert any(np.hypot(*(c.middle - ring)) < 0.01 for c in sheet.circles(6.0))
            others = [c for c in sheet.lines if c.curved and abs(c.size[0] - 6.0) > 0.01]
            places.append([c.middle - rings[0] for c in others])
        for place in places[0]:
            away = min((np.hypot(*(place - other)) for other in places[1]), default=np.inf)
            if away < 1.0:  # the same line on both
                assert away < 0.01
                compared += 1
    assert compared >= 4


def test_the_sheets_together_cover_the_panel(tiles, rich):
    wide, high = tiles.page.window
    sheets = [shapely.box(t.left, t.bottom, t.left + wide, t.bottom + high) for t in tiles.tiles]
    panel = shapely.transform(rich.panel.polygon(1e-5), lambda p: p[:, ::-1] * (-1.0, 1.0))
    assert shapely.union_all(sheets).covers(panel)
    for seam in tiles.seams:
        a, b = (
            shapely.box(t.left, t.bottom, t.left + wide, t.bottom + high) for t in (seam.upper, seam.lower)
        )
        size = np.ptp(np.array(a.intersection(b).bounds).reshape(2, 2), axis=0)
        assert size.min() == pytest.approx(0.015)


def test_lines_are_clipped_to_what_a_sheet_shows(a4, tiles):
    left, bottom = (MM * value for value in tiles.page.corner)
    wide, high = (MM * value for value in tiles.page.window)
    for sheet in a4[FIRST:]:
        clipped = [one for one in sheet.lines if one.clip and one.clip[0] > 1.0]
        assert clipped
        for one in clipped:
            assert one.clip == pytest.approx((left, bottom, left + wide, bottom + high), abs=1e-3)


def test_sheets_with_nothing_on_them_are_left_out(tmp_path):
    """An L: the sheets over its missing quarter are not printed."""
    corners = [
        ("0 m", "-0.8 m"),
        ("1.2 m", "-0.8 m"),
        ("1.2 m", "-0.4 m"),
        ("0.3 m", "-0.4 m"),
        ("0.3 m", "0.8 m"),
        ("0 m", "0.8 m"),
    ]
    outline = {"start": corners[0], "edges": [{"to": corner} for corner in corners[1:]]}
    plain = rich_panel(
        panel={"outline": outline, "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm"}},
        ribs=[], doublers=[], struts=[], bolts=[{"name": "bolt", "at": ("0.1 m", "0 m"), "diameter": "8 mm"}], pins=[],
    )  # fmt: skip
    found = tiling(template_drawing(plain), pages_of("a4"))
    assert len(found.tiles) < 0.75 * found.rows * found.columns
    sheets = sheets_of(sf.template(plain, tmp_path / "l.pdf"))
    assert [name_of(sheet) for sheet in sheets[-len(found.tiles) :]] == [tile.name for tile in found.tiles]
    for tile in found.tiles:
        assert re.search(rf"\b{tile.name}\b", sheets[0].text)


def test_assembly_map_and_lists(a4):
    front = a4[0].text
    for text in (
        "One of everything (invented data)",
        "20 sheets of A4",
        '100 % ("actual size")',
        "100 mm by 100 mm",
    ):
        assert text in front
    assert "1200 mm across" in front.replace("1200.0", "1200")
    square = [one for one in a4[0].lines if np.allclose(one.size, 100.0, atol=1e-3)]
    assert len(square) == 1
    lists = " ".join(front.split()) + " ".join(a4[1].text.split())
    for text in (
        "slanted, 2 of 2",
        "155.9",
        "163.1",
        "60.0°",
        "75.0° mitre",
        "angle 25 × 40 × 3 mm",
        "odd bolt",
        "6.35 mm",
    ):
        assert text in lists


def test_a_roll_is_one_long_sheet(rich, tmp_path):
    """36 in wide unless said otherwise, as long as the panel and its margins; narrower ones take two strips."""
    sheets = sheets_of(sf.template(rich, tmp_path / "roll.pdf", paper="roll"))
    assert sheets[-1].height == pytest.approx(914.4, abs=1e-3)
    assert sheets[-1].width == pytest.approx(1200.02 + 4.0 + 20.0, abs=0.02)
    assert name_of(sheets[-1]) == "A1"
    assert not ring_marks(sheets[-1])
    strips = sheets_of(sf.template(rich, tmp_path / "strips.pdf", paper="roll", roll_width="420 mm"))
    assert [round(sheet.height, 3) for sheet in strips[-2:]] == [420.0, 420.0]
    assert [name_of(sheet) for sheet in strips[-2:]] == ["A1", "B1"]
    assert ring_marks(strips[-1]) == ring_marks(strips[-2]) == {"1a", "1b"}


def test_half_a_template(tmp_path):
    """The left half of a panel whose halves are alike; nothing of the right half beyond the line and the overlap."""
    even = rich_panel(ribs=[], pins=[], bolts=[rich_panel().bolts[0]])
    drawing = template_drawing(even)
    whole, half = (tiling(drawing, pages_of("a4"), half=h) for h in (False, True))
    assert len(half.tiles) < 0.7 * len(whole.tiles)
    wide, _ = half.page.window
    assert max(tile.left + wide for tile in half.tiles) == pytest.approx(0.015, abs=1e-9)
    assert min(tile.left for tile in half.tiles) < -0.6
    sheets = sheets_of(sf.template(even, tmp_path / "half.pdf", half=True))
    assert "the left half on" in sheets[0].text
    with pytest.raises(DesignError, match="parts of 'One of everything' differ between left and right"):
        sf.template(rich_panel(), tmp_path / "no.pdf", half=True)
    assert not (tmp_path / "no.pdf").exists()


@pytest.mark.parametrize("name", ["$x_1$ \\alpha", "(a) \\ ) b", "Ø – 車 x", "%%EOF endstream", "a" * 60])
def test_names_are_texts_and_nothing_else(tmp_path, name):
    """Neither formulas, nor the signs that end a text in PDF; what the font lacks is a sign that it has."""
    named = rich_panel(ribs=[], name=name)
    sheets = sheets_of(sf.template(named, tmp_path / "odd.pdf", paper="roll"))
    wanted = name.replace("車", "\N{REPLACEMENT CHARACTER}") + " (invented data)"
    assert "".join(wanted.split()) in "".join(sheets[0].text.split())
    assert all(sheet.check_lines(100.0) for sheet in sheets)


def test_settings_of_the_drawing_library_change_nothing(rich, tmp_path):
    import matplotlib as mpl

    with mpl.rc_context(
        {"savefig.bbox": "tight", "pdf.fonttype": 3, "path.sketch": (1.0, 100.0, 2.0), "path.simplify": True}
    ):
        strange = sf.template(rich, tmp_path / "a.pdf", paper="roll").read_bytes()
    assert strange == sf.template(rich, tmp_path / "b.pdf", paper="roll").read_bytes()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"paper": "a5"}, "no paper 'a5'"),
        ({"margin": "60 mm"}, "margins of 60 mm leave"),
        ({"margin": "-1 mm"}, "margin is -1 mm"),
        ({"overlap": "120 mm"}, "overlap is 120.0 mm"),
        ({"overlap": "1 mm"}, "overlap is 1.0 mm"),
        ({"roll_width": "600 mm"}, "roll_width belongs to paper='roll'"),
        ({"paper": "roll", "roll_width": "8 m"}, "The roll is 8 m wide"),
        ({"seen_from": "left"}, "not seen from 'left'"),
    ],
)
def test_refusals(rich, tmp_path, options, message):
    with pytest.raises(DesignError, match=re.escape(message)):
        sf.template(rich, tmp_path / "t.pdf", **options)
    with pytest.raises(UnitError):
        sf.template(rich, tmp_path / "t.pdf", margin="5")
    assert not list(tmp_path.iterdir())


def test_silly_numbers_of_sheets_are_refused(tmp_path):
    """A panel of 9 by 3 m would need hundreds of sheets; from a roll a few strips no longer than a page may be."""
    huge = rich_panel(
        panel={
            "outline": sf.Outline.rectangle("0 m", "3 m", "-4.5 m", "4.5 m"),
            "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm"},
        },
        ribs=[], doublers=[], struts=[], pins=[],
    )  # fmt: skip
    with pytest.raises(
        DesignError, match=r"measures 9004 by 3004 mm and would need up to \d+ sheets of 'a4'"
    ):
        sf.template(huge, tmp_path / "huge.pdf")
    sheets = sheets_of(sf.template(huge, tmp_path / "roll.pdf", paper="roll"))
    assert max(sheet.width for sheet in sheets) <= 14_400 * 25.4 / 72.0
    assert len(sheets) == 1 + 2 * 4
    assert [name_of(sheet) for sheet in sheets[1:3]] == ["A1", "A2"]


def test_rows_beyond_z():
    assert [row_name(i) for i in (0, 25, 26, 27, 52)] == ["A", "Z", "AA", "AB", "BA"]


def test_circles_on_paper_are_round(a4):
    """Cubics of an eighth of a circle miss it by 4e-6 of its radius (Goldapp 1991): ends and controls at 45 degrees."""
    circle = next(c for sheet in a4[FIRST:] for c in sheet.circles(90.0))
    p = circle.points[:-1] if np.allclose(circle.points[0], circle.points[-1]) else circle.points
    for i in range(0, len(p) - 3, 3):
        t = np.linspace(0.0, 1.0, 9)[:, None]
        cubic = (
            (1 - t) ** 3 * p[i]
            + 3 * t * (1 - t) ** 2 * p[i + 1]
            + 3 * t**2 * (1 - t) * p[i + 2]
            + t**3 * p[i + 3]
        )
        radii = np.hypot(*(cubic - circle.middle).T)
        assert np.abs(radii - 45.0).max() < 1e-3
    assert math.isclose(circle.size[0], 90.0, abs_tol=1e-4)
