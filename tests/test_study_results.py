"""Tables of studies as files and back, pictures, and the command line."""

from __future__ import annotations

import json

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from tiny_panel import CASES, TUBE, same, tiny_panel

import splitterfem as sf
from splitterfem.cli import main

FLAT = {"shape": "flat", "width": "40 mm", "height": "6 mm"}
CHANGES = {
    ("tube", "dx"): ("-40 mm", "190 mm", 2),
    "panel.sheet.thickness": ["9 mm", "1/2 in"],
    "ribs.tube.section": {"own": TUBE, "flat, 40 x 6": FLAT},
    ("tube", "present"): None,
}


@pytest.fixture(scope="module")
def tiny():
    return tiny_panel()


@pytest.fixture(scope="module")
def swept(tiny):
    return sf.study.sweep(tiny, CHANGES, CASES, measures=["worst sag", "worst utilisation", "mass"])


@pytest.mark.parametrize("kind", ["csv", "parquet", "jsonl"])
def test_a_study_in_a_file_comes_back_as_it_was_and_solves_to_its_figures(tiny, swept, tmp_path, kind):
    place = tmp_path / f"layouts.{kind}"
    if kind == "jsonl":
        sf.study.sweep(tiny, CHANGES, CASES, measures=["worst sag", "worst utilisation", "mass"], file=place)
    else:
        {"csv": swept.to_csv, "parquet": swept.to_parquet}[kind](place)
    again = sf.study.read(place)
    assert again.finished
    assert again.total == 16
    same(again.table, swept.table)
    for layout in (1, 4, 10):
        design = again.design(layout)
        assert design == swept.design(layout)
        solved = [sf.solve(design, case) for case in CASES]
        row = again.table.loc[layout]
        assert 1e3 * max(one.max_sag for one in solved) == pytest.approx(row["worst sag mm"], rel=1e-9)
        top = max(one.utilisation.ratio.max() for one in solved)
        assert top == pytest.approx(row["worst utilisation"], rel=1e-9)


def test_other_programs_read_the_files(swept, tmp_path):
    """pandas alone, with no help from this library."""
    figures = pd.read_csv(swept.to_csv(tmp_path / "a.csv"), index_col="layout")
    np.testing.assert_allclose(figures["worst sag mm"], swept.table["worst sag mm"], rtol=1e-14)
    figures = pd.read_parquet(swept.to_parquet(tmp_path / "a.parquet")).set_index("layout")
    np.testing.assert_array_equal(figures["worst sag mm"], swept.table["worst sag mm"])


def test_a_saved_layout_is_a_design_file(swept, tmp_path):
    place = swept.save_design(5, tmp_path / "layout_5.toml")
    assert sf.load(place) == swept.design(5)
    best = swept.table["worst sag mm"].idxmin()
    assert swept.design(swept.table.loc[best]) == swept.design(best)
    with pytest.raises(sf.DesignError, match="there is no layout 99 in the study; known: 1 to 16"):
        swept.design(99)


def test_files_that_are_none_are_refused(swept, tmp_path):
    place = swept.to_csv(tmp_path / "a.csv")
    (tmp_path / "a.study.json").unlink()
    with pytest.raises(sf.FileError, match=r"there is no file .*a\.study\.json; it is written beside a\.csv"):
        sf.study.read(place)
    pd.DataFrame({"a": [1]}).to_parquet(tmp_path / "b.parquet")
    with pytest.raises(sf.FileError, match="is no table of a study"):
        sf.study.read(tmp_path / "b.parquet")
    with pytest.raises(sf.FileError, match="there is no file"):
        sf.study.read(tmp_path / "none.csv")


def figures_of_pyplot():
    """Numbers of the figures that pyplot keeps alive; none where nobody has loaded it."""
    return mpl.pyplot.get_fignums() if "pyplot" in mpl.__dict__ else []


def test_lines_and_maps_show_the_table(tiny, swept):
    before = figures_of_pyplot()
    one = sf.study.sweep(tiny, {("tube", "dx"): ("-40 mm", "190 mm", 3)}, CASES, measures=["worst sag"])
    axes = one.plot()
    line = next(line for line in axes.lines if line.get_gid() == "lean: worst sag mm")
    np.testing.assert_array_equal(line.get_ydata(), one.table["lean: worst sag mm"])
    assert [line.get_xdata()[0] for line in axes.lines if line.get_gid() == "refused"] == [190.0]
    assert axes.get_ylabel() == "worst sag, mm"
    assert axes.get_xlabel() == "tube moved forward, mm"
    (ring,) = [line for line in axes.lines if line.get_gid() == "best"]
    assert ring.get_ydata()[0] == one.table["worst sag mm"].min()
    chart = swept.plot("worst sag")
    shown = [text.get_text() for text in chart.texts]
    assert shown.count("refused") == 0  # without the tube the far place is well
    table = swept.table
    least = table.groupby(["panel.sheet.thickness mm", "tube dx mm"])["worst sag mm"].min().unstack()
    np.testing.assert_allclose(np.array(chart.images[0].get_array()), least.to_numpy())
    assert "best of the other parameters" in chart.get_title(loc="left")
    with pytest.raises(sf.DesignError, match="did you mean 'worst sag'"):
        swept.plot("worst sagg")
    with pytest.raises(sf.DesignError, match="did you mean 'tube dx'"):
        swept.plot(over=["tube dy"])
    assert figures_of_pyplot() == before


STUDY = """
version = 1
kind = "search"
cases = ["lean"]
measures = ["worst sag", { "sag at" = ["390 mm", "0 mm"] }]
objectives = ["mass", "worst sag"]
limits = { "worst utilisation" = 0.8, "least clearance" = "50 mm" }
layouts = 12
refine = 0

[[parameters]]
name = "tube forward"
move = "tube"
along = "dx"
from = "-40 mm"
to = "100 mm"

[[parameters]]
part = "tube"

[[parameters]]
path = "panel.sheet.thickness"
values = ["9 mm", "12 mm"]

[[parameters]]
name = "section"
path = "ribs.tube.section"
[parameters.choices]
tube = { shape = "tube", width = "60 mm", height = "20 mm", wall = "2 mm" }
flat = { shape = "flat", width = "40 mm", height = "6 mm" }
"""

SWEEP = """
version = 1
kind = "sweep"
cases = ["lean", "air"]

[[parameters]]
move = "tube"
along = "dx"
from = "-40 mm"
to = "190 mm"
steps = 3
"""


@pytest.fixture
def design_file(tiny, tmp_path):
    sf.save(tiny, tmp_path / "tiny.toml")
    return tmp_path / "tiny.toml"


def test_a_sweep_on_the_command_line(tiny, design_file, tmp_path, capsys):
    study = tmp_path / "sweep.toml"
    study.write_text(SWEEP)
    keep, csv, picture = (tmp_path / name for name in ("kept.jsonl", "table.csv", "map.png"))
    words = [
        "study",
        str(design_file),
        str(study),
        "--keep",
        str(keep),
        "--csv",
        str(csv),
        "--picture",
        str(picture),
    ]
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    table = sf.study.sweep(tiny, {("tube", "dx"): ("-40 mm", "190 mm", 3)}, ["lean", "air"]).table
    assert [one["worst sag mm"] for one in told["layouts"]][:2] == list(table["worst sag mm"][:2])
    assert told["layouts"][2]["worst sag mm"] is None
    assert "panel" in told["layouts"][2]["refused"]
    assert told["finished"] is True
    assert told["written"] == [str(csv), str(picture)]
    same(sf.study.read(csv).table, table)
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert main(words) == 0  # from the file
    said = capsys.readouterr().out
    assert "layout 3 refused" in said
    assert "worst sag mm" in said
    assert "3 of 3 layouts, finished" in said


def test_a_search_on_the_command_line(design_file, tmp_path, capsys):
    study = tmp_path / "search.toml"
    study.write_text(STUDY)
    assert main(["study", str(design_file), str(study)]) == 0
    said = capsys.readouterr().out
    assert "12 of 12 layouts" in said
    assert "chosen for" in said
    assert "sag at (390, 0) mm" in said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('kind = "search"', 'kind = "seek"', 'kind is "seek"; write kind = "sweep" or kind = "search"'),
        ("version = 1", "version = 2", "version is 2; write version = 1"),
        ('cases = ["lean"]', 'cases = ["leen"]', "cases: there is no load case 'leen'; did you mean 'lean'"),
        ("layouts = 12", 'layouts = "many"', "layouts is 'many'; write a whole number"),
        ("layouts = 12", "layout = 12", "there is no field 'layout' in a search; did you mean 'layouts'"),
        ('kind = "search"', 'kind = "sweep"', "there is no field 'objectives' in a sweep; it belongs to a search"),
        ('along = "dx"', 'along = "forward"', 'parameters.tube forward: along is "forward"; write "dx"'),
        ('from = "-40 mm"', "from = -40", "parameters.tube forward: -40 has no unit"),
        ('from = "-40 mm"', "steps = 3", "parameters.tube forward: has none of values, from and choices"),
        ('part = "tube"', 'part = "tub"', "parameters.#2: there is no part 'tub'; did you mean 'tube'"),
        ('part = "tube"', 'parts = "tube"', "parameters.#2: there is no field 'parts'; did you mean"),
        ('path = "panel.sheet.thickness"', 'path = "panel.sheet.thick"', "parameters.#3: there is no field 'thick'"),
        ('"least clearance" = "50 mm"', '"least clearance" = 50', "limits.least clearance: 50 has no unit"),
        ('measures = ["worst sag",', 'measures = ["worst sags",', "did you mean 'worst sag'"),
        ("layouts = 12", "layouts = ", "column 11: invalid value in 'layouts ='; mend the line"),
    ],
)  # fmt: skip
def test_a_fault_in_a_study_file_is_one_sentence_with_its_place(
    design_file, tmp_path, capsys, old, new, said
):
    assert old in STUDY
    study = tmp_path / "search.toml"
    study.write_text(STUDY.replace(old, new, 1))
    assert main(["study", str(design_file), str(study)]) == 1
    errors = capsys.readouterr().err
    assert said in errors
    assert errors.count("\n") == 1
    assert "Traceback" not in errors


def test_an_interrupted_study_on_the_command_line_says_how_to_go_on(
    design_file, tmp_path, capsys, monkeypatch
):
    from splitterfem.layouts import solving

    solved = solving.Bench.done

    def done(bench, task):
        if task.number == 2:
            raise KeyboardInterrupt
        return solved(bench, task)

    study = tmp_path / "sweep.toml"
    study.write_text(SWEEP)
    monkeypatch.setattr(solving.Bench, "done", done)
    assert main(["study", str(design_file), str(study), "--keep", str(tmp_path / "kept.jsonl")]) == 130
    assert "Unfinished: 1 of 3 layouts; give the same command again to go on." in capsys.readouterr().out
