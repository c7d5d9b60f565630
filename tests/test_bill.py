"""Bill of materials: areas, lengths, volumes and masses by hand; costs as the design or the catalogue has them."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import pytest

import splitterfem as sf
from splitterfem.materials import bar, sheet

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
            "stops": [{"name": "buffer", "at": (0.55, 0.2), "gap_up": 0.002, "mirror": True, "cost": 1.5}],
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
        "buffer left": "stop",
        "buffer right": "stop",
        "total": "total",
    }
    columns = [
        "kind",
        "material",
        "count",
        "length_mm",
        "area_m2",
        "volume_cm3",
        "mass_kg",
        "cost",
        "currency",
    ]
    assert bill.columns.tolist() == [*columns, "cost_basis"]


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
    assert (long["count"], short["count"]) == (1, 2)  # cut in two by the other


def test_struts_by_length(bill: pd.DataFrame) -> None:
    rod, spring = bill.loc["rod left"], bill.loc["spring"]
    assert rod["length_mm"] == pytest.approx(250.0)
    assert rod["mass_kg"] == pytest.approx(2700.0 * math.pi * 0.004**2 * 0.25)
    assert rod["cost"] == bill.loc["rod right", "cost"] == 12.0
    assert math.isnan(spring["mass_kg"])  # no section is known


def test_hardware_by_piece(bill: pd.DataFrame) -> None:
    assert bill.loc["bolt", "cost"] == 0.0  # given as free is not the same as not given
    assert bill.loc[["pin left", "pin right"], "cost"].tolist() == [4.0, 4.0]
    assert bill.loc[["buffer left", "buffer right"], "cost"].tolist() == [1.5, 1.5]
    pocket = bill.loc["pocket"]
    assert (pocket["material"], pocket["cost_basis"]) == ("mild steel", "not given")
    assert math.isnan(pocket["cost"])


def test_cost_of_a_doubler_goes_before_that_of_its_sheet() -> None:
    splitter = design()
    dear = splitter.with_part("patch", cost=5.0)
    bill = sf.bill_of_materials(dear).set_index("part")
    assert bill.loc["patch left", "cost"] == 5.0
    assert bill.loc["patch left", "cost_basis"] == "as given for the part"


OWN = {"name": "own board", "kind": "isotropic", "E1": 9e9, "nu12": 0.2, "density": 700.0}
OUTLINE = {"start": (0, 0), "edges": [{"to": (0.5, 0)}, {"to": (0.5, 0.4)}, {"to": (0, 0.4)}]}


def small(*, board: dict[str, Any], **more: Any) -> pd.DataFrame:
    """The bill of a panel of 500 x 400 mm."""
    splitter = sf.Splitter.model_validate(
        {
            "name": "small",
            "panel": {"outline": OUTLINE, "sheet": {"thickness": 0.012} | board},
            "car": {"ride_height": 0.08},
        }
        | more
    )
    return sf.bill_of_materials(splitter).set_index("part")


def test_without_costs_nothing_is_made_up() -> None:
    bill = small(board={"material": OWN}, pins=[{"name": "pin", "at": (0.1, 0.1)}])
    assert bill["cost"].isna().all()
    assert set(bill["cost_basis"]) == {"not given"}
    assert bill.loc["total", "mass_kg"] == pytest.approx(700 * 0.012 * 0.2)
    assert bill.attrs["left_out"][-1] == "cost of panel, pin"


def test_prices_of_the_catalogue_when_there_are_no_others() -> None:
    """Sheets by area, ribs and struts by mass at the indicative prices of the catalogue, from memory."""
    board, alloy, steel = sheet("birch plywood 12 mm"), bar("6063-T6 extrusion"), bar("mild steel")
    bill = small(
        board={"material": "birch plywood 12 mm"},
        currency="EUR",
        doublers=[{"name": "plate", "sheet": {"material": "6061-T6 sheet", "thickness": 0.003},
                   "rectangle": {"x": (0.1, 0.2), "y": (0.1, 0.2)}}],
        ribs=[{"name": "rib", "points": [(0.3, 0.1), (0.3, 0.3)], "section": TUBE, "material": "6063-T6 extrusion"}],
        struts=[{"name": "rod", "foot": (0.4, 0.1), "head": (0.4, 0.1, 0.2), "diameter": 0.008},
                {"name": "rope", "foot": (0.4, 0.3), "head": (0.4, 0.3, 0.2), "form": "cable", "area": 4e-6,
                 "modulus": 6e10}],
    )  # fmt: skip
    assert bill.loc["panel", "cost"] == pytest.approx(0.2 * 0.012 * 680 * board.cost_per_mass)
    assert (
        bill.loc["panel", "cost_basis"]
        == "0.200 m2 at 52.22 EUR per m2, without offcuts; indicative, catalogue"
    )
    assert bill.loc["plate", "cost"] == pytest.approx(0.01 * 0.003 * 2700 * 11.5)
    mass = TUBE_AREA * 0.2 * 2700
    assert bill.loc["rib", "cost"] == pytest.approx(mass * alloy.cost_per_mass)
    assert alloy.price_per_length(TUBE_AREA) == pytest.approx(bill.loc["rib", "cost"] / 0.2)
    assert bill.loc["rod", "cost"] == pytest.approx(math.pi * 0.004**2 * 0.2 * 7850 * steel.cost_per_mass)
    assert bill.loc["rod", "cost_basis"].endswith("; indicative, catalogue; bar without its ends")
    assert bill.loc["rope", "cost_basis"] == "not given"  # what it is made of is not said
    assert set(bill["currency"][bill["cost"].notna()]) == {"EUR"}
    assert bill.loc["total", "cost"] == pytest.approx(bill["cost"].iloc[:-1].sum())
    assert bill.loc["total", "cost_basis"] == "sum of 4 of 5 rows; no cost known of rope"


def test_cost_of_a_part_goes_before_all() -> None:
    """Part, then sheet by area, then price of the material."""
    own = OWN | {"cost_per_area": 10.0}
    rectangle = {"x": (0.1, 0.2), "y": (0.1, 0.2)}
    patch = {"name": "patch", "rectangle": rectangle, "sheet": {"material": own, "thickness": 0.004}}
    one = small(board={"material": own}, doublers=[patch], currency="GBP")
    assert one.loc["patch", "cost"] == pytest.approx(0.1)
    assert one.loc["patch", "cost_basis"].endswith("10 GBP per m2, without offcuts; price of the material")
    two = small(board={"material": own, "cost_per_area": 20.0}, doublers=[patch | {"cost": 3.0}])
    assert two.loc["panel", "cost"] == pytest.approx(4.0)
    assert two.loc["patch", "cost"] == 3.0
    catalogue = small(board={"material": "birch plywood 12 mm", "cost_per_area": 20.0})
    assert catalogue.loc["panel", "cost"] == pytest.approx(4.0)


def test_nothing_is_converted() -> None:
    """A design in dollars keeps the catalogue's euros apart, with a total of their own."""
    bill = small(
        board={"material": "birch plywood 12 mm"},
        currency="USD",
        pins=[{"name": "pin", "at": (0.1, 0.1), "cost": 4.0}],
    ).reset_index()
    panel, pin, dollars, euros = (bill.iloc[i] for i in range(4))
    assert panel["cost_basis"].endswith("indicative, catalogue; in EUR, not converted to USD")
    assert (panel["currency"], pin["currency"]) == ("EUR", "USD")
    assert (dollars["kind"], dollars["currency"], dollars["cost"]) == ("total", "USD", 4.0)
    assert (euros["kind"], euros["currency"], euros["cost"]) == ("total", "EUR", panel["cost"])
    assert dollars["mass_kg"] == pytest.approx(panel["mass_kg"])
    assert math.isnan(euros["mass_kg"])
    # the euro by another name is no other currency
    same = small(board={"material": "birch plywood 12 mm"}, currency="€")
    assert same.loc["panel", "cost_basis"].endswith("indicative, catalogue")
    assert list(same["kind"]).count("total") == 1


def test_a_scaled_board_keeps_the_price_of_the_catalogue() -> None:
    softer = sheet("birch plywood 12 mm").scaled(0.9)
    bill = small(board={"material": softer}, currency="USD")
    assert bill.loc["panel", "currency"] == "EUR"


@pytest.mark.parametrize(
    ("length", "pitch", "rows", "count"),
    [(0.3, 0.1, 1, 3), (0.3, 0.1, 2, 6), (0.31, 0.1, 1, 4), (0.05, 0.04, 1, 2)],
)
def test_fasteners_by_number(length: float, pitch: float, rows: int, count: int) -> None:
    """Each stands for a pitch of its row, as in the model, a rest of a pitch counted as one."""
    rib = {"name": "rib", "points": [(0.1, 0.2), (0.1 + length, 0.2)], "section": TUBE, "material": BAR,
           "joint": {"kind": "screws", "diameter": 0.005, "pitch": pitch, "rows": rows}}  # fmt: skip
    bill = small(board={"material": "birch plywood 12 mm"}, ribs=[rib])
    joint = bill.loc["rib, joint"]
    assert (joint["kind"], joint["material"], joint["count"]) == ("joint", "screws, 5 mm", count)
    assert (joint["length_mm"], joint["cost_basis"]) == (pytest.approx(1e3 * length), "not given")


def test_joint_of_a_notched_rib_ends_at_the_other() -> None:
    """Pieces of 287.5 and 87.5 mm: three and one fastener a row at a pitch of 100 mm."""
    bolts = {"kind": "bolts", "diameter": 0.006, "pitch": 0.1, "rows": 2}
    bill = sf.bill_of_materials(design().with_part("short", joint=bolts)).set_index("part")
    assert bill.loc["short, joint", "count"] == 2 * (3 + 1)
    assert bill.loc["short, joint", "length_mm"] == pytest.approx(375.0)


def test_glue_by_volume() -> None:
    """Width times thickness times length, the width of the foot where none is given."""
    glue = {"kind": "adhesive", "thickness": 0.5e-3, "shear_modulus": 9e8, "name": "paste, invented"}
    one = sf.bill_of_materials(design().with_part("long", joint=glue)).set_index("part").loc["long, joint"]
    assert (one["kind"], one["material"]) == ("joint", "paste, invented")
    assert one["volume_cm3"] == pytest.approx(2.5 * 0.05 * 30.0)
    assert one["area_m2"] == pytest.approx(0.025 * 0.3)
    assert math.isnan(one["mass_kg"])  # its density is not given
    heavy = sf.bill_of_materials(design().with_part("long", joint=glue | {"density": "1.2 g/cm^3"}))
    assert heavy.set_index("part").loc["long, joint", "mass_kg"] == pytest.approx(1200 * 0.025 * 0.0005 * 0.3)
    assert "mass of adhesives" not in heavy.attrs["left_out"]
    narrow = design().with_part("long", joint=glue | {"width": 0.02})
    bill = sf.bill_of_materials(narrow)
    assert bill.set_index("part").loc["long, joint", "volume_cm3"] == pytest.approx(2.0 * 0.05 * 30.0)
    assert bill.attrs["left_out"][-1] == "mass of adhesives"


def test_totals(bill: pd.DataFrame) -> None:
    """Sums of the rows above, and what they leave out."""
    above, total = bill.iloc[:-1], bill.loc["total"]
    assert total["mass_kg"] == pytest.approx(above["mass_kg"].sum())
    assert total["cost"] == pytest.approx(above["cost"].sum())
    assert total["currency"] == "EUR"
    assert total["cost_basis"] == "sum of 11 of 14 rows; no cost known of short, spring, pocket"
    left_out = bill.attrs["left_out"]
    assert {"offcuts", "sealing and paint", "labour"} <= set(left_out)
    assert left_out[-2:] == ("cost of short, spring, pocket", "mass of spring")


def test_masses_are_those_of_the_model(demo_solution: Any) -> None:
    """The meshed panel and its ribs weigh the same, give or take the chords of curved edges."""
    bill = sf.bill_of_materials(demo_solution.model.design)
    built = bill[bill["kind"].isin(["panel", "doubler", "rib"])]
    assert built["mass_kg"].sum() == pytest.approx(demo_solution.mass, rel=1e-3)
