"""Designs side by side: identical ones, meshed finer, changed in a known way, with other outlines and units."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from matplotlib.contour import ContourSet
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.analysis.measures import measured
from splitterfem.cli import main
from splitterfem.output.comparediff import difference

CHANGES = [
    "largest sag", "mean sag", "least gap to the ground", "downforce", "largest force on a support",
    "largest utilisation", "mass of panel and ribs", "cost as far as known",
]  # fmt: skip


@pytest.fixture(scope="module")
def tiny() -> sf.Splitter:
    return tiny_panel()


@pytest.fixture(scope="module")
def thicker(tiny) -> sf.Splitter:
    return tiny.with_("panel.sheet.thickness", "12 mm")


@pytest.fixture(scope="module")
def changed(tiny, thicker) -> sf.Comparison:
    return sf.compare([tiny, thicker], "air")


def fills(ax):
    """Filled contours of each picture in axes that hold several, in order, without colour bars."""
    return [c for inner in ax.child_axes for c in inner.findobj(ContourSet) if c.filled]


def written(ax, gid):
    return [text.get_text() for text in ax.findobj() if text.get_gid() == gid]


def test_a_design_differs_from_itself_by_nothing(tiny):
    found = sf.compare([tiny, tiny], "lean")
    assert found.names == ("before", "after")
    assert (found.table["change"] == 0.0).all()
    assert (found.table["change_percent"] == 0.0).all()
    assert not found.notes
    ax = found.plot()
    assert written(ax, "remark")[-1] == "no difference to speak of"
    assert len(fills(ax)) == 2
    assert all(not row[-1].strip("0.") for row in found.rows()[1:])


def test_figures_are_those_of_the_solutions(changed):
    """Read off the solutions themselves; columns of change are after less before."""
    before, after = changed.solutions
    table = changed.table
    assert list(table.index) == CHANGES
    pairs = {
        "largest sag": (1e3 * before.max_sag, 1e3 * after.max_sag),
        "mean sag": tuple(1e3 * measured(one, "mean sag").value for one in (before, after)),
        "least gap to the ground": (1e3 * before.min_clearance, 1e3 * after.min_clearance),
        "downforce": (before.downforce, after.downforce),
        "mass of panel and ribs": (before.mass, after.mass),
    }
    for name, (first, second) in pairs.items():
        row = table.loc[name]
        assert row["before"] == pytest.approx(first)
        assert row["after"] == pytest.approx(second)
        assert row["change"] == pytest.approx(second - first, abs=1e-12)
        if first:
            assert row["change_percent"] == pytest.approx(100.0 * (second - first) / abs(first), abs=1e-9)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_rows_add_up_as_they_are_shown(changed, units):
    for name, first, second, change in changed.rows(units)[1:]:
        assert float(change) == pytest.approx(float(second) - float(first), abs=1e-9), name


def test_a_thicker_board_weighs_what_its_volume_does(changed, tiny, thicker):
    """Density times area times the growth in thickness; the air on the same plan is the same."""
    density = tiny.panel.sheet.resolved.density
    grown = density * 0.4 * 0.6 * 3e-3
    assert changed.table.loc["mass of panel and ribs", "change"] == pytest.approx(grown, rel=1e-9)
    assert changed.table.loc["downforce", "change"] == 0.0
    assert changed.table.loc["largest sag", "change"] < 0.0


def test_the_same_design_meshed_finer_differs_by_the_error_of_its_mesh(tiny):
    finer = tiny.with_("mesh.size", "60 mm")
    found = sf.compare([tiny, finer], "lean", names=["coarse", "fine"])
    assert (
        found.solutions[1].model.panel.space.n_elements > 2 * found.solutions[0].model.panel.space.n_elements
    )
    assert abs(found.table.loc["largest sag", "change_percent"]) < 6.0
    assert found.table.loc["mass of panel and ribs", "change"] == pytest.approx(0.0, abs=1e-9)
    field, both = difference(*found.solutions)
    assert np.abs(field.values[both]).max() < 0.1 * found.solutions[0].max_sag
    assert both.mean() > 0.999
    # the same either way round, with the other sign
    other, _ = difference(*found.solutions[::-1])
    assert np.allclose(other.values, -field.values)


def test_differences_are_those_of_the_sags(changed):
    before, after = changed.solutions
    field, both = difference(before, after)
    x, y = field.x[both][::7], field.y[both][::7]
    assert np.allclose(field.values[both][::7], after.sag_at(x, y) - before.sag_at(x, y), atol=1e-9)


def test_all_sags_have_the_same_colours_and_levels(changed):
    ax = changed.plot()
    first, second, change = fills(ax)
    assert np.array_equal(first.levels, second.levels)
    assert first.get_clim() == second.get_clim()
    colours = first.cmap(np.linspace(0.0, 1.0, 32))
    assert np.array_equal(colours, second.cmap(np.linspace(0.0, 1.0, 32)))
    most = max(1e3 * solution.max_sag for solution in changed.solutions)
    assert first.levels[0] <= 1e3 * min(s.sag.values.min() for s in changed.solutions)
    assert most <= first.levels[-1]
    low, high = change.get_clim()
    assert low == pytest.approx(-high)  # nothing is white
    frames = [(inner.get_xlim(), inner.get_ylim()) for inner in ax.child_axes[:2]]
    assert frames[0] == frames[1]
    assert all(inner.get_aspect() == 1.0 for inner in ax.child_axes[:3])


def test_ribs_supports_and_worst_points_are_drawn_in_each(changed):
    ax = changed.plot()
    for inner, solution in zip(ax.child_axes[:2], changed.solutions, strict=True):
        assert written(inner, "call-out") == [f"{1e3 * solution.max_sag:.1f} mm"]
        gids = {artist.get_gid() for artist in inner.get_children()}
        assert {"rib tube", "bolt bolt 1", "outline"} <= gids
    assert {"rib tube", "first outline"} <= {a.get_gid() for a in ax.child_axes[2].get_children()}


def test_inches_and_pounds(changed):
    """Exactly 25.4 mm to the inch and 0.45359237 kg to the pound (international yard and pound, 1959)."""
    us, metric = changed.table_in("us"), changed.table
    assert us.loc["largest sag", "unit"] == "in"
    assert us.loc["largest sag", "before"] == pytest.approx(metric.loc["largest sag", "before"] / 25.4)
    mass = "mass of panel and ribs"
    assert us.loc[mass, "change"] == pytest.approx(metric.loc[mass, "change"] / 0.45359237)
    ax = changed.plot(unit="in")
    first = fills(ax)[0]
    assert first.levels[-1] >= changed.solutions[0].max_sag / 0.0254 > first.levels[-2]
    assert written(ax.child_axes[0], "call-out") == [f"{changed.solutions[0].max_sag / 0.0254:.3f} in"]
    with pytest.raises(sf.UnitError):
        changed.plot(unit="cm")


def test_other_outlines_are_compared_where_both_panels_are(tiny):
    """A panel that reaches 100 mm less forward: what lies beyond it has no difference."""
    edges = [{"to": ("0.3 m", "-0.3 m")}, {"to": ("0.3 m", "0.3 m")}, {"to": ("0 m", "0.3 m")}]
    outline = {"start": ("0 m", "-0.3 m"), "edges": edges}
    panel = {"outline": outline, "sheet": tiny.panel.sheet}
    bolts = [bolt.with_(at=("260 mm", bolt.at[1])) if bolt.at[0] > 0.2 else bolt for bolt in tiny.bolts]
    shorter = tiny.with_(panel=panel, bolts=bolts, cases=tiny.cases[1:])
    found = sf.compare([tiny, shorter], "air", names=["long", "short"])
    field, both = difference(*found.solutions)
    assert not both[field.x > 0.303].any()
    assert both[field.x < 0.299].all()
    ax = found.plot()
    change = fills(ax)[2]
    clip = change.get_clip_path()
    assert clip is not None
    corners = shapely.Polygon(clip.get_fully_transformed_path().vertices)
    end = ax.child_axes[2].transData.transform((0.0, 300.0))[1]
    assert corners.bounds[3] == pytest.approx(end, abs=0.5)


def test_several_designs(tiny, thicker):
    found = sf.compare([tiny, thicker, tiny.without("tube")], "lean", names=["a", "b", "c"])
    assert list(found.table.columns) == [
        "unit", "a", "b", "c", "change of b", "change_percent of b", "change of c", "change_percent of c",
    ]  # fmt: skip
    assert found.table.loc["mass of panel and ribs", "change of c"] == pytest.approx(
        -float(found.solutions[0].ribs["mass_kg"].sum())
    )
    ax = found.plot()
    assert written(ax, "name") == ["a", "b", "c", "b less a", "c less a"]
    assert len({tuple(fill.levels) for fill in fills(ax)[:3]}) == 1
    assert len({tuple(fill.levels) for fill in fills(ax)[3:]}) == 1


def test_solutions_are_taken_as_they_are(tiny):
    solution = sf.solve(tiny, "lean")
    found = sf.compare([solution, tiny], "lean")
    assert found.solutions[0] is solution
    assert sf.compare([solution, solution]).case == "lean"
    other = sf.compare([solution, sf.solve(tiny, "air")])
    assert other.case == "lean / air"
    assert "load cases differ" in other.notes[0]


def test_cases_and_cars_that_differ_are_noted(tiny):
    faster = tiny.with_("cases.air.speed", "160 km/h").with_("car.ride_height", "50 mm")
    notes = sf.compare([tiny, faster], "air").notes
    assert "load case of 'after' is not the same" in notes[0]
    assert "stands on another car" in notes[1]


def test_a_case_that_one_lacks_names_it(tiny):
    without = tiny.with_("cases", tiny.cases[:1])
    with pytest.raises(sf.DesignError, match=r"'after' has no load case 'air'; .*lean"):
        sf.compare([tiny, without], "air")
    with pytest.raises(sf.DesignError, match=r"Say in which load case.*all have: lean"):
        sf.compare([tiny, without])


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["one"], "2 designs and 1 name "),
        (["one", "one"], "Two designs are called 'one'"),
        (["unit", "two"], "cannot be called 'unit'"),
    ],
)
def test_names_that_do_not_fit(tiny, names, said):
    with pytest.raises(sf.DesignError, match=said):
        sf.compare([tiny, tiny], "lean", names=names)


def test_what_cannot_be_compared(tiny):
    with pytest.raises(sf.DesignError, match="at least two designs, and there is 1"):
        sf.compare([tiny], "lean")
    with pytest.raises(sf.DesignError, match=r"'demo\.toml' cannot be compared"):
        sf.compare(["demo.toml", "demo.toml"], "lean")


def test_words_for_terminal_and_notebook(changed):
    said = changed.text("us")
    assert "largest sag, in" in said
    assert "Used most in 'after'" in said
    assert repr(changed).startswith("Load case: air")
    assert "<td>largest sag, mm</td>" in changed._repr_html_()
    json.dumps(changed.summary(), allow_nan=False)


def test_command(tiny, thicker, tmp_path, capsys):
    files = []
    for name, design in (("before", tiny), ("after", thicker)):
        files.append(str(tmp_path / f"{name}.toml"))
        sf.save(design, files[-1])
    out = tmp_path / "out"
    assert main(["compare", *files, "--case", "air", "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["designs"] == ["before", "after"]
    assert told["figures"][0]["figure"] == "largest sag"
    assert told["figures"][0]["change"] == pytest.approx(
        sf.compare([tiny, thicker], "air").table["change"].iloc[0]
    )
    assert sorted(path.name for path in out.iterdir()) == ["comparison.csv", "comparison.png"]
    assert main(["compare", *files, "--name", "9 mm", "--name", "12 mm", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert "9 mm: " in said
    assert "Load case: lean" in said  # the first that both have
    assert main(["compare", files[0]]) == 1
    assert "at least two designs" in capsys.readouterr().err
    assert main(["compare", *files, "--case", "cornering"]) == 1
    assert "'before' has no load case 'cornering'" in capsys.readouterr().err
