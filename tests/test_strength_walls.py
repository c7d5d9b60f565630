"""Buckling of compressed walls: tables of EN 1993-1-5, rules of EN 1999-1-1, and rows of solved panels by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

import splitterfem as sf
from splitterfem import materials
from splitterfem.errors import DesignError
from splitterfem.strength.section_walls import section_walls
from splitterfem.strength.walls import (
    aluminium_reduction,
    buckling_factor,
    plate_buckling_stress,
    round_wall_strength,
    wall_reduction,
    wall_strength,
)

# EN 1993-1-5 tables 4.1 and 4.2 (compared with public transcriptions of them): printed values of k.
FACTORS = [
    (1.0, "both", "free", 4.0),
    (0.0, "both", "free", 7.81),
    (-1.0, "both", "free", 23.9),
    (-2.0, "both", "free", 5.98 * 9),
    (1.0, "one", "free", 0.43),
    (0.0, "one", "free", 0.57),
    (-1.0, "one", "free", 0.85),
    (1.0, "one", "held", 0.43),
    (0.0, "one", "held", 1.70),
    (-1.0, "one", "held", 23.8),
]


@pytest.mark.parametrize(("ratio", "edges", "peak", "k"), FACTORS)
def test_buckling_factors_of_the_tables(ratio: float, edges: Any, peak: Any, k: float) -> None:
    assert buckling_factor(ratio, edges, peak) == pytest.approx(k, rel=6e-3)


def test_factor_of_pure_bending_against_the_exact_plate() -> None:
    """Timoshenko & Gere, Theory of Elastic Stability, table 9-6: k 23.9 of a plate in its plane in pure bending."""
    stress = plate_buckling_stress(0.1, thickness=1e-3, E=70e9, nu=0.3, factor=buckling_factor(-1.0))
    assert stress == pytest.approx(23.9 * math.pi**2 * 70e9 / (12 * 0.91) * 1e-4, rel=2e-3)


def test_slenderness_from_which_walls_are_reduced() -> None:
    """EN 1993-1-5 4.4: 0.673 in even compression, 0.5 + sqrt(0.085 + 0.055) = 0.874 in bending; continuous there."""
    for ratio, limit in ((1.0, 0.673), (-1.0, 0.874)):
        assert wall_reduction(limit - 1e-3, ratio=ratio) == 1.0
        assert wall_reduction(limit + 1e-3, ratio=ratio) == pytest.approx(1.0, abs=3e-3)
    assert wall_reduction(1.2, ratio=-1.0) == pytest.approx((1.2 - 0.11) / 1.44)


@pytest.mark.parametrize(("edges", "limit"), [("both", 18.0), ("one", 5.0)])
def test_aluminium_walls_up_to_class_3_count_in_full(edges: Any, limit: float) -> None:
    """EN 1999-1-1 tables 6.2 and 6.3, buckling class B [M]: the curve meets 1 at the limit of class 3, f_o 250."""
    below, above = (
        aluminium_reduction(limit * k, thickness=1.0, yield_strength=250e6, edges=edges)
        for k in (1.0, 1.0001)
    )
    assert (below, above) == (1.0, pytest.approx(1.0, abs=1e-4))


@pytest.mark.parametrize(
    ("edges", "width", "least"), [("both", 30.0, 0.9), ("both", 45.0, 0.9), ("one", 12.0, 0.8)]
)
def test_aluminium_walls_lie_a_little_below_the_rule_for_steel(
    edges: Any, width: float, least: float
) -> None:
    """Two standards on the same walls: EN 1999-1-1 is the stricter one, by up to a fifth for outstands."""
    f = 250e6
    critical = plate_buckling_stress(width, thickness=1.0, E=70e9, nu=0.3, edges=edges)
    steel = wall_reduction(math.sqrt(f / critical), edges)
    alloy = aluminium_reduction(width, thickness=1.0, yield_strength=f, edges=edges)
    assert least < alloy / steel < 1.0


def test_gradient_of_aluminium_walls() -> None:
    """EN 1999-1-1 6.1.4.3: 0.40 b / t with the neutral axis in the middle; no relief with the peak at a free toe."""
    about = {"thickness": 1.0, "yield_strength": 250e6}
    bent = aluminium_reduction(60.0, **about, ratio=-1.0)
    assert bent == pytest.approx(aluminium_reduction(24.0, **about))
    toe = aluminium_reduction(10.0, **about, edges="one", ratio=-1.0, peak="free")
    root = aluminium_reduction(10.0, **about, edges="one", ratio=-1.0, peak="held")
    assert toe == pytest.approx(0.9 - 0.2)
    assert root == 1.0


def test_round_tubes() -> None:
    """EN 1993-1-1 table 5.2 [M]: d / t up to 90 (235 / f_y), for aluminium a third of that."""
    about = {"E": 210e9, "yield_strength": 235e6, "factor": 1.5}
    assert round_wall_strength(0.09, thickness=1e-3, **about).value == pytest.approx(235e6 / 1.5)
    with pytest.raises(DesignError, match="d/t 91, and above 90"):
        round_wall_strength(0.091, thickness=1e-3, **about)
    with pytest.raises(DesignError, match="above 29"):
        round_wall_strength(0.03, thickness=1e-3, E=68.9e9, yield_strength=241e6, factor=1.0)


WALLS = [
    ({"shape": "tube", "width": 0.04, "height": 0.03, "wall": 0.002},
     {"far wall": (36, "both", 1, 1), "side wall": (26, "both", 2 / 30, 28 / 30), "foot": (36, "both", 0, 0)}),
    ({"shape": "angle", "foot": 0.03, "upright": 0.04, "wall": 0.002},
     {"upright": (38, "one", 0.05, 1), "foot": (28, "one", 0, 0)}),
    ({"shape": "tee", "foot": 0.03, "upright": 0.04, "wall": 0.002},
     {"upright": (38, "one", 0.05, 1), "foot": (14, "one", 0, 0)}),
    ({"shape": "channel", "web": 0.04, "flange": 0.02, "wall": 0.002, "foot": "web"},
     {"flange": (18, "one", 0.1, 1), "foot": (36, "both", 0, 0)}),
    ({"shape": "channel", "web": 0.04, "flange": 0.02, "wall": 0.002, "foot": "flange"},
     {"web": (36, "both", 0.05, 0.95), "far flange": (18, "one", 1, 1), "foot": (18, "one", 0, 0)}),
    ({"shape": "hat", "width": 0.03, "height": 0.02, "flange": 0.015, "wall": 0.001},
     {"crown": (28, "both", 1, 1), "web": (18, "both", 0.05, 0.95), "foot": (15, "one", 0, 0)}),
    ({"shape": "flat", "width": 0.003, "height": 0.03}, {"upright bar": (30, "one", 0, 1)}),
    ({"shape": "flat", "width": 0.03, "height": 0.003}, {"foot": (15, "one", 0, 0)}),
]  # fmt: skip


@pytest.mark.parametrize(("section", "walls"), WALLS)
def test_walls_of_sections(section: dict[str, Any], walls: dict[str, tuple[float, ...]]) -> None:
    """Flat widths between the faces of the neighbours, mm, and heights of both edges over that of the section."""
    from pydantic import TypeAdapter

    found = section_walls(TypeAdapter(materials.Section).validate_python(section))
    assert {
        wall.name: (
            pytest.approx(1e3 * wall.width),
            wall.edges,
            pytest.approx(wall.low),
            pytest.approx(wall.high),
        )
        for wall in found
    } == walls
    assert [wall.name for wall in found if wall.on_panel] == [name for name in walls if name == "foot"]


# rows of a solved strip: 60 mm wide, 4 mm thick, on two lines, under even pressure

LENGTH, WIDTH, T, P = 0.82, 0.06, 0.004, 1000.0
SUPPORT = 0.01
ALLOY = "6061-T6 extrusion"
THIN = {"shape": "tube", "width": 0.04, "height": 0.02, "wall": 0.0008}


def strip(
    section: dict[str, Any], *, joint: dict[str, Any] | None = None, case: dict[str, Any], **more: Any
) -> Any:
    line = {"shape": "rectangle", "length": 0.004, "width": 0.8 * WIDTH}
    corners = [(0.0, -WIDTH / 2), (LENGTH, -WIDTH / 2), (LENGTH, WIDTH / 2), (0.0, WIDTH / 2)]
    rib = {"name": "r", "points": [(SUPPORT, 0.0), (LENGTH - SUPPORT, 0.0)], "section": section,
           "material": ALLOY, "joint": joint or {"kind": "bond"}} | more  # fmt: skip
    design = {
        "name": "by hand",
        "panel": {
            "outline": {"start": corners[0], "edges": [{"to": c} for c in corners[1:]]},
            "sheet": {"material": "6061-T6 sheet", "thickness": T},
        },
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.012},
        "cases": [{"name": "load", "gravity": False} | case],
        "bolts": [
            {"name": "fixed", "at": (SUPPORT, 0.0), "holds": "xyz", "pad": line},
            {"name": "free", "at": (LENGTH - SUPPORT, 0.0), "holds": "yz", "pad": line},
            {"name": "no roll", "at": (SUPPORT, 0.3 * WIDTH), "holds": "z", "pad": "4 mm"},
        ],
        "ribs": [rib],
    }
    table = sf.solve(sf.Splitter.model_validate(design), "load").utilisation
    return table[(table.part == "r") & (table["mode"] == "buckling of the compressed wall")]


def evenly(p: float) -> dict[str, Any]:
    return {"pressure": {"kind": "uniform", "pressure": p}}


def test_thin_tube_on_a_strip() -> None:
    """Far wall under M / W of the whole section (parallel axes), 38.4 mm wide and 0.8 mm thick: EN 1999-1-1 with
    x = 48 sqrt(241 / 250).
    """
    b, h, t = 0.04, 0.02, 0.0008
    area = b * h - (b - 2 * t) * (h - 2 * t)
    own = (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12
    plate = WIDTH * T
    middle = (area * (T + h / 2) + plate * T / 2) / (area + plate)
    inertia = own + area * (T + h / 2 - middle) ** 2 + WIDTH * T**3 / 12 + plate * (middle - T / 2) ** 2
    span = LENGTH - 2 * SUPPORT
    moment = P * WIDTH * (span**2 / 8 - SUPPORT**2 / 2)
    stress = moment * (T + h - middle) / inertia
    x = 48 * math.sqrt(241 / 250)
    (row,) = strip(THIN, case=evenly(P)).itertuples()
    assert row.demand == pytest.approx(1e-6 * stress, rel=2e-2)
    assert row.allowable == pytest.approx((29 / x - 198 / x**2) * 241 / 1.5)
    assert row.ratio == pytest.approx(row.demand / row.allowable)
    assert row.note.startswith("far wall; b/t 48.0, held along both edges")
    assert row.x_mm == pytest.approx(1e3 * LENGTH / 2, abs=60)


def test_a_pulled_rib_does_not_buckle() -> None:
    """Under suction upward the far side is pulled: only the lower walls near the neutral axis are pushed a little."""
    found = strip(THIN, case=evenly(-P))
    assert not len(found) or not found.note.iloc[0].startswith("far wall")


def test_a_foot_buckles_only_between_fasteners() -> None:
    """Pushed along its length all walls are compressed; the wide foot of an angle is free under screws only."""
    push = [{"kind": "point", "at": (LENGTH - 0.03, 0.0), "force": (-3000.0, 0.0, 0.0), "pad": "30 mm"}]
    angle = {"shape": "angle", "foot": 0.04, "upright": 0.01, "wall": 0.001}
    screws = {"kind": "screws", "diameter": 0.004, "pitch": 0.04, "slip_modulus": 5e6}
    (glued,) = strip(angle, case={"forces": push}).itertuples()
    (fastened,) = strip(angle, joint=screws, case={"forces": push}).itertuples()
    assert glued.note.startswith("upright; b/t 9.0")
    assert fastened.note.startswith("foot; b/t 39.0")
    assert fastened.ratio > glued.ratio


def test_walls_that_are_not_told_apart() -> None:
    drawn = {"shape": "polygon", "points": [(-0.02, 0), (0.02, 0), (0.01, 0.02), (-0.01, 0.02)]}
    (row,) = strip(drawn, case=evenly(P)).itertuples()
    assert math.isnan(row.ratio)
    assert row.demand > 0
    assert "shape 'polygon' are not told apart" in row.note


def test_round_tube_on_a_strip() -> None:
    (row,) = strip({"shape": "round tube", "diameter": 0.02, "wall": 0.001}, case=evenly(P)).itertuples()
    assert row.allowable == pytest.approx(241 / 1.5)
    assert "d/t 20.0" in row.note


def test_a_metal_without_yield_strength() -> None:
    own = {"name": "own", "E": 68.9e9, "nu": 0.33, "density": 2700.0}
    (row,) = strip(THIN, case=evenly(P), material=own).itertuples()
    assert math.isnan(row.ratio)
    assert "'own' has no yield strength" in row.note


def test_steel_walls_follow_the_rule_for_steel() -> None:
    """EN 1993-1-5 with k 4: mild steel 235 MPa, b / t 60: slenderness 60 / (28.4 x 2) = 1.056."""
    found = wall_strength(0.06, thickness=1e-3, E=210e9, nu=0.3, yield_strength=235e6, factor=1.0)
    slender = 60 / (28.4 * 2)
    assert found.value == pytest.approx(235e6 * (slender - 0.22) / slender**2, rel=2e-3)
    assert found.basis == "published"
