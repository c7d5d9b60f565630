"""Sweeps over speed, first ground touch and divergence of designs: closed forms, single solves, faults.

Sources: a rigid plate on a spring k over a gap h0, pushed by ``F0 (h0 / h)^n``, is a scalar equation, written out where
it is used; Bisplinghoff, Ashley & Halfman, Aeroelasticity (1955), ch. 8, on static divergence (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

import splitterfem as sf
from splitterfem.analysis.atspeed import AtSpeed
from splitterfem.analysis.divergence_words import FLUTTER
from splitterfem.errors import SolveError
from splitterfem.model import build

K, H0, SIDE, CP = 4e3, 0.2, 0.4, 0.8
AREA, DENSITY = SIDE**2, 1.2


def plate(**more: Any) -> sf.Splitter:
    """A square of thick aluminium on four upright struts of together 4 N/mm, over a gap of 200 mm."""
    edges = [{"to": (SIDE, 0.0)}, {"to": (SIDE, SIDE)}, {"to": (0.0, SIDE)}]
    # wide apart, so that it heaves before it pitches: 0.17^2 > SIDE^2 / 12
    corners = [(x, y) for x in (0.03, SIDE - 0.03) for y in (0.03, SIDE - 0.03)]
    struts = [
        {"name": f"strut {i}", "foot": (x, y), "head": (x, y, 0.3), "stiffness": K / 4}
        for i, (x, y) in enumerate(corners)
    ]
    pins = [{"name": f"pin {i}", "at": (x, 0.2), "holds": "xy"} for i, x in enumerate((0.1, 0.3))]
    given = {
        "name": "plate",
        "panel": {
            "outline": {"start": (0.0, 0.0), "edges": edges},
            "sheet": {"material": "6061-T6 sheet", "thickness": 0.05},
        },
        "struts": struts,
        "pins": pins,
        "car": {"ride_height": H0},
        "mesh": {"size": 0.1},
    }  # fmt: skip
    return sf.Splitter.model_validate(given | more)


def windy(exponent: float = 1.0, **more: Any) -> sf.LoadCase:
    air = {"kind": "uniform", "cp": CP} | ({"gap_exponent": exponent} if exponent else {})
    given = {"name": "wind", "speed": 40.0, "air_density": DENSITY, "pressure": air, "gravity": False}
    return sf.LoadCase.model_validate(given | {"sag_feedback": exponent > 0.0} | more)


def force(speed: float) -> float:
    """Push at rest in N."""
    return 0.5 * DENSITY * speed**2 * CP * AREA


def speed_of(push: float) -> float:
    return math.sqrt(push / force(1.0))


@pytest.fixture(scope="module")
def rigid():
    return build(plate())


@pytest.fixture(scope="module")
def low():
    """A splitter of plywood on four bolts, whose lip sags."""
    edges = [{"to": (0.8, -0.7)}, {"to": (0.8, 0.7)}, {"to": (0.2, 0.7)}]
    places = [(0.3, -0.6), (0.3, 0.6), (0.65, -0.3), (0.65, 0.3)]
    return build(
        sf.Splitter.model_validate(
            {
                "name": "low",
                "panel": {
                    "outline": {"start": (0.2, -0.7), "edges": edges},
                    "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
                },
                "bolts": [{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(places)],
                "car": {"ride_height": 0.06},
                "mesh": {"size": 0.1},
            }
        )
    )


GAP_LAW = {"kind": "gap law"}
DEMO_CASE = "estimate from the gap, 210 km/h"


# closed forms ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("n", [1.0, 2.0])
@pytest.mark.parametrize("wind", [0.0, 8.0, -8.0])
def test_divergence_of_a_rigid_plate(rigid, n, wind):
    """Linear where n F0 / h0 is k; k z = F0 (h0 / (h0 - z))^n ends at F0 = k h0 n^n / (n + 1)^(n + 1)."""
    found = sf.divergence_speed(rigid, windy(n, head_wind=wind), up_to=300.0)
    assert found.linear + wind == pytest.approx(speed_of(K * H0 / n), rel=1e-5)
    assert found.limit + wind == pytest.approx(speed_of(K * H0 * n**n / (n + 1.0) ** (n + 1.0)), rel=1e-3)
    assert found.factor == pytest.approx(n * force(40.0 + wind) / (K * H0), rel=1e-5)
    assert found.amplification == pytest.approx(1.0 / (1.0 - found.factor))
    assert found.share == pytest.approx(((40.0 + wind) / (found.limit + wind)) ** 2)
    assert found.lowest == found.limit
    assert np.ptp(found.shape.values) < 1e-3
    assert found.touch.outcome == "lost"
    assert found.touch.speed == found.limit
    assert found.touch.gap == pytest.approx(H0 * n / (n + 1.0), rel=0.05)
    assert found.path.min_clearance_mm.iloc[-1] == pytest.approx(1e3 * found.touch.gap)


def test_where_the_plate_touches_the_ground(rigid):
    """Without feedback: k z = F0 at z = h0."""
    case = windy(0.0)
    found = sf.ground_touch_speed(rigid, case, up_to="1000 km/h")
    assert found.outcome == "touches"
    assert found.speed == pytest.approx(speed_of(K * H0), rel=1e-4)
    assert abs(found.gap) < 1e-5
    assert found.under == "panel"
    assert not found.follows
    solution = sf.solve(rigid, case.with_(speed=found.speed, ground=False))
    assert solution.min_clearance == pytest.approx(0.0, abs=1e-5)
    assert found.sentence == (
        f"The panel first touches the ground at {3.6 * found.speed:.0f} km/h, at x {1e3 * found.at[0]:.0f} mm, "
        f"y {1e3 * found.at[1]:.0f} mm."
    )
    assert "mph, at x" in found.said("us")


def test_a_fixed_push_and_air_that_follows(rigid):
    """A push brings the end down: k z = P + F0 h0 / (h0 - z) ends at F0 = (k h0 - P)^2 / (4 k h0)."""
    push = 0.3 * K * H0
    weight = {"kind": "patch", "rectangle": {"x": (0.1, 0.3), "y": (0.1, 0.3)}, "force": (0.0, 0.0, -push)}
    found = sf.divergence_speed(rigid, windy(1.0, forces=[weight]), up_to=300.0)
    assert found.limit == pytest.approx(speed_of((K * H0 - push) ** 2 / (4.0 * K * H0)), rel=1e-3)
    assert found.linear == pytest.approx(speed_of(K * H0), rel=1e-5)


def test_a_plate_that_lies_on_the_ground_at_rest(rigid):
    push = 1.2 * K * H0
    weight = {"kind": "patch", "rectangle": {"x": (0.1, 0.3), "y": (0.1, 0.3)}, "force": (0.0, 0.0, -push)}
    found = sf.ground_touch_speed(rigid, windy(0.0, forces=[weight]))
    assert found.outcome == "at rest"
    assert found.speed is None
    assert found.sentence.startswith("The panel lies on the ground already at rest, at x ")


def test_a_plate_that_never_touches(rigid):
    found = sf.ground_touch_speed(rigid, windy(0.0, speed=20.0), up_to=60.0)
    assert found.outcome == "never"
    assert found.gap == pytest.approx(H0 - force(60.0) / K, rel=1e-3)
    assert found.sentence.startswith("Nothing touches the ground up to 216 km/h: 130.")


def test_what_touches_may_be_a_rib():
    """A rib of 30 mm under the plate takes that much off the gap."""
    tube = {"shape": "tube", "width": 0.03, "height": 0.03, "wall": 0.003}
    keel = {"name": "keel", "points": [(0.1, 0.2), (0.3, 0.2)], "section": tube, "side": "below"}
    rib = keel | {"material": "6061-T6 extrusion"}
    found = sf.ground_touch_speed(plate(ribs=[rib]), windy(0.0), up_to=300.0)
    assert found.under == "keel"
    assert found.speed == pytest.approx(speed_of(K * (H0 - 0.03)), rel=5e-3)
    assert found.sentence.startswith("Rib 'keel' first touches the ground at ")


def test_suction_that_ebbs(rigid):
    """An upward push that grows as the gap closes is a spring that helps."""
    air = {"kind": "uniform", "cp": -CP, "gap_exponent": 1.0}
    found = sf.divergence_speed(rigid, windy(1.0, pressure=air), up_to=150.0)
    assert (found.linear, found.limit, found.lowest, found.share, found.shape) == (None,) * 5
    assert found.factor == 0.0
    assert found.explanation[0].endswith("the air stiffens the panel.")
    assert found.table.speed_kmh.isna().all()


# sweeps ------------------------------------------------------------------------------------------------------


def test_a_sweep_of_the_rigid_plate(rigid):
    """k z = F0 h0 / (h0 - z) up to its end; on the ground beyond it."""
    most = speed_of(K * H0 / 4.0)
    speeds = [0.9 * most, 0.3 * most, 0.6 * most, 1.1 * most]
    table = sf.speed_sweep(rigid, windy(), speeds).table
    assert list(table.speed_kmh) == sorted(3.6 * speed for speed in speeds)
    for row in table[:3].itertuples():
        push = force(row.speed_kmh / 3.6)
        z = brentq(lambda z, push=push: K * z - push * H0 / (H0 - z), 0.0, H0 / 2.0)
        assert row.max_sag_mm == pytest.approx(1e3 * z, rel=2e-3)
        assert row.sag_at_rest_mm == pytest.approx(1e3 * push / K, rel=2e-3)
        assert row.min_clearance_mm == pytest.approx(1e3 * (H0 - z), rel=2e-3)
        assert row.downforce_N == pytest.approx(K * z, rel=2e-3)
        assert row.downforce_at_rest_N == pytest.approx(push, rel=1e-6)
        assert (row.ground_force_N, row.outcome) == (0.0, "held")
    last = table.iloc[3]
    assert last.outcome == "touches the ground"
    assert last.min_clearance_mm == 0.0
    assert last.ground_force_N == pytest.approx(last.downforce_N - K * H0, rel=0.02)


@pytest.mark.parametrize("large", [False, True])
def test_rows_are_single_solves(low, large):
    case = windy(pressure={"kind": "uniform", "cp": CP, "gap_exponent": 1.0}, gravity=True)
    are_single_solves(low, case, ["72 km/h", "108 km/h", "144 km/h"], large)


def test_rows_of_the_demonstration(coarse_file):
    model = build(sf.load(coarse_file))
    case = model.design.case(DEMO_CASE).with_(sag_feedback=True)
    are_single_solves(model, case, ["120 km/h", "210 km/h"], None)


def are_single_solves(model, case, speeds, large):
    """Row by row; and everything rises with the speed."""
    sweep = sf.speed_sweep(model, case, speeds, large_deflection=large)
    assert (sweep.follows, sweep.large) == (True, bool(large))
    assert list(sweep.table.outcome) == ["held"] * len(speeds)
    for row in sweep.table.itertuples():
        single = sf.solve(model, case.with_(speed=row.speed_kmh / 3.6), large_deflection=large)
        rest, ratios = single.at_rest, single.utilisation[single.utilisation.unit != "mm"].ratio
        found = [
            row.max_sag_mm,
            row.sag_at_rest_mm,
            row.min_clearance_mm,
            row.downforce_N,
            row.downforce_at_rest_N,
        ]
        expected = [1e3 * single.max_sag, 1e3 * rest.max_sag, 1e3 * single.min_clearance]
        expected += [single.downforce, rest.downforce]
        assert found == pytest.approx(expected, rel=1e-8)
        assert row.worst_ratio == pytest.approx(ratios.max(), rel=1e-8)
        assert (row.x_mm / 1e3, row.y_mm / 1e3) == pytest.approx(single.max_sag_at)
    for column in ("max_sag_mm", "sag_at_rest_mm", "downforce_N", "worst_ratio"):
        assert sweep.table[column].is_monotonic_increasing
    assert sweep.table.min_clearance_mm.is_monotonic_decreasing


@pytest.mark.parametrize("air", [{"kind": "uniform", "cp": CP, "gap_exponent": 0.3}, GAP_LAW])
def test_a_solution_at_the_touch_has_no_gap_left(low, air):
    """With a gap of 11 mm, where suction grows little any more."""
    case = windy(pressure=air, gravity=True, ride_height=0.011)
    found = sf.ground_touch_speed(low, case)
    assert found.outcome == "touches"
    at = case.with_(speed=found.speed, ground=False)
    assert sf.solve(low, at).min_clearance == pytest.approx(0.0, abs=1e-5)
    assert sf.solve(low, at.with_(speed=0.99 * found.speed)).min_clearance > 0.0
    apart = sf.ground_touch_speed(low, case, sag_feedback=False)
    assert apart.speed > found.speed


@pytest.mark.slow
def test_divergence_by_the_gap_law(low):
    """In proportion to the dynamic pressure, but for the boundary layer."""
    case = windy(pressure=GAP_LAW, gravity=True)
    far = sf.divergence_speed(low, case, up_to=60.0)
    assert any(remark.endswith("no thinner than at the highest looked at.") for remark in far.remarks)
    found = sf.divergence_speed(low, case, up_to=1.2 * far.linear)
    assert found.linear == pytest.approx(far.linear, rel=1e-2)
    assert found.factor == pytest.approx((40.0 / found.linear) ** 2, rel=0.05)
    assert any(remark.endswith("the divergence speed included.") for remark in found.remarks)
    again = sf.divergence_speed(low, case.with_(speed=found.linear), up_to=found.linear)
    assert again.factor == pytest.approx(1.0, rel=1e-5)
    assert again.linear == pytest.approx(found.linear, rel=1e-5)


def test_linear_divergence_is_where_a_mode_comes_to_rest(rigid):
    """The natural frequency with the air's stiffness falls to zero there: an eigenproblem of another kind."""
    found = sf.divergence_speed(rigid, windy(1.0), up_to=200.0)
    for share, diverges in ((0.99, False), (1.01, True)):
        # so light that it stays where it is
        still = windy(1.0, speed=share * found.linear, ride_height=H0, sag_feedback=False)
        modes = sf.natural_frequencies(rigid, 1, case=still.with_(forces=lifting(still)), air_spring=True)
        assert bool(modes.frequencies[0] == 0.0) is diverges


def lifting(case):
    """Holds the plate up against the push at rest."""
    push = force(float(case.speed))
    return [{"kind": "patch", "rectangle": {"x": (0.0, SIDE), "y": (0.0, SIDE)}, "force": (0.0, 0.0, push)}]


def test_combined_cases_go_in_proportion(rigid):
    """Two winds, the second at half the speed: what counts is the sum of their pushes."""
    fast, slow = windy(1.0, speed=40.0).with_(name="fast"), windy(1.0, speed=20.0).with_(name="slow")
    model = replace(rigid, design=rigid.design.with_(cases=[fast, slow]))
    parts = [{"case": "fast"}, {"case": "slow", "factor": 1.5}]
    both = sf.LoadCase(name="both", combines=parts, gravity=False)
    total = 1.0 + 1.5 / 4.0
    table = sf.speed_sweep(model, both, [40.0, 25.0]).table
    for row in table.itertuples():
        push = total * force(row.speed_kmh / 3.6)
        z = brentq(lambda z, push=push: K * z - push * H0 / (H0 - z), 0.0, H0 / 2.0)
        assert row.max_sag_mm == pytest.approx(1e3 * z, rel=2e-3)
        assert row.downforce_at_rest_N == pytest.approx(push, rel=1e-6)
    found = sf.divergence_speed(model, both, up_to=300.0)
    assert found.linear == pytest.approx(speed_of(K * H0 / total), rel=1e-5)
    assert found.speed == 40.0


def test_speeds_as_they_may_be_given(rigid):
    assert list(sf.speed_sweep(rigid, windy(), ("72 km/h", 30.0, 3)).table.speed_kmh) == pytest.approx(
        [72, 90, 108]
    )
    usual = sf.speed_sweep(rigid, windy(), judge=False).table
    assert list(usual.speed_kmh) == pytest.approx(np.linspace(0.4 * 144, 1.3 * 144, 8))
    assert usual.worst_ratio.isna().all()
    own = sf.speed_sweep(rigid, windy(), [30.0], judge=lambda solution: 1e3 * solution.max_sag)
    assert own.table.worst_ratio[0] == own.table.max_sag_mm[0]
    none = sf.speed_sweep(rigid, windy(), [30.0], judge=lambda solution: None)
    assert none.table.worst_ratio.isna().all()


def test_without_feedback_both_are_the_same(rigid):
    row = sf.speed_sweep(rigid, windy(0.0), [30.0]).table.iloc[0]
    assert (row.max_sag_mm, row.downforce_N) == (row.sag_at_rest_mm, row.downforce_at_rest_N)


def test_speeds_without_equilibrium_are_rows(rigid, monkeypatch):
    """After two in a row faster ones are not tried; what was found stays."""
    whole = AtSpeed.balance_at

    def fails(self, speed, **how):
        balance = whole(self, speed, **how)
        if speed > 35.0 and how["feedback"]:
            monkeypatch.setattr(balance, "solve", lambda start=None: refuse())
        return balance

    def refuse():
        raise SolveError("No equilibrium was found beyond 50 % of the load.")

    monkeypatch.setattr(AtSpeed, "balance_at", fails)
    table = sf.speed_sweep(rigid, windy(), [30.0, 36.0, 40.0, 45.0]).table
    assert list(table.outcome) == [
        "held",
        "no equilibrium: No equilibrium was found beyond 50 % of the load.",
        "no equilibrium: No equilibrium was found beyond 50 % of the load.",
        "no equilibrium: not tried, because there is none at 130 and 144 km/h",
    ]
    assert table.max_sag_mm.isna().tolist() == [False, True, True, True]
    assert table.sag_at_rest_mm.notna().all()
    one = sf.speed_sweep(rigid, windy(), [30.0, 36.0, 40.0], large_deflection=True).table
    assert one.outcome[2] == "no equilibrium: not tried, because there is none at 130 km/h"


def test_a_panel_that_is_lifted_off_is_a_row():
    """Cables alone hold a panel that is pushed down, not one that is pulled up."""
    design = plate()
    hung = design.with_(struts=[strut.with_(tension_only=True) for strut in design.struts])
    air = {"kind": "uniform", "cp": -CP}
    case = windy(0.0, gravity=True, pressure=air)
    table = sf.speed_sweep(hung, case, [5.0, 60.0], judge=False).table
    assert table.outcome[0] == "held"
    assert table.outcome[1].startswith("not held: Nothing stops the panel as it moves up and down")


# words -------------------------------------------------------------------------------------------------------


def test_what_is_said_of_a_soft_panel(rigid):
    found = sf.divergence_speed(rigid, windy(1.0, speed=100.0), up_to=300.0)
    said = found.explanation
    assert said[0].startswith(
        "About the panel without sag, with the supports that act in 'wind', the air overcomes the panel at "
        f"{3.6 * found.linear:.0f} km/h (linear)."
    )
    assert (
        said[1]
        == f"Followed as the panel sags, the last equilibrium is at {3.6 * found.limit:.0f} km/h (nonlinear)."
    )
    assert said[2].startswith("The nonlinear figure is the lower one: weight and suction narrow the gap")
    assert said[3].startswith("The ground does not come first: ")
    assert said[4].startswith("TOO NEAR TO DIVERGENCE: at 360 km/h the dynamic pressure is ")
    assert said[-1] == FLUTTER
    assert list(found.table.what) == ["linear divergence", "divergence as it sags", "first ground touch"]
    assert found.table.speed_kmh[:2].tolist() == pytest.approx([3.6 * found.linear, 3.6 * found.limit])
    assert "mph (linear)" in found.said("us")[0]
    assert repr(found).startswith("Divergence of 'plate' in 'wind': linear ")
    assert "FLUTTER" in found._repr_html_()


def test_beyond_linear_divergence_it_says_so(rigid):
    found = sf.divergence_speed(rigid, windy(1.0, speed=200.0), up_to=300.0)
    assert found.factor > 1.0
    assert found.amplification == math.inf
    assert found.explanation[0].endswith("The case's own 720 km/h is beyond that.")


def test_stretching_is_named_as_the_reason():
    """A thin panel between bolts diverges at small sags, and stretches into a membrane that does not."""
    places = [(x, y) for x in (0.03, 0.37) for y in (0.03, 0.37)]
    bolts = [{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(places)]
    thin = build(
        plate(struts=[], pins=[], bolts=bolts, car={"ride_height": 0.05}).with_(
            "panel.sheet.thickness", 0.001
        )
    )
    flat = sf.divergence_speed(thin, windy(1.0))
    assert flat.limit < flat.linear
    stretched = sf.divergence_speed(thin, windy(1.0), large_deflection=True, up_to=1.3 * flat.linear)
    assert stretched.linear == pytest.approx(flat.linear, rel=1e-6)
    assert stretched.limit is None
    assert stretched.explanation[2] == (
        "The nonlinear figure is the higher one: slopes stretch the panel, which stiffens it."
    )


# faults ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ask", [sf.speed_sweep, sf.ground_touch_speed, sf.divergence_speed])
def test_pressures_that_belong_to_no_speed(rigid, ask):
    pascals = {"kind": "uniform", "pressure": 500.0, "gap_exponent": 1.0}
    with pytest.raises(sf.DesignError) as caught:
        ask(rigid, windy(1.0, pressure=pascals))
    assert str(caught.value) == (
        "The pressures of load case 'wind' belong to no speed: give its pressure map coefficients (cp), or the "
        "reference_speed at which they were measured."
    )
    with pytest.raises(sf.DesignError) as caught:
        ask(rigid, sf.LoadCase(name="weight", speed=10.0))
    assert str(caught.value) == (
        "Load case 'weight' has no pressure map, so that nothing in it changes with the speed: give it one."
    )


@pytest.mark.parametrize(
    ("speeds", "sentence"),
    [
        ([], "A sweep over speed needs at least one speed; there is none."),
        ([0.0], "A sweep has the speed 0 m/s: give speeds above zero."),
        ([10.0, -1.0], "A sweep has the speed -1 m/s: give speeds above zero."),
        (np.linspace(1.0, 2.0, 201), "A sweep over 201 speeds was asked for; ask for at most 200."),
    ],
)
def test_speeds_that_cannot_be(rigid, speeds, sentence):
    with pytest.raises(sf.DesignError) as caught:
        sf.speed_sweep(rigid, windy(), speeds)
    assert str(caught.value) == sentence


def test_other_faults(rigid):
    with pytest.raises(sf.UnitError, match="speed"):
        sf.speed_sweep(rigid, windy(), ["80 mm"])
    with pytest.raises(
        sf.DesignError, match="goes from 360 km/h to 180 km/h; write a slowest speed that is below"
    ):
        sf.speed_sweep(rigid, windy(), (100.0, 50.0, 4))
    with pytest.raises(
        sf.DesignError, match="Load case 'wind' has no speed of its own: say from which to which"
    ):
        sf.speed_sweep(rigid, windy(0.0, speed=0.0))
    with pytest.raises(sf.DesignError, match="has a wind from behind that is faster than the car"):
        sf.speed_sweep(rigid, windy(0.0, head_wind=-5.0), [4.0])
    with pytest.raises(
        sf.DesignError, match="has no air that follows the gap: give its pressure map a gap_exponent"
    ):
        sf.divergence_speed(rigid, windy(0.0))
    for ask in (sf.divergence_speed, sf.ground_touch_speed):
        with pytest.raises(
            sf.DesignError, match="The highest speed to look at is 0 m/s: give one above zero"
        ):
            ask(rigid, windy(), up_to=0.0)
