"""The three-dimensional solids against exact solutions, and the stored results against fresh runs.

Handbook formulas and their chapters are quoted from memory [M].
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

ng = pytest.importorskip(
    "ngsolve", reason="the reference solids are solved with ngsolve: pip install 'splitterfem[verify]'"
)

import solid3d  # noqa: E402
from make_reference import REFERENCE, describe, run_case  # noqa: E402
from solid_cases import CASES, RUNS, build, meshed_ribs  # noqa: E402
from solid_model import (  # noqa: E402
    Box,
    Part,
    SolidModel,
    Spacing,
    angle,
    centroid,
    extruded,
    grid_lines,
    isotropic,
    orthotropic,
    square_tube,
)

STORED: dict[str, Any] = json.loads(REFERENCE.read_text())["cases"]
EVEN = (Spacing(1.0), Spacing(1.0), Spacing(1.0))


# --- material and section data ---------------------------------------------------------------------------


def test_isotropic_stiffness_is_that_of_lame() -> None:
    """Hooke's law with Lamé's constants (Timoshenko & Goodier, Theory of Elasticity, art. 6)."""
    E, nu = 69e9, 0.33
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    expected = np.diag([2 * G] * 3 + [G] * 3)
    expected[:3, :3] += lame
    np.testing.assert_allclose(isotropic(E, nu), expected, rtol=1e-12, atol=1e-3)


def test_orthotropic_ratios_are_the_major_ones() -> None:
    """The definition of nu_ij: pulling along i shortens j by nu_ij times the stretch."""
    C = orthotropic(E=(10e9, 6e9, 0.5e9), nu=(0.05, 0.03, 0.02), G=(0.6e9, 0.2e9, 0.1e9))
    strain = np.linalg.solve(C, [1e6, 0, 0, 0, 0, 0])
    np.testing.assert_allclose(strain[:3], [1e-4, -5e-6, -3e-6])
    np.testing.assert_allclose(np.linalg.solve(C, [0, 0, 0, 1e6, 1e6, 1e6])[3:], [1e-2, 5e-3, 1 / 600])


def test_ratios_without_strain_energy_are_refused() -> None:
    with pytest.raises(ValueError, match="negative strain energy"):
        isotropic(1e9, 0.6)


def test_angle_centroid_is_the_moment_balance_of_its_legs() -> None:
    """Two rectangles by hand: 40 x 4 and 4 x 36 mm, upright at the +20 mm edge."""
    s, depth = centroid(angle(0.040, 0.004))
    assert s == pytest.approx(144 * 18 / 304 * 1e-3)
    assert depth == pytest.approx((160 * 2 + 144 * 22) / 304 * 1e-3)


def test_tube_walls_fill_the_ring_once() -> None:
    s0, s1, d0, d1 = np.array(square_tube(0.0254, 0.0032)).T
    assert np.sum((s1 - s0) * (d1 - d0)) == pytest.approx(0.0254**2 - 0.0190**2)


def test_grid_keeps_the_breaks_and_the_wanted_sizes() -> None:
    lines = grid_lines([1.0, 0.0, 0.3, 0.3], Spacing(0.1, {0.3: 0.01}, growth=0.5))
    cells = np.diff(lines)
    assert np.isclose(lines, 0.3).any()
    assert lines[[0, -1]].tolist() == [0.0, 1.0]
    assert cells.max() <= 0.1 + 1e-9
    assert cells[np.searchsorted(lines, 0.3 - 1e-12) - 1] < 0.02
    assert cells[np.searchsorted(lines, 0.3 - 1e-12)] < 0.02


# --- exact solutions -------------------------------------------------------------------------------------


def test_uniaxial_tension_of_two_joined_boxes_is_exact() -> None:
    """Constant stress: u = (s/E1 x, -nu12 s/E1 y, -nu13 s/E1 z) to rounding, already at order 1."""
    C = orthotropic(E=(10e9, 6e9, 0.5e9), nu=(0.05, 0.03, 0.02), G=(0.6e9, 0.2e9, 0.1e9))
    boxes = (Box((0, 0, 0), (1, 1, 0.2)), Box((1, 0, 0), (2, 1, 0.2)))
    patches = {
        "x0": Box((0, 0, 0), (0, 1, 0.2)),
        "y0": Box((0, 0, 0), (2, 0, 0.2)),
        "z0": Box((0, 0, 0), (2, 1, 0)),
        "end": Box((2, 0, 0), (2, 1, 0.2)),
    }
    model = SolidModel(
        (Part("left", boxes[:1], C), Part("right", boxes[1:], C)),
        EVEN,
        patches,
        {"x0": "x", "y0": "y", "z0": "z"},
        {"end": (1e6, 0, 0)},
    )
    solution = solid3d.solve(model, order=1)
    np.testing.assert_allclose(solution.displacement([(2, 1, 0.2)]), [[2e-4, -5e-6, -0.2 * 3e-6]], rtol=1e-9)
    np.testing.assert_allclose(solution.support_force, [-0.2e6, 0, 0], atol=1e-3)
    np.testing.assert_allclose(
        solution.mean_stress(Box((0.5, 0.2, 0.1), (1.5, 0.9, 0.1))), [1e6, 0, 0, 0, 0, 0], atol=1e-2
    )


def test_pure_twist_of_an_orthotropic_panel_is_exact() -> None:
    """w = k x y, u = -k y z, v = -k x z, shear stress -2 G12 k z: exact (Lekhnitskii, Anisotropic Plates)."""
    h, a, b, k, G12 = 0.006, 0.3, 0.2, 0.1, 0.62e9
    C = orthotropic(E=(10e9, 6e9, 0.5e9), nu=(0.05, 0.03, 0.02), G=(G12, 0.2e9, 0.1e9))
    patches = {
        "middle": Box((0, 0, 0), (a, b, 0)),
        "x0": Box((0, 0, 0), (0, b, h)),
        "y0": Box((0, 0, 0), (a, 0, h)),
        "x1": Box((a, 0, 0), (a, b, h)),
        "y1": Box((0, b, 0), (a, b, h)),
    }
    shear = -2 * G12 * k * ng.z
    model = SolidModel(
        (Part("upper half", (Box((0, 0, 0), (a, b, h)),), C),),
        (Spacing(0.1), Spacing(0.1), Spacing(1.0)),
        patches,
        {"middle": "xy", "x0": "yz", "y0": "xz"},
        {"x1": (0, shear, 0), "y1": (shear, 0, 0)},
    )
    points = np.array([(a, b, 0), (a / 2, b / 3, h), (a, b / 2, h / 3)])
    x, y, z = points.T
    exact = k * np.column_stack([-y * z, -x * z, x * y])
    np.testing.assert_allclose(solid3d.solve(model, order=2).displacement(points), exact, atol=1e-10)


def test_bent_strip_on_a_tube_is_the_composite_beam() -> None:
    """Pure bending with nu = 0 everywhere: transformed section (Gere, Mechanics of Materials), exact."""
    t, width, side, wall, L, k = 0.012, 0.06, 0.0254, 0.0032, 0.4, 0.02
    wood, metal = 10e9, 69e9
    h = t / 2
    tube = extruded(square_tube(side, wall), along="x", span=(0, L), centre=0.0, face=-h)
    A, I = side**2 - (side - 2 * wall) ** 2, (side**4 - (side - 2 * wall) ** 4) / 12  # noqa: E741
    z_tube = -h - side / 2
    axis = metal * A * z_tube / (metal * A + wood * width * t)
    patches = {
        "root": Box((0, -width / 2, -h - side), (0, width / 2, h)),
        "panel end": Box((L, -width / 2, -h), (L, width / 2, h)),
        "tube end": Box((L, -side / 2, -h - side), (L, side / 2, -h)),
    }
    model = SolidModel(
        (
            Part("panel", (Box((0, -width / 2, -h), (L, width / 2, h)),), isotropic(wood, 0.0)),
            Part("tube", tube, isotropic(metal, 0.0)),
        ),
        (Spacing(0.2), Spacing(0.1), Spacing(0.1)),
        patches,
        {"root": "xyz"},
        {f"{name} end": (-E * k * (ng.z - axis), 0, 0) for name, E in (("panel", wood), ("tube", metal))},
    )
    solution = solid3d.solve(model, order=2)
    w = solution.displacement([(L, 0, 0), (L / 2, width / 2, 0)])[:, 2]
    np.testing.assert_allclose(w, [k * L**2 / 2, k * L**2 / 8], rtol=1e-7)
    short = [Box((0.19, *box.lower[1:]), (0.21, *box.upper[1:])) for box in tube]
    forces = solution.section_forces(short, along="x", origin=(0.0, z_tube))
    np.testing.assert_allclose(
        forces, [-metal * k * A * (z_tube - axis), -metal * k * I, 0], rtol=1e-6, atol=1e-6
    )
    far = solution.mean_stress(Box((0.19, -side / 2, -h - side), (0.21, side / 2, -h - side)))[0]
    assert far == pytest.approx(metal * k * (axis + h + side), rel=1e-6)


def test_cantilever_plate_strip_bends_like_the_handbook() -> None:
    """q L^4 / 8 D + q L^2 / 2 (5/6 G13 t), cylindrical bending (Timoshenko & Woinowsky-Krieger)."""
    t, L, b, q = 0.012, 0.5, 0.1, 1e3
    E1, E2, nu12, G13, h = 10.7e9, 6.8e9, 0.05, 0.207e9, t / 2
    patches = {
        "clamp": Box((0, 0, -h), (0, b, h)),
        "y0": Box((0, 0, -h), (L, 0, h)),
        "y1": Box((0, b, -h), (L, b, h)),
        "top": Box((0, 0, h), (L, b, h)),
    }
    C = orthotropic(E=(E1, E2, 0.5e9), nu=(nu12, 0.02, 0.02), G=(0.62e9, G13, 0.17e9))
    model = SolidModel(
        (Part("strip", (Box((0, 0, -h), (L, b, h)),), C),),
        (Spacing(0.05, {0.0: 0.001}), Spacing(1.0), Spacing(1.0)),
        patches,
        {"clamp": "xyz", "y0": "y", "y1": "y"},
        {"top": (0, 0, -q)},
    )
    D = E1 / (1 - nu12**2 * E2 / E1) * t**3 / 12
    bending, shear = q * L**4 / (8 * D), q * L**2 / (2 * 5 / 6 * G13 * t)
    sag = -solid3d.solve(model, order=4).displacement([(L, 0, 0)])[0, 2]
    assert sag == pytest.approx(bending + shear, rel=5e-4)
    # The shear share is small but the comparison is sharp enough to see it.
    assert sag - bending == pytest.approx(shear, rel=0.05)


def test_square_bar_twists_like_saint_venant() -> None:
    """J = 0.1406 a^4 (Timoshenko & Goodier, art. 109), away from the ends."""
    a, E, nu = 0.02, 69e9, 0.33
    L, h, c = 6 * a, a / 2, 1e9
    patches = {"root": Box((0, -h, -h), (0, h, h)), "end": Box((L, -h, -h), (L, h, h))}
    model = SolidModel(
        (Part("bar", (Box((0, -h, -h), (L, h, h)),), isotropic(E, nu)),),
        (Spacing(a / 2), Spacing(a / 2), Spacing(a / 2)),
        patches,
        {"root": "xyz"},
        {"end": (0, -c * ng.z, c * ng.y)},
    )
    w = solid3d.solve(model, order=4).displacement([(2 * a, h, 0), (4 * a, h, 0)])[:, 2] / h
    torque, G = c * a**4 / 6, E / (2 * (1 + nu))
    assert (w[1] - w[0]) / (2 * a) == pytest.approx(torque / (G * 0.1406 * a**4), rel=1e-3)


# --- input that cannot be meshed -------------------------------------------------------------------------


def _block(*boxes: Box, patch: Box) -> SolidModel:
    return SolidModel((Part("block", boxes, isotropic(1e9, 0.3)),), EVEN, {"side": patch}, {}, {})


def test_overlapping_boxes_are_refused() -> None:
    unit = Box((0, 0, 0), (1, 1, 1))
    model = _block(unit, Box((0.5, 0, 0), (2, 1, 1)), patch=Box((0, 0, 0), (0, 1, 1)))
    with pytest.raises(ValueError, match="'block' overlaps"):
        solid3d.hex_mesh(model)


def test_a_patch_off_the_surface_is_refused() -> None:
    model = _block(Box((0, 0, 0), (1, 1, 1)), patch=Box((0.5, 0, 0), (0.5, 1, 1)))
    with pytest.raises(ValueError, match="'side' holds no outer face"):
        solid3d.hex_mesh(model)


def test_a_rib_across_the_axes_is_refused() -> None:
    with pytest.raises(ValueError, match="not along 'z'"):
        extruded(square_tube(0.02, 0.002), along="z", span=(0, 1), centre=0, face=0)


# --- the stored results ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CASES)
def test_stored_definition_is_the_current_one(name: str) -> None:
    """A case that was changed has to be recomputed."""
    assert STORED[name]["definition"] == json.loads(json.dumps(describe(CASES[name])))
    assert [(r["mesh"], r["order"]) for r in STORED[name]["runs"]] == list(RUNS[CASES[name].runs])
    assert {k: (p["x"], p["y"]) for k, p in STORED[name]["points"].items()} == dict(CASES[name].points)
    assert set(STORED[name]["ribs"]) == {rib.name for rib in meshed_ribs(CASES[name])}


@pytest.mark.parametrize("name", CASES)
def test_stored_numbers_are_converged(name: str) -> None:
    """Sags to 0.3 % of the case's greatest and 1 % of their own; rib stress and resultants to 1 %."""
    sags = {k: (abs(p["w"]), p["error"]) for k, p in STORED[name]["points"].items()}
    greatest = max(w for w, _ in sags.values())
    assert max(error for _, error in sags.values()) < 3e-3 * greatest
    assert {k: e / w for k, (w, e) in sags.items() if e > 1e-2 * w} == {}
    for station in STORED[name]["ribs"].values():
        for key in ("far_face_stress", "N", "M_vertical"):
            assert station[key]["error"] < 1e-2 * abs(station[key]["value"])


def test_the_ribs_of_the_reference_cases_matter() -> None:
    """Sag without over sag with ribs; a comparison in which the rib does little would prove little."""
    for ribbed, bare, point in (
        ("cross tube", "zone-clamped panel without rib", "on the rib, middle"),
        ("cross angle", "zone-clamped panel without rib", "on the rib, middle"),
        ("two fore-aft tubes", "panel clamped front and rear without ribs", "on the rib, middle"),
    ):
        assert STORED[bare]["points"][point]["w"] / STORED[ribbed]["points"][point]["w"] > 1.5


def test_all_load_reaches_the_supports() -> None:
    """Equilibrium of a coarse model of the unsymmetrical case: 1 kPa on 0.4 m by 1 m."""
    model = build(CASES["cross tube and fore-aft tube"], mesh="coarse")
    np.testing.assert_allclose(solid3d.solve(model, order=1).support_force, [0, 0, 400.0], atol=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "mesh", "order"),
    [
        ("plain plywood panel", "fine", 4),
        ("plain aluminium panel", "working", 4),
        ("cross tube", "working", 3),
    ],
)
def test_a_fresh_run_gives_the_stored_numbers(name: str, mesh: str, order: int) -> None:
    fresh = run_case(CASES[name], mesh=mesh, order=order)
    (stored,) = [r for r in STORED[name]["runs"] if (r["mesh"], r["order"]) == (mesh, order)]
    assert fresh["w"] == pytest.approx(stored["w"], rel=5e-4)
    for rib, station in fresh["ribs"].items():
        assert station == pytest.approx(stored["ribs"][rib], rel=5e-4)
