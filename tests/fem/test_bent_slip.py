"""Bent ribs on joints that slip: invariance, limits, shear lag round bends, and whole designs.

Source: Volkersen 1938, the shear lag of a bar on a sheet of given strain (formula from memory, [M]; it follows from
``N' = k s`` and ``s' = N/EA - strain``).  Limits of the joint by physics, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.analysis.jointforces import joint_forces
from splitterfem.analysis.ribforces import rib_forces
from splitterfem.fem.answer_checks import SLIPPING
from splitterfem.fem.contribution import assemble
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import BeamLine, RibParts, SlipJoint, offset_polyline
from splitterfem.fem.rigid import rigid_motions
from splitterfem.fem.slip import slip_field
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.model import build

LENGTH, WIDTH, T = 0.8, 0.5, 0.012
EA, EI = 1.3e7, 1.1e3
ARM = 0.019

STRAIGHT = [(0.05, 0.25), (0.75, 0.25)]
CUT = [(0.05, 0.25), (0.31, 0.25), (0.5, 0.25), (0.75, 0.25)]
VEE = [(0.05, 0.15), (0.4, 0.35), (0.75, 0.15)]
SQUARE = [(0.1, 0.1), (0.6, 0.1), (0.6, 0.4)]
ZIGZAG = [(0.06, 0.12), (0.21, 0.38), (0.33, 0.31), (0.47, 0.42), (0.74, 0.09)]


def arc(pieces: int, radius: float = 0.5, rise: float = 0.1) -> list[tuple[float, float]]:
    """Polygon on a gentle circular arc across the panel."""
    half = np.arccos(1.0 - rise / radius)
    angle = np.linspace(-half, half, pieces + 1)
    middle, foot = 0.5 * LENGTH, 0.3 - (radius - rise)
    return [(middle + radius * np.sin(a), foot + radius * np.cos(a) - rise / 2) for a in angle]


def sheet(cells: tuple[int, int] = (16, 10)) -> Panel:
    laminate = Homogeneous(T, E1=9e9, nu12=0.3)
    return Panel(PanelSpace(*rectangle_mesh(LENGTH, WIDTH, *cells)), generalised_stiffness(laminate))


def operators(panel: Panel, points, joint: float | None, *, sides: float = 0.0):
    """Rib of one line or, with `sides` in m, of two beside the rib's own line; joint 0: it only bends."""
    points = np.array(points)
    share = 0.5 if sides else 1.0
    stretch = 0.0 if joint == 0.0 else EA
    lines = tuple(
        BeamLine(offset_polyline(points, y), ARM, share * stretch, share * EI, share * 200.0, share * EA / 6)
        for y in ((-sides, sides) if sides else (0.0,))
    )
    slip = SlipJoint(joint, T / 2) if joint else None
    return rib_operators(panel, Locator(panel.space), RibParts("bent", points, lines, (), slip=slip))


def supported(panel: Panel, rib) -> Structure:
    """Held up along the two short edges, and in plane at two points."""
    space = panel.space
    x, y = space.node_points
    start, end, middle = x < 1e-9, x > LENGTH - 1e-9, np.abs(y - WIDTH / 2) < 1e-9
    fixed = [
        space.dofs_of(np.flatnonzero(start | end), "w"),
        space.dofs_of(np.flatnonzero(start & middle), ("u", "v")),
        space.dofs_of(np.flatnonzero(end & middle), "v"),
    ]
    return Structure(
        panel, contributions=rib.contributions, n_extra=rib.n_extra, fixed=np.unique(np.concatenate(fixed))
    )


def sag(points, joint: float | None) -> float:
    panel = sheet()
    structure = supported(panel, operators(panel, points, joint))
    response = structure.solve(down(panel, 3000.0))
    assert response.imbalance < 1e-8
    return float(-response.x[2::5].min())


def down(panel: Panel, q: float):
    return pressure_load(panel, lambda x, y: np.full_like(x, q))


# --- invariance ---


@pytest.mark.parametrize("sides", [0.0, 0.011])
@pytest.mark.parametrize("joint", [1e5, 1e7, 1e11])
@pytest.mark.parametrize("points", [VEE, SQUARE, ZIGZAG, CUT])
def test_rigid_motions_cost_no_energy(points, joint, sides):
    """Of the six, against the energy of a rib as long as the panel that is stretched by the motion's metre."""
    panel = sheet((8, 5))
    rib = operators(panel, points, joint, sides=sides)
    matrix = assemble(panel, rib.contributions, rib.n_extra) - assemble(panel, (), rib.n_extra)
    n = panel.space.n_dofs
    own = matrix[n:, n:].toarray()
    for motion in rigid_motions(panel.space).T:
        follows = -np.linalg.solve(own, matrix[n:, :n] @ motion)
        whole = np.concatenate([motion, follows])
        assert abs(0.5 * whole @ (matrix @ whole)) < 1e-9 * EA / LENGTH


@pytest.mark.parametrize("joint", [1e5, 1e11, None])
@pytest.mark.parametrize("points", [STRAIGHT, VEE, ZIGZAG])
def test_forces_that_do_no_work_on_rigid_motions_are_all_there_are(points, joint):
    """In any state, in equilibrium or not, taking the others away takes rounding alone."""
    panel = sheet((8, 5))
    structure = supported(panel, operators(panel, points, joint))
    n = structure.matrix.shape[0]
    x = np.random.default_rng(4).normal(size=n) * np.where(np.arange(n) < panel.space.n_dofs, 1.0, 1e-2)
    plain = structure.matrix @ x
    rounding = 1e-14 * np.linalg.norm(abs(structure.matrix) @ np.abs(x))
    assert np.linalg.norm(structure.internal(x) - plain) < rounding
    assert structure.n_extra > 0 or joint is None


@pytest.mark.parametrize("joint", [1e6, 1e7])
def test_bowed_panel_turns_as_a_whole(joint):
    """After large deflection the six sums of loads and reactions hold about the deflected places."""
    panel = sheet()
    rib = operators(panel, VEE, joint)
    structure = supported(panel, rib)
    large = LargeDeflection(structure, rib.contributions)
    response = Balance(structure, down(panel, 20e3), large=large).solve()
    assert -response.x[2::5].min() > T
    assert response.imbalance < SLIPPING


# --- limits ---


@pytest.mark.parametrize(
    ("joint", "tolerance"), [(1e5, 1e-6), (1e6, 1e-6), (1e7, 1e-6), (1e8, 1e-6), (1e10, 5e-6)]
)
def test_collinear_pieces_are_the_straight_rib(joint, tolerance):
    assert sag(CUT, joint) == pytest.approx(sag(STRAIGHT, joint), rel=tolerance)


@pytest.mark.parametrize("points", [VEE, SQUARE, ZIGZAG])
def test_stiff_joint_is_the_bond_and_soft_joint_none(points):
    bonded, loose = sag(points, None), sag(points, 0.0)
    assert bonded < 0.97 * loose
    assert sag(points, 1e12) == pytest.approx(bonded, rel=5e-3)
    # a tenth of that stiffness leaves it to rounding where the rib is along itself, and the answer may be withheld
    assert sag(points, 10.0) == pytest.approx(loose, rel=2e-4)
    assert bonded < sag(points, 1e9) < sag(points, 1e7) < loose


@pytest.mark.parametrize("joint", [1e7, 1e8, 1e10, None])
def test_a_curve_in_more_pieces_stays_the_same(joint):
    """Polygons of 9, 18 and 36 pieces in one arc come to it with the square of their pieces, as bonded ones do."""
    rough, usual, fine = (sag(arc(pieces), joint) for pieces in (9, 18, 36))
    assert usual == pytest.approx(rough, rel=5e-3)
    assert fine == pytest.approx(usual, rel=5e-4)


# --- shear lag round bends ---


@pytest.mark.parametrize("joint", [1e7, 1e8, 1e9])
@pytest.mark.parametrize("points", [VEE, SQUARE, ZIGZAG, arc(9), STRAIGHT])
def test_shear_lag_runs_on_round_bends(points, joint):
    """In a sheet stretched alike in all directions a bent rib is pulled like a straight one of its length.

    N = EA e (1 - cosh(a (s - l/2)) / cosh(a l/2)), a^2 = k/EA, slip N'/k.
    """
    panel, strain = sheet((8, 5)), 1e-3
    rib = operators(panel, points, joint)
    matrix = assemble(panel, rib.contributions, rib.n_extra)
    space = panel.space
    x = np.zeros((space.n_nodes, 5))
    x[:, :2] = strain * space.node_points.T
    n = space.n_dofs
    own = np.linalg.solve(matrix[n:, n:].toarray(), -(matrix[n:, :n] @ x.ravel()))
    field, course = rib.field, np.array(points)
    steps = np.diff(course, axis=0)
    lengths = np.hypot(*steps.T)
    corners = np.concatenate([[0.0], np.cumsum(lengths)])
    half = 0.5 * corners[-1]
    a = np.sqrt(joint / EA)
    for i, t in enumerate(steps / lengths[:, None]):
        near = np.array([1e-9, 0.5, 1.0 - 1e-9])
        s = corners[i] + lengths[i] * near
        moved, rate = field.at(s, own)
        expected = 1.0 - np.cosh(a * (s - half)) / np.cosh(a * half)
        assert rate / strain == pytest.approx(expected, abs=5e-3)
        face = strain * (course[i] + np.outer(near, steps[i])) @ t
        slip = -np.sinh(a * (s - half)) / np.cosh(a * half) / a
        assert (moved - face) / strain == pytest.approx(slip, abs=1e-3 / a)


def test_cells_close_up_towards_sharp_bends():
    """As at the ends at a right angle, and not at all where the rib runs on; both ways along the rib alike."""
    stiffness = 1e11
    square, cut = (slip_field(np.array(p), 0, stiffness=stiffness, EA=EA) for p in (SQUARE, CUT))
    usual = np.diff(square.knots).max()
    for field, size in ((square, 0.25 * np.sqrt(EA / stiffness) / np.sqrt(2.0)), (cut, usual)):
        bend = field.bends[0]
        assert np.diff(field.knots)[bend - 1 : bend + 1] == pytest.approx(size, rel=0.5)
    back = slip_field(np.array(SQUARE[::-1]), 0, stiffness=stiffness, EA=EA)
    assert square.knots[-1] - back.knots[::-1] == pytest.approx(square.knots, abs=1e-12)
    assert square.knots[square.bends] == pytest.approx([0.5])


# --- whole designs ---

ANGLE = {"shape": "angle", "foot": "30 mm", "upright": "30 mm", "wall": "3 mm"}
SCREWS = {"kind": "screws", "diameter": "4 mm", "pitch": "60 mm"}
GLUE = {"kind": "adhesive", "shear_modulus": "50 MPa", "thickness": "0.5 mm"}


def design(joint, *, bonded: bool = False):
    """Invented panel with a mirrored pair of bent angles and one across, on six bolts."""
    rib = {"section": ANGLE, "material": "6061-T6 extrusion"} | ({} if bonded else {"joint": joint})
    corners = [(0.0, -0.5), (0.5, -0.5), (0.5, 0.5), (0.0, 0.5)]
    outline = {"start": corners[0], "edges": [{"to": p} for p in corners[1:]]}
    bolts = [(0.03, 0.3), (0.03, -0.3), (0.25, 0.45), (0.25, -0.45), (0.03, 0.0)]
    case = {"name": "air", "speed": 60.0, "pressure": {"kind": "uniform", "cp": 1.0}}
    return sf.Splitter.model_validate(
        {
            "name": "bent ribs, invented",
            "panel": {"outline": outline, "sheet": {"material": "birch plywood 9 mm", "thickness": 0.009}},
            "ribs": [
                rib | {"name": "side", "points": [(0.05, 0.1), (0.3, 0.15), (0.46, 0.4)], "mirror": True},
                rib | {"name": "front", "points": [(0.42, -0.3), (0.47, 0.0), (0.42, 0.3)]},
            ],
            "bolts": [{"name": f"b{i}", "at": at} for i, at in enumerate(bolts)],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.025},
            "cases": [case, case | {"name": "large", "large_deflection": True}],
        }
    )


@pytest.fixture(scope="module", params=[SCREWS, GLUE], ids=["screws", "adhesive"])
def solutions(request):
    model = build(design(request.param))
    return sf.solve(model, "air"), sf.solve(model, "large")


def test_design_with_bent_ribs_solves(solutions):
    """Small and large deflection, in equilibrium, left as right; a rib that slips sags more than one that is bonded."""
    small, large = solutions
    assert small.equilibrium < 1e-7
    assert large.equilibrium < SLIPPING
    assert 0.009 < large.max_sag < small.max_sag
    bonded = sf.solve(design(None, bonded=True), "air").max_sag
    lost = sf.solve(
        build(design(SCREWS), unbonded=frozenset({"side left", "side right", "front"})), "air"
    ).max_sag
    assert bonded < small.max_sag < lost
    for solution in solutions:
        x, y = np.array([0.1, 0.3, 0.45]), np.array([0.2, 0.35, 0.4])
        assert solution.sag_at(x, -y) == pytest.approx(solution.sag_at(x, y), rel=0.02)


def test_forces_run_on_round_the_bends_of_a_design(solutions):
    """The slip is the same on both sides of a bend, and the flow adds up to the axial force beside it."""
    for solution in solutions:
        model, response = solution.model, solution.response
        for rib in model.ribs:
            joint = joint_forces(model, rib, response)
            along = rib_forces(model, rib, response.x, extra=response.extra, large=response.large)
            corners = rib.operators.field.knots[rib.operators.field.bends]
            assert len(corners) == len(rib.design.points) - 2
            for corner in corners:
                i, j = np.searchsorted(joint.s, corner) - 1, np.searchsorted(along.s, corner) - 1
                assert joint.s[i + 1] - joint.s[i] < 1e-8
                assert along.s[j + 1] - along.s[j] < 1e-8
                assert joint.slip[i + 1] == pytest.approx(joint.slip[i], abs=1e-3 * np.abs(joint.slip).max())
                before = float(np.trapezoid(joint.flow[: i + 1], joint.s[: i + 1]))
                largest = np.abs(along.axial).max()
                for side in (j, j + 1):
                    assert along.axial[side] == pytest.approx(before, abs=0.05 * largest)
