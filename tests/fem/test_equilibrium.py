"""Loads that follow the deflection, with supports, ground and large deflection: closed forms and invariants.

Sources: Bisplinghoff, Ashley & Halfman, Aeroelasticity (1955), ch. 8 (static divergence, from memory); the equilibrium
of a rigid plate on a spring is a scalar equation, solved here by itself.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq
from shapely.geometry import box

from splitterfem.errors import SolveError
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.loads import pressure_load, surface_deflection, surface_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.places import Obstacle, panel_places
from splitterfem.fem.recover import displacements
from splitterfem.fem.restraint import held_directions, mean_rows, pad_samples
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

A, B = 0.8, 0.6
"""Length and width of the panel, m."""


class GapPressure:
    """Net pressure ``p0 (h0 / h)^n`` over the gap ``h = h0 + w``, positive down."""

    def __init__(self, panel, p0, h0, n):
        self.panel, self.p0, self.h0, self.n = panel, p0, h0, n
        self.deflection = surface_deflection(panel)

    def _push(self, pressure):
        traction = np.zeros((3, len(pressure)))
        traction[2] = -pressure
        return surface_load(self.panel, traction)

    def load(self, x):
        gap = self.h0 + self.deflection @ x
        return self._push(self.p0 * ((self.h0 / gap) ** self.n - 1.0))

    def slope(self, x):
        gap = self.h0 + self.deflection @ x
        by_w = -self.n * self.p0 / gap * (self.h0 / gap) ** self.n
        return lambda step: self._push(by_w * (self.deflection @ step))


def plate(t, n=8, *, E=10e9):
    laminate = Homogeneous(t, E1=E, nu12=0.3, G12=E / 2.6, G13=E / 2.6, G23=E / 2.6)
    return Panel(PanelSpace(*rectangle_mesh(A, B, n, n)), generalised_stiffness(laminate))


def corner_pads():
    return [(x, y) for x in (0.1, A - 0.1) for y in (0.1, B - 0.1)]


def on_springs(panel, k, *, lower=0.0, upper=0.0):
    """Four springs of stiffness k / 4 under small pads, and pins that hold the panel in its plane."""
    locator = Locator(panel.space)
    supports = []
    for number, (x, y) in enumerate(corner_pads()):
        pad = pad_samples(locator, box(x - 0.02, y - 0.02, x + 0.02, y + 0.02), name=f"pad {number}")
        rows = mean_rows(panel, pad)
        held = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0)} if number < 2 else {}
        if held:
            supports += held_directions(rows, held, support=f"pin {number}")
        up = held_directions(rows, {"z": (0.0, 0.0, 1.0)}, support=f"spring {number}")[0]
        supports.append(replace(up, compliance=4.0 / k, lower=lower, upper=upper))
    return Structure(panel, tuple(supports))


def uniform(panel, p):
    return pressure_load(panel, lambda x, y: np.full_like(x, p))


def sag(panel, response, x, y):
    at = np.array([[x], [y]])
    return -displacements(panel, response.x, Locator(panel.space).find(at, reach=1e-6), at)[0, 2]


@pytest.fixture(scope="module")
def stiff():
    """So thick that it hardly bends on its springs."""
    panel = plate(0.2, 4, E=200e9)
    return panel, on_springs(panel, 50e3)


@pytest.mark.parametrize("n", [1.0, 2.0])
@pytest.mark.parametrize("share", [0.25, 0.5, 0.9, 0.99])
def test_a_rigid_plate_over_a_closing_gap(stiff, n, share):
    """k z = F0 (h0 / (h0 - z))^n; the last equilibrium is at F0 = k h0 n^n / (n + 1)^(n + 1), z = h0 / (n + 1)."""
    panel, structure = stiff
    k, h0 = 50e3, 0.05
    most = k * h0 * n**n / (n + 1.0) ** (n + 1.0)
    force = share * most
    expected = brentq(lambda z: k * z - force * (h0 / (h0 - z)) ** n, 0.0, h0 / (n + 1.0))
    p0 = force / (A * B)
    follower = GapPressure(panel, p0, h0, n)
    response = Balance(structure, uniform(panel, p0), follower=follower).solve()
    assert sag(panel, response, A / 2, B / 2) == pytest.approx(expected, rel=1e-3 / (1.0 - share) ** 0.5)
    assert response.imbalance < 1e-8  # so stiff a plate on so soft springs leaves no more digits
    assert -response.added[2::5].sum() == pytest.approx(k * expected - force, rel=2e-2)


def test_beyond_the_last_equilibrium_it_says_so(stiff):
    panel, structure = stiff
    k, h0 = 50e3, 0.05
    p0 = 1.02 * k * h0 / 4.0 / (A * B)
    with pytest.raises(SolveError, match="suction grows faster than the panel resists it"):
        Balance(structure, uniform(panel, p0), follower=GapPressure(panel, p0, h0, 1.0)).solve()


@pytest.mark.parametrize(("share", "expected"), [(0.25, 0.0669873), (0.5, 0.1464466), (0.9, 0.3418861)])
def test_pull_in_of_a_plate_on_a_spring(stiff, share, expected):
    """d / h0 = (1 - sqrt(1 - q / q_c)) / 2 for a force that goes with 1 / gap."""
    panel, structure = stiff
    k, h0 = 50e3, 0.05
    p0 = share * k * h0 / 4.0 / (A * B)
    response = Balance(structure, uniform(panel, p0), follower=GapPressure(panel, p0, h0, 1.0)).solve()
    assert sag(panel, response, A / 2, B / 2) / h0 == pytest.approx(expected, rel=2e-3)


def flexible():
    """A thin panel on one-sided springs and over ground, with a load that follows its sag."""
    panel = plate(0.006, 8)
    structure = on_springs(panel, 200e3, lower=-1e-3, upper=0.5e-3)
    rows = panel_places(panel, structure.matrix.shape[0])
    h0, p0 = 0.03, 2500.0
    obstacle = Obstacle(rows, np.full(rows.shape[0], -h0))
    return panel, structure, obstacle, GapPressure(panel, p0, 2 * h0, 1.0), uniform(panel, p0)


def test_newton_converges_quadratically_with_everything_at_once():
    _, structure, obstacle, follower, load = flexible()
    large = LargeDeflection(structure)
    response = Balance(structure, load, large=large, follower=follower, obstacle=obstacle).solve()
    assert response.ground.sum() > 0.0
    assert response.ground.min() >= 0.0
    assert response.imbalance < 1e-7
    assert response.play_residual < 1e-8
    steps = [r for r in response.newton.residuals[-1] if r < 1e-2]
    assert len(steps) >= 2
    for before, after in pairwise(steps):
        assert after < max(1e3 * before**2, 1e-9)
    gap = -obstacle.lowest + obstacle.rows @ np.concatenate([response.x, response.extra])
    assert gap.min() > -1e-9
    assert np.abs(gap * response.ground).max() < 1e-8 * response.ground.max() * 0.03


@pytest.mark.parametrize("how", ["rest", "far", "random"])
def test_the_answer_does_not_depend_on_the_start(how):
    _, structure, obstacle, follower, load = flexible()
    balance = Balance(structure, load, follower=follower, obstacle=obstacle)
    wanted = balance.solve()
    start = {
        "rest": np.zeros_like(wanted.x),
        "far": 3.0 * wanted.x,
        "random": np.random.default_rng(1).normal(scale=1e-3, size=wanted.x.shape),
    }[how]
    again = Balance(structure, load, follower=follower, obstacle=obstacle).solve(start=start)
    assert np.array_equal(again.side, wanted.side)
    assert np.array_equal(again.ground > 0.0, wanted.ground > 0.0)
    assert np.abs(again.x - wanted.x).max() < 1e-7 * np.abs(wanted.x).max()


def test_without_anything_nonlinear_it_is_the_linear_answer():
    _, structure, *_, load = flexible()
    linear = structure.solve(load)
    response = Balance(structure, load).solve()
    assert response.newton is None
    assert np.abs(response.x - linear.x).max() < 1e-12 * np.abs(linear.x).max()
    assert np.abs(response.force - linear.force).max() < 1e-9 * np.abs(linear.force).max()


def test_small_feedback_is_the_derivative():
    """To first order the added sag is K^-1 (dF/dw) w: half the pressure, half the share of the sag at rest."""
    panel = plate(0.02, 6)
    structure = on_springs(panel, 1e6)
    ratios = []
    for p0 in (50.0, 25.0):
        load = uniform(panel, p0)
        rest = structure.solve(load)
        fed = Balance(structure, load, follower=GapPressure(panel, p0, 0.05, 1.0)).solve()
        ratios.append(sag(panel, fed, A / 2, B / 2) / sag(panel, rest, A / 2, B / 2) - 1.0)
    assert ratios[0] > 0.0
    assert ratios[1] / ratios[0] == pytest.approx(0.5, rel=2e-2)


def test_a_mirrored_problem_has_the_mirrored_answer():
    panel, structure, obstacle, follower, load = flexible()
    large = LargeDeflection(structure)
    response = Balance(structure, load, large=large, follower=follower, obstacle=obstacle).solve()
    for x, y in ((0.2, 0.1), (0.4, 0.25), (0.7, 0.05)):
        left, right = sag(panel, response, x, y), sag(panel, response, x, B - y)
        assert left == pytest.approx(right, rel=1e-6)
