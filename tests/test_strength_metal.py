"""Bolts, screws and rivets in metal."""

from __future__ import annotations

import pytest

from splitterfem.errors import DesignError
from splitterfem.strength.hardware import blind_rivet, bolt_class, thread
from splitterfem.strength.metal import (
    bolt_shear,
    bolt_shear_and_tension,
    rivet_resistances,
    screw_pull_out,
    screw_pull_over,
    screw_tilting,
    sheet_bearing,
    sheet_pull_through,
)
from splitterfem.strength.struts import thread_tension

IN, LBF, KSI = 0.0254, 4.4482216, 6.894757e6

# Published table of capacities by AAMA TIR-A9, aluminium 6063-T6 (yield 172 MPa): allowable pull-out with a factor
# of 3, kN, for walls of 1.0, 1.5, 2.0 and 2.5 mm.
PULL_OUT = {
    3.5: (0.20, 0.31, 0.41, 0.61),
    4.2: (0.25, 0.37, 0.49, 0.73),
    4.8: (0.28, 0.42, 0.56, 0.83),
    5.5: (0.32, 0.48, 0.64, 0.95),
    6.3: (0.37, 0.55, 0.74, 1.09),
}


@pytest.mark.parametrize("diameter", [*PULL_OUT])
def test_pull_out_of_a_published_table(diameter: float) -> None:
    """Within 1 % (its own factors are that much larger) and half of its last digit."""
    for wall, value in zip((1.0, 1.5, 2.0, 2.5), PULL_OUT[diameter], strict=True):
        found = screw_pull_out(diameter * 1e-3, wall=wall * 1e-3, yield_strength=172e6).divided(3.0, "ADM")
        assert found.value / 1e3 == pytest.approx(value, abs=0.01 * value + 0.005)


def test_pull_out_with_the_ultimate_strength_is_too_high() -> None:
    """No. 10 screw (4.8 mm) in 2 mm of 6063-T5, by hand: 1.5 kN with F_tu 152 MPa, 1.07 kN with F_ty 110 MPa."""
    quoted, right = (screw_pull_out(4.8e-3, wall=2e-3, yield_strength=f).value for f in (152e6, 110e6))
    assert quoted / 1e3 == pytest.approx(1.5, abs=0.05)
    assert right / 1e3 == pytest.approx(1.07, abs=0.005)


def test_walls_outside_the_formula() -> None:
    with pytest.raises(DesignError, match=r"wall is 0\.8 mm"):
        screw_pull_out(4.8e-3, wall=0.8e-3, yield_strength=110e6)
    thick = screw_pull_out(4.8e-3, wall=5e-3, yield_strength=110e6)
    assert thick.value == pytest.approx(screw_pull_out(4.8e-3, wall=0.125 * IN, yield_strength=110e6).value)
    assert "3.2 mm" in thick.note


# Table of a screw maker computed by the Aluminum Design Manual of 2015: ultimate pull-over, lbf, for sheets of
# 1/32, 1/16, 1/8 in of 6063-T5, 6063-T6, 6061-T6 (yield 16, 25, 35 ksi); heads of 0.399, 0.415, 0.500 in.
PULL_OVER = {
    ("No. 10", 0.399): ((225, 355, 495), (505, 790, 1105), (1225, 1915, 2680)),
    ("No. 12", 0.415): ((235, 365, 510), (520, 815, 1140), (1255, 1960, 2745)),
    ("1/4 in", 0.500): ((275, 430, 605), (605, 945, 1325), (1425, 2225, 3115)),
}


@pytest.mark.parametrize("screw", [*PULL_OVER])
def test_pull_over_of_a_published_table(screw: tuple[str, float]) -> None:
    for row, thickness in zip(PULL_OVER[screw], (1 / 32, 1 / 16, 1 / 8), strict=True):
        for value, fy in zip(row, (16, 25, 35), strict=True):
            found = screw_pull_over(
                screw[1] * IN, thickness=thickness * IN, yield_strength=fy * KSI, hole=0.19 * IN
            )
            assert found.value / LBF == pytest.approx(value, abs=5.0)


def test_tilting_and_bearing_by_hand() -> None:
    """Aluminum Design Manual, formulas from memory: 4.2 sqrt(2^3 4.8) 152 = 3956 N; 2 x 4.8 x 2 x 152 = 2918 N."""
    assert screw_tilting(4.8e-3, wall=2e-3, ultimate_strength=152e6).value == pytest.approx(3956, abs=1)
    about = {"thickness": 2e-3, "ultimate_strength": 152e6}
    assert sheet_bearing(4.8e-3, edge=20e-3, **about).value == pytest.approx(2918.4)
    near = sheet_bearing(4.8e-3, edge=7.2e-3, **about)
    assert near.value == pytest.approx(0.75 * 2918.4)
    assert "edge nearer" in near.note


def test_bolt_by_hand() -> None:
    """EN 1993-1-8 table 3.4 (from memory), M6 8.8: shear 0.6 x 800 x 20.1 / 1.25 = 7.72 kN; 10.9 with 0.5."""
    area = thread("M6").stress_area
    assert bolt_shear(area, bolt_class("8.8")).value / 1e3 == pytest.approx(7.718, abs=1e-3)
    assert bolt_shear(area, bolt_class("10.9"), planes=2).value / 1e3 == pytest.approx(16.08, abs=1e-2)


def test_shear_and_tension_of_a_bolt() -> None:
    """EN 1993-1-8 table 3.4: F_v / F_v,Rd + F_t / (1.4 F_t,Rd)."""
    area, bolt = thread("M6").stress_area, bolt_class("8.8")
    about = {"part": "bolt", "kind": "bolt"}
    shear = bolt_shear(area, bolt).check(0.5 * bolt_shear(area, bolt).value, **about)
    pull = thread_tension(area, ultimate_strength=bolt.ultimate)
    both = bolt_shear_and_tension(shear, pull.check(0.7 * pull.value, **about))
    assert both.ratio == pytest.approx(1.0)
    assert both.basis == "memory"


def test_bolt_head_through_a_sheet() -> None:
    """EN 1993-1-8 table 3.4 (from memory): 0.6 pi 12 x 2 x 290 / 1.25 N."""
    found = sheet_pull_through(12e-3, thickness=2e-3, ultimate_strength=290e6)
    assert found.value == pytest.approx(0.6 * 3.14159265 * 12 * 2 * 290 / 1.25)


def test_rivets_are_divided_and_marked() -> None:
    """ISO 15977, least loads of the lower class, from memory: 4.8 mm 1.2 kN in shear, 1.7 kN in tension."""
    shear, tension = rivet_resistances(blind_rivet(4.8e-3), factor=3.0)
    assert (shear.value, tension.value) == pytest.approx((400.0, 1700.0 / 3))
    assert {shear.basis, tension.basis} == {"memory"}


def test_a_head_smaller_than_its_hole_is_refused() -> None:
    with pytest.raises(DesignError, match="hole"):
        screw_pull_over(4e-3, thickness=1e-3, yield_strength=1e8, hole=5e-3)
