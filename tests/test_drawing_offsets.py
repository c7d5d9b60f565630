"""Outlines from measured offsets: areas by the trapezoidal rule and by closed forms, and tables that are wrong."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from splitterfem import curves
from splitterfem.design.drawing import Drawing, read_offsets
from splitterfem.errors import DesignError, FileError, UnitError

HALF = """\
# measured on the car, invented
y_mm, x_front_mm, x_rear_mm
0, 520, -100
250, 500, -100
500, 440, -90
750, 300, -60
"""


@pytest.fixture
def table(tmp_path: Path) -> Callable[..., Drawing]:
    """Write a table and read it."""

    def both(text: str, **options: object) -> Drawing:
        place = tmp_path / "lip.csv"
        place.write_text(text, encoding="utf-8")
        return read_offsets(place, **options)

    return both


def area(drawing: Drawing) -> float:
    return abs(curves.area(drawing.outline.loop()))


def told(drawing: Drawing, words: str) -> bool:
    return any(words in sentence for sentence in drawing.report)


def test_straight_chords_enclose_the_trapezoids(table) -> None:
    """The area between two polylines is the trapezoidal rule."""
    drawing = table(HALF)
    y, width = np.array([0, 0.25, 0.5, 0.75]), np.array([0.62, 0.6, 0.53, 0.36])
    assert area(drawing) == pytest.approx(2.0 * np.trapezoid(width, y), rel=1e-12)
    assert curves.area(drawing.outline.loop()) > 0.0  # counter-clockwise
    assert drawing.outline.mirror
    assert drawing.cutouts == ()
    assert drawing.report == (
        "4 stations from y = 0 mm to y = 750 mm were read: one side, mirrored about y = 0.",
        "Columns: y_mm in mm, x_front_mm in mm, x_rear_mm in mm.",
        "The points of each edge are joined by straight lines.",
    )


def test_a_smooth_lip_follows_a_circle(table) -> None:
    """Points on a circle of 2 m about (-1.5, 0): segment by closed form, cubic splines are of fourth order."""
    y = np.linspace(0.0, 0.8, 9)
    x = np.sqrt(4.0 - y**2) - 1.5
    rows = "".join(f"{1e3 * b!r},{1e3 * a!r}\n" for a, b in zip(x.tolist(), y.tolist(), strict=True))
    drawing = table("y_mm,x_front_mm\n" + rows, rear="-0.1 m", smooth=True)
    whole = 0.8 * math.sqrt(4.0 - 0.64) + 4.0 * math.asin(0.4)  # integral of sqrt(4 - y²) from -0.8 to 0.8
    expected = whole - 1.6 * 1.4
    assert area(drawing) == pytest.approx(expected, rel=1e-6)
    chords = table("y_mm,x_front_mm\n" + rows, rear="-0.1 m")
    assert abs(area(chords) - expected) > 1e-4
    sagitta = 1e3 * max(2.0 - math.hypot(*(0.5 * (p + q))) for p, q in _chords(x + 1.5, y))
    assert told(drawing, "leaves the straight lines between the points of the lip by up to")
    number = float(drawing.report[-1].split("up to ")[1].split(" mm")[0])
    assert number == pytest.approx(sagitta, rel=0.02)


def _chords(x, y):
    points = np.column_stack([x, y])
    return itertools.pairwise(points)


def test_the_whole_width_need_not_be_symmetric(table) -> None:
    text = "y_mm;x_front_mm;x_rear_mm\n700;300;0\n-800;200;0\n0;500;-100\n"  # any order
    drawing = table(text)
    assert area(drawing) == pytest.approx(0.5 * (0.2 + 0.6) * 0.8 + 0.5 * (0.6 + 0.3) * 0.7)
    assert not drawing.outline.mirror
    assert told(drawing, "the whole width")
    bounds = drawing.outline.polygon().bounds
    assert bounds == pytest.approx((-0.1, -0.8, 0.5, 0.7))


@pytest.mark.parametrize(
    "text",
    [
        HALF.replace("_mm", ""),
        HALF.replace("y_mm, x_front_mm, x_rear_mm", "Y [mm], X front (mm), x_rear_mm"),
        "y_in\tx_front_in\tx_rear_cm\tremark\n0\t20 60/127\t-10\tfront\n9 107/127\t19 87/127\t-10\t\n"
        "19 87/127\t17 41/127\t-9\t\n29 67/127\t11 103/127\t-6\tbent\n",
    ],
)
def test_units_in_the_heading_or_as_argument(table, text: str) -> None:
    """As in tables of pressure taps; the inch is 25.4 mm exactly."""
    drawing = table(text, unit="mm")
    assert area(drawing) == pytest.approx(area(table(HALF)), rel=1e-12)


def test_stations_on_the_right_are_mirrored_too(table) -> None:
    text = "\n".join(line if line[0] in "#y0" else f"-{line}" for line in HALF.splitlines())
    assert area(table(text)) == pytest.approx(area(table(HALF)), rel=1e-12)


def test_measured_backwards_from_a_datum(table) -> None:
    """From a board 600 mm in front of the axle line."""
    text = "y_mm,x_front_mm,x_rear_mm\n0,80,700\n250,100,700\n500,160,690\n750,300,660\n"
    assert table(text, datum="600 mm", backward=True).outline == table(HALF).outline


def test_fields_may_be_empty_between_the_ends(table) -> None:
    drawing = table("y_mm,x_front_mm,x_rear_mm\n0,520,-100\n250,500,\n500,,\n750,300,-100\n")
    assert area(drawing) == pytest.approx(0.25 * 0.51 * 2 + 0.4 * 0.5 * 2 + 0.1 * 1.5)
    with pytest.raises(
        FileError, match=r"lip.csv, line 5: x_rear_mm is empty at y = 750 mm, where the edge ends"
    ):
        table("y_mm,x_front_mm,x_rear_mm\n0,520,-100\n250,500,\n500,,\n750,300,\n")


def test_a_lip_that_meets_the_rear_edge_has_no_side(table) -> None:
    drawing = table("y_mm,x_front_mm\n-800,0\n0,400\n800,0\n", rear=0.0)
    assert area(drawing) == pytest.approx(0.4 * 0.8)
    assert len(drawing.outline.edges) == 3
    half = table("y_mm,x_front_mm\n0,400\n500,320\n800,0\n", rear=0.0, smooth=True)
    assert half.outline.loop()[0].start == (0.0, -0.8) or len(half.outline.loop()) == 2


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("250, 500,", "250, abc,", r"lip.csv, line 4: x_front_mm is 'abc'; write the number alone"),
        (
            "250, 500,",
            "250, 500 mm,",
            r"line 4: x_front_mm is '500 mm'; write the number alone, for the unit",
        ),
        ("250, 500,", "250, nan,", r"line 4: x_front_mm is 'nan': .* not a finite number"),
        ("250, 500,", "250, 1e999,", r"line 4: x_front_mm is '1e999': .* not a finite number"),
        (
            "250, 500,",
            "250, 50000,",
            r"line 4: x_front_mm is '50000', which is 50 m; check the number and the unit",
        ),
        (
            "250, 500,",
            "250, 5,00,",
            r"line 4: there are 4 fields where the heading has 3 \(if commas mark decimals",
        ),
        ("250, 500,", '250, "5,00",', r"line 4: x_front_mm is '5,00': .*decimal comma"),
        ("250, 500,", ", 500,", r"line 4: y_mm is empty; write where the station is"),
        ("250, 500,", "500, 500,", r"line 5: y = 500 mm is already on line 4; keep one of them"),
        ("250, 500,", "-250, 500,", None),
        ("0, 520, -100", "100, 520, -100", r"run from y = 100 mm to y = 750 mm, .* none at y = 0; add it"),
        (
            "500, 440, -90",
            "500, 440, 450",
            r"line 5: the rear edge at x = 450 mm is not behind the lip at x = 440",
        ),
        ("x_front_mm", "x_frnot_mm", r"line 2: there is no column x_front among 'y_mm', 'x_frnot_mm'"),
        ("x_rear_mm", "x_raer_mm", r"line 2: column 'x_raer_mm' is not known; did you mean 'x_rear"),
        ("x_rear_mm", "remark", r"lip.csv has no column x_rear; give the rear edge"),
        ("x_rear_mm", "x_front [cm]", r"line 2: columns 'x_front_mm' and 'x_front \[cm\]' are both x_front"),
        ("x_rear_mm", "x_rear [kg]", r"line 2: column 'x_rear \[kg\]': .*not a unit of length"),
        (
            "x_rear_mm",
            "x_rear",
            r"column 'x_rear' names no unit; write for example x_rear_mm, or give unit='mm'",
        ),
        ("y_mm, x_front_mm, x_rear_mm", "y_mm", r"line 2: the heading 'y_mm' has one column"),
        (HALF, "# nothing\n\n", r"lip.csv has no line but comments"),
        (HALF, "y_mm,x_front_mm,x_rear_mm\n0,1,0\n", r"too few stations \(1\)"),
        (HALF, "y_mm,x_front_mm,x_rear_mm\n0,9,0\n9,9,0\n", r"outline measures 9 x 18 mm, .* check the unit"),
        (HALF, "y_mm,x_front_mm,x_rear_mm\n" + "0,1,0\n" * 1901, r"has 1901 stations; thin them out to 1900"),
        (HALF, "y_mm,x_front_mm\n" + "9" * 10_001, r"line 2: the line is too long"),
        (HALF, "y_mm,x_\0front\n", r"line 1: this is not text"),
    ],
)
def test_tables_that_are_wrong(table, old: str, new: str, sentence: str | None) -> None:
    assert old in HALF
    if sentence is None:
        assert told(table(HALF.replace(old, new)), "the whole width")
        return
    with pytest.raises(FileError, match=sentence) as caught:
        table(HALF.replace(old, new))
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("lip.csv")


def test_files_that_are_no_table(tmp_path: Path, table) -> None:
    place = tmp_path / "lip.csv"
    with pytest.raises(
        FileError, match=r"there is no file .*lip.csv; check the path of the table of offsets"
    ):
        read_offsets(place)
    place.write_bytes(b"y_mm,x_front_mm\n\xff\xfe")
    with pytest.raises(FileError, match=r"lip.csv, line 2: this is not UTF-8 text"):
        read_offsets(place)
    place.write_bytes(b"0" * 1_000_001)
    with pytest.raises(FileError, match=r"lip.csv is larger than 1 MB"):
        read_offsets(place)
    with pytest.raises(FileError, match=r"a column 'x_rear_mm' beside rear; give the rear edge either"):
        table(HALF, rear="0 mm")
    with pytest.raises(UnitError, match='rear: "wide" does not begin with a number'):
        table(HALF, rear="wide")
    with pytest.raises(DesignError, match=r"unit: .*is not a unit of"):
        table("y,x_front\n0,1\n", unit="kg")


def test_a_smooth_edge_that_crosses_itself_is_refused(table) -> None:
    text = "y_mm,x_front_mm,x_rear_mm\n0,500,-100\n10,-99,-100\n700,500,-100\n710,500,-100\n"
    with pytest.raises(
        FileError, match=r"lip.csv: the points make no outline: .*crosses or touches itself near"
    ):
        table(text, smooth=True)
