"""Ribs against closed forms of composite sections and converged Ritz solutions of stiffened plates."""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem.errors import DesignError
from splitterfem.fem.contribution import assemble
from splitterfem.fem.linerows import LineRows
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import BeamLine, FootLayer, RibParts, offset_polyline
from splitterfem.fem.rigid import rigid_motions
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import distorted, rectangle_mesh
from splitterfem.fem.textbook import Homogeneous


def stiffened(mesh, laminate, lines=(), layers=()):
    """Panel and the contributions of ribs, one for each line and layer."""
    panel = Panel(PanelSpace(*mesh), generalised_stiffness(laminate))
    locator = Locator(panel.space)
    ribs = [RibParts("rib", line.points, (line,), ()) for line in lines]
    ribs += [RibParts("rib", layer.points, (), (layer,)) for layer in layers]
    return panel, tuple(part for rib in ribs for part in rib_operators(panel, locator, rib).contributions)


def solid_rib(points, width, depth, E, t, *, eccentric=True, nu=0.3, rigid=1e2):
    """A solid rectangular rib as one line; shear-rigid, as the sources have it."""
    area = width * depth
    return BeamLine(
        points=np.array(points, dtype=float),
        z=0.5 * (t + depth) if eccentric else 0.0,
        EA=E * area,
        EI=E * width * depth**3 / 12,
        GJ=0.0,
        GAs=rigid * E * area,
    )


def deflection(panel, x, at):
    at = np.array(at, dtype=float)[:, None]
    return displacements(panel, x, Locator(panel.space).find(at, reach=1e-6), at)[0, 2]


@pytest.mark.parametrize(("eccentric", "expected"), [(True, 0.541997e-3), (False, 2.111486e-3)])
def test_t_strip(eccentric, expected):
    """Transformed section of a T: flange 100 x 10, web 10 x 40 mm, E = 10 GPa, 1 m span, 100 N/m (closed form)."""
    L, b, t, E = 1.0, 0.1, 0.01, 10e9
    laminate = Homogeneous(t, E1=E, nu12=0.0, G12=1e2 * E, G13=1e2 * E, G23=1e2 * E)
    rib = solid_rib([[0, b / 2], [L, b / 2]], 0.01, 0.04, E, t, eccentric=eccentric)
    panel, ribs_on_it = stiffened(rectangle_mesh(L, b, 20, 2), laminate, [rib])
    space = panel.space
    x, y = space.node_points
    ends = np.flatnonzero((x < 1e-9) | (x > L - 1e-9))
    middle = np.flatnonzero((np.abs(x - L / 2) < 1e-9) & (np.abs(y - b / 2) < 1e-9))
    # In-plane shear is made stiff, as the closed form knows no shear lag; no motion across the width.
    fixed = np.unique(
        np.concatenate(
            [
                space.dofs_of(ends, "w"),
                space.dofs_of(np.arange(space.n_nodes), ("v", "phi_y")),
                space.dofs_of(middle, "u"),
            ]
        )
    )
    structure = Structure(panel, contributions=ribs_on_it, fixed=fixed)
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, 100.0 / b)))
    assert -deflection(panel, response.x, (L / 2, b / 2)) == pytest.approx(expected, rel=1e-3)


def simply_supported(panel, a, b):
    """Hard simple support, tangential in-plane motion held, normal free."""
    space = panel.space
    x, y = space.node_points
    along_y = np.flatnonzero((x < 1e-9 * a) | (x > a * (1 - 1e-9)))
    along_x = np.flatnonzero((y < 1e-9 * b) | (y > b * (1 - 1e-9)))
    return np.unique(
        np.concatenate(
            [space.dofs_of(along_y, ("w", "v", "phi_y")), space.dofs_of(along_x, ("w", "u", "phi_x"))]
        )
    )


@pytest.mark.parametrize("mesh", ["on mesh lines", "between mesh lines"])
def test_square_plate_with_one_rib(mesh):
    """Plate of Rossow & Ibrahimkhail, Computers & Structures 8 (1978) 51-60, one eccentric rib.

    The value is a converged Ritz and Fourier solution of the same problem (tangential in-plane motion held):
    0.00347239 mm at the centre, 0.0662804 mm without the rib.
    """
    a, t, E = 25.4e-3, 0.254e-3, 117.2109e9
    cells = 16 if mesh == "on mesh lines" else 15
    laminate = Homogeneous(t, E1=E)
    rib = solid_rib([[0, a / 2], [a, a / 2]], 0.254e-3, 2.54e-3, E, t)
    for ribs, expected in (([], 0.0662804e-3), ([rib], 0.00347239e-3)):
        panel, ribs_on_it = stiffened(rectangle_mesh(a, a, cells, cells), laminate, ribs)
        structure = Structure(panel, contributions=ribs_on_it, fixed=simply_supported(panel, a, a))
        response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, 6894.757)))
        assert -deflection(panel, response.x, (a / 2, a / 2)) == pytest.approx(expected, rel=6e-3)


@pytest.mark.parametrize(
    ("depths", "expected"), [((76.2e-3, 127e-3), 0.228709e-3), ((127e-3, 76.2e-3), 0.535144e-3)]
)
def test_rectangular_plate_with_crossing_ribs(depths, expected):
    """Same source, two crossing ribs; converged Ritz values."""
    a, b, t, E = 1.524, 0.762, 6.35e-3, 206.8427e9
    ribs = [
        solid_rib([[0, b / 2], [a, b / 2]], 12.7e-3, depths[0], E, t),
        solid_rib([[a / 2, 0], [a / 2, b]], 12.7e-3, depths[1], E, t),
    ]
    panel, ribs_on_it = stiffened(rectangle_mesh(a, b, 24, 16), Homogeneous(t, E1=E), ribs)
    structure = Structure(panel, contributions=ribs_on_it, fixed=simply_supported(panel, a, b))
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, 68947.57)))
    assert -deflection(panel, response.x, (a / 2, b / 2)) == pytest.approx(expected, rel=1e-2)


def slanted(points):
    line = solid_rib(points, 0.01, 0.03, 70e9, 0.012)
    return BeamLine(line.points, line.z, line.EA, line.EI, 500.0, 1e7)


PLY = Homogeneous(0.012, E1=10.7e9, E2=6.8e9, nu12=0.05, G12=0.62e9, G13=0.2e9, G23=0.17e9)


def test_ribs_leave_rigid_motions_free():
    points, triangles = rectangle_mesh(0.8, 0.5, 8, 5)
    line = slanted([[0.1, 0.05], [0.5, 0.31], [0.71, 0.33]])
    layer = FootLayer(line.points, 0.025, 0.003, 0.0075, 70e9, 26e9)
    panel, ribs_on_it = stiffened(distorted(points, triangles, 0.25, 5), PLY, [line], [layer])
    K = assemble(panel, ribs_on_it, 0)
    assert np.linalg.norm(K @ rigid_motions(panel.space)) < 1e-9 * abs(K).max()


@pytest.mark.parametrize(("cells", "tolerance"), [((16, 10), 1.2e-2), ((32, 20), 6e-3)])
def test_a_rib_between_mesh_lines_costs_little_accuracy(cells, tolerance):
    """The same rib along mesh lines and half a cell beside them: the sag agrees, the better the finer the mesh."""
    sags = []
    for shift in (0.0, 0.5):
        nx, ny = cells
        points, triangles = rectangle_mesh(0.8, 0.5, nx, ny)
        inner = (points[1] > 1e-9) & (points[1] < 0.5 - 1e-9)
        points[1, inner] += shift * 0.5 / ny * np.sin(np.pi * points[1, inner] / 0.5)
        line = slanted([[0.1, 0.25], [0.7, 0.25]])
        layer = FootLayer(line.points, 0.025, 0.003, 0.0075, 70e9, 26e9)
        panel, ribs_on_it = stiffened((points, triangles), PLY, [line], [layer])
        space = panel.space
        fixed = space.dofs_of(np.flatnonzero(space.node_points[0] < 1e-9), COMPONENTS)
        response = Structure(panel, contributions=ribs_on_it, fixed=fixed).solve(
            pressure_load(panel, lambda x, y: np.full_like(x, 1000.0))
        )
        sags.append([-deflection(panel, response.x, at) for at in ((0.8, 0.0), (0.8, 0.25), (0.4, 0.25))])
    assert sags[0] == pytest.approx(sags[1], rel=tolerance)


def test_rib_off_the_panel_is_refused():
    panel = Panel(PanelSpace(*rectangle_mesh(0.8, 0.5, 8, 5)), generalised_stiffness(PLY))
    line = slanted([[0.1, 0.1], [0.9, 0.1]])
    with pytest.raises(DesignError, match="Rib cross lies 12 % off the panel or over an opening"):
        rib_operators(panel, Locator(panel.space), RibParts("cross", line.points, (line,), ()))


def test_offset_of_a_bent_line_keeps_its_distance():
    points = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]])
    assert offset_polyline(points, 0.1) == pytest.approx(np.array([[0.0, 0.1], [0.9, 0.1], [0.9, 1.0]]))


def test_rows_in_a_line_s_axes_are_the_turned_tensors():
    """Strain tensors of the panel, turned by rotation matrices, on random unknowns."""
    points, triangles = rectangle_mesh(0.8, 0.5, 8, 5)
    panel = Panel(PanelSpace(*distorted(points, triangles, 0.25, 5)), generalised_stiffness(PLY))
    samples = Locator(panel.space).line(np.array([[0.05, 0.1], [0.7, 0.2], [0.3, 0.45]]))
    here, z = panel.at(samples.elements, samples.xy), 0.013
    unknowns = np.random.default_rng(3).normal(size=panel.space.n_dofs)[panel.space.dofs[samples.elements]]

    def at(rows):
        return np.einsum("n...k,nk->n...", rows, unknowns)

    strain, gradient = at(here.strains), at(here.gradients)
    t = samples.direction.T
    turn = np.stack([t, np.stack([-t[:, 1], t[:, 0]], axis=1)], axis=1)

    def tensor(first):
        xx, yy, xy = strain[:, first : first + 3].T
        whole = np.stack([np.stack([xx, 0.5 * xy], axis=1), np.stack([0.5 * xy, yy], axis=1)], axis=1)
        return turn @ whole @ turn.transpose(0, 2, 1)

    rows = LineRows(here, samples)
    rotation = turn @ gradient[:, 6:].reshape(-1, 2, 2) @ turn.transpose(0, 2, 1)
    assert at(rows.stretch(z)) == pytest.approx((tensor(0) - z * tensor(3))[:, 0, 0], abs=1e-10)
    assert at(rows.shear(z)) == pytest.approx(2.0 * (tensor(0) - z * tensor(3))[:, 0, 1], abs=1e-10)
    assert at(rows.bending()) == pytest.approx(tensor(3)[:, 0, 0], abs=1e-10)
    assert at(rows.twist()) == pytest.approx(rotation[:, 1, 0], abs=1e-10)
    assert at(rows.transverse_shear()) == pytest.approx((strain[:, 6:] * t).sum(axis=1), abs=1e-10)
