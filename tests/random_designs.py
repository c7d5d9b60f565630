"""Random designs that are right as far as their fields go: outlines, openings, sheets, ribs, supports, loads."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st

TUBE = {"shape": "tube", "width": "25 mm", "height": "25 mm", "wall": "2 mm"}

SECTIONS = [
    TUBE,
    {"shape": "round tube", "diameter": "25 mm", "wall": "2 mm"},
    {"shape": "flat", "width": "30 mm", "height": "6 mm"},
    {"shape": "angle", "foot": "25 mm", "upright": "25 mm", "wall": "3 mm"},
    {"shape": "tee", "foot": "30 mm", "upright": "25 mm", "wall": "3 mm"},
    {"shape": "channel", "web": "30 mm", "flange": "20 mm", "wall": "3 mm"},
    {"shape": "hat", "width": "20 mm", "height": "20 mm", "flange": "15 mm", "wall": "2 mm"},
    {
        "shape": "polygon",
        "points": [["-12 mm", "0 mm"], ["12 mm", "0 mm"], ["8 mm", "20 mm"], ["-8 mm", "20 mm"]],
    },
]
"""One of every shape."""

JOINTS: list[dict[str, Any] | None] = [
    None,
    {"kind": "bond"},
    {"kind": "adhesive", "thickness": "0.5 mm", "shear_modulus": "300 MPa"},
    {"kind": "screws", "diameter": "5 mm", "pitch": "60 mm"},
    {"kind": "bolts", "diameter": "6 mm", "pitch": "100 mm"},
]

SKIN = {"kind": "isotropic", "name": "skin", "E1": "60 GPa", "nu12": 0.3, "density": "1600 kg/m^3"}
CORE = {"kind": "isotropic", "name": "core", "E1": "60 MPa", "nu12": 0.3, "density": "80 kg/m^3"}

millimetres = st.integers


def _mm(value: float) -> str:
    return f"{value:.1f} mm"


def _point(x: float, y: float) -> list[str]:
    return [_mm(x), _mm(y)]


@st.composite
def sheets(draw: st.DrawFn) -> dict[str, Any]:
    """Catalogue sheets, thin and thick sheets of one's own, sandwiches."""
    kind = draw(st.sampled_from(["wood", "metal", "panel", "own", "layup"]))
    angle = f"{draw(st.integers(0, 175))} deg"
    if kind == "layup":
        skin, core = draw(st.integers(5, 30)) / 10, draw(st.integers(3, 20))
        skins = {"material": SKIN, "thickness": _mm(skin)}
        plies = [skins, {"material": CORE, "thickness": _mm(core)}, skins]
        return {
            "material": {"kind": "layup", "name": "sandwich", "plies": plies},
            "thickness": _mm(2.0 * skin + core),
            "grain_angle": angle,
        }
    if kind == "own":
        own = {
            "kind": "orthotropic",
            "name": "own",
            "E1": f"{draw(st.integers(1, 70))} GPa",
            "E2": f"{draw(st.integers(1, 20))} GPa",
            "nu12": 0.2,
            "G12": f"{draw(st.integers(1, 30)) / 10} GPa",
            "G13": f"{draw(st.integers(1, 1000))} MPa",
            "G23": f"{draw(st.integers(1, 1000))} MPa",
            "density": "700 kg/m^3",
        }
        return {"material": own, "thickness": _mm(draw(st.integers(10, 300)) / 10), "grain_angle": angle}
    name, thickness = {
        "wood": ("birch plywood 12 mm", "12 mm"),
        "metal": ("6061-T6 sheet", _mm(draw(st.integers(10, 80)) / 10)),
        "panel": ("carbon/foam panel 11 mm", "11 mm"),
    }[kind]
    return {"material": name, "thickness": thickness, "grain_angle": angle}


@st.composite
def outlines(draw: st.DrawFn, length: int, half: int) -> dict[str, Any]:
    """A rectangle with its front corners cut, rounded, bowed out or notched in, both halves alike."""
    shape = draw(st.sampled_from(["plain", "round", "cut", "bowed", "notched", "arrow"]))
    front, rear = length, 0
    edges: list[dict[str, Any]]
    if shape == "cut":
        edges = [
            {"to": _point(front, half - 100)},
            {"to": _point(front - 100, half)},
            {"to": _point(rear, half)},
        ]
    elif shape == "bowed":
        edges = [
            {"to": _point(front - 80, half), "through": [_point(front - 20, 0.6 * half)]},
            {"to": _point(rear, half)},
        ]
    elif shape == "notched":  # a re-entrant corner at the rear, as beside a wheel
        edges = [
            {"to": _point(front, half)},
            {"to": _point(150, half)},
            {"to": _point(150, half - 90)},
            {"to": _point(rear, half - 90)},
        ]
    elif shape == "arrow":  # not convex at the middle of the lip
        edges = [{"to": _point(front + 60, half)}, {"to": _point(rear, half)}]
    else:
        edges = [{"to": _point(front, half)}, {"to": _point(rear, half)}]
        if shape == "round":
            edges[0]["round"] = "40 mm"
    return {"start": _point(front, 0), "mirror": True, "edges": [*edges, {"to": _point(rear, 0)}]}


def _rib(draw: st.DrawFn, name: str, length: int, half: int) -> dict[str, Any]:
    x = draw(millimetres(60, length - 60))
    y = draw(millimetres(0, half - 60))
    turn = math.radians(draw(st.integers(0, 179)))
    reach = draw(millimetres(40, 160))
    dx, dy = reach * math.cos(turn), reach * math.sin(turn)
    rib = {
        "name": name,
        "points": [_point(x - dx, y - dy), _point(x + dx, y + dy)],
        "section": draw(st.sampled_from(SECTIONS)),
        "material": draw(st.sampled_from(["6061-T6 extrusion", "mild steel"])),
        "side": draw(st.sampled_from(["above", "below"])),
    }
    joint = draw(st.sampled_from(JOINTS))
    if joint is not None:
        rib["joint"] = joint
    return rib


def _supports(draw: st.DrawFn, length: int, half: int) -> dict[str, Any]:
    """Struts ahead and something at the rear, most of which hold the panel; some do not."""
    fx, fy = draw(millimetres(length - 160, length - 40)), draw(millimetres(60, half - 60))
    strut = {
        "name": "strut",
        "foot": _point(fx, fy),
        "head": [*_point(fx - 40, fy), "250 mm"],
        "mirror": True,
    }
    size = draw(
        st.sampled_from([{"diameter": "8 mm"}, {"form": "cable", "diameter": "3 mm", "modulus": "100 GPa"}])
    )
    by = draw(millimetres(40, half - 120))
    kind = draw(st.sampled_from(["bolts", "pockets", "pins", "nothing"]))
    found: dict[str, Any] = {"struts": [strut | size]}
    if kind == "bolts":
        holds = draw(st.sampled_from(["xyz", "z", "xy"]))
        found["bolts"] = [{"name": "bolt", "at": _point(40, by), "holds": holds, "mirror": True}]
    if kind in ("pockets", "pins"):
        found["pins"] = [
            {"name": "pin", "at": _point(60, 0)},
            {"name": "other", "at": _point(60, -by), "slot": "90 deg"},
        ]
    if kind == "pockets":
        play = _mm(draw(st.integers(0, 5)) / 10)
        found["pockets"] = [
            {"name": "pocket", "mouth": _point(30, by), "width": "60 mm", "overlap": "30 mm", "mirror": True,
             "clearance_up": play, "clearance_down": play},
        ]  # fmt: skip
    if draw(st.booleans()):
        found["stops"] = [{"name": "stop", "at": _point(length / 2, 0), "pad": "30 mm", "gap_up": "1 mm"}]
    return found


@st.composite
def designs(draw: st.DrawFn) -> dict[str, Any]:
    """Fields of a splitter on a coarse mesh, with one load case of its own weight, air and a push."""
    length, half = draw(millimetres(300, 700)), draw(millimetres(250, 800))
    panel: dict[str, Any] = {"outline": draw(outlines(length, half)), "sheet": draw(sheets())}
    if draw(st.booleans()):
        radius = draw(millimetres(20, 70))
        at = _point(draw(millimetres(90, length - 140)), draw(millimetres(0, half - 60)))
        panel["cutouts"] = [{"name": "opening", "circle": {"centre": at, "radius": _mm(radius)}}]
    ribs = [_rib(draw, f"rib {i}", length, half) for i in range(draw(st.integers(0, 2)))]
    push = {
        "kind": "point",
        "at": _point(draw(millimetres(40, length)), draw(millimetres(80 - half, half - 80))),
        "force": [f"{draw(st.integers(-300, 300))} N" for _ in range(3)],
        "pad": "40 mm",
    }
    air = {"kind": "uniform", "cp": draw(st.integers(-10, 10)) / 10}
    case = {"name": "case", "speed": f"{draw(st.integers(1, 250))} km/h", "pressure": air, "forces": [push]}
    mesh = {"size": _mm(min(length, half) / 2.5), "chord": "3 mm"}
    return {
        "name": "random",
        "panel": panel,
        "ribs": ribs,
        "car": {"ride_height": "80 mm"},
        "mesh": mesh,
        "cases": [case],
        **_supports(draw, length, half),
    }
