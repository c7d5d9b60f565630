"""Scatter of finished splitters: against published indices, exact probabilities and percentiles, and rebuilt designs.

Sources: Ishigami & Homma, Proc. ISUMA '90 (1990) 398-403, with a = 7 and b = 0.1, and Saltelli et al., Global
Sensitivity Analysis: The Primer (2008), for its indices (from memory; the closed forms are evaluated here); scipy's
implementation of Sobol indices; normal and binomial distributions of the textbooks.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.errors import DesignError
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.scatter import draws_of
from splitterfem.layouts.scatter_spread import Spread, spread_of
from splitterfem.layouts.scatter_statistics import by_ranks, by_sobol, percentile, proportion
from splitterfem.layouts.ways import AtPaths

# plain arrays ---------------------------------------------------------------------------------------


def drawn(spreads, draws, scheme="ranks", seed=3):
    """Values of draws for distributions."""
    chosen = [(Parameter(f"x{i}", AtPaths((f"x{i}",)), span=s.ends), s) for i, s in enumerate(spreads)]
    return np.array(draws_of(chosen, draws, scheme, seed))


def ishigami(x, a=7.0, b=0.1):
    return np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_indices_of_a_function_whose_indices_are_published():
    d, n = 3, 4096
    x = drawn([Spread("uniform", (-np.pi, np.pi))] * d, n, "sobol")
    f = ishigami(x).reshape(d + 2, n)
    found = by_sobol(f[0], f[1], f[2:], seed=5)
    a, b, pi = 7.0, 0.1, np.pi
    variance = a**2 / 8 + b * pi**4 / 5 + b**2 * pi**8 / 18 + 0.5
    first = np.array([0.5 * (1 + b * pi**4 / 5) ** 2, a**2 / 8, 0.0]) / variance
    both = 8 * b**2 * pi**8 / 225 / variance
    assert first == pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4)
    assert found.first == pytest.approx(first, abs=0.01)
    assert found.total == pytest.approx(first + np.array([both, 0.0, both]), abs=0.01)
    assert found.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.01)
    assert np.all(found.first_error < 0.05)
    assert list(found.order) == [0, 1, 2]
    # the same estimators from the same figures, by another library
    other = stats.sobol_indices(
        func={"f_A": f[:1], "f_B": f[1:2], "f_AB": f[2:, None]}, n=n, dists=None, method="saltelli_2010"
    )
    assert found.first == pytest.approx(other.first_order, abs=0.005)
    assert found.total == pytest.approx(other.total_order, abs=0.005)


def test_errors_of_indices_are_as_large_as_the_indices_scatter():
    d, n = 3, 512
    tried, said = [], []
    for seed in range(24):
        rng = np.random.default_rng(seed)
        x = rng.uniform(-np.pi, np.pi, size=(2, n, d))
        mixed = [np.where(np.arange(d) == i, x[1], x[0]) for i in range(d)]
        f = [ishigami(one) for one in (*x, *mixed)]
        found = by_sobol(f[0], f[1], np.array(f[2:]), seed=seed)
        tried.append(found.first)
        said.append(found.first_error)
    ratio = np.mean(said, axis=0) / np.std(tried, axis=0, ddof=1)
    assert np.all((ratio > 0.6) & (ratio < 1.6))


def test_ranks_find_what_matters_and_which_way():
    x = drawn([Spread("normal", (0.0, 1.0))] * 3, 512)
    found = by_ranks(x, np.exp(2.0 * x[:, 0] - 1.0 * x[:, 1]), seed=1)
    # of a monotone function of a linear one of normal inputs: nearly the standardised coefficients themselves
    assert found.first == pytest.approx([2 / np.sqrt(5), -1 / np.sqrt(5), 0.0], abs=0.03)
    assert found.explained == pytest.approx(1.0, abs=0.05)
    assert np.all(found.first_error < 0.03)
    assert list(found.order) == [0, 1, 2]


def test_percentiles_and_probabilities_of_a_linear_figure_are_those_of_the_normal_distribution():
    # clearance of a spring: gap less force over stiffness, gap and force normal
    gap, force, k = Spread("normal", (20.0, 2.0)), Spread("normal", (1000.0, 150.0)), 60.0
    x = drawn([gap, force], 2048)
    clearance = x[:, 0] - x[:, 1] / k
    exact = stats.norm(20.0 - 1000.0 / k, np.hypot(2.0, 150.0 / k))
    for share in (0.05, 0.5, 0.95):
        found = percentile(clearance, share)
        assert found.value == pytest.approx(exact.ppf(share), abs=0.02 * exact.std())
        assert found.low < exact.ppf(share) < found.high
    touching = proportion(int(np.sum(clearance <= 0.0)), len(clearance))
    assert touching.value == pytest.approx(exact.cdf(0.0), abs=0.005)
    assert touching.low < exact.cdf(0.0) < touching.high


def test_intervals_cover_as_often_as_they_say():
    rng, inside, count = np.random.default_rng(8), [0, 0], 600
    for _ in range(count):
        values = rng.standard_normal(64)
        found = percentile(values, 0.5)
        inside[0] += found.low < 0.0 < found.high
        found = proportion(int(np.sum(values > 1.0)), 64)
        inside[1] += found.low < stats.norm.sf(1.0) < found.high
    # at least as often: both are free of any approximation, and so on the safe side
    assert all(hits / count > 0.935 for hits in inside)
    none = proportion(0, 100)
    assert none.high == pytest.approx(1.0 - 0.025 ** (1 / 100))  # the rule of three, exact
    assert percentile(np.arange(10.0), 0.05).low == -np.inf


def test_exact_binomial_interval_is_that_of_scipy():
    for hits, count in ((0, 50), (3, 50), (50, 50), (17, 128)):
        found = proportion(hits, count)
        other = stats.binomtest(hits, count).proportion_ci(0.95, method="exact")
        assert (found.low, found.high) == pytest.approx((other.low, other.high))


@pytest.mark.parametrize(
    ("spread", "law"),
    [
        (Spread("normal", (5.0, 0.5)), stats.norm(5.0, 0.5)),
        (Spread("uniform", (2.0, 6.0)), stats.uniform(2.0, 4.0)),
        (Spread("triangular", (1.0, 2.0, 5.0)), stats.triang(0.25, 1.0, 4.0)),
    ],
)
def test_draws_follow_their_distribution(spread, law):
    x = drawn([spread], 1024)[:, 0]
    assert stats.kstest(x, law.cdf).statistic < 2.0 / 1024  # a Sobol net puts one draw in each of 1024 steps
    assert spread.middle == pytest.approx(law.mean())


def test_lognormal_has_the_mean_and_the_deviation_that_are_said():
    x = drawn([Spread("lognormal", (10.0, 3.0))], 2**15)[:, 0]
    assert x.mean() == pytest.approx(10.0, rel=1e-3)
    assert x.std() == pytest.approx(3.0, rel=1e-2)
    assert stats.skew(np.log(x)) == pytest.approx(0.0, abs=0.02)


def test_draws_are_scrambled_sobol_points_and_come_again():
    spreads = [Spread("uniform", (0.0, 1.0))] * 2
    x = drawn(spreads, 64)
    other = qmc.Sobol(2, scramble=True, seed=np.random.default_rng(3)).random_base2(6)
    assert x == pytest.approx(other, abs=1e-8)
    assert np.array_equal(x, drawn(spreads, 64))
    assert not np.array_equal(x, drawn(spreads, 64, seed=4))


@pytest.mark.parametrize(
    ("given", "kind", "figures"),
    [
        ("10 %", "normal", (12.0, 1.2)),
        ("0.3 mm", "normal", (12.0, 0.3)),
        ("±0.5 mm", "uniform", (11.5, 12.5)),
        ("± 5 %", "uniform", (11.4, 12.6)),
        (("lognormal", "10 %"), "lognormal", (12.0, 1.2)),
        (("normal", "1 in", "10 %"), "normal", (25.4, 2.54)),
        (("triangular", "11 mm", "12 mm", "14 mm"), "triangular", (11.0, 12.0, 14.0)),
        (("uniform", "90 %", "120 %"), "uniform", (10.8, 14.4)),
    ],
)
def test_distributions_in_words(given, kind, figures):
    found = spread_of(given, now=0.012, dimension="length", per_unit=1e-3, name="thickness")
    assert found.kind == kind
    assert found.figures == pytest.approx(figures)
    assert "mm" in found.words("mm")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("gaussian", "10 %"), "there is no distribution 'gaussian'"),
        (("uniform", "10 mm"), "uniform has 1 figures and needs 2"),
        (("uniform", "12 mm", "10 mm"), "give the least figure first"),
        ("0 %", "does not scatter"),
        (7, "write for example"),
        ("10 N", "thickness"),
    ],
)
def test_bad_distributions_are_refused(given, said):
    with pytest.raises(ValueError, match=said):
        spread_of(given, now=0.012, dimension="length", per_unit=1e-3, name="thickness")


# a splitter -----------------------------------------------------------------------------------------


def simple():
    """A small panel of a sheet of its own on four stops, with a push in the middle and the ground near."""
    corners = [(0.5, -0.3), (0.5, 0.3), (0.0, 0.3)]
    at = [(0.02, -0.28), (0.02, 0.28), (0.48, -0.28), (0.48, 0.28)]
    return sf.Splitter.model_validate(
        {
            "name": "small <panel>",
            "panel": {
                "outline": {"start": (0.0, -0.3), "edges": [{"to": c} for c in corners]},
                "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm"},
            },
            "pins": [{"name": "a", "at": (0.2, 0.0)}, {"name": "b", "at": (0.3, 0.0), "holds": "y"}],
            "stops": [
                {"name": f"s{i}", "at": p, "gap_up": 0.0, "gap_down": 0.0, "stiffness": 1e5} for i, p in enumerate(at)
            ],
            "car": {"ride_height": "12 mm"},
            "mesh": {"size": 0.15},
            "cases": [{
                "name": "push", "gravity": False,
                "forces": [{"kind": "point", "at": (0.25, 0.15), "force": (0.0, 0.0, -700.0), "pad": "60 mm"}],
            }],
        }
    )  # fmt: skip


@pytest.fixture(scope="module")
def pushed():
    return sf.study.scatter(
        simple(),
        {"load": "15 %", "car.ride_height": "0.7 mm", "strength": "5 %"},
        "push",
        draws=128,
        measures=["worst sag", "least clearance"],
        progress=False,
    )


def test_probability_of_touching_is_that_of_a_linear_panel(pushed):
    base = sf.solve(simple(), "push")
    sag = 1e3 * base.max_sag
    assert base.min_clearance > 0.0
    gap = 1e3 * base.min_clearance
    # clearance: ride height less what the load bends it, both normal
    exact = stats.norm(gap, np.hypot(0.7, 0.15 * sag))
    assert pushed.touches.low < exact.cdf(0.0) < pushed.touches.high
    assert pushed.touches.value == pytest.approx(exact.cdf(0.0), abs=0.02)
    for share in (0.5, 0.8):
        assert pushed.percentile("least clearance", share).value == pytest.approx(
            exact.ppf(share), abs=0.15 * exact.std()
        )
    limit = f"{exact.ppf(0.75)} mm"
    assert pushed.probability("least clearance", above=limit).value == pytest.approx(0.25, abs=0.02)
    assert pushed.probabilities["event"].tolist() == ["touches the ground"]
    assert pushed.refused == 0


def test_what_matters_is_found(pushed):
    table = pushed.influence_table("worst sag")
    assert table["parameter"][0] == "load"
    assert table["coefficient"][0] == pytest.approx(1.0, abs=0.05)
    strength = table[table["parameter"] == "strength"].iloc[0]
    assert abs(strength["coefficient"]) < 4.0 * strength["standard_error"] + 0.02
    assert "±" in strength["scatters"]


def test_every_draw_can_be_built_again(pushed, tmp_path):
    row = pushed.table.iloc[4]
    design = pushed.design(int(row.name))
    assert float(design.car.ride_height) == pytest.approx(1e-3 * row["car.ride_height mm"])
    assert float(design.cases[0].factor) == pytest.approx(row["load"])
    pushed.save_design(int(row.name), tmp_path / "draw.toml")
    again = sf.solve(sf.load(tmp_path / "draw.toml"), "push")
    assert 1e3 * again.max_sag == pytest.approx(row["worst sag mm"], rel=1e-9)


def test_a_study_goes_on_from_its_file_and_is_read_again(tmp_path):
    ask = {"moduli": ("lognormal", "10 %"), "thickness": "± 3 %"}
    kept = tmp_path / "sag.study"
    given = {"draws": 8, "measures": ["worst sag"], "file": kept, "progress": False}
    first = sf.study.scatter(simple(), ask, "push", **given)
    second = sf.study.scatter(simple(), ask, "push", **given)
    assert second.table.equals(first.table)
    read = sf.study.read(kept)
    assert read.table["worst sag mm"].tolist() == first.table["worst sag mm"].tolist()
    assert read.design(3) == first.design(3)


def test_sobol_indices_of_a_splitter_share_out_the_variance():
    found = sf.study.scatter(
        simple(), {"load": "10 %", "moduli": "10 %"}, "push", draws=16, scheme="sobol",
        measures=["worst sag"], progress=False,
    )  # fmt: skip
    assert len(found.table) == 16 * 4
    assert len(found.sample) == 32
    table = found.influence_table("worst sag")
    # sag is load over stiffness: the load's part is its own, and most of the rest is that of the moduli
    assert set(table["parameter"]) == {"load", "moduli"}
    assert np.all(table["total"] > 0.1)
    assert table["total"].sum() == pytest.approx(1.0, abs=0.35)
    found.plot()


def test_picture_says_probability_and_limits(pushed):
    ax = pushed.plot()
    histogram, bars = ax.child_axes[2:4]
    (said,) = [text.get_text() for text in histogram.texts if text.get_gid() == "probability"]
    assert said.startswith("touches the ground: ")
    assert "%" in said
    assert any(line.get_gid() == "limit" for line in histogram.get_lines())
    assert [label.get_text() for label in bars.get_yticklabels()]
    assert pushed._repr_html_().count("<table") == 2
    assert "128" in repr(pushed)


@pytest.mark.parametrize(
    ("spreads", "more", "said"),
    [
        ({}, {}, "Nothing scatters"),
        ({"modulii": "10 %"}, {}, "did you mean 'moduli'"),
        ({"joints": "10 %"}, {}, "the design has nothing of the kind"),
        ({"panel.sheet.material": "10 %"}, {}, "is no quantity"),
        ({"thickness": "10 %", "panel.sheet.thickness": "1 mm"}, {}, "scatters twice"),
        ({"load": "10 %"}, {"draws": 100}, "a power of two"),
        ({"load": "10 %"}, {"scheme": "guess"}, "no scheme 'guess'"),
        ({"load": "10 %"}, {"measures": ["sagg"]}, "no measure 'sagg'"),
    ],
)
def test_bad_questions_are_refused(spreads, more, said):
    with pytest.raises(DesignError, match=said):
        sf.study.scatter(simple(), spreads, "push", progress=False, **more)


@pytest.mark.parametrize("machine", [False, True])
def test_command_line(tmp_path, capsys, machine):
    sf.save(simple(), tmp_path / "small.toml")
    asked = ["scatter", str(tmp_path / "small.toml"), "--case", "push", "--vary", "load=10 %", "--draws", "8"]
    if machine:
        assert main([*asked, "--json", "--out", str(tmp_path / "out")]) == 0
        data = json.loads(capsys.readouterr().out)["scatter"]
        assert data["draws"] == 8
        assert data["probabilities"][0]["event"] == "touches the ground"
        assert {path.name for path in (tmp_path / "out").iterdir()} == {"scatter.png", "draws.csv"}
    else:
        assert main([*asked, "--vary", "car.ride_height=±1 mm"]) == 0
        said = capsys.readouterr().out
        assert "touches the ground: " in said
        assert "worst sag" in said


def test_command_line_says_what_is_wrong(tmp_path, capsys):
    sf.save(simple(), tmp_path / "small.toml")
    asked = ["scatter", str(tmp_path / "small.toml"), "--case", "push", "--vary"]
    assert main([*asked, "load"]) == 1
    assert "write for example 'moduli=10 %'" in capsys.readouterr().err


def test_thickness_scatters_by_a_share_or_by_a_length():
    given = {"draws": 8, "measures": ["worst sag"], "progress": False}
    share, length = (
        sf.study.scatter(simple(), {"thickness": by}, "push", **given) for by in ("± 5 %", "±0.6 mm")
    )
    assert share.table["worst sag mm"].tolist() == pytest.approx(
        length.table["worst sag mm"].tolist(), rel=1e-9
    )
    assert "panel.sheet.thickness mm" in length.table
