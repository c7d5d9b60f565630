"""The drawing of a report: its scale on the paper, its sizes and places, and what it leaves out."""

from __future__ import annotations

import datetime
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from report_tools import Pdf, pixels, squeezed
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.output import report, style
from splitterfem.output.dimensions import SCALES, spread, standard_scale
from splitterfem.output.report_drawing import draw
from splitterfem.output.report_front import Front
from splitterfem.output.report_marks import marks_across, marks_along, sides_of
from splitterfem.output.report_places import built, places_table
from splitterfem.output.wording import words_for

METRIC, US = words_for("metric"), words_for("us")
ROOM = (277.0, 153.0)
DAY = datetime.date(2024, 2, 29)


def extent(svg: bytes, name: str) -> tuple[float, float]:
    """Width and height in mm of the path in a group of an SVG whose unit is the point, 1/72 in."""
    root = ET.fromstring(svg)
    group = next(g for g in root.iter("{http://www.w3.org/2000/svg}g") if g.get("id") == name)
    numbers = [
        float(n) for n in re.findall(r"-?\d+\.?\d*", group.find("{http://www.w3.org/2000/svg}path").get("d"))
    ]
    points = np.array(numbers).reshape(-1, 2)
    return tuple(np.ptp(points, axis=0) * 25.4 / 72.0)


@pytest.mark.parametrize(("words", "scale"), [(METRIC, 10), (US, 8)])
def test_drawing_has_the_scale_that_it_states(words, scale):
    """The demonstration is 1600 mm wide; 1:10 is a scale of ISO 5455, 1:8 one that a rule with eighths reads."""
    drawing = draw(sf.demo(), words, ROOM)
    assert drawing.scale == scale
    width, length = extent(drawing.svg, "outline")
    assert width == pytest.approx(1600.0 / scale, abs=0.01)
    assert length == pytest.approx(630.3 / scale, abs=0.01)
    root = ET.fromstring(drawing.svg)
    assert float(root.get("width").removesuffix("pt")) * 25.4 / 72.0 == pytest.approx(drawing.width, abs=0.01)
    assert extent(drawing.svg, "cut-out tunnel left") == pytest.approx(
        (230.0 / scale, 210.0 / scale), abs=0.01
    )


@pytest.mark.parametrize(("units", "paper", "scale"), [("metric", "a4", 5), ("us", "letter", 8)])
def test_scale_is_true_on_the_page(units, paper, scale):
    """Measured in pixels of the page that is set, 127 to the inch or five to the millimetre; 600 mm of panel."""
    typst = pytest.importorskip("typst")
    splitter = tiny_panel()
    front = Front(units, paper, DAY)
    pages = report._set(typst, [sf.solve(splitter, "air")], front, losses=None, format="png", ppi=127.0)
    sheets = [page for page in map(pixels, pages) if page.shape[1] > page.shape[0]]
    assert len(sheets) == 1
    colour = np.rint(255.0 * np.array(to_rgb(style.SHEET)))
    panel = (np.abs(sheets[0] - colour) <= 2).all(axis=2)
    across = np.flatnonzero(panel.sum(axis=0) > 100)
    # the line round the panel hides half of its own width, 1.1 points, of the fill at each side
    measured = (np.ptp(across) + 1) / 5.0 + 1.1 * 25.4 / 72.0
    assert measured == pytest.approx(600.0 / scale, abs=0.5)  # two pixels and a half


def test_title_block_states_the_scale_of_the_drawing(tmp_path):
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    solution = sf.solve(tiny_panel(), "air")
    place = tmp_path / "r.pdf"
    report.write_report([solution], place, units="us", losses=False, date=DAY, job="no. 7 & 8")
    text = Pdf(place).text
    assert squeezed("1:8 on Letter, printed at 100 %") in text
    assert squeezed("no. 7 & 8") in text


def test_standard_scales():
    """ISO 5455:1979: reductions 1:2, 1:5, 1:10 and so on by tens."""
    assert standard_scale((0.2, 0.1), (200.0, 100.0), "metric") == 1
    assert standard_scale((0.201, 0.1), (200.0, 100.0), "metric") == 2
    assert standard_scale((1.6, 0.6), (277.0, 50.0), "metric") == 20
    assert standard_scale((1.6, 0.6), (200.0, 100.0), "us") == 8
    assert standard_scale((9000.0, 1.0), (100.0, 100.0), "metric") == 100_000
    assert {b / a for a, b in zip(SCALES["metric"], SCALES["metric"][1:], strict=False)} == {2.0, 2.5}


def test_spread_labels_touch_nobody_and_move_little():
    asked = [50.0, 10.0, 10.5, 11.0, 90.0]
    found = spread(asked, 3.0, 0.0, 100.0)
    assert np.all(np.diff(np.sort(found)) >= 3.0 - 1e-9)
    assert found[0] == 50.0
    assert found[4] == 90.0
    assert found[1:4].mean() == pytest.approx(np.mean(asked[1:4]))
    assert list(np.argsort(found)) == list(np.argsort(asked))
    squeezed_in = spread(np.zeros(40), 3.0, 0.0, 60.0)
    assert np.diff(np.sort(squeezed_in)) == pytest.approx(np.full(39, 1.5))
    assert spread([99.5, 100.0], 3.0, 0.0, 100.0) == pytest.approx([95.5, 98.5])
    assert len(spread([], 3.0, 0.0, 100.0)) == 0


def test_places_are_measured_from_axle_line_and_centre_line():
    """Against the numbers in the design file of the demonstration."""
    parts = built(sf.demo(), METRIC)
    left, right = sides_of(parts)
    assert right == []
    assert {part.name for part in left} >= {"inner strut left", "tunnel left", "pocket left", "cross tube"}
    from splitterfem.output.planview import bounds

    box = bounds(sf.demo())
    along = {(mark.name, mark.number) for mark in marks_along(left, METRIC, box)}
    assert {("rear edge", "380"), ("pocket", "430"), ("tunnel", "450"), ("tunnel", "660"), ("pin left", "500"),
            ("cross tube", "730"), ("angle", "800"), ("angle", "975"), ("inner strut", "905"),
            ("outer strut", "850")} <= along  # fmt: skip
    across = {(mark.name, mark.number) for mark in marks_across(left, right, METRIC, box)}
    assert {("edge", "800"), ("outer strut", "660"), ("cross tube", "640"), ("tunnel", "600"), ("tunnel", "370"),
            ("inner strut", "330"), ("pocket", "270"), ("pin left", "240"), ("angle", "190")} == across  # fmt: skip


def test_a_part_without_a_twin_on_the_left_has_places_of_its_own():
    lonely = {"name": "lonely", "at": ("100 mm", "-120 mm"), "cost": 1.0}
    splitter = tiny_panel(bolts=[*tiny_panel().bolts, lonely])
    _, right = sides_of(built(splitter, METRIC))
    assert [part.name for part in right] == ["lonely"]
    assert [(m.name, m.number) for m in marks_along(right, METRIC, left=False)] == [("lonely", "100")]
    drawing = draw(splitter, METRIC, ROOM)
    assert drawing.scale == 5


def test_parts_at_one_distance_share_a_line():
    parts = built(tiny_panel(), METRIC)
    left, _ = sides_of(parts)
    names = {mark.number: mark.name for mark in marks_along(left, METRIC)}
    assert names == {"30": "bolt 2", "200": "tube", "300": "bolt 4"}


def test_table_of_places_has_a_row_for_each_part_or_pair():
    rows = {row[0]: row[1:] for row in places_table(sf.demo(), METRIC)["rows"]}
    assert rows["tunnel"] == ["cut-out, a pair", "450 to 660", "±370 to ±600", "230 × 210 mm, R 35"]
    assert rows["cross tube"][:3] == ["rib", "730", "\N{MINUS SIGN}640 to 640"]
    assert rows["inner strut"][:3] == ["strut, a pair", "905", "±330"]
    assert "head at x, y, z 785, 300, 270" in rows["inner strut"][3]
    inches = {row[0]: row[1:] for row in places_table(sf.demo(), US)["rows"]}
    assert inches["inner strut"][1:3] == ["35.63", "±12.99"]  # 905 and 330 mm over 25.4


def test_drawing_says_where_an_axle_line_is_that_has_no_room():
    drawing = draw(sf.demo(), METRIC, (277.0, 130.0))
    assert any("380 mm behind the rear edge" in note for note in drawing.notes)
    assert not any("not on the sheet" in note for note in draw(sf.demo(), METRIC, ROOM).notes)


def test_places_without_room_are_counted_and_none_touches_another():
    bolts = [
        {"name": f"bolt {i}", "at": (f"{20 + 4 * i} mm", f"{-280 + 6.5 * i} mm"), "cost": 1.0}
        for i in range(80)
    ]
    drawing = draw(tiny_panel(bolts=bolts), METRIC, ROOM)
    assert any(re.match(r"\d+ more places have no room", note) for note in drawing.notes)


@pytest.mark.parametrize("name", ["W" * 60, "$x^2$ #a [b] \\c", "Straße Ω"])
def test_names_are_texts_and_do_not_crowd_out_the_panel(name):
    splitter = tiny_panel(ribs=[tiny_panel().ribs[0].with_(name=name)])
    drawing = draw(splitter, METRIC, ROOM)
    assert drawing.scale <= 10
    assert extent(drawing.svg, "outline")[0] == pytest.approx(600.0 / drawing.scale, abs=0.01)
