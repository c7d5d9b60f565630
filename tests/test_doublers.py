"""Doublers in the model: closed forms of two sheets bonded into one, and whole panels against thicker ones."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.model import build
from splitterfem.model.sheets import sheet_field

L, B, P = 0.8, 0.1, 50.0
ALUMINIUM = "6061-T6 sheet"


def strip(thickness: float, doublers: tuple[dict[str, Any], ...] = (), **more: Any) -> sf.Splitter:
    """A strip on supports near both ends, loaded across its middle; statically determinate."""
    pad = {"shape": "rectangle", "length": 0.004, "width": 0.08}
    return sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {
                "outline": {"start": (0, -B / 2), "edges": [{"to": p} for p in ((L, -B / 2), (L, B / 2), (0, B / 2))]},
                "sheet": {"material": ALUMINIUM, "thickness": thickness},
            },
            "doublers": doublers,
            "bolts": [
                {"name": "fixed", "at": (0.01, 0.0), "holds": "xyz", "pad": pad},
                {"name": "free", "at": (L - 0.01, 0.0), "holds": "yz", "pad": pad},
                {"name": "no roll", "at": (0.01, 0.03), "holds": "z", "pad": "4 mm"},
            ],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.02},
            "cases": [
                {"name": "middle", "gravity": False, "forces": [
                    {"kind": "patch", "rectangle": {"x": (L / 2 - 0.01, L / 2 + 0.01), "y": (-0.045, 0.045)},
                     "force": (0, 0, -P)}]},
            ],
        } | more
    )  # fmt: skip


def doubler(
    thickness: float, *, material: Any = ALUMINIUM, side: str = "above", x: Any = (0.0, L)
) -> dict[str, Any]:
    sheet = {"material": material, "thickness": thickness}
    return {"name": "patch", "rectangle": {"x": x, "y": (-B / 2, B / 2)}, "sheet": sheet, "side": side}


def field_of(splitter: sf.Splitter, *places: tuple[float, float]) -> Any:
    return sheet_field(splitter, np.array(places))


@pytest.mark.parametrize(("side", "sign"), [("above", 1.0), ("below", -1.0)])
@pytest.mark.parametrize("d", [0.001, 0.003, 0.006])
def test_same_material_is_one_thicker_sheet(side: str, sign: float, d: float) -> None:
    """D about the common centroid is E'(t + d)^3/12, E' = E/(1 - nu^2); the membrane stiffness is E'(t + d)."""
    t = 0.004
    splitter = strip(t, (doubler(d, side=side),))
    C = field_of(splitter, (0.4, 0.0)).stiffness[0]
    sheet = splitter.panel.sheet.resolved
    nu = sheet.nu12
    plane = sheet.E1 / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
    A, coupling, D = C[:3, :3], C[:3, 3:6], C[3:6, 3:6]
    assert pytest.approx(plane * (t + d), rel=1e-12) == A
    # eps = eps0 - z kappa for the signs of this library, so the coupling is minus the first moment of stiffness.
    assert coupling == pytest.approx(-sign * plane * d * (t + d) / 2, rel=1e-12)
    assert D - coupling.T @ np.linalg.solve(A, coupling) == pytest.approx(
        plane * (t + d) ** 3 / 12, rel=1e-9, abs=1e-9 * plane[0, 0] * t**3
    )


def test_two_materials_bend_as_a_bimetal_strip() -> None:
    """EI per width = E1 t^3/12 + E2 d^3/12 + (t + d)^2/4 E1 t E2 d/(E1 t + E2 d) (Timoshenko 1925, bimetal strips)."""
    t, d, E2 = 0.005, 0.002, 200e9
    soft = {"name": "soft", "kind": "isotropic", "E1": 20e9, "nu12": 0.0, "density": 1500.0}
    hard = soft | {"name": "hard", "E1": E2}
    splitter = strip(t, (doubler(d, material=hard),))
    splitter = splitter.with_("panel.sheet.material", soft)
    C = field_of(splitter, (0.4, 0.0)).stiffness[0]
    a, b = 20e9 * t, E2 * d
    expected = 20e9 * t**3 / 12 + E2 * d**3 / 12 + 0.25 * (t + d) ** 2 * a * b / (a + b)
    assert C[3, 3] - C[0, 3] ** 2 / C[0, 0] == pytest.approx(expected, rel=1e-9)


def test_beside_a_doubler_the_sheet_is_alone() -> None:
    splitter = strip(0.004, (doubler(0.003, x=(0.2, 0.5)),))
    field = field_of(splitter, (0.1, 0.0), (0.3, 0.02), (0.6, 0.0))
    assert field.doubled.tolist() == [-1, 0, -1]
    alone = field_of(strip(0.004), (0.1, 0.0)).stiffness
    assert np.array_equal(field.stiffness[0], alone)
    assert np.array_equal(field.stiffness[2], alone)
    density = splitter.panel.sheet.resolved.density
    assert field.mass_per_area == pytest.approx(density * np.array([0.004, 0.007, 0.004]))


@pytest.fixture(scope="module")
def thick() -> Any:
    return sf.solve(strip(0.007), "middle")


@pytest.mark.parametrize("side", ["above", "below"])
def test_strip_with_a_doubler_bends_like_the_thick_strip(thick: Any, side: str) -> None:
    """Deflection of the thick strip, and P l^3/48 E I of the closed form."""
    solution = sf.solve(strip(0.004, (doubler(0.003, side=side),)), "middle")
    assert solution.max_sag == pytest.approx(thick.max_sag, rel=1e-2)
    E = float(solution.model.design.panel.sheet.resolved.E1)
    span = L - 0.02
    assert solution.max_sag == pytest.approx(P * span**3 / (48 * E * B * 0.007**3 / 12), rel=2e-2)
    assert solution.mass == pytest.approx(thick.mass, rel=1e-9)


def test_strip_with_a_stepped_doubler() -> None:
    """Half of the length doubled symmetrically: the unit load method for a beam of two stiffnesses.

    w = P/(48 EI0) (8 a^3) + P/(48 EI1) (l^3 - 8 a^3), with EI0 over the outer lengths a and EI1 between them.
    """
    span, a = L - 0.02, 0.2 - 0.01
    solution = sf.solve(strip(0.004, (doubler(0.003, x=(0.2, 0.6)),)), "middle")
    E = float(solution.model.design.panel.sheet.resolved.E1)
    outer, inner = (E * B * t**3 / 12 for t in (0.004, 0.007))
    expected = P / 48 * (8 * a**3 / outer + (span**3 - 8 * a**3) / inner)
    assert solution.max_sag == pytest.approx(expected, rel=2e-2)


def test_mass_of_a_mirrored_pair() -> None:
    """rho (t A + d A_doubler), both halves."""
    pair = {"name": "pair", "mirror": True, "rectangle": {"x": (0.3, 0.5), "y": (0.01, 0.04)},
            "sheet": {"material": ALUMINIUM, "thickness": 0.003}}  # fmt: skip
    splitter = strip(0.004, (pair,))
    solution = sf.solve(splitter, "middle")
    density = splitter.panel.sheet.resolved.density
    assert solution.mass == pytest.approx(density * (0.004 * L * B + 0.003 * 2 * 0.2 * 0.03), rel=1e-9)
    assert solution.model.sheet.names == ("pair left", "pair right")


def test_a_rib_on_a_doubler_is_refused() -> None:
    rib = {"name": "tube", "points": [(0.1, 0.0), (0.7, 0.0)], "material": "6061-T6 extrusion",
           "section": {"shape": "tube", "width": 0.02, "height": 0.02, "wall": 0.002}}  # fmt: skip
    splitter = strip(0.004, (doubler(0.003, x=(0.3, 0.5)),), ribs=[rib])
    with pytest.raises(
        sf.DesignError, match=r"^Rib tube runs over doubler patch .* put one of them on the other face"
    ):
        build(splitter)
