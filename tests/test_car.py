"""What the car feels: axle loads by moment equilibrium, drag of the edge, shares and bands."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import splitterfem as sf
from splitterfem.aero.axles import axle_loads, edge_drag
from splitterfem.errors import DesignError

Q50 = 0.5 * 1.225 * 50.0**2
"""Dynamic pressure at 50 m/s in Pa, 1.225 kg/m3 (ISO 2533)."""


# Axles -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("force", "x", "front", "rear"),
    [
        (1000.0, 0.75, 1300.0, -300.0),  # ahead of the axle: more than itself in front, the rear unloaded
        (1000.0, 0.0, 1000.0, 0.0),
        (1000.0, -2.5, 0.0, 1000.0),
        (-400.0, 0.75, -520.0, 120.0),  # lift
        (0.0, 0.75, 0.0, 0.0),
    ],
)
def test_axle_loads_by_hand(force: float, x: float, front: float, rear: float) -> None:
    # Lever rule on a wheelbase of 2.5 m.
    loads = axle_loads(force, (x, 0.0), wheelbase=2.5)
    assert (loads.front, loads.rear) == pytest.approx((front, rear), abs=1e-9)
    assert math.isnan(loads.left)


def test_drag_lifts_the_nose() -> None:
    # 100 N at 0.1 m on 2.5 m: 4 N off the front, 4 N onto the rear.
    for force, x in ((1000.0, 0.75), (0.0, math.nan)):
        with_drag = axle_loads(force, (x, 0.0), wheelbase=2.5, drag=100.0, drag_height=0.1)
        front, rear = (1300.0, -300.0) if force else (0.0, 0.0)
        assert (with_drag.front, with_drag.rear) == pytest.approx((front - 4.0, rear + 4.0))


METRES = st.tuples(st.floats(-1.0, 1.5), st.floats(0.0, 0.3), st.floats(1.0, 4.0), st.floats(-3.0, 3.0))


@given(st.floats(-5e3, 5e3), st.floats(0.0, 200.0), METRES)
def test_axle_loads_balance_the_forces(force: float, drag: float, metres: tuple[float, ...]) -> None:
    """Statics: forces and moments about any point on the road add up to nothing."""
    x, height, wheelbase, about = metres
    loads = axle_loads(force, (x, 0.0), wheelbase=wheelbase, drag=drag, drag_height=height)
    size = 1.0 + abs(force) + drag
    assert loads.front + loads.rear == pytest.approx(force, abs=1e-11 * size)
    moment = (
        force * (x - about) - drag * height - loads.front * (0.0 - about) - loads.rear * (-wheelbase - about)
    )
    assert moment == pytest.approx(0.0, abs=1e-10 * size)


@pytest.mark.parametrize(("y", "share"), [(0.0, 0.5), (0.15, 0.6), (-0.3, 0.3), (0.75, 1.0)])
def test_share_of_the_left_wheels(y: float, share: float) -> None:
    # Lever rule across a track of 1.5 m.
    assert axle_loads(800.0, (0.6, y), wheelbase=2.5, track=1.5).left == pytest.approx(share)


def test_faults_of_axles() -> None:
    with pytest.raises(DesignError) as caught:
        axle_loads(1.0, (0.0, 0.0), wheelbase=0.0)
    assert str(caught.value) == "The wheelbase is 0 m; give one above zero."
    with pytest.raises(DesignError) as caught:
        axle_loads(1.0, (0.0, 0.0), wheelbase=2.5, track=-1.5)
    assert str(caught.value) == "The track is -1.5 m; give one above zero."


def test_drag_of_a_blunt_edge() -> None:
    # 0.9 q t W: 33 N for 12 mm by 1.6 m at 200 km/h (1890 Pa), worked by hand; the coefficient is from memory.
    assert edge_drag(1890.0, thickness=0.012, width=1.6) == pytest.approx(32.66, abs=0.01)
    assert edge_drag(1890.0, thickness=0.012, width=1.6, coefficient=0.09) == pytest.approx(3.266, abs=0.001)


# Solutions ---------------------------------------------------------------------------------------------

CORNERS = [(0.15, -0.4), (0.15, 0.4), (0.75, -0.4), (0.75, 0.4)]
WHOLE = {"ride_height": 0.09, "rake": 0.02, "wheelbase": 2.5, "track": 1.5}
RAMP = {"rise": 0.05, "force": 120.0, "force_speed": 50.0}


def splitter(car: dict[str, Any] | None = None, **more: Any) -> sf.Splitter:
    """800 x 1000 mm from x = 100 to 900 mm."""
    edges = [{"to": (0.9, -0.5)}, {"to": (0.9, 0.5)}, {"to": (0.1, 0.5)}]
    panel = {
        "outline": {"start": (0.1, -0.5), "edges": edges},
        "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        "cutouts": more.pop("cutouts", ()),
    }
    bolts = [{"name": f"bolt {i}", "at": at, "holds": "xyz"} for i, at in enumerate(CORNERS)]
    return sf.Splitter(
        name="on a car", panel=panel, bolts=bolts, car=car or WHOLE, mesh={"size": 0.15}, **more
    )


def tilted(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Coefficient with its centre off the middle, by closed form."""
    return 0.6 * (1.0 + 0.5 * (x - 0.5) / 0.4 + 0.3 * y / 0.5)


AIR = sf.LoadCase(name="air", speed=50.0, pressure={"kind": "function", "function": tilted})
EVEN = sf.LoadCase(name="even", speed=50.0, pressure={"kind": "uniform", "cp": 0.6})


@pytest.fixture(scope="module")
def model() -> Any:
    return sf.build(splitter())


def test_car_of_a_solution_by_hand(model: Any) -> None:
    # Linear pressure p0 (1 + a X + b Y) on a rectangle of half sides A, B: centre at a A / 3, b B / 3 from the middle.
    car = sf.solve(model, AIR).car
    force = 0.6 * Q50 * 0.8
    x, y = 0.5 + 0.5 * 0.4 / 3.0, 0.3 * 0.5 / 3.0
    assert car.downforce == pytest.approx(force, rel=1e-9)
    assert car.centre == pytest.approx((x, y), abs=1e-9)
    drag = 0.9 * Q50 * 0.012 * 1.0
    height = 0.09 - 0.9 * math.tan(0.02) + 0.006  # of the edge's middle over the road
    assert car.drag == pytest.approx(drag, rel=1e-12)
    pitch = drag * height / 2.5
    assert car.front == pytest.approx(force * (1.0 + x / 2.5) - pitch, rel=1e-9)
    assert car.rear == pytest.approx(-force * x / 2.5 + pitch, rel=1e-9)
    assert car.front + car.rear == pytest.approx(car.downforce, rel=1e-12)
    assert car.front > car.downforce
    assert car.left == pytest.approx(0.5 + y / 1.5, rel=1e-9)
    assert car.band is None


def test_air_wind_and_factor_count_in_the_drag(model: Any) -> None:
    once = sf.solve(model, EVEN).car
    blown = sf.solve(model, EVEN.with_(speed=45.0, head_wind=5.0)).car
    assert (blown.drag, blown.front) == pytest.approx((once.drag, once.front), rel=1e-12)
    thin = sf.solve(model, EVEN.with_(air={"pressure": 90_000.0, "celsius": 30.0})).car
    share = 90_000.0 / (287.05287 * 303.15) / 1.225  # ideal gas, ISO 2533
    assert (thin.drag / once.drag, thin.downforce / once.downforce) == pytest.approx((share, share), rel=1e-9)
    more = sf.solve(model, EVEN.with_(factor=1.15)).car
    assert more.drag == pytest.approx(1.15 * once.drag, rel=1e-12)


def test_what_is_not_known_is_nan() -> None:
    plain = sf.solve(splitter({"ride_height": 0.09}), EVEN).car
    assert plain.downforce == pytest.approx(0.6 * Q50 * 0.8)
    assert np.isnan([plain.front, plain.rear, plain.left]).all()
    track = sf.solve(splitter({"ride_height": 0.09, "track": 1.5}), EVEN).car
    assert np.isnan([track.front, track.rear]).all()
    assert track.left == pytest.approx(0.5, abs=1e-9)
    base = sf.solve(splitter({"ride_height": 0.09, "wheelbase": 2.5}), EVEN).car
    assert math.isnan(base.left)
    assert base.front + base.rear == pytest.approx(base.downforce)


def test_without_air_the_car_feels_nothing(model: Any) -> None:
    for case in (sf.LoadCase(name="weight"), EVEN.with_(speed=0.0)):
        solution = sf.solve(model, case)
        car = solution.car
        assert (car.downforce, car.drag, car.front, car.rear) == (0.0, 0.0, 0.0, 0.0)
        assert np.isnan([*car.centre, car.left]).all()
        assert solution.downforce == 0.0


def test_tunnels_count_beside_the_panel() -> None:
    # Measured 120 N on each ramp at 50 m/s; their places are those of the estimate.
    hole = {"name": "t", "rectangle": {"x": (0.3, 0.5), "y": (0.15, 0.35)}, "mirror": True}
    design = splitter(cutouts=[hole | {"tunnel": RAMP | {"carried_by": "chassis"}}])
    solution = sf.solve(design, EVEN)
    panel = 0.6 * Q50 * (0.8 - 2 * 0.04)
    left, right = solution.load.tunnels
    assert (left.force.force, right.force.force) == (120.0, 120.0)
    assert solution.car.downforce == pytest.approx(panel + 240.0, rel=1e-9)
    moment = panel * (0.8 * 0.5 - 0.08 * 0.4) / 0.72 + 240.0 * left.force.x
    assert solution.car.centre == pytest.approx((moment / (panel + 240.0), 0.0), abs=1e-9)
    front = panel + 240.0 + moment / 2.5 - solution.car.drag * (0.096 - 0.9 * math.tan(0.02)) / 2.5
    assert solution.car.front == pytest.approx(front, rel=1e-9)
    alone = sf.solve(design, sf.LoadCase(name="ramps", speed=50.0)).car
    assert alone.downforce == pytest.approx(240.0)
    assert alone.drag == pytest.approx(0.9 * Q50 * 0.012)


def test_band_of_a_measured_map_shifts_by_the_tunnels() -> None:
    hole = {"name": "t", "rectangle": {"x": (0.3, 0.5), "y": (-0.1, 0.1)}, "tunnel": RAMP}
    unsure = EVEN.with_(pressure={"kind": "uniform", "cp": 0.6, "uncertainty": 0.15})
    car = sf.solve(splitter(cutouts=[hole]), unsure).car
    panel = 0.6 * Q50 * (0.8 - 0.04)
    assert car.band == pytest.approx((0.85 * panel + 120.0, panel + 120.0, 1.15 * panel + 120.0), rel=1e-9)
    assert car.downforce == pytest.approx(car.band[1])


def test_a_combination_drags_as_its_parts_do() -> None:
    # 1.2 x the drag at 50 m/s and 0.5 x that at 30 m/s; a push at 80 m/s has no air and drags nothing.
    slow = EVEN.with_(name="slow", speed=30.0, pressure={"kind": "uniform", "cp": 0.9})
    push = sf.LoadCase(
        name="push", speed=80.0, forces=[{"kind": "point", "at": (0.5, 0.0), "force": (0, 0, -99)}]
    )
    parts = [{"case": "even", "factor": 1.2}, {"case": "slow", "factor": 0.5}, {"case": "push"}]
    design = splitter(cases=[EVEN, slow, push, {"name": "both", "combines": parts}])
    both, one, other = (sf.solve(design, name).car for name in ("both", "even", "slow"))
    assert both.drag == pytest.approx(1.2 * one.drag + 0.5 * other.drag, rel=1e-12)
    assert both.downforce == pytest.approx(1.2 * one.downforce + 0.5 * other.downforce, rel=1e-9)
    assert both.front == pytest.approx(1.2 * one.front + 0.5 * other.front, rel=1e-9)


def test_suction_and_pressure_that_cancel_still_turn_the_car() -> None:
    # 120 N down on the ramp and 120 N up on the panel: no centre, but a couple F (x1 - x2) / L on the axles.
    hole = {"name": "t", "rectangle": {"x": (0.6, 0.8), "y": (-0.1, 0.1)}, "tunnel": RAMP}
    lift = EVEN.with_(pressure={"kind": "uniform", "pressure": -120.0 / (0.8 - 0.04)})
    solution = sf.solve(splitter(cutouts=[hole]), lift)
    car, ramp = solution.car, solution.load.tunnels[0].force
    assert car.downforce == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(car.centre).all()
    middle = (0.8 * 0.5 - 0.04 * 0.7) / 0.76
    pitch = car.drag * (0.096 - 0.9 * math.tan(0.02)) / 2.5
    assert car.front == pytest.approx(120.0 * (ramp.x - middle) / 2.5 - pitch, rel=1e-6)
    assert car.rear == pytest.approx(-car.front, rel=1e-6)
    assert math.isnan(car.left)
