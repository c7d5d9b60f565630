"""Searches: what they find, how they go on, and what they draw."""

from __future__ import annotations

import sys

import pytest
from tiny_panel import TUBE, same, tiny_panel

import splitterfem as sf

FLAT = {"shape": "flat", "width": "40 mm", "height": "6 mm"}
SPACE = {
    ("tube", "dx"): ("-60 mm", "140 mm"),
    ("tube", "present"): None,
    "panel.sheet.thickness": ["6.5 mm", "9 mm", "12 mm"],
    "ribs.tube.section": {"own": TUBE, "flat": FLAT},
}


@pytest.fixture(scope="module")
def tiny():
    return tiny_panel()


@pytest.fixture(scope="module")
def found(tiny):
    """Little panel, four parameters, two objectives and a limit."""
    return sf.study.search(
        tiny, SPACE, "lean", layouts=32, refine=1, limits={"worst utilisation": 0.5}, measures=["cost"]
    )


def test_a_search_finds_what_trying_everything_finds(tiny):
    """Eight layouts in all: the lightest that sags at most 2 mm is known from a sweep."""
    space = {"panel.sheet.thickness": ["6.5 mm", "9 mm", "12 mm", "15 mm"], ("tube", "dx"): ["0 mm", "80 mm"]}
    table = sf.study.sweep(tiny, space, "lean", measures=["mass", "worst sag"]).table
    right = table[table["worst sag mm"] <= 2.0]["mass kg"].min()
    search = sf.study.search(
        tiny, space, "lean", objectives=["mass"], limits={"worst sag": "2 mm"}, layouts=24
    )
    assert search.best["mass kg"].iloc[0] == pytest.approx(right, rel=1e-12)
    assert (search.best["worst sag mm"] <= 2.0).all()


def test_the_front_is_what_nothing_beats(found):
    """Compared with the definition, pair by pair."""
    kept = found.table[found.table["within limits"]]
    assert (kept["worst utilisation"] <= 0.5).all()
    assert not found.table.loc[~found.table["within limits"], "worst utilisation"].le(0.5).any()
    points = kept[["mass kg", "worst sag mm"]].to_numpy()
    beaten = [any((other <= point).all() and (other < point).any() for other in points) for point in points]
    expected = {tuple(point) for point, bad in zip(points, beaten, strict=True) if not bad}
    front = found.front[["mass kg", "worst sag mm"]].to_numpy()
    assert {tuple(point) for point in front} == expected
    assert len(front) == len(expected)
    assert found.best["chosen for"].iloc[0] == "least mass"
    assert found.best["mass kg"].iloc[0] == points[:, 0].min()


def test_small_steps_make_it_no_worse(tiny):
    options = {"objectives": ["worst sag"], "layouts": 8, "seed": 5}
    space = {("tube", "dx"): ("-60 mm", "40 mm"), ("tube", "dy"): ("-40 mm", "40 mm")}
    plain = sf.study.search(tiny, space, "lean", refine=0, **options)
    fine = sf.study.search(tiny, space, "lean", refine=1, **options)
    assert len(plain.table) == 8 < len(fine.table)
    same(fine.table.loc[:8], plain.table)
    assert fine.table["worst sag mm"].min() < plain.table["worst sag mm"].min()


def test_a_search_goes_on_from_its_file_as_if_it_had_not_stopped(tiny, found, tmp_path):
    file = tmp_path / "search.jsonl"
    options = {
        "layouts": 32,
        "refine": 1,
        "limits": {"worst utilisation": 0.5},
        "measures": ["cost"],
        "file": file,
    }

    def stop(done, total, left):
        if done >= 13:
            raise KeyboardInterrupt

    part = sf.study.search(tiny, SPACE, "lean", progress=stop, **options)
    assert not part.finished
    assert 13 <= len(part.table) < 20
    lines = file.read_text().splitlines()
    whole = sf.study.search(tiny, SPACE, "lean", **options)
    same(whole.table, found.table)
    assert file.read_text().splitlines()[: len(lines)] == lines  # nothing was solved again
    again = sf.study.read(file)
    same(again.best, found.best)
    same(again.front, found.front)
    with pytest.raises(sf.FileError, match="of another set of settings"):
        sf.study.search(tiny, SPACE, "lean", **(options | {"seed": 21}))


def test_the_picture_of_a_search_numbers_the_chosen(found):
    axes = found.plot()
    texts = [text.get_text() for text in axes.texts]
    for number, reason in found.best["chosen for"].items():
        assert f"{number}: {reason}" in texts
    assert axes.get_xlabel() == "mass, kg"
    assert axes.get_ylabel() == "worst sag, mm"
    assert "worst utilisation at most 0.5" in axes.get_title(loc="left")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"objectives": []}, "something to make better"),
        ({"objectives": ["mass", "mass"]}, "same objective twice"),
        ({"objectives": ["masss"]}, "did you mean 'mass'"),
        ({"limits": {"mass": "3 mm"}}, "is a length, not a mass"),
        ({"layouts": 0}, "layouts of a search is 0"),
        ({"seed": -1}, "seed of a search is -1"),
    ],
)
def test_a_search_for_nothing_is_refused(tiny, options, said):
    with pytest.raises((sf.DesignError, sf.UnitError), match=said):
        sf.study.search(tiny, SPACE, "lean", **options)


def test_no_extra_no_search(tiny, monkeypatch):
    monkeypatch.setitem(sys.modules, "optuna", None)
    with pytest.raises(sf.MissingExtraError, match=r"pip install 'splitterfem\[search\]'"):
        sf.study.search(tiny, SPACE, "lean", layouts=4)
    monkeypatch.setitem(sys.modules, "joblib", None)
    with pytest.raises(sf.MissingExtraError, match=r"pip install 'splitterfem\[parallel\]'"):
        sf.study.sweep(tiny, {("tube", "dx"): ["0 mm", "5 mm"]}, "lean", workers=2)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(sf.MissingExtraError, match=r"pip install 'splitterfem\[cluster\]'"):
        sf.study.sweep(tiny, {("tube", "dx"): ["0 mm", "5 mm"]}, "lean", cluster="tcp://127.0.0.1:9")
