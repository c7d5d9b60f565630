"""The gap law as the air of a load case: totals by other quadratures, bands, trends, files and faults."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

import splitterfem as sf
from splitterfem import aero
from splitterfem.design import LoadCase, Splitter, dumps, load
from splitterfem.design.gap import GapLawMap, Nose
from splitterfem.errors import DesignError
from splitterfem.model.airload import panel_area
from splitterfem.model.gaplaw import gap_estimates, gap_totals, tunnels_of
from splitterfem.model.loads import acting

CORNERS = [(0.3, -0.6), (0.3, 0.6), (0.8, -0.6), (0.8, 0.6)]
NOSE = {"line": [(0.78, 0.0), (0.76, 0.3), (0.66, 0.65)], "height": 0.4, "mirror": True}
SPEED, DENSITY = 50.0, 1.2
Q = 0.5 * DENSITY * SPEED**2


def splitter(**more: Any) -> Splitter:
    """A swept panel 1.4 m wide, from x = 200 to 900 mm."""
    edges = [{"to": (0.8, -0.7)}, {"to": (0.9, 0.0)}, {"to": (0.8, 0.7)}, {"to": (0.2, 0.7)}]
    panel = {
        "outline": {"start": (0.2, -0.7), "edges": edges},
        "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        "cutouts": more.pop("cutouts", ()),
    }
    bolts = [{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(CORNERS)]
    car = {"ride_height": 0.09, "rake": 0.015}
    return Splitter(name="low", panel=panel, bolts=bolts, car=car, mesh={"size": 0.15}, **more)


def case(*, speed: float = SPEED, factor: float = 1.0, **pressure: Any) -> LoadCase:
    given = {"kind": "gap law"} | pressure
    return LoadCase(name="estimate", speed=speed, air_density=DENSITY, pressure=given, factor=factor)


def totals(design: Splitter, one: LoadCase) -> tuple[float, float, float]:
    assert isinstance(one.pressure, GapLawMap)
    estimates = gap_estimates(design, one, one.pressure)
    assert estimates is not None
    return gap_totals(estimates, one.pressure, panel_area(design))


@pytest.fixture(scope="module")
def model() -> Any:
    return sf.build(splitter())


@pytest.fixture(scope="module")
def solution(model: Any) -> sf.Solution:
    return sf.solve(model, case(nose=NOSE, exit_cp=[-0.12, -0.2, -0.28]))


# Totals ------------------------------------------------------------------------------------------------


def test_totals_are_those_of_the_maps(solution: sf.Solution) -> None:
    """The maps made by hand from the figures of the case, summed over small squares of a plain lattice."""
    design = solution.model.design
    mirrored = [(0.66, -0.65), (0.76, -0.3), (0.78, 0.0), (0.76, 0.3), (0.66, 0.65)]
    maps = aero.gap_maps(
        design.panel.polygon(1e-4),
        lambda x, y: 0.09 - np.tan(0.015) * x,
        q=Q,
        laws=aero.gap_laws(exit_cp=aero.Band(-0.12, -0.2, -0.28)),
        upper=aero.nose_zones(mirrored, 0.4),
        density=DENSITY,
    )
    step = 0.004
    x, y = np.meshgrid(np.arange(0.2, 0.9, step) + step / 2, np.arange(-0.7, 0.7, step) + step / 2)
    inside = shapely.contains_xy(design.panel.polygon(1e-4), x, y)
    x, y = x[inside], y[inside]
    sums = [float(maps.of(name).at(x, y).sum()) * step**2 for name in ("low", "typical", "high")]
    air = solution.load.air
    assert air is not None
    assert air.band == pytest.approx(sums, rel=3e-3)
    assert air.downforce == pytest.approx(sums[1], rel=3e-3)
    assert air.downforce == pytest.approx(air.band[1], rel=1e-3)
    push = maps.typical.at(x, y)
    assert air.centre[0] == pytest.approx(float(push @ x / push.sum()), abs=2e-3)
    assert air.centre[1] == pytest.approx(0.0, abs=1e-3)
    assert (air.covered, air.dynamic_pressure) == (1.0, Q)
    assert air.notes == ()


def test_the_panel_carries_it(solution: sf.Solution) -> None:
    """Statics: loads and supports balance; the car's band is that of the panel, which has no tunnels."""
    air = solution.load.air
    assert air is not None
    assert solution.load.resultants["air"][2] == pytest.approx(-air.downforce, rel=1e-9)
    total = air.downforce + 9.80665 * solution.mass
    assert solution.supports.fz_N.sum() == pytest.approx(total, rel=1e-9)
    assert solution.car.band == air.band


@pytest.mark.parametrize(
    "pressure", [{}, {"exit_cp": 0.3}, {"exit_cp": -0.2, "relief": 0.7}, {"lip": "sharp", "with_fall": True}]
)
def test_estimates_are_in_order(model: Any, pressure: dict[str, Any]) -> None:
    low, typical, high = totals(model.design, case(**pressure))
    assert low <= typical <= high
    if not pressure:
        assert 0.0 < low < typical < high


def test_a_negative_factor_turns_the_band_round(model: Any) -> None:
    air = sf.solve(model, case(factor=-1.0)).load.air
    assert air is not None
    assert air.band == pytest.approx([-total for total in reversed(totals(model.design, case()))], rel=1e-12)


def test_the_band_that_loads_the_panel_is_chosen(model: Any) -> None:
    expected = totals(model.design, case())
    for name, total in zip(("low", "high"), (expected[0], expected[2]), strict=True):
        air = sf.solve(model, case(band=name)).load.air
        assert air is not None
        assert air.downforce == pytest.approx(total, rel=1e-3)
        assert air.band == pytest.approx(expected, rel=1e-12)  # all three, whichever loads it


def test_scale_and_factor_are_plain_multiples(model: Any) -> None:
    once, scaled = sf.solve(model, case()).load.air, sf.solve(model, case(scale=1.4, factor=1.1)).load.air
    assert once is not None
    assert scaled is not None
    assert scaled.downforce == pytest.approx(1.54 * once.downforce, rel=1e-9)
    assert scaled.band == pytest.approx([1.54 * total for total in once.band or ()], rel=1e-12)


def test_a_car_at_rest_has_no_air(model: Any) -> None:
    still = sf.solve(model, case(speed=0.0))
    assert still.load.air is not None
    assert (still.load.air.downforce, still.load.air.band) == (0.0, None)
    assert not still.load.resultants["air"].any()
    assert still.supports.fz_N.sum() == pytest.approx(9.80665 * still.mass, rel=1e-9)


# Trends ------------------------------------------------------------------------------------------------


def typical(design: Splitter, **fields: Any) -> float:
    return totals(design, case().with_(**fields))[1]


def test_a_lower_raked_panel_makes_more() -> None:
    # Zhang, Toet & Zerihan (2006), Appl. Mech. Rev. 59: downforce rises as the height falls, down to about a tenth of
    # the length, and without the fall option it stays there.
    design = splitter()
    heights = [0.14, 0.11, 0.09, 0.08, 0.07, 0.06]
    found = [typical(design, ride_height=h) for h in heights]
    assert found == sorted(found)
    assert found[-1] > 1.2 * found[0]


def test_more_rake_makes_more() -> None:
    # Nose down the gap opens to the rear: the sign of the convergence that makes the suction.
    design = splitter()
    found = [typical(design, rake=np.radians(angle)) for angle in (-1.0, 0.0, 0.5, 1.0, 2.0)]
    assert found == sorted(found)
    assert found[1] > 0.0  # a level panel has the suction of its exit


def test_force_follows_the_square_of_the_speed() -> None:
    # All but the boundary layer, whose thickness goes with V^(-1/5).
    design = splitter()
    assert typical(design, speed=60.0) / typical(design, speed=30.0) == pytest.approx(4.0, rel=0.05)
    blown = typical(design, speed=40.0, head_wind=10.0)
    assert blown == pytest.approx(typical(design, speed=50.0), rel=1e-12)


def test_the_exit_pressure_is_what_counts() -> None:
    design = splitter()
    found = [totals(design, case(exit_cp=cp))[1] for cp in (0.1, 0.0, -0.1, -0.2, -0.3)]
    assert found == sorted(found)


# The nose ----------------------------------------------------------------------------------------------


def test_half_a_nose_line_is_the_whole_one() -> None:
    whole = [(0.66, -0.65), (0.76, -0.3), (0.78, 0.0), (0.76, 0.3), (0.66, 0.65)]
    half = Nose(**NOSE)
    assert half.points() == whole
    assert Nose(line=whole[::-1], height=0.4).points() == whole
    assert Nose(line=[(0.7, 0.6), (0.76, 0.2)], height=0.4, mirror=True).points() == [
        (0.7, -0.6),
        (0.76, -0.2),
        (0.76, 0.2),
        (0.7, 0.6),
    ]
    design = splitter()
    full = {"line": whole, "height": 0.4}
    assert totals(design, case(nose=NOSE)) == pytest.approx(totals(design, case(nose=full)), rel=1e-12)


def test_a_nose_holds_the_air_up() -> None:
    design = splitter()
    bare, held = totals(design, case()), totals(design, case(nose=NOSE))
    assert all(more > less for more, less in zip(held, bare, strict=True))
    # Stagnation pressure at most, on the part ahead of the line alone.
    line = [(0.2, -0.65), *Nose(**NOSE).points(), (0.2, 0.65)]
    ahead = shapely.difference(design.panel.polygon(), shapely.Polygon(line)).area
    assert held[2] - bare[2] < Q * ahead
    # Under the bonnet +0.2 all over the part behind the line: q 0.2 A more.
    warm = totals(design, case(nose=NOSE | {"under_cp": 0.2}))
    behind = shapely.intersection(design.panel.polygon(), shapely.Polygon(line)).area
    assert warm[1] - held[1] == pytest.approx(0.2 * Q * behind, rel=2e-3)


# Tunnels -----------------------------------------------------------------------------------------------

HOLE = {"name": "t", "rectangle": {"x": (0.3, 0.5), "y": (0.2, 0.5), "round": 0.03}, "mirror": True}


def test_exit_area_of_tunnels_raises_the_suction() -> None:
    # Continuity: a larger exit draws more air through the gap, on the strips that feed the tunnel alone.
    open_ones = [
        splitter(cutouts=[HOLE | ({"tunnel": {"rise": rise, "carried_by": "chassis"}} if rise else {})])
        for rise in (0.0, 0.02, 0.05)
    ]
    found = [typical(design) for design in open_ones]
    assert found == sorted(found)
    assert found[2] > 1.2 * found[0]
    maps = [gap_estimates(design, case(), GapLawMap()) for design in open_ones]
    assert maps[0] is not None
    assert maps[2] is not None
    y = np.array([-0.6, -0.35, 0.0, 0.35, 0.6])
    more = maps[2].typical.at(0.7, y) - maps[0].typical.at(0.7, y)
    assert np.all(more[[1, 3]] > 50.0)
    assert more[[0, 2, 4]] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_tunnels_have_the_width_of_their_openings() -> None:
    left, right = tunnels_of(splitter(cutouts=[HOLE | {"tunnel": {"rise": 0.05}}]))
    assert (left.right, left.left, left.exit_area) == pytest.approx((0.2, 0.5, 0.015))
    assert (right.right, right.left, right.exit_area) == pytest.approx((-0.5, -0.2, 0.015))
    assert tunnels_of(splitter(cutouts=[HOLE])) == []


# Combinations ------------------------------------------------------------------------------------------


def test_each_part_of_a_combination_has_the_gap_of_its_own() -> None:
    low = case().with_(name="diving", ride_height=0.07, rake=0.03)
    both = LoadCase(name="both", combines=[{"case": "estimate", "factor": 0.5}, {"case": "diving"}])
    design = splitter(cases=[case(), low, both])
    high_totals, low_totals = totals(design, case()), totals(design, low)
    assert low_totals[1] > 1.05 * high_totals[1]
    air = sf.solve(design, "both").load.air
    assert air is not None
    expected = [0.5 * one + other for one, other in zip(high_totals, low_totals, strict=True)]
    assert air.band == pytest.approx(expected, rel=1e-12)
    assert [(part.name, factor) for part, factor in acting(design, both)] == [
        ("both", 1.0),
        ("estimate", 0.5),
        ("diving", 1.0),
    ]


# Files and faults --------------------------------------------------------------------------------------


def test_the_map_survives_its_file(tmp_path: Path) -> None:
    pressure = {
        "kind": "gap law", "band": "high", "exit_cp": [-0.1, -0.2, -0.3], "relief": 0.8, "lip": "sharp",
        "outer_cp": -0.05, "with_fall": True, "scale": 1.2,
        "nose": {"line": [("31 in", "0 mm"), ("700 mm", "600 mm")], "height": "16 in", "under_cp": [-0.1, 0.0, 0.2],
                 "mirror": True},
    }  # fmt: skip
    one = LoadCase(
        name="estimate",
        speed="180 km/h",
        head_wind="-10 km/h",
        air={"altitude": "1500 m", "warmer": 8},
        pressure=pressure,
    )
    other = one.with_(name="measured", air={"pressure": "840 hPa", "celsius": 31.5})
    design = splitter(cases=[one, other])
    place = tmp_path / "estimate.toml"
    place.write_text(dumps(design), encoding="utf-8")
    again = load(place)
    assert again == design
    assert dumps(again) == dumps(design)
    for words in (
        'height = "16 in"',
        'head_wind = "-10 km/h"',
        'altitude = "1500 m"',
        'pressure = "840 hPa"',
        'kind = "gap law"',
    ):
        assert words in dumps(design)
    first = again.cases[0].pressure
    assert isinstance(first, GapLawMap)
    assert (first.relief, first.exit_cp) == ((0.8, 0.8, 0.8), (-0.1, -0.2, -0.3))
    assert totals(again, again.cases[0]) == totals(design, one)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"exit_cp": [-0.1, -0.2]}, "exit_cp.#3: is missing; write it"),
        ({"exit_cp": 0.95}, "exit_cp is 0.95; write a number from -2 to 0.9"),
        (
            {"exit_cp": [-0.3, -0.2, -0.1]},
            "exit_cp is [-0.3, -0.2, -0.1]; write first what makes the least downforce, such as [-0.1, -0.2, -0.3]",
        ),
        ({"relief": [0.5, 0.7, 1.2]}, "relief is 1.2; write a number from 0.01 to 1"),
        (
            {"relief": [0.8, 0.7, 0.6]},
            "relief is [0.8, 0.7, 0.6]; write first what makes the least downforce, such as [0.55, 0.7, 0.85]",
        ),
        ({"outer_cp": 1.0}, "outer_cp is 1; write a number from -1 to 0.9"),
        ({"scale": 0.0}, "scale: 0 is not above zero"),
        ({"lip": "round"}, "lip: \"round\" is not a choice here; did you mean 'rounded'?"),
        ({"band": "typicl"}, "band: \"typicl\" is not a choice here; did you mean 'typical'?"),
        (
            {"nose": NOSE | {"line": [(0.7, -0.3), (0.6, 0.6)]}},
            "nose: line is that of the left side with mirror, where y is not negative; change the sign of its y",
        ),
        (
            {"nose": NOSE | {"line": [(0.7, 0.0)]}},
            "nose: line goes across the car: write its points from one side to the other, each further in y",
        ),
        (
            {"nose": {"line": [(0.7, -0.6), (0.8, 0.1), (0.7, 0.1)], "height": 0.4}},
            "nose: line goes across the car: write its points from one side to the other, each further in y",
        ),
        (
            {"nose": NOSE | {"height": 450.0}},
            'nose: height is 450 m; write that of the nose over the panel, such as "450 mm"',
        ),
        ({"nose": NOSE | {"under_cp": 1.2}}, "nose: under_cp is 1.2; write a number from -3 to 1"),
        (
            {"nose": NOSE | {"under_cp": [0.2, 0.1, 0.0]}},
            "nose: under_cp is [0.2, 0.1, 0]; write first what makes the least downforce, such as [-0.1, 0.0, 0.3]",
        ),
    ],
)
def test_maps_that_cannot_be(fields: dict[str, Any], sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        GapLawMap(**fields)
    assert str(caught.value).removeprefix("gaplawmap").lstrip(":, ") == sentence


def test_ranges_of_the_record_are_those_of_the_law() -> None:
    """What a record takes the formulas take, at both ends."""
    design = splitter()
    for pressure in (
        {"exit_cp": -2.0},
        {"exit_cp": 0.9},
        {"relief": 0.01},
        {"relief": 1.0},
        {"outer_cp": -1.0},
        {"outer_cp": 0.9},
    ):
        assert np.isfinite(totals(design, case(**pressure))).all()
    for under in (-3.0, 1.0):
        assert np.isfinite(totals(design, case(nose=NOSE | {"under_cp": under, "height": 2.9}))).all()
