"""Flex tests: against closed forms of plates and beams, certified regressions, and data with known answers.

Sources: Gere & Timoshenko, Mechanics of Materials (simply supported beam, load at midspan; from memory);
Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959), article 11 (pure twist of a plate held at
three corners and loaded at the fourth; the test of ASTM D3044, G = 3 P a b / (w t^3); from memory); NIST Statistical
Reference Datasets, nonlinear regression, Misra1a (data and certified values from memory; the certified sum of squares
comes out of them to all its digits).
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.errors import DesignError, FileError
from splitterfem.layouts.flextest_bench import Trial, bench_of
from splitterfem.layouts.flextest_file import read_flex_test
from splitterfem.layouts.flextest_parameters import parameters_of
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.layouts.flextest_statistics import fit_logs, profiled

HEAD = "push x mm,push y mm,force N,read x mm,read y mm,deflection mm"


def board(length, width, **more):
    """A board from x = 0, y about 0, held in its plane by two pins, with a grain along x."""
    corners = [(length, -width / 2), (length, width / 2), (0.0, width / 2)]
    material = {
        "kind": "orthotropic", "name": "board", "E1": 10e9, "E2": 6e9, "nu12": 0.05, "G12": 700e6,
        "G13": 5e9, "G23": 5e9, "density": 600.0,
    }  # fmt: skip
    return sf.Splitter.model_validate(
        {
            "name": "board",
            "panel": {
                "outline": {"start": (0.0, -width / 2), "edges": [{"to": c} for c in corners]},
                "sheet": {"material": material, "thickness": 0.010},
            },
            "pins": [
                {"name": "a", "at": (length / 2, 0.0), "holds": "xy", "pad": {"diameter": 0.01}},
                {"name": "b", "at": (length / 2 + 0.03, 0.0), "holds": "y", "pad": {"diameter": 0.01}},
            ],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.06},
        }
        | more
    )


def stop(name, at, pad=0.008):
    """A support that holds up and down."""
    return {"name": name, "at": at, "pad": {"diameter": pad}, "gap_up": 0.0, "gap_down": 0.0}


def table(rows, *, u=None, force=100.0):
    """Readings from ((push), (read), deflection in m)."""
    n = len(rows)
    push, read, w = (np.array([row[i] for row in rows], dtype=float) for i in range(3))
    error = None if u is None else np.full(n, u)
    forces = np.full(n, force)
    return FlexReadings("made up", np.arange(2, n + 2), push, forces, np.full(n, 0.008), read, w, error)


# closed forms ---------------------------------------------------------------------------------------


def test_a_strip_on_two_supports_gives_the_modulus_of_beam_theory():
    L, b, t, P, E = 0.8, 0.05, 0.010, 50.0, 8.7e9
    ends = [stop(f"{i}{j}", (0.02 + i * L, y)) for i in (0, 1) for j, y in enumerate((-0.02, 0.02))]
    strip = board(L + 0.04, b, stops=ends)
    inertia = b * t**3 / 12.0
    places = [(0.02 + share * L, 0.0) for share in (0.25, 0.5)]
    # load at midspan: w(x) = P x (3 L^2 - 4 x^2) / (48 E I)
    rows = [
        (places[1], at, P * x * (3 * L**2 - 4 * x**2) / (48 * E * inertia))
        for at, x in zip(places, (0.25 * L, 0.5 * L), strict=True)
    ]
    found = sf.study.fit_flex_test(strip, table(rows, force=P), fit="E along")
    assert found.values["E along"] == pytest.approx(E, rel=0.01)
    material = found.design.panel.sheet.resolved
    assert material.E1_bending is None
    assert found.values["E along"] == pytest.approx(material.E1)
    assert material.basis == "user"
    assert "made up" in material.source
    again = sf.solve(found.design, sf.LoadCase(
        name="push", gravity=False, ground=False,
        forces=[{"kind": "point", "at": places[1], "force": (0.0, 0.0, -P), "pad": "8 mm"}],
    ))  # fmt: skip
    assert float(again.sag_at(*places[1])) == pytest.approx(rows[1][2], rel=0.01)


def test_a_plate_on_three_corners_gives_the_shear_modulus():
    a, G, t, P = 0.5, 560e6, 0.010, 40.0
    corners = [(0.005, -0.245), (0.005, 0.245), (0.495, -0.245)]
    plate = board(a, a, stops=[stop(f"corner {i}", at) for i, at in enumerate(corners)])
    side = 0.49
    # P w / 2 is the energy G t^3 / 6 (w / side^2)^2 of the twist, all over the plate
    w = 3.0 * P * side**4 / (G * t**3 * a * a)
    # pure twist: w over the plate is the product of the distances from the two held sides
    rows = [((0.495, 0.245), (0.495, 0.245), w), ((0.495, 0.245), (0.25, 0.0), 0.25 * w)]
    found = sf.study.fit_flex_test(plate, table(rows, force=P), fit="shear modulus", profile=False)
    assert found.values["shear modulus"] == pytest.approx(G, rel=0.02)
    assert found.deviation < 0.01 * w


def test_certified_nonlinear_regression():
    y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
    x = np.array(
        [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
    )
    start = np.array([500.0, 1e-4])  # the first of the two starts of NIST

    def computed(logs):
        b = start * np.exp(logs)
        return b[0] * (1.0 - np.exp(-b[1] * x))

    def slopes(logs):
        b = start * np.exp(logs)
        e = np.exp(-b[1] * x)
        return np.column_stack([b[0] * (1.0 - e), b[0] * b[1] * x * e])

    found = fit_logs(computed, slopes, np.array(y), 2, known=False)
    b = start * np.exp(found.logs)
    assert b == pytest.approx([2.3894212918e2, 5.5015643181e-4], rel=1e-6)
    assert b * found.errors == pytest.approx([2.7070075241, 7.2668688436e-6], rel=1e-5)
    assert found.chi_square == pytest.approx(1.2455138894e-1, rel=1e-9)
    assert found.alike == [(0, 1)]
    # ends of a profile interval: the sum of squares rises to 1 + t^2 / (n - 2) times the least, by its definition
    ends = profiled(found, computed, slopes).interval
    aim = found.chi_square * (1.0 + found.quantile**2 / found.freedom)
    for value in ends[0]:
        b1 = start[0] * np.exp(value)
        rates = np.linspace(4.5e-4, 6.5e-4, 20001)
        least = min(float(np.sum((np.array(y) - b1 * (1 - np.exp(-r * x))) ** 2)) for r in rates[::10])
        assert least == pytest.approx(aim, rel=0.02)


# known answers --------------------------------------------------------------------------------------

FIT = ("E along", "E across", "shear modulus")


@pytest.fixture(scope="module")
def plate():
    """A plate on four corners, pushes and gauges on it."""
    at = [(0.02, -0.28), (0.02, 0.28), (0.48, -0.28), (0.48, 0.28)]
    return sf.build(board(0.5, 0.6, stops=[stop(f"corner {i}", p, 0.02) for i, p in enumerate(at)]))


PUSHES = [(0.25, 0.0), (0.25, 0.28), (0.48, 0.0), (0.12, 0.14)]
GAUGES = [(0.25, 0.0), (0.25, 0.28), (0.48, 0.0), (0.02, 0.0), (0.4, -0.2)]


def invented(model, fit, factors, *, u=2e-5, seed=11):
    """Readings that a model with other figures gives, with scatter of a standard deviation of ``u``."""
    rows = [(p, g, 0.0) for p in PUSHES for g in GAUGES]
    readings = table(rows, u=u)
    trial = Trial(bench_of(model, readings, None), parameters_of(model.design, fit), np.ones(len(rows)))
    exact = trial.computed(np.log(factors))
    scatter = u * np.random.default_rng(seed).standard_normal(len(rows))
    return table([(p, g, w) for (p, g, _), w in zip(rows, exact + scatter, strict=True)], u=u), trial


def test_known_figures_come_back_from_scattered_readings(plate):
    truth = np.array([0.86, 1.1, 0.75])
    readings, _ = invented(plate, FIT, truth)
    found = sf.study.fit_flex_test(plate, readings, fit=FIT)
    assert np.all(np.abs(found.estimate.logs - np.log(truth)) < 4.0 * found.estimate.errors)
    assert np.all(found.estimate.errors < 0.03)
    low, high, value = (found.table[name].to_numpy() for name in ("low_95", "high_95", "value"))
    assert np.all((low < value) & (value < high))
    assert 0.01 < found.estimate.probability < 0.99
    assert not found.advice
    assert not found.residuals["suspicious"].any()
    assert np.abs(found.estimate.bent).max() < 0.05
    exact, _ = invented(plate, FIT, truth, u=1e-12)
    same = sf.study.fit_flex_test(plate, exact, fit=FIT, profile=False)
    assert np.exp(same.estimate.logs) == pytest.approx(truth, rel=1e-6)


def test_intervals_cover_the_truth_as_often_as_they_say(plate):
    truth = np.log([0.9, 1.05, 0.8])
    _, trial = invented(plate, FIT, np.exp(truth))
    exact, J = trial.computed(truth), trial.slopes(truth)
    rng, covered, count = np.random.default_rng(2026), 0, 200
    for known in (True, False):
        for _ in range(count):
            u = 2e-5
            y = exact + u * rng.standard_normal(len(exact))
            scale = u if known else 1.0
            found = fit_logs(
                lambda logs, s=scale: (exact + J @ (logs - truth)) / s,
                lambda logs, s=scale: J / s,
                y / scale,
                3,
                known=known,
            )
            ends = found.interval
            covered += int(np.sum((ends[:, 0] < truth) & (truth < ends[:, 1])))
    # 1200 intervals: 0.95 with a standard deviation of at most 0.011 (they come in threes of one draw)
    assert covered / (6 * count) == pytest.approx(0.95, abs=0.03)


def test_derivatives_are_those_of_the_model(plate):
    ribbed = plate.design.with_(
        ribs=[{
            "name": "bar", "points": [(0.1, 0.05), (0.4, 0.05)], "material": "6061-T6 extrusion",
            "section": {"shape": "flat", "width": "20 mm", "height": "6 mm"},
            "joint": {"kind": "adhesive", "thickness": "2 mm", "shear_modulus": "1 MPa"},
        }],
        struts=[{
            "name": "hanger", "foot": (0.25, 0.2), "head": (0.2, 0.1, 0.3), "stiffness": "40 N/mm",
            "end_stiffness": "80 N/mm", "preload": "20 N",
        }],
        stops=[
            *plate.design.stops[:3],
            {"name": "rubber", "at": (0.48, 0.28), "gap_down": "0.1 mm", "stiffness": "30 N/mm"},
        ],
    )  # fmt: skip
    model = sf.build(ribbed)
    names = [
        "E along", "E across", "shear modulus", "struts.hanger.stiffness", "struts.hanger.end_stiffness",
        "stops.rubber.stiffness", "stops.rubber.gap_down", "ribs.bar.joint.shear_modulus",
    ]  # fmt: skip
    rows = [(p, g, 0.0) for p in PUSHES for g in GAUGES]
    for fit, tolerance in ((names, 3e-3), (["sheet"], 1e-6)):
        trial = Trial(bench_of(model, table(rows), None), parameters_of(ribbed, fit), np.ones(len(rows)))
        found = trial.slopes(np.zeros(len(fit)))
        for p in range(len(fit)):
            step = 1e-4 * np.eye(len(fit))[p]
            tried = (trial.computed(step) - trial.computed(-step)) / 2e-4
            assert np.abs(found[:, p] - tried).max() < tolerance * np.abs(tried).max(), fit[p]


def test_what_cannot_be_told_apart_is_named_with_a_reading_that_would():
    at = [(0.02, -0.28), (0.02, 0.28), (0.48, -0.28), (0.48, 0.28)]
    held = board(0.5, 0.6, stops=[stop(f"corner {i}", p, 0.02) for i, p in enumerate(at)])
    model = sf.build(held)
    rows = [
        ((0.25, 0.0), (0.25, 0.0), 5.0e-3),
        ((0.25, 0.0), (0.23, 0.0), 4.9e-3),
        ((0.25, 0.0), (0.25, 0.03), 4.9e-3),
    ]
    found = sf.study.fit_flex_test(model, table(rows, u=5e-5), fit=["E along", "E across"], profile=False)
    assert abs(found.correlation.loc["E along", "E across"]) > 0.95
    ((group, advice),) = found.advice
    assert group == (0, 1)
    assert advice.helps
    (said,) = [note for note in found.notes if "apart" in note]
    assert "'E along' and 'E across'" in said
    assert "would bring their correlation" in said
    # what the advice says of the correlation is what a fit with that reading in it finds
    more = [*rows, (advice.push, advice.read, 1e-3)]
    wider = table(more, u=5e-5)
    trial = Trial(bench_of(model, wider, None), found.parameters, np.full(4, 2e4))
    J = trial.slopes(found.estimate.logs)
    C = np.linalg.inv(J.T @ J)
    # the reading that is tried has the pad of the others
    assert C[0, 1] / np.sqrt(C[0, 0] * C[1, 1]) == pytest.approx(advice.after, abs=1e-6)


def test_springs_in_series_are_one_spring():
    held = board(
        0.5, 0.6,
        stops=[stop(f"corner {i}", p, 0.02) for i, p in enumerate([(0.02, -0.28), (0.02, 0.28), (0.48, 0.0)])],
        struts=[{
            "name": "hanger", "foot": (0.25, 0.2), "head": (0.25, 0.2, 0.3), "stiffness": "40 N/mm",
            "end_stiffness": "80 N/mm",
        }],
    )  # fmt: skip
    fit = ("struts.hanger.stiffness", "struts.hanger.end_stiffness")
    readings, _ = invented(sf.build(held), fit, [0.8, 0.8])
    found = sf.study.fit_flex_test(held, readings, fit=fit, profile=False)
    (said,) = [note for note in found.notes if "apart" in note]
    assert all(name in said for name in fit)
    assert "No single further reading" in said


def test_a_figure_that_nothing_feels_is_named(plate):
    lonely = plate.design.with_(
        stops=[*plate.design.stops, {"name": "far", "at": (0.3, 0.1), "gap_up": "50 mm"}],
    )
    readings, _ = invented(sf.build(lonely), "sheet", [0.9])
    found = sf.study.fit_flex_test(lonely, readings, fit=["sheet", "stops.far.gap_up"])
    assert found.values["sheet"] == pytest.approx(9e9, rel=0.01)
    assert any("No reading feels 'stops.far.gap_up'" in note for note in found.notes)
    assert found.table["high_95"][1] == np.inf


# the demonstration, the face, the picture -----------------------------------------------------------


@pytest.mark.slow
def test_the_invented_test_of_the_demonstration_ends_where_it_was_made():
    ends = {"strut ends": [f"struts.{name} strut.end_stiffness" for name in ("inner", "outer")]}
    found = sf.study.fit_flex_test(
        sf.demo(), sf.study.demo_flex_test(), fit=["E along", "E across", ends], leave_out=[21]
    )
    # what it was made with, by an own computation on the same mesh: no measurement
    assert np.all(np.abs(found.estimate.logs - np.log([0.86, 0.93, 0.70])) < 3.0 * found.estimate.errors)
    assert not found.estimate.widened
    assert "INVENTED" in sf.study.demo_flex_test().read_text()


@pytest.fixture(scope="module")
def wrong_test(plate):
    """A test of which one gauge was misread, on line 9."""
    readings, _ = invented(plate, "sheet", [0.9])
    misread = readings.deflection.copy()
    misread[7] += 4e-4
    return sf.study.fit_flex_test(plate, replace(readings, deflection=misread), fit="sheet", profile=False)


def test_a_reading_that_is_wrong_is_found(wrong_test):
    table = wrong_test.residuals
    assert table[table["suspicious"]]["line"].tolist() == [9]
    assert any("line 9" in note and "leave_out = [9]" in note for note in wrong_test.notes)
    assert wrong_test.estimate.widened
    assert any("Birge" in note for note in wrong_test.notes)


def test_deleted_residuals_are_those_of_a_fit_without_the_reading():
    rng = np.random.default_rng(4)
    J, y = rng.standard_normal((12, 2)), rng.standard_normal(12)
    found = fit_logs(lambda logs: J @ logs, lambda logs: J, y, 2, known=False)
    for i in range(12):
        rest = np.delete(np.arange(12), i)
        b, square, *_ = np.linalg.lstsq(J[rest], y[rest], rcond=None)
        inverse = np.linalg.inv(J[rest].T @ J[rest])
        spread = np.sqrt(square[0] / 9.0 * (1.0 + J[i] @ inverse @ J[i]))
        assert found.deleted[i] == pytest.approx((y[i] - J[i] @ b) / spread, rel=1e-6)


def test_fitted_figures_in_designs(wrong_test, tmp_path):
    fitted = wrong_test.design
    assert "made up" in fitted.note
    sf.save(fitted, tmp_path / "fitted.toml")
    assert sf.load(tmp_path / "fitted.toml") == fitted
    other = wrong_test.applied_to(wrong_test.splitter.with_("car.ride_height", "50 mm"))
    assert other.panel.sheet == fitted.panel.sheet
    thinner = wrong_test.splitter.with_("panel.sheet.thickness", "9 mm")
    with pytest.raises(DesignError, match="another sheet"):
        wrong_test.applied_to(thinner)
    assert wrong_test._repr_html_().startswith("<table")
    assert "sheet" in repr(wrong_test)


def test_picture_shows_every_reading_and_what_is_wrong(wrong_test):
    ax = wrong_test.plot(unit="in")
    left, right = ax.child_axes
    lines = {line.get_gid(): line for line in left.get_lines()}
    assert len(lines["before"].get_xdata()) == 20
    low, high = lines["measured as computed"].get_xdata()
    assert (low, high) == tuple(lines["measured as computed"].get_ydata())
    said = [text.get_text() for text in right.texts if text.get_gid() == "residual"]
    assert any(text.startswith("+0.01") for text in said)  # 0.4 mm in inches
    assert "in" in left.get_xlabel()


@pytest.mark.parametrize("system", ["metric", "us"])
def test_command_line(tmp_path, capsys, plate, system):
    readings, _ = invented(plate, "sheet", [0.9])
    readings.table.to_csv(tmp_path / "bench.csv", index=False)
    sf.save(plate.design, tmp_path / "board.toml")
    asked = [
        "flextest",
        str(tmp_path / "board.toml"),
        str(tmp_path / "bench.csv"),
        "--fit",
        "sheet",
        "--units",
        system,
    ]
    if system == "us":
        asked += ["--json", "--out", str(tmp_path / "out")]
    assert main(asked) == 0
    said = capsys.readouterr().out
    if system == "us":
        data = json.loads(said)
        assert data["flex_test"]["figures"][0]["ratio"] == pytest.approx(0.9, rel=0.02)
        names = {path.name for path in (tmp_path / "out").iterdir()}
        assert names == {"flex_test.png", "flex_readings.csv", "fitted.toml"}
        assert sf.load(tmp_path / "out" / "fitted.toml").panel.sheet.resolved.basis == "user"
    else:
        assert "GPa" in said
        assert "sheet" in said


# files ----------------------------------------------------------------------------------------------


def test_units_separators_and_weights_in_a_file(tmp_path):
    place = tmp_path / "bench.csv"
    place.write_text(
        "# bench\nPush_x [in];push y mm;mass lb;read x mm;read y mm;deflection um;pad diameter mm;who\n"
        "10;0;2;250;0;1500;30;A\n\n10;0;4;250;0;3000;30;B\n"
    )
    found = read_flex_test(place)
    assert found.push[0] == pytest.approx([0.254, 0.0])
    assert found.force == pytest.approx([0.45359237 * 9.80665 * 2, 0.45359237 * 9.80665 * 4])
    assert found.deflection == pytest.approx([1.5e-3, 3e-3])
    assert found.line.tolist() == [3, 5]
    assert found.pad == pytest.approx(0.03)
    found.table.to_csv(place, index=False)
    assert read_flex_test(place).force == pytest.approx(found.force)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no line but comments"),
        (HEAD + "\n", "0 readings"),
        (HEAD + "\n1,2,3,4,5\n", "line 2: there are 5 fields where the heading has 6"),
        (HEAD + "\n1,2,x,4,5,6\n", "line 2: force N is 'x', not a number"),
        (HEAD + "\n1,2,nan,4,5,6\n", "line 2: force N is 'nan', not a number"),
        (HEAD + "\n1,2,0,4,5,6\n", "line 2: force N is zero"),
        (HEAD + "\n1,2,,4,5,6\n", "line 2: force N is empty"),
        (HEAD + "\n1,2,3,40000,5,6\n", "out of all reason"),
        (HEAD.replace(" N", " mm") + "\n1,2,3,4,5,6\n", "line 1: column 'force mm'"),
        (HEAD.replace("force N", "force") + "\n1,2,3,4,5,6\n", "column 'force' names no unit"),
        (HEAD.replace("force N", "push N") + "\n1,2,3,4,5,6\n", "there is no column force"),
        (HEAD + ",uncertanty mm\n1,2,3,4,5,6,7\n", "did you mean 'uncertainty'"),
        (HEAD + ",uncertainty mm\n1,2,3,4,5,6,0\n", "give one above zero"),
        (HEAD + ",mass kg\n1,2,3,4,5,6,1\n", "a column of forces and one of masses"),
        (HEAD.replace(",", " ") + "\n", "one column"),
    ],
)  # fmt: skip
def test_bad_files_are_refused_in_a_sentence(tmp_path, text, said):
    place = tmp_path / "bad.csv"
    place.write_text(text)
    with pytest.raises(FileError) as problem:
        read_flex_test(place)
    assert said in str(problem.value)
    assert "bad.csv" in str(problem.value)
    assert "\n" not in str(problem.value)


@pytest.mark.parametrize(
    ("change", "fit", "said"),
    [
        ({}, "E sideways", "There is nothing to fit at 'E sideways'; known: E across"),
        ({}, "stops.corner 9.stiffness", "There is no 'corner 9' among the stops"),
        ({}, "stops.corner 0.stiffness", "has no value"),
        ({}, "stops.corner 0.gap_up", "is 0 in the design"),
        ({}, "stops.corner 0.pad", "cannot be fitted"),
        ({}, ["sheet", "E along"], "one factor on all moduli"),
        ({}, ["sheet", "sheet"], "fitted twice"),
        ({}, [], "Nothing is to be fitted"),
        ({"push": np.full((20, 2), 9.0)}, "sheet", "off the panel"),
        ({"read": np.full((20, 2), 9.0)}, "sheet", "The gauge on line 2 of made up stands"),
    ],
)
def test_bad_questions_are_refused_in_a_sentence(plate, change, fit, said):
    readings, _ = invented(plate, "sheet", [1.0])
    with pytest.raises(DesignError) as problem:
        sf.study.fit_flex_test(plate, replace(readings, **change), fit=fit)
    assert said in str(problem.value)


def test_too_few_readings_and_lines_that_are_not_there(plate):
    few = table([(PUSHES[0], GAUGES[0], 1e-3)])
    with pytest.raises(DesignError, match="1 readings for 1 figures and their scatter"):
        sf.study.fit_flex_test(plate, few, fit="sheet")
    with pytest.raises(DesignError, match="Line 77 of made up"):
        sf.study.fit_flex_test(plate, few, fit="sheet", leave_out=[77])
