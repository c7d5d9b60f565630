"""Every mode of the utilisation table by hand: what acts from the tables of forces, what is carried from the formula.

Three small panels (plywood, aluminium, sandwich) hold every kind of part. Strengths are those of the catalogue:
birch plywood 12 mm of the Handbook of Finnish Plywood [M], 6061-T6 sheet 240/290 MPa (ASTM B209 [M]), 6061-T6
extrusion 241/262 MPa (ASTM B221), mild steel S235 (EN 10025-2 [M]); [M] marks what is from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest

import splitterfem as sf
from splitterfem.analysis.jointforces import joint_forces

WOOD = 0.70 / 1.2  # k_mod over gamma_M of plywood, service class 3, short: EN 1995-1-1 tables 3.1 and 2.3
JOINT = 0.70 / 1.3  # the same of a connection
AREA_M8, AREA_M6 = 36.6, 20.1  # mm2, tensile stress areas of ISO 898-1 [M]
ALLOY = "6061-T6 extrusion"

GLUE = {"kind": "adhesive", "thickness": 0.001, "shear_modulus": 200e6, "strength": 15e6}
CLEVIS = {
    "diameter": 0.006, "shear_strength": 300e6, "yield_strength": 400e6, "lug_thickness": 0.006,
    "clevis_thickness": 0.003, "gap": 0.001, "hole": 0.0062, "lug_width": 0.02, "lug_end": 0.012,
    "lug_material": ALLOY, "clevis_width": 0.022, "clevis_end": 0.013, "clevis_material": "mild steel",
}  # fmt: skip
TUBE = {"shape": "tube", "width": 0.025, "height": 0.02, "wall": 0.002}
ANGLE = {"shape": "angle", "foot": 0.03, "upright": 0.03, "wall": 0.002}


def rib(name: str, x: float, joint: dict[str, Any], section: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": name,
        "points": [(x, -0.36), (x, 0.36)],
        "section": section,
        "material": ALLOY,
        "joint": joint,
    }


def panel(sheet: dict[str, Any], *, forces: list[dict[str, Any]], **parts: Any) -> dict[str, Any]:
    corners = [(0.0, -0.5), (0.8, -0.5), (0.8, 0.5), (0.0, 0.5)]
    outline = {"start": corners[0], "edges": [{"to": corner} for corner in corners[1:]]}
    pressure = {"kind": "uniform", "pressure": 2500.0}
    return {
        "name": "invented",
        "panel": {"outline": outline, "sheet": sheet},
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.05},
        "cases": [{"name": "load", "gravity": False, "pressure": pressure, "forces": forces}],
        **parts,
    }


def push(x: float, y: float, *force: float) -> dict[str, Any]:
    return {"kind": "point", "at": (x, y), "force": force, "pad": "60 mm"}


def strut(name: str, x: float, y: float, **more: Any) -> dict[str, Any]:
    return {"name": name, "foot": (x, y), "head": (x - 0.05, y, 0.3), "pad": "40 mm"} | more


def plywood() -> dict[str, Any]:
    screws = {"kind": "screws", "diameter": 0.005, "pitch": 0.06}
    tube = {"form": "tube", "diameter": 0.012, "wall": 0.0015, "material": ALLOY}
    return panel(
        {"material": "birch plywood 12 mm", "thickness": 0.012},
        forces=[push(0.25, 0.45, 0, 0, 900.0), push(0.25, -0.45, 0, 0, 900.0), push(0.6, 0.2, 700.0, 500.0, 0)],
        struts=[
            strut("rod", 0.72, 0.42, diameter=0.008, thread="M8", strength_class="8.8", end_rating=6e3),
            strut("tube", 0.72, -0.42, **tube),
            strut("cable", 0.72, 0.0, form="cable", area=4e-6, modulus=60e9, end_rating=5e3),
            strut("prop", 0.25, 0.45, diameter=0.006),
            strut("stub", 0.25, -0.45, **tube, bracket_height=0.15),
        ],
        bolts=[
            {"name": "bolt", "at": (0.03, -0.3), "holds": "xyz", "pad": "24 mm", "diameter": 0.008,
             "strength_class": "8.8"},
        ],
        pins=[
            {"name": "clevis", "at": (0.15, 0.15), "holds": "xy", **CLEVIS},
            {"name": "quick", "at": (0.15, -0.15), "holds": "xy", "rating": 4e3},
            {"name": "bare", "at": (0.15, 0.0), "holds": "x", "diameter": 0.008, "shear_strength": 300e6},
        ],
        pockets=[
            {"name": "pocket", "mouth": (0.05, 0.3), "width": 0.12, "overlap": 0.05, "lip_thickness": 0.003,
             "lip_material": ALLOY},
        ],
        ribs=[
            rib("glued", 0.35, GLUE | {"tensile_strength": 8e6}, TUBE),
            rib("screwed", 0.45, screws, ANGLE),
            rib("riveted", 0.54, {"kind": "rivets", "diameter": 0.004, "pitch": 0.05, "slip_modulus": 1e6}, TUBE),
            rib("bolted", 0.64, {"kind": "bolts", "diameter": 0.006, "pitch": 0.08, "rows": 1},
                {"shape": "channel", "web": 0.03, "flange": 0.015, "wall": 0.002, "foot": "web"}),
        ],
        doublers=[
            {"name": "patch", "rectangle": {"x": (0.2, 0.3), "y": (-0.1, 0.1)}, "side": "below",
             "sheet": {"material": "birch plywood 6.5 mm", "thickness": 0.0064}},
        ],
    )  # fmt: skip


def aluminium() -> dict[str, Any]:
    rivets = {"kind": "rivets", "diameter": 0.004, "pitch": 0.05, "slip_modulus": 2e6}
    return panel(
        {"material": "6061-T6 sheet", "thickness": 0.004},
        forces=[push(0.6, 0.2, 900.0, 600.0, 0)],
        struts=[strut(f"s{i}", 0.72, y, diameter=0.008) for i, y in enumerate((-0.42, 0.42))],
        bolts=[
            {"name": "near", "at": (0.007, -0.3), "holds": "xyz", "pad": "13 mm", "diameter": 0.006,
             "strength_class": "8.8"},
            {"name": "far", "at": (0.1, 0.3), "holds": "z", "pad": "20 mm", "diameter": 0.006},
        ],
        pins=[{"name": "bare", "at": (0.15, 0.0), "holds": "xy", "diameter": 0.008, "shear_strength": 300e6}],
        ribs=[
            rib("glued", 0.35, GLUE | {"tensile_strength": 8e6}, TUBE),
            rib("open", 0.45, GLUE, ANGLE),
            rib("riveted", 0.54, rivets, TUBE),
        ],
    )  # fmt: skip


def sandwich() -> dict[str, Any]:
    return panel(
        {"material": "carbon/foam panel 11 mm", "thickness": 0.011},
        forces=[],
        struts=[strut(f"s{i}", 0.72, y, diameter=0.008) for i, y in enumerate((-0.42, 0.42))],
        bolts=[
            {"name": f"b{i}", "at": (0.05, y), "holds": "xyz", "diameter": 0.006}
            for i, y in enumerate((-0.4, 0.4))
        ],
    )


DESIGNS = {"ply": plywood, "metal": aluminium, "sandwich": sandwich}


@cache
def solved(name: str) -> Any:
    return sf.solve(sf.Splitter.model_validate(DESIGNS[name]()), "load")


Demand = Callable[[Any], float]


def axial(name: str) -> Demand:
    return lambda s: abs(float(s.supports.set_index("support").axial_N[name]))


def in_plane(name: str) -> Demand:
    return lambda s: float(
        np.hypot(*s.supports.set_index("support").loc[name, ["fx_N", "fy_N"]].astype(float))
    )


def upward(name: str) -> Demand:
    return lambda s: abs(float(s.supports.set_index("support").fz_N[name]))


def whole(name: str) -> Demand:
    return lambda s: math.hypot(in_plane(name)(s), upward(name)(s))


def of_joint(name: str, column: str) -> Demand:
    return lambda s: float(s.joints.set_index("rib")[column][name])


def times(demand: Demand, factor: float) -> Demand:
    return lambda s: factor * demand(s)


def of_lips(s: Any) -> pd.DataFrame:
    """Contacts of rear pockets; those of a cable are in the table too."""
    return s.contacts[s.contacts.kind == "rear pocket"]


def line_load(s: Any) -> float:
    """N/mm of the most loaded of the six stretches, 20 mm each."""
    return float(of_lips(s).fz_N.abs().max()) / 20.0


def lip_moment(s: Any) -> float:
    """Moment about the bend over the overlap and the stretch, N/mm; an upper lip pushes down."""
    c = of_lips(s)
    arm = c.x_mm / 50.0
    sums = [(c.fz_N.abs() * arm)[side * c.fz_N > 0].groupby(c.y_mm).sum().max() for side in (-1.0, 1.0)]
    return float(np.nanmax(sums)) / 20.0


def peel(s: Any, name: str = "glued") -> float:
    """Roberts 1989, 2 tau e (k / 4 E I)^(1/4) in MPa, layer modulus 6 G; of a pushed end 6.7 % (trough of exp cos)."""
    rib = next(one for one in s.model.ribs if one.name == name)
    flow = joint_forces(s.model, rib, s.response).flow
    b, h, t = 25.0, 20.0, 2.0
    I = (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12  # noqa: E741
    k = 6 * 200.0 * b / 1.0
    ends = [2 * q / 1e3 / b * (h / 2) * (k / (4 * 68.9e3 * I)) ** 0.25 for q in (flow[0], -flow[-1])]
    return max(e if e > 0 else -e * math.exp(-0.75 * math.pi) * math.cos(0.25 * math.pi) for e in ends)


def squared(s: Any) -> float:
    """EN 1993-1-8 table 3.10, shear and bending: both ratios squared."""
    F = in_plane("clevis")(s)
    return (F / (2 * math.pi / 4 * 36 * 300 / 1.25)) ** 2 + (F / 8 * 16 / BENDING) ** 2


def interaction(s: Any) -> float:
    """EN 1993-1-8 table 3.4: F_v / F_v,Rd + F_t / 1.4 F_t,Rd."""
    return in_plane("bolt")(s) / (0.6 * 800 * AREA_M8 / 1.25) + upward("bolt")(s) / (
        1.4 * 0.9 * 800 * AREA_M8 / 1.25
    )


def one_hinge(f_h: float, t: float, d: float, plate: float) -> float:
    """EN 1995-1-1 8.2.3: 400 MPa steel, between a thin and a thick plate, no rope effect, N."""
    M = 0.3 * 400 * d**2.6
    thin = min(0.4 * f_h * t * d, 1.15 * math.sqrt(2 * M * f_h * d))
    bent = f_h * t * d * (math.sqrt(2 + 4 * M / (f_h * d * t**2)) - 1)
    thick = min(f_h * t * d, bent, 2.3 * math.sqrt(M * f_h * d))
    share = min(1.0, max(0.0, 2 * plate / d - 1))
    return (1 - share) * thin + share * thick


def f_h(d: float) -> float:
    """EN 1995-1-1 8.36 with 630 kg/m3, MPa."""
    return 0.11 * (1 - 0.01 * d) * 630


def euler(s: Any) -> float:
    """Rod of 6 mm, 300 mm high and 50 mm back, E 210 GPa: pi^2 E I / L^2 over 1.5."""
    return math.pi**2 * 210e3 * math.pi * 6**4 / 64 / (300**2 + 50**2) / 1.5


def johnson(s: Any) -> float:
    """Tube 12 x 1.5 mm, 150 mm high and 50 mm back, 68.9 GPa and 241 MPa: Johnson's parabola over 1.5."""
    A, r = math.pi / 4 * (12**2 - 9**2), math.sqrt((12**2 + 9**2) / 16)
    slender = math.sqrt(150**2 + 50**2) / r
    return A * 241 * (1 - 241 * slender**2 / (4 * math.pi**2 * 68.9e3)) / 1.5


BENDING = 0.8 * math.pi * 6**3 / 32 * 400  # N mm: 0.8 W f_y governs over 1.5 W f_y / 1.5
RING = math.pi / 4 * (12**2 - 9**2)
WASHER = 3 * 8 * math.pi / 4 * (24**2 - 8**2)
PLY, METAL = "ply", "metal"

# design, part, mode, what acts, what is carried; N, MPa, N/mm, N m, mm or -
ROWS: list[tuple[str, str, str, Demand | float, Demand | float]] = [
    # EN 1993-1-1 6.2.3 [M] over 1.5; EN 1993-1-8 table 3.4 [M]; ratings over 1.5
    (PLY, "rod", "tension, yield of the bar", axial("rod"), math.pi / 4 * 64 * 235 / 1.5),
    (PLY, "rod", "tension of the thread", axial("rod"), 0.9 * 800 * AREA_M8 / 1.25),
    (PLY, "rod", "end fitting", axial("rod"), 6000 / 1.5),
    (PLY, "tube", "tension, yield of the bar", axial("tube"), RING * 241 / 1.5),
    (PLY, "cable", "break of the cable", axial("cable"), 5000 / 1.5),
    (PLY, "prop", "buckling (Euler)", axial("prop"), euler),
    (PLY, "stub", "buckling (Johnson)", axial("stub"), johnson),
    # pins: EN 1993-1-8 table 3.10 and figure 3.11
    (PLY, "clevis", "shear of the pin", in_plane("clevis"), 2 * math.pi / 4 * 36 * 300 / 1.25),
    (PLY, "clevis", "bending of the pin", times(in_plane("clevis"), 16 / 8 / 1e3), BENDING / 1e3),
    (PLY, "clevis", "shear and bending", squared, 1.0),
    # a pin that comes out again: 0.6 t d f_y governs over 1.5 t d f_y / 1.5 and over 2 d t F_tu / 1.95 [M]
    (PLY, "clevis", "bearing in the lug", in_plane("clevis"), 0.6 * 6 * 6 * 241),
    (PLY, "clevis", "bearing in the clevis", in_plane("clevis"), 0.6 * 6 * 6 * 235),
    # Aluminum Design Manual [M]: (w - d) t F_tu and 2 (e - d/2) t 0.6 F_tu over 1.95
    (PLY, "clevis", "net tension of the lug", in_plane("clevis"), (20 - 6.2) * 6 * 262 / 1.95),
    (PLY, "clevis", "tear-out of the lug", in_plane("clevis"), 2 * (12 - 3.1) * 6 * 0.6 * 262 / 1.95),
    (PLY, "clevis", "net tension of the clevis", in_plane("clevis"), (22 - 6.2) * 6 * 360 / 1.95),
    (PLY, "clevis", "tear-out of the clevis", in_plane("clevis"), 2 * (13 - 3.1) * 6 * 0.6 * 360 / 1.95),
    (PLY, "quick", "rating of the pin", whole("quick"), 4000 / 1.5),
    (PLY, "bare", "shear of the pin", in_plane("bare"), math.pi / 4 * 64 * 300 / 1.25),
    (PLY, "bare", "embedment in the panel", in_plane("bare"), f_h(8) * 12 * 8 * JOINT),
    (PLY, "bare", "distance to the edge", 4 * 8, 150),  # EN 1995-1-1 table 8.4: (2 + 2 sin a) d, pushed rearward
    # bolts: EN 1995-1-1 8.5.2, 8.40 with 8 MPa [M], ring of planar shear, plug (common practice, no source)
    (PLY, "bolt", "bearing under the washer", upward("bolt"), WASHER * JOINT),
    (PLY, "bolt", "pull-through of the head", upward("bolt"), 8 * 24**2 * JOINT),
    (PLY, "bolt", "planar shear around", upward("bolt"), math.pi * 24 * 12 * 2.22 / 1.5 * WOOD),
    (PLY, "bolt", "punching", upward("bolt"), math.pi * 24 * 12 * 9.5 * WOOD),
    (PLY, "bolt", "embedment in the panel", in_plane("bolt"), f_h(8) * 12 * 8 * JOINT),
    (PLY, "bolt", "shear of the bolt", in_plane("bolt"), 0.6 * 800 * AREA_M8 / 1.25),
    (PLY, "bolt", "tension of the thread", upward("bolt"), 0.9 * 800 * AREA_M8 / 1.25),
    (PLY, "bolt", "shear and tension", interaction, 1.0),
    # pocket: f_c90 8 MPa (indicative) over a quarter of the overlap; cantilever strip 3 mm thick
    (PLY, "pocket", "bearing of the panel", line_load, 8 * 12.5 * WOOD),
    (PLY, "pocket", "bending of the lip", lip_moment, 241 / 1.5 * 3**2 / 6 / 50),
    # joints: 1 MPa in veneer (indicative) over 3; EN 1995-1-1 8.2.3; 2 d t F_tu / 3 [M]; ISO 15977 [M] over 3
    (PLY, "joint of glued", "shear of the bond", of_joint("glued", "shear_MPa"), 1 / 3),
    (PLY, "joint of glued", "peel at the end", peel, 1 / 3),
    (PLY, "joint of screwed", "shear of the screw in wood", of_joint("screwed", "fastener_N"),
     one_hinge(f_h(5), 12, 5, 2) * JOINT),
    (PLY, "joint of screwed", "bearing in the rib", of_joint("screwed", "fastener_N"), 2 * 5 * 2 * 262 / 3),
    (PLY, "joint of bolted", "shear of the bolt in wood", of_joint("bolted", "fastener_N"),
     one_hinge(f_h(6), 12, 6, 2) * JOINT),
    (PLY, "joint of riveted", "embedment in the panel", of_joint("riveted", "fastener_N"),
     f_h(4) * 12 * 4 * JOINT),
    (PLY, "joint of riveted", "shear of the rivet", of_joint("riveted", "fastener_N"), 850 / 3),
    # EN 1995-1-1 8.3.1.3: towards the edge beyond the rib's end (3 + 4) d; 140 mm from it, half a pitch in
    (PLY, "joint of screwed", "distance to the edge", 7 * 5, 140 + 30),
    (PLY, "joint of bolted", "distance to the edge", 4 * 6, 140 + 40),  # table 8.4, (2 + 2 sin a) d
    # aluminium sheet: EN 1993-1-8 table 3.4 [M], Aluminum Design Manual [M]: e t F_tu / 3, edge 1.5 d
    (METAL, "far", "bolt head through the sheet", upward("far"), 0.6 * math.pi * 20 * 4 * 290 / 1.25),
    (METAL, "near", "bearing in the metal", in_plane("near"), 7 * 4 * 290 / 3),
    (METAL, "near", "distance to the edge", 1.5 * 6, 7),
    (METAL, "near", "shear of the bolt", in_plane("near"), 0.6 * 800 * AREA_M6 / 1.25),
    (METAL, "bare", "bearing in the metal", in_plane("bare"), 2 * 8 * 4 * 290 / 3),
    (METAL, "joint of riveted", "bearing in the panel", of_joint("riveted", "fastener_N"), 2 * 4 * 4 * 290 / 3),
    (METAL, "joint of glued", "shear of the bond", of_joint("glued", "shear_MPa"), 15 / 3),
    (METAL, "joint of glued", "peel at the end", peel, 8 / 3),
]  # fmt: skip


@pytest.mark.parametrize(("design", "part", "mode", "demand", "allowable"), ROWS)
def test_row_by_hand(
    design: str, part: str, mode: str, demand: Demand | float, allowable: Demand | float
) -> None:
    solution = solved(design)
    table = solution.utilisation
    found = table[(table.part == part) & table["mode"].str.startswith(mode)]
    assert len(found) == 1, table[table.part == part][["mode", "ratio"]]
    row = found.iloc[0]
    acting, carried = (v(solution) if callable(v) else v for v in (demand, allowable))
    assert acting > 0
    assert row.demand == pytest.approx(acting, rel=1e-6)
    assert row.allowable == pytest.approx(carried, rel=1e-6)
    assert row.ratio == pytest.approx(acting / carried, rel=1e-6)
    assert row.source
    assert row.basis in ("published", "user", "memory", "indicative", "practice")
    assert np.isfinite([row.x_mm, row.y_mm]).all()
