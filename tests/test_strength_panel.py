"""Panel utilisations from stress resultants: handbook boards, veneers, metal, sandwich."""

from __future__ import annotations

import math

import numpy as np
import pytest

from splitterfem.errors import DesignError
from splitterfem.materials import Layup, Ply, SheetMaterial, SheetStrength, laminate, sheet, veneer_layup
from splitterfem.strength import assess_panel, utilisation_table
from splitterfem.strength.panel import panel_utilisation
from splitterfem.strength.sandwich import wrinkling
from splitterfem.strength.timber import TimberFactors, timber_factors
from splitterfem.strength.utilisation import DesignFactors, PanelUtilisation, forces, von_mises

PLAIN = DesignFactors(TimberFactors(1.0, 1.0), 1.0, 1.0)
ZERO3, ZERO2 = np.zeros((1, 3)), np.zeros((1, 2))


def judge(N=ZERO3, M=ZERO3, Q=ZERO2, *, of, thickness=0.012, grain=0.0, factors=PLAIN) -> PanelUtilisation:
    return panel_utilisation(N, M, Q, sheet=of, thickness=thickness, grain_angle=grain, factors=factors)


def ratio(found: PanelUtilisation, words: str, point: int = 0) -> float:
    """Ratio of the one mode whose name holds the words."""
    (mode,) = [m for m in found.modes if words in m.mode]
    return float(mode.ratio[point])


def along(value: float, axis: int = 0) -> np.ndarray:
    row = np.zeros((1, 3))
    row[0, axis] = value
    return row


# --- handbook boards


def test_a_12_mm_board_at_its_bending_strength() -> None:
    """6 M / t^2 = 42.9 MPa along and 33.2 MPa across the face grain (Handbook of Finnish Plywood, from memory)."""
    board, t = sheet("birch plywood 12 mm"), 0.012
    for axis, strength, way in ((0, 42.9e6, "along"), (1, 33.2e6, "across")):
        found = judge(M=along(strength * t**2 / 6, axis), of=board)
        assert ratio(found, f"bending and axial force {way}") == pytest.approx(1.0, rel=1e-12)
        other = {"along": "across", "across": "along"}[way]
        assert ratio(found, f"bending and axial force {other}") == 0.0


def test_the_grain_turns_the_strength() -> None:
    """Turned by 90 degrees, bending along x is bending across the grain."""
    board, M = sheet("birch plywood 12 mm"), along(500.0)
    straight, turned = (judge(M=M, of=board, grain=a) for a in (0.0, math.pi / 2))
    assert ratio(turned, "force across") == pytest.approx(ratio(straight, "force along") * 42.9 / 33.2)
    assert ratio(turned, "force along") == pytest.approx(0.0, abs=1e-12)


def test_bending_at_45_degrees_by_hand() -> None:
    """Turning of a moment by 45 degrees: M / 2 along, M / 2 across, M / 2 twisting (Mohr's circle)."""
    M, t = 600.0, 0.012
    found = judge(M=along(M), of=sheet("birch plywood 12 mm"), grain=math.pi / 4)
    edge = 6 * (M / 2) / t**2 / 1e6
    assert ratio(found, "force along") == pytest.approx(edge / 42.9)
    assert ratio(found, "force across") == pytest.approx(edge / 33.2)
    assert ratio(found, "panel shear") == pytest.approx(edge / 9.5)


@pytest.mark.parametrize(("sign", "strength"), [(1.0, 40.0), (-1.0, 27.7)])
def test_axial_force_adds_to_bending(sign: float, strength: float) -> None:
    """EN 1995-1-1 6.17: ratios of tension and bending add up; in compression the same, on the safe side."""
    t = 0.012
    found = judge(N=along(sign * 5e6 * t), M=along(-10e6 * t**2 / 6), of=sheet("birch plywood 12 mm"))
    assert ratio(found, "force along") == pytest.approx(5 / strength + 10 / 42.9)


def test_planar_and_panel_shear() -> None:
    """1.5 Q / t against 2.78 and 2.22 MPa; N_xy / t against 9.5 MPa (handbook, from memory)."""
    t = 0.012
    found = judge(
        N=along(4.75e6 * t, 2), Q=np.array([[1.39e6, 2.22e6]]) * t / 1.5, of=sheet("birch plywood 12 mm")
    )
    assert ratio(found, "span along") == pytest.approx(0.5)
    assert ratio(found, "span across") == pytest.approx(1.0)
    assert ratio(found, "panel shear") == pytest.approx(0.5)


def test_factors_on_wood_and_load() -> None:
    """Wet, short: 42.9 x 0.70 / 1.2 = 25.0 MPa (EN 1995-1-1 tables 3.1 and 2.3); the load factor multiplies."""
    t = 0.012
    wet = DesignFactors(timber_factors(3, "short"), 1.5, 2.0)
    found = judge(M=along(25.0e6 * t**2 / 6), of=sheet("birch plywood 12 mm"), factors=wet)
    assert ratio(found, "force along") == pytest.approx(2.0, rel=2e-3)


def test_a_strength_that_is_not_known_is_named() -> None:
    """The handbook gives no planar shear across for 4 mm: it is listed, in words and as a row without a ratio."""
    board = sheet("birch plywood 4 mm")
    found = judge(M=along(10.0), Q=np.array([[0.0, 100.0]]), of=board, thickness=0.0036)
    assert found.unjudged == ("planar (rolling) shear, span across the grain",)
    table = utilisation_table(found.checks(part="panel", x=[0.1], y=[0.2]))
    assert "not judged" in table.note.iloc[-1]
    assert math.isnan(table.ratio.iloc[-1])
    assert judge(M=along(10.0), of=board, thickness=0.0036).unjudged == ()


def test_the_worst_place_is_found() -> None:
    board = sheet("birch plywood 12 mm")
    M = np.zeros((4, 3))
    M[:, 0] = (100.0, 300.0, -500.0, 200.0)
    Q = np.zeros((4, 2))
    Q[3] = (9000.0, 0.0)
    found = panel_utilisation(
        np.zeros((4, 3)), M, Q, sheet=board, thickness=0.012, grain_angle=0.0, factors=PLAIN
    )
    x, y = np.array([0.0, 0.1, 0.2, 0.3]), np.array([1.0, 1.1, 1.2, 1.3])
    rows = {c.mode: c for c in found.checks(part="panel", x=x, y=y)}
    bending = rows["bending and axial force along the grain"]
    assert (bending.x, bending.y) == (0.2, 1.2)
    assert rows["planar (rolling) shear, span along the grain"].x == 0.3
    assert found.envelope.shape == (4,)
    assert found.envelope[1] == pytest.approx(6 * 300 / 0.012**2 / 42.9e6)


# --- veneers: the handbook's table follows from six constants of one veneer

HANDBOOK = {  # MPa; Handbook of Finnish Plywood (2002), sanded birch, from memory: fm ft fc along, across, fr
    3: (65.9, 10.6, 45.8, 29.2, 31.8, 20.2, 2.77, None),
    5: (50.9, 29.0, 42.2, 32.8, 29.3, 22.8, 3.20, 1.78),
    7: (45.6, 32.1, 40.8, 34.2, 28.3, 23.7, 2.68, 2.35),
    9: (42.9, 33.2, 40.0, 35.0, 27.7, 24.3, 2.78, 2.22),
    11: (41.3, 33.8, 39.5, 35.5, 27.4, 24.6, 2.62, 2.39),
    13: (40.2, 34.1, 39.2, 35.8, 27.2, 24.8, 2.67, 2.34),
    15: (39.4, 34.3, 39.0, 36.0, 27.0, 25.0, 2.59, 2.41),
    17: (38.9, 34.4, 38.8, 36.2, 26.9, 25.1, 2.62, 2.39),
    19: (38.4, 34.5, 38.7, 36.3, 26.8, 25.2, 2.57, 2.43),
    21: (38.1, 34.6, 38.5, 36.5, 26.7, 25.3, 2.59, 2.41),
}


def veneers(count: int) -> Layup:
    return Layup(name=f"{count} veneers", plies=veneer_layup(count))


@pytest.mark.parametrize("count", [*HANDBOOK])
def test_veneers_give_the_strengths_of_the_handbook(count: int) -> None:
    """At the handbook's strength the governing veneer is just used up; 0.3 % is the table's last digit."""
    board = veneers(count)
    t = board.thickness
    fm0, fm90, ft0, ft90, fc0, fc90 = (1e6 * v for v in HANDBOOK[count][:6])
    for axis, f_m, f_t, f_c in ((0, fm0, ft0, fc0), (1, fm90, ft90, fc90)):
        for acting in (
            {"M": along(f_m * t**2 / 6, axis)},
            {"M": along(-f_m * t**2 / 6, axis)},
            {"N": along(f_t * t, axis)},
            {"N": along(-f_c * t, axis)},
        ):
            found = judge(**acting, of=board, thickness=t)
            assert ratio(found, "stress along the ply") == pytest.approx(1.0, rel=3e-3)
            assert found.unjudged == ()


@pytest.mark.parametrize("count", [*HANDBOOK])
def test_veneers_give_the_planar_shear_of_the_handbook(count: int) -> None:
    """Rolling shear of 2.5 MPa in a cross veneer; 1.5 Q / t at that moment is the handbook's strength."""
    board = veneers(count)
    t = board.thickness
    for axis, f_r in enumerate(HANDBOOK[count][6:]):
        if f_r is None:
            continue
        Q = np.zeros((1, 2))
        Q[0, axis] = f_r * 1e6 * t / 1.5
        found = judge(Q=Q, of=board, thickness=t)
        assert ratio(found, "rolling") == pytest.approx(1.0, rel=4e-3)


def test_veneers_and_handbook_agree_under_both_forces() -> None:
    """Tension and bending together: the governing outer veneer sums its ratios as the board does, within rounding."""
    board = veneers(9)
    N, M = along(8e6 * 0.012), along(12e6 * 0.012**2 / 6)
    layered = ratio(judge(N, M, of=board), "stress along the ply")
    whole = ratio(judge(N, M, of=sheet("birch plywood 12 mm")), "force along")
    assert layered == pytest.approx(whole, rel=3e-3)


def test_no_load_is_no_utilisation() -> None:
    for of in (sheet("birch plywood 12 mm"), veneers(9), sheet("6061-T6 sheet")):
        found = judge(of=of)
        assert np.all(found.envelope == 0.0)
        assert found.unjudged == ()


# --- metal


def test_metal_sheet_by_hand() -> None:
    """Uniaxial bending: 6 M / t^2; pure twisting: sqrt(3) times the shear stress (von Mises 1913)."""
    alloy, t = sheet("6061-T6 sheet"), 0.004
    factors = DesignFactors(TimberFactors(1.0, 1.0), 1.5, 1.0)
    bending = judge(M=along(160e6 * t**2 / 6), of=alloy, thickness=t, factors=factors)
    assert ratio(bending, "von Mises") == pytest.approx(1.0)
    twist = judge(M=along(80e6 * t**2 / 6, 2), of=alloy, thickness=t, factors=factors)
    assert ratio(twist, "von Mises") == pytest.approx(math.sqrt(3) * 80 / 160)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_worse_face_governs(sign: float) -> None:
    t = 0.004
    found = judge(along(50e6 * t), along(sign * 70e6 * t**2 / 6), of=sheet("6061-T6 sheet"), thickness=t)
    assert ratio(found, "von Mises") == pytest.approx(120 / 240)


def test_von_mises_of_equal_biaxial_tension_and_of_pure_shear() -> None:
    """Closed forms: s for s, s, 0; sqrt(3) s for s, -s, 0."""
    assert von_mises(np.array([[1.0, 1.0, 0.0], [1.0, -1.0, 0.0]])) == pytest.approx([1.0, math.sqrt(3)])


def test_utilisation_of_metal_does_not_turn() -> None:
    rng = np.random.default_rng(7)
    N, M = rng.normal(size=(5, 3)) * 1e5, rng.normal(size=(5, 3)) * 100
    about = {"sheet": sheet("6061-T6 sheet"), "thickness": 0.004, "factors": PLAIN}
    a, b = (
        panel_utilisation(N, M, np.zeros((5, 2)), grain_angle=angle, **about).modes[0].ratio
        for angle in (0, 0.7)
    )
    assert a == pytest.approx(b, rel=1e-12)


# --- sandwich

FACE, CORE = 1.0e-3, 10.0e-3


def sandwich(**core_strength: str) -> Layup:
    skin = SheetMaterial(
        name="aluminium skin",
        kind="isotropic",
        E1=69e9,
        nu12=0.0,
        density=2700.0,
        strength=SheetStrength(level="minimum", yield_strength=240e6),
    )
    strength = SheetStrength(level="typical", **core_strength) if core_strength else None
    core = SheetMaterial(name="foam", kind="isotropic", E1=1e6, nu12=0.3, density=80.0, strength=strength)
    plies = tuple(Ply(material=m, thickness=t) for m, t in ((skin, FACE), (core, CORE), (skin, FACE)))
    return Layup(name="sandwich", plies=plies)


def test_sandwich_by_hand() -> None:
    """Allen, Analysis and Design of Structural Sandwich Panels (1969), chapter 2: face stress M z E_f / D, core
    shear Q / d with stiff faces and a weak core, d between the middles of the faces.
    """
    board = sandwich(shear_ultimate="1.1 MPa")
    d, t = CORE + FACE, CORE + 2 * FACE
    M, Q = 800.0, 6000.0
    found = judge(M=along(M), Q=np.array([[Q, 0.0]]), of=board, thickness=t)
    D_f = 69e9 * (FACE * d**2 / 2 + FACE**3 / 6)
    assert ratio(found, "aluminium skin: von Mises") == pytest.approx(
        M * 69e9 * t / 2 / D_f / 240e6, rel=1e-3
    )
    assert ratio(found, "foam: transverse shear") == pytest.approx(Q / d / 1.1e6, rel=5e-3)
    assert laminate(board.plies).D[0, 0] == pytest.approx(D_f, rel=1e-3)


def test_two_metals_by_the_transformed_section() -> None:
    """Strip of steel under aluminium, unequal moduli: stress E M y / EI about the common neutral axis (transformed
    section, Timoshenko, Strength of Materials part I), tension on the lower face.
    """
    h, M = 2e-3, 150.0
    E = {"steel": 210e9, "aluminium": 70e9}
    plies = tuple(
        Ply(
            material=SheetMaterial(
                name=name,
                kind="isotropic",
                E1=modulus,
                nu12=0.0,
                density=1.0,
                strength=SheetStrength(yield_strength=100e6),
            ),
            thickness=h,
        )
        for name, modulus in E.items()
    )
    axis = (E["steel"] * h / 2 + E["aluminium"] * 3 * h / 2) / sum(E.values())
    EI = sum(
        e * (h**3 / 12 + h * (y - axis) ** 2) for e, y in zip(E.values(), (h / 2, 3 * h / 2), strict=True)
    )
    board = Layup(name="two metals", plies=plies, unsymmetric=True)
    found = judge(M=along(M), of=board, thickness=2 * h)
    assert ratio(found, "steel: von Mises") == pytest.approx(E["steel"] * M * axis / EI / 100e6, rel=1e-9)
    top = E["aluminium"] * M * (2 * h - axis) / EI
    assert ratio(found, "aluminium: von Mises") == pytest.approx(top / 100e6, rel=1e-9)
    # a pull through the neutral axis, moment N e about the mid-surface with z up, bends nothing
    N = 1e5
    pull = judge(N=along(N), M=along(N * (h - axis)), of=board, thickness=2 * h)
    for name, modulus in E.items():
        mean = modulus * N / (h * sum(E.values()))
        assert ratio(pull, f"{name}: von Mises") == pytest.approx(mean / 100e6, rel=1e-9)


def test_a_core_without_strength_is_named() -> None:
    board = sandwich()
    found = judge(Q=np.array([[6000.0, 0.0]]), of=board, thickness=board.thickness)
    assert "foam: transverse shear" in found.unjudged


def test_wrinkling_by_hand() -> None:
    """Hoff & Mautner 1945 (from memory): 0.5 (69 000 x 80 x 27)^(1/3) = 265 MPa."""
    assert wrinkling(69e9, E_core=80e6, G_core=27e6).value / 1e6 == pytest.approx(265.1, abs=0.1)


# --- refusals


def test_resultants_that_do_not_fit_are_refused() -> None:
    board = sheet("birch plywood 12 mm")
    with pytest.raises(DesignError, match=r"\(2, 3\), \(1, 3\), \(1, 2\)"):
        judge(N=np.zeros((2, 3)), of=board)
    with pytest.raises(DesignError, match="n above 0"):
        forces(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 2)), load=1.0)
    bad = np.zeros((3, 3))
    bad[1, 2] = math.nan
    with pytest.raises(DesignError, match="M is not finite at point 1"):
        judge(np.zeros((3, 3)), bad, np.zeros((3, 2)), of=board)


def test_sheets_that_cannot_be_judged_are_refused() -> None:
    plain = SheetMaterial(name="mystery board", kind="isotropic", E1=5e9, nu12=0.3, density=600.0)
    with pytest.raises(DesignError, match="'mystery board' has no strength"):
        judge(M=along(1.0), of=plain)
    with pytest.raises(DesignError, match="9 veneers' is 12 mm thick by its plies, but the panel 15 mm"):
        judge(M=along(1.0), of=veneers(9), thickness=0.015)
    with pytest.raises(DesignError, match="metal factor is 0"):
        DesignFactors(TimberFactors(1.0, 1.0), 0.0, 1.0)


def test_inputs_are_left_alone() -> None:
    N, M, Q = np.full((2, 3), 1e4), np.full((2, 3), 50.0), np.full((2, 2), 1e3)
    copies = [a.copy() for a in (N, M, Q)]
    factors = DesignFactors(TimberFactors(0.7, 1.2), 1.5, 2.0)
    judge(N, M, Q, of=sheet("birch plywood 12 mm"), grain=0.3, factors=factors)
    assert all(np.array_equal(a, b) for a, b in zip((N, M, Q), copies, strict=True))


@pytest.mark.parametrize("strip", [7, 60, 50_000])
def test_means_over_a_radius_are_those_of_all_points_within_it(strip, monkeypatch):
    """By comparing every pair, in strips narrower than the radius and wider."""
    monkeypatch.setattr(assess_panel, "STRIP", strip)
    rng = np.random.default_rng(1)
    xy, area, values = rng.uniform(size=(2, 200)), rng.uniform(1.0, 2.0, 200), rng.normal(size=(200, 3))
    xy[0, :40] = 0.25  # many on one line
    near = np.hypot(*(xy[:, :, None] - xy[:, None, :])) <= 0.13
    expected = (near * area) @ values / (near @ area)[:, None]
    assert assess_panel.averaged(xy, values, area=area, radius=0.13) == pytest.approx(expected, rel=1e-12)
