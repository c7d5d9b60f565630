"""Tunnels: the ramp against diffuser theory, its force by other quadratures, and the load of its rim by statics."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from shapely.geometry import Point, Polygon, box

import splitterfem as sf
from splitterfem.aero.tunnel import LOWEST_CP, MOST_RATIO, Ramp, TunnelForce, ramp_area, tunnel_force
from splitterfem.design import CutOut, Tunnel, dumps, load
from splitterfem.errors import DesignError, MeshError
from splitterfem.fem.loads import resultant
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel
from splitterfem.fem.space import PanelSpace
from splitterfem.model.loads import case_load
from splitterfem.model.meshsize import mesh_design
from splitterfem.model.sheets import sheet_field
from splitterfem.model.tunnels import rim_load, tunnel_loads

Array = NDArray[np.float64]

GAP, Q = 0.1, 1500.0
RAMP = Ramp(rise=0.08, length=0.4, exit_cp=-0.2, recovery=0.65, above_cp=0.1)


def level(x: Array) -> Array:
    return np.full(np.shape(x), GAP)


# The ramp ----------------------------------------------------------------------------------------------


def test_ideal_recovery_is_bernoulli() -> None:
    # Continuity V A = const and Bernoulli without losses: 1 - Cp = (1 - Cp_e) (A_e / A)^2.
    ramp = Ramp(rise=0.08, length=0.4, exit_cp=-0.2, recovery=1.0)
    s = np.linspace(0.0, 0.4, 50)
    area = GAP + 0.08 * s / 0.4
    assert 1.0 - ramp.cp(s, np.full(50, GAP)) == pytest.approx(1.2 * ((GAP + 0.08) / area) ** 2, rel=1e-13)


@pytest.mark.parametrize("recovery", [0.3, 0.65, 1.0])
def test_effectiveness_is_that_of_a_diffuser(recovery: float) -> None:
    # F. M. White, Fluid Mechanics, ch. 6 (from memory): pressure recovery (p_e - p_t) / (rho V_t^2 / 2), ideally
    # 1 - 1 / AR^2; the effectiveness is the share of that which is reached. V_t^2 = AR^2 (1 - Cp_e) V^2.
    ramp = Ramp(rise=0.08, length=0.4, exit_cp=-0.2, recovery=recovery)
    throat, leaving = ramp.cp(np.array([0.0, 0.4]), np.array([GAP, GAP]))
    ratio = (GAP + 0.08) / GAP
    assert leaving == pytest.approx(-0.2, abs=1e-14)
    found = (leaving - throat) / (ratio**2 * 1.2)
    assert found / (1.0 - 1.0 / ratio**2) == pytest.approx(recovery, rel=1e-13)


def test_force_on_a_level_rectangle_has_a_closed_form() -> None:
    # With h = g + R s / L: integral of (A_e / A)^2 ds = (g + R) L / g, so the mean Cp is Cp_e - eta (1 - Cp_e) R / g.
    found = tunnel_force(RAMP, box(0.2, -0.15, 0.6, 0.15), level, Q)
    mean = -0.2 - 0.65 * 1.2 * 0.08 / GAP
    assert found.force == pytest.approx(Q * 0.4 * 0.3 * (0.1 - mean), rel=1e-9)
    # First moment: integral of s (g + R)^2 / (g + R s / L)^2 ds = (g + R)^2 (L / R)^2 [ln((g + R) / g) - R / (g + R)].
    r2s = 0.18**2 * (0.4 / 0.08) ** 2 * (np.log(1.8) - 0.08 / 0.18)
    moment = 0.1 * 0.08 - (-0.2 * 0.08 - 0.65 * 1.2 * (r2s - 0.08))
    assert 0.6 - found.x == pytest.approx(moment / (0.4 * (0.1 - mean)), rel=1e-9)
    assert found.y == pytest.approx(0.0, abs=1e-12)
    assert found.x > 0.4  # ahead of the middle, for the suction is at the throat


def slanted(x: Array) -> Array:
    return 0.13 - 0.05 * np.asarray(x)


def pressure(ramp: Ramp, s: float, front: float) -> float:
    """Net pressure at a distance from the rim, written anew: areas at the place and at the exit, from the ground."""
    area = float(slanted(front - s)) + ramp.rise * s / ramp.length
    leaving = float(slanted(front - ramp.length)) + ramp.rise
    cp = ramp.exit_cp - ramp.recovery * (1.0 - ramp.exit_cp) * ((leaving / area) ** 2 - 1.0)
    return Q * (ramp.above_cp - cp)


def test_round_opening_over_a_raked_gap_against_adaptive_quadrature() -> None:
    # Strips of the circle's width by scipy's QUADPACK; the front rim is its foremost point, the exit its rearmost.
    r, xc, yc = 0.12, 0.5, 0.3
    ramp = Ramp(rise=0.05, length=2 * r, exit_cp=-0.25, recovery=0.7, above_cp=0.05)

    def push(t: float, power: int) -> float:
        # x = xc + r cos t, width 2 r sin t, dx = r sin t dt
        x = xc + r * np.cos(t)
        return 2.0 * (r * np.sin(t)) ** 2 * pressure(ramp, xc + r - x, xc + r) * x**power

    force, moment = (quad(push, 0.0, np.pi, args=(k,), epsabs=1e-10)[0] for k in (0, 1))
    found = tunnel_force(ramp, Point(xc, yc).buffer(r, quad_segs=2000), slanted, Q)
    assert found.force == pytest.approx(force, rel=1e-6)
    assert found.x == pytest.approx(moment / force, rel=1e-7)
    assert found.y == pytest.approx(yc, abs=1e-12)


def test_exit_area_is_that_of_the_exit_where_the_panel_is_raked() -> None:
    # Nose down by 5 %: the gap at the exit, 0.4 m aft, is 20 mm more than at the rim.
    ramp = Ramp(rise=0.05, length=0.4, recovery=1.0)
    found = tunnel_force(ramp, box(0.2, -0.15, 0.6, 0.15), slanted, Q)
    expected = 0.3 * quad(lambda s: pressure(ramp, s, 0.6), 0.0, 0.4, epsabs=1e-10)[0]
    assert found.force == pytest.approx(expected, rel=1e-9)
    nose_up = tunnel_force(ramp, box(0.2, -0.15, 0.6, 0.15), lambda x: 0.08 + 0.05 * np.asarray(x), Q)
    assert nose_up.force < tunnel_force(ramp, box(0.2, -0.15, 0.6, 0.15), level, Q).force < found.force


def test_ramp_shorter_or_longer_than_the_opening() -> None:
    opening = box(0.2, -0.15, 0.6, 0.15)
    short, long = Ramp(rise=0.05, length=0.25), Ramp(rise=0.05, length=0.7)
    for ramp, end in ((short, 0.35), (long, -0.1)):
        assert ramp_area(ramp, opening).symmetric_difference(box(end, -0.15, 0.6, 0.15)).area < 1e-12
    for ramp, length in ((short, 0.25), (long, 0.7)):
        found = tunnel_force(ramp, opening, level, Q)
        mean = -0.2 - 0.65 * 1.2 * 0.05 / GAP  # the closed form above
        assert found.force == pytest.approx(Q * length * 0.3 * -mean, rel=1e-9)
    # Behind a round opening the ramp goes on at its full width.
    round_one = ramp_area(Ramp(rise=0.05, length=0.5), Point(0.5, 0.0).buffer(0.1, quad_segs=2000))
    assert round_one.area == pytest.approx(0.5 * np.pi * 0.1**2 + 0.2 * 0.4, rel=1e-6)


def test_legs_of_a_concave_opening_are_kept_apart() -> None:
    # Two legs of 40 x 100 mm reach forward from a bar: a ramp of 80 mm lies over the legs alone.
    opening = Polygon(
        [
            (0.0, -0.1),
            (0.2, -0.1),
            (0.2, -0.06),
            (0.1, -0.06),
            (0.1, 0.06),
            (0.2, 0.06),
            (0.2, 0.1),
            (0.0, 0.1),
        ]
    )
    assert ramp_area(Ramp(rise=0.02, length=0.08), opening).area == pytest.approx(2 * 0.04 * 0.08, rel=1e-12)


def test_what_is_credited_is_bounded() -> None:
    # Area ratio 2 and Cp -3 at most: common practice and judgement, no source.
    assert (MOST_RATIO, LOWEST_CP) == (2.0, -3.0)
    low = Ramp(rise=0.2, length=1.0, exit_cp=-0.2, recovery=0.65)
    assert low.cp(np.zeros(1), np.array([0.02])) == pytest.approx(-0.2 - 0.65 * 1.2 * 3.0, rel=1e-13)
    deep = Ramp(rise=0.2, length=1.0, exit_cp=-1.0, recovery=1.0)
    assert deep.cp(np.zeros(1), np.array([0.1])).tolist() == [-3.0]
    beyond = low.cp(np.array([1.0, 1.5]), np.array([0.3, 0.3]))
    assert beyond == pytest.approx([-0.2, -0.2], abs=1e-14)


def test_steep_ramps_are_told() -> None:
    # Senior & Zhang (2001), abstract: ramps of 5 and 10 degrees smooth, of 15 and more with hysteresis.
    for degrees, steep in ((5.0, False), (10.0, False), (15.0, True), (20.0, True)):
        ramp = Ramp(rise=0.4 * np.tan(np.radians(degrees)), length=0.4)
        assert np.degrees(ramp.angle) == pytest.approx(degrees)
        assert ramp.steep is steep


def test_balanced_pressures_have_a_place_all_the_same() -> None:
    opening = box(0.2, -0.15, 0.6, 0.15)
    none = tunnel_force(
        Ramp(rise=0.08, length=0.4, above_cp=-0.2 - 0.65 * 1.2 * 0.08 / GAP), opening, level, Q
    )
    assert none == TunnelForce(0.0, pytest.approx(0.4), pytest.approx(0.0, abs=1e-12))


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: Ramp(rise=0.0, length=0.3),
            "A tunnel's ramp rises 0 mm over 300 mm; give both above zero.",
        ),
        (
            lambda: Ramp(rise=0.1, length=0.3, recovery=1.2),
            "A tunnel's recovery is 1.2; give a share between 0 and 1.",
        ),
        (
            lambda: Ramp(rise=0.1, length=0.3, exit_cp=1.0),
            "A tunnel's pressure coefficient is above 1, which still air cannot reach; give less.",
        ),
        (
            lambda: tunnel_force(RAMP, box(0.2, 0, 0.6, 0.1), lambda x: 0.02 - 0.05 * np.asarray(x), Q),
            "The tunnel whose front rim is at x = 600.0 mm stands in the ground: its gap goes down to -10.0 mm; give "
            "more ride height or less rake.",
        ),
    ],
)
def test_ramps_that_cannot_be(make: Any, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make()
    if "ground" in sentence:  # the lowest gap is that of the foremost point of the quadrature
        words = str(caught.value)
        assert words[: words.index("down to")] == sentence[: sentence.index("down to")]
        assert words.endswith("mm; give more ride height or less rake.")
        assert float(words.split("down to ")[1].split()[0]) == pytest.approx(-10.0, abs=0.3)
    else:
        assert str(caught.value) == sentence


# The rim -----------------------------------------------------------------------------------------------

PLACES = [(0.05, -0.65), (0.05, 0.65), (0.75, -0.65), (0.75, 0.65)]
BOLTS = [{"name": f"b{i}", "at": at, "holds": "xyz"} for i, at in enumerate(PLACES)]
CORNERS = [(0.8, -0.7), (0.8, 0.7), (0.0, 0.7)]

TONGUE = [
    (0.25, 0.0),
    (0.55, 0.0),
    (0.55, 0.2),
    (0.45, 0.2),
    (0.45, 0.05),
    (0.35, 0.05),
    (0.35, 0.2),
    (0.25, 0.2),
]
BENT = {
    "start": (0.3, 0.05),
    "edges": [{"to": (0.5, 0.05), "via": (0.4, 0.02)}, {"to": (0.48, 0.2)}, {"to": (0.3, 0.18)}],
}

OPENINGS: dict[str, dict[str, Any]] = {
    "round": {"circle": {"centre": (0.4, 0.0), "radius": 0.1}},
    "rectangle": {"rectangle": {"x": (0.3, 0.5), "y": (-0.1, 0.2)}},
    "rounded": {"rectangle": {"x": (0.3, 0.5), "y": (-0.1, 0.2), "round": 0.035}},
    "drawn": {"outline": BENT},
    "tongue": {"outline": {"start": TONGUE[0], "edges": [{"to": p} for p in TONGUE[1:]]}},
    "pair": {"rectangle": {"x": (0.3, 0.5), "y": (0.2, 0.4), "round": 0.03}, "mirror": True},
}


def splitter(opening: dict[str, Any], *, size: float = 0.12, **more: Any) -> sf.Splitter:
    tunnel = opening.get("tunnel", {"rise": 0.05})
    return sf.Splitter.model_validate(
        {
            "name": "with tunnels",
            "panel": {
                "outline": {"start": (0.0, -0.7), "edges": [{"to": corner} for corner in CORNERS]},
                "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
                "cutouts": [{"name": "t", **opening, "tunnel": tunnel}],
            },
            "bolts": BOLTS,
            "car": {"ride_height": 0.1},
            "mesh": {"size": size},
        } | more
    )  # fmt: skip


MESHES: dict[tuple[str, float], tuple[sf.Splitter, Panel, Locator]] = {}


def meshed(name: str, size: float) -> tuple[sf.Splitter, Panel, Locator]:
    """Panel with an opening on a mesh, made once."""
    if (name, size) not in MESHES:
        design = splitter(OPENINGS[name], size=size)
        mesh = mesh_design(design)
        space = PanelSpace(mesh.points, mesh.triangles)
        panel = Panel(space, sheet_field(design, space.centroids).stiffness)
        MESHES[name, size] = design, panel, Locator(space)
    return MESHES[name, size]


def rim(
    name: str, size: float, force: TunnelForce, fastened: tuple[str, ...], half: int = 0
) -> tuple[Panel, Array]:
    design, panel, locator = meshed(name, size)
    loop = design.panel.cutouts[0].sides()[half][1]
    chord = float(design.mesh.chord)
    return panel, rim_load(panel, locator, loop, force, chord=chord, fastened=fastened, name="t")


ALL = ("front", "rear", "left", "right")


@pytest.mark.parametrize("size", [0.14, 0.05])
@pytest.mark.parametrize("fastened", [ALL, ("front", "rear"), ("left", "right"), ("front", "left")])
@pytest.mark.parametrize("name", list(OPENINGS))
def test_rim_load_has_force_and_moments_of_the_ramp(
    name: str, size: float, fastened: tuple[str, ...]
) -> None:
    # Statics: a downward force F at (x, y) has Fz = -F, Mx = -F y, My = F x about the origin.
    force = TunnelForce(431.7, 0.47, 0.083)
    panel, vector = rim(name, size, force, fastened)
    expected = np.array([0.0, 0.0, -force.force, -force.force * force.y, force.force * force.x, 0.0])
    assert resultant(panel, vector) == pytest.approx(expected, abs=1e-9 * force.force * 0.4)
    assert resultant(panel, vector)[[0, 1, 5]].tolist() == [0.0, 0.0, 0.0]


def loaded(panel: Panel, vector: Array) -> tuple[Array, Array]:
    """Places (n, 2) and downward loads of the nodes that carry something."""
    nodes = vector.reshape(-1, 5)
    assert not nodes[:, [0, 1, 3, 4]].any()
    carries = np.abs(nodes[:, 2]) > 1e-9 * np.abs(nodes).max()
    return panel.space.node_points.T[carries], -nodes[carries, 2]


@pytest.mark.parametrize("size", [0.14, 0.05])
def test_only_what_is_fastened_carries(size: float) -> None:
    force = TunnelForce(100.0, 0.4, 0.05)
    at, _ = loaded(*rim("rectangle", size, force, ("front", "rear")))
    assert set(np.round(at[:, 0], 9)) == {0.3, 0.5}
    at, _ = loaded(*rim("rectangle", size, force, ("left", "right")))
    assert set(np.round(at[:, 1], 9)) == {-0.1, 0.2}
    # Of a circle the front is the quarter whose normal is within 45 degrees of x, up to a chord of the mesh.
    at, _ = loaded(*rim("round", size, force, ("front", "rear")))
    angle = np.degrees(np.arctan2(np.abs(at[:, 1]), np.abs(at[:, 0] - 0.4)))
    chord = np.degrees(2.0 * np.arccos(1.0 - 0.5e-3 / 0.1))
    assert 45.0 - chord < angle.max() < 45.0 + chord


def test_sides_of_a_concave_opening_are_told_by_where_the_opening_lies() -> None:
    # The tongue between x = 350 and 450 mm has the opening ahead of its front and behind its rear.
    at, _ = loaded(*rim("tongue", 0.05, TunnelForce(100.0, 0.4, 0.1), ("front", "left")))
    inner = at[(at[:, 1] > 0.0505) & (at[:, 1] < 0.1995)]
    assert set(np.round(inner[:, 0], 9)) == {0.35, 0.55}
    at, _ = loaded(*rim("tongue", 0.05, TunnelForce(100.0, 0.4, 0.1), ("rear", "right")))
    inner = at[(at[:, 1] > 0.0005) & (at[:, 1] < 0.1995)]
    assert set(np.round(inner[:, 0], 9)) == {0.25, 0.45}


@pytest.mark.parametrize("size", [0.14, 0.05])
def test_a_central_force_is_an_even_line_load(size: float) -> None:
    # Against w = (x - x0)^2, which the quadratic panel follows on its edges: F / P times the closed line integral,
    # b a^2 / 2 + a^3 / 6 for a rectangle a long and b wide.
    a, b = 0.2, 0.3
    panel, vector = rim("rectangle", size, TunnelForce(100.0, 0.4, 0.05), ALL)
    shape = np.zeros((panel.space.n_nodes, 5))
    shape[:, 2] = (panel.space.node_points[0] - 0.4) ** 2
    work = -vector @ shape.ravel()
    assert work == pytest.approx(100.0 / (2 * (a + b)) * (b * a**2 / 2 + a**3 / 6), rel=1e-9)
    _, loads = loaded(panel, vector)
    assert loads.min() > 0.0


def test_a_force_off_the_middle_is_shared_as_by_a_row_of_bolts() -> None:
    # Linear rule of bolt groups (Shigley, Mechanical Engineering Design; from memory) for 100 000 bolts on two edges
    # of the rectangle: shares F / n + moment times distance over the second moments. Compared by work on quadratics.
    F, n = 100.0, 50_000
    middles = (np.arange(n) + 0.5) / n
    front = np.column_stack([np.full(n, 0.5), -0.1 + 0.3 * middles])
    left = np.column_stack([0.3 + 0.2 * middles, np.full(n, 0.2)])
    at, size = np.vstack([front, left]), np.repeat([0.3 / n, 0.2 / n], n)
    centre = size @ at / size.sum()
    r = at - centre
    tilt = np.linalg.solve((r * size[:, None]).T @ r, F * (np.array([0.47, -0.03]) - centre))
    shares = size * (F / size.sum() + r @ tilt)
    panel, vector = rim("rectangle", 0.05, TunnelForce(F, 0.47, -0.03), ("front", "left"))
    x, y = panel.space.node_points
    for values, nodes in ((at[:, 0] ** 2, x**2), (at[:, 0] * at[:, 1], x * y), (at[:, 1] ** 2, y**2)):
        shape = np.zeros((panel.space.n_nodes, 5))
        shape[:, 2] = nodes
        assert -vector @ shape.ravel() == pytest.approx(shares @ values, rel=1e-8)


def test_halves_of_a_pair_are_mirror_images() -> None:
    left = rim("pair", 0.05, TunnelForce(100.0, 0.42, 0.31), ("front", "rear"), half=0)
    right = rim("pair", 0.05, TunnelForce(100.0, 0.42, -0.31), ("front", "rear"), half=1)
    here, there = resultant(*left), resultant(*right)
    assert there == pytest.approx(here * [1, 1, 1, -1, 1, -1], abs=1e-9 * 100.0)
    assert loaded(*left)[0][:, 1].min() > 0.0
    assert loaded(*right)[0][:, 1].max() < 0.0


@pytest.mark.parametrize(
    ("name", "fastened", "words", "line"),
    [
        ("rectangle", ("front",), "front", "one"),
        ("rectangle", ("left",), "left", "one"),
        ("rounded", ("front",), "front", "all but one"),
        ("round", ("rear",), "rear", "all but one"),
    ],
)
def test_one_straight_edge_cannot_carry_the_moment(
    name: str, fastened: tuple[str, ...], words: str, line: str
) -> None:
    with pytest.raises(DesignError) as caught:
        rim(name, 0.05, TunnelForce(100.0, 0.4, 0.0), fastened)
    assert str(caught.value) == (
        f"The rim of 't' is fastened along {words} only, {line} straight line, which cannot carry the moment of the "
        "ramp: fasten another edge too."
    )


def test_a_rim_that_the_mesh_does_not_follow_is_named() -> None:
    design, panel, locator = meshed("rectangle", 0.05)
    other = CutOut(name="other", rectangle={"x": (0.3, 0.52), "y": (-0.1, 0.2)}).sides()[0][1]
    with pytest.raises(MeshError, match=r"The mesh has .* mm of the 1040\.0 mm of the rim of 'other'"):
        rim_load(
            panel, locator, other, TunnelForce(1.0, 0.4, 0.0), chord=float(design.mesh.chord), name="other"
        )


# Cases -------------------------------------------------------------------------------------------------

PAIR = OPENINGS["pair"]
CASE = sf.LoadCase(name="fast", speed=50.0)


@pytest.fixture(scope="module")
def hung() -> sf.Splitter:
    return splitter(PAIR)


def test_tunnels_load_panel_and_car(hung: sf.Splitter) -> None:
    solution = sf.solve(hung, CASE)
    left, right = solution.load.tunnels
    assert (left.name, right.name) == ("t left", "t right")
    assert left.force.force == pytest.approx(right.force.force, rel=1e-12)
    assert (left.force.x, left.force.y) == pytest.approx((right.force.x, -right.force.y), rel=1e-9)
    assert 0.4 < left.force.x < 0.5  # nearer the front rim
    weight = solution.load.resultants["weight and inertia"][2]
    assert solution.supports.fz_N.sum() == pytest.approx(2 * left.force.force - weight, rel=1e-9)
    assert solution.downforce == pytest.approx(2 * left.force.force, rel=1e-12)
    assert solution.centre_of_pressure == pytest.approx((left.force.x, 0.0), abs=1e-9)
    forces = solution.supports.set_index("support").fz_N
    assert forces["b0"] == pytest.approx(forces["b1"], rel=1e-3)  # the mesh itself need not be mirror
    assert forces["b2"] == pytest.approx(forces["b3"], rel=1e-3)


def test_force_is_that_of_the_ramp_over_the_true_opening(hung: sf.Splitter) -> None:
    # The closed form of the level ramp over the rounded rectangle's width: quadrature over its corners by scipy.
    (tunnel, _) = tunnel_loads(hung, CASE)
    q, r = 0.5 * 1.225 * 50.0**2, 0.03

    def width(s: float) -> float:
        off = max(r - s, s - (0.2 - r), 0.0)
        return 0.2 - 2.0 * (r - np.sqrt(r**2 - off**2)) if off else 0.2

    def push(s: float) -> float:
        cp = -0.2 - 0.65 * 1.2 * ((0.15 / (0.1 + 0.05 * s / 0.2)) ** 2 - 1.0)
        return -q * cp * width(s)

    expected = quad(push, 0.0, 0.2, points=[r, 0.2 - r], epsabs=1e-9)[0]
    assert tunnel.force.force == pytest.approx(expected, rel=5e-4)  # chords of 0.1 mm


def test_what_hangs_on_the_chassis_leaves_the_panel_alone(hung: sf.Splitter) -> None:
    free = splitter(PAIR | {"tunnel": {"rise": 0.05, "carried_by": "chassis"}})
    model = sf.build(free)
    solution, without = sf.solve(model, CASE), case_load(model, sf.LoadCase(name="still"))
    assert set(solution.load.resultants) == {"weight and inertia"}
    assert solution.load.vector.tolist() == without.vector.tolist()
    on_rim = sf.solve(hung, CASE)
    assert solution.downforce == pytest.approx(on_rim.downforce, rel=1e-12)
    assert [tunnel.on_panel for tunnel in solution.load.tunnels] == [False, False]
    assert solution.max_sag < on_rim.max_sag


def test_measured_force_is_exact_at_its_speed_and_follows_the_square() -> None:
    # q = rho V^2 / 2; 40 to 60 m/s is a factor 2.25, the head wind counts.
    design = splitter(PAIR | {"tunnel": {"rise": 0.05, "force": 180.0, "force_speed": 40.0}})
    estimate = tunnel_loads(splitter(PAIR), sf.LoadCase(name="a", speed=40.0))[0].force
    for speed, wind, factor, expected in (
        (40.0, 0.0, 1.0, 180.0),
        (60.0, 0.0, 1.0, 405.0),
        (35.0, 5.0, 1.0, 180.0),
        (40.0, 0.0, 1.2, 216.0),
    ):
        case = sf.LoadCase(name="a", speed=speed, head_wind=wind, factor=factor)
        for tunnel in tunnel_loads(design, case):
            assert tunnel.force.force == pytest.approx(expected, rel=1e-12)
            assert tunnel.force.x == pytest.approx(estimate.x, rel=1e-12)
    load_vector = case_load(sf.build(design), sf.LoadCase(name="a", speed=40.0))
    assert load_vector.resultants["tunnel t left"][2] == pytest.approx(-180.0, rel=1e-9)


def test_suction_follows_speed_factor_and_gap(hung: sf.Splitter) -> None:
    def force(**case: Any) -> float:
        found = tunnel_loads(hung, sf.LoadCase(name="a", **case))
        return sum(load.force.force for load in found)

    once = force(speed=50.0)
    assert force(speed=100.0) == pytest.approx(4.0 * once, rel=1e-12)
    assert force(speed=50.0, factor=1.15) == pytest.approx(1.15 * once, rel=1e-12)
    assert force(speed=0.0) == 0
    lower = [force(speed=50.0, ride_height=h) for h in (0.12, 0.1, 0.08, 0.06)]
    assert lower == sorted(lower)
    assert force(speed=50.0, rake=0.02) > once  # nose down closes the throat more than the exit
    with pytest.raises(DesignError, match="stands in the ground"):
        force(speed=50.0, ride_height=0.01, rake=0.05)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"rise": 0.0}, "tunnel, rise: 0 mm is not above zero"),
        ({"rise": 0.1, "recovery": 1.1}, "tunnel: recovery is 1.1; write a share of the ideal one, up to 1"),
        (
            {"rise": 0.1, "exit_cp": 1.0},
            "tunnel: a pressure coefficient of a tunnel is above 1, which air cannot reach; write less",
        ),
        (
            {"rise": 0.1, "force": 100.0},
            "tunnel: force and force_speed belong together; write both or neither",
        ),
        (
            {"rise": 0.1, "fastened": ["front", "sides"]},
            'tunnel, fastened: fastened names edges of the opening once each; write some of "front", "rear", "left", '
            '"right"',
        ),
        (
            {"rise": 0.1, "fastened": ["front", "front"]},
            'tunnel, fastened: fastened names edges of the opening once each; write some of "front", "rear", "left", '
            '"right"',
        ),
        (
            {"rise": 0.1, "carried_by": "chasis"},
            "tunnel, carried_by: \"chasis\" is not a choice here; did you mean 'chassis'?",
        ),
    ],
)
def test_records_that_cannot_be(fields: dict[str, Any], sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        Tunnel(**fields)
    assert str(caught.value) == sentence


def test_a_tunnel_survives_its_file(tmp_path: Any) -> None:
    tunnel = {
        "rise": "110 mm", "length": "20 in", "exit_cp": -0.25, "recovery": "70 %", "above_cp": 0.1,
        "fastened": ["left", "front"], "force": "40 lbf", "force_speed": "160 km/h",
    }  # fmt: skip
    design = splitter(PAIR | {"tunnel": tunnel})
    place = tmp_path / "tunnels.toml"
    place.write_text(dumps(design), encoding="utf-8")
    again = load(place)
    assert again == design
    assert again.panel.cutouts[0].tunnel is not None
    assert again.panel.cutouts[0].tunnel.fastened == ("front", "left")
    for words in ('rise = "110 mm"', 'length = "20 in"', 'force = "40 lbf"', 'force_speed = "160 km/h"'):
        assert words in dumps(again)
    assert Tunnel(rise=0.1, fastened="rear").fastened == ("rear",)
