"""Linear buckling of plates under in-plane compression.

Sources: Timoshenko & Gere, Theory of Elastic Stability, ch. 9 (simply supported squares: closed form k = 4 one-way, 2
two-way; clamped 10.07, from memory); the orthotropic closed form is that of Lekhnitskii, Anisotropic Plates.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.modes import buckling
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

T = 1e-3
STRAIN = 1e-6


def plate(edge, laminate, *, lx=1.0, n=10):
    """A plate without in-plane motion in its buckling shapes."""
    panel = Panel(PanelSpace(*rectangle_mesh(lx, 1.0, round(n * lx), n)), generalised_stiffness(laminate))
    space = panel.space
    x, y = space.node_points
    held = [space.dofs_of(np.arange(space.n_nodes), ("u", "v")), space.dofs_of(space.boundary_nodes(), "w")]
    sides, ends = (
        np.flatnonzero((np.abs(c) < 1e-9) | (np.abs(c - size) < 1e-9)) for c, size in ((y, 1.0), (x, lx))
    )
    if edge == "clamped":
        held.append(space.dofs_of(space.boundary_nodes(), ("phi_x", "phi_y")))
    else:
        held += [space.dofs_of(sides, "phi_x"), space.dofs_of(ends, "phi_y")]
    return panel, Structure(panel, fixed=np.unique(np.concatenate(held)))


def factor(edge, laminate, strain, **options):
    """Lowest buckling load N_x over that of the strains (x, y) that are put on."""
    panel, structure = plate(edge, laminate, **options)
    x = np.zeros(panel.space.n_dofs)
    nodes = panel.space.node_points
    x[0::5], x[1::5] = strain[0] * nodes[0], strain[1] * nodes[1]
    geometric = LargeDeflection(structure).geometric(x)
    found = buckling(structure.matrix, geometric, structure.free, 3)
    assert found.residual < 1e-6
    assert np.all(np.diff(found.values) >= -1e-9 * found.values[0])
    return found.values[0]


def strains_of(laminate, forces):
    """Strains (x, y) under membrane forces N_x, N_y."""
    return np.linalg.solve(laminate.A[:2, :2], np.array(forces))


@pytest.mark.parametrize(
    ("edge", "forces", "k", "tolerance"),
    [
        ("hard", (-1.0, 0.0), 4.0, 1e-3),
        ("hard", (-1.0, -1.0), 2.0, 1e-3),
        ("clamped", (-1.0, 0.0), 10.07, 3e-3),
    ],
)
def test_squares(edge, forces, k, tolerance):
    laminate = Homogeneous(T)
    found = factor(edge, laminate, strains_of(laminate, forces))
    assert found == pytest.approx(k * np.pi**2 * laminate.D[0, 0], rel=tolerance)


def test_a_long_plate_buckles_in_square_waves():
    """Side ratio 3: three half waves, k = 4."""
    laminate = Homogeneous(T)
    found = factor("hard", laminate, strains_of(laminate, (-1.0, 0.0)), lx=3.0, n=6)
    assert found == pytest.approx(4.0 * np.pi**2 * laminate.D[0, 0], rel=3e-3)


def test_an_orthotropic_plate():
    """Least over m of (D11 a^4 + 2 (D12 + 2 D66) a^2 b^2 + D22 b^4) / a^2, a = m pi / l."""
    laminate = Homogeneous(T, E1=1.0, E2=12.0, nu12=0.02, G12=0.6, G13=0.6, G23=0.3)
    D, lx = laminate.D, 2.0
    b = np.pi
    expected = min(
        (D[0, 0] * a**4 + 2 * (D[0, 1] + 2 * D[2, 2]) * a**2 * b**2 + D[1, 1] * b**4) / a**2
        for a in np.pi * np.arange(1, 8) / lx
    )
    found = factor("hard", laminate, strains_of(laminate, (-1.0, 0.0)), lx=lx)
    assert found == pytest.approx(expected, rel=2e-3)


def test_tension_does_not_buckle():
    laminate = Homogeneous(T)
    panel, structure = plate("hard", laminate)
    x = np.zeros(panel.space.n_dofs)
    x[0::5] = STRAIN * panel.space.node_points[0]
    found = buckling(structure.matrix, LargeDeflection(structure).geometric(x), structure.free, 2)
    assert len(found.values) == 0
    assert sp.issparse(structure.matrix)
