"""What a study changes, and what it reads off each layout."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tiny_panel import CASES, TUBE, same, tiny_panel

import splitterfem as sf
from splitterfem.layouts.choices import Layout
from splitterfem.layouts.measures import NAMES
from splitterfem.layouts.parameters import Parameter, parameter, parameters
from splitterfem.layouts.plan import plan_from, plan_of

FLAT = {"shape": "flat", "width": "40 mm", "height": "6 mm"}


@pytest.fixture(scope="module")
def tiny():
    return tiny_panel()


def laid_out(base, changes, *cells):
    return Layout(base, parameters(base, changes), cells).design()


@pytest.mark.parametrize(
    ("changes", "cell", "by_hand"),
    [
        ({"panel.sheet.thickness": ["9 mm", "1/2 in"]}, 12.7, lambda s: s.with_("panel.sheet.thickness", "1/2 in")),
        ({("tube", "dx"): ("-30 mm", "30 mm", 3)}, 30.0, lambda s: s.moved("tube", dx="30 mm")),
        ({("tube", "dy"): ("-1 in", "1 in")}, 0.5, lambda s: s.moved("tube", dy="0.5 in")),
        ({("tube", "present"): None}, False, lambda s: s.without("tube")),
        ({("tube", "present"): None}, True, lambda s: s),
        ({"ribs.tube.section": {"flat": FLAT, "tube": TUBE}}, "flat", lambda s: s.with_part("tube", section=FLAT)),
        ({"bolts.bolt 1.at.x": ("20 mm", "50 mm")}, 42.5, lambda s: s.with_part("bolt 1", at=("42.5 mm", "-0.2 m"))),
        (
            {("bolts.bolt 1.at.x", "bolts.bolt 2.at.x"): ["35 mm"]},
            35.0,
            lambda s: s.with_part("bolt 1", at=("35 mm", "-0.2 m")).with_part("bolt 2", at=("35 mm", "0.2 m")),
        ),
        ({"panel.sheet.grain_angle": [0.0, "90 deg"]}, 90.0, lambda s: s.with_("panel.sheet.grain_angle", "90 deg")),
        ({lambda s, v: s.moved("tube", dx=v): [0.01, 0.02]}, 0.02, lambda s: s.moved("tube", dx=0.02)),
    ],
)  # fmt: skip
def test_a_layout_is_the_design_that_the_same_change_makes_by_hand(tiny, changes, cell, by_hand):
    assert laid_out(tiny, changes, cell) == by_hand(tiny)


def test_units_of_columns_are_those_in_which_the_values_are_given(tiny):
    chosen = parameters(
        tiny,
        {
            "panel.sheet.thickness": ["3/8 in", "12 mm"],
            ("tube", "dx"): (-0.01, 0.01, 3),
            "car.rake": ["0 deg", "1 deg"],
            "cases.air.speed": ("60 mph", "120 mph", 3),
            ("tube", "present"): None,
            "panel.sheet.material": ["birch plywood 9 mm", "birch plywood 12 mm"],
        },
    )
    assert [one.column for one in chosen] == [
        "panel.sheet.thickness in", "tube dx mm", "car.rake deg", "cases.air.speed mph", "tube present",
        "panel.sheet.material",
    ]  # fmt: skip
    assert chosen[0].cells[0] == 0.375
    assert chosen[1].cells == (-10.0, 0.0, 10.0)
    assert chosen[3].cells == (60.0, 90.0, 120.0)


def test_changes_are_judged_together_and_not_one_by_one(tiny):
    """Two ribs that swap their places would be refused half way."""
    second = {"name": "second", "points": [("100 mm", "-250 mm"), ("100 mm", "250 mm")], "section": TUBE,
              "material": "6061-T6 extrusion"}  # fmt: skip
    two = tiny.with_(ribs=(*tiny.ribs, sf.Rib(**second)))
    with pytest.raises(sf.DesignError):
        two.moved("tube", dx="-100 mm")
    changes = {("tube", "dx"): ["-100 mm"], ("second", "dx"): ["100 mm"]}
    made = laid_out(two, changes, -100.0, 100.0)
    assert made.part("tube").points[0][0] == pytest.approx(0.1)
    assert made.part("second").points[0][0] == pytest.approx(0.2)


def test_a_change_that_only_fits_after_another_waits_for_it(tiny):
    """Two rows of wide fasteners do not fit on the flat that the rib begins with."""
    narrow = tiny.with_part("tube", section={"shape": "flat", "width": "12 mm", "height": "6 mm"})
    rows = {"kind": "screws", "diameter": "8 mm", "pitch": "40 mm", "rows": 2}
    changes = {"ribs.tube.joint": {"rows": rows}, "ribs.tube.section": {"tube": TUBE}}
    assert laid_out(narrow, changes, "rows", "tube").part("tube").joint.rows == 2


def test_what_is_said_of_a_part_that_is_left_out_does_not_count(tiny):
    changes = {
        ("tube", "dx"): ("-30 mm", "30 mm"),
        "ribs.tube.section": {"flat": FLAT},
        ("tube", "present"): None,
    }
    chosen = parameters(tiny, changes)
    one, other = (Layout(tiny, chosen, (x, "flat", False)) for x in (-5.0, 12.0))
    assert one.key == other.key
    assert one.design() == tiny.without("tube")
    assert Layout(tiny, chosen, (-5.0, "flat", True)).key != Layout(tiny, chosen, (12.0, "flat", True)).key


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"panel.sheet.thicknes": ["9 mm"]}, "did you mean 'thickness'"),
        ({("tub", "dx"): ["9 mm"]}, "there is no part 'tub'; did you mean 'tube'"),
        ({"panel.sheet.thickness": ["9 kg"]}, "is a mass, not a length"),
        ({"panel.sheet.thickness": ("12 mm", "9 mm", 4)}, "does not rise"),
        ({"panel.sheet.thickness": ("9 mm", "12 mm", 1)}, "a range of 1 values"),
        ({"panel.sheet.thickness": []}, "it has 0 values"),
        ({"panel.sheet.thickness": ["9 mm", "9 mm"]}, "the value 9.0 twice"),
        ({"ribs.tube.section": [FLAT]}, "give a mapping with a label"),
        ({"ribs.tube.section": ("a", "b")}, "only quantities and numbers have ranges"),
        ({("panel.sheet.thickness", "car.rake"): ["9 mm"]}, "places of different kinds"),
        ({("tube", "present"): ["yes"]}, "a part is there or not"),
        ({3: [1]}, "which is no place in a design"),
        ({}, "at least one parameter"),
    ],
)
def test_a_change_that_is_none_is_refused_in_one_sentence(tiny, changes, said):
    with pytest.raises(sf.DesignError, match=said) as problem:
        parameters(tiny, changes)
    assert "\n" not in str(problem.value)


def test_two_parameters_of_one_name_are_refused(tiny):
    one = parameter(tiny, ("tube", "dx"), ("0 mm", "10 mm", 2), name="place")
    other = parameter(tiny, ("tube", "dy"), ("0 mm", "10 mm", 2), name="place")
    with pytest.raises(sf.DesignError, match="Two parameters of a study are called 'place mm'"):
        parameters(tiny, [one, other])


def test_a_plan_written_down_and_read_again_is_the_same(tiny):
    changes = {("tube", "dx"): ("-30 mm", "30 mm", 5), "ribs.tube.section": {"flat": FLAT, "own": tiny.ribs[0].section},
               ("tube", "present"): None, "panel.sheet.thickness": ("9 mm", "18 mm")}  # fmt: skip
    plan = plan_of("search", tiny, changes, CASES, ["mass", ("390 mm", "0 mm"), "cost"], more={"seed": 3})
    again = plan_from(plan.header)
    assert again.header == plan.header
    assert again.fingerprint == plan.fingerprint
    assert again.base == tiny
    cells = (5.0, "own", True, 12.25)
    assert again.layout(cells).design() == plan.layout(cells).design()
    assert all(isinstance(one, Parameter) for one in again.parameters)


def test_measures_are_the_figures_of_each_solution_and_the_worst_of_them(tiny):
    places = [("390 mm", "0 mm")]
    study = sf.study.sweep(tiny, {("tube", "dx"): ["20 mm"]}, CASES, measures=[*NAMES, *places])
    row = study.table.loc[1]
    design = tiny.moved("tube", dx="20 mm")
    solutions = {case: sf.solve(design, case) for case in CASES}
    for case, solution in solutions.items():
        assert row[f"{case}: worst sag mm"] == pytest.approx(1e3 * solution.max_sag, rel=1e-9)
        assert row[f"{case}: least clearance mm"] == pytest.approx(1e3 * solution.min_clearance, rel=1e-9)
        assert row[f"{case}: sag at (390, 0) mm"] == pytest.approx(
            1e3 * float(solution.sag_at(0.39, 0.0)), rel=1e-9
        )
        assert row[f"{case}: worst utilisation"] == pytest.approx(solution.utilisation.ratio.max(), rel=1e-9)
    worst = sf.worst_of_cases(design).set_index("measure")
    assert row["worst sag mm"] == pytest.approx(worst.value["largest sag"], rel=1e-9)
    assert row["worst sag in"] == worst.case["largest sag"] == "lean"
    assert row["least clearance mm"] == pytest.approx(worst.value["smallest gap to the ground"], rel=1e-9)
    assert row["downforce N"] == pytest.approx(solutions["air"].downforce, rel=1e-12)
    assert math.isnan(row["lean: downforce N"])
    bill = sf.bill_of_materials(design).query("kind == 'total'").iloc[0]
    assert row["mass kg"] == pytest.approx(bill.mass_kg, rel=1e-12)
    assert row["cost EUR"] == pytest.approx(bill.cost, rel=1e-12)
    assert row["first frequency Hz"] == pytest.approx(
        sf.natural_frequencies(design, 1).frequencies[0], rel=1e-6
    )
    # rear-most point of the panel is at x = 0, the limit at -20 mm
    assert row["envelope distance mm"] == pytest.approx(20.0, abs=0.02)
    assert row["envelope limit"] == "rear"
    top = solutions["lean"].utilisation.iloc[0]
    assert row["worst utilisation of"] == f"{top.part}: {top['mode']}"


def test_a_layout_that_cannot_be_built_or_solved_is_a_row_with_the_reason(tiny):
    holds = tuple(f"bolts.bolt {number}.holds" for number in (1, 2, 3, 4))
    changes = {("tube", "dx"): ["0 mm", "190 mm"], holds: ["xyz", "xy"]}
    table = sf.study.sweep(tiny, changes, "lean", measures=["worst sag", "mass"]).table
    assert list(table.refused == "") == [True, False, False, False]
    assert "panel" in table.refused[3]  # the tube reaches past the edge
    assert "hold" in table.refused[2]  # nothing holds the panel up
    assert np.isnan(table["worst sag mm"][2])
    assert table["mass kg"][2] == pytest.approx(table["mass kg"][1])
    assert "\n" not in "".join(table.refused)


def test_a_function_that_breaks_down_is_a_row_and_not_a_crash(tiny):
    def broken(splitter, value):
        raise ZeroDivisionError(f"value {value}")

    table = sf.study.sweep(tiny, {broken: [1, 2]}, "lean", measures=["mass"]).table
    assert list(table.refused) == [
        "unexpected ZeroDivisionError: value 1",
        "unexpected ZeroDivisionError: value 2",
    ]


@pytest.mark.parametrize("options", [{"workers": 2}, {"file": "study.jsonl"}])
def test_functions_stay_in_this_process_and_out_of_files(tiny, options, tmp_path):
    options = {key: tmp_path / value if key == "file" else value for key, value in options.items()}
    with pytest.raises(sf.DesignError, match="is a Python function, which can neither be kept in a file"):
        sf.study.sweep(tiny, {lambda s, v: s: [1]}, "lean", **options)


@pytest.mark.parametrize(
    ("measures", "said"),
    [
        (["worst sagg"], "did you mean 'worst sag'"),
        ([], "at least one measure"),
        ([("1 mm", "2 mm", "3 mm")], "is no measure"),
        ([{"sag": 3}], "is none; write"),
    ],
)
def test_a_measure_that_is_none_is_refused(tiny, measures, said):
    with pytest.raises(sf.DesignError, match=said):
        sf.study.sweep(tiny, {("tube", "dx"): ["0 mm"]}, "lean", measures=measures)


def test_no_envelope_no_distance_to_it(tiny):
    with pytest.raises(sf.DesignError, match="'tiny' has none"):
        sf.study.sweep(
            tiny_panel(envelope=None), {("tube", "dx"): ["0 mm"]}, "lean", measures=["envelope distance"]
        )


def test_costs_in_two_currencies_are_not_added(tiny):
    """The catalogue's prices are in euro; a layout that needs one cannot be compared in dollars."""
    dollars = tiny_panel(currency="USD")
    doubled = {"plywood": {"material": "birch plywood 12 mm", "thickness": "12 mm"},
               "given": {"material": "birch plywood 12 mm", "thickness": "12 mm", "cost_per_area": 40.0}}  # fmt: skip
    table = sf.study.sweep(dollars, {"panel.sheet": doubled}, "lean", measures=["cost"]).table
    assert "give all prices in one currency" in table.refused[1]
    assert table.refused[2] == ""
    assert "cost USD" in table.columns


def test_a_load_case_of_ones_own_and_an_unknown_one(tiny):
    own = sf.LoadCase(name="own weight doubled", acceleration=(0.0, 0.0, 9.81))
    study = sf.study.sweep(tiny, {("tube", "dx"): ["0 mm"]}, [own, "lean"], measures=["worst sag"])
    sag = 1e3 * sf.solve(tiny, own).max_sag
    assert study.table["own weight doubled: worst sag mm"][1] == pytest.approx(sag, rel=1e-9)
    with pytest.raises(sf.DesignError, match="there is no load case 'leen'; did you mean 'lean'"):
        sf.study.sweep(tiny, {("tube", "dx"): ["0 mm"]}, "leen")


def test_the_mesh_of_the_base_is_taken_over_just_where_it_is_the_same(tiny):
    """Solving on it gives the figures of a mesh made anew, to rounding."""
    changes = {
        "panel.sheet.thickness": ["9 mm", "12 mm"],
        "ribs.tube.material": ["6061-T6 extrusion", "mild steel"],
    }
    study = sf.study.sweep(tiny, changes, "lean", measures=["worst sag"])
    for layout, sag in study.table["worst sag mm"].items():
        assert 1e3 * sf.solve(study.design(layout), "lean").max_sag == pytest.approx(sag, rel=1e-9)


def test_a_shared_mesh_is_near_to_a_fresh_one_and_says_its_model(tiny):
    """A few per cent, see `sf.study.sweep`; the model gives the row's figures."""
    changes = {("tube", "dx"): ("-40 mm", "40 mm", 3)}
    fresh = sf.study.sweep(tiny, changes, "lean", measures=["worst sag"])
    shared = sf.study.sweep(tiny, changes, "lean", measures=["worst sag"], fresh_mesh=False)
    a, b = (study.table["worst sag mm"].to_numpy() for study in (fresh, shared))
    assert a[1] == pytest.approx(b[1], rel=1e-9)
    np.testing.assert_allclose(b, a, rtol=0.1)
    assert not np.allclose(b, a, rtol=1e-6)
    for study in (fresh, shared):
        sag = 1e3 * sf.solve(study.model(3), "lean").max_sag
        assert sag == pytest.approx(study.table["worst sag mm"][3], rel=1e-9)


def test_the_order_of_layouts_does_not_matter(tiny):
    changes = {("tube", "dx"): ["-20 mm", "20 mm"]}
    turned = {("tube", "dx"): ["20 mm", "-20 mm"]}
    one = sf.study.sweep(tiny, changes, CASES).table
    other = sf.study.sweep(tiny, turned, CASES).table.iloc[::-1]
    same(one, other.set_axis(one.index))
