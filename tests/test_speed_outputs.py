"""Sweeps over speed in file, command line, picture, report, JSON and folder."""

from __future__ import annotations

import dataclasses
import json
import math
import tomllib

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from test_report import shown

import splitterfem as sf
from splitterfem.analysis.behaviour import asks, behaviour
from splitterfem.analysis.divergence_words import FLUTTER
from splitterfem.cli import main
from splitterfem.design import dumps
from splitterfem.output import style
from splitterfem.output.behaviour_files import write_behaviour
from splitterfem.output.judged import worst_ratio
from splitterfem.output.report_head import fingerprint
from splitterfem.output.speed_words import headline, sweep_data, sweep_lines
from splitterfem.output.summary import solved_data, summary_text
from splitterfem.output.sweepview import plot_sweep
from splitterfem.output.wording import words_for

AIR = {"kind": "uniform", "cp": 0.6}


def soft(**more):
    """A plywood panel on four bolts: it lets go at about 200 km/h where the pressure follows, else it bows."""
    edges = [{"to": (0.8, -0.7)}, {"to": (0.8, 0.7)}, {"to": (0.2, 0.7)}]
    places = [(0.3, -0.6), (0.3, 0.6), (0.65, -0.3), (0.65, 0.3)]
    wind = {"speed": "180 km/h"}
    given = {
        "name": "soft <b>",
        "panel": {
            "outline": {"start": (0.2, -0.7), "edges": edges},
            "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        },
        "bolts": [
            {"name": f"bolt {i}", "at": at, "holds": "xyz", "diameter": 0.006} for i, at in enumerate(places)
        ],
        "car": {"ride_height": 0.06},
        "mesh": {"size": 0.12},
        "cases": [
            {"name": "fed", **wind, "pressure": AIR | {"gap_exponent": 1.0}, "sag_feedback": True},
            {"name": "plain", **wind, "pressure": AIR},
            {"name": "weight"},
        ],
        "sweeps": [
            {"case": "fed", "slowest": "60 km/h", "fastest": "240 km/h", "steps": 4},
            {"case": "plain", "slowest": "100 km/h", "fastest": "200 km/h", "steps": 2, "divergence": False},
        ],
    }
    return sf.Splitter.model_validate(given | more)


@pytest.fixture(scope="module")
def splitter():
    return soft()


@pytest.fixture(scope="module")
def answers(splitter):
    return behaviour(sf.build(splitter), judge=worst_ratio)


@pytest.fixture(scope="module")
def swept(splitter):
    return sf.speed_sweep(splitter, "fed", ("60 km/h", "240 km/h", 4), divergence=True)


@pytest.fixture
def soft_file(splitter, tmp_path):
    place = tmp_path / "soft.toml"
    sf.save(splitter, place)
    return place


def gid(ax, name):
    return [artist for artist in ax.findobj() if artist.get_gid() == name]


# the face and the record


def test_the_file_asks_what_the_face_answers(splitter, answers, swept):
    assert asks(splitter)
    assert not asks(splitter.with_(sweeps=()))
    fed, plain = answers.sweeps
    pd.testing.assert_frame_equal(fed.table, swept.table)
    assert fed.divergence.limit == pytest.approx(swept.divergence.limit, rel=1e-9)
    assert (plain.touch, plain.divergence) == (None, None)
    assert list(plain.table.speed_kmh) == pytest.approx([100.0, 200.0])
    assert behaviour(sf.build(splitter), ["weight"]).sweeps == ()


def test_limits_of_a_case_whose_pressure_does_not_follow(splitter):
    """The touch is that of its own; without a gap_exponent there is no divergence."""
    sweep = sf.speed_sweep(splitter, "plain", [50.0], divergence=True, judge=False)
    assert sweep.divergence is None
    assert sweep.touch.outcome == "touches"
    own = sf.ground_touch_speed(splitter, "plain", up_to="500 km/h")
    assert sweep.touch.speed == pytest.approx(own.speed, rel=1e-4)
    apart = sf.speed_sweep(splitter, "fed", [50.0], sag_feedback=False, divergence=True, judge=False)
    assert apart.touch.speed == pytest.approx(own.speed, rel=1e-4)
    assert apart.divergence.touch.outcome == "lost"
    said = sweep_lines(apart, words_for("metric"))
    assert any("divergence are with pressure that follows the sag" in line for line in said)


def test_a_sweep_says_what_it_is(swept):
    assert repr(swept) == "'soft <b>' in 'fed' at 4 speeds from 60 to 240 km/h: touches the ground"
    assert "touches the ground" in swept._repr_html_()
    assert "FLUTTER" in swept._repr_html_()
    assert swept.touch is swept.divergence.touch


def test_the_record_survives_the_file(splitter, tmp_path):
    place = tmp_path / "s.toml"
    sf.save(splitter, place)
    assert sf.load(place) == splitter
    table = tomllib.loads(place.read_text("utf-8"))
    assert table["sweeps"][0] == {"case": "fed", "slowest": "60 km/h", "fastest": "240 km/h", "steps": 4}
    assert table["sweeps"][1]["divergence"] is False
    assert "sweeps" not in dumps(sf.demo())
    validator = pytest.importorskip("jsonschema").Draft202012Validator(sf.json_schema())
    assert [fault.message for fault in validator.iter_errors(table)] == []
    assert sf.SpeedSweep(case="a", slowest=10.0, fastest=30.0, steps=3).speeds == (10.0, 20.0, 30.0)
    assert sf.SpeedSweep(case="a", slowest=10.0, fastest=30.0).steps == 8


SWEEP = {"case": "fed", "slowest": 20.0, "fastest": 60.0}


@pytest.mark.parametrize(
    ("sweep", "said"),
    [
        ({"case": "fedd"}, "sweeps.#1.case: there is no load case 'fedd'; did you mean 'fed'?"),
        ({"case": "weight"}, "sweeps.#1.case: load case 'weight' has no pressure map, so that nothing changes with"),
        ({"case": "pascals"}, "sweeps.#1.case: the pressures of load case 'pascals' belong to no speed; give its map"),
        ({"case": "both"}, "sweeps.#1.case: the pressures of load case 'pascals' belong to no speed; give its map"),
        ({"steps": 1}, "sweeps.#1.steps: 1 is not a number of speeds; write a whole number from 2 to 40"),
        ({"steps": 41}, "sweeps.#1.steps: 41 is not a number of speeds; write a whole number from 2 to 40"),
        ({"steps": 4.0}, "sweeps.#1.steps: 4.0 is not a number of speeds; write a whole number from 2 to 40"),
        ({"slowest": 60.0}, "goes from 216 km/h to 216 km/h; write a slowest speed that is below the fastest"),
        ({"slowest": 0.0}, "sweeps.#1.slowest: "),
    ],
)  # fmt: skip
def test_faults_are_told(splitter, sweep, said):
    pascals = {"name": "pascals", "pressure": {"kind": "uniform", "pressure": 300.0}}
    both = {"name": "both", "combines": [{"case": "pascals"}]}
    cases = [*splitter.cases, sf.LoadCase.model_validate(pascals), sf.LoadCase.model_validate(both)]
    with pytest.raises(sf.DesignError) as caught:
        splitter.with_(cases=cases, sweeps=[SWEEP | sweep])
    assert said in str(caught.value)


def test_most_sweeps(splitter):
    assert len(splitter.with_(sweeps=[SWEEP] * 5).sweeps) == 5
    with pytest.raises(sf.DesignError, match="sweeps: "):
        splitter.with_(sweeps=[SWEEP] * 6)


# words


def test_the_headline(swept, answers):
    words = words_for("metric")
    limit = f"{3.6 * swept.divergence.limit:.0f} km/h"
    said = f"Goes down to the ground at once from {limit}, too near to divergence at its own speed"
    assert headline(swept, words) == (said, True)
    said, bad = headline(answers.sweeps[1], words)
    assert not bad
    least = answers.sweeps[1].table.min_clearance_mm.min()
    assert said.startswith(f"Holds up to 200 km/h: at least {least:.1f} mm of gap, used to 0.")
    rows = [dict(row) for row in answers.sweeps[1].rows]
    rows[1] |= {"outcome": "no equilibrium: why", "max_sag_mm": math.nan}
    rows[0] |= {"outcome": "touches the ground", "worst_ratio": 1.2}
    worse = dataclasses.replace(answers.sweeps[1], rows=tuple(rows))
    assert headline(worse, words) == (
        "Touches the ground at all speeds, no equilibrium at 200 km/h, used beyond its limit at 100 km/h",
        True,
    )


def test_lines_for_a_terminal(swept):
    lines = sweep_lines(swept, words_for("us"))
    assert lines[0].startswith("Over speed, load case 'fed': goes down to the ground at once from ")
    assert lines[2].split()[:6] == ["mph", "sag", "in", "at", "rest", "in"]
    assert lines[4].split()[0] == "37"
    assert lines[4].endswith("held")
    assert lines[7].endswith("touches the ground")
    text = " ".join(line.strip() for line in lines)
    assert "mph (linear)" in text
    assert FLUTTER in text


def test_json(swept, answers, splitter):
    data = json.loads(json.dumps(sweep_data(swept), allow_nan=False))
    assert data["case"] == "fed"
    assert [row["speed_kmh"] for row in data["speeds"]] == pytest.approx([60, 120, 180, 240])
    assert data["ground_touch"]["outcome"] == "lost"
    assert data["divergence"]["nonlinear_kmh"] == pytest.approx(3.6 * swept.divergence.limit)
    assert data["divergence"]["explanation"][-1] == FLUTTER
    solutions = [sf.solve(splitter, "plain")]
    found = solved_data(solutions, behaviour=answers)
    assert [sweep["case"] for sweep in found["speed_sweeps"]] == ["fed", "plain"]
    assert found["speed_sweeps"][1]["divergence"] is None
    assert "Over speed, load case 'plain': holds" in summary_text(solutions, behaviour=answers)


# picture


def test_the_picture(swept):
    axes = swept.plot()
    panels = axes.child_axes
    assert [gid(ax, "heading")[0].get_text() for ax in panels] == [
        "Largest sag, mm", "Least gap to the ground, mm", "Downforce, N", "Largest utilisation (1 is the limit)",
    ]  # fmt: skip
    assert len({ax.get_xlim() for ax in panels}) == 1
    (sag,) = gid(panels[0], "sag")
    known = np.isfinite(sag.get_ydata())
    assert sag.get_xdata()[known] == pytest.approx(swept.table.speed_kmh)
    assert sag.get_ydata()[known] == pytest.approx(swept.table.max_sag_mm)
    # torn where the equilibrium is lost
    assert sag.get_xdata()[~known] == pytest.approx([3.6 * swept.touch.speed])
    (rest,) = gid(panels[0], "sag at rest")
    assert rest.get_ydata() == pytest.approx(swept.table.sag_at_rest_mm)
    for ax in panels:
        (touch,) = gid(ax, "mark touch")
        assert touch.get_xdata() == pytest.approx([3.6 * swept.touch.speed] * 2)
        (own,) = gid(ax, "mark own")
        assert own.get_xdata() == pytest.approx([180.0] * 2)
        assert gid(ax, "mark limit") == []
    assert gid(panels[0], "name touch")[0].get_text() == f"goes down\n{3.6 * swept.touch.speed:.0f} km/h"
    (ground,) = gid(panels[1], "ground")
    assert ground.get_y() + ground.get_height() == 0.0
    (bad,) = gid(panels[1], "bad")
    assert list(bad.get_xdata()) == pytest.approx([240.0])
    (limit,) = gid(panels[3], "limit of use")
    assert limit.get_ydata() == [1.0, 1.0]
    assert gid(panels[3], "beyond")[0].get_text() == (
        f"beyond the picture: linear divergence {3.6 * swept.divergence.linear:.0f} km/h"
    )
    (said,) = gid(axes, "headline")
    assert said.get_color() == style.ALARM
    assert "soft <b>" in axes.get_title(loc="left")


def test_the_picture_in_other_units_and_without_feedback(answers):
    axes = plot_sweep(answers.sweeps[1], units="us", title="")
    sag, gap, downforce, _ = axes.child_axes
    assert gid(sag, "heading")[0].get_text() == "Largest sag, in"
    assert gid(sag, "sag at rest") == []
    (line,) = gid(gap, "gap")
    assert line.get_ydata() == pytest.approx(answers.sweeps[1].table.min_clearance_mm / 25.4)
    (line,) = gid(downforce, "downforce")
    assert line.get_ydata() == pytest.approx(answers.sweeps[1].table.downforce_N / 4.4482216152605)
    assert line.get_xdata() == pytest.approx(answers.sweeps[1].table.speed_kmh / 1.609344)
    assert gid(axes, "headline") == []
    assert axes.get_title(loc="left") == ""


def test_speeds_without_anything_are_shaded(answers):
    rows = [dict(row) for row in answers.sweeps[0].rows]
    for name in ("max_sag_mm", "min_clearance_mm", "downforce_N", "worst_ratio"):
        rows[-1][name] = math.nan
    sweep = dataclasses.replace(answers.sweeps[0], rows=tuple(rows))
    for ax in plot_sweep(sweep).child_axes:
        (span,) = gid(ax, "nothing found")
        assert span.get_x() == pytest.approx(210.0)
        assert any(text.get_text() == "no\nequilibrium" for text in ax.texts)


def test_names_of_upright_lines_stay_apart(swept):
    """Drawn, none of them touches another, the heading or the sentence."""
    own = swept.touch.speed * 0.98
    crowded = dataclasses.replace(swept, speed=own)
    axes = crowded.plot()
    figure = axes.get_figure(root=True)
    figure.canvas.draw()
    first = axes.child_axes[0]
    artists = [
        *(gid(first, name)[0] for name in ("name own", "name touch", "heading")),
        gid(axes, "headline")[0],
    ]
    boxes = [artist.get_window_extent() for artist in artists]
    for i, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[i + 1 :])


def test_within_given_axes(swept):
    ax = Figure().add_subplot()
    assert plot_sweep(swept, ax) is ax


# command line, folder, report


def test_the_command(soft_file, tmp_path, capsys, swept):
    assert main(["speed", str(soft_file), "--case", "fed", "--steps", "3", "--to", "150 km/h", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    (sweep,) = data["speed_sweeps"]
    assert [row["speed_kmh"] for row in sweep["speeds"]] == pytest.approx([60, 105, 150])
    assert sweep["divergence"]["linear_kmh"] == pytest.approx(3.6 * swept.divergence.linear)
    out = tmp_path / "out"
    assert main(["speed", str(soft_file), "--out", str(out), "--units", "us"]) == 0
    text = capsys.readouterr().out
    assert text.count("Over speed, load case") == 2
    assert {path.name for path in out.iterdir()} == {"speed.png", "speed.csv", "speed-2.png", "speed-2.csv"}
    assert pd.read_csv(out / "speed-2.csv").speed_kmh.tolist() == pytest.approx([100.0, 200.0])


def test_the_command_without_a_sweep_in_the_file(splitter, tmp_path, capsys):
    place = tmp_path / "none.toml"
    sf.save(splitter.with_(sweeps=()), place)
    assert main(["speed", str(place)]) == 1
    assert "asks for no sweep over speed: name a load case with --case" in capsys.readouterr().err
    assert main(["speed", str(place), "--case", "plain", "--steps", "2"]) == 0
    text = capsys.readouterr().out
    assert "\n  72  " in text
    assert "\n 234  " in text
    assert main(["speed", str(place), "--case", "weight"]) == 1
    assert "Load case 'weight' has no speed of its own" in capsys.readouterr().err
    assert main(["speed", str(place), "--case", "fedd"]) == 1


def test_files_in_a_folder(answers, tmp_path):
    written = write_behaviour(answers, tmp_path, tables=False)
    assert [path.name for path in written] == ["speed.png", "speed-2.png"]


def test_the_report(splitter, answers, tmp_path):
    solutions = [sf.solve(splitter, name) for name in ("fed", "plain")]
    text = shown(solutions, tmp_path, behaviour=answers)
    assert "At speed" in text
    assert "Goes down to the ground at once from " in text
    assert "Holds up to 200 km/h" in text
    assert "TOO NEAR TO DIVERGENCE" in text
    assert text.count("FLUTTER IS NOT JUDGED") == 1
    assert (tmp_path / "speed-2.svg").is_file()
    other = splitter.with_(sweeps=splitter.sweeps[:1])
    cases = [solution.case for solution in solutions]
    assert fingerprint(splitter, cases) != fingerprint(other, cases)
    changed = [cases[0].with_(speed=55.0)]
    assert fingerprint(splitter, changed) == fingerprint(other, changed)


def test_a_report_without_sweeps_has_no_such_section(splitter, tmp_path):
    solution = sf.solve(splitter, "plain")
    assert "At speed" not in shown([solution], tmp_path)
