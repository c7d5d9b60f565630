"""Supports with play: closed forms, ties, supports that double each other, and where searching could go wrong.

Sources: deflections of cantilevers and superposition, Timoshenko, Strength of Materials; equilibrium of forces.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from contact_tools import LY, Problem
from numpy.testing import assert_allclose

from splitterfem.errors import MechanismError, SolveError
from splitterfem.fem.factor import factorise
from splitterfem.fem.loads import patch_load, pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.places import Obstacle, Places, panel_places
from splitterfem.fem.play import PlayLaw, PlayProblem
from splitterfem.fem.restraint import Restraint, mean_rows, strut
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

L, B, T, E = 0.6, 0.03, 0.012, 10e9
EI = E * B * T**3 / 12
SPRING = 3 * EI / L**3


def cantilever(n=24):
    """Strip without Poisson effect and stiff in shear, clamped at x = 0."""
    laminate = Homogeneous(T, E1=E, nu12=0.0, G13=E, G23=E)
    panel = Panel(PanelSpace(*rectangle_mesh(L, B, n, 2)), generalised_stiffness(laminate))
    space = panel.space
    nodes = np.flatnonzero(space.node_points[0] < 1e-9)
    return panel, space.dofs_of(nodes, COMPONENTS)


def tip_line(panel):
    return Locator(panel.space).line(np.array([[L, 0.0], [L, B]]))


def cable(panel, **options):
    rows = mean_rows(panel, tip_line(panel))
    up = np.array([0.0, 0.0, 1.0])
    return strut(rows, up, support="cable", bracket_height=0.0, tension_only=True, **options)


def tip_load(panel, force):
    return patch_load(panel, tip_line(panel), np.array([0.0, 0.0, force]))


@pytest.mark.parametrize("slack", [0.0, 0.5e-3, 2e-3, 3.5e-3])
@pytest.mark.parametrize("k", [1e3, 1e5, 1e8])
def test_a_cable_with_slack(slack, k):
    """T = (P L^3 / 3 E I - s) / (L^3 / 3 E I + 1 / k) once the free deflection exceeds the slack s."""
    panel, clamped = cantilever()
    load = 3e-3 * SPRING
    structure = Structure(panel, (cable(panel, stiffness=k, slack=slack),), fixed=clamped)
    response = structure.solve(tip_load(panel, -load))
    expected = max(load / SPRING - slack, 0.0) / (1 / SPRING + 1 / k)
    assert response.force[0] == pytest.approx(expected, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize(("preload", "slack"), [(5.0, 0.0), (5.0, 2e-3), (0.5, 2e-3)])
def test_preload_against_slack(preload, slack):
    """Pulled tight with p at no elongation, less k s: T = (p - k s + k P / K) / (1 + k / K) with K = 3 E I / L^3."""
    panel, clamped = cantilever()
    k, load = 1e3, 1e-3 * SPRING
    cables = (cable(panel, stiffness=k, slack=slack, preload=preload),)
    response = Structure(panel, cables, fixed=clamped).solve(tip_load(panel, -load))
    expected = max(preload - k * slack + k * load / SPRING, 0.0) / (1 + k / SPRING)
    assert response.force[0] == pytest.approx(expected, rel=1e-3, abs=1e-9)


def test_a_tip_between_two_stops():
    """Free within the gap, R = K (w_free - g) beyond it, on either side."""
    panel, clamped = cantilever()
    row = mean_rows(panel, tip_line(panel))[[2]]
    stop = Restraint("slot", "z", row, lower=-2e-3, upper=1e-3)
    structure = Structure(panel, (stop,), fixed=clamped)
    for free in (-5e-3, -1.9e-3, 0.9e-3, 4e-3):
        response = structure.solve(tip_load(panel, free * SPRING))
        expected = SPRING * (free - min(max(free, -2e-3), 1e-3))
        assert response.force[0] == pytest.approx(expected, rel=1e-3, abs=1e-9)


def test_supports_that_double_each_other_share_their_force():
    """Two equal cables, two equal stops at one place: half each, and together what one of twice the stiffness takes."""
    panel, clamped = cantilever()
    load = tip_load(panel, -5e-3 * SPRING)
    twin = tuple(cable(panel, stiffness=2e4, slack=1e-3) for _ in range(2))
    one = Structure(panel, (cable(panel, stiffness=4e4, slack=1e-3),), fixed=clamped).solve(load)
    two = Structure(panel, twin, fixed=clamped).solve(load)
    # a strip this slender is known to some 2e-9: the order of elimination alone changes its answer by that
    assert_allclose(two.force, np.full(2, 0.5 * one.force[0]), rtol=1e-8)
    row = mean_rows(panel, tip_line(panel))[[2]]
    stops = tuple(Restraint("stop", f"{i}", row, lower=-1e-3, upper=np.inf) for i in range(3))
    single = Structure(panel, stops[:1], fixed=clamped).solve(load)
    several = Structure(panel, stops, fixed=clamped).solve(load)
    # what shares a rigid stop is a billionth of the panel's give, so its share is known to some seven digits
    assert_allclose(several.force, np.full(3, single.force[0] / 3), rtol=1e-5)
    assert_allclose(several.x, single.x, atol=1e-12)


def symmetric(clearance):
    """Pockets, cables and stops that mirror each other."""
    problem = Problem(2)
    problem.hold(0.3, 0.6, "xy")
    problem.hold(0.45, 0.6, "y")
    for y in (0.25, 0.95):
        problem.pocket(y, width=0.1, overlap=0.045, up=clearance, down=clearance)
    for y, lean in ((0.1, -0.2), (1.1, 0.2)):
        problem.strut(0.55, y, lean=(-0.5, lean), height=0.03, stiffness=1e6, tension_only=True, slack=2e-4)
        problem.stop(0.45, y, gap=5e-4, compliance=0.0, above=False)
    return problem


@pytest.mark.parametrize("clearance", [0.0, 1e-3])
@pytest.mark.parametrize("pressure", [500.0, 3000.0])
def test_a_symmetric_design_bears_a_symmetric_load_evenly(clearance, pressure):
    """Ties everywhere: mirror images carry the same, on a mesh that mirrors itself."""
    problem = symmetric(clearance)
    problem.press(pressure, 0.0, 0.0)
    response = problem.structure().solve(problem.load)
    wrenches = np.array(problem.wrenches) * response.force[:, None]
    assert_allclose(wrenches.sum(axis=0), problem.pull, atol=1e-9 * problem.size)
    half = np.sign([y - LY / 2 for _, y, _ in problem.places])
    for support in ("strut", "pocket", "stop"):
        here = np.array([r.support.startswith(support) for r in problem.restraints])
        left, right = (wrenches[here & (half == side), 2].sum() for side in (-1, 1))
        assert left == pytest.approx(right, rel=1e-7, abs=1e-7 * problem.size)
        assert support == "stop" or left != 0.0


@pytest.mark.parametrize("up", [False, True])
def test_a_loose_panel_moves_until_something_stops_it(up):
    """One hinge line and a far stop, stiff or not: the moment about the hinge gives its force."""
    panel, _ = cantilever()
    space = panel.space
    hinge = mean_rows(panel, Locator(space).line(np.array([[0.0, 0.0], [0.0, B]])))
    fixed = np.union1d(
        space.dofs_of(np.arange(space.n_nodes), ("u", "v")),
        space.dofs_of(np.flatnonzero(space.node_points[0] < 1e-9), "phi_y"),
    )
    row = mean_rows(panel, tip_line(panel))[[2]]
    restraints = (
        Restraint("hinge", "z", hinge[[2]]),
        Restraint("net", "far", row, lower=-0.2, upper=np.inf, compliance=1e-6),
        Restraint("lid", "far", row, lower=-np.inf, upper=0.3),
        Restraint("floor", "farther", row, lower=-0.4, upper=np.inf),
    )
    q = 50.0 if up else -50.0
    load = pressure_load(panel, lambda x, y: np.full_like(x, -q / B))
    response = Structure(panel, restraints, fixed=fixed).solve(load)
    expected = np.array([0.5 * q * L, 0.0, 0.5 * q * L, 0.0] if up else [0.5 * q * L, 0.5 * q * L, 0.0, 0.0])
    assert response.force == pytest.approx(expected, rel=1e-6, abs=1e-9)  # it falls far for a stiff strip
    with pytest.raises(MechanismError, match=r"pitches .* lifts it off its supports"):
        Structure(panel, restraints[:2] if up else (restraints[0], restraints[2]), fixed=fixed).solve(load)


def test_touching_without_force_holds_where_it_leaves_no_way():
    """A panel without weight between a floor and a lid without gap stays; on the floor alone it could be lifted off."""
    problem = Problem(0)
    problem.hold(0.3, 0.45, "xy")
    problem.hold(0.3, 0.25, "x")
    for x, y in ((0.05, 0.1), (0.05, 1.1), (0.55, 0.6)):
        problem.stop(x, y, gap=0.0, compliance=0.0, above=False)
    problem.push(0.55, 0.95, [100.0, 0.0, 0.0])
    with pytest.raises(MechanismError, match="moves up and down"):
        problem.structure().solve(problem.load)
    for x, y in ((0.05, 0.1), (0.05, 1.1), (0.55, 0.6)):
        problem.stop(x, y, gap=0.0, compliance=0.0, above=True)
    response = problem.structure().solve(problem.load)
    assert np.abs(response.x[2::5]).max() < 1e-12
    assert_allclose(np.array(problem.wrenches).T @ response.force, problem.pull, atol=1e-9 * problem.size)


def test_supports_that_contradict_each_other_are_refused_with_the_size_of_it():
    """Two slots for one place, a millimetre apart."""
    panel, clamped = cantilever()
    row = mean_rows(panel, tip_line(panel))[[2]]
    slots = tuple(Restraint("slot", f"{z}", row, lower=z, upper=z) for z in (0.0, 1e-3))
    with pytest.raises(SolveError, match=r"contradict each other by about 0\.5 mm"):
        Structure(panel, slots, fixed=clamped).solve(tip_load(panel, -1.0))


def test_a_search_from_any_set_ends_with_the_same_one():
    """Random bodies and every one of the 3^m sets to begin with; the energy has one lowest place."""
    rng = np.random.default_rng(5)
    for _ in range(5):
        m = 4
        factor = rng.normal(size=(m, m + 1))
        reference = rng.uniform(0.5, 2.0, m)
        flexibility = np.linalg.inv(factor @ factor.T + np.diag(reference))
        law = PlayLaw(-rng.uniform(0, 1, m), rng.uniform(0, 1, m), np.where(rng.random(m) < 0.5, 0.0, 0.3))
        problem = PlayProblem(flexibility, reference, law, np.zeros((m, 0)))
        motion = flexibility @ (5 * rng.normal(size=m))
        states = [problem.solve(motion, start=np.array(start) - 1) for start in np.ndindex(*(3,) * m)]
        for state in states[1:]:
            assert_allclose(state.force, states[0].force, rtol=1e-9, atol=1e-12)
            assert_allclose(state.motion, states[0].motion, rtol=1e-9, atol=1e-12)
            assert np.array_equal(state.side, states[0].side)


def test_half_of_the_factors_gives_the_flexibility():
    """b' A^-1 c from the lower half alone, against solving."""
    rng = np.random.default_rng(2)
    sparse = sp.csc_array(np.where(rng.random((80, 80)) < 0.05, rng.random((80, 80)), 0.0))
    matrix = sp.csc_array(sparse @ sparse.T + sp.eye_array(80))
    factor = factorise(matrix)
    rhs = rng.normal(size=(80, 7))
    half = factor.lower.forward(rhs)
    assert_allclose(
        half.T @ (half / factor.lower.pivots[:, None]), rhs.T @ factor.solve(rhs), rtol=1e-10, atol=1e-12
    )


def test_many_places_watched_in_parts_or_at_once_have_the_same_flexibility():
    """Up to a few dozen places are solved for in full, more by halves: neither must show."""
    panel, clamped = cantilever()
    structure = Structure(panel, fixed=clamped)
    rows = panel_places(panel, panel.space.n_dofs)
    places = Places(structure, Obstacle(rows, np.full(rows.shape[0], -1e-3)))
    every = np.arange(rows.shape[0])
    load = pressure_load(panel, lambda x, y: np.full_like(x, 2e3))
    x, state = places.watching(structure.base, every).solve(load)
    held = structure.base
    for part in np.array_split(every, 7):
        held = places.watching(held, part)
    again, other = held.solve(load)
    assert np.count_nonzero(state.side) > 20
    assert np.array_equal(other.side, state.side)
    assert_allclose(again, x, atol=1e-9 * np.abs(x).max())
