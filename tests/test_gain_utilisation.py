"""Gain on utilisations: against full solutions with the rib or strut really there, and against proportion.

A check of a linear solution whose formula is of first degree in what acts changes in proportion to it: its derivative
times the state is the ratio itself (Euler's theorem on homogeneous functions).
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.stats import spearmanr
from tiny_panel import tiny_panel
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem import analysis
from splitterfem.analysis.gain import rib_gain
from splitterfem.analysis.gain_line import laid, line_gain, with_ribs
from splitterfem.analysis.gain_moves import move_gains
from splitterfem.analysis.gain_struts import strut_gain
from splitterfem.analysis.sensitivity import sensitivity
from splitterfem.cli import main
from splitterfem.design import Rib
from splitterfem.errors import DesignError
from splitterfem.model import Model, build
from splitterfem.strength.assess import assess
from splitterfem.strength.differences import differences
from splitterfem.strength.gain_measure import UtilisationMeasure, judged
from splitterfem.strength.governing import FAMILIES, UTILISATIONS, key_of

EVERY = tuple(UTILISATIONS[1:])
TUBE = {"shape": "tube", "width": 0.02, "height": 0.02, "wall": 0.002}
LINE = ((0.13, -0.21), (0.42, -0.04), (0.51, 0.17))
SCREWS = {"kind": "screws", "diameter": 0.004, "pitch": 0.06}


def metal(share: float) -> dict[str, Any]:
    """Aluminium of which only a share is there."""
    return {"name": "some of it", "E": share * 69e9, "nu": 0.33, "density": share * 2700.0}


@cache
def model(joint: str = "glue") -> Model:
    """A panel with parts of every family, the rib of it glued or screwed, and cases of every kind."""
    air = {"speed": 75.0, "pressure": {"kind": "uniform", "cp": 0.8}}
    follows = {"kind": "uniform", "cp": 0.8, "gap_exponent": 1.0}
    ribs = [
        {
            "name": "long",
            "points": [(0.29, -0.25), (0.32, 0.25)],
            "section": TUBE,
            "material": "6061-T6 extrusion",
        }
    ]
    if joint == "screws":
        ribs[0] |= {"joint": SCREWS}
    change: dict[str, Any] = {} if joint == "glue" else {"ribs": ribs}
    cases = [
        {"name": "air", **air},
        {"name": "far", **air, "large_deflection": True},
        {"name": "all", "speed": 60.0, "large_deflection": True, "sag_feedback": True, "pressure": follows},
        {"name": "low", **air, "ride_height": 0.004, "ground": True},
    ]
    strut = {
        "name": "strut",
        "foot": (0.5, 0.1),
        "head": (0.4, 0.1, 0.3),
        "diameter": 0.006,
        "bracket_height": 0.03,
    }
    return build(weak_panel(mesh={"size": 0.2, "pad_size": 0.05}, cases=cases, struts=[strut], **change))


@cache
def solved(case: str, joint: str = "glue") -> analysis.Solution:
    return analysis.solve(model(joint), case)


KEPT: dict[tuple[int, str], tuple[analysis.Solution, Any]] = {}


def governed(solution: analysis.Solution, name: str) -> Any:
    """Find the check that governs and its family, once for each solution, which is kept: its id is its own."""
    if (id(solution), name) not in KEPT:
        KEPT[id(solution), name] = solution, judged(solution, name)[0][0]
    return KEPT[id(solution), name][1]


def same_check(solution: analysis.Solution, name: str, near: analysis.Solution) -> float:
    """Read the check that governs one solution off another."""
    check, family = governed(solution, name)
    return max(one.ratio for one in FAMILIES[family](near) if key_of(one) == key_of(check))


@pytest.mark.parametrize(("case", "joint"), [("air", "glue"), ("far", "screws")])
@pytest.mark.parametrize("name", EVERY)
def test_derivatives_are_those_of_differences(case: str, joint: str, name: str) -> None:
    """Along the state, and along random changes of all unknowns and forces, the check is read anew."""
    solution = solved(case, joint)
    response, slopes = solution.response, UtilisationMeasure(name).slopes(solution)
    random = np.random.default_rng(5)
    share = 1e-6 * random.standard_normal((1, len(response.x)))
    ways = [(1e-5 * response.x, 1e-5 * response.extra, 1e-5 * response.force)]
    ways += [(part * response.x, 1e-6 * response.extra, 1e-5 * response.force) for part in share]
    for x, extra, force in ways:
        ahead, behind = (
            replace(
                solution,
                response=replace(
                    response,
                    x=response.x + h * x,
                    extra=response.extra + h * extra,
                    force=response.force + h * force,
                ),
            )
            for h in (0.1, -0.1)
        )
        change = (same_check(solution, name, ahead) - same_check(solution, name, behind)) / 0.2
        told = slopes.by_unknowns @ np.concatenate([x, extra]) + slopes.by_forces @ force
        assert told == pytest.approx(change, rel=1e-5)


@pytest.mark.parametrize("name", ["utilisation of joints", "utilisation of hardware"])
def test_a_check_in_proportion_is_its_derivative_times_the_state(name: str) -> None:
    """Euler's theorem: the ratio itself, from the derivative alone."""
    solution = solved("air")
    slopes, response = UtilisationMeasure(name).slopes(solution), solution.response
    euler = (
        slopes.by_unknowns @ np.concatenate([response.x, response.extra]) + slopes.by_forces @ response.force
    )
    assert euler == pytest.approx(slopes.measure.value, rel=1e-8)


def soft_rib(case: str, joint: str, name: str, *shares: float) -> tuple[float, list[float]]:
    """Gain to first order with the first share of a rib, and what full solutions with the rib there say of each."""
    measure, found = UtilisationMeasure(name), []
    of = sensitivity(solved(case, joint), measure)
    for share in shares:
        rib = Rib(name="new rib", points=LINE, section=TUBE, material=metal(share))
        near = analysis.solve(with_ribs(of.solution.model, [rib]), of.solution.case)
        found.append(of.measure.value - same_check(of.solution, name, near))
    first = Rib(name="new rib", points=LINE, section=TUBE, material=metal(shares[0]))
    return line_gain(of, laid(of.solution.model, first)), found


@pytest.mark.parametrize("joint", ["glue", "screws"])
@pytest.mark.parametrize("name", EVERY)
def test_a_weak_rib_does_what_the_gain_says(joint: str, name: str) -> None:
    """A bent rib between mesh lines of which next to nothing is there: else the worst place is soon its neighbour."""
    told, (found,) = soft_rib("air", joint, name, 1e-7)
    assert told == pytest.approx(found, rel=1e-3)


@pytest.mark.parametrize("name", EVERY)
def test_one_per_cent_of_a_rib(name: str) -> None:
    """The limit of first order, extrapolated from ribs of a per cent, of half of it and so on (Richardson, Romberg)."""
    shares = 1e-2 * 0.5 ** np.arange(4)
    told, found = soft_rib("air", "glue", name, *shares)
    slopes = np.array(found) / shares
    for order in range(1, len(shares)):
        slopes = (2.0**order * slopes[1:] - slopes[:-1]) / (2.0**order - 1.0)
    assert told / shares[0] == pytest.approx(slopes[0], rel=2e-2)


@pytest.mark.parametrize(
    ("case", "name"),
    [
        ("far", "utilisation of panel"),
        ("all", "utilisation of hardware"),
        ("low", "utilisation of panel"),
    ],
)
def test_so_it_does_in_cases_of_every_kind(case: str, name: str) -> None:
    """Large deflection, air that follows the sag besides, the ground."""
    told, (found,) = soft_rib(case, "glue", name, 1e-7)
    assert told == pytest.approx(found, rel=5e-3)
    assert solved("low").ground.touches


@pytest.mark.parametrize("name", ["utilisation of joints", "utilisation of hardware"])
def test_a_soft_strut(name: str) -> None:
    """Exact while the same check governs, as the checks of bond and bolts are in proportion to what acts."""
    gain = strut_gain(model(), "air", stiffness=2e3, measure=UtilisationMeasure(name))
    for i in np.linspace(0, len(gain.field.values) - 1, 5, dtype=int):
        at = float(gain.field.x[i]), float(gain.field.y[i])
        tried = gain.tried(*at)
        if tried.at == gain.measure.at:
            assert gain.field.values[i] == pytest.approx(tried.better_than(gain.measure), rel=1e-6)


@pytest.mark.slow
def test_struts_are_ranked_as_full_solutions_rank_them() -> None:
    """Of a stiff strut, with the next checks watched as well: the worst of all families."""
    gain = strut_gain(model(), "air", stiffness=2e5, measure=UtilisationMeasure("worst utilisation"))
    some = np.linspace(0, len(gain.field.values) - 1, 15, dtype=int)
    field = gain.field
    tried = [gain.tried(field.x[i], field.y[i]).better_than(gain.measure) for i in some]
    assert spearmanr(tried, field.values[some]).statistic > 0.9
    # no ratio falls below zero
    assert field.values.max() < gain.measure.value


@pytest.mark.slow
def test_ribs_are_ranked_as_full_solutions_rank_them() -> None:
    """Light ribs all over the panel, the check that governs now read off each solution."""
    name = "utilisation of hardware"
    gain = rib_gain(model(), "air", section=TUBE, material=metal(0.01), measure=UtilisationMeasure(name))
    random = np.random.default_rng(3)
    told, found = [], []
    for _ in range(12):
        middle, angle = random.uniform((0.15, -0.15), (0.45, 0.15)), random.uniform(0.0, np.pi)
        way = 0.1 * np.array([np.cos(angle), np.sin(angle)])
        line = [tuple(middle - way), tuple(middle + way)]
        near = analysis.solve(with_ribs(gain.model, gain._laid(line)), "air")
        told.append(gain.along(line))
        found.append(gain.measure.value - same_check(gain.of.solution, name, near))
    assert spearmanr(told, found).statistic > 0.95


def test_moving_a_bolt() -> None:
    """Against full solutions of moved designs on the same mesh: the ratio of a bolt's neighbour."""
    of = sensitivity(solved("air"), UtilisationMeasure("utilisation of joints"))
    (move,) = move_gains(of, ["bolt 4"])
    h = 1e-3
    ratios = []
    for by in (h, -h):
        changed = model().design.moved("bolt 4", dx=by)
        near = analysis.solve(model().for_design(changed), "air")
        ratios.append(same_check(of.solution, "utilisation of joints", near))
    assert move.forward == pytest.approx(-(ratios[0] - ratios[1]) / (2.0 * h), rel=1e-2)


def test_the_worst_is_that_of_the_strength_table() -> None:
    solution = solved("air")
    measure = UtilisationMeasure("worst utilisation").read(solution)
    worst = max((check for check in assess(solution) if check.ratio > 0.0), key=lambda check: check.ratio)
    assert measure.value == worst.ratio
    assert measure.at == (worst.x, worst.y)
    assert (measure.unit, measure.heading, measure.per_unit) == ("-", "ratio", 1.0)


def test_what_does_not_change_with_the_load_is_left_out() -> None:
    """The overlap of a rear pocket, half used up whatever acts; it is the highest ratio by far, and a note says so."""
    corners = {
        "pockets": [
            {"name": "pocket", "mirror": True, "mouth": (0.05, 0.2), "width": 0.1, "overlap": 0.04,
             "clearance_up": 2e-4, "clearance_down": 2e-4}
        ],
        "bolts": [{"name": f"bolt {y}", "at": (0.3, y), "holds": "xyz", "diameter": 0.006} for y in (-0.2, 0.2)],
        "cases": [{"name": "lean"}],
    }  # fmt: skip
    gain = sf.strut_gain(tiny_panel(**corners), "lean", measure="worst utilisation")
    highest = max(assess(gain.of.solution), key=lambda check: np.nan_to_num(check.ratio))
    assert highest.mode == "overlap"
    assert gain.measure.value < highest.ratio
    assert any("Left out" in note and "overlap of pocket" in note for note in gain.notes)


def test_differences_find_what_few_numbers_do() -> None:
    """The largest of many, and a product of two far apart: by hand."""
    values = np.linspace(1.0, 2.0, 201)
    assert differences(lambda v: float(v.max()), values) == pytest.approx(np.eye(201)[200], abs=1e-9)
    product = differences(lambda v: float(v[3] * v[150]), values)
    expected = np.zeros(201)
    expected[[3, 150]] = values[150], values[3]
    assert product == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_tables_words_and_picture() -> None:
    """A ratio has no unit anywhere."""
    gain = sf.rib_gain(
        model(), "air", section=TUBE, material="6061-T6 extrusion", measure="worst utilisation"
    )
    table = gain.table
    assert {"first_order_ratio", "whole_ratio", "with_it_ratio", "better_ratio"} <= set(table.columns)
    assert table["with_it_ratio"][0] == pytest.approx(gain.measure.value - table["better_ratio"][0])
    line = repr(gain)
    assert f"worst utilisation {gain.measure.value:.2f}, at best" in line
    assert " - " not in line
    assert "%" not in line
    axes = gain.plot(tried=False)
    assert axes.get_figure().axes[1].get_ylabel() == "gain to first order (per m of rib)"
    struts = sf.strut_gain(model(), "air", measure="worst utilisation")
    drawn = struts.plot(count=1, tried=False)
    assert drawn.get_figure().axes[1].get_ylabel() == "worst utilisation less with a strut there"


def test_on_the_command_line(tmp_path, capsys) -> None:
    path = tmp_path / "tiny.toml"
    sf.save(tiny_panel(), path)
    asked = ["gain", str(path), "--measure", "worst utilisation", "--length", "200 mm"]
    assert main([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    measure = UtilisationMeasure("worst utilisation").read(analysis.solve(build(sf.load(path)), "lean"))
    for part in ("rib_gain", "strut_gain"):
        assert told[part]["now_ratio"] == pytest.approx(measure.value, rel=1e-9)
    assert main([*asked, "--new", "strut"]) == 0
    written = capsys.readouterr().out
    assert f"worst utilisation {measure.value:.2f} now" in written
    assert "worst utilisation with it " in written


def test_what_is_refused() -> None:
    with pytest.raises(DesignError, match=r"no measure 'utilisation of rib'.*utilisation of ribs"):
        sf.rib_gain(model(), "air", section=TUBE, material="6061-T6 extrusion", measure="utilisation of rib")
    with pytest.raises(DesignError, match=r"Nothing of 'tiny' gives 'utilisation of joints'"):
        sf.strut_gain(tiny_panel(), "lean", measure="utilisation of joints")
