"""Contact, ground, large deflection and sag feedback as users see them: text, JSON, commands, pictures, report.

Sources: Newton's first law for forces; Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, for the range of
linear solutions; what one output says is compared with what another has.
"""

from __future__ import annotations

import dataclasses
import datetime
import html
import json
import re

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import splitterfem as sf
from splitterfem import api, cli
from splitterfem.analysis.envelope import check_envelope
from splitterfem.analysis.following import can_follow
from splitterfem.analysis.linear_range import MOST_SHARE
from splitterfem.errors import DesignError
from splitterfem.output.envelope_words import verdict_words
from splitterfem.output.exports import write_tables, write_vtu
from splitterfem.output.followed import IN_BRACKETS, followed_pressure
from splitterfem.output.pressureview import plot_pressure
from splitterfem.output.range_words import SMALL, range_of, range_sentences
from splitterfem.output.report_data import report_data
from splitterfem.output.report_maps import distinct_maps
from splitterfem.output.report_words import assumptions, cautions
from splitterfem.output.style import scale_of
from splitterfem.output.summary import solved_data, summary_text
from splitterfem.output.wording import words_for
from splitterfem.output.worst_words import worst_table
from splitterfem.strength.cases import ON_GROUND, worst_of

GRAVITY = 9.80665
DAY = datetime.date(2024, 2, 29)
METRIC = words_for("metric")
NAMES = ["run", "low", "no ground", "lift", "far", "far, large"]


@pytest.fixture(scope="module")
def splitter():
    """A panel in pockets, on struts that only pull, with stops in front that touch and one above that does not."""
    air = {"speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.25, "gap_exponent": 1.0}}
    up = [{"kind": "point", "at": (0.55, 0.0), "force": (0.0, 0.0, 120.0), "pad": 0.08}]
    edges = [{"to": (0.6, -0.4)}, {"to": (0.6, 0.4)}, {"to": (0.0, 0.4)}]
    return sf.Splitter.model_validate(
        {
            "name": "busy",
            "panel": {
                "outline": {"start": (0.0, -0.4), "edges": edges},
                "sheet": {"material": "birch plywood 9 mm", "thickness": 0.009},
            },
            "ribs": [
                {"name": "keel", "points": [(0.2, 0.0), (0.4, 0.0)], "side": "below", "material": "6061-T6 extrusion",
                 "section": {"shape": "flat", "width": 0.025, "height": 0.004}},
            ],
            "struts": [{"name": "strut", "foot": (0.5, 0.3), "head": (0.42, 0.25, 0.3), "diameter": 0.008,
                        "bracket_height": 0.03, "tension_only": True, "mirror": True}],
            "pins": [{"name": "pin", "at": (0.15, 0.1)}, {"name": "slotted", "at": (0.15, -0.1), "slot": 1.5708}],
            "pockets": [{"name": "pocket", "mouth": (0.05, 0.25), "width": 0.12, "overlap": 0.05,
                         "clearance_up": 0.0003, "clearance_down": 0.0003, "mirror": True}],
            "stops": [
                {"name": "skid", "at": (0.55, 0.15), "gap_down": 0.0002, "stiffness": 2e4, "mirror": True},
                {"name": "bracket", "at": (0.3, 0.2), "gap_up": 0.02},
            ],
            "car": {"ride_height": 0.05},
            "envelope": {"clearance": {"loaded": 0.01}},
            "mesh": {"size": 0.12},
            "cases": [
                {"name": "run", **air, "sag_feedback": True},
                {"name": "low", **air, "ride_height": 0.005},
                {"name": "no ground", **air, "ride_height": 0.005, "ground": False},
                {"name": "lift", "forces": up},
                {"name": "far", **air, "factor": 40.0, "ground": False},
                {"name": "far, large", **air, "factor": 40.0, "ground": False, "large_deflection": True},
            ],
        }
    )  # fmt: skip


@pytest.fixture(scope="module")
def solutions(splitter):
    model = sf.build(splitter)
    return {name: sf.solve(model, name) for name in NAMES}


@pytest.fixture(scope="module")
def text(solutions):
    return summary_text(list(solutions.values()))


@pytest.fixture(scope="module")
def data(solutions):
    return report_data(list(solutions.values()), METRIC, DAY)


def unwrapped(text):
    return re.sub(r"\n  (?=\S)", " ", text)


def artists(ax, gid):
    return [a for a in ax.findobj() if a.get_gid() == gid]


# the face ----------------------------------------------------------------------------------------------


def test_face_carries_everything_that_was_solved(solutions):
    run = solutions["run"]
    plain = {part.name for part in dataclasses.fields(run)}
    assert "follower" in plain
    assert run.follower is not None
    assert isinstance(run, api.Solution)
    assert isinstance(run.at_rest, api.Solution)
    assert run.at_rest.at_rest is None
    assert solutions["low"].at_rest is None


def test_face_asks_in_place_of_the_case(splitter, solutions):
    model = solutions["run"].model
    still = sf.solve(model, "run", sag_feedback=False)
    assert still.follower is None
    assert still.max_sag == pytest.approx(solutions["run"].at_rest.max_sag, rel=1e-12)
    assert still.max_sag < solutions["run"].max_sag
    large = sf.solve(model, "far", large_deflection=True)
    assert large.response.large
    assert large.max_sag == pytest.approx(solutions["far, large"].max_sag, rel=1e-6)
    with pytest.raises(DesignError, match="'lift' has sag_feedback but no pressure map"):
        sf.solve(model, "lift", sag_feedback=True)


def test_the_fixture_has_all_there_is_to_see(solutions):
    """Otherwise the tests below test nothing."""
    assert solutions["low"].ground.touches
    assert not solutions["run"].ground.touches
    assert set(solutions["lift"].contacts.touches) >= {"upper lip", "slack"}
    assert "lower lip" in set(solutions["run"].contacts.touches)
    assert "below" in set(solutions["run"].contacts.touches)
    assert solutions["no ground"].min_clearance < 0.0


# the table of contacts ---------------------------------------------------------------------------------


def test_ground_stands_in_the_table_of_contacts(solutions):
    """Newton's first law: supports and ground push up what air and weight push down."""
    low = solutions["low"]
    ground = low.contacts[low.contacts.kind == "ground"]
    assert ground.support.tolist() == ["ground"] * len(low.ground.patches)
    assert ground.place.tolist() == [f"under {patch.under}" for patch in low.ground.patches]
    assert ground.touches.tolist() == ["ground"] * len(ground)
    assert (ground.gap_mm == 0.0).all()
    mass = low.mass
    wanted = low.load.air.downforce + GRAVITY * mass
    assert low.supports.fz_N.sum() + ground.fz_N.sum() == pytest.approx(wanted, rel=1e-6)
    assert not (solutions["run"].contacts.kind == "ground").any()


def test_contacts_become_a_file(solutions, tmp_path):
    paths = write_tables(solutions["low"], tmp_path)
    (path,) = [path for path in paths if path.name == "contacts.csv"]
    assert path.read_text().count("\nground,ground,under ") == len(solutions["low"].ground.patches)


# words -------------------------------------------------------------------------------------------------


def test_one_line_has_both_figures(solutions):
    said, run = repr(solutions["run"]), solutions["run"]
    sag, rest = (f"{1e3 * s.max_sag:.1f} mm" for s in (run, run.at_rest))
    down, still = (f"{s.downforce:.0f} N" for s in (run, run.at_rest))
    assert f"sag {sag}, {rest} if the pressure did not follow the sag" in said
    assert f"downforce {down}, {still} if the pressure did not follow the sag" in said
    assert re.search(r"sag feedback, \d+ Newton steps?$", said)
    assert "if the pressure" not in repr(solutions["low"])
    assert re.search(r"; large deflection, \d+ Newton steps$", repr(solutions["far, large"]))


def test_one_line_says_how_it_lies_on_the_ground(solutions):
    low = solutions["low"]
    hardest = low.ground.patches[0]
    x, y = (f"{1e3 * c:.0f}" for c in hardest.at)
    said = repr(low)
    assert f"0.0 mm, lies on the ground with {low.ground.force:.0f} N" in said.replace(" under keel", "")
    assert f"near x, y {x}, {y} mm" in said
    assert "which" not in said
    assert "comes below the ground" in repr(solutions["no ground"])
    assert "ground with" not in repr(solutions["no ground"])


def test_one_line_warns_outside_the_range(solutions):
    assert "OUTSIDE THE RANGE of a linear solution" in repr(solutions["far"])
    assert "OUTSIDE" not in repr(solutions["run"])
    assert "OUTSIDE" not in repr(solutions["far, large"])


def test_notebook_table_has_it_too(solutions):
    shown = html.unescape(solutions["run"]._repr_html_())
    assert "if the pressure did not follow the sag" in shown
    assert solutions["run"].linear_range.sentence in shown or "too little for stretching to count" in shown
    assert solutions["far"].linear_range.sentence in html.unescape(solutions["far"]._repr_html_())
    assert "Linear solution" not in solutions["far, large"]._repr_html_()


def test_text_says_aloud_what_ends_on_the_ground(text, solutions):
    lines = [line for line in unwrapped(text).split("\n") if "THE GROUND in load case" in line]
    assert lines[0].startswith(
        f"LIES ON THE GROUND in load case 'low' with {solutions['low'].ground.force:.0f} N "
    )
    assert lines[1].startswith("COMES BELOW THE GROUND in load case 'no ground' at x, y ")
    assert all("'run'" not in line for line in lines)


def test_text_says_what_touches(text, solutions):
    lines = unwrapped(text).split("\n")
    (lift,) = [line for line in lines if line.startswith("Touched in 'lift'")]
    assert "slack: strut left, strut right" in lift
    table = solutions["lift"].contacts
    for pocket in ("pocket left", "pocket right"):
        force = table[(table.support == pocket) & (table.touches == "upper lip")].fz_N.sum()
        assert f"upper lip of {pocket} {abs(force):.0f} N" in lift
    assert any(line.startswith("Stops touched in 'run': skid left") for line in lines)
    assert text.count("Friction of pockets, stops and ground is left out.") == 1


def test_nothing_is_said_of_contact_where_there_is_none(solutions):
    design = solutions["run"].model.design
    bolts = [{"name": f"bolt {i}", "at": at} for i, at in enumerate(((0.05, -0.3), (0.05, 0.3), (0.55, 0.0)))]
    plain = design.with_(struts=(), pockets=(), stops=(), pins=(), bolts=bolts)
    said = summary_text([sf.solve(plain, "run", sag_feedback=False)])
    assert "Touched" not in said
    assert "Friction" not in said
    assert IN_BRACKETS not in said


def test_text_has_figures_at_rest_in_brackets(text, solutions):
    run = solutions["run"]
    (row,) = [line for line in text.split("\n") if re.match(r"run +[\d.]+ \(", line)]
    pairs = re.findall(r"(-?[\d.]+) \((-?[\d.]+)\)", row)
    wanted = [
        [f"{1e3 * s.max_sag:.1f}", f"{1e3 * s.min_clearance:.1f}", f"{s.downforce:.0f}"]
        for s in (run, run.at_rest)
    ]
    assert [list(one) for one in zip(*pairs, strict=True)] == wanted
    assert text.count(IN_BRACKETS) == 1


def test_text_warns_where_linear_is_not_enough(text, solutions):
    lines = unwrapped(text).split("\n")
    assert f"WARNING 'far': {solutions['far'].linear_range.sentence}" in lines
    assert any(
        re.fullmatch(r"'far, large': Solved with large deflection, \d+ Newton steps\.", line)
        for line in lines
    )
    (within,) = [line for line in lines if "Linear solution within its range" in line]
    assert "'far'" not in within


# the range of a linear solution ------------------------------------------------------------------------


def test_small_deflections_are_not_looked_at(solutions, monkeypatch):
    """q / q_linear = 1 + 1.852 (w/t)^2 for a round plate with a hinged edge that cannot move in [M]."""
    assert 1.852 * SMALL**2 < MOST_SHARE
    low = solutions["low"]
    solution = sf.solve(low.model, low.case.with_(factor=0.1, ride_height=0.05))
    monkeypatch.setattr("splitterfem.analysis.solution.linear_range", None)
    found = range_of(solution)
    largest = float(np.abs(solution.response.x[2::5]).max()) / 0.009
    assert found.sag_over_thickness == pytest.approx(largest, rel=1e-12)
    assert largest <= SMALL
    assert (found.share, found.within) == (None, True)
    assert "too little for stretching to count" in found.sentence


def test_range_is_none_of_large_deflection(solutions):
    assert range_of(solutions["far, large"]) is None
    far = range_of(solutions["far"])
    assert not far.within
    assert far.share == solutions["far"].linear_range.membrane_share


def test_one_sentence_for_all_that_are_within(solutions):
    chosen = [solutions[name] for name in ("run", "low", "far")]
    warnings, notes = range_sentences(chosen)
    assert [numbers for numbers, _ in warnings] == [(3,)]
    ((numbers, sentence),) = [note for note in notes if "within its range" in note[1]]
    assert numbers == (1, 2)
    most = max(range_of(s).sag_over_thickness for s in chosen[:2])
    assert f"at most {most:.2g} sheet thicknesses" in sentence


# JSON and the command line -----------------------------------------------------------------------------


def test_data_for_machines(solutions):
    found = json.loads(json.dumps(solved_data(list(solutions.values())), allow_nan=False))
    cases = {case["case"]: case for case in found["cases"]}
    low, run = cases["low"], cases["run"]
    assert low["ground"]["force_N"] == pytest.approx(solutions["low"].ground.force)
    assert [p["force_N"] for p in low["ground"]["patches"]] == [
        p.force for p in solutions["low"].ground.patches
    ]
    assert all(("area_mm2" in p) == (p["under"] == "panel") for p in low["ground"]["patches"])
    assert (run["ground"]["patches"], cases["no ground"]["ground"]["counted"]) == ([], False)
    assert len(run["contacts"]) == len(solutions["run"].contacts)
    assert [row["fz_N"] for row in low["contacts"] if row["support"] == "ground"]
    rest = run["without_sag_feedback"]
    assert rest["max_sag_mm"] == pytest.approx(1e3 * solutions["run"].at_rest.max_sag)
    assert rest["downforce_N"] < run["downforce_N"]
    assert low["without_sag_feedback"] is None
    assert (cases["far, large"]["large_deflection"], cases["far, large"]["linear_range"]) == (True, None)
    assert cases["far, large"]["newton_steps"] == solutions["far, large"].response.newton.iterations
    assert cases["far"]["linear_range"]["within"] is False
    assert cases["low"]["newton_steps"] is None


@pytest.fixture(scope="module")
def file(splitter, tmp_path_factory):
    place = tmp_path_factory.mktemp("busy") / "busy.toml"
    sf.save(splitter, place)
    return place


def test_which_cases_can_follow(solutions):
    model = solutions["run"].model
    assert [can_follow(model, name) for name in NAMES] == [True, True, True, False, True, True]


def test_command_line_asks_for_feedback_where_it_can(file, capsys):
    arguments = ["solve", str(file), "--case", "low", "--case", "lift", "--sag-feedback"]
    assert cli.main(arguments) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Solved without sag feedback, for no pressure follows the gap there: 'lift'." in said
    assert re.search(r"'low': Solved with sag feedback, \d+ Newton", said)
    assert cli.main([*arguments, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["cannot_follow_the_sag"] == ["lift"]
    assert found["cases"][0]["without_sag_feedback"] is not None


def test_command_line_asks_for_large_deflection(file, capsys):
    assert cli.main(["solve", str(file), "--case", "far", "--large-deflection"]) == 0
    said = capsys.readouterr().out
    assert "large deflection" in said
    assert "WARNING" not in said
    assert "Solved without" not in said


# pictures ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pictures(solutions):
    return {name: solutions[name].plot_sag() for name in ("run", "low", "lift")}


def legend(ax):
    return [entry.get_text() for entry in ax.get_legend().get_texts()]


def test_lips_are_told_apart_by_shape(pictures):
    (upper,) = artists(pictures["lift"], "touches upper lip")
    (lower,) = artists(pictures["run"], "touches lower lip")
    assert upper.get_marker() != lower.get_marker()
    assert upper.get_markerfacecolor() == lower.get_markerfacecolor()
    assert "pushes on upper lip" in legend(pictures["lift"])
    assert "rests on lower lip" in legend(pictures["run"])


def test_lips_are_marked_where_they_are_touched(pictures, solutions):
    (marks,) = artists(pictures["run"], "touches lower lip")
    table = solutions["run"].contacts
    at = table[(table.touches == "lower lip")][["y_mm", "x_mm"]].to_numpy()
    assert marks.get_xydata() == pytest.approx(at)


def test_slack_struts_look_otherwise(pictures):
    lines = {name: artists(pictures[name], "strut line strut left")[0] for name in ("lift", "run")}
    assert lines["lift"].get_linestyle() != lines["run"].get_linestyle()
    assert "slack strut" in legend(pictures["lift"])
    assert "slack strut" not in legend(pictures["run"])


def test_touched_stops_are_half_filled(pictures, solutions):
    (marks,) = artists(pictures["run"], "touches below")
    table = solutions["run"].contacts
    touched = table[(table.kind == "stop") & (table.fz_N != 0.0)]
    assert len(marks.get_xydata()) == len(touched) > 0
    assert "touches stop below" in legend(pictures["run"])
    assert not artists(pictures["run"], "touches above")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_ground_is_hatched_with_its_force(solutions, unit):
    low = solutions["low"]
    ax = low.plot_clearance(unit=unit)
    areas = [a for a in ax.patches if str(a.get_gid()).startswith("ground ")]
    assert len(areas) == len(low.ground.patches)
    assert all(area.get_hatch() for area in areas)
    scale, words = scale_of(unit), words_for("us" if unit == "in" else "metric")
    for area, patch in zip(areas, low.ground.patches, strict=True):
        box = area.get_path().get_extents()
        y, x = patch.at[1] * scale.per_metre, patch.at[0] * scale.per_metre
        assert box.x0 <= y <= box.x1
        assert box.y0 <= x <= box.y1
    said = [label.get_text() for label in artists(ax, "ground force")]
    assert said == [words.with_unit(patch.force, words.force, 0) for patch in low.ground.patches]
    assert "lies on the ground" in legend(ax)
    assert "lies on the ground" in artists(ax, "call-out")[0].get_text()


def test_marks_are_for_grey_print(pictures):
    """Rec. 601 luma: every mark of a contact is nearly black."""
    for ax in pictures.values():
        for gid in ("touches upper lip", "touches lower lip", "touches below"):
            for mark in artists(ax, gid):
                assert np.dot(to_rgb(mark.get_markerfacecolor()), (0.299, 0.587, 0.114)) < 0.2


def test_picture_of_contacts_alone(solutions):
    for name in ("run", "low", "lift"):
        ax = solutions[name].plot_contacts()
        assert name in ax.get_title(loc="left")
        said = [label.get_text() for label in artists(ax, "contact force")]
        table = solutions[name].contacts
        for stop in table[table.kind == "stop"].itertuples():
            assert (f"{abs(stop.fz_N):.0f} N" if stop.fz_N else f"{stop.gap_mm:.1f} mm open") in said
        assert said.count("slack") == int((table.touches == "slack").sum())
        assert any("Friction of pockets, stops and ground" in label.get_text() for label in ax.texts)


def test_pressure_with_sag_feedback(solutions):
    """p = p_rest h / (h - sag) for an exponent of one: at the largest sag it is highest."""
    run = solutions["run"]
    ax = run.plot_pressure()
    assert "with sag feedback" in ax.get_title(loc="left")
    x, y = run.max_sag_at
    rest = 0.25 * 0.5 * 1.225 * 50.0**2
    pressure = followed_pressure(run)
    assert pressure.at(np.array([x]), np.array([y]))[0] == pytest.approx(
        rest * 0.05 / (0.05 - run.max_sag), rel=1e-3
    )
    bar = next(other for other in ax.figure.axes if other is not ax)
    low, high = bar.get_ylim()
    assert low <= rest
    assert rest < rest * 0.05 / (0.05 - run.max_sag) <= high
    assert "with sag feedback" in artists(run.plot_pressure(title="mine"), "call-out")[0].get_text()
    assert "with sag feedback" not in solutions["low"].plot_pressure().get_title(loc="left")
    assert followed_pressure(solutions["low"]) is None
    with pytest.raises(DesignError, match="needs its load"):
        plot_pressure(run.model.design, run.case, followed=pressure)


def test_pressure_of_combined_cases_that_follow(solutions):
    """Together they have no map of their own, but one pressure; its integral is the downforce."""
    model = solutions["run"].model
    both = sf.LoadCase(
        name="both", combines=[{"case": "run"}, {"case": "far", "factor": 0.02}], sag_feedback=True
    )
    solution = sf.solve(model, both)
    ax = solution.plot_pressure()
    assert f"{solution.load.air.downforce:.0f} N down" in artists(ax, "call-out")[0].get_text()
    titles = [title for title, *_ in distinct_maps([solution])]
    assert titles == ["1  both, with sag feedback"]  # uniform maps have nothing to show at rest


def test_mesh_file_has_the_pressure_and_the_ground(solutions, tmp_path):
    import meshio

    low, run = (meshio.read(write_vtu(solutions[n], tmp_path / f"{n}.vtu")) for n in ("low", "run"))
    (force,) = low.cell_data["ground_force_N"]
    of_panel = sum(p.force for p in solutions["low"].ground.patches if p.under == "panel")
    assert force.sum() == pytest.approx(of_panel, rel=1e-9, abs=1e-12)
    assert (run.cell_data["ground_force_N"][0] == 0.0).all()
    rest = 0.25 * 0.5 * 1.225 * 50.0**2
    sag = 1e-3 * run.point_data["sag_mm"]
    assert run.point_data["net_pressure_Pa"] == pytest.approx(rest * 0.05 / (0.05 - sag), rel=1e-9)


# the report --------------------------------------------------------------------------------------------


def test_report_has_a_table_of_contacts(data, solutions):
    (table,) = data["contacts"]["tables"]
    rows = {(row[0], row[1]): row[2:] for row in table["rows"]}
    assert table["headings"][2:] == [f"case {n}\nN" for n in range(1, 7)]
    ground = [row for row in table["rows"] if row[0] == "ground"]
    low = sum(float(row[2 + NAMES.index("low")]) for row in ground)
    assert low == pytest.approx(solutions["low"].ground.force, abs=0.5 * len(ground))
    assert [table["rows"][i][0] for i in table["alarms"]] == ["ground"] * len(ground)
    assert rows["strut left", "strut, axial"][NAMES.index("lift")] == "slack"
    force = solutions["run"].supports.set_index("support").axial_N["strut left"]
    assert rows["strut left", "strut, axial"][0] == f"{force:.0f}"
    assert rows["bracket", "stop"][0].endswith("mm open")
    assert rows["skid left", "stop"][0].endswith(" below")
    assert rows["pocket left", "upper lip"][NAMES.index("lift")] != "\N{EN DASH}"
    assert data["contacts"]["friction"] == "Friction of pockets, stops and ground is left out."


def test_report_says_what_lies_on_the_ground(data, solutions):
    first, second = data["contacts"]["ground"][:2]
    assert first.startswith(f"Load case 2 lies on the ground with {solutions['low'].ground.force:.0f} N")
    assert second.startswith("Load case 3 comes below the ground")
    assert {1, 2} <= set(data["results"]["alarms"])
    assert 0 not in data["results"]["alarms"]


def test_report_has_both_figures_side_by_side(data, solutions):
    run = solutions["run"]
    (row,) = data["followed"]["rows"]
    assert row[:2] == ["1", "run"]
    assert row[2:4] == [f"{1e3 * s.max_sag:.1f}" for s in (run, run.at_rest)]
    assert row[6:8] == [f"{s.downforce:.0f}" for s in (run, run.at_rest)]
    assert len(data["followed"]["headings"]) == len(row)


def test_report_warns_and_notes_the_range(data, solutions):
    assert data["range"]["warnings"] == [f"Load case 5: {solutions['far'].linear_range.sentence}"]
    assert any(
        re.fullmatch(r"Load case 6: Solved with large deflection, \d+ Newton steps\.", n)
        for n in data["range"]["notes"]
    )


def test_report_explains_the_marks(data, solutions):
    for word in ("upper lip", "lower lip", "half-filled stop", "dotted strut", "lies on the ground"):
        assert word in data["marks"]
    run = report_data([solutions["run"]], METRIC, DAY)
    assert "upper lip" not in run["marks"]
    assert "on the ground" not in run["marks"]


def test_report_says_what_was_modelled(solutions):
    every = list(solutions.values())
    first = assumptions(every, METRIC)[0]
    assert "In load case 6 slopes stretch panel and ribs" in first
    assert "In load case 1 the air's pressure follows the gap" in first
    assert "load cases 3, 5 and 6 leave it out" in first
    plain = assumptions([solutions["low"]], METRIC)[0]
    assert "slopes do not stretch the panel" in plain
    assert "does not follow the gap" in plain
    assert "the ground is not in the model" not in " ".join(assumptions(every, METRIC))
    missing = " ".join(cautions(every, losses=False))
    assert "suction that rises as the panel sags (but for load case 1)" in missing
    assert "suction" not in " ".join(cautions([solutions["run"]], losses=False))


def test_report_tells_the_residual_of_the_contact_law(data, solutions):
    worst = max(s.response.play_residual for s in solutions.values())
    assert f"contact law {worst:.0e}" in data["checks"]


# the worst, the rulebook, the loss of a part -----------------------------------------------------------


def test_worst_of_cases_on_the_ground(solutions):
    chosen = [solutions["run"], solutions["low"]]
    table = worst_of(chosen)
    rows = table.set_index("measure")
    assert rows.loc["smallest gap to the ground", ["value", "case"]].tolist() == [0.0, "low"]
    assert rows.loc[ON_GROUND, "value"] == pytest.approx(solutions["low"].ground.force)
    shown, _ = worst_table(table, ["run", "low"], METRIC)
    alarmed = [shown["rows"][i][0] for i in shown["alarms"]]
    assert {"smallest gap to the ground", ON_GROUND} <= set(alarmed)
    assert ON_GROUND not in set(worst_of(chosen[:1]).measure)


def test_of_two_on_the_ground_the_harder_is_the_worse(solutions):
    low = solutions["low"]
    lower = sf.solve(low.model, low.case.with_(name="lower", ride_height=0.0045))
    assert lower.ground.force > low.ground.force
    rows = worst_of([low, lower]).set_index("measure")
    assert rows.loc["smallest gap to the ground", "case"] == "lower"


def test_clearance_limit_on_the_ground(solutions):
    """The gap is zero and the limit 10 mm: outside by all of it."""
    checks = check_envelope(solutions["low"].model.design, [solutions["low"]])
    (check,) = [check for check in checks if check.rule == "clearance, low"]
    assert (check.found, check.verdict) == (0.0, "outside")
    assert check.distance == pytest.approx(-0.01)
    said = verdict_words([check], scale_of("mm"))
    assert said[0].startswith("OUTSIDE the limit 'clearance, low' by 10.0 mm: ")
    assert said[0].endswith("lies on the ground.")


def test_losses_may_end_on_the_ground(splitter, solutions):
    """With a strut gone the corner comes down; what the ground holds up has a gap of zero."""
    near = splitter.case("low").with_(ride_height=0.012)
    table = sf.lose_one(solutions["low"].model, near).set_index("lost")
    on_it = table[table.outcome == "touches the ground"]
    assert len(on_it)
    assert (on_it.min_clearance_mm == 0.0).all()
    assert on_it.touches_ground.all()
    assert (table[table.outcome == "held"].min_clearance_mm > 0.0).all()
