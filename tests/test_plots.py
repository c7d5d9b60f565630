"""Pictures: what they show, measured on the artists that matplotlib draws."""

from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
import shapely
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure

import splitterfem as sf
from splitterfem.analysis.fields import Field
from splitterfem.errors import FileError, UnitError
from splitterfem.output import style
from splitterfem.output.colours import map_of
from splitterfem.output.contours import contour_lines, joined
from splitterfem.output.planparts import rib_area, towards_head
from splitterfem.output.plots import plot_clearance, plot_design, plot_sag, save_picture
from splitterfem.output.range_words import with_doubts


def artist(ax, gid):
    found = [a for a in ax.findobj() if a.get_gid() == gid]
    assert found, gid
    return found[0]


def on_screen(ax, x, y, per=1e3):
    """Where a point of the car, in m, comes out: (rightward, upward) in pixels."""
    return ax.transData.transform((y * per, x * per))


@pytest.fixture(scope="module")
def sag_axes(demo_solution):
    return plot_sag(demo_solution)


def test_front_is_up_and_left_is_left(sag_axes):
    sag_axes.figure.draw_without_rendering()
    rear, front = on_screen(sag_axes, 0.1, 0.0), on_screen(sag_axes, 0.6, 0.0)
    left, right = on_screen(sag_axes, 0.3, 0.5), on_screen(sag_axes, 0.3, -0.5)
    assert front[1] > rear[1]
    assert front[0] == pytest.approx(rear[0])
    assert left[0] < right[0]
    assert left[1] == pytest.approx(right[1])
    # equal scales: 0.5 m forward is as long on the page as 0.5 m sideways
    assert front[1] - rear[1] == pytest.approx(0.5 * (right[0] - left[0]), rel=1e-6)


def test_direction_of_travel_points_the_way_that_x_grows(sag_axes):
    arrow = artist(sag_axes, "direction of travel")
    (_, tip), (_, tail) = arrow.xy, arrow.get_position()
    assert tip > tail
    assert sag_axes.get_ylim()[0] < sag_axes.get_ylim()[1]
    assert any(text.get_text() == "direction of travel" for text in sag_axes.texts)


def test_axes_and_bar_carry_units(sag_axes):
    assert sag_axes.get_xlabel().endswith("(mm)")
    assert sag_axes.get_ylabel().endswith("(mm)")
    bar = next(ax for ax in sag_axes.figure.axes if ax is not sag_axes)
    assert bar.get_ylabel() == "sag, down (mm)"


def test_worst_point_is_called_out(sag_axes, demo_solution):
    call_out = artist(sag_axes, "call-out")
    assert call_out.get_text() == f"{1e3 * demo_solution.max_sag:.1f} mm"
    x, y = demo_solution.max_sag_at
    assert np.allclose(call_out.xy, (1e3 * y, 1e3 * x))
    mark = artist(sag_axes, "worst point")
    assert np.allclose(mark.get_xydata(), [(1e3 * y, 1e3 * x)])
    assert demo_solution.sag_at(x, y) == pytest.approx(demo_solution.max_sag)


def test_title_names_splitter_case_and_invention(sag_axes, demo_solution):
    title = sag_axes.get_title(loc="left")
    assert demo_solution.model.design.name in title
    assert demo_solution.case.name in title
    assert "invented data" in title


def test_contour_lines_lie_where_the_sag_is_theirs(sag_axes, demo_solution):
    lines = next(c for c in sag_axes.findobj(ContourSet) if not c.filled)
    checked = 0
    for level, segments in zip(lines.levels, lines.allsegs, strict=True):
        for points in segments:
            inside = demo_solution.sag_at(points[:, 1] / 1e3, points[:, 0] / 1e3)
            inside = 1e3 * inside[np.isfinite(inside)]
            # linear between samples of the quadratic field
            assert np.abs(inside - level).max(initial=0.0) < 0.02
            checked += len(inside)
    assert checked > 300


def test_contours_are_labelled_with_their_levels(sag_axes):
    lines = next(c for c in sag_axes.findobj(ContourSet) if not c.filled)
    labels = [text for text in sag_axes.texts if text.get_gid() == "contour label"]
    assert len(labels) >= 4
    for label in labels:
        level = int(np.argmin(np.abs(lines.levels - float(label.get_text()))))
        assert lines.levels[level] == pytest.approx(float(label.get_text()), abs=1e-9)
        own = shapely.MultiLineString([points for points in lines.allsegs[level] if len(points) > 1])
        assert own.distance(shapely.Point(label.get_position())) < 1e-6


def test_contour_labels_keep_clear_of_edges_ribs_and_one_another(sag_axes, demo_solution):
    panel = demo_solution.model.design.panel.polygon(1e-4)
    ribs = [
        shapely.Polygon(rib_area(half)) for rib in demo_solution.model.design.ribs for half in rib.sides()
    ]
    at = [
        shapely.Point(text.get_position()[1] / 1e3, text.get_position()[0] / 1e3)
        for text in sag_axes.texts
        if text.get_gid() == "contour label"
    ]
    for number, point in enumerate(at):
        assert panel.contains(point)
        assert panel.boundary.distance(point) > 5e-3
        assert all(rib.distance(point) > 5e-3 for rib in ribs)
        assert all(point.distance(other) > 10e-3 for other in at[:number])


def test_contour_labels_run_along_their_lines():
    """A line that rises to the left at 45 degrees: x of the car over y, which grows to the left."""
    from splitterfem.output.labels import placed_labels

    (label,) = placed_labels(
        [("10", np.array([[0.0, 0.0], [100.0, 100.0]]))], shapely.Point(500.0, 500.0), size=8.0, per_point=1.0
    )
    assert (label.x, label.y) == pytest.approx((50.0, 50.0), abs=8.0)
    assert label.angle == pytest.approx(np.pi / 4)


def test_short_lines_stay_without_labels():
    from splitterfem.output.labels import placed_labels

    line = np.array([[0.0, 0.0], [8.0, 0.0]])
    assert placed_labels([("10", line)], shapely.Point(500.0, 500.0), size=8.0, per_point=1.0) == []


def test_pictures_can_share_their_colours(demo_solutions):
    first, second = (
        next(c for c in plot_sag(s, step=1.0, span=(-1.0, 8.0)).findobj(ContourSet) if c.filled)
        for s in (demo_solutions[0], demo_solutions[2])
    )
    assert np.allclose(first.levels, np.arange(-1.0, 8.5))
    assert np.array_equal(first.levels, second.levels)


@pytest.mark.parametrize("height", [1.5, 2.5, 5.0])
def test_bar_has_as_many_numbers_as_fit_and_zero_among_them(demo_solution, height):
    figure = Figure(figsize=(6.0, height), layout="constrained")
    plot_sag(demo_solution, figure.add_subplot(), step=0.5, span=(-1.0, 7.0), legend=False, frame=False)
    figure.draw_without_rendering()
    ticks = figure.axes[1].get_yticks()
    low, high = figure.axes[1].get_ylim()
    assert any(abs(tick) < 1e-9 for tick in ticks if low <= tick <= high)
    shown = [text for text in figure.axes[1].get_yticklabels() if text.get_text()]
    boxes = sorted((text.get_window_extent() for text in shown), key=lambda box: box.y0)
    assert len(boxes) >= 2
    assert all(upper.y0 >= lower.y1 for lower, upper in itertools.pairwise(boxes))


@pytest.mark.parametrize("span", [(1.0,), (0.0, float("nan"))])
def test_span_has_two_values(demo_solution, span):
    with pytest.raises(UnitError, match="least and its greatest"):
        plot_sag(demo_solution, span=span)


def test_notebooks_show_a_picture(sag_axes, demo_solution):
    """Jupyter asks objects for ``_repr_png_``; the signature is that of the PNG specification (ISO 15948)."""
    assert sag_axes._repr_png_().startswith(b"\x89PNG\r\n\x1a\n")
    assert sf.plot_design(demo_solution.model.design)._repr_png_().startswith(b"\x89PNG")


def test_contour_fill_covers_the_panel_without_its_openings(sag_axes, demo_solution):
    filled = next(c for c in sag_axes.findobj(ContourSet) if c.filled)
    area = sum(
        shapely.union_all([shapely.Polygon(p) for p in [ring]]).area * sign
        for path in filled.get_paths()
        for ring in path.to_polygons()
        for sign in [np.sign(shapely.LinearRing(ring).is_ccw - 0.5)]
    )
    assert abs(area) / 1e6 == pytest.approx(demo_solution.model.mesh.area, rel=1e-6)


def test_outline_is_the_design(sag_axes, demo_solution):
    drawn = shapely.Polygon(artist(sag_axes, "outline").get_xy()[:, ::-1] / 1e3)
    wanted = demo_solution.model.design.panel.outline.polygon(1e-5)
    assert drawn.symmetric_difference(wanted).area < 1e-3 * wanted.area
    for name in ("tunnel left", "tunnel right"):
        hole = artist(sag_axes, f"cut-out {name}")
        assert hole.get_hatch()
        side = np.sign(hole.get_xy()[:, 0].mean())
        assert side == (1 if name.endswith("left") else -1)


def test_ribs_are_as_wide_as_their_feet(sag_axes, demo_solution):
    drawn = shapely.Polygon(artist(sag_axes, "rib cross tube").get_xy())
    # 1280 mm long and 25.4 mm wide in the design file
    assert drawn.area == pytest.approx(1280.0 * 25.4, rel=1e-6)
    x0, y0, x1, y1 = drawn.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((1280.0, 25.4))


def test_strut_line_points_at_its_head(sag_axes, demo_solution):
    strut = next(
        s for p in demo_solution.model.design.struts for s in p.sides() if s.name == "outer strut left"
    )
    line = artist(sag_axes, "strut line outer strut left").get_xydata()
    step = line[1] - line[0]
    wanted = 1e3 * (np.array(strut.head[:2]) - np.array(strut.foot))[::-1]
    assert np.cross([*step, 0], [*wanted, 0])[2] == pytest.approx(0.0, abs=1e-6)
    assert step @ wanted > 0
    assert np.linalg.norm(step) < np.linalg.norm(wanted) + 1e-9


def test_strut_straight_up_has_no_line():
    strut = sf.Strut(name="s", foot=(0.5, 0.1), head=(0.5, 0.1, 0.3), diameter=0.008)
    assert towards_head(strut) == (0.5, 0.1)


def test_supports_are_told_apart_in_the_legend(sag_axes, demo_solution):
    words = [text.get_text() for text in sag_axes.get_legend().get_texts()]
    parts = ["rib", "strut, line towards its head", "pin", "rear pocket", "cut-out"]
    assert words == [*parts, "rests on lower lip"]
    marks = {artist(sag_axes, gid).get_marker() for gid in ("strut inner strut left", "pin pin left")}
    assert len(marks) == 2


def test_scale_bar_has_the_length_it_says(sag_axes):
    bar = artist(sag_axes, "scale bar").get_xydata()
    length = abs(bar[1, 0] - bar[0, 0])
    assert f"{length:g} mm" in [text.get_text() for text in sag_axes.texts]


def test_inches(demo_solution):
    ax = plot_sag(demo_solution, unit="in")
    call_out = artist(ax, "call-out")
    value, unit = call_out.get_text().split()
    assert unit == "in"
    assert float(value) == pytest.approx(demo_solution.max_sag / 0.0254, abs=5e-4)
    assert ax.get_xlabel().endswith("(in)")
    left, right = ax.get_xlim()
    assert left - right == pytest.approx((1.6 + 2 * 0.16) / 0.0254, rel=1e-3)


def test_clearance_picture(demo_solution):
    ax = plot_clearance(demo_solution)
    assert artist(ax, "call-out").get_text() == f"{1e3 * demo_solution.min_clearance:.1f} mm"
    bar = next(other for other in ax.figure.axes if other is not ax)
    assert bar.get_ylabel() == "gap to the ground (mm)"


def test_clearance_says_which_rib_touches(plate):
    """12 mm of gap under the panel less a rib of 15 mm under it is 3 mm into the ground, where that is left out."""
    force = {"at": (0.2, 0.2), "force": (0, 0, -1e-9), "kind": "point"}
    case = sf.LoadCase(name="weightless", gravity=False, ground=False, forces=[force])
    solution = sf.solve(plate, case)
    ax = plot_clearance(solution)
    assert artist(ax, "call-out").get_text() == "-3.0 mm\nunder keel\nbelow the ground"
    on_it = plot_clearance(sf.solve(plate, case.with_(ground=True)), legend=False)
    assert artist(on_it, "call-out").get_text() == "0.0 mm\nunder keel\nlies on the ground"
    assert "rib under the panel" in [text.get_text() for text in ax.get_legend().get_texts()]
    assert artist(ax, "force 1").get_xy()[:, 0].mean() == pytest.approx(200.0, abs=2.0)


@pytest.fixture(scope="module")
def plate():
    """A rectangle on four bolts with a rib under it, 12 mm above the ground."""
    return sf.Splitter(
        name=r"$\frac{ #x* [tall] <b>",
        panel={
            "outline": sf.Outline.rectangle(0.0, 0.4, -0.3, 0.3),
            "sheet": {"material": "6061-T6 sheet", "thickness": 0.006},
        },
        ribs=[
            {
                "name": "keel",
                "points": [(0.1, 0.0), (0.3, 0.0)],
                "section": {"shape": "flat", "width": 0.02, "height": 0.015},
                "material": "mild steel",
                "side": "below",
            }
        ],
        bolts=[
            {"name": "front", "at": (0.35, 0.25), "mirror": True},
            {"name": "rear", "at": (0.05, 0.25), "mirror": True},
        ],
        car={"ride_height": 0.012},
        mesh={"size": 0.08},
    )


def test_names_are_text_and_not_formulas(plate, tmp_path):
    ax = plot_design(plate)
    assert ax.get_title(loc="left").splitlines()[0] == plate.name
    assert save_picture(ax, tmp_path / "design.png").stat().st_size > 10_000


def test_design_picture_shows_sizes_and_names(demo_solution):
    ax = plot_design(demo_solution.model.design)
    said = {text.get_text() for text in ax.texts}
    assert {"1600 mm", "630 mm", "inner strut", "cross tube", "pin right", "pocket"} <= said
    assert not ax.findobj(ContourSet)


def test_draws_on_axes_given(demo_solution):
    figure = Figure()
    mine = figure.add_subplot()
    assert plot_sag(demo_solution, mine, title="", legend=False, frame=False) is mine
    assert mine.get_title(loc="left") == ""
    assert mine.get_legend() is None
    assert not mine.axison


def test_pictures_leave_pyplot_alone():
    code = (
        "import sys, splitterfem as sf; from splitterfem.output.plots import plot_design; "
        "plot_design(sf.demo()); sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_step_between_lines_can_be_chosen(demo_solution):
    ax = plot_sag(demo_solution, step=0.5)
    lines = next(c for c in ax.findobj(ContourSet) if not c.filled)
    assert np.allclose(np.diff(lines.levels), 0.5)


@pytest.mark.parametrize("step", [0.0, -1.0, float("nan")])
def test_step_must_be_positive(demo_solution, step):
    with pytest.raises(UnitError, match="above zero"):
        plot_sag(demo_solution, step=step)


def test_step_must_not_be_tiny(demo_solution):
    with pytest.raises(UnitError, match="wider one"):
        plot_sag(demo_solution, step=1e-4)


def test_unknown_unit(demo_solution):
    with pytest.raises(UnitError, match=r"'cm'.*known: in, mm"):
        plot_sag(demo_solution, unit="cm")


def test_unknown_kind_of_picture(sag_axes, tmp_path):
    with pytest.raises(FileError, match=r"end in \.png"):
        save_picture(sag_axes, tmp_path / "sag.gif")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", [style.SAG_COLOURS, style.CLEARANCE_COLOURS])
def test_colours_print_in_grey(name):
    """Luma of ITU-R BT.709 changes one way only along the map, so that a grey print keeps the order."""
    luma = map_of(name)(np.linspace(0, 1, 64))[:, :3] @ [0.2126, 0.7152, 0.0722]
    steps = np.diff(luma)
    assert np.all(steps < 0) if name == style.SAG_COLOURS else np.all(steps > 0)


@pytest.mark.parametrize(
    ("low", "high"), [(0.0, 5.7), (-0.3, 1.9), (68.8, 75.0), (1e-7, 3e-6), (2.0, 2.0), (-7.0, -1.0)]
)
def test_levels_enclose_the_values_in_round_steps(low, high):
    levels = style.contour_levels(np.array([low, high]))
    step = levels[1] - levels[0]
    assert levels[0] <= low + 1e-9 * step
    assert levels[-1] >= high - 1e-9 * step
    assert 2 <= len(levels) <= 18
    assert float(f"{step:.1e}".split("e")[0]) in (1.0, 2.0, 5.0)


def test_samples_of_neighbours_are_joined(demo_solution):
    field = demo_solution.sag
    whole = joined(field)
    # Euler: a triangulation of a plane region with h holes has V - E + F = 1 - h; here h = 2
    edges = np.sort(whole.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    euler = len(whole.x) - len(np.unique(edges, axis=0)) + len(whole.triangles)
    assert euler == 1 - 2
    assert whole.highest()[0] == pytest.approx(field.highest()[0])


def test_contour_lines_of_a_cone_are_circles():
    """Level lines of the distance from a point are circles about it."""
    n = 81
    y, x = np.meshgrid(np.linspace(-1, 1, n), np.linspace(-1, 1, n))
    i = np.arange(n * n).reshape(n, n)
    a, b, c, d = (i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel(), i[:-1, 1:].ravel())
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    field = Field(x.ravel(), y.ravel(), triangles, np.hypot(x, y).ravel())
    lines = list(contour_lines(field, np.array([0.25, 0.5])))
    assert [level for level, _ in lines] == [0.25, 0.5]
    for level, points in lines:
        assert np.allclose(points[0], points[-1])
        assert np.hypot(*points.T) == pytest.approx(level, abs=2e-3)


def test_rib_area_follows_bends(plate):
    rib = sf.Rib(
        name="bent",
        points=[(0.0, 0.0), (0.1, 0.0), (0.1, 0.1)],
        section={"shape": "flat", "width": 0.02, "height": 0.01},
        material="mild steel",
    )
    # two strips of 0.1 m and a mitred corner: the inner square is shared, the outer one added
    assert shapely.Polygon(rib_area(rib)).area == pytest.approx(2 * 0.1 * 0.02, rel=1e-9)


def test_titles_and_tables_say_what_is_to_be_doubted(demo_solution, tmp_path):
    """An estimated pressure, and a linear solution whose panel would stretch (more than 5 % of the load)."""
    splitter = demo_solution.model.design
    estimate = sf.solve(demo_solution.model, "estimate from the gap, 210 km/h")
    assert "pressure estimated by the gap law" in " ".join(title_of(estimate.plot_sag()).split())
    assert title_of(demo_solution.plot_sag()).endswith("Sag in load case: straight, 210 km/h; invented data")
    case = splitter.case("straight, 210 km/h").with_(speed="700 km/h")
    fast = sf.solve(demo_solution.model, case)
    assert not fast.linear_range.within
    for axes in (fast.plot_clearance(), fast.plot_stress(), fast.plot_contacts(), fast.plot_shape()):
        assert "outside the range of a linear solution" in " ".join(title_of(axes).split())
    for what in ("sag", "contours", "supports", "utilisation"):
        made_by = pd.read_csv(fast.to_csv(tmp_path / "table.csv", what=what))["made_by"].iloc[0]
        assert made_by.endswith("; outside the range of a linear solution")
    sure = pd.read_csv(demo_solution.to_csv(tmp_path / "table.csv"))["made_by"].iloc[0]
    assert ";" not in sure
    both = with_doubts("made", [demo_solution, fast])
    assert both == "made; load case 'straight, 210 km/h' outside the range of a linear solution"
    for place in (fast.to_xdmf(tmp_path / "fields.xdmf"), fast.to_dxf(tmp_path / "lines.dxf")):
        assert b"outside the range of a linear solution" in place.read_bytes()


def title_of(axes):
    return axes.get_title(loc="left")
