"""Ribs on joints that slip: partial composite action and the stress peaks of lap joints.

Sources: Newmark, Siess & Viest, Proc. Soc. Exp. Stress Anal. 9 (1951) 75-92, in the form of Girhammar & Pan, Int. J.
Mech. Sci. 49 (2007) 239-255 (formulas from memory, digits recomputed from them); EN 1995-1-1:2004 annex B, which is
exact for a sinusoidal load; Volkersen 1938 (formula from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from splitterfem.fem.loads import patch_load, pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import BeamLine, RibParts, SlipJoint
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

# Flange 120 x 12 mm, E = 9 GPa; web 20 x 40 mm, E = 11 GPa; 1.2 m simply supported.
L, B, T, E1 = 1.2, 0.12, 0.012, 9e9
WIDTH, DEPTH, E2 = 0.02, 0.04, 11e9
EI0, EI_FULL = 1328.853, 4871.889


def composite(k):
    """Cylindrical bending of the flange with the web on a joint of stiffness k (N/m2); None: ideal bond."""
    laminate = Homogeneous(T, E1=E1, nu12=0.0, G12=50 * E1, G13=10 * E1, G23=10 * E1)
    panel = Panel(PanelSpace(*rectangle_mesh(L, B, 24, 2)), generalised_stiffness(laminate))
    area = WIDTH * DEPTH
    points = np.array([[0.0, B / 2], [L, B / 2]])
    line = BeamLine(points, 0.5 * (T + DEPTH), E2 * area, E2 * WIDTH * DEPTH**3 / 12, 0.0, 10 * E2 * area)
    slip = None if k is None else SlipJoint(k, T / 2)
    rib = rib_operators(panel, Locator(panel.space), RibParts("web", points, (line,), (), slip=slip))
    space = panel.space
    x, y = space.node_points
    ends = np.flatnonzero((x < 1e-9) | (x > L - 1e-9))
    middle = np.flatnonzero((np.abs(x - L / 2) < 1e-9) & (np.abs(y - B / 2) < 1e-9))
    fixed = np.unique(
        np.concatenate(
            [
                space.dofs_of(ends, "w"),
                space.dofs_of(np.arange(space.n_nodes), ("v", "phi_y")),
                space.dofs_of(middle, "u"),
            ]
        )
    )
    structure = Structure(panel, contributions=rib.contributions, n_extra=rib.n_extra, fixed=fixed)
    return panel, rib, structure


def middle_sag(panel, response):
    at = np.array([[L / 2], [B / 2]])
    return -displacements(panel, response.x, Locator(panel.space).find(at), at)[0, 2]


@pytest.mark.parametrize(
    ("k", "uniform", "force", "axial"),
    [
        (1e5, 4.033696e-3, 2.689458e-3, 10.45839),
        (1e6, 3.789051e-3, 2.529005e-3, 95.83752),
        (1e7, 2.566417e-3, 1.725786e-3, 521.2641),
        (1e8, 1.367978e-3, 0.9268751e-3, 928.0338),
        (1e10, 1.111214e-3, 0.7412335e-3, 1006.149),
    ],
)
def test_newmark(k, uniform, force, axial):
    """Mid-span sag under 200 N/m and under 100 N in the middle, and the web's axial force, within 0.5 %."""
    panel, rib, structure = composite(k)
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, 200.0 / B)))
    assert middle_sag(panel, response) == pytest.approx(uniform, rel=5e-3)
    _, rate = rib.field.at(np.array([L / 2]), response.extra)
    curvature = -rib_curvature(panel, response, L / 2)
    N = E2 * WIDTH * DEPTH * (rate[0] + (DEPTH / 2) * curvature)
    assert abs(N) == pytest.approx(axial, rel=5e-3, abs=0.05)
    patch = Locator(panel.space).area(shapely.box(L / 2 - 0.001, 0.0, L / 2 + 0.001, B))
    response = structure.solve(patch_load(panel, patch, np.array([0.0, 0.0, -100.0])))
    assert middle_sag(panel, response) == pytest.approx(force, rel=5e-3)


def rib_curvature(panel, response, x):
    at = np.array([[x], [B / 2]])
    element = Locator(panel.space).find(at)
    return panel.gather(element, panel.strain_rows(element, at), response.x)[0, 3]


@pytest.mark.parametrize("k", [1e6, 1e7, 1e8])
def test_annex_b(k):
    """EN 1995-1-1 annex B: exact for q sin(pi x/L); sag = q L^4/(pi^4 EI_ef)."""
    EA1, EA2, r = E1 * B * T, E2 * WIDTH * DEPTH, 0.026
    gamma = 1 / (1 + np.pi**2 * EA1 / (k * L**2))
    a2 = gamma * EA1 * r / (gamma * EA1 + EA2)
    EI = EI0 + gamma * EA1 * (r - a2) ** 2 + EA2 * a2**2
    panel, _, structure = composite(k)
    response = structure.solve(pressure_load(panel, lambda x, y: 1000.0 * np.sin(np.pi * x / L) + 0 * y))
    assert middle_sag(panel, response) == pytest.approx(1000.0 * B * L**4 / (np.pi**4 * EI), rel=5e-3)


def test_limits_of_the_joint():
    """A joint without stiffness leaves EI0; a very stiff one gives the ideal bond."""
    load = 200.0
    loose, tight, bonded = composite(1e-3), composite(1e13), composite(None)
    sags = []
    for panel, _, structure in (loose, tight, bonded):
        response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, load / B)))
        sags.append(middle_sag(panel, response))
    assert sags[0] == pytest.approx(5 * load * L**4 / (384 * EI0), rel=3e-3)
    assert sags[1] == pytest.approx(sags[2], rel=1e-4)
    assert sags[2] == pytest.approx(5 * load * L**4 / (384 * EI_FULL), rel=3e-3)


@pytest.mark.parametrize(("E", "t", "peak"), [(70e9, 2e-3, 6.698307e6), (10e9, 6e-3, 12.07801e6)])
def test_volkersen_lap_joint(E, t, peak):
    """25 mm lap, 0.2 mm of glue with G = 1 GPa, 50 kN/m in 2 mm aluminium: shear at the loaded end of sheet 1.

    The panel is sheet 2 (or its equal); the rib is a 2 mm bar that is pulled at one end, as a distributed
    stretch in its own axis; bending is suppressed, as Volkersen's theory has none.
    """
    lap, glue, G, P, width = 0.025, 2e-4, 1e9, 50e3, 0.02
    EA_bar = 70e9 * 2e-3 * width
    laminate = Homogeneous(t, E1=E, nu12=0.0, G12=100 * E)
    panel = Panel(PanelSpace(*rectangle_mesh(lap, width, 40, 2)), generalised_stiffness(laminate))
    points = np.array([[0.0, width / 2], [lap, width / 2]])
    bar = BeamLine(points, 0.0, EA_bar, 1.0, 0.0, 1.0)
    parts = RibParts("bar", points, (bar,), (), slip=SlipJoint(G * width / glue, 0.0))
    rib = rib_operators(panel, Locator(panel.space), parts)
    space = panel.space
    x, _ = space.node_points
    bending = space.dofs_of(np.arange(space.n_nodes), ("v", "w", "phi_x", "phi_y"))
    held = space.dofs_of(np.flatnonzero(x > lap - 1e-9), "u")
    structure = Structure(
        panel, contributions=rib.contributions, n_extra=rib.n_extra, fixed=np.union1d(bending, held)
    )
    # The bar is pulled at x = 0 by P; the panel is held at x = lap.
    load = np.zeros(space.n_dofs + rib.n_extra)
    load[space.n_dofs + rib.field.first] = -P * width
    unknowns = np.zeros_like(load)
    unknowns[structure.free] = structure.base.factor.solve(load[structure.free])
    s = np.array([0.0, lap])
    at = np.vstack([np.clip(s, 1e-9, lap - 1e-9), np.full(2, width / 2)])
    elements = Locator(space).find(at)
    u = displacements(panel, unknowns[: space.n_dofs], elements, at)[:, 0]
    tau = np.abs(rib.field.at(s, unknowns[space.n_dofs :])[0] - u) * G / glue
    assert tau.max() == pytest.approx(peak, rel=2e-2)
    assert tau.max() > 2.0e6 * 2  # far above the mean of 2 MPa
