"""A panel on the ground, against closed forms of beams on rigid floors.

Sources: Timoshenko, Strength of Materials (deflection of cantilevers, superposition; a long heavy beam on a rigid floor
lifted at one end, where moment and slope vanish at the point of lift-off).
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from contact_tools import solve_on_ground

from splitterfem.errors import MechanismError, SolveError
from splitterfem.fem.loads import patch_load, pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.places import Obstacle, panel_places
from splitterfem.fem.recover import displacements
from splitterfem.fem.restraint import Restraint, mean_rows
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

L, B, T, E = 1.0, 0.05, 0.01, 70e9
EI = E * B * T**3 / 12.0


def stops(panel, height):
    """Stops at both ends, above or below."""
    limits = {"lower": -np.inf, "upper": height} if height > 0 else {"lower": height, "upper": np.inf}
    locator = Locator(panel.space)
    ends = [locator.line(np.array([[x, 0.0], [x, B]])) for x in (0.0, L)]
    return tuple(Restraint("stop", "z", mean_rows(panel, end)[[2]], **limits) for end in ends)


def strip(n=100, *, ends=("clamped", "free"), above=None, bolted=(), shear=3 * E):
    """A strip without Poisson effect, bending about y only; with stops far away, or with elements that are bolted."""
    laminate = Homogeneous(T, E1=E, nu12=0.0, G12=E / 2, G13=shear, G23=shear)
    panel = Panel(PanelSpace(*rectangle_mesh(L, B, n, 2)), generalised_stiffness(laminate))
    space = panel.space
    x = space.node_points[0]
    held = [space.dofs_of(np.arange(space.n_nodes), ("u", "v", "phi_y"))]
    for at, how in zip((0.0, L), ends, strict=True):
        nodes = np.flatnonzero(np.abs(x - at) < 1e-9)
        if how == "clamped":
            held.append(space.dofs_of(nodes, COMPONENTS))
        if how == "held":
            held.append(space.dofs_of(nodes, "w"))
    places = panel_places(panel, space.n_dofs)
    restraints = [Restraint("bolt", "z", sp.csr_array(places[[element]])) for element in bolted]
    restraints += stops(panel, above) if above else ()
    return panel, Structure(panel, tuple(restraints), fixed=np.unique(np.concatenate(held)))


def down(panel, q):
    """Load q per length of the strip."""
    return pressure_load(panel, lambda x, y: np.full_like(x, q / B))


def sag(panel, x, at):
    place = np.array([[at], [0.5 * B]])
    return -displacements(panel, x, Locator(panel.space).find(place, reach=1e-6), place)[0, 2]


def floor(panel, structure, gap):
    rows = panel_places(panel, structure.matrix.shape[0])
    return Obstacle(rows, np.full(rows.shape[0], -gap))


def test_no_contact_while_the_gap_is_wide():
    panel, structure = strip(20)
    q = 100.0
    free = q * L**4 / (8 * EI)
    landed = solve_on_ground(structure, down(panel, q), floor(panel, structure, 1.01 * free))
    assert landed.watched == 0
    assert sag(panel, landed.x, L) == pytest.approx(free, rel=1e-4)


def test_a_stop_under_the_tip():
    """Only the last cell of the strip may touch, at the place a of its force.

    R = (3 E I / a^3) (w(a) - g) with the free deflection w(a) = q a^2 (6 L^2 - 4 L a + a^2) / (24 E I).
    """
    panel, structure = strip(50, shear=E)
    q = 100.0
    gap = 0.6 * q * L**4 / (8 * EI)
    obstacle = floor(panel, structure, gap)
    centroids = panel.space.centroids[:, 0]
    lowest = np.where(centroids > L * (1 - 0.02), -gap, -1.0)
    landed = solve_on_ground(structure, down(panel, q), Obstacle(obstacle.rows, lowest))
    a = float(landed.ground @ centroids / landed.ground.sum())
    free = q * a**2 * (6 * L**2 - 4 * L * a + a**2) / (24 * EI)
    assert landed.ground.sum() == pytest.approx(3 * EI / a**3 * (free - gap), rel=1e-3)
    assert landed.ground.min() >= 0.0
    assert landed.residual < 1e-8


@pytest.mark.parametrize("length", [0.35, 0.6, 0.85])
def test_a_heavy_cantilever_lies_down_on_the_floor(length):
    """The free length a follows from q a^4 / (72 E I) = g; the floor carries q (L - a) and a line force.

    A clamped beam at height g: at the touching point slope and moment vanish, so that the deflection of a clamped
    beam under q with an end force R = q a / 3 is g = q a^4 / (72 E I), and a line force q a / 3 acts there.  Which
    element touches first is as fine as the elements, 10 mm here; the force on the floor tells the length to 0.1 %.
    """
    panel, structure = strip(100)
    q = 400.0
    gap = q * length**4 / (72 * EI)
    landed = solve_on_ground(structure, down(panel, q), floor(panel, structure, gap))
    total = landed.ground.sum()
    assert (q * L - total) * 1.5 / q == pytest.approx(length, rel=1e-3)
    assert total == pytest.approx(q * (L - length) + q * length / 3, rel=1e-3)
    touching = panel.space.centroids[landed.ground > 0, 0]
    assert touching.min() == pytest.approx(length, abs=0.01)
    line = panel.space.centroids[:, 0] < length + 0.01
    assert landed.ground[line].sum() == pytest.approx(q * length / 3 + 0.01 * q, abs=0.01 * q)
    assert sag(panel, landed.x, 0.5 * (length + L)) == pytest.approx(gap, rel=1e-6)
    for at in (0.2 * length, 0.5 * length, 0.8 * length):
        assert sag(panel, landed.x, at) == pytest.approx(shape(at, length, q), rel=1e-3)
    assert landed.residual < 1e-8


def shape(x, a, q):
    """Clamped beam of length a under q with the end force that brings the end moment to zero slope."""
    R = q * a / 3
    return q * x**2 * (6 * a**2 - 4 * a * x + x**2) / (24 * EI) - R * x**2 * (3 * a - x) / (6 * EI)


@pytest.mark.parametrize("share", [0.3, 0.5])
def test_a_long_beam_lifted_at_its_end(share):
    """A free beam on a rigid floor, lifted by P at one end: free over a = 2 P / q, raised by q a^4 / (24 E I).

    Slope and moment vanish where it leaves the floor, on which a line force q a / 2 is left.  Nothing else holds it up:
    the stop far above only tells the structure that the panel is not in free flight.
    """
    panel, structure = strip(100, ends=("free", "free"), above=0.5)
    q = 400.0
    P = 0.5 * q * share * L
    tip = Locator(panel.space).line(np.array([[L, 0.0], [L, B]]))
    load = down(panel, q) + patch_load(panel, tip, np.array([0.0, 0.0, P]))
    landed = solve_on_ground(structure, load, floor(panel, structure, 0.0))
    assert -sag(panel, landed.x, L) == pytest.approx(q * (share * L) ** 4 / (24 * EI), rel=1e-3)
    assert landed.ground.sum() == pytest.approx(q * L - P, rel=1e-6)
    touching = panel.space.centroids[landed.ground > 0, 0]
    assert touching.max() == pytest.approx(L - share * L, abs=0.01)
    assert np.all(landed.force == 0.0)


def test_a_panel_that_nothing_else_holds_falls_to_the_floor():
    """It lies flat and the floor bears each element's own weight; pushed up, it flies."""
    panel, structure = strip(20, ends=("free", "free"), above=0.5)
    # rounding grows with the drop: shear is 10 E stiff here, and every digit of it counts
    q, gap = 100.0, 8e-3
    landed = solve_on_ground(structure, down(panel, q), floor(panel, structure, gap))
    assert sag(panel, landed.x, 0.3) == pytest.approx(gap, rel=1e-9)
    assert landed.ground == pytest.approx(q / B * panel.space.area, rel=1e-5)
    _, loose = strip(20, ends=("free", "free"), above=-0.5)
    with pytest.raises(MechanismError, match=r"moves up and down.*lifts it off its supports"):
        solve_on_ground(loose, -down(panel, q), floor(panel, structure, gap))


def test_supports_that_contradict_the_ground_are_named():
    """A bolt that holds an element at its height over ground that is 2 mm higher."""
    panel, structure = strip(20, bolted=(100,))
    obstacle = floor(panel, structure, 0.0)
    lowest = np.where(np.arange(len(obstacle.lowest)) == 100, 2e-3, -1.0)
    with pytest.raises(SolveError, match=r"contradict each other by about [\d.e+-]+ mm.*ride height\.$"):
        solve_on_ground(structure, down(panel, 100.0), Obstacle(obstacle.rows, lowest))


def test_where_it_lies_does_not_depend_on_what_was_watched_first():
    """The same forces from nothing, from every second place, and from all of them."""
    panel, structure = strip(60)
    q = 400.0
    gap = q * 0.6**4 / (72 * EI)
    obstacle = floor(panel, structure, gap)
    first = solve_on_ground(structure, down(panel, q), obstacle)
    for start in (np.arange(0, len(obstacle.lowest), 2), np.arange(len(obstacle.lowest))):
        again = solve_on_ground(structure, down(panel, q), obstacle, start=start)
        assert again.ground == pytest.approx(first.ground, abs=1e-6 * first.ground.max())
        assert np.array_equal(again.ground > 0, first.ground > 0)
