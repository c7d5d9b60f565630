"""The bent shape in space: heights, colours and words against the solution itself."""

from __future__ import annotations

import builtins
import re

import numpy as np
import pytest
from matplotlib.colors import Normalize
from mpl_toolkits.mplot3d.art3d import Poly3DCollection
from mpl_toolkits.mplot3d.proj3d import proj_transform
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.model import clearance_datum
from splitterfem.output import style
from splitterfem.output.colours import map_of
from splitterfem.output.shape import shape_of

STRUT = {
    "name": "strut", "foot": ["350 mm", "0 mm"], "bracket_height": "20 mm", "head": ["300 mm", "0 mm", "200 mm"],
    "diameter": "6 mm",
}  # fmt: skip


@pytest.fixture(scope="module")
def solution():
    return sf.solve(tiny_panel(struts=[STRUT]), "lean")


def found(ax, gid):
    return next(a for a in ax.findobj() if a.get_gid() == gid)


def test_heights_are_the_sag_times_the_factor(solution):
    shape = shape_of(solution, exaggeration=7.0)
    assert np.allclose(shape.points[:, 2], -7.0 * solution.sag_at(shape.sag.x, shape.sag.y), atol=1e-9)
    assert np.allclose(shape.points[:, :2], np.column_stack([shape.sag.x, shape.sag.y]))
    x, y = solution.max_sag_at
    assert np.allclose(shape.worst, (x, y, -7.0 * solution.max_sag))


def test_factor_is_round_and_shows_the_movement(solution):
    shape = shape_of(solution)
    power = 10.0 ** np.floor(np.log10(shape.exaggeration))
    assert shape.exaggeration / power in (1.0, 2.0, 5.0)
    share = shape.exaggeration * np.abs(shape.sag.values).max() / 0.6  # of the width
    assert 0.03 < share <= 0.09


def test_ground_lies_as_far_below_as_the_gap_times_the_factor(solution):
    shape = shape_of(solution, exaggeration=5.0, ground=True)
    half = 0.5 * solution.model.design.panel.sheet.thickness
    datum = clearance_datum(solution.model.design, solution.case)
    assert np.allclose(shape.ground[:, 2] + half, -5.0 * datum(shape.ground[:, 0]))
    # from the lower face of the bent panel down to the ground: the clearance, five times
    gap = solution.clearance
    lowest = -5.0 * solution.sag_at(*gap.at) - half
    under = -5.0 * float(datum(np.array(gap.at[0]))) - half
    assert float(lowest) - under == pytest.approx(5.0 * gap.least, rel=1e-9)


def test_ground_is_drawn_when_it_is_near(solution):
    assert shape_of(solution, exaggeration=1.0).ground is not None  # 60 mm below a panel 600 mm wide
    assert shape_of(solution, exaggeration=100.0).ground is None


def test_ribs_and_struts_stand_on_the_bent_panel_at_true_size(solution):
    shape = shape_of(solution, exaggeration=10.0)
    ((name, faces),) = shape.ribs
    assert name == "tube"
    corners = faces.reshape(-1, 3)
    feet = -10.0 * solution.sag_at(np.full(len(corners), 0.2), corners[:, 1]) + 4.5e-3
    rise = corners[:, 2] - feet
    assert np.allclose(np.unique(np.round(rise, 6)), (0.0, 0.02))
    assert np.ptp(corners[:, 0]) == pytest.approx(0.06)
    ((_, ends),) = shape.struts
    assert np.allclose(ends[1], (0.3, 0.0, 0.2))
    assert ends[0, 2] == pytest.approx(-10.0 * float(solution.sag_at(0.35, 0.0)))


def test_colours_are_those_of_the_plan_view(solution):
    ax = solution.plot_shape()
    levels = style.contour_levels(1e3 * solution.sag.values)
    panel = found(ax, "panel")
    shape = shape_of(solution)
    mean = 1e3 * shape.sag.values[shape.sag.triangles].mean(axis=1)
    expected = map_of(style.SAG_COLOURS)(Normalize(levels[0], levels[-1])(mean))
    drawn = panel.get_facecolor()  # in the order of their depth
    assert np.allclose(*(np.array(sorted(map(tuple, np.round(c, 6)))) for c in (drawn, expected)))
    bar = ax.figure.axes[1]
    assert bar.get_ylabel() == "sag, down (mm)"
    assert bar.get_ylim() == (levels[0], levels[-1])


def test_true_scale_is_printed(solution):
    ax = solution.plot_shape(exaggeration=20)
    said = found(ax, "true scale").get_text()
    assert "20 times as large" in said
    assert f"{1e3 * solution.max_sag:.1f} mm at most" in said
    assert "invented data" in ax.get_title(loc="left")
    assert found(ax, "call-out").get_text() == f"{1e3 * solution.max_sag:.1f} mm"
    said = found(solution.plot_shape(unit="in"), "true scale").get_text()
    assert f"{solution.max_sag / 0.0254:.3f} in at most" in said


def test_scale_is_equal_along_all_axes_and_the_bar_is_as_high_as_it_says(solution):
    ax = solution.plot_shape(exaggeration=20)
    sizes = np.array([np.ptp(limits) for limits in (ax.get_xlim(), ax.get_ylim(), ax.get_zlim())])
    drawn = np.asarray(ax._box_aspect)
    assert np.allclose(drawn / drawn[1], sizes / sizes[1], rtol=0.06)
    bar = found(ax, "sag bar")
    words = next(text.get_text() for text in ax.texts if text.get_text().endswith("of sag"))
    assert np.ptp(bar.get_data_3d()[2]) == pytest.approx(20.0 * float(words.split()[0]))


def test_pictures_are_all_within_the_figure(solution):
    ax = solution.plot_shape(ground=True, exaggeration=5)
    assert ax._repr_png_().startswith(b"\x89PNG")
    shape = shape_of(solution, ground=True, exaggeration=5)
    every = 1e3 * np.concatenate([shape.points, shape.ground, *(ends for _, ends in shape.struts)])
    x, y, _ = proj_transform(*every.T, ax.get_proj())
    seen = ax.transData.transform(np.column_stack([x, y]))
    size = ax.figure.get_size_inches() * ax.figure.dpi
    assert np.all(seen > 0.0)
    assert np.all(seen < size)
    assert np.any(np.ptp(seen, axis=0) > 0.5 * size)
    assert any(isinstance(a, Poly3DCollection) and a.get_gid() == "ground" for a in ax.collections)


def test_figure_that_turns_has_the_same_sag(solution):
    pytest.importorskip("plotly")
    figure = solution.view_shape(unit="in", exaggeration=10)
    panel = next(trace for trace in figure.data if trace.name == "panel")
    x, y, z = (0.0254 * np.asarray(panel[c], dtype=float) for c in "xyz")
    sag = 0.0254 * np.asarray(panel.intensity, dtype=float)
    assert np.allclose(sag, solution.sag_at(x, y), atol=1e-9)
    assert np.allclose(z, -10.0 * sag, atol=1e-9)
    levels = style.contour_levels(solution.sag.values / 0.0254)
    assert (panel.cmin, panel.cmax) == (levels[0], levels[-1])
    assert figure.layout.scene.aspectmode == "data"
    assert "10 times as large" in figure.layout.title.text
    assert {"tube", "strut", "panel"} <= {trace.name for trace in figure.data}


def test_page_needs_no_network(solution, tmp_path):
    """Nothing is fetched: no script, style or image from elsewhere."""
    pytest.importorskip("plotly")
    page = solution.to_shape_html(tmp_path / "shape.html")
    text = page.read_text(encoding="utf-8")
    assert text.count("<html>") == 1
    assert not re.search(r"<(script|link|img)[^>]*(src|href)=", text)
    assert "Bent shape in load case: lean" in text
    assert [path.name for path in tmp_path.iterdir()] == ["shape.html"]


def test_names_are_no_markup(tmp_path):
    pytest.importorskip("plotly")
    bad = sf.solve(tiny_panel(name="<script>x</script> & co"), "lean")
    assert "<script>x" not in bad.view_shape().layout.title.text


def test_missing_extra_names_the_mend(solution, monkeypatch):
    known = builtins.__import__

    def without(name, *args, **kwargs):
        if name.startswith("plotly"):
            raise ImportError(name)
        return known(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(sf.MissingExtraError, match=r"splitterfem\[view3d\]"):
        solution.view_shape()


@pytest.mark.parametrize("factor", [0.0, -3.0, float("nan"), float("inf")])
def test_factor_must_be_above_zero(solution, factor):
    with pytest.raises(sf.DesignError, match="above 0"):
        solution.plot_shape(exaggeration=factor)
