"""Struts: Euler and Johnson loads, eccentric compression, threads, stiffness, geometry."""

from __future__ import annotations

import math

import pytest

from splitterfem.errors import DesignError
from splitterfem.strength.bars import (
    BarSection,
    axial_stiffness,
    pull_along_panel,
    round_bar,
    round_tube,
    threaded_bar,
    vertical_stiffness,
)
from splitterfem.strength.hardware import bolt_class, thread
from splitterfem.strength.struts import (
    bar_tension,
    compression,
    eccentric_compression,
    eccentric_stress,
    rated,
    thread_tension,
    transition_slenderness,
)

IN, LBF, PSI = 0.0254, 4.4482216, 6894.757
STEEL, ALUMINIUM = 205e9, 69e9


def test_slender_column_of_a_textbook() -> None:
    """Mott, Machine Elements in Mechanical Design, example 6-1: round bar of 1.25 in, 54 in long, AISI 1020
    cold drawn (51 ksi, 30e6 psi), pinned: C_c 108, slenderness 173, critical load 12 169 lb.
    """
    bar, steel = round_bar(1.25 * IN), {"E": 30e6 * PSI, "yield_strength": 51e3 * PSI}
    found = compression(bar, length=54 * IN, **steel)
    assert transition_slenderness(**steel) == pytest.approx(108, abs=0.5)
    assert 54 * IN / bar.radius_of_gyration == pytest.approx(173, abs=0.5)
    assert found.mode == "buckling (Euler)"
    assert found.value / LBF == pytest.approx(12169, rel=1e-3)


def test_pinned_tube_of_a_textbook() -> None:
    """Hibbeler, Mechanics of Materials, example 13.1: steel tube 150 x 140 mm, 7.2 m, 200 GPa: 228.2 kN."""
    found = compression(round_tube(0.150, 0.005), length=7.2, E=200e9, yield_strength=250e6)
    assert found.value == pytest.approx(228.2e3, rel=1e-3)


# Pinned, yield 240 MPa, kN; worked by hand from Euler's formula and Johnson's parabola with E 205 and 69 GPa.
BUCKLING = [
    ("M6", 0.150, 2.81, "Johnson"),
    ("M6", 0.250, 1.04, "Euler"),
    ("M6", 0.350, 0.53, "Euler"),
    ("M8", 0.150, 6.77, "Johnson"),
    ("M8", 0.250, 3.45, "Euler"),
    ("M8", 0.350, 1.76, "Euler"),
    ("tube", 0.150, 10.2, "Johnson"),
    ("tube", 0.250, 7.2, "Johnson"),
    ("tube", 0.350, 3.9, "Euler"),
]


@pytest.mark.parametrize(("name", "length", "kilonewton", "formula"), BUCKLING)
def test_buckling_of_usual_struts(name: str, length: float, kilonewton: float, formula: str) -> None:
    if name == "tube":
        section, E = round_tube(0.012, 0.0015), ALUMINIUM
    else:
        section, E = threaded_bar(thread(name).stress_area), STEEL
    found = compression(section, length=length, E=E, yield_strength=240e6)
    assert found.value / 1e3 == pytest.approx(kilonewton, abs=0.06 if kilonewton > 3 else 0.006)
    assert formula in found.mode


def test_both_column_formulas_meet_at_half_the_squash_load() -> None:
    """J. B. Johnson's parabola touches Euler's hyperbola at half the yield load."""
    bar = round_bar(0.006)
    length = transition_slenderness(STEEL, 240e6) * bar.radius_of_gyration
    below, above = (
        compression(bar, length=length * (1 + side), E=STEEL, yield_strength=240e6) for side in (-1e-9, 1e-9)
    )
    assert ("Johnson" in below.mode, "Euler" in above.mode) == (True, True)
    assert below.value == pytest.approx(0.5 * bar.area * 240e6, rel=1e-6)
    assert above.value == pytest.approx(below.value, rel=1e-6)


def test_length_factor_of_a_cantilevered_strut() -> None:
    """Euler: fixed at one end and free at the other buckles at a quarter of the pinned load."""
    about = {"length": 0.4, "E": STEEL, "yield_strength": 240e6}
    pinned, free = (compression(round_bar(0.006), **about, length_factor=k) for k in (1.0, 2.0))
    assert free.value == pytest.approx(0.25 * pinned.value, rel=1e-12)


def test_secant_formula_of_a_textbook() -> None:
    """Published exercise (Multimedia Engineering Mechanics, section 9.3): tube of radii 3 and 2.75 in, effective
    length 720 in, 5 kip at 3 in off the axis, 29 000 ksi: 1.107 (1 + 2.173 x 2.175) = 6.339 ksi.
    """
    section = round_tube(6 * IN, 0.25 * IN)
    stress = eccentric_stress(5e3 * LBF, section, length=720 * IN, E=29e6 * PSI, eccentricity=3 * IN)
    assert stress / (1e3 * PSI) == pytest.approx(6.339, rel=2e-3)


def test_eccentric_load_yields_at_its_stress_and_tends_to_the_closed_forms() -> None:
    about = {"length": 0.25, "E": STEEL, "eccentricity": 2e-3}
    bar = round_bar(0.006)
    load = eccentric_compression(bar, **about, yield_strength=240e6)
    assert eccentric_stress(load.value, bar, **about) == pytest.approx(240e6, rel=1e-6)
    euler = compression(bar, length=0.25, E=STEEL, yield_strength=240e6).value
    barely = eccentric_compression(bar, length=0.25, E=STEEL, yield_strength=240e6, eccentricity=1e-9).value
    assert load.value < barely < euler
    assert barely == pytest.approx(euler, rel=1e-3)
    # short: P / A + P e / W, the core formula of eccentric compression
    short = eccentric_compression(bar, length=1e-4, E=STEEL, yield_strength=240e6, eccentricity=2e-3).value
    W = math.pi * 0.006**3 / 32
    assert short == pytest.approx(240e6 / (1 / bar.area + 2e-3 / W), rel=1e-6)


def test_a_push_beyond_euler_is_refused() -> None:
    with pytest.raises(DesignError, match="Euler's load or more"):
        eccentric_stress(5e3, round_bar(0.006), length=0.25, E=STEEL, eccentricity=1e-3)


@pytest.mark.parametrize(("size", "kilonewton"), [("M6", 11.58), ("M8", 21.08)])
def test_thread_in_tension(size: str, kilonewton: float) -> None:
    """EN 1993-1-8 table 3.4, 0.9 f_ub A_s / 1.25 (formula from memory); class 8.8, by hand."""
    found = thread_tension(thread(size).stress_area, ultimate_strength=bolt_class("8.8").ultimate)
    assert found.value / 1e3 == pytest.approx(kilonewton, abs=0.005)
    assert found.basis == "memory"


def test_bar_and_rating() -> None:
    assert bar_tension(round_bar(0.006), yield_strength=235e6).value == pytest.approx(6644.0, rel=1e-3)
    cable = rated(6000.0, what="break of the cable", factor=3.0)
    assert (cable.value, cable.basis) == (pytest.approx(2000.0), "user")
    assert rated(6000.0, what="end fitting", factor=1.0).note == ""


@pytest.mark.parametrize(("name", "stiffness"), [("M6", 16.5), ("M8", 30.0), ("tube", 13.7)])
def test_axial_stiffness_of_250_mm(name: str, stiffness: float) -> None:
    """E A / L by hand, kN/mm; half of it against vertical motion at 45 degrees."""
    tube = name == "tube"
    section = round_tube(0.012, 0.0015) if tube else threaded_bar(thread(name).stress_area)
    k = axial_stiffness(section, length=0.25, E=ALUMINIUM if tube else STEEL)
    assert k / 1e6 == pytest.approx(stiffness, abs=0.06)
    assert vertical_stiffness(k, math.radians(45)) == pytest.approx(0.5 * k)


def test_end_fittings_are_in_series() -> None:
    bar = round_bar(0.006)
    k = axial_stiffness(bar, length=0.25, E=STEEL)
    assert axial_stiffness(bar, length=0.25, E=STEEL, ends=(k, k)) == pytest.approx(k / 3)


def test_pull_of_a_leaning_strut() -> None:
    """Statics of a two-force member: 3-4-5 triangle."""
    along, in_plane = pull_along_panel(400.0, math.atan2(4, 3))
    assert (along, in_plane) == pytest.approx((500.0, 300.0))
    with pytest.raises(DesignError, match="stands at 0 degrees"):
        pull_along_panel(1.0, 0.0)


def test_impossible_sections_are_refused() -> None:
    with pytest.raises(DesignError, match="wall"):
        round_tube(0.012, 0.006)
    with pytest.raises(DesignError, match="diameter is -1"):
        round_bar(-1.0)
    with pytest.raises(DesignError, match="second moment is 0"):
        BarSection(1.0, 0.0, 1.0)
