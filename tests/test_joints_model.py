"""Ribs on joints that slip, and notched ribs, in whole designs: closed forms of composite beams, EN 1995-1-1."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.model import build
from splitterfem.model.ribs import joint_stiffness

L, B, T, P = 1.0, 0.06, 0.004, 100.0
SPAN = L - 0.02
SIDE, WALL = 0.0254, 0.0032
TUBE = {"shape": "tube", "width": SIDE, "height": SIDE, "wall": WALL}
BAR = "6061-T6 extrusion"


def strip(
    joint: dict[str, Any] | None = None, *, sheet: str = "6061-T6 sheet", thickness: float = T
) -> sf.Splitter:
    """A narrow strip with a tube along it, simply supported, loaded in the middle."""
    pad = {"shape": "rectangle", "length": 0.004, "width": 0.05}
    rib = {"name": "tube", "points": [(0, 0), (L, 0)], "section": TUBE, "material": BAR}
    return sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {
                "outline": {"start": (0, -B / 2), "edges": [{"to": p} for p in ((L, -B / 2), (L, B / 2), (0, B / 2))]},
                "sheet": {"material": sheet, "thickness": thickness},
            },
            "ribs": [rib if joint is None else rib | {"joint": joint}],
            "bolts": [
                {"name": "fixed", "at": (0.01, 0.0), "holds": "xyz", "pad": pad},
                {"name": "free", "at": (L - 0.01, 0.0), "holds": "yz", "pad": pad},
                {"name": "no roll", "at": (0.01, 0.02), "holds": "z", "pad": "4 mm"},
            ],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.02},
            "cases": [
                {"name": "middle", "gravity": False, "forces": [
                    {"kind": "patch", "rectangle": {"x": (L / 2 - 0.01, L / 2 + 0.01), "y": (-0.02, 0.02)},
                     "force": (0, 0, -P)}]},
            ],
        }
    )  # fmt: skip


def adhesive(G: float, thickness: float) -> dict[str, Any]:
    return {"kind": "adhesive", "shear_modulus": G, "thickness": thickness}


def sag(model: Any) -> float:
    return float(sf.solve(model, "middle").max_sag)


@pytest.fixture(scope="module")
def bonded() -> float:
    return sag(build(strip()))


@pytest.fixture(scope="module")
def lost() -> float:
    return sag(build(strip(), unbonded=frozenset({"tube"})))


def stiffness() -> dict[str, float]:
    """Stiffness of strip and tube by hand: without and with full interaction."""
    splitter = strip()
    E, E_rib = float(splitter.panel.sheet.resolved.E1), float(splitter.ribs[0].resolved.E)
    bore = SIDE - 2 * WALL
    EA, EA_rib = E * B * T, E_rib * (SIDE**2 - bore**2)
    apart = E * B * T**3 / 12 + E_rib * (SIDE**4 - bore**4) / 12
    arm = 0.5 * (T + SIDE)
    return {
        "apart": apart,
        "full": apart + arm**2 * EA * EA_rib / (EA + EA_rib),
        "EA": EA,
        "EA_rib": EA_rib,
        "arm": arm,
    }


def test_bonded_and_lost_are_the_two_ends(bonded: float, lost: float) -> None:
    """P l^3/48 E I of the transformed section, and of two beams that only bend together."""
    by_hand = stiffness()
    assert bonded == pytest.approx(P * SPAN**3 / (48 * by_hand["full"]), rel=2e-2)
    assert lost == pytest.approx(P * SPAN**3 / (48 * by_hand["apart"]), rel=2e-2)


def test_a_load_case_can_lose_the_bond(bonded: float, lost: float) -> None:
    """P l^3/48 E I with the sum of both beams' E I once the bond has let go, of the composite section before."""
    splitter, by_hand = strip(), stiffness()
    apart = splitter.case("middle").with_(name="bond lost", unbonded=["tube"])
    both = splitter.with_(cases=[splitter.case("middle"), apart])
    sags = {case.name: sf.solve(both, case.name).max_sag for case in both.cases}
    assert sags["bond lost"] == pytest.approx(P * SPAN**3 / (48 * by_hand["apart"]), rel=2e-2)
    assert sags["middle"] == pytest.approx(P * SPAN**3 / (48 * by_hand["full"]), rel=2e-2)
    assert sags == pytest.approx({"middle": bonded, "bond lost": lost}, rel=1e-9)
    assert sf.solve(both, "bond lost").joints.empty
    assert len(sf.solve(both, "middle").joints) == 1


@pytest.mark.parametrize(("G", "thickness"), [(0.7e6, 3e-3), (10e6, 2e-3), (100e6, 1e-3)])
def test_adhesive_follows_partial_interaction(G: float, thickness: float, bonded: float, lost: float) -> None:
    """Two beams on a joint of stiffness k, simply supported, load in the middle.

    w = P l^3/48 EI + P l/(4 a^2 EI) (EI/EI_0 - 1) (1 - tanh(a l/2)/(a l/2)), with the full and the separate stiffness
    EI and EI_0 and a^2 = k (1/EA_1 + 1/EA_2 + r^2/EI_0): the solution of the differential equation of Newmark, Siess &
    Viest (1951) for this load.
    """
    h = stiffness()
    k = G * SIDE / thickness
    a = np.sqrt(k * (1 / h["EA"] + 1 / h["EA_rib"] + h["arm"] ** 2 / h["apart"]))
    half = 0.5 * a * SPAN
    slip = P * SPAN / (4 * a**2 * h["full"]) * (h["full"] / h["apart"] - 1) * (1 - np.tanh(half) / half)
    found = sag(build(strip(adhesive(G, thickness))))
    assert found == pytest.approx(P * SPAN**3 / (48 * h["full"]) + slip, rel=3e-2)
    assert bonded < found < lost


def test_very_stiff_adhesive_is_a_bond(bonded: float) -> None:
    assert sag(build(strip(adhesive(70e9, 1e-5)))) == pytest.approx(bonded, rel=1e-2)


def test_very_soft_adhesive_is_none(lost: float) -> None:
    assert sag(build(strip(adhesive(1e3, 5e-3)))) == pytest.approx(lost, rel=1e-2)


@pytest.mark.parametrize(("kind", "d", "pitch", "rows"), [("screws", 4.0, 60.0, 1), ("bolts", 6.0, 80.0, 2)])
def test_fasteners_in_plywood_take_the_slip_of_the_standard(
    kind: str, d: float, pitch: float, rows: int
) -> None:
    """K_ser = rho_m^1.5 d/23 N/mm, d in mm, doubled against metal (EN 1995-1-1 table 7.1 and 7.1(3))."""
    joint = {"kind": kind, "diameter": 1e-3 * d, "pitch": 1e-3 * pitch, "rows": rows}
    splitter = strip(joint, sheet="birch plywood 12 mm", thickness=0.012)
    density = splitter.panel.sheet.resolved.density
    K_ser = 2.0 * density**1.5 * d / 23.0 * 1e3
    assert joint_stiffness(splitter.ribs[0], splitter.panel.sheet) == pytest.approx(
        rows * K_ser / (1e-3 * pitch)
    )
    given = splitter.with_("ribs.tube.joint", joint | {"slip_modulus": 3e6})
    assert joint_stiffness(given.ribs[0], given.panel.sheet) == pytest.approx(rows * 3e6 / (1e-3 * pitch))


def test_closer_screws_are_stiffer() -> None:
    def screwed(pitch: float) -> float:
        joint = {"kind": "screws", "diameter": "4 mm", "pitch": pitch}
        return sag(build(strip(joint, sheet="birch plywood 12 mm", thickness=0.012)))

    plywood = strip(sheet="birch plywood 12 mm", thickness=0.012)
    ends = sag(build(plywood)), sag(build(plywood, unbonded=frozenset({"tube"})))
    assert ends[0] < screwed(0.04) < screwed(0.16) < ends[1]


def test_fasteners_in_metal_need_a_slip_modulus() -> None:
    splitter = strip({"kind": "screws", "diameter": "4 mm", "pitch": "60 mm"})
    with pytest.raises(sf.DesignError) as caught:
        build(splitter)
    text = str(caught.value)
    assert text.startswith("Rib tube is fastened by screws to a sheet that is no wood")
    assert text.endswith(".")
    assert text.count(".") == 1
    assert "give slip_modulus" in text


def cross(crossing: str, *, side: str = "above") -> sf.Splitter:
    """A square panel on four bolts, one rib fore and aft and one across."""
    return sf.Splitter.model_validate(
        {
            "name": "cross",
            "panel": {
                "outline": {"start": (0, -0.3), "edges": [{"to": (0.6, -0.3)}, {"to": (0.6, 0.3)}, {"to": (0, 0.3)}]},
                "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
            },
            "ribs": [
                {"name": "long", "points": [(0.1, 0.0), (0.5, 0.0)], "section": TUBE, "material": BAR},
                {"name": "short", "points": [(0.3, -0.2), (0.3, 0.25)], "section": TUBE, "material": BAR,
                 "crossing": crossing, "side": side},
            ],
            "bolts": [{"name": f"b{i}", "at": (x, y)} for i, (x, y) in
                      enumerate((x, y) for x in (0.04, 0.56) for y in (-0.26, 0.26))],
            "car": {"ride_height": 0.08},
            "mesh": {"size": 0.03},
            "cases": [{"name": "air", "speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.8}}],
        }
    )  # fmt: skip


def test_a_notched_rib_is_two_pieces_and_solves() -> None:
    """Each piece ends at the edge of the other rib's foot: 200 - 12.7 and 250 - 12.7 mm."""
    model = build(cross("notched"))
    lengths = {rib.name: rib.length for rib in model.ribs}
    assert lengths == pytest.approx(
        {"long": 0.4, "short, piece 1": 0.2 - SIDE / 2, "short, piece 2": 0.25 - SIDE / 2}, rel=1e-9
    )
    solution = sf.solve(model, "air")
    assert solution.equilibrium < 1e-9
    area = SIDE**2 - (SIDE - 2 * WALL) ** 2
    density = float(model.ribs[0].material.density)
    ribs = sum(solution.mass_properties.ribs.values())
    assert ribs == pytest.approx(density * area * (0.4 + 0.45 - SIDE), rel=1e-9)
    whole = sf.solve(build(cross("through", side="below")), "air")
    lost = sf.solve(build(cross("notched"), unbonded=frozenset({"short"})), "air")
    assert whole.max_sag < solution.max_sag < lost.max_sag


def test_a_hat_that_hardly_slips_comes_to_the_ideal_bond() -> None:
    """Two feet on one slip line; what is left is the shear lag between them."""
    hat = {"shape": "hat", "width": 0.02, "height": 0.02, "flange": 0.012, "wall": 0.002}
    joints = adhesive(3e9, 3e-4), {"kind": "bond"}
    stiff, ideal = (sag(build(strip().with_part("tube", section=hat, joint=joint))) for joint in joints)
    assert stiff == pytest.approx(ideal, rel=0.01)
