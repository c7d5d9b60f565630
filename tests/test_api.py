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


def test_plot_design_draws_on_axes_given(coarse_file):
    from matplotlib.figure import Figure

    axes = Figure().add_subplot()
    assert sf.plot_design(sf.load(coarse_file), axes, unit="in") is axes
    assert axes.get_xlabel().endswith("(in)")
