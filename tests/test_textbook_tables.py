"""The tables of benchmarks as notebooks show them: published values, met within what is allowed.

Sources stand in the modules of `splitterfem.textbook` beside each value.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from splitterfem import textbook
from splitterfem.errors import DesignError, FileError
from splitterfem.textbook import joints, plates
from splitterfem.textbook.pictures import plot_differences, plot_orders, plot_slip

CASES = textbook.all_cases()


@pytest.mark.parametrize("case", CASES, ids=[f"{case.subject}, {case.name}" for case in CASES])
def test_published_values_are_met(case):
    assert abs(case.difference()) <= case.within


def test_every_case_has_a_name_of_its_own_and_a_source():
    assert len({(case.subject, case.name) for case in CASES}) == len(CASES)
    assert all(case.source and case.unit for case in CASES)


def test_a_table_tells_differences():
    rows = textbook.table("ribs")
    assert list(rows["subject"].unique()) == ["ribs"]
    by_hand = 100.0 * (rows["computed"] / rows["published"] - 1.0)
    np.testing.assert_allclose(rows["difference_percent"], by_hand)
    assert (rows["difference_percent"].abs() <= rows["allowed_percent"]).all()


def test_an_unknown_subject_is_refused():
    with pytest.raises(DesignError, match="there are no benchmarks of 'rib'; did you mean 'ribs'"):
        textbook.table("rib")


def test_orders_are_those_of_theory():
    """Second order in the energy norm (Brezzi, Bathe & Fortin 1989), bounded on both sides."""
    rows = textbook.orders((1e-1, 1e-4), (4, 8))
    last = rows[rows["cells"] == 8]
    assert last["energy_order"].between(1.9, 2.5).all()
    assert last["deflection_order"].between(2.8, 4.6).all()


def test_series_of_the_plywood_panel_meets_that_of_an_isotropic_plate(monkeypatch):
    """T&WK table 8: 0.00406 q a^4 / D in the middle of a thin supported square."""
    thin = plates.Homogeneous(1e-3)
    monkeypatch.setattr(plates, "PLYWOOD", thin)
    assert plates.navier(1.0, 1.0) * plates.bending_stiffness(1e-3) == pytest.approx(0.00406, abs=5e-6)


def test_annex_b_lies_between_loose_and_rigid():
    """q L^4 / (pi^4 EI) with EI of the parts alone, and of the whole: 1328.853 and 4871.889 N m2."""
    load = 1000.0 * 0.12 * 1.2**4 / np.pi**4
    assert joints.annex_b(1e-3) == pytest.approx(load / 1328.853, rel=1e-6)
    assert joints.annex_b(1e16) == pytest.approx(load / 4871.889, rel=1e-6)


def test_pictures_show_the_numbers():
    rows = textbook.table("ribs")
    axes = plot_differences(rows)
    drawn = next(line for line in axes.lines if line.get_gid() == "ribs")
    np.testing.assert_allclose(
        np.sort(drawn.get_xdata()), np.sort(np.maximum(rows["difference_percent"].abs(), 1e-4))
    )
    found = textbook.orders((1e-2,), (2, 4))
    axes = plot_orders(found)
    drawn = next(line for line in axes.lines if line.get_gid() == "thickness 0.01")
    np.testing.assert_allclose(drawn.get_ydata(), 100.0 * found["energy_error"])


def test_computed_dots_lie_on_the_line_of_annex_b():
    lines = {line.get_gid(): line for line in plot_slip().lines}
    dots = lines["computed"]
    for k, sag in zip(dots.get_xdata(), dots.get_ydata(), strict=True):
        assert sag == pytest.approx(1e3 * joints.annex_b(1e6 * k), rel=5e-3)


STORED = [
    ("square, clamped, t/L = 0.01", "this project, w of degree 2", 339, -0.1016),
    ("square, clamped, t/L = 0.01", "this project, w of degree 2", 1443, -0.0108),
    ("square, clamped, t/L = 0.01", "other, w of degree 2", 465, 0.6610),
    ("another", "other, w of degree 2", 10, 1.0),
]


@pytest.fixture
def results(tmp_path):
    """Results of the benchmarks with two formulations of one plate, and one of another."""
    rows = [
        {
            "problem": problem,
            "formulation": name,
            "unknowns": unknowns,
            "error_percent": error,
            "assembly_cpu_s": 0.003,
            "solve_cpu_s": 0.001,
            "source": "somebody",
        }
        for problem, name, unknowns, error in STORED
    ]
    path = tmp_path / "results.json"
    tables = [{"title": "Error", "rows": []}, {"title": "Every solution", "rows": rows}]
    path.write_text(json.dumps({"sections": {"accuracy": {"tables": tables}}}))
    return path


def test_stored_formulations_are_read_and_drawn(results):
    found = textbook.formulations(results)
    assert found["formulation"].tolist() == ["this library", "this library", "other, w of degree 2"]
    assert found["cpu_ms"].tolist() == pytest.approx([4.0, 4.0, 4.0])
    axes = textbook.plot_formulations(found)
    lines = {line.get_gid(): line for line in axes.lines}
    np.testing.assert_allclose(lines["this library"].get_xdata(), [339, 1443])
    np.testing.assert_allclose(lines["this library"].get_ydata(), [0.1016, 0.0108])
    times = textbook.plot_formulations(found, against="time")
    assert times.lines[0].get_xdata() == pytest.approx([4.0, 4.0])


def test_without_results_the_element_of_the_library_is_computed():
    """Reissner-Mindlin, converged spectral elements, 0.00126786 q a^4 / D: below 0.02 % from 1 400 unknowns on."""
    found = textbook.formulations()
    assert set(found["formulation"]) == {"this library"}
    fine = found[found["unknowns"] > 1400]
    assert len(fine)
    assert fine["error_percent"].abs().max() < 0.02


def test_results_without_accuracy_and_unknown_plates_are_refused(results, tmp_path):
    with pytest.raises(DesignError, match="no plate 'anothr'; did you mean 'another'"):
        textbook.formulations(results, problem="anothr")
    with pytest.raises(DesignError, match="Without results only"):
        textbook.formulations(problem="another")
    for text in ("{", '{"sections": {}}', '{"sections": {"accuracy": {"tables": []}}}', "[]"):
        results.write_text(text)
        with pytest.raises(FileError, match=r"results.json holds no accuracy of plates"):
            textbook.formulations(results)
    with pytest.raises(FileError, match=r"none.json holds no accuracy"):
        textbook.formulations(tmp_path / "none.json")
