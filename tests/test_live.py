"""The live page without a browser: a trial and its moves, and widgets whose events drive it.

What a page shows is checked against answers of the library, which are checked against textbooks and solids elsewhere.
PNG signature: ISO 15948, 5.2.  One pound is 0.45359237 kg, one inch 25.4 mm (NIST SP 811, appendix B).
"""

from __future__ import annotations

import asyncio
import html
import io
import re
import sys
from unittest.mock import patch

import matplotlib.image as mpimg
import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.errors import DesignError, MissingExtraError, UnitError
from splitterfem.live import Page, Trial
from splitterfem.live.figures import length_words, mass_words
from splitterfem.live.pace import Waiting
from splitterfem.live.pictures import CHOSEN, Easel
from splitterfem.model import build
from splitterfem.output.wording import words_for
from splitterfem.threads import one_blas_thread

PNG = b"\x89PNG\r\n\x1a\n"
CASE = "straight, 210 km/h"
CELL = re.compile(r"<t[dh][^>]*>(?:<b>)?([^<]*)(?:</b>)?</t[dh]>")


@pytest.fixture
def page():
    return sf.explore(tiny_panel(), "lean")


def shown(page):
    """Rows of the table of figures by their names."""
    cells = CELL.findall(page.figures)
    rows = [cells[start : start + 5] for start in range(0, len(cells), 5)]
    return {row[0]: dict(zip(rows[0][1:], row[1:], strict=True)) for row in rows[1:]}


def solved(trial, design, case):
    """The library's own answer for a design on the mesh of a trial, from a model of its own."""
    return sf.solve(build(trial.given.with_(mesh=trial.mesh)).for_design(design.with_(mesh=trial.mesh)), case)


def blue(png):
    """Pixels of a picture in the colour of the chosen part."""
    pixels = mpimg.imread(io.BytesIO(png))[..., :3]
    wanted = np.array([int(CHOSEN[i : i + 2], 16) / 255.0 for i in (1, 3, 5)])
    return np.argwhere(np.abs(pixels - wanted).max(axis=-1) < 0.02)


def test_one_line_opens_a_page_on_the_first_load_case():
    page = sf.explore(sf.demo())
    assert isinstance(page, Page)
    assert page.trial.case.name == CASE
    assert page.png.startswith(PNG)
    assert page.design == sf.demo()
    assert page.controls.part.options == (
        "cross tube", "angle", "inner strut", "outer strut", "pin left", "pin right", "pocket"
    )  # fmt: skip


def test_sliding_a_rib_shows_the_numbers_of_the_library(page):
    page.controls.part.value = "tube"
    picture_before, before = page.png, page.trial.now
    page.controls.x.value = 250.0
    design = page.trial.given.moved("tube", dx="50 mm")
    other = solved(page.trial, design, "lean")
    rows = shown(page)
    assert rows["worst sag"]["now"] == f"{1e3 * other.max_sag:.2f} mm"
    assert rows["least clearance"]["now"] == f"{1e3 * other.min_clearance:.2f} mm"
    assert rows["mass of panel and ribs"]["now"] == f"{other.mass:.2f} kg"
    change = round(1e3 * other.max_sag, 2) - round(1e3 * before.sag, 2)  # as the row shows them
    assert abs(change) > 0.02
    assert rows["worst sag"]["change"] == f"{change:+.2f} mm, {'better' if change < 0.0 else 'worse'}"
    assert rows["worst sag"]["as kept"] == f"{1e3 * before.sag:.2f} mm"
    assert page.trial.design == design
    assert page.png.startswith(PNG)
    assert page.png != picture_before


def test_sliding_a_support_sideways_shows_the_numbers_of_the_library(page):
    page.controls.part.value = "bolt 3"
    assert (page.controls.x.value, page.controls.y.value) == (300.0, -200.0)
    page.controls.y.value = -140.0
    other = solved(page.trial, page.trial.given.moved("bolt 3", dy="60 mm"), "lean")
    assert shown(page)["worst sag"]["now"] == f"{1e3 * other.max_sag:.2f} mm"


def test_a_mirrored_pair_moves_as_one():
    trial = Trial(sf.demo(), CASE)
    trial.move("inner strut", y="350 mm")
    left, right = (trial.design.part(f"inner strut {side}") for side in ("left", "right"))
    assert left.foot == pytest.approx((0.905, 0.350))
    assert right.foot == pytest.approx((0.905, -0.350))
    assert left.head[1] == pytest.approx(0.320)  # its upper end goes with it
    assert trial.reach("inner strut").y == pytest.approx((0.0, 0.8), abs=1e-3)


def test_reach_keeps_all_points_within_the_extent():
    """400 x 600 mm, a tube from y = -250 to 250 mm at x = 200 mm: 50 mm of room on either side."""
    trial = Trial(tiny_panel(), "lean")
    assert trial.reach("tube").x == pytest.approx((0.0, 0.4))
    assert trial.reach("tube").y == pytest.approx((-0.05, 0.05))


def test_a_place_that_cannot_be_built_is_told_and_all_stays(page):
    page.controls.part.value = "bolt 3"
    picture_before, rows, design = page.png, shown(page), page.trial.design
    page.controls.y.value = -300.0
    assert page.message.startswith(
        "Not moved, figures and picture are those with 'bolt 3' at x, y 300, -200 mm: "
    )
    assert "has a pad that reaches past the edge of the panel" in page.message
    assert "has a pad that reaches past the edge of the panel" in page.figures
    assert page.png == picture_before
    assert shown(page) == rows
    assert page.trial.design == design
    page.controls.y.value = -190.0
    assert page.message == ""
    assert page.trial.place("bolt 3") == pytest.approx((0.3, -0.19))


def test_an_error_nobody_thought_of_is_told_too(page):
    with patch.object(type(page.trial), "move", side_effect=ZeroDivisionError("a <b> of nothing")):
        page.controls.x.value = 250.0
    assert page.message == "This should not have happened: ZeroDivisionError: a <b> of nothing"
    assert "a &lt;b&gt; of nothing" in page.figures


def test_undo_start_over_and_keep(page):
    given = page.trial.given
    page.controls.x.value = 250.0
    page.controls.x.value = 270.0
    page.controls.undo.click()
    assert page.trial.design == given.moved("tube", dx="50 mm")
    assert page.controls.x.value == 250.0
    page.controls.keep.click()
    assert page.design == given.moved("tube", dx="50 mm")
    assert shown(page)["worst sag"]["change"] == "0.00 mm"
    page.controls.restart.click()
    assert page.trial.design == given
    assert page.design == given.moved("tube", dx="50 mm")
    assert not shown(page)["worst sag"]["change"].startswith("0.00")
    page.controls.undo.click()
    assert page.trial.design == given.moved("tube", dx="50 mm")
    page.controls.undo.click()
    assert page.trial.design == given
    assert page.controls.undo.disabled
    with pytest.raises(DesignError, match="no move to undo"):
        page.trial.undo()


def test_what_was_undone_is_solved_as_at_first(page):
    first = page.trial.now
    page.controls.x.value = 270.0
    page.controls.undo.click()
    assert page.trial.now.sag == pytest.approx(first.sag, rel=1e-9)
    assert page.trial.now.gap == pytest.approx(first.gap, rel=1e-9)


def test_the_page_keeps_the_mesh_settings_of_the_design():
    page = sf.explore(sf.demo())
    assert page.trial.mesh.size > page.trial.given.mesh.size
    page.move("cross tube", x="720 mm")
    page.controls.keep.click()
    assert page.design.mesh == sf.demo().mesh
    assert page.controls.part.value == "cross tube"
    assert page.controls.x.value == 720.0


def test_check_tells_the_figures_of_a_mesh_made_for_the_design(page):
    page.controls.x.value = 250.0
    own = sf.solve(page.trial.given.moved("tube", dx="50 mm"), "lean")
    shared = page.trial.now
    page.controls.check.click()
    assert (
        f"worst sag {1e3 * own.max_sag:.2f} mm ({1e3 * (shared.sag - own.max_sag):+.2f} mm on the shared one)"
        in page.message
    )
    worst = own.utilisation.iloc[0]
    assert f"'{worst['part']}', {worst['mode']}: {worst['ratio']:.2f} of what is allowed" in page.message


def test_slow_pictures_are_drawn_once_and_give_way_to_the_sag(page):
    sag = page.png
    with patch.object(Easel, "picture", autospec=True, side_effect=Easel.picture) as drawn:
        page.controls.kind.value = "push map"
        pushes = page.png
        page.controls.kind.value = "sag"
        assert page.png == sag
        page.controls.kind.value = "push map"
        assert page.png is pushes
        assert [call.args[1] for call in drawn.call_args_list] == ["push map"]
    page.controls.x.value = 250.0
    assert page.controls.kind.value == "sag"
    assert page.png not in (sag, pushes)


@pytest.mark.parametrize("kind", ["clearance", "rib gain", "strut gain"])
def test_pictures_are_drawn(page, kind):
    page.controls.kind.value = kind
    assert page.message == ""
    pixels = mpimg.imread(io.BytesIO(page.png))
    assert pixels.shape[1] >= 450
    assert len(np.unique(pixels.reshape(-1, pixels.shape[2]), axis=0)) > 50


def test_a_picture_that_cannot_be_drawn_is_told_and_the_last_one_stays():
    bare = tiny_panel(ribs=[])
    page = sf.explore(bare, "lean")
    sag = page.png
    page.controls.kind.value = "rib gain"
    assert "has no rib whose section" in page.message
    assert page.png == sag
    assert page.controls.kind.value == "sag"


def test_the_chosen_part_is_marked_where_it_is(page):
    """x runs up the page: a tube further forward is marked higher up."""
    page.controls.part.value = "tube"
    rows = [np.median(blue(page.png)[:, 0])]
    page.controls.x.value = 280.0
    page.controls.keep.click()
    rows.append(np.median(blue(page.png)[:, 0]))
    assert rows[1] < rows[0] - 20


def colour_bar(easel, kind):
    """Ends and ticks of the colour bar that a picture has."""
    bar = easel._stages[kind]._plan.ax.get_figure().axes[-1]
    return bar.get_ylim(), tuple(bar.get_yticks())


@pytest.mark.parametrize("kind", ["sag", "clearance"])
def test_same_colours_after_a_move(kind):
    """Colours of all pictures of a trial stand for the values at its start: the same levels."""
    trial = Trial(tiny_panel(), "lean")
    easel = Easel(trial)
    easel.picture(kind)
    first = colour_bar(easel, kind)
    trial.move("tube", x="210 mm")
    easel.picture(kind)
    assert colour_bar(easel, kind) == first


@pytest.mark.parametrize("kind", ["sag", "clearance"])
def test_a_picture_drawn_over_the_last_one_is_that_drawn_anew(kind):
    """What is kept of the last picture leaves no trace, also where colours grow and marks change."""
    trial = Trial(tiny_panel(), "lean")
    kept = Easel(trial)
    kept.picture(kind, chosen="tube")
    for part, place in (("tube", {"x": "250 mm"}), ("bolt 3", {"y": "-60 mm"}), ("tube", {"x": "180 mm"})):
        trial.move(part, **place)
        assert kept.picture(kind, chosen=part) == Easel(trial).picture(kind, chosen=part)


def test_us_units():
    page = sf.explore(tiny_panel(), "lean", units="us")
    rows, solution = shown(page), page.trial.solution
    assert rows["worst sag"]["now"] == f"{solution.max_sag / 0.0254:.3f} in"
    assert rows["mass of panel and ribs"]["now"] == f"{solution.mass / 0.45359237:.2f} lb"
    assert page.controls.x.description == "x, forward (in)"
    page.controls.x.value += 1.0
    assert page.trial.place("tube")[0] == pytest.approx(0.2254, abs=1e-7)


def in_a_loop(steps):
    """Run a coroutine function as a notebook does: with an event loop that runs while widgets are set."""
    return asyncio.run(steps())


def test_only_the_newest_of_many_places_counts(page):
    """Keys that are held send places faster than they can be solved."""

    async def hold():
        for place in (210.0, 220.0, 230.0, 250.0):
            page.controls.x.value = place
        await asyncio.sleep(0.2)

    with patch.object(type(page.trial), "move", autospec=True, side_effect=type(page.trial).move) as moved:
        in_a_loop(hold)
    assert [call.kwargs["x"] for call in moved.call_args_list] == [pytest.approx(0.25)]
    assert page.trial.design == page.trial.given.moved("tube", dx="50 mm")


def test_a_place_that_waits_is_taken_before_anything_else_happens(page):
    async def slide_and_choose():
        page.controls.x.value = 250.0
        page.controls.part.value = "bolt 3"
        page.controls.y.value = -140.0
        page.controls.keep.click()

    in_a_loop(slide_and_choose)
    assert page.design == page.trial.given.moved("tube", dx="50 mm").moved("bolt 3", dy="60 mm")


def test_what_goes_wrong_after_the_wait_is_told(page):
    async def slide():
        page.controls.part.value = "bolt 3"
        page.controls.y.value = -300.0
        await asyncio.sleep(0.1)

    in_a_loop(slide)
    assert page.message.startswith(
        "Not moved, figures and picture are those with 'bolt 3' at x, y 300, -200 mm: "
    )


def test_at_rest_the_page_checks_by_itself_if_that_is_wanted(monkeypatch):
    """The figures are those of a mesh made for the design; the next move drops them."""
    page = sf.explore(tiny_panel(), "lean", check_at_rest=True)
    monkeypatch.setattr(page, "_rest", Waiting(0.05))

    async def slide_and_rest():
        page.controls.x.value = 250.0
        for _ in range(200):
            await asyncio.sleep(0.05)
            if page.checked:
                return

    in_a_loop(slide_and_rest)
    own = sf.solve(page.trial.given.moved("tube", dx="50 mm"), "lean")
    assert (
        f"On a mesh made for this design, triangles of 250 mm: worst sag {1e3 * own.max_sag:.2f} mm"
        in page.checked
    )
    assert html.escape(page.checked) in page.figures
    page.controls.x.value = 255.0
    assert page.checked == ""
    assert "Press Check before you decide" in page.figures


def test_a_page_that_is_not_to_check_does_not(monkeypatch):
    page = sf.explore(tiny_panel(), "lean")
    monkeypatch.setattr(page, "_rest", Waiting(0.01))

    async def slide_and_rest():
        page.controls.x.value = 250.0
        await asyncio.sleep(0.3)

    with patch.object(type(page.trial), "on_own_mesh") as solved:
        in_a_loop(slide_and_rest)
    solved.assert_not_called()


def test_threads_come_back_after_the_last_block_that_wants_one():
    """Blocks that overlap in time, as those of two threads do, in either order of their ends."""

    def of_blas():
        known = [info for info in threadpool_info() if info["user_api"] == "blas"]
        return [info["num_threads"] for info in known if info["internal_api"] != "mkl"]  # MKL has its own

    with threadpool_limits(limits=2, user_api="blas"):
        before = of_blas()
        first, second = one_blas_thread(), one_blas_thread()
        first.__enter__()
        second.__enter__()
        first.__exit__(None, None, None)
        assert set(of_blas()) == {1}
        second.__exit__(None, None, None)
        assert of_blas() == before


def test_sliders_step_from_where_the_part_is(page):
    slider = page.controls.x
    assert ((slider.value - slider.min) / slider.step) % 1.0 == pytest.approx(0.0, abs=1e-9)
    assert ((slider.max - slider.value) / slider.step) % 1.0 == pytest.approx(0.0, abs=1e-9)
    assert not slider.continuous_update


def test_what_cannot_be_asked_is_refused():
    with pytest.raises(
        DesignError, match="there is no part 'tub' that the page can move; did you mean 'tube'"
    ):
        Trial(tiny_panel(), "lean").move("tub", x="0.2 m")
    with pytest.raises(DesignError, match="there is no picture 'sags'; did you mean 'sag'"):
        Easel(Trial(tiny_panel(), "lean")).picture("sags")
    with pytest.raises(DesignError, match="no load case"):
        Trial(tiny_panel(cases=[]))
    with pytest.raises(UnitError, match='x: "200" has no unit'):
        Trial(tiny_panel(), "lean").move("tube", x="200")
    with pytest.raises(UnitError, match="'imperial' is not a system of units"):
        sf.explore(tiny_panel(), "lean", units="imperial")


def test_without_ipywidgets_the_mend_is_told():
    with (
        patch.dict(sys.modules, {"ipywidgets": None}),
        pytest.raises(MissingExtraError, match=r"pip install 'splitterfem\[notebook\]'"),
    ):
        sf.explore(tiny_panel(), "lean")


def test_small_figures_have_no_sign_of_their_own():
    metric = words_for("metric")
    assert length_words(-1e-9, metric, sign=True) == "0.00 mm"
    assert length_words(2.5e-4, metric, sign=True) == "+0.25 mm"
    assert mass_words(-0.25, metric, sign=True) == "-0.25 kg"
