"""The command that screens layouts, against the library; pictures of studies in both systems of units.

One inch is 25.4 mm, one pound 0.45359237 kg (NIST SP 811, appendix B).
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from markdown_blocks import blocks_of
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.cli import main

INCH, POUND = 25.4, 0.45359237
GUIDE = Path(__file__).parents[1] / "splitterfem" / "docs" / "choosing.md"

CANDIDATES = """
version = 1
take = ["tube"]

[[ribs]]
name = "rear"
points = [["120 mm", "-200 mm"], ["120 mm", "200 mm"]]
section = { shape = "tube", width = "20 mm", height = "20 mm", wall = "2 mm" }
material = "6061-T6 extrusion"

[[struts]]
name = "strut"
foot = ["350 mm", "0 mm"]
bracket_height = "20 mm"
head = ["300 mm", "0 mm", "200 mm"]
diameter = "6 mm"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("screen")
    sf.save(tiny_panel(), found / "tiny.toml")
    (found / "candidates.toml").write_text(CANDIDATES, "utf-8")
    return found


@pytest.fixture(scope="module")
def screened(folder):
    text = (folder / "candidates.toml").read_text("utf-8") + "\n"
    (folder / "all.toml").write_text(
        text.replace('take = ["tube"]', 'take = ["tube"]\nlayouts = [[], ["tube"], ["rear", "strut"]]'),
        "utf-8",
    )
    strut = {
        "name": "strut", "foot": ("350 mm", "0 mm"), "bracket_height": "20 mm",
        "head": ("300 mm", "0 mm", "200 mm"), "diameter": "6 mm",
    }  # fmt: skip
    rear = tiny_panel().part("tube").with_(
        name="rear", points=[("120 mm", "-200 mm"), ("120 mm", "200 mm")],
        section={"shape": "tube", "width": "20 mm", "height": "20 mm", "wall": "2 mm"},
    )  # fmt: skip
    return sf.study.screen(
        sf.load(folder / "tiny.toml"), "lean", ribs=["tube", rear], struts=[strut],
        layouts=[[], ["tube"], ["rear", "strut"]], best=2,
    )  # fmt: skip


def run(folder, *more):
    return main(["screen", str(folder / "tiny.toml"), str(folder / "all.toml"), "--case", "lean", *more])


def test_machines_get_what_the_library_finds(folder, screened, capsys):
    assert run(folder, "--best", "2", "--json") == 0
    told = json.loads(capsys.readouterr().out)["screening"]
    assert told["case"] == "lean"
    assert [row["worst_sag_mm"] for row in told["layouts"]] == pytest.approx(
        list(screened.table["worst_sag_mm"]), rel=1e-9
    )
    assert [row["ribs"] for row in told["best"]] == list(screened.best["ribs"])
    assert [row["solved_mm"] for row in told["best"]] == pytest.approx(
        list(screened.best["solved_mm"]), rel=1e-9
    )
    assert told["notes"] == list(screened.notes)


def test_people_get_a_table_and_files(folder, screened, tmp_path, capsys):
    assert run(folder, "--best", "2", "--fresh", "1", "--units", "us", "--out", str(tmp_path / "out")) == 0
    said = capsys.readouterr().out
    first = screened.best.iloc[0]
    line = next(line for line in said.splitlines() if line.startswith(f"{first['layout']} "))
    assert f"{first['solved_mm'] / INCH:.3f}" in line
    assert line.endswith(f"{first['mass_kg'] / POUND:.2f}")
    assert "on its own mesh (in)" in said
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {"screening.png", "screened_and_solved.png", "screening.csv", "best.csv"}
    table = pd.read_csv(tmp_path / "out" / "screening.csv", comment="#")
    assert list(table["worst_sag_mm"]) == pytest.approx(list(screened.table["worst_sag_mm"]), rel=1e-4)


def test_random_layouts_without_layouts_of_the_file(folder, capsys):
    asked = [
        "screen",
        str(folder / "tiny.toml"),
        str(folder / "candidates.toml"),
        "--count",
        "5",
        "--sizes",
        "1",
        "2",
    ]
    assert main([*asked, "--best", "1"]) == 0
    assert capsys.readouterr().out.splitlines()[2].startswith("5 layouts screened in load case 'lean'")


@pytest.mark.parametrize(
    ("old", "new", "more", "said"),
    [
        ("version = 1", "version = 3", (), "bad.toml: version is 3; write version = 1"),
        ("version = 1", "", (), "bad.toml: version is missing; write version = 1"),
        ('["120 mm", "-200 mm"]', '[120, "-200 mm"]', (), 'bad.toml: ribs.rear.points.#1.x: 120 has no unit'),
        ("take =", "takes =", (), "bad.toml: takes: there is no such field; did you mean 'take'?"),
        ('["tube"]', '["tub"]', (), "There is no rib 'tub' on the splitter that could be a candidate; did you mean"),
        ("version = 1", "version = 1", ("--case", "leen"), "there is no load case 'leen'; did you mean 'lean'"),
        ("version = 1", "version = 1\nlayouts = [[]]", ("--count", "3"), "bad.toml names its layouts, and --count"),
        ("version = 1", "version = 1", ("--workers", "two"), "workers"),
    ],
)  # fmt: skip
def test_a_fault_is_one_sentence(folder, capsys, old, new, more, said):
    (folder / "bad.toml").write_text(CANDIDATES.replace(old, new, 1), "utf-8")
    assert main(["screen", str(folder / "tiny.toml"), str(folder / "bad.toml"), *more]) == 1
    assert said in capsys.readouterr().err


def test_the_file_of_the_guide_is_read(tmp_path):
    (text,) = blocks_of(GUIDE.read_text("utf-8"), "toml")
    (tmp_path / "demo.toml").write_text(text, "utf-8")
    from splitterfem.layouts.candidatefile import read_candidates
    from splitterfem.layouts.candidates import candidates_of

    given = read_candidates(tmp_path / "demo.toml")
    found = candidates_of(sf.demo(), [*given.take, *given.ribs], given.struts, given.instead)
    assert found.names == ("angle", "front tube", "inner strut further out")


# pictures of studies in both systems ---------------------------------------------------------------------


def test_a_sweep_in_us_units():
    swept = sf.study.sweep(
        tiny_panel(), {("tube", "dx"): ("-40 mm", "40 mm", 2)}, "lean", measures=["worst sag", "mass"]
    )
    axes = swept.plot(units="us")
    (line,) = [line for line in axes.lines if line.get_gid() == "worst sag mm"]
    np.testing.assert_allclose(line.get_xdata(), [-40.0 / INCH, 40.0 / INCH])
    np.testing.assert_allclose(line.get_ydata(), swept.table["worst sag mm"] / INCH)
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("tube moved forward, in", "worst sag, in")
    assert f"best: {swept.table['worst sag mm'].min() / INCH:.3f} in" in [
        text.get_text() for text in axes.texts
    ]
    assert swept.plot("mass", units="us").get_ylabel() == "mass, lb"
    assert swept.plot(units="metric").get_ylabel() == "worst sag, mm"
    with pytest.raises(sf.UnitError, match="'imperial' is not a system of units"):
        swept.plot(units="imperial")


def test_a_map_in_us_units():
    changes = {("tube", "dx"): ("-40 mm", "40 mm", 2), "panel.sheet.thickness": ["9 mm", "12 mm"]}
    swept = sf.study.sweep(tiny_panel(), changes, "lean", measures=["worst sag"])
    axes = swept.plot(units="us")
    assert axes.get_ylabel() == "sheet thickness, in"
    assert [label.get_text() for label in axes.get_yticklabels()] == [f"{9 / INCH:.3f}", f"{12 / INCH:.3f}"]
    shown = np.sort(np.asarray(axes.images[0].get_array()).ravel())
    np.testing.assert_allclose(shown, np.sort(swept.table["worst sag mm"] / INCH))


def test_screenings_and_scatter_in_us_units(screened):
    axes = screened.plot(units="us")
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("mass of panel and ribs, lb", "worst sag, in")
    (solved,) = [line for line in axes.lines if line.get_gid() == "solved"]
    np.testing.assert_allclose(solved.get_ydata(), screened.best["solved_mm"] / INCH)
    np.testing.assert_allclose(solved.get_xdata(), screened.best["mass_kg"] / POUND)
    assert screened.plot("solved", units="us").get_ylabel() == "worst sag screened, in"
    spread = sf.study.scatter(tiny_panel(), {"load": "10 %"}, "lean", draws=8, measures=["worst sag"])
    histogram = spread.plot(units="us").child_axes[0]
    assert histogram.get_title(loc="left") == "Worst sag, in"
    (middle,) = [line for line in histogram.lines if line.get_gid() == "percentile 50"]
    assert middle.get_xdata()[0] == pytest.approx(spread.percentile("worst sag", 0.5).value / INCH)


def test_a_call_out_stands_inside_the_picture():
    """The best at the left end: its words stand to the right of it, before and after the picture is laid out."""
    swept = sf.study.sweep(
        tiny_panel(), {"panel.sheet.thickness": ["9 mm", "12 mm"]}, "lean", measures=["mass"]
    )
    axes = swept.plot()
    (words,) = [text for text in axes.texts if text.get_text().startswith("best")]
    axes.figure.canvas.draw()
    box = words.get_window_extent()
    assert box.x0 > axes.bbox.x0
    assert box.x1 < axes.bbox.x1
