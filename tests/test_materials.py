"""Sheet and bar materials: the catalogue's figures, stiffness of a board, refusals."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from pydantic import TypeAdapter

from splitterfem.errors import DesignError
from splitterfem.materials import (
    BarMaterial,
    Layup,
    Sheet,
    SheetMaterial,
    bar,
    bar_names,
    ply_material,
    ply_material_names,
    sheet,
    sheet_names,
)

BIRCH_SIZES = ("4", "6.5", "9", "12", "15", "18", "21", "24", "27", "30")


def test_names_of_the_catalogue() -> None:
    assert sheet_names() == (
        *(f"birch plywood {size} mm" for size in BIRCH_SIZES),
        "6061-T6 sheet",
        "5052-H32 sheet",
        "ABS sheet",
        "carbon/foam panel 11 mm",
        "carbon/foam panel 16 mm",
        "glass/foam panel 12 mm",
        "glass/foam panel 17 mm",
    )
    assert ply_material_names() == (
        "birch veneer",
        "carbon fabric",
        "glass fabric",
        "PVC foam 80",
        "6061-T6 sheet",
        "5052-H32 sheet",
        "ABS sheet",
    )
    assert bar_names() == (
        "6063-T5 extrusion",
        "6063-T52 extrusion",
        "6063-T6 extrusion",
        "6061-T6 extrusion",
        "mild steel",
    )


RECORDS = [
    *(sheet(name) for name in sheet_names()),
    *(bar(name) for name in bar_names()),
    *(ply_material(name) for name in ply_material_names()),
]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.name)
def test_every_record_names_its_source(record) -> None:
    assert len(record.source) > 10
    assert record.basis in ("published", "memory", "indicative")
    priced = any(getattr(record, name, None) is not None for name in ("cost_per_area", "cost_per_mass"))
    assert priced == record.cost_basis.startswith("indicative, from memory")


def test_names_are_found_however_they_are_spaced() -> None:
    assert sheet("  Birch  Plywood 12 MM ") is sheet("birch plywood 12 mm")


# Handbook of Finnish Plywood (2002), sanded birch with 1.4 mm veneers, one row copied out (from memory); MPa.
HANDBOOK_12 = {
    "E1_bending": 10719,
    "E2_bending": 6781,
    "E1": 9333,
    "E2": 8167,
    "G12": 620,
    "G13": 207,
    "G23": 170,
}
HANDBOOK_12_STRENGTH = {
    "bending_along": 42.9,
    "bending_across": 33.2,
    "tension_along": 40.0,
    "tension_across": 35.0,
    "compression_along": 27.7,
    "compression_across": 24.3,
    "planar_shear_along": 2.78,
    "planar_shear_across": 2.22,
    "panel_shear": 9.5,
}


def test_a_row_of_the_handbook() -> None:
    board = sheet("birch plywood 12 mm")
    assert board.thickness == 0.012
    assert {n: getattr(board, n) / 1e6 for n in HANDBOOK_12} == pytest.approx(HANDBOOK_12, rel=1e-12)
    strength = {n: getattr(board.strength, n) / 1e6 for n in HANDBOOK_12_STRENGTH}
    assert strength == pytest.approx(HANDBOOK_12_STRENGTH, rel=1e-12)
    assert (board.density, board.density_characteristic) == (680, 630)
    assert board.strength.level == "characteristic"


def test_birch_moduli_come_with_advice_and_are_not_changed() -> None:
    """FPL Wood Handbook (FPL-GTR-190), yellow birch: E along the grain about 15.3 GPa (from memory).

    The veneers behind the table have 17.5 GPa, 14 % more.
    """
    for size in BIRCH_SIZES:
        board = sheet(f"birch plywood {size} mm")
        assert board.modulus_advice == 0.9
        assert "0.9" in board.notes
        assert "14 %" in board.notes
        # Tension along and across add up to the veneer's modulus.
        assert pytest.approx(1.14, abs=0.01) == (board.E1 + board.E2) / 15.3e9


def test_advice_is_taken_when_asked() -> None:
    board = sheet("birch plywood 12 mm")
    soft = board.scaled(0.9)
    one, other = board.stiffness(), soft.stiffness()
    for name in "ADS":
        assert pytest.approx(0.9 * getattr(one, name), rel=1e-12) == getattr(other, name)
    assert other.mass_per_area == one.mass_per_area
    assert (soft.basis, soft.modulus_advice) == ("user", None)
    assert soft.notes.startswith("Moduli times 0.9.")
    assert board.modulus_advice == 0.9


# ASTM B221 minimum tensile strengths of extrusions, MPa: 16/22, 16/22, 25/30 and 35/38 ksi.
@pytest.mark.parametrize(
    ("name", "yielding", "ultimate"),
    [("6063-T5", 16, 22), ("6063-T52", 16, 22), ("6063-T6", 25, 30), ("6061-T6", 35, 38)],
)
def test_extrusions(name: str, yielding: float, ultimate: float) -> None:
    material = bar(f"{name} extrusion")
    ksi = 6.894757e6
    assert material.yield_strength == pytest.approx(yielding * ksi, rel=0.01)
    assert material.ultimate_strength == pytest.approx(ultimate * ksi, rel=0.01)
    # Aluminum Design Manual: E = 10 000 ksi, G = 3 800 ksi nominal (from memory).
    assert pytest.approx(10_000 * ksi, rel=2e-3) == material.E
    assert pytest.approx(3_800 * ksi, rel=0.015) == material.G


def test_mild_steel() -> None:
    # EN 10025-2 S235 and EN 1993-1-1: E 210 GPa, G 81 GPa, 235 / 360 MPa (from memory).
    steel = bar("mild steel")
    assert (steel.E, steel.yield_strength, steel.ultimate_strength) == (210e9, 235e6, 360e6)
    assert pytest.approx(81e9, rel=5e-3) == steel.G


def test_isotropic_sheet() -> None:
    """Timoshenko & Woinowsky-Krieger: D = E t^3 / 12 (1 - nu^2); Reissner's 5/6 on the shear stiffness."""
    E, nu, t = 70e9, 0.3, 0.003
    p = SheetMaterial(name="plate", kind="isotropic", E1=E, nu12=nu, density=2700.0).stiffness(t)
    D = E * t**3 / 12 / (1 - nu**2)
    assert pytest.approx(D * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]), rel=1e-12) == p.D
    assert pytest.approx(p.D * 12 / t**2, rel=1e-12) == p.A
    assert pytest.approx(5 / 6 * E / 2 / (1 + nu) * t * np.eye(2), rel=1e-12) == p.S
    assert not p.B.any()
    assert p.mass_per_area == pytest.approx(8.1, rel=1e-12)
    turned = p.rotated(0.7)
    for name in "ADS":
        assert getattr(turned, name) == pytest.approx(
            getattr(p, name), rel=1e-9, abs=1e-9 * getattr(p, name).max()
        )


def test_plywood_board() -> None:
    """Definitions of the handbook: bending modulus from a strip, planar shear modulus already effective."""
    board = sheet("birch plywood 12 mm")
    p = board.stiffness()
    assert p.thickness == 0.012
    assert p.bending_moduli == pytest.approx((10719e6, 6781e6), rel=1e-12)
    assert p.tension_moduli == pytest.approx((9333e6, 8167e6), rel=1e-12)
    assert p.S.diagonal() == pytest.approx([207e6 * 0.012, 170e6 * 0.012], rel=1e-12)
    assert p.mass_per_area == pytest.approx(680 * 0.012, rel=1e-12)
    assert p.D[2, 2] == pytest.approx(620e6 * 0.012**3 / 12, rel=1e-12)


def test_thickness_as_measured_wins() -> None:
    p = sheet("birch plywood 12 mm").stiffness(0.0117)
    assert p.thickness == 0.0117
    assert p.D[0, 0] / sheet("birch plywood 12 mm").stiffness().D[0, 0] == pytest.approx(0.975**3, rel=1e-12)


def test_grain_across_swaps_the_directions() -> None:
    board = sheet("birch plywood 12 mm")
    along, across = board.stiffness(), board.stiffness(grain_angle=pi / 2)
    assert across.D[0, 0] == pytest.approx(along.D[1, 1], rel=1e-12)
    assert across.S[0, 0] == pytest.approx(along.S[1, 1], rel=1e-12)
    # Grain at 30 degrees towards y stiffens the diagonal on that side: D16 > 0.
    assert board.stiffness(grain_angle=pi / 6).D[0, 2] > 0


def test_records_survive_a_round_trip() -> None:
    for name in sheet_names():
        again = TypeAdapter(Sheet).validate_json(sheet(name).model_dump_json(exclude_unset=True))
        assert again == sheet(name)
    for name in bar_names():
        assert BarMaterial.model_validate_json(bar(name).model_dump_json()) == bar(name)


def test_notes_on_moisture_and_duration() -> None:
    """EN 1995-1-1, table 3.1: k_mod of plywood (from memory)."""
    for size in BIRCH_SIZES:
        notes = sheet(f"birch plywood {size} mm").notes
        for words in (
            "0.60, 0.70, 0.80, 0.90 and 1.10",
            "0.50, 0.55, 0.65, 0.70 and 0.90",
            "class 3",
            "Seal",
        ):
            assert words in notes


# Sandwiches --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "skin", "t", "core"),
    [
        ("carbon/foam panel 11 mm", "carbon fabric", 0.5e-3, 10e-3),
        ("carbon/foam panel 16 mm", "carbon fabric", 0.5e-3, 15e-3),
        ("glass/foam panel 12 mm", "glass fabric", 1e-3, 10e-3),
        ("glass/foam panel 17 mm", "glass fabric", 1e-3, 15e-3),
    ],
)
def test_sandwiches(name: str, skin: str, t: float, core: float) -> None:
    """Allen, Analysis and Design of Structural Sandwich Panels (1969): thin faces on a weak core."""
    panel = sheet(name)
    assert isinstance(panel, Layup)
    face, foam = ply_material(skin), ply_material("PVC foam 80")
    assert [ply.material for ply in panel.plies] == [face, foam, face]
    assert panel.thickness == pytest.approx(core + 2 * t)
    assert panel.mass_per_area == pytest.approx(2 * t * face.density + core * foam.density)
    p = panel.stiffness(panel.thickness)
    d = core + t
    E = face.E1 / (1 - face.nu12**2 * face.E2 / face.E1)
    assert p.D[0, 0] == pytest.approx(E * t * d**2 / 2, rel=0.015)
    assert p.S[0, 0] == pytest.approx(foam.G13 * d**2 / core, rel=0.02)
    # the face governs in bending, the core in shear: N = sigma t and Q = tau d, over the whole thickness
    whole, strength = panel.thickness, panel.strength
    weaker = face.strength.compression_along
    assert strength.bending_along == pytest.approx(6 * weaker * t * d / whole**2, rel=0.12)
    assert strength.planar_shear_along == pytest.approx(
        1.5 * foam.strength.planar_shear_along * d / whole, rel=0.01
    )
    assert strength.level == "typical"


# Prices ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "thickness", "low", "high"),
    # indicative retail prices of the 2020s in euro for a square metre, from memory
    [
        ("birch plywood 12 mm", None, 35, 70),
        ("ABS sheet", 4.5e-3, 25, 45),
        ("carbon/foam panel 11 mm", None, 250, 600),
        ("6061-T6 sheet", 3e-3, 65, 122),
    ],
)
def test_prices_of_sheets(name: str, thickness: float | None, low: float, high: float) -> None:
    assert low < sheet(name).price_per_area(thickness) < high


def test_price_of_a_tube() -> None:
    """5 to 10 euro for a metre of 25 x 25 x 2 mm, indicative, from memory."""
    alloy = bar("6063-T5 extrusion")
    area = 4 * 23e-3 * 2e-3
    assert 5 < alloy.cost_per_mass * alloy.density * area < 10


def test_prices_of_ones_own() -> None:
    assert SheetMaterial(**METAL).price_per_area(0.003) is None
    assert SheetMaterial(**METAL, cost_per_area=90).price_per_area() == 90
    assert SheetMaterial(**METAL, cost_per_mass="8").price_per_area(0.003) == pytest.approx(8 * 2700 * 0.003)
    assert BarMaterial(**BAR, cost_per_mass=4.5, cost_basis="quote of the yard").cost_per_mass == 4.5


PLY = {
    "name": "ply",
    "kind": "orthotropic",
    "E1": "10 GPa",
    "E2": "5 GPa",
    "nu12": 0.05,
    "G12": "0.6 GPa",
    "G13": "0.2 GPa",
    "G23": "0.1 GPa",
    "density": "680 kg/m^3",
}
METAL = {"name": "metal", "kind": "isotropic", "E1": "70 GPa", "nu12": 0.33, "density": "2700 kg/m^3"}
BAR = {"name": "bar", "E": "70 GPa", "nu": 0.33, "density": "2700 kg/m^3"}


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: sheet("birch ply 12 mm"),
            "The catalogue has no sheet material 'birch ply 12 mm'; did you mean 'birch plywood 12 mm'?",
        ),
        (
            lambda: sheet("birch plywood 19mm"),
            "The catalogue has no sheet material 'birch plywood 19mm'; did you mean 'birch plywood 18 mm' or "
            "'birch plywood 21 mm'?",
        ),
        (
            lambda: sheet("oak 19 mm"),
            "The catalogue has no sheet material 'oak 19 mm'; known: 5052-H32 sheet, 6061-T6 sheet, ABS sheet, birch "
            "plywood 12 mm, birch plywood 15 mm, birch plywood 18 mm, birch plywood 21 mm, birch plywood 24 mm, birch "
            "plywood 27 mm, birch plywood 30 mm, birch plywood 4 mm, birch plywood 6.5 mm, birch plywood 9 mm, "
            "carbon/foam panel 11 mm, carbon/foam panel 16 mm, glass/foam panel 12 mm, glass/foam panel 17 mm",
        ),
        (
            lambda: bar("oak"),
            "The catalogue has no bar material 'oak'; known: 6061-T6 extrusion, 6063-T5 extrusion, "
            "6063-T52 extrusion, 6063-T6 extrusion, mild steel",
        ),
        (
            lambda: bar("6063-T53 extrusion"),
            "The catalogue has no bar material '6063-T53 extrusion'; did you mean '6063-T5 extrusion' or "
            "'6063-T52 extrusion' or '6063-T6 extrusion'?",
        ),
        (
            lambda: sheet("carbon foam panel 11 mm"),
            "The catalogue has no sheet material 'carbon foam panel 11 mm'; did you mean 'carbon/foam panel "
            "11 mm'?",
        ),
        (
            lambda: ply_material("carbon fabrik"),
            "The catalogue has no ply material 'carbon fabrik'; did you mean 'carbon fabric'?",
        ),
        (
            lambda: SheetMaterial(**METAL, cost_per_area=50, cost_per_mass=10),
            "SheetMaterial: 'metal' has a price per area and one per mass; leave one of them out",
        ),
        (
            lambda: SheetMaterial(**METAL, cost_per_area=-50),
            "SheetMaterial.cost_per_area: -50 is below zero",
        ),
        (
            lambda: SheetMaterial(**{k: v for k, v in PLY.items() if k not in ("G13", "G23")}),
            "SheetMaterial: 'ply' is orthotropic and lacks G13 and G23; give them",
        ),
        (
            lambda: SheetMaterial(**{**PLY, "nu12": 1.5}),
            "SheetMaterial: 'ply' has nu12 = 1.5; with its E1 and E2 it must stay under 1.41",
        ),
        (
            lambda: SheetMaterial(**{**METAL, "G12": "26 GPa"}),
            "SheetMaterial: 'metal' is isotropic, so G12 must be left out: they follow from E1 and nu12; or "
            "set kind to 'orthotropic'",
        ),
        (
            lambda: SheetMaterial(**{**METAL, "nu12": 0.5}),
            "SheetMaterial: 'metal' has nu12 = 0.5; an isotropic sheet needs one between -1 and 0.5",
        ),
        (
            lambda: SheetMaterial(**{**METAL, "E1": "-70 GPa"}),
            'SheetMaterial.E1: "-70 GPa" is not above zero',
        ),
        (
            lambda: SheetMaterial(**{**METAL, "densty": 1}),
            "SheetMaterial.densty: there is no such field; did you mean 'density'?",
        ),
        (
            lambda: SheetMaterial(**METAL).stiffness(),
            "The sheet 'metal' has no thickness of its own; give one.",
        ),
        (
            lambda: SheetMaterial(**METAL).stiffness(-0.003),
            "The sheet's thickness is -0.003 m; give one above zero.",
        ),
        (
            lambda: BarMaterial(**{**BAR, "nu": 0.7}),
            "BarMaterial: 'bar' has nu = 0.7; give one between -1 and 0.5, about 0.3 for metals",
        ),
        (
            lambda: BarMaterial(**{**BAR, "yield_strength": "200 MPa", "ultimate_strength": "150 MPa"}),
            "BarMaterial: 'bar' has an ultimate strength of 150 MPa, below its yield strength of 200 MPa; "
            "exchange the two",
        ),
    ],
)
def test_refusals(make, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make()
    assert str(caught.value) == sentence


def test_frozen() -> None:
    with pytest.raises(ValueError, match="frozen"):
        sheet("6061-T6 sheet").E1 = 1.0
