"""Refinement of a search by derivatives: where it leads, what it costs, how it goes on, when it is not used."""

from __future__ import annotations

import numpy as np
import pytest
from tiny_panel import same, tiny_panel

import splitterfem as sf
from splitterfem.layouts import refining, solving

STRUT = {
    "name": "strut",
    "foot": ("200 mm", "60 mm"),
    "head": ("200 mm", "60 mm", "200 mm"),
    "bracket_height": "20 mm",
    "diameter": "8 mm",
}
PLACES = {("strut", "dx"): ("-120 mm", "150 mm"), ("strut", "dy"): ("-250 mm", "150 mm")}
FEW = {"layouts": 8, "seed": 5, "refine": 1}


@pytest.fixture(scope="module")
def held():
    """The little panel with a strut in addition."""
    return tiny_panel(struts=[STRUT])


def searched(splitter, changes, case="air", **options):
    return sf.study.search(splitter, changes, case, **(FEW | options))


@pytest.fixture(scope="module")
def smooth(held):
    return searched(held, PLACES, objectives=["mean sag"], fresh_mesh=False)


def test_the_best_place_of_a_strut_in_fewer_solves_than_by_trying(held, smooth, monkeypatch):
    """Mean sag over the place of a strut is smooth; compass search taken far enough tells the least there is."""
    assert smooth.steps
    assert "by derivatives" in smooth.notes[0]
    assert f"with {len(smooth.steps)} solves" in smooth.notes[0]
    monkeypatch.setattr(refining, "why_not", lambda plan, goal: "by anything")
    tried = searched(held, PLACES, objectives=["mean sag"], fresh_mesh=False)
    same(tried.table.loc[:8], smooth.table.loc[:8])
    assert not tried.steps
    assert len(smooth.steps) + len(smooth.layouts) < 0.75 * len(tried.layouts)
    monkeypatch.setattr(refining, "ROUNDS", 40)
    monkeypatch.setattr(refining, "LAST", 1e-3)
    far = searched(held, PLACES, objectives=["mean sag"], fresh_mesh=False)
    best, least = (found.best["mean sag mm"].iloc[0] for found in (smooth, far))
    assert best == pytest.approx(least, rel=1e-4)
    assert best <= tried.best["mean sag mm"].iloc[0]


def test_the_best_place_is_in_the_middle_of_a_panel_that_is_the_same_left_and_right(smooth):
    """By symmetry; the mesh is not symmetric, so that a millimetre or two of 600 are left."""
    y = 60.0 + smooth.best["strut dy mm"].iloc[0]
    assert abs(y) < 3.0


def test_where_two_places_are_equally_bad(held):
    """The worst sag has a kink at its least value: no layout a little beside has less, by full solves on the mesh."""
    found = searched(held, PLACES, objectives=["worst sag"], fresh_mesh=False)
    assert len(found.layouts) == 9
    assert len(found.steps) <= 12
    last = found.steps[-1].figures["worst sag"]
    values = np.sort([value for value, _ in last])
    assert values[-2] == pytest.approx(values[-1], rel=2e-3)  # two places, or one of them twice
    dx, dy = found.best["strut dx mm"].iloc[0], found.best["strut dy mm"].iloc[0]
    least = found.best["worst sag mm"].iloc[0]
    model = sf.build(held)
    for x, y in ((dx, dy + 2.0), (dx, dy - 2.0), (dx + 2.0, dy)):
        other = sf.solve(model.moved("strut", dx=f"{x} mm", dy=f"{y} mm"), "air")
        assert 1e3 * other.max_sag > least


def test_the_lightest_sheet_within_a_limit(held):
    """One size and one limit that is reached: mass is then density times volume, the sag is the limit."""
    space = {"panel.sheet.thickness": ("6.5 mm", "15 mm")}
    found = searched(held, space, "lean", objectives=["mass"], limits={"worst sag": "1.5 mm"}, layouts=4)
    assert "by derivatives" in found.notes[0]
    best = found.best.iloc[0]
    assert best["worst sag mm"] <= 1.5
    assert best["worst sag mm"] == pytest.approx(1.5, rel=1e-3)
    rows = found.table
    thickness, mass = rows["panel.sheet.thickness mm"], rows["mass kg"]
    per_mm = np.diff(mass.iloc[:2]) / np.diff(thickness.iloc[:2])  # mass is linear in the thickness
    assert best["mass kg"] == pytest.approx(
        mass.iloc[0] + per_mm[0] * (best["panel.sheet.thickness mm"] - thickness.iloc[0]), rel=1e-9
    )


def test_several_cases_on_a_mesh_of_their_own(held):
    """The end point is a layout like every other: solved anew by itself it has the same figures."""
    space = {("strut", "dy"): ("-200 mm", "100 mm"), "struts.strut.diameter": ("6 mm", "12 mm")}
    options = {"objectives": ["worst sag"], "limits": {"worst utilisation": 0.5, "least clearance": "50 mm"}}
    found = searched(held, space, ["lean", "air"], **options)
    assert found.steps
    number = found.layouts[-1].number
    assert number > 8
    solution = sf.solve(sf.build(found.design(number)), "lean")
    assert 1e3 * solution.max_sag == pytest.approx(found.table.loc[number, "lean: worst sag mm"], rel=1e-12)
    assert found.best["worst sag mm"].iloc[0] < found.table.loc[:8, "worst sag mm"].min()


def test_a_search_goes_on_in_the_middle_of_its_steps(held, smooth, tmp_path, monkeypatch):
    file = tmp_path / "search.jsonl"
    options = {"objectives": ["mean sag"], "fresh_mesh": False, "file": file}
    told = []

    def stop(done, total, left):
        told.append(done)
        if told.count(8) == 6:  # when the eighth layout is finished, and after each step
            raise KeyboardInterrupt

    part = searched(held, PLACES, progress=stop, **options)
    assert not part.finished
    assert 0 < len(part.steps) < len(smooth.steps)
    lines = file.read_text().splitlines()
    made = []
    build = solving.Bench.model
    monkeypatch.setattr(
        solving.Bench, "model", lambda bench, design: made.append(design) or build(bench, design)
    )
    whole = searched(held, PLACES, **options)
    same(whole.table, smooth.table)
    assert whole.steps == smooth.steps  # to the last bit, those from the file too
    assert file.read_text().splitlines()[: len(lines)] == lines
    assert len(made) == 2  # the mesh of the steps that were left, and the end point
    again = sf.study.read(file)
    assert again.steps == whole.steps
    assert again.notes == whole.notes
    same(again.table, whole.table)
    made.clear()
    same(searched(held, PLACES, **options).table, whole.table)
    assert made == []
    text = file.read_text().replace('"step": 2, "from": ', '"step": 2, "from": 1')
    file.write_text(text)
    with pytest.raises(sf.FileError, match="step 2 in the study's file has other values"):
        searched(held, PLACES, **options)


@pytest.mark.parametrize(
    ("changes", "options", "said"),
    [
        ({("tube", "dx"): ("-60 mm", "40 mm")}, {}, "by 'tube dx', the place of a part that is no support"),
        ({"ribs.tube.points.#1.x": ("180 mm", "220 mm")}, {}, "the place of a part that is no support"),
        ({"cases.air.speed": ("100 km/h", "150 km/h")}, {}, "neither the place of a support nor a size"),
        (PLACES, {"objectives": ["first frequency"]}, "derivatives of the first frequency"),
        (PLACES, {"limits": {"cost": 100.0}}, "derivatives of the cost"),
    ],
)  # fmt: skip
def test_without_good_derivatives_it_tries(held, changes, options, said):
    found = searched(held, changes, **({"objectives": ["mean sag"], "layouts": 3} | options))
    assert not found.steps
    assert len(found.layouts) > 3
    assert len(found.notes) == 1
    assert "found by trying" in found.notes[0]
    assert said in found.notes[0]


def test_a_case_that_cannot_be_differentiated_is_tried_and_says_why(held):
    """Utilisations have no derivatives while the air follows the sag."""
    law = {"kind": "uniform", "cp": 0.6, "gap_exponent": 1.0}
    cases = [{"name": "follows", "speed": "150 km/h", "pressure": law, "sag_feedback": True}]
    splitter = held.with_(cases=cases)
    space = {("strut", "dy"): ("-100 mm", "100 mm")}
    found = searched(splitter, space, "follows", objectives=["worst utilisation"], layouts=3)
    assert len(found.steps) == 1
    assert "while the air follows the sag" in found.steps[0].refused
    assert found.notes == (
        f"Small steps from layout {found.steps[0].start} were found by trying: {found.steps[0].refused}",
    )
    assert len(found.layouts) > 3


def test_without_small_steps_there_is_nothing_to_say(held):
    assert searched(held, PLACES, refine=0, layouts=3).notes == ()
