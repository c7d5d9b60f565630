"""Clevis pins and lugs."""

from __future__ import annotations

import math

import pytest

from splitterfem.errors import DesignError
from splitterfem.strength.pins import (
    lug_bearing,
    lug_net_tension,
    lug_tear_out,
    pin_bearing,
    pin_bending,
    pin_contact_stress,
    pin_moment,
    pin_shear,
    pin_shear_and_bending,
)

# Ultimate double shear at 250 MPa, kN: 2 (pi d^2 / 4) tau by hand.
DOUBLE_SHEAR = [(4.76, 8.9), (5.0, 9.8), (6.0, 14.1), (6.35, 15.8), (8.0, 25.1)]


@pytest.mark.parametrize(("diameter", "kilonewton"), DOUBLE_SHEAR)
def test_double_shear(diameter: float, kilonewton: float) -> None:
    found = pin_shear(diameter * 1e-3, shear_strength=250e6, gamma=1.0)
    assert found.value / 1e3 == pytest.approx(kilonewton, abs=0.06)
    single = pin_shear(diameter * 1e-3, shear_strength=250e6, gamma=1.0, planes=1)
    assert single.value == pytest.approx(0.5 * found.value)


def test_published_calculation_of_a_pin() -> None:
    """Published calculation sheet by EN 1993-1-8 3.13: pin of 16 mm, f_yp 235, f_up 360 MPa. Shear 5 kN with
    gamma_M2 1.25: reserve 6.95. Bending in service of a replaceable pin 5.4 N m: 76 N m, reserve 13.94.
    """
    shear = pin_shear(0.016, shear_strength=0.6 * 360e6, planes=1)
    assert shear.value / 5e3 == pytest.approx(6.95, abs=0.005)
    service = pin_bending(0.016, yield_strength=235e6, state="service")
    assert service.value == pytest.approx(76.0, abs=0.5)
    assert service.value / (0.2 * 27.1) == pytest.approx(13.94, abs=0.02)


def test_pin_bending_by_hand() -> None:
    """EN 1993-1-8 table 3.10 and figure 3.11: M = F / 8 (b + 4 c + 2 a); 1.5 pi d^3 / 32 f_yp."""
    assert pin_moment(2000.0, middle=8e-3, outer=4e-3, gap=0.5e-3) == pytest.approx(2000 / 8 * 18e-3)
    assert pin_bending(0.006, yield_strength=640e6).value == pytest.approx(
        1.5 * math.pi * 6**3 / 32 * 640e-3, rel=1e-12
    )


def test_the_gap_bends_the_pin() -> None:
    """A gap of 2 mm on each side of a middle part of 6 mm between lugs of 3 mm raises the moment by 2/3."""
    tight, loose = (pin_moment(1000.0, middle=6e-3, outer=3e-3, gap=c) for c in (0.0, 2e-3))
    assert loose / tight == pytest.approx(20 / 12)


def test_shear_and_bending_together() -> None:
    """EN 1993-1-8 table 3.10: the squares of both ratios add up."""
    shear = pin_shear(0.006, shear_strength=250e6).check(4000.0, part="pin", kind="pin", x=0.1, y=0.2)
    moment = pin_bending(0.006, yield_strength=640e6).check(10.0, part="pin", kind="pin", x=0.1, y=0.2)
    both = pin_shear_and_bending(moment, shear)
    assert both.ratio == pytest.approx(shear.ratio**2 + moment.ratio**2)
    assert (both.demand_unit, both.allowable, both.part, both.x) == ("-", 1.0, "pin", 0.1)


def test_bearing_of_a_pin() -> None:
    """EN 1993-1-8 table 3.10: 1.5 t d f_y, and 0.6 t d f_y in service for a pin that must come out."""
    about = {"thickness": 4e-3, "yield_strength": 235e6}
    assert pin_bearing(0.006, **about).value == pytest.approx(1.5 * 4 * 6 * 235)
    assert pin_bearing(0.006, **about, state="service").value == pytest.approx(0.6 * 4 * 6 * 235)


def test_contact_stress() -> None:
    """EN 1993-1-8 3.15 by hand: 0.591 sqrt(210 000 x 2000 x 0.2 / (36 x 4)) = 451 MPa."""
    found = pin_contact_stress(2000.0, diameter=6e-3, hole=6.2e-3, thickness=4e-3, E=210e9)
    assert found / 1e6 == pytest.approx(451.4, rel=1e-3)
    with pytest.raises(DesignError, match="play in the hole"):
        pin_contact_stress(2000.0, diameter=6e-3, hole=5.9e-3, thickness=4e-3, E=210e9)


def test_lug_by_hand() -> None:
    """Aluminum Design Manual (formulas from memory), 6061-T6 extrusion F_tu 262 MPa, lug 20 x 4 mm, hole 6 mm,
    12 mm to the end: (20 - 6) 4 262; 2 (12 - 3) 4 0.6 262; 2 x 6 x 4 x 262 N.
    """
    F_tu, t = 262e6, 4e-3
    tension = lug_net_tension(width=20e-3, hole=6e-3, thickness=t, ultimate_strength=F_tu)
    tear = lug_tear_out(end_distance=12e-3, hole=6e-3, thickness=t, ultimate_strength=F_tu)
    bearing = lug_bearing(diameter=6e-3, end_distance=12e-3, thickness=t, ultimate_strength=F_tu)
    assert [r.value for r in (tension, tear, bearing)] == pytest.approx([14672.0, 11318.4, 12576.0])
    assert {r.basis for r in (tension, tear, bearing)} == {"memory"}
    short = lug_bearing(diameter=6e-3, end_distance=9e-3, thickness=t, ultimate_strength=F_tu)
    assert short.value == pytest.approx(0.75 * bearing.value)
    assert "edge nearer" in short.note


def test_impossible_lugs_are_refused() -> None:
    with pytest.raises(DesignError, match="hole"):
        lug_net_tension(width=5e-3, hole=6e-3, thickness=4e-3, ultimate_strength=262e6)
    with pytest.raises(DesignError, match="end distance"):
        lug_tear_out(end_distance=3e-3, hole=6e-3, thickness=4e-3, ultimate_strength=262e6)
