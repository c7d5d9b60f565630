"""Plates of the textbooks.

Sources: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959 (tables 8, 23, 35, 37, 47);
Morley, Skew Plates and Structures, 1963; Whitney & Pagano, J. Appl. Mech. 37 (1970) 1031-1036 for the series.
The digits are converged recomputations of those tables (Levy and Navier series, Ritz), which print three or four.
"""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import disc_mesh, rectangle_mesh, rhombus_mesh
from splitterfem.fem.textbook import Homogeneous, Plate

CENTRE = np.array([[0.5], [0.5]])
MID_SIDE = np.array([[0.5], [0.0]])


def square(n, t, edge, **options):
    return Plate(*rectangle_mesh(1.0, 1.0, n, n), Homogeneous(t), edge=edge, **options)


def stiffness(t, nu=0.3):
    return t**3 / (12 * (1 - nu**2))


def node_at(plate, x, y):
    return int(np.argmin(np.hypot(plate.space.node_points[0] - x, plate.space.node_points[1] - y)))


def test_clamped_thin_square_is_good_on_a_coarse_mesh():
    """T&WK table 35: 0.00126532; within 0.2 % at no more than 600 unknowns, in-plane ones included."""
    panel = Panel(PanelSpace(*rectangle_mesh(1.0, 1.0, 4, 4)), generalised_stiffness(Homogeneous(1e-3)))
    structure = Structure(panel, fixed=panel.space.dofs_of(panel.space.boundary_nodes(), COMPONENTS))
    assert len(structure.free) <= 600
    x = structure.solve(-pressure_load(panel, lambda x, y: np.ones_like(x))).x
    element = Locator(panel.space).find(CENTRE)
    w = displacements(panel, x, element, CENTRE)[0, 2]
    assert w * stiffness(1e-3) == pytest.approx(0.00126532, rel=2e-3)


@pytest.mark.parametrize("t", [1e-4, 1e-3, 1e-2])
def test_no_locking(t):
    """The coefficient of thin-plate theory does not depend on thickness."""
    plate = square(8, t, "clamped")
    x = plate.solve_pressure(1.0)
    thick = 0.00126532 + {1e-2: 0.00126786 - 0.00126532}.get(t, 0.0)
    assert plate.deflection(x, CENTRE)[0] * stiffness(t) == pytest.approx(thick, rel=4e-4)


@pytest.mark.parametrize(
    ("edge", "t", "value", "tolerance"),
    [
        ("clamped", 0.001, 0.00126535, 1e-4),
        ("clamped", 0.01, 0.00126786, 1e-4),
        ("clamped", 0.1, 0.00150463, 1e-4),
        ("clamped", 0.2, 0.00217216, 1e-4),
        ("hard", 0.001, 0.00406237, 1e-4),
        ("hard", 0.01, 0.00406446, 1e-4),
        ("hard", 0.1, 0.00427284, 1e-4),
        ("hard", 0.2, 0.00490431, 1e-4),
        ("soft", 0.001, 0.00406585, 8e-4),
        ("soft", 0.01, 0.00409930, 4e-4),
        ("soft", 0.1, 0.00461691, 1e-4),
        ("soft", 0.2, 0.00554504, 1e-4),
    ],
)
def test_reissner_mindlin_square(edge, t, value, tolerance):
    """Uniform load, k = 5/6, nu = 0.3: converged spectral-element values.

    Soft support has a boundary layer about as wide as the plate is thick: the mesh closes up towards the edges.
    """
    points, triangles = rectangle_mesh(1.0, 1.0, 16, 16)
    if edge == "soft":
        points = 0.5 * (1 - np.cos(np.pi * points))
    plate = Plate(points, triangles, Homogeneous(t), edge=edge)
    x = plate.solve_pressure(1.0)
    assert plate.deflection(x, CENTRE)[0] * stiffness(t) == pytest.approx(value, rel=tolerance)


@pytest.mark.parametrize(
    ("edge", "at", "component", "value", "tolerance"),
    [
        ("hard", CENTRE, 0, 0.0478864, 3e-3),
        ("clamped", CENTRE, 0, 0.0229051, 6e-3),
        ("clamped", np.array([[1e-9], [0.5]]), 0, -0.0513338, 1.2e-2),
    ],
)
def test_moments_of_thin_squares(edge, at, component, value, tolerance):
    """T&WK tables 8 and 35, in q a^2."""
    plate = square(16, 1e-3, edge)
    x = plate.solve_pressure(1.0)
    assert plate.moment(x, at)[0, component] == pytest.approx(value, rel=tolerance)


def test_square_on_four_corners():
    """T&WK art. 47 (with converged Ritz digits): 0.0255065 centre, 0.0177474 mid-side, M 0.111711."""
    t = 1e-3
    points, triangles = rectangle_mesh(1.0, 1.0, 16, 16)
    corners = np.array(
        [np.argmin(np.hypot(points[0] - a, points[1] - b)) for a in (0.0, 1.0) for b in (0.0, 1.0)]
    )
    plate = Plate(points, triangles, Homogeneous(t), edge="free", pinned=corners)
    x = plate.solve_pressure(1.0)
    w = plate.deflection(x, np.hstack([CENTRE, MID_SIDE])) * stiffness(t)
    assert w[0] == pytest.approx(0.0255065, rel=2e-4)
    assert w[1] == pytest.approx(0.0177474, rel=3e-4)
    assert plate.moment(x, CENTRE)[0, 0] == pytest.approx(0.111711, rel=4e-3)


def sides(words):
    def edge(middle):
        x, y = middle
        at = [x < 1e-9, x > 1 - 1e-9, y < 1e-9]
        return list(np.select(at, words[:3], words[3]))

    return edge


def test_two_opposite_sides_supported():
    """T&WK table 47 (converged Levy series): 0.0130937 centre, 0.0150113 mid free side."""
    t = 1e-3
    plate = square(16, t, sides(("hard", "hard", "free", "free")))
    x = plate.solve_pressure(1.0)
    w = plate.deflection(x, np.hstack([CENTRE, MID_SIDE])) * stiffness(t)
    assert w == pytest.approx([0.01309368, 0.01501126], rel=3e-4)
    moment = plate.moment(x, CENTRE)[0]
    assert moment[:2] == pytest.approx([0.122545, 0.0270781], rel=5e-3)


def test_cantilever():
    """Square cantilever (converged Ritz): 0.1290746 mid free end, 0.1272357 corner."""
    t = 1e-3
    plate = square(16, t, sides(("clamped", "free", "free", "free")))
    x = plate.solve_pressure(1.0)
    at = np.array([[1.0, 1.0, 0.5], [0.5, 0.0, 0.5]])
    w = plate.deflection(x, at) * stiffness(t)
    assert w == pytest.approx([0.1290746, 0.1272357, 0.0458458], rel=5e-4)


@pytest.mark.parametrize(
    ("edge", "value", "tolerance"), [("hard", 0.01160084, 1.5e-3), ("clamped", 0.00561202, 4e-3)]
)
def test_central_force(edge, value, tolerance):
    """T&WK tables 23 and 37, in P a^2/D, thin limit."""
    t = 1e-3
    plate = square(16, t, edge)
    x = plate.solve(plate.load_of_point(np.array([0.5, 0.5]), 1.0))
    assert plate.deflection(x, CENTRE)[0] * stiffness(t) == pytest.approx(value, rel=tolerance)


@pytest.mark.parametrize(
    ("edge", "t"),
    # A thin soft-supported polygon does not tend to the disc (paradox of Babuska & Pitkaranta, SIAM J. Math.
    # Anal. 21 (1990) 551-576), so that edge is checked where the plate is as thick as a side is long.
    [*(("clamped", t) for t in (0.01, 0.1, 0.2, 0.4)), *(("soft", t) for t in (0.1, 0.2, 0.4))],
)
def test_discs(edge, t):
    """T&WK ch. 3 with the shear term q R^2/(4 k G t) of Mindlin's theory: closed form."""
    nu, k = 0.3, 5 / 6
    D, kGt = stiffness(t), k * t / (2 * (1 + nu))
    thin = 1 / (64 * D) * (1.0 if edge == "clamped" else (5 + nu) / (1 + nu))
    plate = Plate(*disc_mesh(1.0, 24), Homogeneous(t), edge=edge)
    x = plate.solve_pressure(1.0)
    w = plate.deflection(x, np.zeros((2, 1)))[0]
    # Straight element sides under an exactly round edge: the polygon is 0.1 % smaller than the disc.
    assert w == pytest.approx(thin + 1 / (4 * kGt), rel=4e-3)


@pytest.mark.parametrize(
    ("edge", "t", "value", "tolerance"),
    [
        ("hard", 0.001, 4.07852e-4, 4e-3),
        ("hard", 0.01, 4.08503e-4, 4e-3),
        ("soft", 0.001, 4.143e-4, 1e-2),
        ("soft", 0.01, 4.248e-4, 1e-2),
    ],
)
def test_morley_rhombus(edge, t, value, tolerance):
    """Morley 1963, 30 degrees, simply supported: 4.08e-4 (thin); Mindlin values converged, obtuse corners singular.

    Hard support by the exact identity of Wang, Reddy & Lee (Shear Deformable Beams and Plates, 2000).
    """
    plate = Plate(*rhombus_mesh(1.0, np.pi / 6, 20, grade_to_obtuse=True), Homogeneous(t), edge=edge)
    x = plate.solve_pressure(1.0)
    centre = np.array([[0.5 * (1 + np.cos(np.pi / 6))], [0.25]])
    w = plate.deflection(x, centre)[0] * stiffness(t)
    assert w == pytest.approx(value, rel=tolerance)


PLY = Homogeneous(0.012, E1=10.7e9, E2=6.8e9, nu12=0.05, G12=0.62e9, G13=0.207e9, G23=0.170e9)


def navier(laminate, a, b, *, terms):
    """Centre deflection under uniform unit load; Whitney & Pagano 1970 with hard simple supports."""
    total = 0.0
    D, S = laminate.D, laminate.S
    for m in range(1, terms, 2):
        for n in range(1, terms, 2):
            al, be = m * np.pi / a, n * np.pi / b
            s5, s4 = S[0, 0], S[1, 1]
            M = np.array(
                [
                    [s5 * al**2 + s4 * be**2, -s5 * al, -s4 * be],
                    [-s5 * al, D[0, 0] * al**2 + D[2, 2] * be**2 + s5, (D[0, 1] + D[2, 2]) * al * be],
                    [-s4 * be, (D[0, 1] + D[2, 2]) * al * be, D[2, 2] * al**2 + D[1, 1] * be**2 + s4],
                ]
            )
            W = np.linalg.solve(M, [16 / (np.pi**2 * m * n), 0, 0])[0]
            total += W * (-1) ** ((m + n) // 2 - 1)
    return total


@pytest.mark.parametrize(("a", "b"), [(0.8, 0.5), (0.3, 0.2), (1.6, 0.6)])
def test_orthotropic_series(a, b):
    """Navier series for a birch-like orthotropic panel, uniform load, hard simple support."""
    plate = Plate(*rectangle_mesh(a, b, 16, 12), PLY, edge="hard")
    x = plate.solve_pressure(1.0)
    w = plate.deflection(x, np.array([[a / 2], [b / 2]]))[0]
    assert w == pytest.approx(navier(PLY, a, b, terms=120), rel=2e-4)
