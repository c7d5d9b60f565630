"""The catalogue line by line against the tables that it was taken from, and what its files must say of themselves.

Handbook of Finnish Plywood (Finnish Forest Industries Federation, 2002), ASTM B209 and the Aluminum Design Manual are
quoted from memory, except where a line says otherwise.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

import pytest

from splitterfem.errors import DesignError
from splitterfem.materials import Layup, SheetMaterial, ply_material, sheet
from splitterfem.strength.hardware import bolt_class, thread

COLUMNS = (
    "thickness", "bending_along", "bending_across", "tension_along", "tension_across", "compression_along",
    "compression_across", "E1_bending", "E2_bending", "E1", "E2", "planar_shear_along", "planar_shear_across", "G13",
    "G23",
)  # fmt: skip

# Handbook of Finnish Plywood, sanded birch of 1.4 mm veneers (from memory): mm and MPa; None where it has nothing.
HANDBOOK = {
    "4": (3.6, 65.9, 10.6, 45.8, 29.2, 31.8, 20.2, 16471, 1029, 10694, 6806, 2.77, None, None, None),
    "6.5": (6.4, 50.9, 29.0, 42.2, 32.8, 29.3, 22.8, 12737, 4763, 9844, 7656, 3.20, 1.78, 169, 123),
    "9": (9.2, 45.6, 32.1, 40.8, 34.2, 28.3, 23.7, 11395, 6105, 9511, 7989, 2.68, 2.35, 206, 155),
    "12": (12.0, 42.9, 33.2, 40.0, 35.0, 27.7, 24.3, 10719, 6781, 9333, 8167, 2.78, 2.22, 207, 170),
    "15": (14.8, 41.3, 33.8, 39.5, 35.5, 27.4, 24.6, 10316, 7184, 9223, 8277, 2.62, 2.39, 207, 178),
    "18": (17.6, 40.2, 34.1, 39.2, 35.8, 27.2, 24.8, 10048, 7452, 9148, 8352, 2.67, 2.34, 206, 183),
    "21": (20.4, 39.4, 34.3, 39.0, 36.0, 27.0, 25.0, 9858, 7642, 9093, 8407, 2.59, 2.41, 206, 186),
    "24": (23.2, 38.9, 34.4, 38.8, 36.2, 26.9, 25.1, 9717, 7783, 9052, 8448, 2.62, 2.39, 205, 189),
    "27": (26.0, 38.4, 34.5, 38.7, 36.3, 26.8, 25.2, 9607, 7893, 9019, 8481, 2.57, 2.43, 205, 190),
    "30": (28.8, 38.1, 34.6, 38.5, 36.5, 26.7, 25.3, 9519, 7981, 8993, 8507, 2.59, 2.41, 204, 192),
}


@pytest.mark.parametrize("size", HANDBOOK)
def test_rows_of_the_handbook(size: str) -> None:
    board = sheet(f"birch plywood {size} mm")
    for name, expected in zip(COLUMNS, HANDBOOK[size], strict=True):
        found = getattr(board.strength if hasattr(board.strength, name) else board, name)
        if expected is None and name.startswith("planar"):
            assert found is None
        elif expected is not None:
            assert found == pytest.approx(expected * (1e-3 if name == "thickness" else 1e6), rel=1e-12), name
    # the same in every row: shear in the plane, characteristic and mean density
    assert (board.strength.panel_shear, board.G12) == (9.5e6, 620e6)
    assert (board.density_characteristic, board.density) == (630, 680)
    assert (board.strength.level, board.basis, board.shear_factor) == ("characteristic", "memory", 1.0)
    assert "Handbook of Finnish Plywood" in board.source


@pytest.mark.parametrize(
    ("size", "mean", "least", "most", "density"),
    # Trade data sheet of birch plywood (public copy): mean, least and greatest thickness in mm, kg/m3.
    [
        ("6.5", 6.4, 6.1, 6.9, 670),
        ("9", 9.2, 8.8, 9.5, 710),
        ("12", 12.0, 11.5, 12.5, 695),
        ("15", 14.9, 14.3, 15.3, 690),
        ("18", 17.7, 17.1, 18.1, 685),
        ("21", 20.5, 20.0, 20.9, 680),
        ("24", 23.4, 22.9, 23.7, 680),
    ],
)
def test_thickness_and_density_as_traded(
    size: str, mean: float, least: float, most: float, density: float
) -> None:
    board = sheet(f"birch plywood {size} mm")
    t = 1e3 * board.thickness
    assert least < t < most
    assert t == pytest.approx(mean, rel=0.01)
    assert board.density == pytest.approx(density, rel=0.045)


KSI = 6.894757e6


@pytest.mark.parametrize(
    ("name", "yielding", "ultimate", "E", "density", "basis"),
    # 6061-T6: ASTM B209 minimum; 5052-H32: Aluminum Design Manual, read in its table of 5xxx sheet; ksi, lb/in3.
    [
        ("6061-T6 sheet", 35, 42, 10_000, 0.098, "memory"),
        ("5052-H32 sheet", 23, 31, 10_100, 0.097, "published"),
    ],
)
def test_sheets_of_aluminium(
    name: str, yielding: float, ultimate: float, E: float, density: float, basis: str
) -> None:
    metal = sheet(name)
    assert metal.strength.yield_strength == pytest.approx(yielding * KSI, rel=0.01)
    assert metal.strength.ultimate_strength == pytest.approx(ultimate * KSI, rel=0.01)
    assert metal.strength.level == "minimum"
    assert pytest.approx(E * KSI, rel=2e-3) == metal.E1
    assert metal.density == pytest.approx(density * 27679.9, rel=6e-3)
    assert (metal.basis, metal.kind, metal.nu12) == (basis, "isotropic", 0.33)
    assert "weld" in metal.notes


def test_shear_and_bearing_of_6061() -> None:
    """MMPDS, 6061-T6 sheet: Fsu 27, Fbru 88 and Fbry 58 ksi at an edge distance of two diameters (from memory)."""
    strength = sheet("6061-T6 sheet").strength
    found = (strength.shear_ultimate, strength.bearing_ultimate, strength.bearing_yield)
    assert found == pytest.approx((27 * KSI, 88 * KSI, 58 * KSI), rel=6e-3)


def test_abs() -> None:
    """Materials record of extruded ABS: E 2.0 to 2.9 GPa, yield 30 to 44 MPa, nu .39 to .42, 1020 to 1080 kg/m3."""
    plastic = sheet("ABS sheet")
    assert 2.0e9 < plastic.E1 < 2.9e9
    assert 30e6 < plastic.strength.yield_strength < 44e6
    assert 0.39 <= plastic.nu12 <= 0.42
    assert 1020 < plastic.density < 1080
    assert plastic.basis == "indicative"
    assert "Creeps" in plastic.notes


@pytest.mark.parametrize(
    ("name", "low", "high", "weakest", "strongest"),
    # woven skins in epoxy (GPa, MPa in tension) and cross-linked PVC foam of 80 kg/m3 (G in MPa), from memory
    [("carbon fabric", 50e9, 60e9, 400e6, 600e6), ("glass fabric", 18e9, 24e9, 250e6, 400e6)],
)
def test_skins(name: str, low: float, high: float, weakest: float, strongest: float) -> None:
    skin = ply_material(name)
    assert low <= skin.E1 == skin.E2 <= high
    assert weakest <= skin.strength.tension_along <= strongest
    assert skin.basis == "indicative"


def test_foam() -> None:
    foam = ply_material("PVC foam 80")
    assert 25e6 <= foam.G13 == foam.G23 <= 27e6
    assert (foam.strength.planar_shear_along, foam.strength.compression_along) == (1.1e6, 1.3e6)
    assert (foam.density, foam.basis) == (80, "indicative")


# What the files say of themselves -----------------------------------------------------------------------


def rows() -> list[tuple[str, dict[str, Any]]]:
    found = []
    for name in ("sheets", "plies", "bars"):
        text = (files("splitterfem.materials") / "catalogue" / f"{name}.toml").read_text(encoding="utf-8")
        for kind, records in tomllib.loads(text).items():
            found += [(f"{name}, {kind} {record['name']}", record) for record in records]
    return found


ROWS = rows()


@pytest.mark.parametrize(("where", "record"), ROWS, ids=[where for where, _ in ROWS])
def test_records_of_the_files(where: str, record: dict[str, Any]) -> None:
    """Source, basis and notes; every quantity with its unit; prices and guesses marked as such."""
    assert record["basis"] in ("published", "memory", "indicative")
    assert len(record["source"]) > 10
    assert len(record["notes"]) > 10
    if record["basis"] == "indicative":
        assert "memory" in record["source"] or "E 2.0 to 2.9 GPa" in record["source"]
    if "strength" in record and "family" not in where:
        assert record["strength"]["level"] in ("characteristic", "minimum", "typical")
    prices = [record[field] for field in ("cost_per_area", "cost_per_mass") if field in record]
    assert len(prices) <= 1
    assert bool(prices) == record.get("cost_basis", "").startswith("indicative, from memory")
    if "density" in record:
        assert record["density"].endswith(" kg/m^3")


def test_notes_on_heat_and_moisture() -> None:
    assert "Softens" in sheet("ABS sheet").notes
    assert "Softens" in ply_material("PVC foam 80").notes
    assert "Moisture and duration of load" in ply_material("birch veneer").notes


def test_figures_of_the_catalogue_can_be_replaced() -> None:
    """A record of one's own from that of the catalogue: density, an allowable, a price; the rest stays."""
    board = sheet("birch plywood 12 mm")
    given = {name: getattr(board, name) for name in board.model_fields_set}
    tested = board.strength.model_copy(update={"bending_along": 38e6})
    own = SheetMaterial(**given | {"name": "tested board", "density": "700 kg/m^3", "strength": tested, "basis": "user",
                                   "cost_per_mass": None, "cost_per_area": 44.0, "cost_basis": "quote"})  # fmt: skip
    assert own.stiffness().mass_per_area == pytest.approx(8.4)
    assert own.strength.bending_along == 38e6
    assert own.strength.bending_across == board.strength.bending_across
    assert own.price_per_area() == 44.0
    assert pytest.approx(board.stiffness().D) == own.stiffness().D


def test_price_of_a_sandwich_of_ones_own() -> None:
    panel = sheet("glass/foam panel 12 mm")
    own = Layup(name="ours", plies=panel.plies, cost_per_area=99)
    assert (own.price_per_area(), own.stiffness()) == (99, panel.stiffness())


# Wrong names --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: SheetMaterial(
                name="a", kind="isotropc", E1="70 GPa", nu12=0.3, density="2700 kg/m^3"
            ),
            "SheetMaterial.kind: \"isotropc\" is not a choice here; did you mean 'isotropic' or 'orthotropic'?",
        ),
        (
            lambda: Layup(name="a", plies=[{"material": "PVC foam 60", "thickness": "5 mm"}]),
            "Layup.plies #1.material: The catalogue has no ply material 'PVC foam 60'; did you mean 'PVC foam 80'?",
        ),
        (
            lambda: sheet("6061-T4 sheet"),
            "The catalogue has no sheet material '6061-T4 sheet'; did you mean '6061-T6 sheet'?",
        ),
        (
            lambda: thread("M7"),
            "There is no thread 'M7' in the table; known: 1/4-20 UNC, 1/4-28 UNF, 10-32 UNF, 3/8-16 UNC, 3/8-24 UNF, "
            "5/16-18 UNC, 5/16-24 UNF, M10, M12, M4, M5, M6, M8",
        ),
        (
            lambda: thread("1/4-20"),
            "There is no thread '1/4-20' in the table; did you mean '1/4-20 UNC' or '1/4-28 UNF'?",
        ),
        (
            lambda: bolt_class("8.9"),
            "There is no strength class '8.9' in the table; did you mean '8.8'?",
        ),
    ],
)  # fmt: skip
def test_wrong_names(make: Any, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make()
    assert str(caught.value) == sentence
