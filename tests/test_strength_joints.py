"""Joints, pads, pockets and ribs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from splitterfem.errors import DesignError
from splitterfem.materials import TubeSection, sheet
from splitterfem.materials.slip import slip_modulus
from splitterfem.strength.joints import (
    bond_stiffness,
    bond_strength,
    bond_stress,
    fastener_load,
    partial_composite,
    shear_flow,
)
from splitterfem.strength.pads import equivalent_radius, pad_bending_stress
from splitterfem.strength.pocket import (
    LEAST_OVERLAP,
    Movement,
    lip_bending,
    lip_line_load,
    moisture,
    overlap_check,
    panel_under_lip,
    slope_shortening,
    strut_arc,
    temperature,
)
from splitterfem.strength.ribs import fibre_strength, worst_along
from splitterfem.strength.walls import (
    plate_buckling_stress,
    wall_reduction,
    wall_strength,
)


def test_nailed_box_beam_of_a_textbook() -> None:
    """Gere & Goodno, Mechanics of Materials, problem 5.11-4: 10.7 kN, Q 926 250 mm3, I 411.125e6 mm4, nails in two
    rows at 100 mm carry 1200 N each, shear flow 24 kN/m.
    """
    E = 10e9  # cancels
    flow = shear_flow(10.7e3, EQ=E * 926.25e-6, EI=E * 411.125e-6)
    assert flow / 1e3 == pytest.approx(24.0, rel=5e-3)
    assert fastener_load(flow, pitch=0.1, rows=2) == pytest.approx(1200.0, rel=5e-3)


def test_plywood_webs_of_a_textbook() -> None:
    """Gere & Goodno, problem 5.11-7: 200 lb, Q 8.1563 in3, I 75.344 in4, 30 lb a nail, two webs: pitch 2.77 in."""
    flow = shear_flow(200.0, EQ=8.1563, EI=75.344)
    assert fastener_load(flow, pitch=2.77, rows=2) == pytest.approx(30.0, rel=2e-3)


# Panel strip 150 x 12 mm of birch plywood with a tube 25 x 25 x 2 mm over 700 mm, EN 1995-1-1 annex B (from memory),
# by hand: stiffness of the joint in N/mm2, gamma, EI in kN m2.
JOINTS = [
    ("elastic adhesive, 0.7 MPa, 3 mm", 5.8, 0.02, 1.46),
    ("stiffer adhesive, 3 MPa, 2 mm", 37.0, 0.13, 1.87),
    ("M6 at 100 mm", 93.0, 0.27, 2.32),
    ("M6 at 50 mm", 185.0, 0.42, 2.74),
    ("acrylic, 250 MPa, 0.75 mm", 8300.0, 0.97, 3.79),
    ("epoxy, 900 MPa, 0.5 mm", 45000.0, 0.99, 3.83),
]


def plywood_and_tube() -> dict:
    board = sheet("birch plywood 12 mm")
    tube, E, b, t = TubeSection(width=0.025, height=0.025, wall=0.002).properties(), 69e9, 0.150, 0.012
    return {
        "EA": (E * tube.area, float(board.E1) * b * t),
        "EI": (E * tube.I, board.bending_pair[0] * b * t**3 / 12),
        "distance": 0.0125 + 0.006,
        "length": 0.7,
    }


@pytest.mark.parametrize(("name", "k", "gamma", "bending"), JOINTS)
def test_gamma_method(name: str, k: float, gamma: float, bending: float) -> None:
    found = partial_composite(**plywood_and_tube(), stiffness=k * 1e6)
    assert found.gamma == pytest.approx(gamma, abs=0.006)
    effective = found.EI / 1e3
    assert effective == pytest.approx(bending, abs=0.011)


def test_stiffness_of_the_joints_by_hand() -> None:
    """G b / t and twice K_ser over the pitch, N/mm2."""
    assert bond_stiffness(0.7e6, width=0.025, thickness=3e-3) / 1e6 == pytest.approx(5.8, abs=0.05)
    assert bond_stiffness(900e6, width=0.025, thickness=0.5e-3) / 1e6 == pytest.approx(45000)
    bolts = slip_modulus(6e-3, 680.0, metal_side=True)
    assert [bolts / pitch / 1e6 for pitch in (0.1, 0.05)] == pytest.approx([93, 185], abs=0.6)


def test_gamma_method_between_loose_and_rigid() -> None:
    """Closed forms: sum of E I, and the parallel-axis theorem about the common neutral axis."""
    about = plywood_and_tube()
    loose = partial_composite(**about, stiffness=1e-3)
    rigid = partial_composite(**about, stiffness=1e20)
    (EA1, EA2), a = about["EA"], about["distance"]
    apart = sum(about["EI"])
    together = apart + EA1 * EA2 / (EA1 + EA2) * a**2
    limits = [loose.EI, rigid.EI]
    assert limits == pytest.approx([apart, together], rel=1e-6)
    flow = shear_flow(1.0, EQ=EA1 * rigid.first, EI=rigid.EI)
    assert rigid.flow_per_shear == pytest.approx(flow, rel=1e-9)


def test_bonds() -> None:
    """Mean stress by hand; on plywood the veneer limits the bond (about 1 MPa, indicative)."""
    assert bond_stress(10e3, width=0.025) == pytest.approx(0.4e6)
    metal = bond_strength(15e6, factor=3.0, on_wood=False)
    wood = bond_strength(15e6, factor=3.0, on_wood=True)
    soft = bond_strength(0.6e6, factor=2.0, on_wood=True)
    assert [r.value / 1e6 for r in (metal, wood, soft)] == pytest.approx([5.0, 1 / 3, 0.3])
    assert (metal.basis, wood.basis, soft.basis) == ("user", "indicative", "user")


@pytest.mark.parametrize(("radius", "mpa"), [(5, 15.4), (10, 13.2), (12.5, 12.4), (15, 11.7), (25, 9.9)])
def test_bending_at_a_pad(radius: float, mpa: float) -> None:
    """Westergaard / Roark by hand: 1 kN on 12 mm, support at 150 mm, Poisson's ratio 0.1."""
    found = pad_bending_stress(1e3, radius=radius * 1e-3, thickness=12e-3, support=0.15, nu=0.1)
    assert found / 1e6 == pytest.approx(mpa, abs=0.06)


def test_a_point_load_acts_on_a_third_of_the_thickness() -> None:
    """Westergaard 1926: the equivalent radius of a point load is 0.325 t."""
    assert equivalent_radius(1e-9, 12e-3) == pytest.approx(0.325 * 12e-3, rel=1e-6)
    assert equivalent_radius(6e-3, 12e-3) == 6e-3


def test_lips_by_hand() -> None:
    """300 N on a stretch of 20 mm is 15 N/mm; 8 MPa over 2 mm 16 N/mm; strip 3 mm thick, 25 mm arm, 235 MPa:
    235 x 9 / (6 x 25) = 14.1 N/mm.
    """
    load = lip_line_load(-300.0, 0.02)
    assert load / 1e3 == pytest.approx(15.0)
    panel = panel_under_lip(depth=2e-3, f_c90=8e6)
    lip = lip_bending(thickness=3e-3, arm=25e-3, yield_strength=235e6)
    assert (panel.value / 1e3, lip.value / 1e3) == pytest.approx((16.0, 14.1))
    assert panel.check(load, part="pocket", kind="rear pocket").ratio == pytest.approx(15 / 16)


def test_movements_by_hand() -> None:
    """Drop 10 mm over 600 mm: 0.083 mm. Ten points of moisture 0.15 %. 17e-6/K x 40 K x 1.5 m = 1.02 mm."""
    assert slope_shortening(10e-3, 0.6).value * 1e3 == pytest.approx(0.0833, abs=1e-4)
    assert moisture(0.6, 0.10).value == pytest.approx(0.0015 * 0.6)
    assert temperature(1.5, expansion=17e-6, change=40.0).value * 1e3 == pytest.approx(1.02)


def test_strut_arc_keeps_the_length_of_the_strut() -> None:
    """Geometry: the foot moves on the circle round the head; to first order drop x rise / run."""
    run, rise, drop = 0.2, 0.2, 5e-3
    out = strut_arc(run=run, rise=rise, drop=drop).value
    assert math.hypot(run - out, rise + drop) == pytest.approx(math.hypot(run, rise), rel=1e-12)
    assert strut_arc(run=run, rise=rise, drop=1e-6).value == pytest.approx(1e-6 * rise / run, rel=1e-4)
    assert strut_arc(run=-run, rise=rise, drop=drop).value == pytest.approx(-out)
    with pytest.raises(DesignError, match="length does not allow"):
        strut_arc(run=0.01, rise=0.2, drop=0.01)


def test_overlap() -> None:
    """25 mm left (common practice, no source) plus what moves out; what moves in is not set off."""
    moves = [Movement("kerb", 3e-3, "given", "user"), Movement("strut arc", -2e-3, "geometry", "published")]
    found = overlap_check(0.035, moves, part="pocket left", x=-0.5, y=0.4)
    assert found.ratio == pytest.approx((LEAST_OVERLAP + 3e-3) / 0.035)
    assert (found.basis, found.demand_unit) == ("practice", "m")
    assert "kerb 3.0 mm" in found.note
    with pytest.raises(DesignError, match="pocket left: movement by rain is nan"):
        overlap_check(0.035, [Movement("rain", math.nan, "given", "user")], part="pocket left", x=0.0, y=0.0)


def test_winter_of_a_published_example() -> None:
    """Published example by EN 1993-1-5 4.4: b / t 37.5, 355 MPa, k 4: slenderness 0.8115, reduction 0.8982."""
    critical = plate_buckling_stress(0.3, thickness=0.008, E=210e9, nu=0.3)
    slender = math.sqrt(355e6 / critical)
    assert slender == pytest.approx(0.8115, rel=1e-3)
    assert wall_reduction(slender) == pytest.approx(0.8982, rel=1e-3)
    found = wall_strength(0.3, thickness=0.008, E=210e9, nu=0.3, yield_strength=355e6, factor=1.5)
    assert found.value == pytest.approx(0.8982 * 355e6 / 1.5, rel=1e-3)


def test_stocky_walls_yield() -> None:
    """Tube 25 x 25 x 2 of 6063-T5: b / t 10.5, far from buckling; EN 1993-1-5: no reduction up to 0.673 and 0.748."""
    found = wall_strength(0.021, thickness=0.002, E=68.9e9, nu=0.33, yield_strength=110e6, factor=1.0)
    assert found.value == pytest.approx(110e6)
    assert "yield governs" in found.note
    assert wall_reduction(0.673) == 1.0
    assert wall_reduction(0.748, "one") == pytest.approx(1.0)
    assert wall_reduction(0.7481, "one") == pytest.approx(1.0, abs=2e-3)


def test_worst_station_of_a_rib() -> None:
    stress = np.array([10e6, -90e6, 120e6, -30e6])
    x, y = np.array([0.0, 0.1, 0.2, 0.3]), np.full(4, 0.5)
    strength = fibre_strength(110e6, factor=1.5, basis="published")
    both = worst_along(stress, strength, part="rib", x=x, y=y)
    assert (both.x, both.y, both.ratio) == pytest.approx((0.2, 0.5, 120 / 110 * 1.5))
    pushed = worst_along(stress, strength, part="rib", x=x, y=y, only_compression=True, load_factor=2.0)
    assert (pushed.x, pushed.ratio) == pytest.approx((0.1, 180 / 110 * 1.5))
    with pytest.raises(DesignError, match="rib has no stress"):
        worst_along([], strength, part="rib", x=[], y=[])
