"""What people see of loads: air and its band, axles, tunnels, combinations, handling, limits, and their sources."""

from __future__ import annotations

import datetime
import hashlib
import json
import math
import shutil
from pathlib import Path

import pandas as pd
import pytest
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem.aero.gap_law import GAP_CAUTIONS
from splitterfem.analysis.envelope import CAUTION, check_envelope
from splitterfem.cli import main
from splitterfem.model.airload import panel_area
from splitterfem.output.air_words import tunnels_of
from splitterfem.output.case_words import combined_words, density_words, speed_words
from splitterfem.output.envelope_words import NO_ENVELOPE
from splitterfem.output.judged import judged
from splitterfem.output.report import _fill
from splitterfem.output.report_data import report_data
from splitterfem.output.report_front import Front
from splitterfem.output.report_maps import distinct_maps
from splitterfem.output.sources import file_print
from splitterfem.output.style import contour_levels
from splitterfem.output.summary import solved_data, summary, summary_text
from splitterfem.output.wording import words_for

DAY = datetime.date(2024, 2, 29)
METRIC = words_for("metric")
AREA = 0.6 * 0.6 - 0.08 * 0.1 - 0.1 * 0.1  # m2, the panel less its two openings
Q = 0.5 * 1.2 * 65.0**2  # Pa, 60 m/s and a head wind of 5 m/s in air of 1.2 kg/m3
LBF = 4.4482216152605  # N, NIST SP 811


def windy_panel(**changes):
    """Return a weak panel in the wind: two tunnels, five cases, handling, and limits of which one is exceeded."""
    weak = weak_panel()
    hole = {
        "name": "tunnel",
        "rectangle": {"x": (0.40, 0.48), "y": (-0.05, 0.05)},
        "tunnel": {"rise": 0.03, "length": 0.2},
    }
    duct = {
        "name": "duct",
        "rectangle": {"x": (0.15, 0.25), "y": (-0.2, -0.1)},
        "tunnel": {"rise": 0.05, "carried_by": "chassis", "force": 25.0, "force_speed": 50.0},
    }
    even = {"kind": "uniform", "cp": 0.5}
    cases = [
        {
            "name": "straight",
            "speed": 60.0,
            "head_wind": 5.0,
            "air_density": 1.2,
            "pressure": even | {"uncertainty": 0.1},
        },
        {"name": "braking", "speed": 40.0, "air": {"pressure": 98500.0, "celsius": 22.0}, "pressure": even},
        {
            "name": "hill",
            "speed": 50.0,
            "air": {"altitude": 1000.0},
            "note": "A guess",
            "pressure": {"kind": "gap law", "band": "high"},
        },
        {"name": "both", "combines": [{"case": "straight", "factor": 1.35}, {"case": "braking"}]},
        {"name": "unglued", "unbonded": ["glued"]},
    ]
    limits = {
        "rear": 0.03,
        "widths": [{"against": "tyre", "half_width": 0.302}],
        "clearance": {"static": 0.01, "cases": [{"case": "straight", "least": 0.02}]},
    }
    same = {name: getattr(weak, name) for name in ("ribs", "bolts", "pins", "mesh")}
    panel = {"outline": weak.panel.outline, "sheet": weak.panel.sheet, "cutouts": [hole, duct]}
    return sf.Splitter.model_validate(
        same
        | {"name": "windy", "panel": panel, "cases": cases, "envelope": limits,
           "car": {"ride_height": 0.05, "wheelbase": 2.5, "track": 1.5},
           "handling": [{"kind": "kerb"}, {"kind": "push", "note": "as our shop does it"}]}
        | changes
    )  # fmt: skip


@pytest.fixture(scope="module")
def windy():
    splitter = windy_panel()
    model = sf.build(splitter)
    return [sf.solve(model, case) for case in splitter.all_cases]


@pytest.fixture(scope="module")
def data(windy):
    return report_data(windy, METRIC, DAY)


@pytest.fixture(scope="module")
def text(windy):
    return summary_text(windy)


def plain(cell):
    return cell.replace("\N{MINUS SIGN}", "-")


def unwrapped(text):
    """Join the lines that a terminal's width has broken."""
    return text.replace("\n  ", " ")


# --- the car ---------------------------------------------------------------------------------------------------


def test_the_downforce_is_that_of_panel_and_tunnels_with_the_users_band(windy):
    """F = cp q A (Anderson, Fundamentals of Aerodynamics, 1.5); a force at 50 m/s grows with the speed squared."""
    figures = summary(windy[0])
    duct = 25.0 * (65.0 / 50.0) ** 2
    tunnel, measured = figures["tunnels"]
    assert figures["downforce_of_panel_N"] == pytest.approx(0.5 * Q * AREA, rel=1e-4)
    assert (measured["name"], measured["carried_by"], measured["basis"]) == ("duct", "chassis", "measured")
    assert (tunnel["name"], tunnel["carried_by"], tunnel["basis"]) == ("tunnel", "rim", "estimated")
    assert measured["force_N"] == pytest.approx(duct)
    total = 0.5 * Q * AREA + duct + tunnel["force_N"]
    assert figures["downforce_N"] == pytest.approx(total, rel=1e-4)
    off = 0.1 * 0.5 * Q * AREA
    wanted = {"low": total - off, "typical": total, "high": total + off}
    assert figures["downforce_band_N"] == pytest.approx(wanted, rel=1e-4)
    assert figures["downforce_band_is"] == [
        "Low and high are the user's uncertainty of 10 % on a uniform pressure."
    ]
    assert (figures["head_wind_km_h"], figures["air_speed_km_h"]) == pytest.approx((18.0, 234.0))
    assert figures["dynamic_pressure_Pa"] == pytest.approx(Q)


def test_axle_loads_are_in_equilibrium_with_downforce_and_drag(windy):
    """Sums of forces and of moments about the front axle (statics); drag 0.9 q t W at the edge's middle [M]."""
    figures = summary(windy[0])
    front, rear, force = figures["front_axle_N"], figures["rear_axle_N"], figures["downforce_N"]
    drag, height = 0.9 * Q * 0.0065 * 0.6, 0.05 + 0.5 * 0.0065
    assert figures["edge_drag_N"] == pytest.approx(drag)
    assert front + rear == pytest.approx(force)
    assert rear * 2.5 == pytest.approx(-1e-3 * force * figures["centre_of_pressure_x_mm"] + drag * height)
    # lever of the left wheels, 1.5 m apart
    assert figures["left_wheels_percent"] == pytest.approx(
        50.0 + 1e-1 * figures["centre_of_pressure_y_mm"] / 1.5
    )


def test_the_tables_say_what_the_library_says(windy, data, text):
    rows = {row[1]: [plain(cell) for cell in row] for row in data["air"]["table"]["rows"]}
    assert list(rows) == ["straight", "braking", "hill", "both"]
    for number, solution in enumerate(windy[:4], start=1):
        car = solution.car
        low = "\N{EN DASH}" if car.band is None else ", ".join(f"{force:.0f}" for force in car.band)
        at = ", ".join(f"{1e3 * c:.0f}" for c in car.centre)
        cells = [f"{car.front:.0f}", f"{car.rear:.0f}", f"{100 * car.left:.0f}", f"{car.drag:.0f}"]
        row = [str(number), solution.case.name, f"{car.downforce:.0f}", low, at, *cells]
        assert rows[solution.case.name] == row
        (line,) = [
            line for line in text.splitlines() if line.startswith(f"{solution.case.name}  ") and at in line
            and line.endswith(cells[-1]) and cells[0] in line.split()
        ]  # fmt: skip
        assert line.split()[-4:] == cells
    assert rows["braking"][3] == "\N{EN DASH}"


def test_us_units(windy):
    data = report_data(windy[:1], words_for("us"), DAY)
    row = data["air"]["table"]["rows"][0]
    assert row[2] == f"{windy[0].downforce / LBF:.0f}"
    assert row[3] == ", ".join(f"{force / LBF:.0f}" for force in windy[0].car.band)
    assert "straight" in summary_text(windy[:1], units="us")


@pytest.mark.parametrize(
    ("car", "said"),
    [
        ({"ride_height": 0.05}, "The change of the axle loads is not known: the car has no wheelbase."),
        (
            {"ride_height": 0.05, "wheelbase": 2.5},
            "The share of the left wheels is not known: the car has no track.",
        ),
    ],
)
def test_what_the_car_does_not_tell_is_said(car, said):
    solution = sf.solve(windy_panel(car=car, envelope=None), "straight")
    data = report_data([solution], METRIC, DAY)
    assert said in data["air"]["notes"]
    assert data["air"]["table"]["rows"][0][7] == "\N{EN DASH}"
    assert summary(solution)["left_wheels_percent"] is None


# --- sentences on the air --------------------------------------------------------------------------------------


def test_sentences_on_the_air_of_each_case(data):
    tunnels = {
        n: [row for row in data["air"]["notes"] if row.startswith(f"Load case {n}: Part of")] for n in (1, 4)
    }
    for sentence in (
        "Load cases 1, 4: Air density 1.200 kg/m³: as given.",
        "Load cases 1, 4: Air at 234 km/h: the car's 216 km/h with a wind of 18 km/h from ahead.",
        "Load cases 1, 4: Low and high are the user's uncertainty of 10 % on a uniform pressure.",
        "Load case 1: Part of the downforce: duct 42 N, from the measured force; "
        "carried by the chassis, not by the panel.",
        "Load cases 2, 4: Air density 1.163 kg/m³: from the measured 985.0 hPa and 22 °C, dry.",
        "Load cases 2, 4: No band: a uniform pressure without an uncertainty; it can still be wrong by half.",
        "Load case 3: Low, typical and high are estimates of the gap law; the high one loads the panel.",
        "Load case 4: The bands of the combined cases are added; a map without one counts as known.",
        "Load cases 1, 3, 4: The band is that of the panel; the tunnels are added to it as they are.",
    ):  # fmt: skip
        assert sentence in data["air"]["notes"], sentence
    assert tunnels[1][0].endswith(
        "estimated from the shape of the ramp; carried by the panel, on the rim of its opening."
    )
    assert len(tunnels[4]) == 2
    # 25 N at 50 m/s; 1.35 times at 65 m/s and once at 40 m/s
    assert f"duct {25.0 * (1.35 * 1.3**2 + 0.8**2):.0f} N" in tunnels[4][1]


def test_the_same_is_said_on_the_terminal(text):
    said = unwrapped(text)
    for sentence in (
        "'straight', 'both': Air density 1.200 kg/m³: as given.",
        "'hill': Low, typical and high are estimates of the gap law; the high one loads the panel.",
        "'straight': Part of the downforce: duct 42 N, from the measured force; "
        "carried by the chassis, not by the panel.",
        "'hill': A guess.",
        "'both': 1.35 x straight + 1 x braking.",
        "'unglued': lost joint of glued.",
        "'kerb strike, left corner': handling: common practice, no source.",
        "'push test, lip middle': handling: as our shop does it.",
        "OUTSIDE the limit 'rear' by 30.0 mm.",
        *GAP_CAUTIONS,
        CAUTION,
    ):  # fmt: skip
        assert sentence in said, sentence


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "1.225 kg/m³: the standard atmosphere at sea level (ISO 2533), for nothing is given."),
        ({"air_density": 1.225}, "1.225 kg/m³: as given."),
        ({"air": {"altitude": 1000.0}}, "1.112 kg/m³: the standard atmosphere (ISO 2533) at 1000 m."),
        (
            {"air": {"altitude": 1000.0, "warmer": -8.5}},  # 281.65 K in the standard
            "1.146 kg/m³: the standard atmosphere (ISO 2533) at 1000 m, 8.5 K colder than that.",
        ),
        (
            {"air": {"pressure": 98500.0, "celsius": 22.0}},  # p / (287.05287 T)
            "1.163 kg/m³: from the measured 985.0 hPa and 22 °C, dry.",
        ),
    ],
)
def test_how_the_density_came_about(fields, said):
    """Table values of ISO 2533 at 0 and 1000 m [M], ideal gas for the others."""
    assert density_words(sf.LoadCase(name="c", speed=50.0, **fields), METRIC) == f"Air density {said}"


def test_altitudes_are_in_feet_where_people_use_them():
    case = sf.LoadCase(name="c", speed=50.0, air={"altitude": "1000 ft"})
    assert "at 1000 ft" in density_words(case, words_for("us"))


@pytest.mark.parametrize(
    ("wind", "said"), [(0.0, "180 km/h"), (5.0, "198 km/h\n18 head wind"), (-5.0, "162 km/h\n18 tail wind")]
)
def test_wind_is_told_apart_from_the_speed(wind, said):
    assert speed_words(sf.LoadCase(name="c", speed=50.0, head_wind=wind), METRIC) == said


def test_flags_and_cautions_of_the_gap_law_only_where_it_is_used(windy):
    flat = summary(windy[0])
    assert flat["gap_law_flags"] == flat["gap_law_cautions"] == []
    guessed = summary(windy[2])
    assert guessed["gap_law_cautions"] == list(GAP_CAUTIONS)
    without = report_data(windy[:2], METRIC, DAY)["air"]["notes"]
    assert not set(GAP_CAUTIONS) & set(without)
    low = sf.LoadCase(name="low", speed=50.0, ride_height=0.015, pressure={"kind": "gap law"})
    solution = sf.solve(windy[0].model, low)
    flags = summary(solution)["gap_law_flags"]
    assert "The gap is below 20 mm, where the estimate is hardly to be trusted (on 40 of 40 strips)." in flags
    notes = report_data([solution], METRIC, DAY)["air"]["notes"]
    assert all(f"Load case 1: Gap law: {flag}" in notes for flag in flags)


def test_a_steep_ramp_is_said_unless_its_force_was_measured(windy):
    """Short diffusers separate above some 10 to 15 degrees (published tests, from memory)."""
    assert [t.steep for t in tunnels_of(windy[0])] == [False, True]
    assert "Steep ramps" not in " ".join(report_data(windy[:1], METRIC, DAY)["air"]["notes"])
    hole = {"name": "tunnel", "rectangle": {"x": (0.40, 0.48), "y": (-0.05, 0.05)}, "tunnel": {"rise": 0.04}}
    panel = windy_panel().panel
    steep = windy_panel(panel={"outline": panel.outline, "sheet": panel.sheet, "cutouts": [hole]})
    notes = report_data([sf.solve(steep, "straight")], METRIC, DAY)["air"]["notes"]
    angle = math.degrees(math.atan(0.04 / 0.08))
    assert (
        f"Load case 1: Steep ramps: tunnel ({angle:.0f}°). Flow may leave them; the suction that is computed is then "
        "too much."
    ) in notes


def test_tunnels_act_without_a_pressure_map():
    splitter = windy_panel(cases=[{"name": "ramps", "speed": 50.0}], envelope=None)
    solution = sf.solve(splitter, "ramps")
    data = report_data([solution], METRIC, DAY)
    assert data["air"]["table"]["rows"][0][2] == f"{solution.downforce:.0f}"
    assert data["cases"]["rows"][0][2:4] == ["180 km/h", "1.225 kg/m³"]
    assert data["pressures"] == []
    assert "ramps" in summary_text([solution]).partition("air in load case")[2]


def test_no_air_no_table():
    solution = sf.solve(weak_panel(), "weight")
    data = report_data([solution], METRIC, DAY)
    assert data["air"] is None
    assert "air in load case" not in summary_text([solution])


# --- load cases ------------------------------------------------------------------------------------------------


def test_combinations_are_written_out(windy, data):
    assert data["cases"]["rows"][3][2:] == [
        "as combined",
        "\N{EN DASH}",
        "weight; 1.35 × straight + 1 × braking; ride height 50.0 mm; rake 0.00°",
    ]
    figures = summary(windy[3])
    assert figures["combines_words"] == "1.35 x straight + 1 x braking"
    assert figures["combines"] == [
        {"case": "straight", "factor": 1.35},
        {"case": "braking", "factor": 1.0},
    ]
    assert figures["air_density_kg_m3"] is figures["air_speed_km_h"] is None
    parts = [{"case": "a", "factor": -1.0}, {"case": "b", "factor": -0.5}, {"case": "c", "factor": 0.9}]
    assert combined_words(sf.LoadCase(name="c", combines=parts)) == "-1 x a - 0.5 x b + 0.9 x c"
    assert combined_words(sf.LoadCase(name="c")) == ""


def test_notes_lost_joints_and_handling_are_told(windy, data):
    assert data["case_notes"] == [
        "Load case 3: A guess.",
        "Load case 4: 1.35 × straight + 1 × braking.",
        "Load case 5: lost joint of glued.",
        "Load case 6: handling: common practice, no source.",
        "Load case 7: handling: as our shop does it.",
    ]
    assert [summary(solution)["handling"] for solution in windy] == [False] * 5 + [True] * 2
    assert summary(windy[4])["lost_joints"] == ["glued"]
    assert summary(windy[5])["note"] == "common practice, no source"


def test_parts_are_lost_in_the_worst_case_that_is_no_handling(windy):
    """A kerb is not hit in the very moment in which a part fails: judgement."""
    together = judged(windy)
    worst = [s.utilisation.query("unit != 'mm'").ratio.max() for s in windy]
    assert worst.index(max(worst)) == 5  # the kerb
    assert together.governing == worst.index(max(worst[:5]))
    assert judged(windy[5:]).governing == 0
    from splitterfem.output.summary_strength import why_this_case

    assert why_this_case(judged(windy[4:6]).lose_one()) == "the largest utilisation, handling apart"


def test_cautions_name_what_was_not_selected(data, demo_solutions):
    (said,) = [line for line in data["cautions"] if "not selected" in line]
    assert said == (
        "Load cases that were not selected were not checked. Of the usual handling these were not selected: person "
        "standing, lifting by one end, shaking, gravel. Lifting the car by the panel, with a jack or on a ramp, is "
        "not offered as a load case: never do it."
    )
    # handling that the design has but the report has not solved was not checked either
    (said,) = [
        line for line in report_data(demo_solutions, METRIC, DAY)["cautions"] if "not selected" in line
    ]
    assert "kerb strike, person standing, lifting by one end, shaking, gravel, push test" in said


# --- worst of all ----------------------------------------------------------------------------------------------


def test_worst_over_all_cases_is_that_of_the_library(windy, data):
    rows, wanted = data["worst"]["table"]["rows"], sf.worst_of_cases(windy[0].model.design)
    assert len(rows) == len(wanted)
    names = [solution.case.name for solution in windy]
    for row, (_, worst) in zip(rows, wanted.iterrows(), strict=True):
        assert row[0] == worst.measure
        assert row[1] == (
            worst.part or ("panel, tunnels" if worst.measure == "largest downforce" else "panel")
        )
        value, *unit = plain(row[2]).split()
        assert float(value) == pytest.approx(worst.value, abs=0.51 if worst.unit == "N" else 0.051)
        assert unit == ([] if worst.unit == "-" else [worst.unit])
        assert (names[int(row[3]) - 1], row[4]) == (worst.case, worst.case)
    over = [i for i, (_, worst) in enumerate(wanted.iterrows()) if worst.unit == "-" and worst.value > 1.0]
    assert data["worst"]["table"]["alarms"] == over
    assert over


def test_worst_of_many_parts_is_cut_short(demo_solutions):
    worst = report_data(demo_solutions, METRIC, DAY)["worst"]
    used = [row for row in worst["table"]["rows"] if row[0] == "largest utilisation"]
    assert len(used) == 8
    assert worst["more"].endswith("more parts, none used to more than 0.01.")


def test_worst_reaches_json_and_files(windy, tmp_path):
    from splitterfem.output.bundle import write_bundle

    rows = solved_data(windy)["worst"]
    assert [row["case"] for row in rows] == list(sf.worst_of_cases(windy[0].model.design).case)
    written = {path.name for path in write_bundle(windy[:2], tmp_path)}
    assert {"worst.csv", "envelope.csv", "envelope.png"} <= written
    assert "pressure.png" not in written  # a uniform pressure has nothing to show
    assert list(pd.read_csv(tmp_path / "envelope.csv").rule) == [c.rule for c in checked(windy[:2])]


# --- limits ----------------------------------------------------------------------------------------------------


def checked(solutions):
    return check_envelope(solutions[0].model.design, solutions)


def test_limits_with_their_verdicts_and_the_caution(windy, data):
    part = data["envelope"]
    gap = windy[0].min_clearance
    assert [plain(row[0]) for row in part["table"]["rows"]] == [
        "width, tyre", "rear", "clearance, standing", "clearance, straight",
    ]  # fmt: skip
    assert [row[1:4] for row in part["table"]["rows"]] == [
        ["at most 302.0 mm", "300.0 mm", "2.0 mm inside: measure it"],
        ["at least 30.0 mm", "0.0 mm", "30.0 mm outside"],
        ["at least 10.0 mm", "50.0 mm", "40.0 mm inside"],
        ["at least 20.0 mm", f"{1e3 * gap:.1f} mm", f"{1e3 * gap - 20.0:.1f} mm inside"],
    ]
    assert part["table"]["alarms"] == [1]
    assert part["bad"]
    assert part["verdict"] == [
        "OUTSIDE the limit 'rear' by 30.0 mm.",
        "So near to its limit that it is to be measured on the car: 'width, tyre'.",
    ]
    assert part["caution"] == CAUTION
    assert any(CAUTION in line for line in data["cautions"])
    assert any(line.startswith("Rear: rear-most point of the panel") for line in part["how"])


def test_limits_of_cases_that_were_not_solved(windy):
    part = report_data(windy[1:2], METRIC, DAY)["envelope"]
    assert "Not measured: clearance, straight; load case 'straight' is not solved." in part["verdict"]


def test_no_limits_no_claim(tmp_path):
    solution = sf.solve(windy_panel(envelope=None), "unglued")
    data = report_data([solution], METRIC, DAY)
    assert data["envelope"] is None
    assert any(line.endswith(NO_ENVELOPE) for line in data["cautions"])
    assert NO_ENVELOPE in unwrapped(summary_text([solution]))
    assert solved_data([solution])["envelope"] is None
    _fill(tmp_path, [solution], Front(date=DAY), None)
    assert not (tmp_path / "envelope.svg").exists()


def test_json_of_limits_knows_no_nan(windy):
    part = json.loads(json.dumps(solved_data(windy[1:2])["envelope"], allow_nan=False))
    rows = {row["rule"]: row for row in part["rows"]}
    assert rows["clearance, straight"]["found_mm"] is None
    assert rows["clearance, straight"]["verdict"] == "not measured"
    assert rows["rear"]["distance_mm"] == pytest.approx(-30.0)
    assert (part["outside"], part["caution"]) == (["rear"], CAUTION)


# --- pictures and files ----------------------------------------------------------------------------------------


def test_one_picture_for_each_map_that_differs(windy, demo_solutions, tmp_path):
    assert [title for title, *_ in distinct_maps(windy)] == ["3  hill"]
    assert [title for title, *_ in distinct_maps(demo_solutions)] == [
        "1  straight, 210 km/h; the same map in 2",
        "4  estimate from the gap, 210 km/h",
    ]
    data = report_data(demo_solutions, METRIC, DAY)
    first, second = data["pressures"]
    load = demo_solutions[0].load.air
    x, y = (f"{1e3 * c:.0f}" for c in load.centre)
    assert first["total"] == f"{load.downforce:.0f} N down, centre of pressure at x, y {x}, {y} mm"
    _fill(tmp_path, demo_solutions, Front(date=DAY), None)
    for name in (first["file"], second["file"], data["envelope"]["picture"]):
        assert (tmp_path / name).read_bytes().startswith(b"<?xml")
    # a combined case shows the maps of its parts, also where these were not solved by themselves
    combined = sf.LoadCase(name="1.1", combines=[{"case": "straight, 210 km/h", "factor": 1.1}])
    solution = sf.solve(demo_solutions[0].model, combined)
    ((title, case, air, followed),) = distinct_maps([solution])
    assert (title, case.name, air, followed) == ("1  straight, 210 km/h", "straight, 210 km/h", None, None)


def test_a_pressure_picture_can_leave_its_total_to_the_page(demo_solution):
    ids = [
        {a.get_gid() for a in demo_solution.plot_pressure(total=total).findobj()} for total in (True, False)
    ]
    assert ["call-out" in found for found in ids] == [True, False]
    assert all("centre of pressure" in found for found in ids)


def test_a_field_that_is_even_has_levels_that_people_can_read():
    step = contour_levels(pd.Series([1267.5, 1267.5000001]).to_numpy())
    assert all(float(f"{level:.5g}") == pytest.approx(level, rel=1e-12) for level in step)


def test_labels_keep_clear_of_a_sudden_step():
    """Two pressures with a step between them: all levels lie on one line, and none of them is written there."""
    splitter = weak_panel(cases=[])
    step = sf.LoadCase(
        name="step",
        speed=50.0,
        pressure={"kind": "function", "function": lambda x, y: (x > 0.3) + 0.1 * y},
    )
    from splitterfem.output.pressureview import plot_pressure

    ax = plot_pressure(splitter, step)
    labels = [text for text in ax.texts if text.get_gid() == "contour label"]
    assert labels
    assert all(abs(label.get_position()[1] - 300.0) > 8.0 for label in labels)


def test_envelope_can_be_drawn_from_the_face(windy):
    from matplotlib.figure import Figure

    axes = Figure().add_subplot()
    assert sf.plot_envelope(windy[0].model.design, axes, solutions=windy, table=False) is axes
    assert any(patch.get_gid() == "beyond" for patch in axes.patches)


def test_long_names_of_limits_are_cut_to_their_column():
    name = "a load case with a name as long as names can be, 210 km/h"
    limits = {"clearance": {"cases": [{"case": name, "least": 0.01}]}}
    splitter = weak_panel(cases=[{"name": name}], envelope=limits)
    (shown,) = [
        t.get_text() for t in sf.plot_envelope(splitter).texts if t.get_text().startswith("clearance, a")
    ]
    assert shown.endswith(" …")


@pytest.fixture
def drawn_file(tmp_path):
    """A design file with the taps of the demonstration and a panel read from a table of offsets."""
    taps = Path(sf.__file__).parent / "data" / "demo_taps.csv"
    shutil.copy(taps, tmp_path / taps.name)
    (tmp_path / "lip.csv").write_text("y_mm, x_front_mm, x_rear_mm\n0, 1000, 300\n700, 950, 300\n")
    (tmp_path / "drawn.toml").write_text(
        """
version = 1
name = "drawn"
car = { ride_height = "75 mm" }
bolts = [
    { name = "front", at = ["900 mm", "500 mm"], mirror = true },
    { name = "rear", at = ["450 mm", "500 mm"], mirror = true },
]
mesh = { size = "80 mm" }
[panel]
drawing = { file = "lip.csv" }
sheet = { material = "birch plywood 15 mm", thickness = "15 mm" }
[[cases]]
name = "straight"
speed = "200 km/h"
pressure = { kind = "taps", file = "demo_taps.csv", quantity = "cp", length_unit = "mm" }
[envelope]
rear = "350 mm"
clearance = { loaded = "30 mm" }
""",
        encoding="utf-8",
    )
    return tmp_path / "drawn.toml"


def test_files_and_the_reading_of_the_drawing_reach_the_report(drawn_file):
    splitter = sf.load(drawn_file)
    solution = sf.solve(splitter, "straight")
    data = report_data([solution], METRIC, DAY)
    prints = {
        name: hashlib.sha256((drawn_file.parent / name).read_bytes()).hexdigest()[:12]
        for name in ("lip.csv", "demo_taps.csv")
    }
    listed = ", ".join(f"{name} ({digits})" for name, digits in prints.items())
    assert f"Files that were read, with the first digits of their SHA-256: {listed}." in data["assumptions"]
    assert data["drawing"] == [
        "The panel was read from lip.csv.",
        "2 stations from y = 0 mm to y = 700 mm were read: one side, mirrored about y = 0.",
        "Columns: y_mm in mm, x_front_mm in mm, x_rear_mm in mm.",
        "The points of each edge are joined by straight lines.",
    ]
    content = solved_data([solution])
    assert content["files"] == prints
    assert content["drawing"] == data["drawing"]
    assert (
        "Load case 1: net pressure, upper less lower face, from a map of taps (demo_taps.csv)."
        in data["assumptions"]
    )
    (drawn_file.parent / "demo_taps.csv").unlink()
    with pytest.raises(sf.FileError, match=r"demo_taps.csv cannot be read: .*; put it back"):
        file_print(splitter, "demo_taps.csv")


def test_what_was_done_to_a_map_is_said(demo_solution):
    taps = demo_solution.case.pressure.with_(
        total_force=2000.0, total_speed=50.0, left_right=0.6, yaw_factor=1.2
    )
    solution = sf.solve(demo_solution.model, demo_solution.case.with_(name="own", pressure=taps))
    assert (
        "Load case 1: net pressure, upper less lower face, from a map of taps (demo_taps.csv), brought to a total of "
        "2000 N at 180 km/h, 60 % of it on the left half, times 1.2 for yaw."
    ) in report_data([solution], METRIC, DAY)["assumptions"]


# --- check -----------------------------------------------------------------------------------------------------


def test_check_says_what_lies_outside_and_still_leaves_with_zero(drawn_file, capsys):
    assert main(["check", str(drawn_file)]) == 0
    out = unwrapped(capsys.readouterr().out)
    splitter = sf.load(drawn_file)
    area = panel_area(splitter)
    covered = 100.0 * sf.solve(splitter, "straight").load.air.covered
    assert 0.0 < covered < 99.0
    assert area.bounds[0] == pytest.approx(0.3)
    for line in (
        f"The pressure map of load case 'straight' covers {covered:.0f} % of the panel; "
        "the rest is taken from its edge.",
        "OUTSIDE the limit 'rear' by 50.0 mm.",
        "1 limit needs solved load cases; 'splitterfem solve' and 'report' measure them.",
        "The panel was read from lip.csv.",
        "2 stations from y = 0 mm to y = 700 mm were read: one side, mirrored about y = 0.",
        CAUTION,
    ):
        assert line in out, line
    assert "clearance, straight" not in out


def test_check_json_has_limits_maps_cases_and_drawing(drawn_file, capsys):
    assert main(["check", str(drawn_file), "--json"]) == 0
    content = json.loads(capsys.readouterr().out, parse_constant=lambda name: pytest.fail(name))
    assert [row["rule"] for row in content["envelope"]["rows"]] == ["rear"]
    assert content["envelope"]["rows"][0]["distance_mm"] == pytest.approx(-50.0)
    assert content["envelope"]["outside"] == ["rear"]
    assert content["envelope"]["needs_solving"] == ["clearance, straight"]
    assert content["envelope"]["caution"] == CAUTION
    (pressure,) = content["pressure_maps"]
    covered = sf.solve(sf.load(drawn_file), "straight").load.air.covered
    assert pressure["covered_percent"] == pytest.approx(100.0 * covered)
    assert pressure["sentence"].startswith("The pressure map of load case 'straight' covers ")
    assert [case["name"] for case in content["cases"]] == ["straight"]
    assert content["drawing"][0] == "The panel was read from lip.csv."
    assert set(content["files"]) == {"lip.csv", "demo_taps.csv"}


def test_check_lists_all_cases_and_says_that_rules_were_not_checked(tmp_path, capsys):
    sf.save(windy_panel(envelope=None), tmp_path / "windy.toml")
    assert main(["check", str(tmp_path / "windy.toml")]) == 0
    out = unwrapped(capsys.readouterr().out)
    lines = {line.split("  ")[0]: line for line in out.splitlines()}
    assert lines["straight"].split("  ")[-1] == "weight"
    assert "234 km/h, 18 head wind" in lines["straight"]
    assert lines["both"].endswith("1.35 x straight + 1 x braking; ride height 50.0 mm; rake 0.00°")
    assert lines["kerb strike, left corner"].endswith("handling: common practice, no source")
    assert "The pressure map of load case 'straight' covers the whole panel." in out
    assert NO_ENVELOPE in out
    assert main(["check", str(tmp_path / "windy.toml"), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["envelope"] is None
    assert [case["handling"] for case in content["cases"]] == [False] * 5 + [True] * 2


def test_check_refuses_a_map_beside_the_panel(drawn_file, capsys):
    text = drawn_file.read_text("utf-8")
    drawn_file.write_text(text.replace("demo_taps.csv", "away.csv"), encoding="utf-8")
    (drawn_file.parent / "away.csv").write_text("x_mm,y_mm,cp\n9000,0,1\n9100,0,1\n9000,100,1\n")
    assert main(["check", str(drawn_file)]) == 1
    assert "pressure map of load case 'straight' covers none of the panel" in capsys.readouterr().err


def test_check_without_load_cases(tmp_path, capsys):
    sf.save(weak_panel(cases=[]), tmp_path / "bare.toml")
    assert main(["check", str(tmp_path / "bare.toml")]) == 0
    assert "There is no load case." in capsys.readouterr().out
