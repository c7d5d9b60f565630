"""Supports: closed forms of beams with stops and slots, exactness of the small contact problem, mechanisms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from splitterfem.errors import DesignError, MechanismError
from splitterfem.fem.loads import patch_load, pressure_load, resultant
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.play import PlayLaw, PlayProblem
from splitterfem.fem.recover import displacements
from splitterfem.fem.restraint import Restraint, held_directions, mean_rows, pad_samples, pocket, strut
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import distorted, rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

L, B, T, E = 0.6, 0.03, 0.012, 10e9
EI = E * B * T**3 / 12


def strip(length=L, width=B, n=24):
    """A strip without Poisson effect and stiff in shear: a beam of the textbooks."""
    points, triangles = rectangle_mesh(length, width, n, 2, pattern="cross")
    laminate = Homogeneous(T, E1=E, nu12=0.0, G13=E, G23=E)
    return Panel(PanelSpace(points, triangles), generalised_stiffness(laminate))


def clamped_end(panel):
    space = panel.space
    nodes = np.flatnonzero(space.node_points[0] < 1e-9)
    return space.dofs_of(nodes, COMPONENTS)


def tip_stop(panel, **limits):
    samples = Locator(panel.space).line(np.array([[L, 0.0], [L, B]]))
    return Restraint("stop", "tip", mean_rows(panel, samples)[[2]], **limits)


def sag(panel, x, at):
    at = np.array(at, dtype=float)[:, None]
    return -displacements(panel, x, Locator(panel.space).find(at, reach=1e-6), at)[0, 2]


@pytest.mark.parametrize("share", [0.3, 0.9, 1.5, 3.0])
def test_cantilever_with_a_stop_under_its_tip(share):
    """R = (3 EI/L^3)(q L^4/8 EI - g) once the stop is reached; statically indeterminate beam, any handbook."""
    panel = strip()
    gap = 0.004
    q = share * gap * 8 * EI / L**4
    structure = Structure(panel, (tip_stop(panel, lower=-gap, upper=np.inf),), fixed=clamped_end(panel))
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, q / B)))
    expected = max(0.0, 3 * EI / L**3 * (q * L**4 / (8 * EI) - gap))
    assert -response.force[0] == pytest.approx(expected, rel=1e-3, abs=1e-9)
    assert sag(panel, response.x, (L, B / 2)) == pytest.approx(min(share, 1.0) * gap, rel=1e-3)


def test_spring_under_the_tip():
    """Propped cantilever on a spring: R = (q L^4/8 EI)/(L^3/3 EI + 1/k)."""
    panel = strip()
    k, q = 2e4, 30.0
    structure = Structure(panel, (tip_stop(panel, compliance=1 / k),), fixed=clamped_end(panel))
    response = structure.solve(pressure_load(panel, lambda x, y: np.full_like(x, q / B)))
    assert -response.force[0] == pytest.approx(q * L**4 / (8 * EI) / (L**3 / (3 * EI) + 1 / k), rel=1e-3)


def held_in_plane(panel):
    nodes = np.arange(panel.space.n_nodes)
    return panel.space.dofs_of(nodes, ("u", "v"))


@pytest.mark.parametrize("clearance", [(1e-3, 2e-3), (2e-3, 0.5e-3)])
def test_slot_resists_by_the_couple_of_its_lips(clearance):
    """Overhanging beam: lips carry P (L+o)/o and P L/o; tip sag P L^2 (L+o)/3EI plus the tilt of the clearance."""
    up, down = clearance
    overlap, P = 0.05, 10.0
    reach = L - overlap
    panel = strip(n=48)
    locator = Locator(panel.space)
    lips = pocket(
        panel, locator, support="rear", mouth=(overlap, B / 2), width=B, overlap=overlap,
        clearance_up=up, clearance_down=down, stations=2,
    )  # fmt: skip
    structure = Structure(panel, tuple(lips), fixed=held_in_plane(panel))
    tip = locator.area(shapely.box(L - 1e-4, 0.0, L, B))
    response = structure.solve(patch_load(panel, tip, np.array([0.0, 0.0, -P])))
    force = {r.label: f for r, f in zip(structure.restraints, response.force, strict=True)}
    mouth = force["mouth 1"] + force["mouth 2"]
    end = force["end 1"] + force["end 2"]
    assert force["middle 1"] == force["middle 2"] == 0.0
    assert -mouth == pytest.approx(P * L / overlap, rel=1e-3)
    assert end == pytest.approx(P * reach / overlap, rel=1e-3)
    bend = P * reach**2 * L / (3 * EI)
    tilt = down + (up + down) * reach / overlap
    assert sag(panel, response.x, (L, B / 2)) == pytest.approx(bend + tilt, rel=2e-3)


def test_strut_carries_a_hinged_strip():
    """Strip hinged at the rear, hung from one inclined strut: T sin(a) L_s = q L^2/2 by moments."""
    panel = strip()
    locator = Locator(panel.space)
    x_s, height, lean = 0.4, 0.02, np.deg2rad(60)
    direction = np.array([-np.cos(lean), 0.0, np.sin(lean)])
    pad = mean_rows(panel, pad_samples(locator, shapely.box(x_s - 0.005, 0.0, x_s + 0.005, B), name="strut"))
    hinge = mean_rows(panel, locator.line(np.array([[0.0, 0.0], [0.0, B]])))
    restraints = [
        *held_directions(hinge, {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}, support="hinge"),
        strut(pad, direction, support="strut", bracket_height=height, stiffness=1e7),
    ]
    side = panel.space.dofs_of(np.arange(panel.space.n_nodes), "v")
    roll = panel.space.dofs_of(np.flatnonzero(panel.space.node_points[0] < 1e-9), "phi_y")
    structure = Structure(panel, tuple(restraints), fixed=np.union1d(side, roll))
    q = 50.0
    load = pressure_load(panel, lambda x, y: np.full_like(x, q / B))
    response = structure.solve(load)
    arm = x_s * np.sin(lean) + height * np.cos(lean)
    assert response.force[-1] == pytest.approx(q * L**2 / 2 / arm, rel=1e-6)
    assert response.force[0] == pytest.approx(response.force[-1] * direction[0], rel=1e-6)
    assert resultant(panel, load)[2] == pytest.approx(-q * L, rel=1e-9)


def rollers(panel, *places):
    """Rollers across a strip, by name, and what else holds it as a beam in the plane of its bending."""
    locator = Locator(panel.space)
    found = []
    for name, x in places:
        rows = mean_rows(panel, locator.line(np.array([[x, 0.0], [x, B]])))
        found += held_directions(rows, {"z": (0, 0, 1)}, support=name)
    nodes = np.arange(panel.space.n_nodes)
    return tuple(found), panel.space.dofs_of(nodes, ("u", "v", "phi_y"))


def test_a_beam_that_loses_its_middle_roller():
    """Two equal spans: 3/8, 10/8, 3/8 of q a; one of length 2 a: q a at each end and 5 q (2 a)^4/(384 EI) of sag."""
    panel = strip(n=48)
    restraints, fixed = rollers(panel, ("left", 0.0), ("middle", L / 2), ("right", L))
    whole = Structure(panel, restraints, fixed=fixed)
    q = 50.0
    load = pressure_load(panel, lambda x, y: np.full_like(x, q / B))
    before = whole.solve(load)
    assert -before.force == pytest.approx(q * L / 2 * np.array([3, 10, 3]) / 8, rel=2e-3)
    lost = whole.without("middle")
    assert [r.support for r in lost.restraints] == ["left", "right"]
    after = lost.solve(load)
    assert -after.force == pytest.approx([q * L / 2, q * L / 2], rel=1e-8)
    assert sag(panel, after.x, (L / 2, B / 2)) == pytest.approx(5 * q * L**4 / (384 * EI), rel=1e-3)
    assert len(after.motion) == len(after.side) == 2
    # What is lost is lost in the new structure only, and its matrix is the old one.
    assert whole.solve(load).force == pytest.approx(before.force, rel=1e-12)
    assert lost.base.factor is whole.base.factor


def test_losing_what_is_needed_names_the_motion_as_a_new_build_does():
    panel = strip()
    restraints, fixed = rollers(panel, ("left", 0.0), ("right", L))
    whole = Structure(panel, restraints, fixed=fixed)
    with pytest.raises(MechanismError) as lost:
        whole.without("right")
    with pytest.raises(MechanismError) as anew:
        Structure(panel, restraints[:1], fixed=fixed)
    assert str(lost.value) == str(anew.value)
    assert "pitches about the crosswise axis" in str(lost.value)
    with pytest.raises(DesignError, match="no support 'rigth' that could be lost; did you mean 'right'"):
        whole.without("rigth")


def test_a_lost_stop_no_longer_keeps_the_panel_from_being_lifted_off():
    """A beam on one roller and a stop above, pushed up at its far end: with the stop lost nothing holds it."""
    panel = strip()
    restraints, fixed = rollers(panel, ("left", 0.0))
    samples = Locator(panel.space).line(np.array([[L, 0.0], [L, B]]))
    row = mean_rows(panel, samples)[[2]]
    above = Restraint("above", "tip", row, lower=-np.inf, upper=1e-3)
    below = Restraint("below", "tip", row, lower=-1e-3, upper=np.inf)
    whole = Structure(panel, (*restraints, above, below), fixed=fixed)
    up = -pressure_load(panel, lambda x, y: np.full_like(x, 100.0))
    assert whole.solve(up).force[1:] == pytest.approx([50.0 * B * L, 0.0], rel=1e-8)
    assert whole.without("below").solve(up).force[1] == pytest.approx(50.0 * B * L, rel=1e-8)
    with pytest.raises(MechanismError, match=r"pitches .* lifts it off its supports"):
        whole.without("above").solve(up)


def test_tension_only_strut_goes_slack_and_preload_pulls():
    panel = strip()
    locator = Locator(panel.space)
    pad = mean_rows(panel, pad_samples(locator, shapely.box(L - 0.01, 0.0, L, B), name="cable"))
    up = np.array([0.0, 0.0, 1.0])
    none = np.zeros(panel.space.n_dofs)

    def force(load, **options):
        cable = strut(
            pad, up, support="cable", bracket_height=0.0, stiffness=1e5, tension_only=True, **options
        )
        return Structure(panel, (cable,), fixed=clamped_end(panel)).solve(load).force[0]

    lift = -pressure_load(panel, lambda x, y: np.full_like(x, 100.0))
    assert force(lift) == 0.0
    assert force(-lift) > 0.0
    assert force(-lift, slack=0.5) == 0.0
    # Preload at zero elongation relaxes against the strip: T = p (1/(1 + k L^3/3EI)), pad at the tip.
    arm = L - 0.005
    assert force(none, preload=20.0) == pytest.approx(20.0 / (1 + 1e5 * arm**3 / (3 * EI)), rel=2e-3)


def test_contact_does_not_depend_on_the_mesh_node():
    """The same pad on two meshes, once with a node under it and once without."""
    values = []
    for mesh in (rectangle_mesh(0.8, 0.5, 16, 10), rectangle_mesh(0.8, 0.5, 13, 9)):
        panel = Panel(PanelSpace(*mesh), generalised_stiffness(Homogeneous(T, E1=E)))
        locator = Locator(panel.space)
        pads = [shapely.Point(x, y).buffer(0.03) for x in (0.1, 0.7) for y in (0.1, 0.4)]
        rows = [mean_rows(panel, pad_samples(locator, pad, name="p")) for pad in pads]
        z = [r for i, row in enumerate(rows) for r in held_directions(row, {"z": (0, 0, 1)}, support=f"p{i}")]
        x = held_directions(rows[0], {"x": (1, 0, 0), "y": (0, 1, 0)}, support="p0")
        y = held_directions(rows[1], {"x": (1, 0, 0)}, support="p1")
        response = Structure(panel, (*z, *x, *y)).solve(pressure_load(panel, lambda x, y: 1000 + 0 * x))
        assert response.force[:4] == pytest.approx(np.full(4, -100.0), rel=1e-9)
        values.append(sag(panel, response.x, (0.4, 0.25)))
    assert values[0] == pytest.approx(values[1], rel=5e-3)


def springs(panel, names):
    """Pads that hold some directions at some places, e.g. {"a": ((x, y), "xz")}."""
    locator = Locator(panel.space)
    unit = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}
    found = []
    for name, (at, holds) in names.items():
        rows = mean_rows(panel, pad_samples(locator, shapely.Point(at).buffer(0.01), name=name))
        found += held_directions(rows, {h: unit[h] for h in holds}, support=name)
    return tuple(found)


@pytest.mark.parametrize(
    ("supports", "motion"),
    [
        ({}, "Nothing holds the panel"),
        ({"a": ((0.1, 0.1), "xyz")}, "pitches about the crosswise axis"),
        ({"a": ((0.1, 0.25), "xyz"), "b": ((0.7, 0.25), "yz")}, "rolls about the fore-and-aft axis"),
        ({"a": ((0.1, 0.1), "yz"), "b": ((0.7, 0.1), "yz"), "c": ((0.4, 0.4), "z")}, "slides fore and aft"),
        ({"a": ((0.1, 0.1), "xz"), "b": ((0.1, 0.4), "z"), "c": ((0.7, 0.2), "xz")}, "slides sideways"),
        ({"a": ((0.4, 0.25), "xy"), "b": ((0.7, 0.1), "z"), "c": ((0.7, 0.4), "z"), "d": ((0.1, 0.2), "z")},
         "turns in plan"),
    ],
)  # fmt: skip
def test_a_mechanism_is_named(supports, motion):
    points, triangles = rectangle_mesh(0.8, 0.5, 8, 5)
    panel = Panel(PanelSpace(points, triangles), generalised_stiffness(Homogeneous(T, E1=E)))
    with pytest.raises(MechanismError, match=motion) as caught:
        Structure(panel, springs(panel, supports))
    assert str(caught.value).count(".") == 1
    assert "add " in str(caught.value)


def test_a_load_that_lifts_the_panel_off_is_named():
    panel = strip()
    stop = tip_stop(panel, lower=-1e-3, upper=np.inf)
    hinge = mean_rows(panel, Locator(panel.space).line(np.array([[0.0, 0.0], [0.0, B]])))
    rest = (*held_directions(hinge, {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}, support="hinge"), stop)
    space = panel.space
    fixed = np.union1d(
        space.dofs_of(np.arange(space.n_nodes), "v"),
        space.dofs_of(np.flatnonzero(space.node_points[0] < 1e-9), "phi_y"),
    )
    structure = Structure(panel, rest, fixed=fixed)
    down = pressure_load(panel, lambda x, y: np.full_like(x, 100.0))
    assert structure.solve(down).side[-1] == -1
    with pytest.raises(MechanismError, match=r"pitches .* lifts it off its supports"):
        structure.solve(-down)


def test_pad_off_the_panel_is_refused():
    panel = strip()
    with pytest.raises(
        DesignError, match=r"pad of left bolt at \(600\.0, 15\.0\) mm lies 50 % off the panel"
    ):
        pad_samples(Locator(panel.space), shapely.box(L - 0.01, 0.005, L + 0.01, B - 0.005), name="left bolt")


@settings(max_examples=300, deadline=None)
@given(st.integers(1, 12), st.integers(0, 2**32 - 1))
def test_play_problem_obeys_its_law(m, seed):
    """Random elastic bodies with random plays: the law holds, and the reaction set is the minimum of energy."""
    rng = np.random.default_rng(seed)
    factor = rng.normal(size=(m, m + 2))
    stiffness = factor @ factor.T + 1e-3 * np.eye(m)
    lower = -rng.uniform(0, 1, m)
    upper = rng.uniform(0, 1, m)
    lower[rng.random(m) < 0.3] = -np.inf
    upper[rng.random(m) < 0.3] = np.inf
    compliance = np.where(rng.random(m) < 0.5, 0.0, rng.uniform(0.1, 1, m))
    reference = np.where(compliance > 0, 1 / np.maximum(compliance, 1e-9), rng.uniform(0.5, 2, m))
    load = 10 * rng.normal(size=m)
    flexibility = np.linalg.inv(stiffness + np.diag(reference))
    lost = rng.random(m) < 0.2
    law = PlayLaw(lower, upper, compliance).without(lost)
    lower, upper = np.where(lost, -np.inf, lower), np.where(lost, np.inf, upper)
    state = PlayProblem(flexibility, reference, law, np.zeros((m, 0))).solve(flexibility @ load)
    assert state.held
    assert np.all(state.force[lost] == 0.0)
    assert state.residual < 1e-9
    y, force = state.motion, state.force
    assert stiffness @ y + force == pytest.approx(load, rel=1e-6, abs=1e-6)
    expected = np.where(y > upper, y - upper, np.where(y < lower, y - lower, 0.0))
    elastic = compliance > 0
    assert force[elastic] * compliance[elastic] == pytest.approx(expected[elastic], abs=1e-8)
    # A rigid bound gives way by a billionth of the body's own compliance, so that twins share their force.
    assert np.all(
        np.abs(expected - 1e-9 * force / reference)[~elastic] < 1e-12 * (1 + np.abs(force[~elastic]))
    )
    assert np.all(force[(y < upper - 1e-7) & ~elastic] <= 1e-9)
    assert np.all(force[(y > lower + 1e-7) & ~elastic] >= -1e-9)


def test_symmetric_meshes_keep_symmetric_answers():
    """Mirror design, mirror answer, on a mesh that is not mirrored."""
    points, triangles = rectangle_mesh(0.6, 0.8, 9, 12)
    points = distorted(points, triangles, 0.2, 3)[0]
    mirrored = np.vstack([points[0], 0.8 - points[1]])
    answers = []
    for p, flip in ((points, False), (mirrored, True)):
        panel = Panel(PanelSpace(p, triangles), generalised_stiffness(Homogeneous(T, E1=E, nu12=0.3)))
        at = {"a": ((0.1, 0.2), "xyz"), "b": ((0.5, 0.7), "xyz"), "c": ((0.5, 0.1), "z")}
        if flip:
            at = {k: ((x, 0.8 - y), h) for k, ((x, y), h) in at.items()}
        response = Structure(panel, springs(panel, at)).solve(pressure_load(panel, lambda x, y: 100 + 0 * x))
        answers.append(sag(panel, response.x, (0.3, 0.61) if not flip else (0.3, 0.8 - 0.61)))
    assert answers[0] == pytest.approx(answers[1], rel=1e-9)
