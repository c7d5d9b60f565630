"""Forces recovered from large deflections: in the sheet, in ribs, and as sums over the whole panel.

Sources: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 2 and 3 (cylindrical bending of
long plates with immovable edges; the printed functions of u from memory, their root checked here against the length of
the bow) and art. 100 (equations (231) and (232) of the circle, solved here as an ordinary differential equation).
Everything else is statics: cuts, virtual work, sums of forces and moments.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import meshio
import numpy as np
import pytest
import shapely
from scipy.integrate import solve_bvp
from scipy.optimize import brentq

import splitterfem as sf
from splitterfem.analysis.jointforces import joint_forces
from splitterfem.analysis.ribforces import rib_forces
from splitterfem.analysis.tables import rib_table
from splitterfem.design import Rib
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness, points_on_elements
from splitterfem.fem.recover import displacements, resultants, slopes, strains
from splitterfem.fem.reference import quadrature
from splitterfem.fem.restraint import held_directions, mean_rows, pad_samples
from splitterfem.fem.ribrows import RibOperators, along, rib_operators
from splitterfem.fem.ribs import BeamLine, RibParts
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import disc_mesh, distorted, rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.materials import AngleSection, BarMaterial, TubeSection
from splitterfem.model.ribs import ModelRib, rib_parts
from splitterfem.output.exports import write_vtu
from splitterfem.strength.assess_panel import panel_state
from splitterfem.strength.assess_ribs import rib_checks

T = 0.01


@dataclass(frozen=True)
class Solved:
    """A panel with ribs, solved: enough of a model for forces along ribs."""

    panel: Panel
    locator: Locator
    structure: Structure
    response: object
    ribs: tuple[RibOperators, ...] = ()

    def resultants(self, elements, xy):
        return resultants(self.panel, self.response.x, elements, xy, large=self.response.large)

    def cut(self, x):
        """Points across the panel at one x: elements, places, lengths."""
        low, high = self.panel.space.points[1].min(), self.panel.space.points[1].max()
        found = self.locator.line(np.array([[x, low], [x, high]]))
        return found.elements, found.xy, found.weights


def across(strains, samples, first):
    """Engineering shear between the line and its left normal of the tensor whose rows start at ``first``."""
    tx, ty = samples.direction[:, :, None]
    both = 2.0 * tx * ty * (strains[:, first + 1] - strains[:, first])
    return both + (tx * tx - ty * ty) * strains[:, first + 2]


def solved(panel, load, *, fixed, restraints=(), ribs=(), large=True):
    contributions = tuple(part for rib in ribs for part in rib.contributions)
    extra = sum(rib.n_extra for rib in ribs)
    structure = Structure(panel, restraints, contributions=contributions, n_extra=extra, fixed=fixed)
    stretch = LargeDeflection(structure, contributions) if large else None
    response = Balance(structure, load, large=stretch).solve() if large else structure.solve(load)
    return Solved(panel, Locator(panel.space), structure, response, tuple(ribs))


def down(panel, q):
    return pressure_load(panel, lambda x, y: np.full_like(x, q))


def inside(panel):
    """Three points inside every element."""
    X, _ = quadrature(2)
    return points_on_elements(panel.space, X)


# --- the sheet ---


def strip_edges(space, length, *, built_in):
    """Long edges turn or are built in, and cannot come nearer; nothing varies across."""
    x = space.node_points[0]
    ends = np.flatnonzero((x < 1e-9) | (x > length - 1e-9))
    held = ("u", "w", "phi_x") if built_in else ("u", "w")
    every = np.arange(space.n_nodes)
    return np.union1d(space.dofs_of(ends, held), space.dofs_of(every, ("v", "phi_y")))


def parameter(q, length, *, A, D, built_in):
    """``u`` of T&WK, u^2 = S l^2 / 4 D, as the bow's extra length has it; all per width."""

    def excess(u):
        S, k = 4 * D * u * u / length**2, 2 * u / length
        x = np.linspace(0.0, length, 20001)
        z = u - k * x  # from the middle, in units of 1/k
        slope = q / S * (0.5 * length - x)
        if built_in:  # w = w' = 0 at both ends
            slope -= q * length / (2 * S) * np.sinh(z) / np.sinh(u)
        else:  # w = w'' = 0
            slope -= q / (S * k) * np.sinh(z) / np.cosh(u)
        return S * length / A - 0.5 * np.trapezoid(slope**2, x)

    return brentq(excess, 1e-3, 50.0, xtol=1e-13)


def printed(u, *, built_in):
    """Right sides of T&WK's equations for u: they equal ``E^2 h^8 / ((1 - nu^2)^2 q^2 l^8)``."""
    if built_in:  # art. 3
        return (
            -81 / (16 * u**7 * np.tanh(u))
            - 27 / (16 * u**6 * np.sinh(u) ** 2)
            + 27 / (4 * u**8)
            + 9 / (8 * u**6)
        )
    t = np.tanh(u)  # art. 2
    return 135 * t / (16 * u**9) + 27 * t * t / (16 * u**8) - 135 / (16 * u**8) + 9 / (8 * u**6)


@pytest.mark.parametrize("built_in", [False, True])
@pytest.mark.parametrize("load", [20.0, 300.0])
def test_cylindrical_bending(load, built_in):
    """Axial force anywhere and the largest moments (T&WK art. 2 and 3), asked for 0.5 %; ``q = load E (h/l)^4``."""
    nu, length, q = 0.3, 1.0, load * T**4
    panel = Panel(
        PanelSpace(*rectangle_mesh(length, 0.05, 40, 2)), generalised_stiffness(Homogeneous(T, nu12=nu))
    )
    A, D = T / (1 - nu**2), T**3 / (12 * (1 - nu**2))
    u = parameter(q, length, A=A, D=D, built_in=built_in)
    assert printed(u, built_in=built_in) == pytest.approx(T**8 / ((1 - nu**2) ** 2 * q**2), rel=1e-5)
    S = 4 * D * u**2 / length**2
    found = solved(panel, down(panel, q), fixed=strip_edges(panel.space, length, built_in=built_in))
    membrane = found.resultants(*inside(panel)).membrane[:, 0]
    assert membrane == pytest.approx(np.full_like(membrane, S), rel=5e-3)
    # without the slopes' part the force is another one altogether
    plain = resultants(panel, found.response.x, *inside(panel)).membrane[:, 0]
    assert np.abs(plain / S - 1.0).max() > 0.5
    elements, xy, weights = found.cut(0.5 * length - 1e-6)
    middle = float(weights @ found.resultants(elements, xy).moment[:, 0]) / weights.sum()
    if built_in:
        elements, xy, weights = found.cut(1e-6)
        end = float(weights @ found.resultants(elements, xy).moment[:, 0]) / weights.sum()
        assert end == pytest.approx(
            -q * length**2 / 12 * 3 * (u - np.tanh(u)) / (u**2 * np.tanh(u)), rel=5e-3
        )
        expected = q * length**2 / 24 * 6 * (np.sinh(u) - u) / (u**2 * np.sinh(u))
    else:
        expected = q * length**2 / 8 * 2 * (1 - 1 / np.cosh(u)) / u**2
    assert middle == pytest.approx(expected, rel=5e-3)


def circle(q, nu):
    """Sag, membrane force and moment in the middle of a clamped circle of radius 1, E = 1 (T&WK (231), (232))."""
    D, C, start = T**3 / (12 * (1 - nu**2)), T / (1 - nu**2), 1e-4

    def rates(r, y):
        u, du, slope, turn, _ = y
        N = C * (du + nu * u / r + 0.5 * slope**2)
        ddu = -du / r + u / r**2 - (1 - nu) / (2 * r) * slope**2 - slope * turn
        return np.vstack([du, ddu, turn, -turn / r + slope / r**2 + (N * slope + 0.5 * q * r) / D, slope])

    def edges(a, b):  # regular in the middle: u and slope grow in proportion to r
        return np.array([a[0] - start * a[1], a[2] - start * a[3], b[0], b[2], b[4]])

    r = np.linspace(start, 1.0, 200)
    linear = q / (16 * D) * np.vstack([0 * r, 0 * r, r**3 - r, 3 * r**2 - 1, 0.25 * (1 - r**2) ** 2])
    found = solve_bvp(rates, edges, r, linear, tol=1e-9, max_nodes=100_000)
    assert found.success
    _, du, _, turn, w = found.y[:, 0]
    return w, C * (1 + nu) * du, D * (1 + nu) * turn


@pytest.mark.parametrize("load", [30.0, 120.0])
def test_clamped_circle(load):
    """Membrane force and moment in the middle against von Karman's equations of the circle; ``q = load D h / R^4``."""
    nu = 0.3
    q = load * T**4 / (12 * (1 - nu**2))
    panel = Panel(PanelSpace(*disc_mesh(1.0, 12)), generalised_stiffness(Homogeneous(T, nu12=nu)))
    space = panel.space
    found = solved(panel, down(panel, q), fixed=space.dofs_of(space.boundary_nodes(), COMPONENTS))
    w, N, M = circle(-q, nu)
    near = found.locator.area(shapely.Point(0.0, 0.0).buffer(0.02))
    force = found.resultants(near.elements, near.xy)
    membrane, moment = (near.weights @ part / near.measure for part in (force.membrane, force.moment))
    sag = displacements(panel, found.response.x, near.elements, near.xy)[:, 2]
    assert near.weights @ sag / near.measure == pytest.approx(w, rel=3e-3)
    assert membrane == pytest.approx([N, N, 0.0], rel=5e-3, abs=5e-3 * N)
    assert moment == pytest.approx([M, M, 0.0], rel=1e-2, abs=1e-2 * M)


# --- the ribs ---

METAL = BarMaterial(name="alloy", E=69e9, nu=0.33, density=2700.0, source="invented", basis="user")
TUBE = TubeSection(width=0.02, height=0.02, wall=0.002)
ANGLE = AngleSection(foot=0.025, upright=0.03, wall=0.003)
SHEET = Homogeneous(0.004, E1=9e9, E2=6e9, nu12=0.1, G12=0.7e9, G13=0.3e9, G23=0.2e9)


def model_rib(panel, name, points, section, *, joint=None, first=0, parts=None, thickness=SHEET.thickness):
    """A rib above a panel, bonded or on a joint of stiffness ``joint`` (N/m2)."""
    design = Rib(name=name, points=points, section=section, material=METAL)
    line = np.array(points, dtype=float)
    if parts is None:
        parts = rib_parts(design, line, thickness, name=name, joint=joint)
    operators = rib_operators(panel, Locator(panel.space), parts, first_extra=first)
    return ModelRib(name, design, METAL, section.properties(), parts, operators, side=1, face=0.5 * thickness)


def unsymmetric(sheet):
    """Stiffness of a sheet whose mid-surface lies below the panel's by an eighth of its thickness."""
    C, z = generalised_stiffness(sheet), -0.125 * sheet.thickness
    B = z * sheet.A
    C[:3, 3:6], C[3:6, :3] = -B, -B.T
    C[3:6, 3:6] += z * z * sheet.A
    return C


def two_ribs(stiffness=None):
    """Panel on a distorted mesh with a tube askew, an angle that is bent, and a tube that slips."""
    points, triangles = rectangle_mesh(0.6, 0.4, 9, 6)
    stiffness = generalised_stiffness(SHEET) if stiffness is None else stiffness
    panel = Panel(PanelSpace(*distorted(points, triangles, 0.25, 5)), stiffness)
    tube = model_rib(panel, "tube", [(0.07, 0.06), (0.52, 0.31)], TUBE)
    bent = model_rib(panel, "bent", [(0.1, 0.3), (0.25, 0.33), (0.45, 0.35)], ANGLE)
    loose = model_rib(panel, "loose", [(0.1, 0.33), (0.45, 0.35)], TUBE, joint=2e7)
    return panel, tube, bent, loose


@pytest.fixture(scope="module", params=["bonded", "slips"])
def stiffened(request):
    panel, tube, bent, loose = two_ribs()
    x = panel.space.node_points[0]
    ends = np.flatnonzero((x < 1e-9) | (x > 0.6 - 1e-9))
    ribs = [tube.operators, (bent if request.param == "bonded" else loose).operators]
    load = down(panel, 60e3)
    return solved(panel, load, fixed=panel.space.dofs_of(ends, COMPONENTS), ribs=ribs), load


def test_virtual_work(stiffened):
    """Recovered forces on the strains of a random virtual displacement do the work of the load."""
    found, load = stiffened
    assert np.abs(found.response.x[2::5]).max() > SHEET.thickness
    virtual = random_motion(found, 7)
    done, size = internal_work(found, virtual)
    expected = float(load @ virtual[: found.panel.space.n_dofs])
    assert abs(done - expected) < 1e-9 * size
    # the parts of second order are no trifle in this sum
    plain, _ = internal_work(replace(found, response=replace(found.response, large=False)), virtual)
    assert abs(plain - expected) > 1e-4 * size


def test_virtual_work_of_an_unsymmetric_sheet():
    """The same with a sheet that bends when it is stretched, out of equilibrium: the work of its nodal forces."""
    panel, tube, _, loose = two_ribs(unsymmetric(SHEET))
    ribs = (tube.operators, loose.operators)
    parts = tuple(part for rib in ribs for part in rib.contributions)
    ends = panel.space.dofs_of(panel.space.boundary_nodes(), COMPONENTS)
    structure = Structure(panel, contributions=parts, n_extra=loose.operators.n_extra, fixed=ends)
    response = structure.solve(down(panel, 60e3))
    found = Solved(panel, Locator(panel.space), structure, replace(response, large=True), ribs)
    virtual = random_motion(found, 8)
    done, size = internal_work(found, virtual)
    expected = float(LargeDeflection(structure, parts).internal(both(response)) @ virtual)
    assert abs(done - expected) < 1e-9 * size


def random_motion(found, seed):
    """Virtual displacement of all unknowns that are not held."""
    virtual = np.zeros(found.structure.matrix.shape[0])
    free = found.structure.free
    virtual[free] = np.random.default_rng(seed).standard_normal(len(free))
    virtual[: found.panel.space.n_dofs][2::5] *= 1e-2
    return virtual


def internal_work(found, virtual):
    """Work of the recovered forces, and the sum of its absolute parts."""
    parts = sheet_work(found, virtual)
    for rib in found.ribs:
        parts += [rib_work(found.panel, part, found.response, virtual) for part in rib.contributions]
    return sum(float(part.sum()) for part in parts), sum(float(np.abs(part).sum()) for part in parts)


def sheet_work(found, virtual):
    """Work of N, M and Q at the quadrature points of all elements."""
    panel, x = found.panel, found.response.x
    X, w = quadrature(4)
    elements, xy = points_on_elements(panel.space, X)
    weights = 2.0 * panel.space.area[elements] * np.tile(w, panel.space.n_elements)
    force, d = found.resultants(elements, xy), virtual[: panel.space.n_dofs]
    change = strains(panel, d, elements, xy)
    (wx, wy), (dx, dy) = (
        panel.gather(elements, panel.gradient_rows(elements, xy), y)[:, 4:6].T for y in (x, d)
    )
    change[:, :3] += np.column_stack([wx * dx, wy * dy, wx * dy + wy * dx])
    pairs = ((force.membrane, slice(0, 3)), (force.moment, slice(3, 6)), (force.shear, slice(6, 8)))
    return [weights * np.sum(values * change[:, part], axis=1) for values, part in pairs]


def rib_work(panel, part, response, virtual):
    """Work of the forces of a line, a layer, a cell or a joint at its own points."""
    samples, n = part.samples, panel.space.n_dofs
    strain, change = (measured(panel, part, y[:n], y[n:]) for y in (both(response), virtual))
    at = samples if part.tilt is None else part.tilt
    tilt, turn = (local_slopes(panel, at, y[:n]) for y in (both(response), virtual))
    for k, (i, j) in enumerate(part.stretch):
        strain[:, k] += (0.5 if i == j else 1.0) * tilt[:, i] * tilt[:, j]
        change[:, k] += tilt[:, i] * turn[:, j] + (tilt[:, j] * turn[:, i] if i != j else 0.0)
    return samples.weights * np.sum(strain * part.stiffness * change, axis=1)


def both(response):
    return np.concatenate([response.x, response.extra])


def measured(panel, part, x, extra):
    """Linear strains of a part of a rib."""
    found = panel.gather(part.samples.elements, part.rows, x)
    if part.extra is not None:
        found = found + np.einsum("nmk,nk->nm", part.extra.rows, extra[part.extra.dofs])
    return found


def local_slopes(panel, samples, x):
    """Slopes along and across a line."""
    wx, wy = slopes(panel, x, samples.elements, samples.xy).T
    tx, ty = samples.direction
    return np.column_stack([tx * wx + ty * wy, tx * wy - ty * wx])


def test_strains_of_the_sheet_carry_those_of_bonded_ribs(stiffened):
    """What lines and layers take from the slopes is the sheet's strain along and across them."""
    found, _ = stiffened
    panel, x = found.panel, found.response.x
    for rib in found.ribs:
        if rib.field is not None:
            continue
        for part in (*rib.lines, *rib.layers):
            at = part.samples
            strain = strains(panel, x, at.elements, at.xy, large=True)[:, :, None]
            tilt = local_slopes(panel, at, x)
            linear = measured(panel, part, x, found.response.extra)
            axial = along(strain, at, 0) - part.z * along(strain, at, 3)
            assert axial[:, 0] == pytest.approx(linear[:, 0] + 0.5 * tilt[:, 0] ** 2, abs=1e-15)
            if len(part.stretch) > 1:  # a layer shears too
                shear = across(strain, at, 0) - part.z * across(strain, at, 3)
                assert shear[:, 0] == pytest.approx(linear[:, 1] + tilt[:, 0] * tilt[:, 1], abs=1e-15)


LENGTH, WIDTH, THIN = 1.0, 0.06, 0.002
SMALL = TubeSection(width=0.01, height=0.01, wall=0.001)


def ribbed_strip(q, *, joint=None, parts=None, nu=0.0, large=True):
    """A strip with turning, immovable ends and a tube along it; q in N/m."""
    sheet = Homogeneous(THIN, E1=70e9, nu12=nu)
    panel = Panel(PanelSpace(*rectangle_mesh(LENGTH, WIDTH, 40, 4)), generalised_stiffness(sheet))
    line = [(0.0, 0.5 * WIDTH), (LENGTH, 0.5 * WIDTH)]
    rib = model_rib(panel, "tube", line, SMALL, joint=joint, parts=parts, thickness=THIN)
    fixed = strip_edges(panel.space, LENGTH, built_in=False)
    found = solved(panel, down(panel, q / WIDTH), fixed=fixed, ribs=[rib.operators], large=large)
    return found, rib


def pull(found):
    """Force of the held end at x = 0 along x, by the nodal forces there."""
    x = both(found.response)
    contributions = tuple(part for rib in found.ribs for part in rib.contributions)
    internal = LargeDeflection(found.structure, contributions).internal(x)
    space = found.panel.space
    ends = np.flatnonzero(space.node_points[0] < 1e-9)
    return -float(internal[space.dofs_of(ends, "u")].sum())


@pytest.mark.parametrize("joint", [None, 2e6, 1e9])
def test_cuts_through_a_ribbed_strip(joint):
    """Sheet and rib together take the pull of the ends, and the moment that load and pull leave: asked for 1 %."""
    q = 2000.0
    found, rib = ribbed_strip(q, joint=joint)
    response, H = found.response, pull(found)
    forces = rib_forces(found, rib, response.x, extra=response.extra, large=True)
    small = rib_forces(found, rib, response.x, extra=response.extra)
    for x in (0.1125, 0.1625, 0.2625, 0.5125):
        elements, xy, weights = found.cut(x)
        sheet = found.resultants(elements, xy)
        axial, moment, before = (
            float(np.interp(x, forces.s, values)) for values in (forces.axial, forces.moment, small.axial)
        )
        total = float(weights @ sheet.membrane[:, 0]) + axial
        assert total == pytest.approx(H, rel=2e-3)
        assert x > 0.5 or before < axial - 0.1 * H
        sag = -float(weights @ displacements(found.panel, response.x, elements, xy)[:, 2]) / weights.sum()
        held = float(weights @ sheet.moment[:, 0]) - (moment + axial * rib.centroid_z)
        free = 0.5 * q * x * (LENGTH - x)
        assert held == pytest.approx(free - H * sag, abs=2e-3 * free)


def test_rib_in_the_middle_of_the_sheet():
    """Cylindrical bending with the rib's stiffness added to the strip's (T&WK art. 2): its share of the pull, 0.5 %."""
    width, depth, E = 0.01, 0.012, 70e9
    line = BeamLine(
        np.array([[0.0, 0.5 * WIDTH], [LENGTH, 0.5 * WIDTH]]),
        0.0,
        E * width * depth,
        E * width * depth**3 / 12,
        0.0,
        E * width * depth,
    )
    q = 1000.0
    found, rib = ribbed_strip(q, parts=RibParts("bar", line.points, (line,), ()))
    EA = E * THIN * WIDTH + line.EA
    EI = E * THIN**3 / 12 * WIDTH + line.EI
    u = parameter(q, LENGTH, A=EA, D=EI, built_in=False)
    H = 4 * EI * u**2 / LENGTH**2
    forces = rib_forces(found, rib, found.response.x, large=True)
    assert forces.axial == pytest.approx(np.full_like(forces.s, H * line.EA / EA), rel=5e-3)


def test_tiny_loads_recover_as_small_deflections_do():
    """The difference of large and small goes with the square of the load."""
    gaps = []
    for q in (0.02, 0.2):
        (large, rib), (small, _) = ribbed_strip(q), ribbed_strip(q, large=False)
        gap, size = [], []
        for one in (large, small):
            force = one.resultants(*inside(one.panel))
            bar = rib_forces(one, rib, one.response.x, large=one.response.large)
            gap.append((force.membrane[:, 0], force.moment[:, 0], force.shear[:, 0], bar.axial, bar.moment))
            size.append([np.abs(values).max() for values in gap[-1]])
        gaps.append([np.abs(a - b).max() for a, b in zip(*gap, strict=True)])
        assert np.all(np.array(gaps[-1]) < 0.02 * np.array(size[1]))
    assert np.array(gaps[1]) / np.array(gaps[0]) == pytest.approx(np.full(5, 100.0), rel=0.05)


# --- the whole panel ---


@pytest.mark.parametrize("slips", [False, True])
def test_six_sums(slips):
    """Loads and reactions balance about the deflected places, and about the flat ones they do not."""
    panel, tube, bent, loose = two_ribs()
    restraints = []
    for number, (x, y) in enumerate([(0.05, 0.05), (0.55, 0.06), (0.3, 0.36), (0.06, 0.34)]):
        pad = pad_samples(Locator(panel.space), shapely.Point(x, y).buffer(0.02), name="pad")
        axes = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
        restraints += held_directions(mean_rows(panel, pad), axes, support=f"bolt {number}")
    load = down(panel, 20e3)
    load[0::5] += 0.2 * load[2::5]  # and some drag
    ribs = [tube.operators, (loose if slips else bent).operators]
    none = np.zeros(0, dtype=np.int64)
    found = solved(panel, load, fixed=none, restraints=tuple(restraints), ribs=ribs)
    response, structure = found.response, found.structure
    assert np.abs(response.x[2::5]).max() > 2.0 * SHEET.thickness
    assert response.imbalance < (1e-4 if slips else 1e-7)
    x, whole = both(response), structure.with_extra(load)
    reaction = structure.rows.T @ response.force
    internal = LargeDeflection(structure, structure_parts(found)).internal(x)
    assert structure.imbalance(whole, x, reaction, internal, large=True) == pytest.approx(response.imbalance)
    assert structure.imbalance(whole, x, reaction, internal) > 1e-3


def structure_parts(found):
    return tuple(part for rib in found.ribs for part in rib.contributions)


# --- a design ---


@pytest.fixture(scope="module")
def bowed():
    """A strip with a tube on it between two bolts, bowed by a load."""
    ends = {"shape": "rectangle", "length": 0.004, "width": 0.05}
    return sf.solve(
        sf.Splitter.model_validate(
            {
                "name": "strip",
                "panel": {
                    "outline": {
                        "start": (0, -0.03),
                        "edges": [{"to": (1, -0.03)}, {"to": (1, 0.03)}, {"to": (0, 0.03)}],
                    },
                    "sheet": {"material": "6061-T6 sheet", "thickness": 0.004},
                },
                "ribs": [
                    {
                        "name": "r",
                        "points": [(0.1, 0), (0.9, 0)],
                        "section": {"shape": "tube", "width": 0.02, "height": 0.02, "wall": 0.002},
                        "material": "6061-T6 extrusion",
                    }
                ],
                "bolts": [
                    {"name": "rear", "at": (0.01, 0.0), "holds": "xyz", "pad": ends},
                    {"name": "front", "at": (0.99, 0.0), "holds": "xyz", "pad": ends},
                    {"name": "no roll", "at": (0.01, 0.02), "holds": "z", "pad": "4 mm"},
                ],
                "car": {"ride_height": 0.2},
                "mesh": {"size": 0.015},
                "cases": [
                    {
                        "name": "bow",
                        "gravity": False,
                        "ground": False,
                        "large_deflection": True,
                        "forces": [
                            {
                                "kind": "patch",
                                "rectangle": {"x": (0.2, 0.8), "y": (-0.02, 0.02)},
                                "force": (0, 0, -3000),
                            }
                        ],
                    }
                ],
            }
        ),
        "bow",
    )


def test_cuts_through_a_design(bowed, tmp_path):
    """Strengths, tables and files see the pull between the bolts."""
    response = bowed.response
    assert response.large
    table = bowed.supports.set_index("support")
    H = table.fx_N["front"]
    assert table.fx_N["rear"] == pytest.approx(-H, rel=1e-6)
    # the sheet alone, between bolt and rib: what strengths look at, and what files say
    state = panel_state(bowed)
    N = bowed.model.panel.stiffness[0, 0] @ state.strains.T
    alone = (state.xy[0] > 0.04) & (state.xy[0] < 0.07)
    mean = float(state.area[alone] @ N[alone]) / float(state.area[alone].sum())
    assert 0.06 * mean == pytest.approx(H, rel=1e-2)
    mesh = meshio.read(write_vtu(bowed, tmp_path / "bow.vtu"))
    centre, area = bowed.model.panel.space.centroids[:, 0], bowed.model.panel.space.area
    alone = (centre > 0.04) & (centre < 0.07)
    N = mesh.cell_data["N_x_N_per_m"][0][alone]
    assert 0.06 * float(area[alone] @ N) / float(area[alone].sum()) == pytest.approx(H, rel=1e-2)
    # sheet and rib together
    rib = bowed.model.ribs[0]
    forces = rib_forces(bowed.model, rib, response.x, large=True)
    at = bowed.model.locator.line(np.array([[0.503, -0.03], [0.503, 0.03]]))
    sheet = resultants(bowed.model.panel, response.x, at.elements, at.xy, large=True).membrane[:, 0]
    assert at.weights @ sheet + np.interp(0.403, forces.s, forces.axial) == pytest.approx(H, rel=1e-2)


def test_tables_and_checks_of_a_design(bowed):
    """Each of them takes the stretch from the response: without it every one says something else."""
    small = replace(bowed, response=replace(bowed.response, large=False))
    rib = bowed.model.ribs[0]
    forces = rib_forces(bowed.model, rib, bowed.response.x, large=True)
    assert rib_table(bowed.model, bowed.response).axial_N[0] == pytest.approx(
        forces.axial[np.argmax(np.abs(forces.axial))]
    )
    assert abs(rib_table(small.model, small.response).axial_N[0] / bowed.ribs.axial_N[0] - 1.0) > 0.1
    flow = joint_forces(bowed.model, rib, bowed.response)
    half = flow.s <= 0.4
    assert np.trapezoid(flow.flow[half], flow.s[half]) == pytest.approx(
        np.interp(0.4, forces.s, forces.axial), rel=2e-2
    )
    assert abs(rib_checks(small)[0].demand / rib_checks(bowed)[0].demand - 1.0) > 0.02
