"""The ground under a whole design, and how far its linear solution can be trusted.

Invariants: supports and ground carry the load; what touches pushes up and has no gap.  Clamped circle: see below.
"""

from __future__ import annotations

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.fem.follower import Follower
from splitterfem.model import SagFollower, sag_follower


@pytest.fixture(scope="module")
def splitter():
    return sf.demo().with_("mesh.size", "90 mm")


@pytest.fixture(scope="module")
def model(splitter):
    return sf.build(splitter)


def low(splitter, height, **changes):
    """First case with the car so low, level, that its panel comes down on the ground."""
    return splitter.cases[0].with_(ride_height=height, rake=0.0, **changes)


def test_the_ground_carries_what_the_supports_do_not(splitter, model):
    solution = sf.solve(model, low(splitter, "3 mm"))
    assert solution.ground.touches
    assert solution.ground.force > 50.0
    held = solution.supports["fz_N"].sum() + solution.ground.force
    assert held == pytest.approx(-sum(part[2] for part in solution.load.resultants.values()), rel=1e-7)
    assert solution.min_clearance == 0.0
    assert solution.clearance.field.values.min() == 0.0
    assert solution.response.play_residual < 1e-8
    x, y = solution.ground.patches[0].at
    assert abs(solution.sag_at(x, y) - 3e-3) < 3e-4


def test_without_ground_it_sags_below(splitter, model):
    solution = sf.solve(model, low(splitter, "3 mm", ground=False))
    assert not solution.ground.touches
    assert solution.min_clearance == pytest.approx(3e-3 - solution.max_sag)
    assert solution.min_clearance < -1e-3


def test_the_ground_touches_just_when_the_free_panel_would(splitter, model):
    free = sf.solve(model, low(splitter, "20 mm"))
    assert free.min_clearance > 0.0
    sag = 0.020 - free.min_clearance
    for more, touches in ((2e-5, False), (-2e-4, True)):
        assert sf.solve(model, low(splitter, sag + more)).ground.touches is touches


def test_the_lower_the_car_the_harder_it_lies(splitter, model):
    forces = [sf.solve(model, low(splitter, f"{mm} mm")).ground.force for mm in (4, 3, 2, 1)]
    assert np.all(np.diff(forces) > 0.0)


def test_a_rib_below_touches_first(splitter):
    """A flat bar 10 mm high under the panel comes down 10 mm before the panel does."""
    below = splitter.with_part("cross tube", section={"shape": "flat", "width": "30 mm", "height": "10 mm"})
    below = below.with_part("cross tube", side="below")
    model = sf.build(below)
    free = sf.solve(model, low(below, "40 mm"))
    gap = free.clearance
    assert gap.under == "cross tube"
    solution = sf.solve(model, low(below, 0.040 - gap.least - 5e-4))
    assert {patch.under for patch in solution.ground.patches} == {"cross tube"}
    assert solution.ground.force > 0.0


def test_a_lost_support_lets_it_down_on_the_ground(splitter, model):
    table = sf.lose_one(model, low(splitter, "8 mm"))
    touching = table[table["touches_ground"].fillna(False)]
    assert len(touching)
    assert (touching["min_clearance_mm"] == 0.0).all()
    assert (touching["outcome"] == "touches the ground").all()


@pytest.mark.parametrize("large", [False, True])
def test_coupled_large_and_ground_together(splitter, model, large):
    case = low(splitter, "17 mm", factor=4.0)
    case = case.with_(
        pressure=case.pressure.with_(gap_exponent=0.5), sag_feedback=True, large_deflection=large
    )
    solution = sf.solve(model, case)
    assert solution.ground.touches
    assert solution.equilibrium < 1e-7
    assert solution.downforce > solution.at_rest.downforce
    air = -solution.load.resultants["air"][2] - solution.load.resultants["air that follows the sag"][2]
    tunnels = 0.0 if solution.load.tunnels is None else solution.downforce - solution.load.air.downforce
    assert solution.downforce == pytest.approx(air + tunnels, rel=1e-9)
    assert solution.response.newton.residuals[-1][-1] < 1e-8


def test_centre_of_coupled_pressure(splitter, model):
    """The load vector's own moments give the same centre as the sum of what is at rest and what is added."""
    case = splitter.cases[0]
    case = case.with_(pressure=case.pressure.with_(gap_exponent=2.0), sag_feedback=True)
    solution = sf.solve(model, case)
    total = solution.load.resultants["air"] + solution.load.resultants["air that follows the sag"]
    x, y = solution.load.air.centre
    assert x == pytest.approx(-total[4] / total[2], rel=1e-9)
    assert y == pytest.approx(total[3] / total[2], abs=1e-9)


def test_follower_of_a_case(splitter, model):
    case = splitter.cases[3]
    follower: Follower | None = sag_follower(model, case)
    assert isinstance(follower, SagFollower)
    assert sf.solve(model, case).follower is None


def test_linear_range_foretells_large_deflection(splitter, model):
    """What a linear solution says of itself against the large-deflection solution of the same case."""
    for factor in (1.0, 3.0):
        case = splitter.cases[0].with_(factor=factor, ground=False)
        linear = sf.solve(model, case)
        large = sf.solve(model, case.with_(large_deflection=True))
        share = linear.linear_range.membrane_share
        # about: what stretching adds is not spread as the load is
        assert large.max_sag / linear.max_sag - 1.0 == pytest.approx(-share, abs=0.02 * factor)
        assert large.linear_range is None


def test_linear_range_of_a_tight_panel():
    """A long strip between two rows of bolts that hold it in plane: stretching stiffens it, and it says so.

    Strip with immovable ends that turn, one sine wave of amplitude f: the load for the same f grows by the share
    ``E A f^2 pi^2 / (4 L^2) / (pi^2 E I / L^2) = A f^2 / (4 I) = 3 (f / t)^2`` (Timoshenko &
    Woinowsky-Krieger, art. 2-3, first approximation), a little less here because the bolts hold pads and not lines.
    """
    length, t = 0.8, 0.006
    bolts = [
        {"name": f"bolt {i} {j}", "at": (x, y), "holds": "xyz", "pad": {"diameter": 0.02}}
        for i, x in enumerate((0.02, length + 0.02))
        for j, y in enumerate(np.linspace(-0.038, 0.038, 3))
    ]
    corners = [(length + 0.04, -0.05), (length + 0.04, 0.05), (0.0, 0.05), (0.0, -0.05)]
    splitter = sf.Splitter(
        name="strip",
        panel={
            "outline": {"start": (0.0, -0.05), "edges": [{"to": to} for to in corners]},
            "sheet": {"material": "6061-T6 sheet", "thickness": t},
        },
        bolts=bolts,
        car={"ride_height": 0.2},
        cases=[{"name": "air", "speed": 40.0, "gravity": False, "pressure": {"kind": "uniform", "cp": 1.0}}],
        mesh={"size": 0.025},
    )
    solution = sf.solve(splitter, "air")
    found = solution.linear_range
    f = solution.max_sag
    assert found.sag_over_thickness == pytest.approx(f / t, rel=0.02)
    assert found.membrane_share == pytest.approx(3.0 * (f / t) ** 2, rel=0.15)
    assert not found.within
    assert "outside its range" in found.sentence
    assert "large_deflection = true" in found.sentence
    large = sf.solve(splitter, splitter.cases[0].with_(large_deflection=True))
    assert large.max_sag < 0.7 * f
