"""Screening of layouts: against full solves of the same layouts on the same mesh, by an independent way."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

import splitterfem as sf
from splitterfem.analysis.solution import solve
from splitterfem.layouts.candidates import Candidates, candidates_of
from splitterfem.layouts.library import CandidateLibrary, candidate_library
from splitterfem.layouts.subsets import random_layouts, read_layouts
from splitterfem.model import Model, build

CASE = "straight, 210 km/h"
TUBE = {"shape": "tube", "width": "25.4 mm", "height": "25.4 mm", "wall": "3.2 mm"}
ANGLE = {"shape": "angle", "foot": "38.1 mm", "upright": "38.1 mm", "wall": "3.2 mm"}
ALLOY = "6061-T6 extrusion"


def rib(name: str, *points: tuple[float, float], **fields: object) -> dict[str, object]:
    places = [(f"{x} mm", f"{y} mm") for x, y in points]
    return {"name": name, "points": places, "section": TUBE, "material": ALLOY, **fields}


RIBS = [
    rib("front", (860, -550), (860, 550)),
    rib("rear", (430, -160), (430, 160), section=ANGLE),
    rib("slant", (480, -300), (900, 250), side="below"),
    rib("other slant", (480, 250), (900, -300), side="below", crossing="notched", section=ANGLE),
    rib("pair", (700, 100), (950, 150), mirror=True, section=ANGLE, crossing="notched"),
    rib("bent", (700, -600), (740, 0), (700, 600)),
    rib("outer", (400, 650), (850, 650), mirror=True, side="below"),
    rib("middle", (400, 0), (960, 0), crossing="notched"),
    rib(
        "screwed",
        (700, -300),
        (920, -300),
        joint={"kind": "screws", "diameter": "5 mm", "pitch": "60 mm"},
    ),
]
STRUTS = [
    {
        "name": "middle strut",
        "foot": ("930 mm", "0 mm"),
        "bracket_height": "30 mm",
        "head": ("800 mm", "0 mm", "280 mm"),
        "diameter": "8 mm",
    },
    {
        "name": "moved strut",
        "mirror": True,
        "foot": ("800 mm", "600 mm"),
        "bracket_height": "30 mm",
        "head": ("760 mm", "560 mm", "290 mm"),
        "diameter": "8 mm",
        "end_stiffness": "1.5 kN/mm",
    },
]


@cache
def found() -> tuple[Model, Candidates]:
    bare = sf.demo().with_("ribs", ()).with_("mesh.size", "200 mm")
    given = candidates_of(bare, RIBS, STRUTS, {"moved strut": "outer strut"})
    return build(given.bare), given


def case() -> sf.LoadCase:
    return found()[0].design.case(CASE).with_(ground=False)


def solved(layout: tuple[str, ...]) -> float:
    model, given = found()
    return solve(model.for_design(given.design(layout)), case()).max_sag


@cache
def drawn() -> list[tuple[str, ...]]:
    return random_layouts(found()[1], 36, sizes=(1, 5), seed=4)


@cache
def library() -> CandidateLibrary:
    model, given = found()
    return candidate_library(model, case(), given, layouts=drawn())


@cache
def full() -> np.ndarray:
    return np.array([solved(layout) for layout in drawn()])


def test_all_shapes_of_few_ribs_are_exact() -> None:
    """With every strain of every rib Woodbury's identity (1950) holds: nothing but rounding is left."""
    model, _ = found()
    few = candidates_of(model.design, [RIBS[4], RIBS[1], RIBS[8]], STRUTS, {"moved strut": "outer strut"})
    layouts = [(), ("pair", "rear", "screwed"), ("screwed", "moved strut"), ("pair", "middle strut")]
    exact = candidate_library(model, case(), few, layouts=layouts, shapes=None)
    for layout, sag in zip(layouts, exact.sag(layouts), strict=True):
        whole = solve(model.for_design(few.design(layout)), case())
        assert sag == pytest.approx(whole.max_sag, rel=1e-8)
        assert exact.mass_of(layout) == pytest.approx(whole.mass, rel=1e-12)


def test_few_shapes_are_close_and_say_how_close() -> None:
    """Crossing, notched, bent, screwed and mirrored ribs, struts added and moved, 1 to 5 at a time."""
    screened = library().screened(drawn())
    error = np.abs(np.array([one.sag for one in screened]) - full())
    assert np.median(error / full()) < 0.001
    assert np.max(error / full()) < 0.01
    said = np.array([one.error for one in screened])
    assert np.mean(error <= said) >= 0.95
    assert np.median(said / full()) < 0.01


def test_layouts_with_crossing_ribs_are_among_them() -> None:
    given = found()[1]
    crossing = [given.version(name, layout)[1] for layout in drawn() for name in layout]
    assert sum(bool(cuts) for cuts in crossing) >= 5


def test_struts_alone_are_exact() -> None:
    """Supports enter as they are: without ribs nothing is left out."""
    for layout in ((), ("middle strut",), ("moved strut",), ("middle strut", "moved strut")):
        assert library().sag([layout])[0] == pytest.approx(solved(layout), rel=1e-8)


def test_too_few_shapes_make_ribs_too_soft() -> None:
    """Stresses sought among a few shapes carry less than all: least complementary energy."""
    model, _ = found()
    layout = ("front", "slant", "outer")
    given = candidates_of(model.design, [RIBS[0], RIBS[2], RIBS[6]])
    sags = [
        float(candidate_library(model, case(), given, shapes=count).sag([layout])[0]) for count in (4, 12)
    ]
    assert sags[0] > sags[1] > solved(layout)


def test_screen_solves_the_best_in_full() -> None:
    splitter = sf.demo().with_("mesh.size", "200 mm")
    screening = sf.study.screen(
        splitter, CASE, ribs=["cross tube", "angle", *RIBS[1:3]], count=8, sizes=(1, 3), best=3, fresh=1
    )
    assert len(screening.table) == 8
    assert list(screening.best["solved_mm"]) == sorted(screening.best["solved_mm"])
    assert np.all(np.abs(screening.best["difference_mm"]) < 0.01 * screening.best["solved_mm"])
    first = screening.best.iloc[0]
    design = screening.design(int(first["layout"]))
    assert design.mesh == splitter.mesh
    if np.isfinite(first["fresh_mesh_mm"]):
        assert 1e3 * sf.solve(design, CASE).max_sag == pytest.approx(first["fresh_mesh_mm"], rel=1e-6)
    assert sf.build(design).ribs[-1].mass > 0.0
    assert screening.library.sag([screening.layouts[0]])[0] == pytest.approx(
        1e-3 * screening.table["worst_sag_mm"][0]
    )
    assert "mm" in repr(screening)
    for what in ("mass", "solved"):
        assert "mm" in screening.plot(what).get_ylabel()


def test_layouts_that_reach_the_ground_are_marked() -> None:
    """With the ground at 5 mm a panel that sags by more than that would reach it."""
    splitter = sf.demo().with_("mesh.size", "200 mm").with_("ribs", ())
    low = splitter.case(CASE).with_(ride_height="5 mm", rake=0.0)
    screening = sf.study.screen(splitter, low, ribs=RIBS[:1], layouts=[["front"]], best=0)
    assert screening.table["note"][0] == "reaches the ground"
    assert "1 layout would reach the ground" in " ".join(screening.notes)


def test_layouts_are_read_by_name_by_number_and_from_tables() -> None:
    given = found()[1]
    table = pd.DataFrame({"front": [True, False], "rear": [1, 1]})
    assert read_layouts(given, table) == [("front", "rear"), ("rear",)]
    assert read_layouts(given, [[0, "rear"], []]) == [("front", "rear"), ()]


@pytest.mark.parametrize(
    ("layouts", "sentence"),
    [
        ([["frnt"]], "Layout 0 has no candidate 'frnt'.*front"),
        ([["front"], [99]], "Layout 1 asks for candidate 99: they are numbered from 0 to 10"),
        ([["front", "front"]], "Layout 0 has 'front' twice"),
        (
            [["pair", "middle", "screwed"], ["bent", "screwed"]],
            "'bent' and 'screwed', which exclude each other",
        ),
        ([], "no layout to screen"),
    ],
)
def test_layouts_that_cannot_be_are_refused(layouts: list[list[str]], sentence: str) -> None:
    with pytest.raises(sf.DesignError, match=sentence):
        read_layouts(found()[1], layouts)


def test_candidates_that_cannot_be_are_refused() -> None:
    splitter = sf.demo()
    with pytest.raises(sf.DesignError, match="two parts of the name 'cross tube'"):
        candidates_of(splitter, [rib("cross tube", (860, -550), (860, 550))])
    with pytest.raises(sf.DesignError, match=r"no rib 'cross tub'.*cross tube"):
        candidates_of(splitter, ["cross tub"])
    with pytest.raises(sf.DesignError, match="no candidate to make layouts of"):
        candidates_of(splitter, [])
    with pytest.raises(sf.DesignError, match=r"instead of 'inner', which is no strut.*inner strut"):
        candidates_of(splitter, [], STRUTS, {"moved strut": "inner"})


def test_cases_that_are_not_linear_are_refused() -> None:
    splitter = sf.demo().with_("mesh.size", "200 mm")
    following = splitter.case(CASE).with_(large_deflection=True)
    with pytest.raises(sf.DesignError, match=r"large deflection.*large_deflection=False"):
        sf.study.screen(splitter, following, ribs=["angle"], count=1, sizes=(1, 1))
    with pytest.raises(sf.DesignError, match="just one of layouts and count"):
        sf.study.screen(splitter, CASE, ribs=["angle"])


def test_processes_screen_as_one_does() -> None:
    layouts = drawn()
    assert np.array_equal(library().sag(layouts, workers=2), library().sag(layouts))
