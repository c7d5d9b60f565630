"""Distances of fasteners to the edges of the panel, and peel at the ends of glued ribs."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.integrate import solve_bvp

from splitterfem.errors import DesignError
from splitterfem.strength.edges import MODE, edge_check, metal_rule, wood_rule, worst_distance
from splitterfem.strength.peel import CONFINED, FURTHER_IN, bed_length, peel_strength, peel_stress

D = 8e-3
PANEL = shapely.box(0.0, 0.0, 0.6, 0.4).difference(shapely.box(0.2, 0.1, 0.3, 0.3))
RULE = wood_rule("bolt", D)[0]


def distance(at, push, rule=RULE, **more):
    return worst_distance(PANEL, [at], [push], rule=rule, **more)


@pytest.mark.parametrize(
    ("push", "needed", "loaded"),
    [
        ((-500.0, 0.0), 4.0, True),  # straight at the edge x = 0, 30 mm away: 4 d
        ((500.0, 0.0), 3.0, False),  # away from it: 3 d
        ((0.0, 0.0), 3.0, False),
        ((-300.0, 300.0 * math.sqrt(3)), 3.0, True),  # 30 degrees to the edge: (2 + 2 sin 30) d = 3 d
        ((-300.0 * math.sqrt(3), 300.0), 2 + math.sqrt(3), True),  # 60 degrees
    ],
)
def test_a_bolt_by_the_edge(push: tuple[float, float], needed: float, loaded: bool) -> None:
    """EN 1995-1-1 table 8.4: max(2 + 2 sin a, 3) d at a loaded edge, 3 d at any other; a between force and edge."""
    found = distance((0.03, 0.2), push)
    assert (found.needed, found.actual, found.loaded) == (
        pytest.approx(needed * D),
        pytest.approx(0.03),
        loaded,
    )


def test_the_governing_edge_need_not_be_the_nearest() -> None:
    """26 mm from an edge without load (24 needed), 28 mm from one that is pushed (32 needed): table 8.4."""
    found = distance((0.026, 0.028), (100.0, -1e-9))
    assert (found.needed, found.loaded) == (pytest.approx(3 * D), False)
    found = distance((0.026, 0.028), (0.0, -100.0))
    assert (found.needed, found.actual, found.loaded) == (pytest.approx(4 * D), pytest.approx(0.028), True)


def test_openings_have_edges_too() -> None:
    found = distance((0.18, 0.2), (10.0, 0.0))
    assert (found.actual, found.loaded) == (pytest.approx(0.02), True)
    corner = distance((0.2 - 0.012, 0.1 - 0.016), (0.0, 0.0))
    assert corner.actual == pytest.approx(0.02)  # 3-4-5 triangle to the corner


def test_screws_of_a_rib_push_either_way() -> None:
    """EN 1995-1-1 8.3.1.3: (3 + 4 sin a) d; thin screws as nails, those above 6 mm as bolts (8.7.1)."""
    d = 5e-3
    nails, source, _ = wood_rule("screws", d)
    along = distance((0.05, 0.2), (1.0, 0.0), nails, both_ways=True)
    assert (along.needed, along.actual) == (pytest.approx(7 * d), pytest.approx(0.05))
    beside = distance((0.4, 0.02), (1.0, 0.0), nails, both_ways=True)
    assert (beside.needed, beside.actual, beside.loaded) == (pytest.approx(3 * d), pytest.approx(0.02), False)
    assert "8.3.1.3" in source
    assert "8.4" in wood_rule("screws", 8e-3)[1]
    assert "common practice" in wood_rule("rivets", 4e-3)[2]


def test_metal_asks_for_one_and_a_half_diameters() -> None:
    """Aluminum Design Manual, from memory."""
    found = distance((0.03, 0.2), (-1.0, 0.0), metal_rule(D))
    assert found.needed == pytest.approx(1.5 * D)


def test_the_worst_of_several_is_found_and_becomes_a_row() -> None:
    places = [(0.4, 0.2), (0.03, 0.2), (0.05, 0.05)]
    found = worst_distance(PANEL, places, np.zeros((3, 2)), rule=RULE)
    assert found.number == 1
    row = edge_check(found, part="b", kind="bolt", at=places[1], source="s", basis="published", note="more")
    assert (row.mode, row.demand_unit, row.x, row.y) == (MODE, "m", 0.03, 0.2)
    assert row.ratio == pytest.approx(24 / 30)
    assert row.note == "edge without load; more"


def test_a_fastener_beside_the_panel_is_named() -> None:
    with pytest.raises(DesignError, match=r"\(250\.0, 200\.0\) mm lies off the panel"):
        distance((0.25, 0.2), (0.0, 0.0))
    with pytest.raises(DesignError, match="No fastener"):
        worst_distance(PANEL, np.zeros((0, 2)), np.zeros((0, 2)), rule=RULE)


# peel

EI, LAYER, WIDTH = 1500.0, 5e9, 0.025


def test_peel_against_the_beam_on_an_elastic_bed() -> None:
    """Numerical solution of E I w'''' + k w = 0, no moment at the end, shear force E I w''' of the eccentric shear
    flow tau b e (Hetenyi, Beams on Elastic Foundation, chapter II); deep in the rib nothing moves.
    """
    tau, arm = 1e6, 0.0127
    m, reach = tau * WIDTH * arm, 10 * bed_length(LAYER, EI)

    def rows(_: np.ndarray, w: np.ndarray) -> np.ndarray:
        return np.vstack([w[1], w[2], w[3], -LAYER / EI * w[0]])

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[2], a[3] - m / EI, b[0], b[1]])

    s = np.linspace(0.0, reach, 400)
    found = solve_bvp(rows, ends, s, np.zeros((4, len(s))), tol=1e-8, max_nodes=50_000)
    stress = LAYER * found.sol(np.linspace(0.0, reach, 20_001))[0] / WIDTH
    assert peel_stress(tau, arm=arm, layer=LAYER, EI=EI) == pytest.approx(stress[0], rel=1e-4)
    assert peel_stress(-tau, arm=arm, layer=LAYER, EI=EI) == pytest.approx(-stress.min(), rel=1e-3)
    assert pytest.approx(0.067, abs=5e-4) == FURTHER_IN


def test_peel_of_a_flat_strip_is_the_published_formula() -> None:
    """Roberts 1989: sigma = tau t_p (k_n / 4 E_p I_p)^(1/4), with k_n = E_a b / t_a: steel plate 4 x 100 mm on 2 mm."""
    b, t = 0.1, 0.004
    I = b * t**3 / 12  # noqa: E741
    k = 6.7e9 * b / 0.002
    found = peel_stress(2e6, arm=t / 2, layer=k, EI=200e9 * I)
    assert found == pytest.approx(2e6 * t * (k / (4 * 200e9 * I)) ** 0.25)
    assert 0.5 < found / 2e6 < 1.0


def test_confined_layer() -> None:
    """Modulus without sideways strain, 2 G (1 - nu) / (1 - 2 nu) (Timoshenko & Goodier), nu 0.4."""
    assert pytest.approx(2 * 0.6 / 0.2) == CONFINED


def test_strength_in_peel() -> None:
    """On plywood the veneer limits the bond (about 1 MPa, indicative)."""
    about = {"factor": 3.0}
    wood = peel_strength(8e6, on_wood=True, **about)
    bare = peel_strength(None, on_wood=True, **about)
    soft = peel_strength(0.6e6, on_wood=True, **about)
    metal = peel_strength(8e6, on_wood=False, **about)
    assert [r.value / 1e6 for r in (wood, bare, soft, metal)] == pytest.approx([1 / 3, 1 / 3, 0.2, 8 / 3])
    assert [r.basis for r in (wood, bare, soft, metal)] == ["indicative", "indicative", "user", "user"]
    assert "veneer governs" in wood.mode
    with pytest.raises(DesignError, match="give tensile_strength"):
        peel_strength(None, on_wood=False, **about)
