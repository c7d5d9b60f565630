"""Natural frequencies and buckling factors in Python, file, command line, pictures and report.

The strip is a simply supported beam (Timoshenko, Vibration Problems in Engineering: shapes sin(n pi x / l)) and an
Euler column (Timoshenko & Gere, Theory of Elastic Stability: the same shapes).
"""

from __future__ import annotations

import dataclasses
import datetime
import itertools
import json
import re
import tomllib

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from test_buckling_factors import push
from test_natural_modes import SPAN, B, L, strip
from test_report import shown

import splitterfem as sf
from splitterfem.analysis.behaviour import Behaviour, behaviour
from splitterfem.analysis.buckling import CAUTION
from splitterfem.analysis.excitations import design_speeds, excitations, near_words
from splitterfem.cli import main
from splitterfem.design import dumps
from splitterfem.output import style
from splitterfem.output.colours import SIGNED, map_of
from splitterfem.output.excitationview import plot_excitations
from splitterfem.output.modesview import plot_buckling
from splitterfem.output.report import write_report
from splitterfem.output.report_behaviour import behaviour_part
from splitterfem.output.summary import solved_data, summary_text
from splitterfem.output.wording import words_for

FAST, SLOW = "140 km/h", "36 km/h"


def asked(**more):
    """The strip with load cases, and with questions about it."""
    drive = {"speed": FAST, "gravity": True}
    return strip(
        name="strip <b>",
        cases=[{"name": "fast", **drive}, {"name": "slow", **drive, "speed": SLOW},
               push(-1.0).with_(name="pushed"), push(1.0).with_(name="pulled")],
        **{"vibration": {"modes": 4}, "buckling": ["pushed"], **more},
    )  # fmt: skip


@pytest.fixture(scope="module")
def splitter():
    return asked()


@pytest.fixture(scope="module")
def modes(splitter):
    return sf.natural_frequencies(splitter, 4)


@pytest.fixture(scope="module")
def buckled(splitter):
    return sf.buckling(splitter, "pushed", 2)


@pytest.fixture(scope="module")
def answers(splitter):
    return behaviour(sf.build(splitter))


@pytest.fixture
def strip_file(splitter, tmp_path):
    place = tmp_path / "strip.toml"
    sf.save(splitter, place)
    return place


def gid(ax, name):
    return [artist for artist in ax.findobj() if artist.get_gid() == name]


# the face


def test_added_masses_in_words_and_as_records(splitter, modes):
    heavy = sf.natural_frequencies(splitter, 1, added=[("0.5 m", 0.0, "2 kg")])
    record = sf.AddedMass(at=(0.5, 0.0), mass=2.0, name="winch")
    assert sf.natural_frequencies(splitter, 1, added=[record]).frequencies == pytest.approx(heavy.frequencies)
    assert heavy.frequencies[0] < 0.5 * modes.frequencies[0]
    assert "with 1 added mass;" in heavy.notes[0]
    with pytest.raises(sf.DesignError, match=r'mass: "-1 kg" is not above zero'):
        sf.natural_frequencies(splitter, 1, added=[(0.5, 0.0, "-1 kg")])


def test_modes_say_what_they_are(modes, buckled):
    assert repr(modes).startswith("Natural frequencies of 'strip <b>' in 'own weight': 9.5, ")
    assert repr(buckled).startswith("Buckling factors of 'strip <b>' in 'pushed': ")
    assert f"{modes.frequencies[0]:.4g}" in modes._repr_html_()
    assert CAUTION.partition(";")[0] in buckled._repr_html_()
    assert buckled.notes[-1] == CAUTION
    assert buckled.lowest == buckled.factors[0]


def test_speeds_are_those_of_the_cases(splitter, modes):
    assert design_speeds(splitter) == pytest.approx((140 / 3.6, 36 / 3.6))
    assert list(modes.excitations.what) == [
        "rumble kerb at 140 km/h", "rumble kerb at 36 km/h", "wheel hop", "car bounce",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("frequency", "said"),
    [
        (60.0, "in rumble kerb at 140 km/h, 39-78 Hz"),
        (33.0, "near rumble kerb at 140 km/h, 39-78 Hz"),
        (93.0, "near rumble kerb at 140 km/h, 39-78 Hz"),
        (12.0, "in rumble kerb at 36 km/h, 10-20 Hz; in wheel hop, 10-15 Hz"),
        (9.0, "near rumble kerb at 36 km/h, 10-20 Hz; near wheel hop, 10-15 Hz"),
        (8.2, "near rumble kerb at 36 km/h, 10-20 Hz; near wheel hop, 10-15 Hz; and 1 more"),
        (26.0, ""),
        (100.0, ""),
        (0.0, ""),
    ],
)
def test_near_an_excitation(frequency, said):
    """Ridges 0.5 to 1 m apart at 140 km/h: 38.9 to 77.8 Hz; 20 % beyond: 31.1 to 93.3 Hz (by hand)."""
    assert near_words(frequency, excitations([140 / 3.6, 10.0])) == said


def test_speeds_that_differ_alone_are_said_together():
    table = excitations([50.0, 45.0, 40.0], unit="mph")
    assert near_words(60.0, table) == "in rumble kerb at 112, 101 and 89 mph, 40-100 Hz"


# pictures


def test_shapes_side_by_side(modes):
    axes = modes.plot()
    *shapes, bar = axes.child_axes
    assert len(shapes) == 4
    for number, (ax, frequency) in enumerate(zip(shapes, modes.frequencies, strict=True), start=1):
        (headline,) = gid(ax, "headline")
        assert headline.get_text() == f"{number}   {frequency:.1f} Hz"
        (filled,) = gid(ax, "shape")
        assert (filled.levels[0], filled.levels[-1]) == (-1.0, 1.0)
        assert filled.get_cmap() is map_of(SIGNED)
    assert [float(tick) for tick in bar.get_xticks()] == [-1.0, -0.5, 0.0, 0.5, 1.0]
    assert axes.get_title(loc="left").startswith("strip <b>\n")
    assert axes._repr_png_().startswith(b"\x89PNG")


def test_lines_of_no_motion_are_where_the_beam_has_its_nodes(modes):
    """sin(2 pi x / l) is zero in the middle; a strip that turns about its own axis rests along it."""
    second = int(np.argmin(np.abs(modes.frequencies / modes.frequencies[0] - 4.0)))
    ax = modes.plot().child_axes[second]
    (still,) = gid(ax, "still")
    points = np.concatenate([corners for lines in still.allsegs for corners in lines])
    inside = points[np.abs(points[:, 1] - 500.0) < 400.0]  # away from the pads, which hold it still too
    assert len(inside) > 10
    assert inside[:, 1] == pytest.approx(500.0, abs=2.0)  # x is up the page, in mm
    first = modes.plot().child_axes[0]
    assert not gid(first, "still") or all(
        np.abs(corners[:, 1] - 500.0).min() > 400.0
        for lines in gid(first, "still")[0].allsegs
        for corners in lines
    )


def test_what_shakes_stands_over_its_shape(modes):
    axes = modes.plot(unit="mph")
    remarks = [
        " ".join(text.get_text() for text in reversed(gid(ax, "remark"))) for ax in axes.child_axes[:-1]
    ]
    shaking = excitations(design_speeds(modes.model.design), unit="mph")
    assert remarks == [near_words(frequency, shaking) for frequency in modes.frequencies]
    assert any("87 mph" in remark for remark in remarks)  # 140 km/h, 1609.344 m to the mile


def test_shapes_within_given_axes(modes):
    figure = Figure(figsize=(6, 4))
    axes = figure.add_subplot()
    assert modes.plot(axes, title="", columns=4) is axes
    assert len(axes.child_axes) == 5
    assert axes.get_title(loc="left") == ""
    places = [ax.get_position() for ax in axes.child_axes[:-1]]
    figure.draw_without_rendering()
    assert len({round(place.y0, 6) for place in places}) == 1


def test_parts_are_thin(splitter):
    tube = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
    rib = {"name": "r", "points": [(0.2, 0), (0.8, 0)], "section": tube, "material": "6061-T6 extrusion"}
    axes = sf.natural_frequencies(splitter.with_(ribs=[rib]), 1).plot().child_axes[0]
    (drawn,) = gid(axes, "rib r")
    assert drawn.get_linewidth() < 1.0
    assert drawn.get_facecolor()[3] == 0.0
    assert gid(axes, "bolt fixed")


def test_bars_of_what_may_shake(modes):
    axes = modes.plot_excitations(speeds=[50.0])
    (bar,) = gid(axes, "range rumble kerb at 180 km/h")
    assert (bar.get_x(), bar.get_x() + bar.get_width()) == pytest.approx((50.0, 100.0))
    assert axes.get_xscale() == "log"
    assert "Hz" in axes.get_xlabel()
    for number, frequency in enumerate(modes.frequencies, start=1):
        (line,) = gid(axes, f"mode {number}")
        assert set(line.get_xdata()) == {frequency}
        inside = [0] if 50.0 <= frequency <= 100.0 else []
        inside += [1] if 10.0 <= frequency <= 15.0 else []
        inside += [2] if 4.0 <= frequency <= 7.0 else []
        assert sorted(float(mark.get_ydata()[0]) for mark in gid(axes, f"in {number}")) == inside
        assert all(to_hex(mark.get_markerfacecolor()) == style.ALARM for mark in gid(axes, f"in {number}"))
        low, high = axes.get_xlim()
        assert low < frequency < high


def test_labels_of_near_frequencies_stay_apart(modes):
    crowd = np.array([50.0, 50.1, 50.2, 80.0, 300.0, 301.0, 302.0])
    many = dataclasses.replace(
        modes, frequencies=crowd, shapes=modes.shapes[:1] * 7, participation=np.full(7, 0.1)
    )
    axes = plot_excitations(many)
    figure = axes.get_figure()
    figure.draw_without_rendering()
    boxes = [gid(axes, f"label {number}")[0].get_window_extent() for number in range(1, 8)]
    assert all(a.x1 <= b.x0 + 0.5 for a, b in itertools.pairwise(boxes))
    assert boxes[-1].x1 <= figure.bbox.x1


def test_buckling_shapes(buckled):
    axes = buckled.plot()
    *shapes, _ = axes.child_axes
    texts = [gid(ax, "headline")[0].get_text() for ax in shapes]
    assert texts == [f"{n}   {f:.1f} × the load" for n, f in enumerate(buckled.factors, start=1)]
    (caution,) = gid(axes, "caution")
    assert caution.get_text().replace("\n", " ") == CAUTION
    assert not gid(buckled.plot(caution=False), "caution")
    bow = buckled.shapes[0]
    middle = np.abs(bow.x - L / 2) < 0.02
    assert bow.values[middle].mean() == pytest.approx(1.0, abs=0.02)  # sin(pi x / l)
    assert 3.6 < buckled.factors[1] / buckled.factors[0] < 4.2
    assert abs(SPAN - 0.98) < 1e-12
    assert B < 0.1 * L


def test_a_load_that_does_not_buckle_has_a_sentence(splitter):
    none = sf.buckling(splitter, "pulled")
    assert none.lowest == np.inf
    axes = plot_buckling(none)
    assert "Load case 'pulled' does not buckle the panel" in " ".join(text.get_text() for text in axes.texts)
    assert not axes.child_axes


# the file


def test_the_questions_survive_the_file(tmp_path):
    added = [{"name": "winch", "at": ("0.5 m", "0 mm"), "mass": "2 lb"}]
    vibration = {"modes": 3, "case": "fast", "prestress": True, "added": added}
    whole = asked(vibration=vibration, buckling=["pushed", "pulled"])
    sf.save(whole, tmp_path / "s.toml")
    again = sf.load(tmp_path / "s.toml")
    assert again == whole
    assert again.vibration.added[0].mass == pytest.approx(2 * 0.45359237)  # NIST SP 811
    assert dumps(again) == dumps(whole)
    table = tomllib.loads((tmp_path / "s.toml").read_text("utf-8"))
    assert table["buckling"] == ["pushed", "pulled"]
    assert table["vibration"]["added"] == [{"name": "winch", "at": ["0.5 m", "0 mm"], "mass": "2 lb"}]
    schema = sf.json_schema()
    assert schema["properties"]["buckling"]["maxItems"] == 20
    assert set(schema["$defs"]["Vibration"]["properties"]) == {
        "modes", "case", "prestress", "air_spring", "added",
    }  # fmt: skip
    assert strip().vibration is None
    assert strip().buckling == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"buckling": ["push"]}, "buckling: there is no load case 'push'; did you mean 'pushed'"),
        ({"buckling": ["pushed", "pushed"]}, "buckling: names the load case 'pushed' 2 times; name it once"),
        ({"buckling": "pushed"}, 'buckling: "pushed" is not a list; write it in square brackets'),
        (
            {"vibration": {"case": "fats"}},
            "vibration.case: there is no load case 'fats'; did you mean 'fast'",
        ),
        ({"vibration": {"modes": 0}}, "vibration.modes: 0 is not a count; write a whole number from 1 to 50"),
        ({"vibration": {"modes": True}}, "vibration.modes: True is not a count"),
        ({"vibration": {"air_spring": True}}, "vibration: has air_spring but no case; name the load case"),
        (
            {"vibration": {"added": [{"at": (0.5, 1.0), "mass": 1.0, "name": "jack"}]}},
            r"vibration.added.jack.at: lies past the edge of the panel at \(500.0, 1000.0\) mm; move it onto",
        ),
        ({"vibration": {"mode": 3}}, "vibration.mode: there is no such field; did you mean 'modes'"),
        ({"cases": [], "buckling": ["a"], "vibration": None}, "no load case 'a'; there are none at all"),
    ],
)
def test_faults_are_told(splitter, changes, said):
    with pytest.raises(sf.DesignError, match=said):
        splitter.with_(**changes)


def test_only_what_is_about_the_cases_that_are_solved(splitter):
    model = sf.build(splitter)
    found = behaviour(model, ["fast"])
    assert found.modes is not None
    assert found.buckling == ()
    about = splitter.with_(vibration={"case": "slow", "modes": 1})
    found = behaviour(sf.build(about), ["pushed"])
    assert found.modes is None
    assert [one.case for one in found.buckling] == ["pushed"]
    assert not Behaviour()


# text, JSON, files


def test_text_has_the_tables(splitter, answers):
    solutions = [sf.solve(splitter, "fast")]
    text = summary_text(solutions, behaviour=answers)
    assert "Natural frequencies about load case 'own weight':" in text
    for frequency in answers.modes.frequencies:
        assert f"  {frequency:.1f}  " in text
    assert re.search(
        r"rumble kerb at 140 km/h +39-78 +ridges 0.5 to 1 m apart; common practice, no source", text
    )
    assert "Nothing is said of how far it swings" in text
    assert " ".join(text.split()).endswith(CAUTION)
    assert "Natural frequencies" not in summary_text(solutions)
    assert "rumble kerb at 87 mph" in summary_text(solutions, units="us", behaviour=answers)


def test_low_factors_are_said_aloud(splitter):
    """A linear factor is inverse to the load: a push of the critical load over 2, and over 0.5."""
    critical = float(sf.buckling(splitter, "pushed").factors[0])
    for share, said in ((2.0, "Load case 'push' has a factor of 2.0: look at its large-deflection"),
                        (0.5, "BUCKLES: load case 'push' is beyond")):  # fmt: skip
        one = sf.buckling(splitter, push(-critical / share))
        assert one.lowest == pytest.approx(share, rel=1e-3)
        text = "\n".join(
            summary_text([sf.solve(splitter, "fast")], behaviour=Behaviour(None, (one,))).split("\n")
        )
        assert said in " ".join(text.split())
        part = behaviour_part(Behaviour(None, (one,)), words_for("metric"))["buckling"]
        assert part["table"]["alarms"] == [0]
        assert said in part["verdict"][0]


def test_json_has_the_tables(splitter, answers):
    solutions = [sf.solve(splitter, "fast")]
    content = json.loads(json.dumps(solved_data(solutions, behaviour=answers), allow_nan=False))
    found = content["natural_frequencies"]
    pd.testing.assert_frame_equal(pd.DataFrame(found["modes"]), answers.modes.table)
    pd.testing.assert_frame_equal(pd.DataFrame(found["excitations"]), answers.modes.excitations)
    assert (found["case"], found["air_spring"], found["truncation"]) == ("own weight", False, None)
    (one,) = content["buckling"]
    pd.testing.assert_frame_equal(pd.DataFrame(one["shapes"]), answers.buckling[0].table)
    assert one["notes"][-1] == CAUTION
    bare = solved_data(solutions)
    assert (bare["natural_frequencies"], bare["buckling"]) == (None, [])


# command line


def test_modes_on_the_command_line(strip_file, modes, capsys):
    assert main(["modes", str(strip_file), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["splitter"] == "strip <b>"
    table = pd.DataFrame(content["natural_frequencies"]["modes"])
    assert table.frequency_Hz.to_numpy() == pytest.approx(modes.frequencies)
    argv = ["modes", str(strip_file), "--count", "2", "--case", "fast", "--prestress", "--units", "us"]
    assert main(argv) == 0
    out = capsys.readouterr().out
    assert "Natural frequencies about load case 'fast':" in out
    assert "stresses stiffen or soften the panel" in " ".join(out.split())
    assert "moves most at x, y (in)" in out
    assert "Buckling" not in out


def test_modes_write_their_files(strip_file, tmp_path, capsys):
    assert main(["modes", str(strip_file), "--out", str(tmp_path / "out")]) == 0
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {
        "natural_frequencies.png", "excitations.png", "natural_frequencies.csv", "excitations.csv",
    }  # fmt: skip
    said = capsys.readouterr().out
    assert all(name in said for name in names)
    table = pd.read_csv(tmp_path / "out" / "natural_frequencies.csv")
    assert len(table) == 4


def test_buckling_on_the_command_line(strip_file, buckled, tmp_path, capsys):
    argv = ["buckling", str(strip_file), "--json", "--out", str(tmp_path / "out")]
    assert main(argv) == 0
    content = json.loads(capsys.readouterr().out)
    (one,) = content["buckling"]
    assert one["case"] == "pushed"
    assert one["shapes"][0]["factor"] == pytest.approx(buckled.lowest)
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"buckling.png", "buckling.csv"}
    assert main(["buckling", str(strip_file), "--case", "pushed", "--case", "pulled"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Load case 'pulled' does not buckle the panel" in out
    assert CAUTION in out


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["modes", "--count", "0"], "modes: 0 is not a count"),
        (["modes", "--case", "fats"], "did you mean 'fast'"),
        (["modes", "--air-spring"], "has air_spring but no case"),
        (["buckling", "--case", "push"], "did you mean 'pushed'"),
    ],
)
def test_faults_on_the_command_line(strip_file, argv, said, capsys):
    assert main([argv[0], str(strip_file), *argv[1:]]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert "Traceback" not in err


def test_buckling_of_no_case(tmp_path, capsys):
    sf.save(asked(buckling=[]), tmp_path / "bare.toml")
    assert main(["buckling", str(tmp_path / "bare.toml")]) == 1
    assert "does not say which load cases may buckle it: name one with --case" in capsys.readouterr().err


def test_solve_answers_what_the_file_asks(strip_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert (
        main(["solve", str(strip_file), "--case", "pushed", "--case", "fast", "--json", "--out", str(out)])
        == 0
    )
    content = json.loads(capsys.readouterr().out)
    assert len(content["natural_frequencies"]["modes"]) == 4
    assert [one["case"] for one in content["buckling"]] == ["pushed"]
    names = {path.name for path in out.iterdir()}
    assert {"natural_frequencies.png", "excitations.csv", "buckling.png", "buckling.csv"} <= names
    assert main(["solve", str(strip_file), "--case", "fast"]) == 0
    said = capsys.readouterr().out
    assert "Natural frequencies about" in said
    assert "Buckling:" not in said


# report


def test_report_has_the_sections_that_are_asked_for(splitter, answers, tmp_path):
    pytest.importorskip("typst")
    solutions = [sf.solve(splitter, "fast")]
    for name in ("with", "without"):
        (tmp_path / name).mkdir()
    text = shown(solutions, tmp_path / "with", behaviour=answers)
    for words in (
        "Natural frequencies",
        f"{answers.modes.frequencies[0]:.1f}",
        "rumble kerb at 140 km/h",
        "Buckling",
    ):
        assert words in text
    assert CAUTION in text
    assert "nothing of flutter" in text
    assert (tmp_path / "with" / "modes.svg").exists()
    assert (tmp_path / "with" / "excitations.svg").exists()
    assert (tmp_path / "with" / "buckling-1.svg").exists()
    bare = shown(solutions, tmp_path / "without")
    assert "Natural frequencies" not in bare
    assert CAUTION not in bare


def test_report_marks_modes_beside_what_shakes_them(answers):
    part = behaviour_part(answers, words_for("metric"))["vibration"]
    for row, (_, shaking) in zip(part["ranges"]["rows"], answers.modes.excitations.iterrows(), strict=True):
        inside = [
            str(number)
            for number, frequency in enumerate(answers.modes.frequencies, start=1)
            if shaking.from_Hz <= frequency <= shaking.to_Hz
        ]
        assert row[2] == (", ".join(inside) or "\N{EN DASH}")


def test_report_finds_them_by_itself(splitter, tmp_path, monkeypatch):
    pytest.importorskip("typst")
    from splitterfem.output import report

    given = []
    fill = report._fill
    monkeypatch.setattr(report, "_fill", lambda *a: given.append(a[-1]) or fill(*a))
    day = datetime.date(2024, 2, 29)
    solutions = [sf.solve(splitter, "fast")]
    place = write_report(solutions, tmp_path / "r.pdf", losses=False, date=day)
    assert place.read_bytes().startswith(b"%PDF")
    assert len(given[0].modes.frequencies) == 4
    write_report(solutions, tmp_path / "r.pdf", losses=False, behaviour=False, date=day)
    assert given[1] is None


# the demonstration


def test_kerb_on_the_demonstration_has_a_factor(coarse_file, capsys):
    """A kerb that pushes back and up, and the struts' thrust: far from buckling a 15 mm board (common sense)."""
    splitter = sf.load(coarse_file)
    assert splitter.buckling == ("kerb strike, left corner",)
    kerb = sf.buckling(splitter, splitter.buckling[0])
    assert kerb.lowest > 1.0
    assert kerb.residual < 1e-6
    assert main(["buckling", str(coarse_file)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert f"kerb strike, left corner {kerb.lowest:.1f}" in out
    assert CAUTION in out


def test_fingerprint_of_cases_that_are_not_in_the_file(splitter):
    """Questions about cases that give way to others give way with them."""
    from splitterfem.output.report_head import fingerprint

    own = sf.LoadCase(name="own", speed=30.0)
    assert re.fullmatch("[0-9a-f]{12}", fingerprint(splitter, [own]))
    assert fingerprint(splitter, [own]) == fingerprint(splitter.with_(buckling=()), [own])
    assert fingerprint(splitter, splitter.cases) != fingerprint(splitter.with_(buckling=()), splitter.cases)
