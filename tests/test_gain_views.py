"""Gain in the face of the library and in pictures, measured on the artists that matplotlib draws."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

import splitterfem as sf
from splitterfem.analysis.measures import Measure
from splitterfem.output import style
from splitterfem.output.gain_phrases import better
from splitterfem.output.gainview import plot_rib_gain
from splitterfem.output.strutgainview import plot_strut_gain
from splitterfem.output.style import scale_of

CASE = "straight, 210 km/h"


@pytest.fixture(scope="module")
def splitter() -> sf.Splitter:
    return sf.demo().with_("mesh.size", "150 mm")


@pytest.fixture(scope="module")
def ribs(splitter: sf.Splitter) -> sf.RibGain:
    return sf.rib_gain(splitter, CASE, measure="mean sag", spacing="40 mm")


@pytest.fixture(scope="module")
def struts(splitter: sf.Splitter) -> sf.StrutGain:
    return sf.strut_gain(splitter, CASE, mirror=True, stiffness="2 kN/mm", pad="50 mm")


def found(ax, gid):
    return [artist for artist in ax.findobj() if artist.get_gid() == gid]


def test_strokes_lie_in_the_best_direction(ribs: sf.RibGain) -> None:
    ax = plot_rib_gain(ribs, count=0)
    (strokes,) = found(ax, "strokes")
    lines = np.array(strokes.get_segments())
    middle = lines.mean(axis=1)[:, ::-1] / 1e3
    for place, line, width in zip(middle, lines, strokes.get_linewidths(), strict=True):
        i = int(np.argmin(np.hypot(ribs.x - place[0], ribs.y - place[1])))
        assert np.hypot(ribs.x[i] - place[0], ribs.y[i] - place[1]) < 1e-9
        dy, dx = line[1] - line[0]
        assert abs(np.sin(np.arctan2(dy, dx) - ribs.direction[i])) < 1e-9
        assert ribs.gain[i] > 0.0
        if width == max(strokes.get_linewidths()):
            assert ribs.gain[i] >= 0.4 * ribs.gain.max()
    assert len(lines) < len(ribs.x)
    assert ribs.gain.max() * 1e3 >= [float(t.get_text()) for t in ax.figure.axes[1].get_yticklabels()][-1]


def test_best_ribs_are_drawn_to_scale_with_what_they_do(ribs: sf.RibGain) -> None:
    places = ribs.best(2, length="300 mm", tried=False)
    ax = ribs.plot(length="300 mm", count=2, tried=False)
    for number, place in enumerate(places, start=1):
        (patch,) = found(ax, f"new rib {number}")
        area = shapely.Polygon(patch.get_xy() / 1e3)
        assert area.area == pytest.approx(0.3 * 0.0254, rel=1e-6)
        assert (area.centroid.y, area.centroid.x) == pytest.approx(place.at)
        (words,) = found(ax, f"call-out {number}")
        assert words.get_text() == f"about {better(place.whole, ribs.measure, scale_of('mm'))}"
        assert words.get_text().endswith(" mm less")
    assert any("a rib 300 mm long (estimated)" in text.get_text() for text in ax.get_legend().get_texts())
    assert "Gain of a rib, mean sag in load case: straight, 210 km/h; invented data" in ax.get_title(
        loc="left"
    )


def test_strut_map_and_arrows(struts: sf.StrutGain) -> None:
    ax = plot_strut_gain(struts, tried=False)
    assert found(ax, "filled contours")
    (gain, at), *_ = struts.best()
    assert found(ax, "call-out 1")[0].get_text() == better(gain, struts.measure, scale_of("mm"))
    assert found(ax, "spot 1")[0].get_xydata()[0] == pytest.approx([1e3 * at[1], 1e3 * at[0]])
    first = struts.moves[0]
    arrows = found(ax, f"move {first.name}")
    assert len(arrows) == 2
    start, tip = np.array(arrows[0].xyann), np.array(arrows[0].xy)
    assert start[::-1] / 1e3 == pytest.approx(first.at)
    assert np.arctan2(*(tip - start)) == pytest.approx(first.direction)
    assert not found(ax, "move pin left")
    assert "worst sag less with a pair of struts there (mm)" in [axes.get_ylabel() for axes in ax.figure.axes]


@pytest.mark.slow
def test_other_units_and_frequencies(splitter: sf.Splitter) -> None:
    ribs = sf.rib_gain(splitter, CASE, measure="first frequency", spacing="60 mm")
    ax = ribs.plot(unit="in", count=0, title="mine", legend=False, frame=False)
    assert ax.figure.axes[1].get_ylabel() == "gain to first order (Hz per ft of rib)"
    assert ax.get_title(loc="left").startswith("mine\n")
    struts = sf.strut_gain(splitter, CASE, measure="first frequency")
    ax = struts.plot(count=1, tried=False)
    assert found(ax, "call-out 1")[0].get_text().endswith(" Hz higher")
    filled = found(ax, "filled contours")[0]
    assert filled.levels[-1] >= 0.99 * np.nanmax(struts.field.values)
    assert filled.levels[-2] < np.nanmax(struts.field.values)


def test_words_take_units(ribs: sf.RibGain, splitter: sf.Splitter) -> None:
    line = [("870 mm", "-100 mm"), ("900 mm", "0.1 m")]
    assert ribs.along(line) == ribs.along([(0.87, -0.1), (0.9, 0.1)]) > ribs.whole(line) > 0.0
    assert ribs.tried(line).better_than(ribs.measure) == pytest.approx(ribs.whole(line), rel=0.6)
    there = sf.rib_gain(splitter, CASE, measure=("950 mm", "0 mm"), spacing="60 mm")
    assert there.measure.name == "sag at x 950 mm, y 0 mm"
    assert "Rib gain of 'Hill-climb saloon, demonstration' in 'straight, 210 km/h': sag at x 950 mm" in repr(
        there
    )
    angle = {"shape": "angle", "foot": "25 mm", "upright": "25 mm", "wall": "3 mm"}
    other = sf.rib_gain(splitter, CASE, section=angle, material="6061-T6 extrusion", spacing="60 mm")
    assert other.mass_per_metre == pytest.approx(2700.0 * (25 * 3 + 22 * 3) * 1e-6, rel=0.03)


def test_notebooks_see_tables_and_notes(ribs: sf.RibGain, struts: sf.StrutGain) -> None:
    assert "with_it_mm" in ribs._repr_html_()
    assert "A whole rib helps less" in ribs._repr_html_()
    html = struts._repr_html_()
    assert "best_way_deg" in html
    assert "outer strut" in html
    assert "worst sag" in repr(struts)
    assert struts.table.better_mm.is_monotonic_decreasing
    assert struts.table.with_it_mm[0] == pytest.approx(1e3 * struts.measure.value - struts.table.better_mm[0])


def test_a_splitter_without_ribs_needs_a_section(splitter: sf.Splitter) -> None:
    bare = splitter.with_(ribs=())
    with pytest.raises(sf.DesignError, match="has no rib whose section and material"):
        sf.rib_gain(bare, CASE)
    with pytest.raises(sf.UnitError):
        sf.rib_gain(splitter, CASE, spacing="40 kg")


def test_what_gets_worse_is_said() -> None:
    sag = Measure("mean sag", "length", 0.002, rising=False)
    gap = Measure("least clearance", "length", 0.05, rising=True)
    assert better(-0.0005, sag, scale_of("mm")) == "0.50 mm more"
    assert better(0.0127, gap, scale_of("in")) == "0.50 in more"
    assert better(0.0, gap, scale_of("mm")) == "no change"
    assert style.SAG_COLOURS == "viridis_r"  # dark is much, in both pictures
