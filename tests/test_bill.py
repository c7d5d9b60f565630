"""Bill of materials: areas, lengths and masses by hand, and costs as the design has them."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import pytest

import splitterfem as sf

TUBE = {"shape": "tube", "width": 0.025, "height": 0.025, "wall": 0.003}
TUBE_AREA = 0.025**2 - 0.019**2
BAR = {"name": "plain bar", "E": 70e9, "nu": 0.3, "density": 2700.0}


def design(**more: Any) -> sf.Splitter:
    """600 x 800 mm with a round opening, a pair of doublers, crossing ribs and a little of everything else."""
    outline = {"start": (0, -0.4), "edges": [{"to": (0.6, -0.4)}, {"to": (0.6, 0.4)}, {"to": (0, 0.4)}]}
    sheet = {"material": {"name": "board", "kind": "isotropic", "E1": 9e9, "nu12": 0.2, "density": 700.0},
             "thickness": 0.012}  # fmt: skip
    return sf.Splitter.model_validate(
        {
            "name": "everything",
            "currency": "EUR",
            "panel": {"outline": outline, "sheet": sheet | {"cost_per_area": 30.0},
                      "cutouts": [{"name": "hole", "circle": {"centre": (0.3, 0.25), "radius": 0.1}}]},
            "doublers": [{"name": "patch", "mirror": True, "rectangle": {"x": (0.05, 0.15), "y": (0.25, 0.35)},
                          "sheet": sheet | {"thickness": 0.004, "cost_per_area": 20.0}}],
            "ribs": [{"name": "long", "points": [(0.2, 0.0), (0.5, 0.0)], "section": TUBE, "material": BAR,
                      "cost": 9.5},
                     {"name": "short", "points": [(0.4, -0.3), (0.4, 0.1)], "section": TUBE, "material": BAR,
                      "crossing": "notched"}],
            "struts": [{"name": "rod", "mirror": True, "foot": (0.5, 0.3), "head": (0.5, 0.3, 0.25), "diameter": 0.008,
                        "material": BAR, "cost": 12.0},
                       {"name": "spring", "foot": (0.55, 0.0), "head": (0.5, 0.0, 0.25), "stiffness": 1e6}],
            "bolts": [{"name": "bolt", "at": (0.03, 0.0), "cost": 0.0}],
            "pins": [{"name": "pin", "at": (0.06, 0.1), "mirror": True, "cost": 4.0}],
            "pockets": [{"name": "pocket", "mouth": (0.04, 0.2), "width": 0.05, "overlap": 0.03,
                         "lip_material": "mild steel", "lip_thickness": 0.003}],
            "car": {"ride_height": 0.08},
            "cases": [{"name": "weight"}],
        } | more
    )  # fmt: skip


@pytest.fixture(scope="module")
def bill() -> pd.DataFrame:
    return sf.bill_of_materials(design()).set_index("part")


def test_every_half_has_a_row(bill: pd.DataFrame) -> None:
    assert dict(bill["kind"]) == {
        "panel": "panel",
        "patch left": "doubler",
        "patch right": "doubler",
        "long": "rib",
        "short": "rib",
        "rod left": "strut",
        "rod right": "strut",
        "spring": "strut",
        "bolt": "bolt",
        "pin left": "pin",
        "pin right": "pin",
        "pocket": "rear pocket",
    }
    columns = ["kind", "material", "length_mm", "area_m2", "mass_kg", "cost", "cost_basis"]
    assert bill.columns.tolist() == columns


def test_sheets_by_area(bill: pd.DataFrame) -> None:
    """Rectangle less circle; rho t A; cost of a square metre times A."""
    area = 0.6 * 0.8 - math.pi * 0.1**2
    panel, patch = bill.loc["panel"], bill.loc["patch right"]
    assert panel["area_m2"] == pytest.approx(area, rel=1e-4)
    assert panel["mass_kg"] == pytest.approx(700.0 * 0.012 * area, rel=1e-4)
    assert panel["cost"] == pytest.approx(30.0 * area, rel=1e-4)
    assert panel["cost_basis"] == "0.449 m2 at 30 EUR per m2, without offcuts"
    assert panel["material"] == "board"
    assert patch["mass_kg"] == pytest.approx(700.0 * 0.004 * 0.01)
    assert patch["cost"] == pytest.approx(0.2)


def test_ribs_by_length(bill: pd.DataFrame) -> None:
    """rho A l; the notched rib loses the width of the other's foot."""
    long, short = bill.loc["long"], bill.loc["short"]
    assert long["length_mm"] == pytest.approx(300.0)
    assert short["length_mm"] == pytest.approx(400.0 - 25.0)
    assert short["mass_kg"] == pytest.approx(2700.0 * TUBE_AREA * 0.375, rel=1e-9)
    assert (long["cost"], long["cost_basis"]) == (9.5, "as given for the part")
    assert math.isnan(short["cost"])
    assert short["cost_basis"] == "not given"


def test_struts_by_length(bill: pd.DataFrame) -> None:
    rod, spring = bill.loc["rod left"], bill.loc["spring"]
    assert rod["length_mm"] == pytest.approx(250.0)
    assert rod["mass_kg"] == pytest.approx(2700.0 * math.pi * 0.004**2 * 0.25)
    assert rod["cost"] == bill.loc["rod right", "cost"] == 12.0
    assert math.isnan(spring["mass_kg"])  # no section is known


def test_hardware_by_piece(bill: pd.DataFrame) -> None:
    assert bill.loc["bolt", "cost"] == 0.0  # given as free is not the same as not given
    assert bill.loc[["pin left", "pin right"], "cost"].tolist() == [4.0, 4.0]
    pocket = bill.loc["pocket"]
    assert (pocket["material"], pocket["cost_basis"]) == ("mild steel", "not given")
    assert math.isnan(pocket["cost"])


def test_cost_of_a_doubler_goes_before_that_of_its_sheet() -> None:
    splitter = design()
    dear = splitter.with_part("patch", cost=5.0)
    bill = sf.bill_of_materials(dear).set_index("part")
    assert bill.loc["patch left", "cost"] == 5.0
    assert bill.loc["patch left", "cost_basis"] == "as given for the part"


def test_without_costs_nothing_is_made_up() -> None:
    bill = sf.bill_of_materials(sf.demo())
    assert bill["cost"].isna().all()
    assert set(bill["cost_basis"]) == {"not given"}


def test_masses_are_those_of_the_model(demo_solution: Any) -> None:
    """The meshed panel and its ribs weigh the same, give or take the chords of curved edges."""
    bill = sf.bill_of_materials(demo_solution.model.design)
    built = bill[bill["kind"].isin(["panel", "doubler", "rib"])]
    assert built["mass_kg"].sum() == pytest.approx(demo_solution.mass, rel=1e-3)
