"""Load cases that combine others, by superposition of single solutions; and the worst over several cases."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.analysis.tables import per_support
from splitterfem.design import CasePart, LoadCase, dumps, load
from splitterfem.design.combine import SHORTEST_FIRST, parts_of, settled
from splitterfem.errors import DesignError
from splitterfem.model.airload import AirLoad, combined
from splitterfem.strength.cases import COLUMNS, worst_of

G = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""

CORNERS = [(0.05, -0.25), (0.05, 0.25), (0.55, -0.25), (0.55, 0.25)]
TUBE = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
RIB = {"name": "rib", "points": [(0.3, -0.2), (0.3, 0.2)], "section": TUBE, "material": "6061-T6 extrusion"}
AT = np.array([(0.3, 0.0), (0.58, 0.28), (0.02, -0.1), (0.45, 0.2), (0.3, -0.28)]).T


def case(name: str, **fields: Any) -> LoadCase:
    return LoadCase(name=name, **fields)


AIR = case("air", speed=50.0, pressure={"kind": "uniform", "cp": 0.8}, gravity=False, factor=1.1)
PUSH = case(
    "push", forces=[{"kind": "point", "at": (0.5, 0.1), "force": (-50.0, 20.0, -200.0)}], gravity=False
)
JOLT = case("jolt", acceleration=(-12.0, 3.0, 25.0), gravity=False)
WEIGHT = case("weight")
HEAVY = AIR.with_(name="heavy air", gravity=True)
LEANING = PUSH.with_(name="leaning", gravity=True)


def splitter(*cases: LoadCase, **more: Any) -> sf.Splitter:
    """600 x 600 mm on four bolts that hold both ways, with a rib."""
    edges = [{"to": (0.6, -0.3)}, {"to": (0.6, 0.3)}, {"to": (0.0, 0.3)}]
    panel = {
        "outline": {"start": (0.0, -0.3), "edges": edges},
        "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        "cutouts": more.pop("cutouts", ()),
    }
    fields: dict[str, Any] = {
        "bolts": [{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(CORNERS, start=1)],
        "ribs": [RIB],
        "car": {"ride_height": 0.08, "rake": 0.01},
        "mesh": {"size": 0.1},
    }  # fmt: skip
    return sf.Splitter(name="combined", panel=panel, cases=cases, **fields | more)


def combination(*parts: tuple[str, float], **fields: Any) -> LoadCase:
    rows = [{"case": name, "factor": factor} for name, factor in parts]
    return case(fields.pop("name", "all at once"), combines=rows, **fields)


@pytest.fixture(scope="module")
def design() -> sf.Splitter:
    return splitter(AIR, PUSH, JOLT, WEIGHT, HEAVY, LEANING)


@pytest.fixture(scope="module")
def single(design: sf.Splitter) -> dict[str, sf.Solution]:
    return {one.name: sf.solve(design, one) for one in design.cases}


def sag(solution: sf.Solution) -> np.ndarray:
    return solution.sag_at(*AT)


# Superposition -----------------------------------------------------------------------------------------


def test_sags_and_forces_add_up(design: sf.Splitter, single: dict[str, sf.Solution]) -> None:
    """Linear elasticity with supports that hold both ways: the answer is the sum of the answers."""
    both = sf.solve(design, combination(("air", 1.2), ("push", 1.0), gravity=False))
    expected = 1.2 * sag(single["air"]) + sag(single["push"])
    assert sag(both) == pytest.approx(expected, abs=1e-8 * np.abs(expected).max())
    columns = ["fx_N", "fy_N", "fz_N"]
    found, air, push = (s.supports[columns].to_numpy() for s in (both, single["air"], single["push"]))
    assert found == pytest.approx(1.2 * air + push, abs=1e-8 * np.abs(found).max())


def test_weight_acts_once(design: sf.Splitter, single: dict[str, sf.Solution]) -> None:
    all_at_once = sf.solve(design, combination(("heavy air", 1.35), ("leaning", 0.9), ("weight", 1.0)))
    bare = sag(single["weight"])
    expected = bare + 1.35 * (sag(single["heavy air"]) - bare) + 0.9 * (sag(single["leaning"]) - bare)
    assert sag(all_at_once) == pytest.approx(expected, abs=1e-8 * np.abs(expected).max())
    parts = all_at_once.load.resultants
    assert set(parts) == {"air of 'heavy air'", "force 1 of 'leaning'", "weight and inertia"}
    assert parts["weight and inertia"][2] == pytest.approx(-G * all_at_once.mass, rel=1e-12)
    without = sf.solve(design, combination(("heavy air", 1.0), gravity=False))
    assert without.load.resultants["weight and inertia"].tolist() == [0.0] * 6


def test_accelerations_add_up(design: sf.Splitter) -> None:
    # D'Alembert: -m times the sum of the cars' accelerations, each times its factor, and the weight once.
    solution = sf.solve(design, combination(("jolt", 0.5), ("air", 1.0), acceleration=(1.0, 0.0, 0.0)))
    expected = -solution.mass * np.array([-6.0 + 1.0, 1.5, 12.5 + G])
    assert solution.load.resultants["weight and inertia"][:3] == pytest.approx(expected, rel=1e-9)


def test_factors_multiply(design: sf.Splitter, single: dict[str, sf.Solution]) -> None:
    # The part's own 1.1, its 1.2 in the combination and the combination's 1.5; accelerations keep their own alone.
    solution = sf.solve(design, combination(("air", 1.2), ("push", 2.0), ("jolt", 1.0), factor=1.5))
    area = 0.36
    q = 0.5 * 1.225 * 50.0**2
    assert single["air"].downforce == pytest.approx(1.1 * 0.8 * q * area, rel=1e-9)
    assert solution.downforce == pytest.approx(1.5 * 1.2 * 1.1 * 0.8 * q * area, rel=1e-9)
    assert solution.load.resultants["force 1 of 'push'"][:3] == pytest.approx(
        [-150.0, 60.0, -600.0], rel=1e-9
    )
    assert solution.load.resultants["weight and inertia"][0] == pytest.approx(12.0 * solution.mass, rel=1e-9)


def test_a_part_keeps_the_factor_on_its_forces() -> None:
    harder = PUSH.with_(name="harder", factor=1.25)
    solution = sf.solve(splitter(harder), combination(("harder", 2.0), gravity=False))
    assert solution.load.resultants["force 1 of 'harder'"][:3] == pytest.approx(
        [-125.0, 50.0, -500.0], rel=1e-9
    )


def test_own_loads_act_besides_those_of_the_parts(
    design: sf.Splitter, single: dict[str, sf.Solution]
) -> None:
    own = combination(("air", 1.0), gravity=False, forces=PUSH.forces)
    expected = sag(single["air"]) + sag(single["push"])
    assert sag(sf.solve(design, own)) == pytest.approx(expected, abs=1e-8 * np.abs(expected).max())


def test_a_factor_of_zero_leaves_a_case_out(design: sf.Splitter, single: dict[str, sf.Solution]) -> None:
    short = PUSH.with_(name="knock", duration="instantaneous", ride_height=0.03)
    known = splitter(AIR, short)
    left_out = combination(("air", 1.0), ("knock", 0.0), gravity=False)
    assert settled(left_out, known).duration == "short"
    assert settled(left_out, known).ride_height == 0.08
    assert sag(sf.solve(known, left_out)) == pytest.approx(sag(single["air"]), rel=1e-9)
    nothing = combination(("air", 0.0), ("push", 0.0))
    assert sag(sf.solve(design, nothing)) == pytest.approx(sag(single["weight"]), rel=1e-9)
    assert settled(nothing, design) == nothing


def test_tunnels_act_once_and_with_their_factor() -> None:
    hole = {"name": "t", "rectangle": {"x": (0.1, 0.25), "y": (-0.1, 0.1)}, "tunnel": {"rise": 0.04}}
    fast, still = case("fast", speed=60.0, gravity=False), case("still", forces=PUSH.forces, gravity=False)
    windy = fast.with_(name="windy", pressure={"kind": "uniform", "cp": 0.5})
    known = splitter(fast, still, windy, cutouts=[hole])
    once = sum(load.force.force for load in sf.solve(known, "fast").load.tunnels)
    for parts, expected in (
        ((("fast", 1.3), ("still", 1.0)), 1.3),
        ((("windy", 1.3), ("still", 1.0)), 1.3),
        ((("windy", 1.0), ("fast", 0.5)), 1.5),
    ):
        found = sf.solve(known, combination(*parts))
        assert sum(load.force.force for load in found.load.tunnels) == pytest.approx(
            expected * once, rel=1e-9
        )
        on_rim = [vector[2] for name, vector in found.load.resultants.items() if name.startswith("tunnel t")]
        assert sum(on_rim) == pytest.approx(-expected * once, rel=1e-9)


def test_each_part_keeps_its_own_air() -> None:
    # Tunnels see the gap of their own case, not the lowest one of the combination.
    hole = {"name": "t", "rectangle": {"x": (0.1, 0.25), "y": (-0.1, 0.1)}, "tunnel": {"rise": 0.04}}
    high, low = (
        case("high", speed=60.0),
        case("low", speed=40.0, head_wind=5.0, ride_height=0.06, air={"altitude": 1500.0}),
    )
    known = splitter(high, low, cutouts=[hole])
    singles = [sf.solve(known, name).load.tunnels[0].force.force for name in ("high", "low")]
    together = sf.solve(known, combination(("high", 1.0), ("low", 1.0)))
    assert [tunnel.force.force for tunnel in together.load.tunnels] == pytest.approx(singles, rel=1e-12)
    assert together.case.ride_height == 0.06


# What is left to the parts -----------------------------------------------------------------------------


def test_ride_height_is_that_of_the_lowest(design: sf.Splitter) -> None:
    low = AIR.with_(name="low", ride_height=0.05, rake=0.02)
    level = AIR.with_(name="level", ride_height=0.05)
    steep = AIR.with_(name="steep", ride_height=0.05, rake=0.03)
    known = splitter(AIR, low, level, steep)

    def stands(*names: str, **fields: Any) -> tuple[float | None, float | None]:
        found = settled(combination(*((name, 1.0) for name in names), **fields), known)
        return found.ride_height, found.rake

    assert stands("air", "low") == (0.05, 0.02)
    assert stands("air", "level") == (0.05, 0.01)  # the car's rake
    assert stands("low", "steep", "level") == (0.05, 0.03)  # of several the one with its nose lowest
    assert stands("air", "low", ride_height=0.07) == (0.07, 0.02)
    assert stands("air", "low", rake=0.0) == (0.05, 0.0)
    assert stands("air") == (0.08, 0.01)
    # The gap is that height less x tan(rake) less the sag.
    solution = sf.solve(known, combination(("air", 1.0), ("low", 1.0)))
    x, y = solution.min_clearance_at
    expected = 0.05 - x * math.tan(0.02) - float(solution.sag_at(x, y))
    assert solution.min_clearance == pytest.approx(expected, abs=1e-9)


def test_duration_is_the_shortest() -> None:
    # EN 1995-1-1 3.1.3 (2): the k_mod of the action with the shortest duration; classes of table 2.1.
    assert SHORTEST_FIRST == ("instantaneous", "short", "medium", "long", "permanent")
    known = splitter(*(PUSH.with_(name=word, duration=word) for word in SHORTEST_FIRST))
    for i, short in enumerate(SHORTEST_FIRST):
        longer = combination(*((word, 1.0) for word in reversed(SHORTEST_FIRST[i:])))
        assert settled(longer, known).duration == short
        assert settled(longer.with_(duration="long"), known).duration == "long"


def test_lost_joints_and_speed_are_taken_over() -> None:
    known = splitter(AIR.with_(unbonded=("rib",)), PUSH)
    found = settled(combination(("air", 1.0), ("push", 1.0)), known)
    assert (found.unbonded, found.speed) == (("rib",), 50.0)
    solution = sf.solve(known, combination(("air", 1.0), ("push", 1.0)))
    assert solution.model.unbonded == {"rib"}


def test_settling_twice_changes_nothing(design: sf.Splitter) -> None:
    once = settled(combination(("air", 1.2), ("push", 1.0), ("jolt", 1.0)), design)
    assert settled(once, design) == once
    assert settled(AIR, design) is AIR


# What is refused ---------------------------------------------------------------------------------------


def test_cases_that_are_not_there(design: sf.Splitter) -> None:
    with pytest.raises(DesignError) as caught:
        design.with_(cases=(AIR, combination(("aire", 1.0))))
    assert (
        str(caught.value) == "cases.all at once.combines: there is no load case 'aire'; did you mean 'air'?"
    )
    with pytest.raises(DesignError, match="there is no load case 'aire'; did you mean 'air'"):
        sf.solve(design, combination(("aire", 1.0)))  # one of your own


def test_combinations_of_combinations(design: sf.Splitter) -> None:
    inner = combination(("air", 1.0), name="inner")
    with pytest.raises(DesignError) as caught:
        design.with_(cases=(AIR, inner, combination(("inner", 1.0))))
    assert str(caught.value) == (
        "cases.all at once.combines: 'inner' is a combination itself; name the cases that it combines"
    )
    with pytest.raises(DesignError, match=r"cases\.self\.combines: 'self' is a combination itself"):
        design.with_(cases=(AIR, combination(("self", 1.0), name="self")))
    known = design.with_(cases=(AIR, inner))
    with pytest.raises(DesignError) as caught:
        sf.solve(known, combination(("inner", 1.0)))  # one of your own
    assert str(caught.value) == (
        "Load case 'all at once' combines 'inner', which is a combination itself: name the cases that it combines."
    )


def test_one_case_twice() -> None:
    with pytest.raises(DesignError) as caught:
        combination(("air", 1.0), ("air", 0.2))
    assert str(caught.value) == (
        "loadcase \"all at once\": combines 'air' twice; name it once, with the sum of its factors"
    )


def test_a_combination_survives_its_file(design: sf.Splitter, tmp_path: Path) -> None:
    kerb = combination(
        ("air", 1.0), ("kerb strike, left corner", 1.35), name="kerb at speed", note="both at once"
    )
    known = design.with_(cases=(*design.cases, kerb), handling=({"kind": "kerb", "up": "1 kN"},))
    place = tmp_path / "combined.toml"
    place.write_text(dumps(known), encoding="utf-8")
    again = load(place)
    assert again == known
    assert again.case("kerb at speed").combines == (
        CasePart(case="air"),
        CasePart(case="kerb strike, left corner", factor=1.35),
    )
    assert [(part.name, f) for part, f in parts_of(kerb, again)] == [
        ("air", 1.0),
        ("kerb strike, left corner", 1.35),
    ]
    assert sf.solve(again, "kerb at speed").case.duration == "instantaneous"


# The sum of several airs -------------------------------------------------------------------------------


def air(force: float, x: float, y: float, *, band: tuple[float, float, float] | None = None) -> AirLoad:
    return AirLoad(
        downforce=force,
        centre=(x, y),
        covered=0.9 if band else 1.0,
        dynamic_pressure=abs(force),
        force_of_source=force + 1.0,
        centre_of_source=(x, y),
        deviation=1e-3 if band else 2e-3,
        notes=("one",) if band else ("one", "two"),
        band=band,
    )


def test_airs_add_up_with_their_moments() -> None:
    # By hand: 2 x 100 N at 0.5 m and 1 x 50 N at 0.1 m: 250 N, moment 105 N m.
    found = combined([(2.0, air(100.0, 0.5, 0.1, band=(60.0, 100.0, 150.0))), (1.0, air(50.0, 0.1, -0.2))])
    assert found is not None
    assert found.downforce == pytest.approx(250.0)
    assert found.centre == pytest.approx((105.0 / 250.0, 10.0 / 250.0))
    assert found.band == pytest.approx((170.0, 250.0, 350.0))  # what has no band counts as it is
    assert found.force_of_source == pytest.approx(2.0 * 101.0 + 51.0)
    assert (found.covered, found.deviation, found.dynamic_pressure) == (0.9, 2e-3, 100.0)
    assert found.notes == ("one", "two")


def test_a_negative_factor_turns_the_band_round() -> None:
    more, less = (
        air(300.0, 0.5, 0.0, band=(200.0, 300.0, 450.0)),
        air(100.0, 0.1, 0.0, band=(60.0, 100.0, 150.0)),
    )
    found = combined([(1.0, more), (-1.0, less)])
    assert found is not None
    assert found.band == pytest.approx((200.0 - 150.0, 200.0, 450.0 - 60.0))
    assert found.centre == pytest.approx((140.0 / 200.0, 0.0))


def test_airs_that_cancel_have_no_centre() -> None:
    found = combined([(1.0, air(100.0, 0.5, 0.1)), (-2.0, air(50.0, 0.1, 0.0))])
    assert found is not None
    assert found.downforce == 0.0
    assert np.isnan(found.centre).all()
    assert found.band is None
    one = air(100.0, 0.5, 0.1)
    assert combined([(1.0, one)]) is one
    assert combined([]) is None


def test_uncertainty_becomes_a_band_in_a_combination() -> None:
    sure = AIR.with_(name="sure", factor=1.0)
    unsure = case("unsure", speed=50.0, pressure={"kind": "uniform", "cp": 0.4, "uncertainty": 0.2})
    known = splitter(sure, unsure)
    solution = sf.solve(known, combination(("sure", 1.0), ("unsure", 1.5)))
    q = 0.5 * 1.225 * 50.0**2
    whole = q * 0.36 * (0.8 + 1.5 * 0.4)
    assert solution.car.band == pytest.approx(
        (whole - 0.12 * q * 0.36, whole, whole + 0.12 * q * 0.36), rel=1e-9
    )


# The worst of several ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def several(design: sf.Splitter, single: dict[str, sf.Solution]) -> list[sf.Solution]:
    lifted = sf.solve(design, case("lifted", ride_height=0.04))
    return [single["weight"], single["heavy air"], single["leaning"], single["jolt"], lifted]


def test_the_worst_is_the_largest_of_single_solutions(several: list[sf.Solution]) -> None:
    table = worst_of(several)
    assert tuple(table.columns) == COLUMNS
    rows = {(row.measure, row.part): row for row in table.itertuples()}
    sags = {s.case.name: 1e3 * s.max_sag for s in several}
    row = rows["largest sag", ""]
    assert (row.value, row.case) == (max(sags.values()), max(sags, key=lambda name: sags[name]))
    assert len(set(sags.values())) == 4  # the lifted case sags as weight does
    gaps = {s.case.name: 1e3 * s.min_clearance for s in several}
    row = rows["smallest gap to the ground", ""]
    assert (row.value, row.case) == (min(gaps.values()), "lifted")
    assert (row.x_mm, row.y_mm) == pytest.approx([1e3 * c for c in several[-1].min_clearance_at])
    row = rows["largest downforce", ""]
    assert (row.value, row.case) == (several[1].downforce, "heavy air")
    assert (row.x_mm, row.y_mm) == pytest.approx((300.0, 0.0), abs=1e-6)
    for support in (f"bolt {i}" for i in range(1, 5)):
        sizes = {}
        for solution in several:
            found = solution.supports.set_index("support").loc[support]
            sizes[solution.case.name] = math.hypot(found.fx_N, found.fy_N, found.fz_N)
        row = rows["largest force", support]
        assert row.value == pytest.approx(max(sizes.values()), rel=1e-12)
        assert row.case == max(sizes, key=lambda name: sizes[name])


def test_utilisations_are_those_of_the_worst_case(several: list[sf.Solution]) -> None:
    table = worst_of(several)
    found = table[table.measure == "largest utilisation"]
    assert found.value.is_monotonic_decreasing
    ratios: dict[str, dict[str, float]] = {}
    for solution in several:
        judged = solution.utilisation.dropna(subset=["ratio"])
        for part, ratio in judged.groupby("part").ratio.max().items():
            ratios.setdefault(str(part), {})[solution.case.name] = ratio
    assert set(found.part) == set(ratios)
    assert {"panel", "rib"} <= set(ratios)
    for row in found.itertuples():
        single = ratios[row.part]
        assert (row.value, row.case) == (max(single.values()), max(single, key=lambda name: single[name]))


def test_worst_of_cases_solves_handling_and_combinations(design: sf.Splitter) -> None:
    both = combination(("air", 1.0), ("push", 2.0), name="both")
    known = design.with_(cases=(AIR, PUSH, both), handling=({"kind": "shaking", "name": "shake"},))
    table = sf.worst_of_cases(known)
    single = {one.name: 1e3 * sf.solve(known, one.name).max_sag for one in known.all_cases}
    assert list(single) == ["air", "push", "both", "shake up", "shake down"]
    row = table[table.measure == "largest sag"].iloc[0]
    assert (row.value, row.case) == (max(single.values()), "both")
    one = sf.worst_of_cases(known, ["push", JOLT])
    assert set(one.case) <= {"push", "jolt"}
    assert "largest downforce" not in set(one.measure)


def test_nothing_to_look_at(design: sf.Splitter) -> None:
    for call in (lambda: worst_of([]), lambda: sf.worst_of_cases(splitter())):
        with pytest.raises(DesignError) as caught:
            call()
        assert str(caught.value) == "There is no solved load case to look at: solve one first."


def test_forces_of_supports_are_resultants(several: list[sf.Solution]) -> None:
    """Not the largest single direction."""
    solution = several[2]
    for support, force, _ in per_support(solution.model, solution.response):
        row = worst_of([solution]).set_index("part").loc[support.name]
        assert row.value == pytest.approx(float(np.linalg.norm(force)), rel=1e-12)  # x, y and z are held
        assert row.value > np.abs(force).max()
