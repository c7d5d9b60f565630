"""Rows of struts, pins, bolts and rear pockets that the table of modes leaves open, and what cannot be judged."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.analysis.fields import displacements_at

JOINT = (
    0.70 / 1.3
)  # k_mod over gamma_M of a connection, service class 3, short: EN 1995-1-1 tables 3.1 and 2.3
PLY = {"material": "birch plywood 12 mm", "thickness": 0.012}
ALLOY = "6061-T6 extrusion"
CORNERS = [(0.1, -0.2), (0.1, 0.2), (0.5, -0.2), (0.5, 0.2)]
PINS = [
    {"name": "pin", "at": (0.3, -0.1), "holds": "xy"},
    {"name": "guide", "at": (0.3, 0.1), "holds": "x"},
]


def strut(i: int, **more: Any) -> dict[str, Any]:
    x, y = CORNERS[i]
    return {"name": f"s{i}", "foot": (x, y), "head": (x, y, 0.3), "diameter": 0.008, "pad": "40 mm"} | more


def design(
    *, sheet: dict[str, Any] = PLY, case: dict[str, Any] | None = None, mesh: float = 0.03, **parts: Any
) -> dict[str, Any]:
    """A panel of 600 x 600 mm on four upright struts, or on what is given."""
    corners = [(0.0, -0.3), (0.6, -0.3), (0.6, 0.3), (0.0, 0.3)]
    loading = {
        "name": "load",
        "gravity": False,
        "ground": False,
        "pressure": {"kind": "uniform", "pressure": 4000.0},
    }
    fixings = {"struts": [strut(i) for i in range(4)], "pins": PINS}
    return {
        "name": "by hand",
        "panel": {"outline": {"start": corners[0], "edges": [{"to": c} for c in corners[1:]]}, "sheet": sheet},
        "car": {"ride_height": 0.08},
        "mesh": {"size": mesh},
        "cases": [loading | (case or {})],
    } | fixings | parts  # fmt: skip


def solved(**fields: Any) -> Any:
    return sf.solve(sf.Splitter.model_validate(design(**fields)), "load")


def rows(solution: Any, part: str) -> Any:
    table = solution.utilisation
    return table[table.part == part].set_index("mode")


# struts


def test_a_bar_without_yield_strength_keeps_its_other_rows() -> None:
    own = {"name": "own", "E": 190e9, "nu": 0.3, "density": 7900.0}
    found = rows(
        solved(
            struts=[
                strut(i, material=own, end_rating=3e3, thread="M8", strength_class="8.8") for i in range(4)
            ]
        ),
        "s0",
    )
    assert math.isnan(found.ratio["tension, yield of the bar"])
    assert "yield strength of strut s0 is not known" in found.note["tension, yield of the bar"]
    assert found.ratio["end fitting"] > 0
    assert found.ratio["tension of the thread"] > 0
    assert found.demand["tension, yield of the bar"] == found.demand["end fitting"]


def test_a_cable_without_a_rating_is_told_when_it_has_a_size() -> None:
    sized = rows(solved(struts=[strut(i, form="cable", modulus=60e9) for i in range(4)]), "s0")
    assert math.isnan(sized.ratio["break of the cable or its ends"])
    assert "give end_rating" in sized.note["break of the cable or its ends"]
    plain = {"form": "cable", "stiffness": 1e6, "diameter": None}
    assert not len(rows(solved(struts=[strut(i, **plain) for i in range(4)]), "s0"))


def test_a_slack_cable_carries_nothing() -> None:
    cable = {"form": "cable", "modulus": 60e9, "end_rating": 4e3}
    lifted = [strut(0, **cable), *(strut(i) for i in (1, 2, 3)), strut(0, name="extra")]
    found = rows(solved(struts=lifted, case={"pressure": {"kind": "uniform", "pressure": -2000.0}}), "s0")
    assert found.demand.tolist() == [0.0]


# pins

CLEVIS = {"diameter": 0.006, "shear_strength": 300e6, "yield_strength": 400e6, "lug_thickness": 0.006,
          "clevis_thickness": 0.003, "gap": 0.001}  # fmt: skip


def pinned(**fields: Any) -> Any:
    pin = {"name": "pin", "at": (0.3, -0.1), "holds": "xy"} | fields
    case = {"acceleration": (-20.0, 0.0, 0.0), "pressure": None}
    return rows(solved(pins=[pin, PINS[1]], case=case), "pin")


@pytest.mark.parametrize(
    ("fields", "mode", "why"),
    [
        (CLEVIS | {"gap": None}, "bending of the pin", "give gap"),
        (CLEVIS | {"yield_strength": None}, "bending of the pin", "give yield_strength"),
        (CLEVIS | {"shear_strength": None}, "shear of the pin", "give shear_strength, or a rating"),
        (CLEVIS, "bearing in the lug", "give lug_material"),
        (CLEVIS, "bearing in the clevis", "give clevis_material"),
        (CLEVIS | {"lug_width": 0.02}, "net tension of the lug", "give lug_material"),
        (CLEVIS | {"clevis_end": 0.02}, "tear-out of the clevis", "give clevis_material"),
        (
            CLEVIS | {"diameter": None, "rating": 5e3},
            "bending of the pin",
            "fill the gap of 1 mm with spacers",
        ),
    ],
)
def test_what_of_a_pin_cannot_be_judged(fields: dict[str, Any], mode: str, why: str) -> None:
    found = pinned(**{name: value for name, value in fields.items() if value is not None})
    assert math.isnan(found.ratio[mode])
    assert why in found.note[mode]
    assert found.demand[mode] > 0


def test_nothing_is_said_of_what_a_pin_does_not_have() -> None:
    assert not len(pinned())
    assert pinned(rating=5e3).index.tolist() == ["rating of the pin"]
    touching = pinned(rating=5e3, lug_thickness=0.006, clevis_thickness=0.003, gap=0.0)
    assert "bending of the pin" not in touching.index
    full = pinned(**CLEVIS, lug_material=ALLOY, clevis_material=ALLOY)
    assert not full.index.str.startswith(("net", "tear", "embedment")).any()
    assert full.ratio.notna().all()


def test_a_thin_plate_bears_by_its_own_end() -> None:
    """Aluminum Design Manual [M]: e t F_tu / 1.95 below 0.6 t d f_y where the end is very near."""
    lug = {"lug_material": ALLOY, "lug_end": 0.0041, "hole": 0.006}
    found = pinned(**CLEVIS, **lug)
    assert found.allowable["bearing in the lug"] == pytest.approx(min(0.6 * 6 * 241, 4.1 * 262 / 1.95) * 6)
    assert found.basis["bearing in the lug"] == "memory"


def test_metal_factor_above_the_rule_for_pins_that_come_out() -> None:
    """1.5 W f_y over a factor of 2.5 is less than 0.8 W f_y (EN 1993-1-8 table 3.10)."""
    case = {"acceleration": (-20.0, 0.0, 0.0), "pressure": None}
    pin = {"name": "pin", "at": (0.3, -0.1), "holds": "xy"} | CLEVIS
    found = rows(solved(pins=[pin, PINS[1]], case=case, strength={"metal_factor": 2.5}), "pin")
    W = math.pi * 6**3 / 32
    assert found.allowable["bending of the pin"] == pytest.approx(1.5 / 2.5 * W * 400 / 1e3)


# bolts

BOLTS = [
    {"name": f"b{i}", "at": at, "holds": "xyz" if i == 0 else "z", "pad": "30 mm", "diameter": 0.008}
    for i, at in enumerate(CORNERS)
]
GUIDE = [{"name": "guide", "at": (0.5, 0.0), "holds": "y"}]
VENEERS = {"kind": "layup", "name": "9 veneers", "veneers": {"count": 9}}


@pytest.mark.parametrize(("board", "thickness"), [("4", 0.0036), ("6.5", 0.0064), ("9", 0.0092)])
def test_thin_boards_hold_no_head(board: str, thickness: float) -> None:
    """Screw approvals, from memory: at most 0.4 kN of pull-through in panels under 12 mm, by k_mod / gamma_M."""
    sheet = {"material": f"birch plywood {board} mm", "thickness": thickness}
    found = rows(solved(sheet=sheet, struts=[], bolts=BOLTS, pins=GUIDE), "b1")
    head = found.loc["pull-through of the head"]
    assert head.allowable == pytest.approx(400.0 * JOINT)
    assert head.ratio == pytest.approx(4000 * 0.36 / 4 / (400.0 * JOINT), rel=1e-2)
    assert "at most 0.4 kN" in head.note


def test_a_board_of_veneers_holds_its_fixings_as_the_handbook_says() -> None:
    """Nine veneers of 1.4 mm are the handbook's 12 mm board: its strengths follow within the last printed digit."""
    screws = {"kind": "screws", "diameter": 0.005, "pitch": 0.05, "slip_modulus": 1e6}
    rib = {"name": "r", "points": [(0.3, -0.2), (0.3, 0.2)], "material": ALLOY, "joint": screws,
           "section": {"shape": "angle", "foot": 0.03, "upright": 0.03, "wall": 0.003}}  # fmt: skip
    about = {"struts": [], "bolts": BOLTS, "pins": GUIDE, "ribs": [rib]}
    tables = [
        solved(sheet={"material": material, "thickness": 0.012}, **about).utilisation.set_index(
            ["part", "mode"]
        )
        for material in ("birch plywood 12 mm", VENEERS)
    ]
    for part in ("b0", "joint of r"):
        book, plies = (table.loc[part] for table in tables)
        assert sorted(book.index) == sorted(plies.index)
        assert plies.ratio.notna().all()
        for mode in book.index:
            assert plies.allowable[mode] == pytest.approx(book.allowable[mode], rel=4e-3), mode
            if "distance" not in mode:  # which edge is a loaded one jumps with the direction of the force
                assert plies.ratio[mode] == pytest.approx(book.ratio[mode], rel=6e-2), mode


def test_a_sandwich_hands_its_bolts_to_its_inserts() -> None:
    sheet = {"material": "carbon/foam panel 11 mm", "thickness": 0.011}
    found = rows(solved(sheet=sheet, struts=[], bolts=BOLTS, pins=GUIDE), "b0")
    assert found.ratio.isna().all()
    assert found.note.str.contains("its inserts carry the fixings").all()


# rear pockets: the overlap


def cantilever(**more: Any) -> Any:
    """An aluminium strip on two lines; its left end lies in a pocket with so much play that it never touches."""
    L, b = 0.62, 0.06
    line = {"shape": "rectangle", "length": 0.004, "width": 0.8 * b}
    corners = [(0.0, -b / 2), (L, -b / 2), (L, b / 2), (0.0, b / 2)]
    return sf.Splitter.model_validate({
        "name": "strip",
        "panel": {"outline": {"start": corners[0], "edges": [{"to": c} for c in corners[1:]]},
                  "sheet": {"material": "6061-T6 sheet", "thickness": 0.004}},
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.012},
        "cases": [{"name": "load", "gravity": False, "pressure": {"kind": "uniform", "pressure": 1500.0}}],
        "bolts": [
            {"name": "free", "at": (0.01, 0.0), "holds": "yz", "pad": line},
            {"name": "fixed", "at": (L - 0.01, 0.0), "holds": "xyz", "pad": line},
            {"name": "no roll", "at": (0.01, 0.018), "holds": "z", "pad": "4 mm"},
        ],
        "pockets": [{"name": "pocket", "mouth": (0.04, 0.0), "width": 0.05, "overlap": 0.04,
                     "clearance_up": 0.1, "clearance_down": 0.1}],
    } | more)  # fmt: skip


def test_slope_of_a_bowed_strip() -> None:
    """Half of the integral of w'^2 of a simply supported strip under even load, (17 / 70) (p / 24 D)^2 L^7
    (Timoshenko, Strength of Materials, part I; the strip is narrow, so that D is E t^3 / 12).
    """
    span, stiffness = 0.6, 68.9e9 * 0.004**3 / 12
    exact = 17 / 70 * (1500.0 / (24 * stiffness)) ** 2 * span**7
    solution = sf.solve(cantilever(), "load")
    row = rows(solution, "pocket").loc["overlap"]
    assert row.demand == pytest.approx(25.0 + 1e3 * exact, abs=0.04e3 * exact)
    assert (row.allowable, row.unit) == (pytest.approx(40.0), "mm")
    assert row.ratio == pytest.approx(row.demand / 40.0)
    assert row.note.startswith(f"needs 25 mm plus slope {1e3 * exact:.1f} mm")
    assert "latch" not in row.note


def test_load_factor_multiplies_the_motion() -> None:
    """Twice the motion makes four times the shortening."""
    once, twice = (
        rows(sf.solve(cantilever().with_("strength.load_factor", k), "load"), "pocket").demand["overlap"]
        - 25.0
        for k in (1.0, 2.0)
    )
    assert twice == pytest.approx(4 * once, rel=1e-6)


def test_a_panel_that_only_struts_hold() -> None:
    """Slide of the solved case and what the arc adds to its tangent: the foot stays on the circle round the head."""
    feet = {(0.1, -0.2): 0.1, (0.1, 0.2): 0.1, (0.5, -0.2): 0.1, (0.5, 0.2): 0.15, (0.3, 0.0): -0.2}
    struts = [
        {"name": f"s{i}", "foot": (x, y), "head": (x + lean, y + 0.25 * y, 0.3), "diameter": 0.004,
         "pad": "40 mm", "end_stiffness": 2e5}
        for i, ((x, y), lean) in enumerate(feet.items())
    ]  # fmt: skip
    pocket = {"name": "pocket", "mouth": (0.04, 0.0), "width": 0.1, "overlap": 0.04, "clearance_up": 0.1,
              "clearance_down": 0.1}  # fmt: skip
    pins = [{"name": f"p{x}", "at": (x, 0.0), "holds": "y"} for x in (0.2, 0.4)]
    solution = solved(struts=struts, pins=pins, pockets=[pocket])
    row = rows(solution, "pocket").loc["overlap"]
    arcs = []
    for (x, y), run in feet.items():
        rise, drop = 0.3, float(solution.sag_at(x, y))
        reach = math.copysign(math.sqrt(run**2 + rise**2 - (rise + drop) ** 2), run)
        arcs.append(run - reach - drop * rise / run)
    edge = np.vstack([np.full(21, 0.02), np.linspace(-0.05, 0.05, 21)])
    slide = float(displacements_at(solution.model, solution.response.x, edge)[:, 0].max())
    xs = np.linspace(0.0, 0.5, 401)
    w = -solution.sag_at(xs, 0.0)
    slope = float(np.sum(np.diff(w) ** 2 / np.diff(xs)) / 2)
    total = 25.0 + 1e3 * (max(slide, 0.0) + slope + max(*arcs, 0.0))
    assert max(arcs) > 1e-4
    assert row.demand == pytest.approx(total, abs=0.02)
    assert "no pin or bolt keeps it from sliding out" in row.note


def test_every_pocket_has_its_overlap_judged(demo_solution: Any) -> None:
    found = demo_solution.utilisation
    overlap = found[found["mode"] == "overlap"]
    assert sorted(overlap.part) == ["pocket left", "pocket right"]
    assert (overlap.demand >= 25.0).all()
