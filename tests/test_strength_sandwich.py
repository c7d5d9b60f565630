"""Sandwiches: wrinkling of the faces, face stress and core shear, against sandwich theory."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.materials import Layup, Ply, SheetMaterial, SheetStrength, ply_material, sheet, veneer_layup
from splitterfem.strength.panel import panel_utilisation
from splitterfem.strength.sandwich import (
    largest_compression,
    modulus_along,
    sandwich_faces,
    wrinkling,
)
from splitterfem.strength.timber import TimberFactors
from splitterfem.strength.utilisation import DesignFactors, PanelMode

PLAIN = DesignFactors(TimberFactors(1.0, 1.0), 1.0, 1.0)
SKIN = SheetMaterial(
    name="skin",
    kind="isotropic",
    E1=70e9,
    nu12=0.3,
    density=2700.0,
    strength=SheetStrength(level="minimum", yield_strength=240e6),
)


def core(**changes: Any) -> SheetMaterial:
    fields = {"E1": 80e6, "E2": 80e6, "nu12": 0.3, "G12": 26e6, "G13": 26e6, "G23": 20e6}
    return SheetMaterial(**({"name": "core", "kind": "orthotropic", "density": 80.0} | fields | changes))


def layup(*plies: tuple[SheetMaterial, float], **more: Any) -> Layup:
    return Layup(name="sandwich", plies=tuple(Ply(material=m, thickness=t) for m, t in plies), **more)


def judge(board: Layup, *, N: Any = (0, 0, 0), M: Any = (0, 0, 0)) -> dict[str, PanelMode]:
    found = panel_utilisation(
        np.array([N], dtype=float),
        np.array([M], dtype=float),
        np.zeros((1, 2)),
        sheet=board,
        thickness=board.thickness,
        grain_angle=0.0,
        factors=PLAIN,
    )
    return {mode.mode: mode for mode in found.modes}


def test_practice_lies_below_the_theory_of_a_deep_core() -> None:
    """Allen, Analysis and Design of Structural Sandwich Panels (1969), 8.2: B1 E_f^(1/3) E_c^(2/3) with
    B1 = 3 (12 (3 - nu)^2 (1 + nu)^2)^(-1/3), 0.57 for nu 0.3; the coefficient of practice is about 0.64 of it.
    """
    nu, E_f, E_c = 0.3, 70e9, 80e6
    theory = 3 * (12 * (3 - nu) ** 2 * (1 + nu) ** 2) ** (-1 / 3) * E_f ** (1 / 3) * E_c ** (2 / 3)
    found = wrinkling(E_f, E_core=E_c, G_core=E_c / (2 * (1 + nu))).value
    assert 0.6 < found / theory < 0.7
    assert theory / (E_f ** (1 / 3) * E_c ** (2 / 3)) == pytest.approx(0.57, abs=0.01)


def test_the_compressed_face_wrinkles() -> None:
    """A moment that stretches the lower face compresses the upper one by M / (d t_f), d between the faces' middles."""
    t, c, M = 1e-3, 10e-3, 700.0
    board = layup((SKIN, t), (core(), c), (SKIN, t))
    modes = judge(board, M=(M, 0.0, 0.0))
    upper, lower = (modes[f"wrinkling of the {side} face"] for side in ("upper", "lower"))
    assert upper.demand[0] == pytest.approx(M / ((c + t) * t), rel=6e-3)  # faces bend by themselves too
    assert upper.allowable == pytest.approx(0.5 * (70e9 * 80e6 * 20e6) ** (1 / 3))
    assert upper.ratio[0] == pytest.approx(upper.demand[0] / upper.allowable)
    assert lower.demand[0] < 0.02 * upper.demand[0]
    assert judge(board, N=(-2e5, 0, 0))["wrinkling of the lower face"].demand[0] == pytest.approx(
        2e5 / (2 * t + c * 80 / 70e3), rel=1e-3
    )
    pulled = judge(board, N=(2e5, 2e5, 0))
    assert pulled["wrinkling of the lower face"].ratio[0] == 0.0


def test_shear_in_the_plane_compresses_along_a_diagonal() -> None:
    """Mohr's circle: pure shear s is compression s at 45 degrees; equal biaxial compression has s every way."""
    size, angle = largest_compression(np.array([[0.0, 0.0, 5.0], [-3.0, -3.0, 0.0], [-4.0, 1.0, 0.0]]))
    assert size == pytest.approx([5.0, 3.0, 4.0])
    assert math.degrees(angle[0]) % 180 == pytest.approx(135)
    assert math.cos(angle[2]) ** 2 == pytest.approx(1.0)


def test_modulus_of_a_fabric_along_its_diagonal() -> None:
    """Jones, Mechanics of Composite Materials, 2.97: 1 / E_45 = (1/4) (1/E1 + 1/E2 - 2 nu/E1 + 1/G)."""
    m = ply_material("carbon fabric").moduli
    compliance = np.array(
        [[1 / m.E1, -m.nu12 / m.E1, 0.0], [-m.nu12 / m.E1, 1 / m.E2, 0.0], [0.0, 0.0, 1 / m.G12]]
    )
    E = modulus_along(compliance, np.array([0.0, math.pi / 4, math.pi / 2]))
    diagonal = 4 / (1 / m.E1 + 1 / m.E2 - 2 * m.nu12 / m.E1 + 1 / m.G12)
    assert pytest.approx([m.E1, diagonal, m.E2]) == E


def test_what_is_a_sandwich() -> None:
    faces = sandwich_faces(sheet("carbon/foam panel 11 mm").plies)
    assert [(face.name, face.thickness, face.core.material.name) for face in faces] == [
        ("lower", 0.5e-3, "PVC foam 80"),
        ("upper", 0.5e-3, "PVC foam 80"),
    ]
    assert [face.middle for face in faces] == pytest.approx([-5.25e-3, 5.25e-3])
    double = layup((SKIN, 1e-3), (SKIN, 1e-3), (core(), 5e-3), (SKIN, 1e-3), unsymmetric=True)
    assert [face.thickness for face in sandwich_faces(double.plies)] == pytest.approx([2e-3, 1e-3])
    assert sandwich_faces(veneer_layup(9)) == ()
    assert sandwich_faces(layup((SKIN, 1e-3), (core(), 1e-2), unsymmetric=True).plies) == ()


def test_a_core_of_cells_is_not_judged() -> None:
    """A honeycomb has next to nothing in its plane, which says nothing of its modulus across the faces."""
    cells = core(E2=0.0, nu12=0.0)
    board = layup((SKIN, 1e-3), (cells, 1e-2), (SKIN, 1e-3))
    found = panel_utilisation(
        np.zeros((1, 3)), np.array([[700.0, 0, 0]]), np.zeros((1, 2)), sheet=board,
        thickness=board.thickness, grain_angle=0.0, factors=PLAIN,
    )  # fmt: skip
    assert any("wrinkling of the upper face: the core has no modulus" in text for text in found.unjudged)


# a strip of the catalogue's sandwich, simply supported under even pressure

LENGTH, WIDTH, P, SUPPORT = 0.82, 0.06, 1500.0, 0.01


def test_sandwich_strip_by_hand() -> None:
    """M = p L^2 / 8 - p a^2 / 2 for each width; face M / (d t_f), core Q / d beside a support; metal factor 1.5."""
    line = {"shape": "rectangle", "length": 0.004, "width": 0.8 * WIDTH}
    corners = [(0.0, -WIDTH / 2), (LENGTH, -WIDTH / 2), (LENGTH, WIDTH / 2), (0.0, WIDTH / 2)]
    design = {
        "name": "strip",
        "panel": {
            "outline": {"start": corners[0], "edges": [{"to": c} for c in corners[1:]]},
            "sheet": {"material": "carbon/foam panel 11 mm", "thickness": 0.011},
        },
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.012},
        "cases": [{"name": "load", "gravity": False, "pressure": {"kind": "uniform", "pressure": P}}],
        "bolts": [
            {"name": "fixed", "at": (SUPPORT, 0.0), "holds": "xyz", "pad": line},
            {"name": "free", "at": (LENGTH - SUPPORT, 0.0), "holds": "yz", "pad": line},
            {"name": "no roll", "at": (SUPPORT, 0.3 * WIDTH), "holds": "z", "pad": "4 mm"},
        ],
    }
    table = sf.solve(sf.Splitter.model_validate(design), "load").utilisation.set_index("mode")
    span, d, t = LENGTH - 2 * SUPPORT, 10.5e-3, 0.5e-3
    face = (P * span**2 / 8 - P * SUPPORT**2 / 2) / (d * t)
    wrinkle = table.loc["wrinkling of the upper face"]
    assert wrinkle.demand == pytest.approx(1e-6 * face, rel=2e-2)
    assert wrinkle.allowable == pytest.approx(0.5e-6 * (55e9 * 80e6 * 26e6) ** (1 / 3) / 1.5, rel=1e-3)
    assert wrinkle.basis == "indicative"
    fabric = table.loc["carbon fabric: stress along the ply"]
    assert fabric.ratio == pytest.approx(face * (5.5 / 5.25) / (300e6 / 1.5), rel=3e-2)
    shear = table.loc["PVC foam 80: transverse shear along the ply"]
    assert shear.allowable == pytest.approx(1.1 / 1.5)
    assert shear.demand == pytest.approx(
        1e-6 * P * span / 2 / d, rel=0.15
    )  # pads are shorter than the mean's radius
