"""Patch tests and rigid motions (Zienkiewicz & Taylor, The Finite Element Method, ch. on the patch test).

A state of constant strain that satisfies equilibrium must come out exactly on any mesh.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import lattice, resultants
from splitterfem.fem.rigid import rigid_motions
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structured import disc_mesh, distorted, rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

EXACT = 1e-9


def meshes():
    p, t = rectangle_mesh(0.8, 0.5, 4, 3, pattern="cross")
    yield "distorted", distorted(p, t, 0.3, 7)
    yield "disc", disc_mesh(0.4, 3)


MESHES = dict(meshes())
PLY = Homogeneous(0.012, E1=10.7e9, E2=6.8e9, nu12=0.05, G12=0.62e9, G13=0.2e9, G23=0.17e9)


def panel_of(mesh, laminate):
    return Panel(PanelSpace(*mesh), generalised_stiffness(laminate))


def solved_with_boundary(panel, exact, load=None):
    space = panel.space
    fixed = space.dofs_of(space.boundary_nodes(), COMPONENTS)
    free = np.setdiff1d(np.arange(space.n_dofs), fixed)
    K = panel.matrix
    f = np.zeros(space.n_dofs) if load is None else load
    x = exact.copy()
    x[free] = spsolve(K[free][:, free], f[free] - K[free][:, fixed] @ exact[fixed])
    return x


def state(space, u=0.0, v=0.0, w=0.0, px=0.0, py=0.0):
    x = np.zeros((space.n_nodes, 5))
    for c, value in enumerate((u, v, w, px, py)):
        x[:, c] = value
    return x.ravel()


@pytest.mark.parametrize("mesh", MESHES)
@pytest.mark.parametrize("thickness", [1e-4, 1e-2, 0.2])
def test_constant_curvature(mesh, thickness):
    laminate = Homogeneous(thickness, E1=PLY.E1, E2=PLY.E2, nu12=0.05, G12=PLY.G12, G13=0.2e9, G23=0.17e9)
    panel = panel_of(MESHES[mesh], laminate)
    x, y = panel.space.node_points
    kappa = np.array([0.3, -0.2, 0.5])
    exact = state(
        panel.space,
        w=0.5 * kappa[0] * x**2 + 0.5 * kappa[1] * y**2 + 0.5 * kappa[2] * x * y,
        px=kappa[0] * x + 0.5 * kappa[2] * y,
        py=kappa[1] * y + 0.5 * kappa[2] * x,
    )
    found = solved_with_boundary(panel, exact)
    # Round-off grows with the ratio of shear to bending stiffness, (size/thickness)^2 times machine precision.
    round_off = max(EXACT, 4 * np.finfo(float).eps * (0.8 / thickness) ** 2)
    assert np.abs(found - exact).max() < round_off * np.abs(exact).max()
    force = resultants(panel, found, *lattice(panel, 2))
    moment = laminate.D @ kappa
    assert np.abs(force.moment - moment).max() < max(1e-7, 4 * round_off) * np.abs(moment).max()


@pytest.mark.parametrize("mesh", MESHES)
def test_constant_membrane_strain(mesh):
    panel = panel_of(MESHES[mesh], PLY)
    x, y = panel.space.node_points
    exact = state(panel.space, u=0.3 * x - 0.1 * y, v=0.4 * x + 0.2 * y)
    found = solved_with_boundary(panel, exact)
    assert np.abs(found - exact).max() < EXACT * np.abs(exact).max()
    force = resultants(panel, found, *lattice(panel, 2))
    expected = PLY.A @ np.array([0.3, 0.2, 0.3])
    assert np.allclose(force.membrane, expected, rtol=1e-9)


@pytest.mark.parametrize("mesh", MESHES)
def test_constant_shear_in_the_thick_limit(mesh):
    """Rotations held at the boundary: a plate much thicker than wide shears without bending, w linear."""
    laminate = Homogeneous(1e3, E1=1e9, nu12=0.3)
    panel = panel_of(MESHES[mesh], laminate)
    space = panel.space
    x, y = space.node_points
    slope = np.array([0.2, -0.7])
    exact = state(space, w=slope[0] * x + slope[1] * y)
    found = solved_with_boundary(panel, exact)
    assert np.abs(found - exact).max() < 1e-5 * np.abs(exact).max()
    shear = resultants(panel, found, *lattice(panel, 2)).shear
    assert np.allclose(shear, laminate.S @ slope, rtol=1e-5)


@pytest.mark.parametrize("mesh", MESHES)
def test_six_rigid_motions_cost_nothing(mesh):
    panel = panel_of(MESHES[mesh], PLY)
    K = panel.matrix
    values, vectors = np.linalg.eigh(K.toarray())
    assert np.all(np.abs(values[:6]) < 1e-11 * values[-1])
    assert values[6] > 1e-10 * values[-1]
    R = np.linalg.qr(rigid_motions(panel.space))[0]
    assert np.linalg.norm(K @ R) < 1e-11 * values[-1]
    overlap = np.linalg.svd(R.T @ vectors[:, :6], compute_uv=False)
    assert np.all(overlap > 1 - 1e-6)


def test_unsymmetric_layup_patch():
    """A state of constant strain and curvature with membrane-bending coupling B."""
    coupled = Homogeneous(0.012, E1=10.7e9, E2=6.8e9, nu12=0.05, G12=0.62e9, G13=0.2e9, G23=0.17e9)
    C = generalised_stiffness(coupled)
    C[:3, 3:6] = C[3:6, :3] = -0.25 * 0.012 * np.diag([3e9, -2e9, 1e8]) * 0.012
    panel = Panel(PanelSpace(*MESHES["distorted"]), C)
    x = panel.space.node_points[0]
    exact = state(panel.space, u=0.01 * x, v=-0.02 * x, w=0.5 * x**2, px=x, py=0.0)
    found = solved_with_boundary(panel, exact)
    assert np.abs(found - exact).max() < EXACT * np.abs(exact).max()
