"""Gap-flow estimate: against closed forms, independent solutions of its equations, and published figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.sparse.linalg import spsolve
from shapely.geometry import MultiPolygon, Point, Polygon, box

from splitterfem.aero import (
    GAP_CAUTIONS,
    Band,
    GapLaw,
    GapMap,
    NoseZone,
    PressureField,
    StripFlow,
    StripGrid,
    Tunnel,
    displacement_thickness,
    dynamic_pressure,
    gap_laws,
    gap_maps,
    lower_cp,
    nose_zones,
    rectangle_relief,
    relief_profile,
    resultant,
    strip_flow,
)
from splitterfem.aero.gap_law import FALL, FLAT_BELOW, BandName
from splitterfem.errors import DesignError

Array = NDArray[np.float64]

L = 0.7
S = np.linspace(0.0, L, 60)[None]
# Equations alone: no relief, no boundary layer, ideal ramps, no cap.
BARE = GapLaw(
    entry_loss=0.1, friction=0.004, exit_cp=-0.2, relief=1.0, recovery=1.0, displacement=False, flat_below=0.0
)
LAWS = gap_laws()
BANDS: tuple[BandName, ...] = ("low", "typical", "high")
PANEL = box(-0.1, -0.8, 0.6, 0.8)
RNG = np.random.default_rng(20_117)


def straight(front: float, rear: float, distance: Array = S) -> Array:
    """Gap that runs straight from ``front`` at the lip to ``rear``, mm in, m out."""
    return 1e-3 * (front + (rear - front) * distance / distance[:, -1:])


def flow(law: GapLaw, gap: Array, *, speed: float = 50.0, **more: ArrayLike) -> StripFlow:
    return strip_flow(law, S, gap, speed=speed, **more)


# The equations -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("front", "rear", "tunnel"), [(80, 80, 0), (60, 80, 0), (90, 70, 0), (70, 80, 40)])
@pytest.mark.parametrize("entry_loss", [0.0, 0.1, 0.4])
def test_without_friction_the_closed_form_comes_out(
    front: float, rear: float, tunnel: float, entry_loss: float
) -> None:
    # Continuity and Bernoulli alone: u_e^2 = (1 - Cp_e) / (1 + K (h_e/h_0)^2) and
    # Cp = 1 - [K (h_e/h_0)^2 + (h_e/h)^2] u_e^2.
    law = replace(BARE, entry_loss=entry_loss, friction=0.0)
    gap = straight(front, rear)
    made = flow(law, gap, tunnel_height=1e-3 * tunnel)
    exit_height = 1e-3 * (rear + tunnel)
    u2 = 1.2 / (1.0 + entry_loss * (exit_height / gap[0, 0]) ** 2)
    expected = 1.0 - (entry_loss * (exit_height / gap[0, 0]) ** 2 + (exit_height / gap) ** 2) * u2
    assert made.cp == pytest.approx(expected, abs=1e-12)
    assert made.flow_rate == pytest.approx(exit_height * np.sqrt(u2), rel=1e-12)


@pytest.mark.parametrize(("front", "rear"), [(80, 80), (50, 80), (90, 80), (30, 30)])
@pytest.mark.parametrize("friction", [0.004, 0.02])
def test_friction_agrees_with_an_adaptive_integrator(front: float, rear: float, friction: float) -> None:
    # The same differential equation by scipy's Runge-Kutta method, and the flow rate by a bracketing root finder.
    def gap(s: float) -> float:
        return float(1e-3 * (front + (rear - front) * s / L))

    def total(Q: float) -> Array:
        def rate(s: float, _: Array) -> list[float]:
            u = Q / gap(s)
            return [-friction / gap(s) * (u**2 + (u - 1.0) * abs(u - 1.0))]

        start = [1.0 - 0.1 * (Q / gap(0.0)) ** 2]
        return solve_ivp(rate, (0.0, L), start, t_eval=S[0], rtol=1e-10, atol=1e-12).y[0]

    Q = brentq(lambda q: total(q)[-1] - (q / gap(L)) ** 2 + 0.2, 1e-3, 1.0, xtol=1e-14)
    made = flow(replace(BARE, friction=friction), straight(front, rear))
    assert made.flow_rate[0] == pytest.approx(Q, rel=1e-5)
    assert made.cp[0] == pytest.approx(total(Q) - (Q / straight(front, rear)[0]) ** 2, abs=5e-5)


@pytest.mark.parametrize(
    ("front", "rear", "ratio", "mean", "lip"),
    [
        (80, 80, 1.0, -0.18, -0.16),
        (70, 80, 1.0, -0.33, -0.47),
        (60, 80, 1.0, -0.50, -0.90),
        (50, 80, 1.0, -0.71, -1.54),
        (90, 80, 1.0, -0.06, 0.06),
        (80, 80, 1.25, -0.73, -0.70),
        (80, 80, 1.5, -1.30, -1.27),
        (80, 80, 2.0, -2.44, -2.37),
        (30, 30, 1.0, -0.15, -0.11),
    ],
)
def test_table_of_rakes_and_tunnels(front: float, rear: float, ratio: float, mean: float, lip: float) -> None:
    # Worked beforehand from the same equations with 2001 stations and a bracketing root finder (L 0.7 m, cf 0.004,
    # K 0.1, Cp_e -0.2, strips by themselves); every digit printed.
    made = flow(BARE, straight(front, rear), tunnel_height=(ratio - 1.0) * 1e-3 * rear)
    assert f"{made.mean_cp[0]:.2f} {made.cp[0, 0]:.2f}" == f"{mean:.2f} {lip:.2f}"
    assert made.flags.sentences() == ()


def test_mass_is_conserved() -> None:
    given = 0.06 + 0.03 * RNG.random((30, 60))
    s = np.repeat(S, 30, axis=0)
    bare = strip_flow(BARE, s, given, speed=50.0)
    assert bare.u * given == pytest.approx(np.repeat(bare.flow_rate[:, None], 60, axis=1), rel=1e-12)
    for name in BANDS:
        made = strip_flow(LAWS.of(name), s, given, speed=50.0)
        assert made.u * made.gap == pytest.approx(np.repeat(made.flow_rate[:, None], 60, axis=1), rel=1e-12)


def test_the_exit_pressure_is_met_with_partial_recovery() -> None:
    # Cp(L) + eta (u_L^2 - u_e^2) = Cp_e, with nothing recovered the tunnels bring nothing.
    gap = straight(60, 80)
    made = flow(replace(BARE, recovery=0.6), gap, tunnel_height=0.04)
    u_exit = made.flow_rate[0] / 0.12
    assert made.cp[0, -1] + 0.6 * (made.u[0, -1] ** 2 - u_exit**2) == pytest.approx(-0.2, abs=1e-12)
    none = flow(replace(BARE, recovery=0.0), gap, tunnel_height=0.04)
    assert none.cp == pytest.approx(flow(BARE, gap).cp, abs=1e-12)


def test_any_gap_gives_a_bounded_flow() -> None:
    s = np.repeat(S, 40, axis=0)
    for entry_loss in (0.0, 2.0):
        for exit_cp in (-2.0, 0.9):
            law = GapLaw(entry_loss=entry_loss, friction=0.05, exit_cp=exit_cp, recovery=1.0, relief=1.0)
            made = strip_flow(
                law, s, RNG.uniform(-0.02, 0.3, s.shape), speed=40.0, tunnel_height=RNG.uniform(0, 0.3, 40)
            )
            assert made.flow_rate.min() > 0.0
            assert -3.0 <= made.cp.min() <= made.cp.max() <= 1.0
            assert np.isfinite(made.cp_by_gap()).all()


# Linearisation -----------------------------------------------------------------------------------------

SHARP = gap_laws(lip="sharp", thickness=0.012, with_fall=True)


@pytest.mark.parametrize("law", [BARE, LAWS.low, LAWS.typical, LAWS.high, SHARP.low, SHARP.high])
@pytest.mark.parametrize("level", [0.012, 0.03, 0.06, 0.065, 0.09])
@pytest.mark.parametrize("tunnel", [0.0, 0.03])
def test_derivative_against_central_differences(law: GapLaw, level: float, tunnel: float) -> None:
    grid = StripGrid.from_panel(
        Polygon([(0, -0.8), (0.5, -0.7), (0.7, 0), (0.5, 0.7), (0, 0.8)]), strips=6, stations=20
    )
    bumps = np.random.default_rng(77).standard_normal((6, 20))
    gap = level * (1.0 + 0.3 * (grid.shares - 0.5) + 0.04 * bumps)
    relief = grid.relief(law.relief)

    def cp(h: Array) -> Array:
        return lower_cp(law, grid.distance, h, speed=55.0, relief=relief, tunnel_height=tunnel)

    exact = strip_flow(law, grid.distance, gap, speed=55.0, relief=relief, tunnel_height=tunnel).cp_by_gap()
    step = 1e-7
    differences = np.empty_like(exact)
    for j in range(20):
        move = step * (np.arange(20) == j)
        differences[:, :, j] = (cp(gap + move) - cp(gap - move)) / (2.0 * step)
    assert exact == pytest.approx(differences, abs=1e-6 * np.abs(exact).max())


def test_derivative_where_the_upper_bound_sets_in() -> None:
    # Air that is held up behind a panel whose nose stands high: Cp comes near to 1 at the lip.
    law = replace(BARE, exit_cp=0.9)
    gap = straight(150, 40)
    near = flow(law, gap)
    assert np.all(near.cp[0, :5] > 0.98)
    assert near.cp.max() < 1.0
    step = 1e-6 * np.ones((1, 60))
    numeric = (flow(law, gap + step).cp - flow(law, gap - step).cp) / 2e-6
    assert near.cp_by_gap().sum(axis=2) == pytest.approx(numeric, abs=1e-6 * np.abs(numeric).max())


def test_closing_a_level_gap_as_a_whole_changes_nothing_without_friction() -> None:
    by_gap = flow(replace(BARE, friction=0.0), straight(80, 80)).cp_by_gap()
    assert np.abs(by_gap).max() > 10.0
    assert by_gap.sum(axis=2) == pytest.approx(np.zeros((1, 60)), abs=1e-10)


def test_droop_of_the_lip_softens_by_q_a_over_h() -> None:
    # Level, no losses: Cp = 1 - (h_e/h)^2 (1 - Cp_e), so the force on a lip drooping about the rear edge grows by
    # q A (1 - Cp) / h per metre: 1890 Pa, 1.6 x 0.7 m, 80 mm, Cp -0.2 give 31.75 kN/m.
    by_gap = flow(replace(BARE, friction=0.0, entry_loss=0.0), straight(80, 80)).cp_by_gap()[0]
    droop = by_gap @ -(1.0 - S[0] / L)
    softening = 1890.0 * 1.6 * np.trapezoid(-droop, S[0])
    assert softening == pytest.approx(1890.0 * 1.12 * 1.2 / 0.08, rel=1e-10)


# Trends and caps ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("law", [BARE, LAWS.low, LAWS.typical, LAWS.high])
def test_trends(law: GapLaw) -> None:
    def suction(front: float, rear: float = 85.0, tunnel: float = 0.0, **changes: float) -> float:
        return -float(flow(replace(law, **changes), straight(front, rear), tunnel_height=tunnel).mean_cp[0])

    by_rake = [suction(front) for front in (110, 100, 90, 80, 70, 60)]
    by_exit = [suction(80, exit_cp=cp) for cp in (0.2, 0.0, -0.1, -0.2, -0.4)]
    by_tunnel = [suction(80, tunnel=extra) for extra in (0.0, 0.01, 0.02, 0.04, 0.08)]
    by_entry = [suction(65, entry_loss=loss) for loss in (0.5, 0.3, 0.1, 0.0)]
    by_height = [suction(h - 10.0, h + 10.0) for h in (160, 140, 120, 100, 90)]
    for series in (by_rake, by_exit, by_tunnel, by_entry, by_height):
        assert np.all(np.diff(series) > 0.0), series


def test_lowering_stops_paying_at_the_cap() -> None:
    # The published peak: h/c 0.082 with free, 0.112 with fixed transition (Zerihan & Zhang 2000).
    assert FLAT_BELOW.high <= 0.082 < FLAT_BELOW.typical < 0.112 <= FLAT_BELOW.low + 0.005
    law = replace(BARE, flat_below=0.095)
    ratios = np.array([0.14, 0.12, 0.11, 0.084, 0.07, 0.05])
    force = np.array([-flow(law, straight(1e3 * r * L - 8, 1e3 * r * L + 8)).mean_cp[0] for r in ratios])
    free = np.array([-flow(BARE, straight(1e3 * r * L - 8, 1e3 * r * L + 8)).mean_cp[0] for r in ratios])
    assert np.all(np.diff(free) > 0.0)
    assert force[:3] == pytest.approx(free[:3], rel=1e-12)
    assert force[3:] == pytest.approx(np.full(3, force[3]), rel=1e-12)
    assert free[2] < force[3] < free[3]
    low = flow(law, straight(30, 45))
    assert low.flags.capped.tolist() == [True]
    assert "so low for its length" in low.flags.sentences()[0]


def test_the_measured_fall_is_an_option() -> None:
    # -7 % (free), -3 % (fixed) and -18 % (two elements) within about 0.03 chords below the peak: Zhang, Toet &
    # Zerihan (2006).
    assert (FALL.low, FALL.typical, FALL.high) == (0.18, 0.07, 0.03)
    gap = straight(20, 36)
    for name in BANDS:
        kept, fallen = flow(LAWS.of(name), gap), flow(gap_laws(with_fall=True).of(name), gap)
        assert fallen.cp == pytest.approx((1.0 - FALL.of(name)) * kept.cp, rel=1e-12)
        high = straight(80, 90)
        assert flow(gap_laws(with_fall=True).of(name), high).cp == pytest.approx(flow(LAWS.of(name), high).cp)


def test_below_the_choking_gap_nothing_more_is_gained() -> None:
    # A local narrowing from 16 mm down to nothing, and into the ground.
    notch = np.exp(-(((S - 0.3) / 0.05) ** 2))

    def narrowed(least: float) -> Array:
        return 0.016 - (0.016 - least) * notch

    at = [float(flow(BARE, narrowed(least)).cp.min()) for least in (0.014, 0.012, 0.0085)]
    assert 0.0 > at[0] > at[1] > at[2] > -3.0
    narrow = narrowed(0.007)
    deep = flow(BARE, np.where(narrow < 0.0075, -0.005, narrow))
    assert deep.cp == pytest.approx(flow(BARE, narrow).cp, rel=1e-12)
    level = [float(flow(BARE, straight(h, h)).mean_cp[0]) for h in (8, 5, 1)]
    assert level == pytest.approx([level[0]] * 3, rel=1e-12)
    assert deep.flags.touching.any()
    assert [s.split(" (")[0] for s in deep.flags.sentences()][:2] == [
        "The panel touches the ground in the gap-flow estimate",
        "The gap is so small that the flow chokes, and no further suction is counted",
    ]


def test_doubtful_flows_say_so() -> None:
    assert not flow(LAWS.typical, straight(80, 90)).flags.sentences()
    low = flow(BARE, straight(18, 24))
    assert 0 < low.flags.low_trust.sum() < 60
    assert not low.flags.choked.any()
    assert flow(BARE, straight(110, 115)).flags.too_high.tolist() == [True]
    assert flow(BARE, straight(95, 100)).flags.too_high.tolist() == [False]
    assert flow(BARE, straight(40, 40 + 1e3 * L * np.tan(np.radians(10.5)))).flags.steep.all()
    assert not flow(BARE, straight(40, 40 + 1e3 * L * np.tan(np.radians(9.5)))).flags.steep.any()
    wide = flow(BARE, straight(80, 80), tunnel_height=0.2)
    assert wide.flags.area_capped.all()
    assert wide.cp == pytest.approx(flow(BARE, straight(80, 80), tunnel_height=0.5).cp, rel=1e-12)
    beyond = flow(BARE, straight(30, 80), tunnel_height=0.08)
    assert beyond.cp[0, 0] == -3.0
    assert "The pressure coefficient was held at its bound (on 1 of 1 strips)." in beyond.flags.sentences()
    assert any("stall" in caution for caution in GAP_CAUTIONS)
    assert any("40 to 50 %" in caution for caution in GAP_CAUTIONS)


def test_a_sharp_lip_has_a_peak_of_its_own() -> None:
    law = replace(BARE, lip_peak=-0.6, lip_reach=0.05)
    extra = flow(law, straight(80, 80)).cp - flow(BARE, straight(80, 80)).cp
    assert extra == pytest.approx(-0.6 * np.maximum(1.0 - S / 0.05, 0.0), abs=1e-12)
    sharp = gap_laws(lip="sharp", thickness=0.012)
    assert (sharp.low.lip_peak, sharp.high.lip_peak) == (-0.3, -1.0)
    assert sharp.high.lip_reach == pytest.approx(0.06)
    assert sharp.typical.entry_loss > LAWS.typical.entry_loss


# Sides and boundary layer ------------------------------------------------------------------------------


def plan_view(width: float, n: int) -> tuple[Array, Array]:
    """Strip forces of the linear flow under a unit-length rectangle by finite differences: rake, exit.

    Five-point Laplacian; phi = 0 at the lip and the sides; at the rear edge phi_x = 0 with a unit source in the
    plane (rake), or phi_x = 1 without (exit). The force of a strip is phi at its rear edge.
    """
    m = round(width * n)
    d = 1.0 / n
    second = sp.diags_array([1.0, -2.0, 1.0], offsets=[-1, 0, 1], shape=(n, n)).tolil()
    second[n - 1, n - 2] = 2.0  # mirror point behind the rear edge
    across = sp.diags_array([1.0, -2.0, 1.0], offsets=[-1, 0, 1], shape=(m - 1, m - 1))
    laplace = sp.kron(second, sp.eye_array(m - 1)) + sp.kron(sp.eye_array(n), across)
    rear = np.zeros((n, m - 1))
    rear[-1] = -2.0 * d
    solved = spsolve(laplace.tocsc(), np.column_stack([np.full(rear.size, -(d**2)), rear.ravel()]))
    force = solved.reshape(n, m - 1, 2)[-1]
    return np.pad(force[:, 0], 1) / 0.5, np.pad(force[:, 1], 1)


@pytest.mark.parametrize(
    ("width", "rake", "leaving"),
    [(1.5, 0.29, 0.40), (16 / 7, 0.46, 0.55), (3.0, 0.57, 0.64), (5.0, 0.74, 0.78)],
)
def test_relief_of_a_rectangle(width: float, rake: float, leaving: float) -> None:
    # The same linear problem (Rozhdestvensky 2000, leading order) solved by finite differences in plan view.
    series = rectangle_relief(width, 1.0)
    assert series == pytest.approx((rake, leaving), abs=0.0051)
    by_rake, by_exit = plan_view(width, 42)
    assert series[0] == pytest.approx(by_rake[:-1].mean(), abs=0.004)
    assert series[1] == pytest.approx(by_exit[:-1].mean(), abs=0.004)


def test_the_profile_across_is_that_of_linear_theory() -> None:
    by_rake, _ = plan_view(16 / 7, 42)
    nodes = np.linspace(-0.8, 0.8, len(by_rake))
    profile = relief_profile(rectangle_relief(1.6, 0.7)[0], np.linspace(-0.8, 0.8, 41))
    middle = np.linspace(-0.78, 0.78, 40)
    assert profile == pytest.approx(np.interp(middle, nodes, by_rake), abs=0.03)


@pytest.mark.parametrize("mean", [0.01, 0.3, 0.55, 0.85, 0.99, 0.999999])
def test_the_profile_keeps_its_mean(mean: float) -> None:
    edges = np.sort(np.concatenate([[-0.8, 0.8], RNG.uniform(-0.8, 0.8, 30)]))
    profile = relief_profile(mean, edges)
    assert np.diff(edges) @ profile / 1.6 == pytest.approx(mean, rel=1e-9)
    even = relief_profile(mean, np.linspace(-1.0, 1.0, 2002))
    assert even == pytest.approx(even[::-1], abs=1e-12)
    assert np.argmax(even > even.max() - 1e-12) <= 1000
    assert 0.0 <= even.min() <= even.max() <= 1.0
    assert even[0] < 0.1 or mean > 0.98
    assert relief_profile(1.0, edges).tolist() == [1.0] * 31


def test_relief_works_on_the_difference_to_the_pressure_outside() -> None:
    s = np.repeat(S, 2, axis=0)
    law = replace(BARE, outer_cp=0.1)
    made = strip_flow(law, s, straight(60, 80, s), speed=50.0, relief=[0.0, 0.5])
    assert made.cp[0] == pytest.approx(np.full(60, 0.1))
    assert made.cp[1] - 0.1 == pytest.approx(0.5 * (made.strip_cp[1] - 0.1))


def test_boundary_layer() -> None:
    # 1/7-power law at 0.7 m and 50 m/s: thickness 14 mm, displacement thickness an eighth of it, 1.7 mm.
    assert 8e3 * displacement_thickness(0.7, 50.0) == pytest.approx(13.8, abs=0.2)
    assert 1e3 * displacement_thickness(0.7, 50.0) == pytest.approx(1.73, abs=0.01)
    # A layer that grows to the rear works as a panel with less rake.
    gap = straight(60, 80)
    narrowed = flow(replace(BARE, displacement=True), gap)
    assert narrowed.cp == pytest.approx(flow(BARE, gap - displacement_thickness(S, 50.0)).cp, abs=1e-12)
    assert narrowed.mean_cp[0] > flow(BARE, gap).mean_cp[0]


# Published forces, as a bracket only ----------------------------------------------------------------------


def test_a_wing_near_a_moving_ground_brackets_the_estimate() -> None:
    # One-element inverted wing, chord 223 mm, 3.45 degrees: Zerihan & Zhang (2000), read from their plots to 0.02. The
    # estimate knows neither camber nor the upper side, so this is a bracket: order of size, and growth as h falls.
    ratios = np.array([0.179, 0.134, 0.112, 0.082])
    free, fixed = np.array([1.41, 1.61, 1.70, 1.72]), np.array([1.19, 1.34, 1.39, 1.38])
    s = np.linspace(0.0, 0.223, 60) * np.ones((4, 1))
    gap = 0.223 * ratios[:, None] + s * np.tan(np.radians(3.45))
    force = {name: -strip_flow(LAWS.of(name), s, gap, speed=30.0).mean_cp for name in BANDS}
    assert np.all(0.4 * fixed < force["high"])
    assert np.all(force["high"] < free)
    assert np.all(force["low"] < force["typical"])
    assert np.all(force["typical"] < force["high"])
    for made in force.values():
        growth = made[2] / made[0]
        assert fixed[2] / fixed[0] < growth < 1.25 * free[2] / free[0]


# The upper side ------------------------------------------------------------------------------------------

LINE = np.array([[0.42, 0.7], [0.5, 0.35], [0.52, 0.0], [0.5, -0.35], [0.42, -0.7]])


def test_stagnation_zone() -> None:
    nose = NoseZone(LINE, 0.25, under_cp=0.1, foot_cp=0.7)
    assert nose.cp(0.52, 0.0) == pytest.approx(0.7)
    ahead = nose.cp(np.linspace(0.52, 0.77, 40), 0.0)
    assert np.all(np.diff(ahead) < 0.0)
    assert ahead[-1] == pytest.approx(0.0, abs=1e-12)
    assert nose.cp([0.9, 0.42, 0.42, 0.3, 0.3], [0.0, 0.7, -0.7, 0.0, 0.75]) == pytest.approx(
        [0, 0, 0, 0.1, 0]
    )
    y = np.linspace(0.0, 0.7, 30)
    foot = nose.cp(np.interp(y, LINE[::-1, 1], LINE[::-1, 0]), y)
    assert np.all(np.diff(foot) < 0.0)
    x, y = RNG.uniform(-0.2, 1.0, 4000), RNG.uniform(-0.9, 0.9, 4000)
    for name in BANDS:
        values = nose_zones(LINE, 0.25).of(name).cp(x, y)
        assert 0.0 <= values.min() <= values.max() <= 1.0
    assert nose.cp(x, y) == pytest.approx(NoseZone(LINE[::-1], 0.25, 0.1, 0.7).cp(x, y))


def test_level_of_the_stagnation_zone() -> None:
    # A lip of 100 mm ahead of an upright nose: mean +0.4 to +0.6 is what is remembered, weak.
    x, y = np.meshgrid(np.linspace(0.5, 0.6, 50), np.linspace(-0.8, 0.8, 201))
    means = [nose_zones([[0.5, -0.8], [0.5, 0.8]], 0.25).of(name).cp(x, y).mean() for name in BANDS]
    assert means[0] < 0.4 < means[1] < 0.6 < means[2] + 0.02 < 0.7


# The map ---------------------------------------------------------------------------------------------------


class _Lip:
    """Pressure on the lip alone, 0.1 m deep."""

    def __init__(self, cp: float) -> None:
        self.value = cp

    def cp(self, x: ArrayLike, y: ArrayLike) -> Array:
        return np.where(np.broadcast_arrays(x, y)[0] > 0.5, self.value, 0.0)


@pytest.mark.parametrize(
    ("speed", "bottom", "top", "force"),
    [
        (160, -0.3, 0.4, 484),
        (160, -0.6, 0.5, 910),
        (160, -1.0, 0.7, 1491),
        (200, -0.3, 0.4, 756),
        (200, -0.6, 0.5, 1422),
        (200, -1.0, 0.7, 2329),
        (240, -0.3, 0.4, 1089),
        (240, -0.6, 0.5, 2047),
        (240, -1.0, 0.7, 3354),
    ],
)
def test_totals_by_hand(speed: float, bottom: float, top: float, force: float) -> None:
    # q (1.12 m2 bottom + 0.16 m2 top), q = 1.225 V^2 / 2: worked by hand, rounded to the newton.
    grid = StripGrid.from_panel(PANEL, strips=8, stations=8)
    field = GapMap(grid, np.full((8, 8), bottom), dynamic_pressure(speed / 3.6), _Lip(top))
    total = sum(
        resultant(field, part, spacing=0.05).force
        for part in (box(-0.1, -0.8, 0.5, 0.8), box(0.5, -0.8, 0.6, 0.8))
    )
    assert total == pytest.approx(force, abs=0.9)


def plane(x: Array, y: Array) -> Array:
    return 0.085 - 0.03 * (x - 0.25) + 0.0 * y


def test_force_is_the_sum_over_strips() -> None:
    grid = StripGrid.from_panel(PANEL)
    made = GapMap.from_panel(PANEL, plane, q=1890.0, laws=LAWS, upper=None)
    assert isinstance(made, PressureField)
    assert made.flow is not None
    by_hand = -1890.0 * 0.04 * 0.7 * made.flow.mean_cp.sum()
    total = resultant(made, PANEL)
    # The outermost half strips hold the value of their middle line, hence not to rounding.
    assert total.force == pytest.approx(by_hand, rel=2e-3)
    assert total.y == pytest.approx(0.0, abs=1e-6)
    assert total.extrapolated == 0.0
    assert made.at(*grid.points) == pytest.approx(-1890.0 * made.lower, rel=1e-12)
    assert made.scaled(1.3).scaled(0.5).at(0.2, 0.1) == pytest.approx(0.65 * made.at(0.2, 0.1))
    assert made.extrapolated([0.2, 0.61, 0.6005], [0.0, 0.0, 0.0]).tolist() == [False, True, False]


def test_fineness_does_not_matter() -> None:
    coarse, fine = (
        resultant(
            GapMap.from_panel(PANEL, plane, q=1890.0, laws=LAWS, upper=None, strips=n, stations=3 * n // 2),
            PANEL,
        ).force
        for n in (40, 160)
    )
    assert coarse == pytest.approx(fine, rel=3e-3)


def test_the_three_estimates_are_in_order() -> None:
    maps = gap_maps(
        PANEL, plane, q=1890.0, laws=gap_laws(exit_cp=Band(-0.1, -0.2, -0.3)), upper=nose_zones(LINE, 0.25)
    )
    low, typical, high = (resultant(maps.of(name), PANEL).force for name in BANDS)
    assert 0.0 < low < typical < high
    alone = GapMap.from_panel(PANEL, plane, q=1890.0, laws=LAWS, upper=nose_zones(LINE, 0.25), band="high")
    assert resultant(alone, PANEL).force == pytest.approx(high, rel=1e-12)


def test_tunnels_add_suction_where_they_are() -> None:
    grid = StripGrid.from_panel(PANEL)
    tunnel = Tunnel(right=0.13, left=0.49, exit_area=0.02)
    assert np.sum(0.04 * grid.tunnel_height([tunnel, tunnel])) == pytest.approx(0.04, rel=1e-12)
    with_it = GapMap.from_panel(PANEL, plane, q=1890.0, laws=LAWS, upper=None, tunnels=[tunnel])
    without = GapMap.from_panel(PANEL, plane, q=1890.0, laws=LAWS, upper=None)
    y = grid.middle
    more = with_it.at(0.3, y) - without.at(0.3, y)
    assert np.all(more[(y > 0.15) & (y < 0.47)] > 50.0)
    assert more[(y < 0.09) | (y > 0.53)] == pytest.approx(0.0, abs=1e-9)


def test_strips_follow_the_outline() -> None:
    swept = Polygon([(0.0, -0.8), (0.5, -0.8), (0.6, 0.0), (0.5, 0.8), (0.0, 0.8), (0.1, 0.0)])
    grid = StripGrid.from_panel(swept, strips=16, stations=12)
    assert grid.lip == pytest.approx(0.6 - 0.125 * np.abs(grid.middle))
    assert grid.rear == pytest.approx(0.1 - 0.125 * np.abs(grid.middle))
    assert grid.distance[:, 0].tolist() == [0.0] * 16
    x, y = grid.points
    inside = RNG.uniform(0.12, 0.48, 500), RNG.uniform(-0.74, -0.06, 500)
    weights = grid.interpolation(*inside)
    assert weights.sum(axis=1) == pytest.approx(np.ones(500))
    assert weights @ (2.0 + 3.0 * x - y).ravel() == pytest.approx(
        2.0 + 3.0 * inside[0] - inside[1], abs=1e-12
    )
    opened = swept.difference(Point(0.3, 0.3).buffer(0.1))
    assert StripGrid.from_panel(opened, strips=16).lip == pytest.approx(grid.lip)
    assert not StripGrid.from_panel(opened, strips=16).outside(0.3, 0.3)
    halves = MultiPolygon([box(0, -0.8, 0.5, 0.05), box(0, 0.06, 0.5, 0.8)])
    assert StripGrid.from_panel(halves, strips=4).length == pytest.approx([0.5] * 4)


# Faults of the input -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "text"),
    [
        (
            lambda: GapLaw(relief=1.2),
            r"The field 'relief' of the gap law is 1\.2; give a number from 0\.01 to 1\.",
        ),
        (lambda: GapLaw(friction=np.nan), "'friction' of the gap law is nan"),
        (lambda: GapLaw(flat_below=0.3), r"give 0 \(no cap\)"),
        (lambda: GapLaw(lip_peak=-0.5), "'lip_peak' without a 'lip_reach'"),
        (lambda: LAWS.of("typcal"), "There is no band 'typcal'.*did you mean 'typical'"),
        (lambda: gap_laws(lip="round"), "There is no lip shape 'round'.*'rounded'"),
        (lambda: gap_laws(lip="sharp"), "A sharp lip needs the thickness"),
        (lambda: flow(BARE, straight(60, 80)[:, :-1]), r"shape \(1, 60\) and gaps of shape \(1, 59\)"),
        (
            lambda: flow(BARE, np.where(S > 0.5, np.nan, 0.06)),
            r"strip 1 is not finite 510\.\d mm behind the lip",
        ),
        (lambda: strip_flow(BARE, S + 0.1, 0.06 + S, speed=50), "strip 1 do not increase from 0"),
        (lambda: flow(BARE, straight(60, 80), relief=[0.5, 0.5]), "'relief' has shape"),
        (lambda: flow(BARE, straight(60, 80), relief=1.5), "relief of a strip is above 1"),
        (lambda: flow(LAWS.low, straight(60, 80), speed=0.0), r"asked for at 0 m/s"),
        (lambda: flow(LAWS.low, straight(60, 80), speed=0.05), r"takes 6\.9 mm of the gap at 0\.05 m/s"),
        (lambda: relief_profile(0.0, [0, 1]), "The side relief is 0"),
        (lambda: relief_profile(0.5, [0, 0]), "sides of the strips do not increase"),
        (lambda: rectangle_relief(0.0, 1.0), "The rectangle is 0 by 1 m"),
        (lambda: displacement_thickness(-0.1, 50.0), "distance from the lip is negative"),
        (lambda: NoseZone(LINE, -0.2), "The nose is -0.2 m high"),
        (lambda: NoseZone(LINE[:1], 0.2), "two or more finite points"),
        (lambda: NoseZone([[0, 0], [0, 0.2], [0.1, 0.1]], 0.2), r"turns back at x = 100\.0, y = 100\.0 mm"),
        (lambda: NoseZone(LINE, 0.2, foot_cp=1.1), "'foot_cp' of the nose is 1.1"),
        (lambda: Tunnel(0.4, 0.2, 0.01), "give the smaller y as 'right'"),
        (lambda: Tunnel(0.2, 0.4, -0.01), "exit area of -0.01"),
        (lambda: StripGrid.from_panel(Polygon()), "is empty"),
        (lambda: StripGrid.from_panel(Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])), "Self-intersection"),
        (lambda: StripGrid.from_panel(PANEL, strips=1), "2 to 1000 strips"),
        (
            lambda: StripGrid.from_panel(MultiPolygon([box(0, -1, 1, -0.2), box(0, 0.2, 1, 1)]), strips=5),
            r"no length along the flow at y = 0\.0 mm",
        ),
        (
            lambda: StripGrid.from_panel(PANEL).tunnel_height([Tunnel(0.7, 0.9, 0.01)]),
            "reaches beside the panel",
        ),
        (lambda: StripGrid.from_panel(PANEL).gap(lambda x, y: x[0]), "gap function returned shape"),
        (
            lambda: StripGrid.from_panel(PANEL).gap(lambda x, y: np.nan),
            r"not finite at x = 600\.0, y = -780\.0 mm",
        ),
        (
            lambda: GapMap(StripGrid.from_panel(PANEL), np.zeros(3), 1.0, None),
            r"give \(40, 60\) finite numbers",
        ),
        (lambda: GapMap.from_panel(PANEL, plane, q=0.0, laws=LAWS, upper=None), "dynamic pressure of 0 Pa"),
    ],
)
def test_faults_are_named(fault: object, text: str) -> None:
    assert callable(fault)
    with pytest.raises(DesignError, match=text):
        fault()
