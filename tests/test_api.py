"""What the face of the library shows of itself: names, versions, and solutions as text."""

from __future__ import annotations

import re
import tomllib
from html.parser import HTMLParser
from importlib import metadata
from pathlib import Path

import pytest

import splitterfem as sf


def test_every_public_name_is_there():
    for name in sf.__all__:
        assert getattr(sf, name) is not None
    assert set(sf.__all__) <= set(dir(sf))


def test_unknown_name_is_answered_with_the_nearest():
    with pytest.raises(AttributeError, match=r"no 'plot_desing'; did you mean 'plot_design'"):
        _ = sf.plot_desing


def test_version_is_that_of_the_installed_package():
    assert metadata.version("splitterfem") == sf.__version__
    assert re.fullmatch(r"\d+\.\d+\.\d+", sf.__version__)


def test_version_is_written_once():
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8"))["project"]
    assert "version" not in project
    assert project["dynamic"] == ["version"]


def test_solution_says_on_one_line_what_it_is(demo_solution):
    text = repr(demo_solution)
    assert "\n" not in text
    assert len(text) < 300
    assert demo_solution.case.name in text
    assert f"sag {1e3 * demo_solution.max_sag:.1f} mm" in text
    assert f"{demo_solution.downforce:.0f} N" in text


def test_solution_in_a_notebook_is_a_table(demo_solution):
    cells: list[str] = []

    class Reader(HTMLParser):
        def handle_data(self, data):
            cells.append(data)

    Reader().feed(demo_solution._repr_html_())
    assert f"{1e3 * demo_solution.max_sag:.1f} mm" in cells
    assert f"{1e3 * demo_solution.min_clearance:.1f} mm" in cells
    assert "(invented data)" in cells[0]


def test_names_do_not_become_markup(coarse_file):
    splitter = sf.load(coarse_file).with_(name="<b>bold</b> & co")
    shown = sf.solve(splitter, "push on the lip")._repr_html_()
    assert "<b>" not in shown
    assert "&lt;b&gt;bold&lt;/b&gt; &amp; co" in shown
    assert "downforce" not in shown


def parted(splitter, *names, name="parted"):
    """The push on the lip with the joints of some ribs lost."""
    return splitter.case("push on the lip").with_(name=name, unbonded=names)


def test_a_case_with_lost_joints_survives_the_file(coarse_file):
    splitter = sf.load(coarse_file)
    splitter = splitter.with_(cases=[*splitter.cases, parted(splitter, "cross tube", "angle left")])
    sf.save(splitter, coarse_file)
    table = tomllib.loads(coarse_file.read_text("utf-8"))["cases"][-1]
    assert table["unbonded"] == ["cross tube", "angle left"]
    again = sf.load(coarse_file)
    assert again == splitter
    assert again.case("parted").unbonded == ("cross tube", "angle left")
    assert again.case("push on the lip").unbonded == ()
    field = sf.json_schema()["$defs"]["LoadCase"]["properties"]["unbonded"]
    assert (field["type"], field["items"]["type"]) == ("array", "string")


def test_a_pair_in_a_case_means_both_halves(coarse_file):
    splitter = sf.load(coarse_file)
    pair = sf.solve(splitter, parted(splitter, "angle"))
    halves = sf.solve(splitter, parted(splitter, "angle left", "angle right"))
    assert pair.model.unbonded == {"angle left", "angle right"}
    assert halves.model.structure is pair.model.structure
    assert list(pair.joints["rib"]) == ["cross tube"]
    left = sf.solve(splitter, parted(splitter, "angle left"))
    assert left.model.unbonded == {"angle left"}
    assert sf.solve(splitter, "push on the lip").max_sag < left.max_sag < pair.max_sag
    # The name goes on meaning what is left of the pair.
    case = splitter.with_(cases=[parted(splitter, "angle")])
    assert sf.solve(case.expanded(), "parted").max_sag == pytest.approx(pair.max_sag, rel=1e-8)
    assert sf.solve(case.without("angle right"), "parted").model.unbonded == {"angle left"}


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("cros tube", "did you mean 'cross tube'?"),
        ("angle lefd", "did you mean 'angle left' or 'angle'?"),
        ("inner strut", "known: angle, angle left, angle right, cross tube"),
    ],
)
def test_a_case_that_loses_a_rib_that_is_not_there(coarse_file, name, mend):
    splitter = sf.load(coarse_file)
    case = parted(splitter, name)
    with pytest.raises(sf.DesignError) as caught:
        splitter.with_(cases=[case])
    assert str(caught.value) == f"cases.parted.unbonded: there is no rib '{name}'; {mend}"
    with pytest.raises(sf.DesignError) as caught:
        sf.solve(splitter, case)
    assert str(caught.value) == f"Load case 'parted', unbonded: there is no rib '{name}'; {mend}"
    bare = splitter.with_(ribs=[])
    with pytest.raises(
        sf.DesignError, match="no rib 'angle', and no rib at all in this splitter; leave it out"
    ):
        bare.with_(cases=[parted(splitter, "angle")])


def test_lost_joints_are_written_as_a_list(coarse_file):
    with pytest.raises(sf.DesignError, match='unbonded: "angle" is not a list; write it in square brackets'):
        sf.LoadCase(name="parted", unbonded="angle")


def test_cases_with_and_without_joints_alternate_on_kept_matrices(coarse_file):
    splitter = sf.load(coarse_file)
    whole = sf.solve(splitter, "push on the lip")
    first = sf.solve(splitter, parted(splitter, "cross tube"))
    assert sf.build(splitter).unbonded == frozenset()
    assert sf.solve(splitter, "push on the lip").model.structure is whole.model.structure
    again = sf.solve(splitter.with_(name="same panel"), parted(splitter, "cross tube", name="again"))
    assert again.model.structure is first.model.structure
    assert again.model.design.name == "same panel"
    assert first.model.panel is whole.model.panel
    # A model that a case made for itself serves a case that loses nothing, or something else, as the first one does.
    assert sf.solve(first.model, "push on the lip").model.structure is whole.model.structure
    assert sf.solve(first.model, parted(splitter, "angle")).model.unbonded == {"angle left", "angle right"}


def test_only_the_last_few_sets_of_lost_joints_are_kept(coarse_file):
    from splitterfem.model.assembly import KEPT

    splitter = sf.load(coarse_file).with_part("angle", mirror=False)
    splitter = splitter.with_part("cross tube", points=[("730 mm", "-600 mm"), ("730 mm", "150 mm")])
    flat = {"section": {"shape": "flat", "width": "20 mm", "height": "3 mm"}, "material": "6061-T6 extrusion"}
    rows = [{"name": f"bar {i}", "points": [("700 mm", f"{i * 60} mm"), ("800 mm", f"{i * 60} mm")], **flat}
            for i in range(-KEPT - 1, 0)]  # fmt: skip
    splitter = splitter.with_(ribs=[*splitter.ribs[1:], *rows])
    model = sf.build(splitter)
    made = {row["name"]: sf.solve(model, parted(splitter, row["name"])).model.structure for row in rows}
    assert len(set(map(id, made.values()))) == KEPT + 1
    kept = [sf.solve(model, parted(splitter, name)).model.structure is made[name] for name in reversed(made)]
    assert kept == [True] * KEPT + [False]


def test_plot_design_draws_on_axes_given(coarse_file):
    from matplotlib.figure import Figure

    axes = Figure().add_subplot()
    assert sf.plot_design(sf.load(coarse_file), axes, unit="in") is axes
    assert axes.get_xlabel().endswith("(in)")
