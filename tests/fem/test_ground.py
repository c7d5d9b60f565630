"""A panel on the ground, against closed forms of beams on rigid floors.

Sources: Timoshenko, Strength of Materials (deflection of cantilevers, superposition; a long heavy beam on a rigid floor
lifted at one end, where moment and slope vanish at the point of lift-off).
"""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem.fem.ground import Obstacle, panel_places, solve_on_ground
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

L, B, T, E = 1.0, 0.05, 0.01, 70e9
EI = E * B * T**3 / 12.0


def strip(n=100, *, ends=("clamped", "free")):
    """A strip without Poisson effect, bending about y only."""
    laminate = Homogeneous(T, E1=E, nu12=0.0, G12=E / 2, G13=10 * E, G23=10 * E)
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
    return panel, Structure(panel, fixed=np.unique(np.concatenate(held)))


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
    """R = (3 E I / L^3) (q L^4 / 8 E I - g): the last strip of elements alone may touch."""
    panel, structure = strip(100)
    q = 100.0
    gap = 0.6 * q * L**4 / (8 * EI)
    obstacle = floor(panel, structure, gap)
    centroids = panel.space.centroids[:, 0]
    lowest = np.where(centroids > L * (1 - 0.01), -gap, -1.0)
    landed = solve_on_ground(structure, down(panel, q), Obstacle(obstacle.rows, lowest))
    expected = 3 * EI / L**3 * (q * L**4 / (8 * EI) - gap)
    assert landed.ground.sum() == pytest.approx(expected, rel=1e-2)  # a strip 10 mm wide and not the very tip
    assert landed.ground.min() >= -1e-9 * expected
    assert landed.residual < 1e-8


def test_a_heavy_cantilever_lies_down_on_the_floor():
    """The free length a follows from q a^4 / (72 E I) = g; the floor carries q (L - a) and a line force.

    A clamped beam at height g: at the touching point slope and moment vanish, so that the deflection of a clamped
    beam under q with an end force R = q a / 3 is g = q a^4 / (72 E I), and a line force q a / 3 acts there.
    """
    panel, structure = strip(200)
    q = 400.0
    length = 0.6
    gap = q * length**4 / (72 * EI)
    landed = solve_on_ground(structure, down(panel, q), floor(panel, structure, gap))
    touching = panel.space.centroids[landed.ground > 0, 0]
    assert touching.min() == pytest.approx(length, abs=0.012)
    assert landed.ground.sum() == pytest.approx(q * (L - length) + q * length / 3, rel=1e-2)
    assert sag(panel, landed.x, 0.8) == pytest.approx(gap, rel=1e-3)
    assert sag(panel, landed.x, 0.3) == pytest.approx(shape(0.3, length, q), rel=1e-2)
    assert landed.residual < 1e-8


def shape(x, a, q):
    """Clamped beam of length a under q with the end force that brings the end moment to zero slope."""
    R = q * a / 3
    return q * x**2 * (6 * a**2 - 4 * a * x + x**2) / (24 * EI) - R * x**2 * (3 * a - x) / (6 * EI)


def test_where_it_lies_does_not_depend_on_where_it_was_watched_first():
    """The same set from a load that is halved first and from one that is not."""
    panel, structure = strip(60)
    q = 400.0
    gap = q * 0.6**4 / (72 * EI)
    obstacle = floor(panel, structure, gap)
    straight = solve_on_ground(structure, down(panel, q), obstacle)
    twice = solve_on_ground(structure, down(panel, q), Obstacle(obstacle.rows, obstacle.lowest * (1 + 1e-13)))
    assert straight.ground == pytest.approx(twice.ground, rel=1e-4, abs=1e-5 * straight.ground.max())
