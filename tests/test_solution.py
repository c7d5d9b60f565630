"""The whole way from a design to its solution: invariants, closed forms, and the demonstration."""

from __future__ import annotations

import numpy as np
import pytest

import splitterfem as sf

SHEET = {"material": "birch plywood 12 mm", "thickness": 0.012}
TUBE = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
GRAVITY = 9.80665


def turned(point, angle):
    c, s = np.cos(angle), np.sin(angle)
    x, y = point[:2]
    return (c * x - s * y, s * x + c * y, *point[2:])


def panel(angle=0.0, *, mirror=1.0):
    """A lopsided panel with an opening, two ribs, three struts and pins, turned about z or mirrored in y."""

    def put(*point):
        x, y, *rest = point
        return turned((x, mirror * y, *rest), angle)

    corners = [(0.0, -0.5), (0.6, -0.45), (0.65, 0.5), (0.0, 0.4)]
    hole = [(0.15, -0.1), (0.35, -0.1), (0.3, 0.1), (0.15, 0.1)]

    def outline(points):
        first, *rest = [put(*p) for p in points]
        return {"start": first, "edges": [{"to": p} for p in rest]}

    return sf.Splitter.model_validate(
        {
            "name": "lopsided",
            "panel": {
                "outline": outline(corners),
                "cutouts": [{"name": "hole", "outline": outline(hole)}],
                "sheet": SHEET | {"grain_angle": mirror * np.deg2rad(20) + angle},
            },
            "ribs": [
                {"name": "long", "points": [put(0.45, -0.35), put(0.42, 0.0), put(0.5, 0.35)], "section": TUBE,
                 "material": "6061-T6 extrusion"},
                {"name": "angle", "points": [put(0.05, 0.2), put(0.35, 0.25)], "side": "below",
                 "section": {"shape": "angle", "foot": 0.03, "upright": 0.03, "wall": 0.003},
                 "flip": mirror < 0, "material": "6063-T5 extrusion"},
            ],
            "struts": [
                {"name": name, "foot": put(*foot), "bracket_height": 0.03, "head": put(*head), "diameter": 0.008}
                for name, foot, head in (
                    ("a", (0.55, -0.3), (0.4, -0.25, 0.3)),
                    ("b", (0.55, 0.35), (0.45, 0.3, 0.25)),
                    ("c", (0.1, 0.3), (0.05, 0.2, 0.3)),
                )
            ],
            "pins": [{"name": "p", "at": put(0.08, -0.3), "holds": "xyz"},
                     {"name": "q", "at": put(0.08, 0.3), "holds": "xy", "slot": angle + mirror * np.deg2rad(80)}],
            "car": {"ride_height": 0.08},
            "mesh": {"size": 0.03},
            "cases": [
                {"name": "air", "speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.8},
                 "forces": [{"kind": "point", "at": put(0.5, 0.1), "force": [0, 0, -200.0]}]},
            ],
        }
    )  # fmt: skip


PLACES = [(0.6, 0.0), (0.3, 0.35), (0.02, -0.45), (0.5, 0.1)]


def sags(splitter, angle=0.0, mirror=1.0):
    solution = sf.solve(splitter, "air")
    at = np.array([turned((x, mirror * y), angle) for x, y in PLACES])
    return solution, solution.sag_at(at[:, 0], at[:, 1])


@pytest.fixture(scope="module")
def straight():
    return sags(panel())


@pytest.mark.parametrize("degrees", [37, 90, 200])
def test_turning_the_design_turns_the_answer(straight, degrees):
    """Another orientation gives another mesh: the sag agrees within the mesh's own error."""
    angle = np.deg2rad(degrees)
    _, sag = sags(panel(angle), angle)
    assert sag == pytest.approx(straight[1], abs=4e-3 * straight[0].max_sag)


def test_mirror_design_mirror_answer(straight):
    solution, sag = sags(panel(mirror=-1.0), mirror=-1.0)
    assert sag == pytest.approx(straight[1], abs=4e-3 * straight[0].max_sag)
    pairs = zip(straight[0].supports.itertuples(), solution.supports.itertuples(), strict=True)
    for here, there in pairs:
        assert there.fy_N == pytest.approx(-here.fy_N, rel=2e-2, abs=2.0)
        assert there.fz_N == pytest.approx(here.fz_N, rel=2e-2, abs=2.0)


def test_forces_and_moments_balance(straight):
    """Six sums over loads and the printed support forces, by hand."""
    solution = straight[0]
    load = np.sum(list(solution.load.resultants.values()), axis=0)
    force, moment = np.zeros(3), np.zeros(3)
    for row, support in zip(solution.supports.itertuples(), solution.model.supports, strict=True):
        f = np.array([row.fx_N, row.fy_N, row.fz_N])
        force += f
        moment += np.cross(support.at, f)
    assert force == pytest.approx(-load[:3], abs=1e-9 * abs(load).max())
    assert moment == pytest.approx(-load[3:], abs=1e-9 * abs(load).max())
    assert solution.equilibrium < 1e-9


def test_loads_are_what_was_asked(straight):
    """Uniform pressure: q cp A; weight: rho t A + rho A l; the force as given (closed forms)."""
    solution = straight[0]
    area = solution.model.mesh.area
    q = 0.5 * 1.225 * 50.0**2
    assert solution.downforce == pytest.approx(0.8 * q * area, rel=1e-12)
    parts = solution.load.resultants
    assert parts["weight and inertia"][2] == pytest.approx(-GRAVITY * solution.mass, rel=1e-12)
    assert parts["force 1"][:3] == pytest.approx([0, 0, -200.0])
    x, y = turned((0.5, 0.1), 0.0)
    assert parts["force 1"][3:5] == pytest.approx([-200.0 * y, 200.0 * x], rel=1e-6)


def test_mass_and_centre_of_gravity():
    """Rectangle with one tube above: closed form."""
    splitter = rectangle(ribs=[{"name": "r", "points": [(0.3, -0.2), (0.3, 0.2)], "section": TUBE,
                                "material": "6061-T6 extrusion"}])  # fmt: skip
    solution = sf.solve(splitter, "air")
    sheet = splitter.panel.sheet.resolved.density * 0.012 * 0.6 * 0.5
    tube = 0.0254**2 - 0.019**2
    rib = 0.4 * tube * float(splitter.ribs[0].resolved.density)
    assert solution.mass == pytest.approx(sheet + rib, rel=1e-9)
    x, y, z = solution.centre_of_gravity
    assert x == pytest.approx(0.3)
    assert y == pytest.approx(0.0, abs=1e-12)
    assert z == pytest.approx(rib * (0.006 + 0.0127) / (sheet + rib), rel=1e-9)


def rectangle(**more):
    """600 x 500 mm, held at four bolts."""
    return sf.Splitter.model_validate(
        {
            "name": "plain",
            "panel": {"outline": {"start": (0, -0.25), "edges": [{"to": (0.6, -0.25)}, {"to": (0.6, 0.25)},
                                                                 {"to": (0, 0.25)}]}, "sheet": SHEET},
            "bolts": [{"name": f"b{i}", "at": at} for i, at in
                      enumerate([(0.05, 0.2), (0.05, -0.2), (0.55, 0.2), (0.55, -0.2)])],
            "car": {"ride_height": 0.08, "rake": 0.01},
            "cases": [{"name": "air", "speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.8}}],
        } | more
    )  # fmt: skip


def test_clearance_is_ride_height_less_rake_less_sag():
    solution = sf.solve(rectangle(), "air")
    field = solution.clearance.field
    expected = 0.08 - np.tan(0.01) * field.x - solution.sag.values
    assert field.values == pytest.approx(expected, abs=1e-15)
    assert solution.min_clearance == pytest.approx(expected.min())
    below = rectangle(ribs=[{"name": "deep", "points": [(0.3, -0.15), (0.3, 0.15)], "section": TUBE, "side": "below",
                             "material": "6061-T6 extrusion"}])  # fmt: skip
    under = sf.solve(below, "air").clearance
    assert under.under == "deep"
    assert under.least < 0.08 - 0.003 - 0.0254


def test_rib_forces_of_a_strip_in_bending():
    """Transformed section: a stiff tube on a narrow strip under end couples by a central load (closed form).

    Simply supported strip, load P in the middle: M = P L/4 is shared by panel and rib as the composite
    section has it; N = E A (z_rib - z_axis) M/EI_full and M_rib = EI_rib M/EI_full (Timoshenko, Strength of
    Materials, composite beams).
    """
    from splitterfem.analysis.jointforces import joint_forces
    from splitterfem.analysis.ribforces import rib_forces

    L, b, P = 1.0, 0.06, 100.0
    splitter = sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {"outline": {"start": (0, -b / 2), "edges": [{"to": (L, -b / 2)}, {"to": (L, b / 2)},
                                                                  {"to": (0, b / 2)}]},
                      "sheet": {"material": "6061-T6 sheet", "thickness": 0.004}},
            "ribs": [{"name": "r", "points": [(0, 0), (L, 0)], "section": TUBE, "material": "6061-T6 extrusion"}],
            "bolts": [{"name": "fixed", "at": (0.01, 0.0), "holds": "xyz", "pad": {"shape": "rectangle",
                       "length": 0.004, "width": 0.05}},
                      {"name": "free", "at": (L - 0.01, 0.0), "holds": "yz", "pad": {"shape": "rectangle",
                       "length": 0.004, "width": 0.05}},
                      {"name": "no roll", "at": (0.01, 0.02), "holds": "z", "pad": "4 mm"}],
            "car": {"ride_height": 0.08},
            "mesh": {"size": 0.012},
            "cases": [{"name": "middle", "gravity": False, "forces": [
                {"kind": "patch", "rectangle": {"x": (L / 2 - 0.01, L / 2 + 0.01), "y": (-0.02, 0.02)},
                 "force": (0, 0, -P)}]}],
        }
    )  # fmt: skip
    solution = sf.solve(splitter, "middle")
    rib = solution.model.ribs[0]
    forces = rib_forces(solution.model, rib, solution.response.x)
    E, E_rib = float(splitter.panel.sheet.resolved.E1), float(rib.material.E)
    area, inertia = rib.properties.area, rib.properties.I
    e = 0.002 + 0.0127
    panel_EA, rib_EA = E * b * 0.004, E_rib * area
    axis = rib_EA * e / (panel_EA + rib_EA)
    full = E * b * 0.004**3 / 12 + panel_EA * axis**2 + E_rib * inertia + rib_EA * (e - axis) ** 2
    quarter = np.argmin(np.abs(forces.s - 0.255))
    M = P / 2 * (forces.s[quarter] - 0.01)
    # The panel sags, so its upper side is in compression: the rib above it too.
    assert forces.axial[quarter] == pytest.approx(-rib_EA * (e - axis) * M / full, rel=2e-2)
    assert forces.moment[quarter] == pytest.approx(-E_rib * inertia * M / full, rel=3e-2)
    # Shear flow of the joint V Q / I (same source), constant between support and load.
    flow = joint_forces(solution.model, rib, solution.response)
    expected = P / 2 * rib_EA * (e - axis) / full
    between = (flow.s > 0.15) & (flow.s < 0.35)
    assert np.abs(flow.flow[between]) == pytest.approx(expected, rel=5e-2)
    half = flow.s <= 0.5 * L
    assert np.trapezoid(flow.flow[half], flow.s[half]) == pytest.approx(
        np.interp(0.5 * L, forces.s, forces.axial), 2e-2
    )
    assert solution.joints.joint.tolist() == ["bond"]
    shear = 1e-6 * np.abs(flow.flow).max() / rib.design.foot_width
    assert solution.joints.shear_MPa[0] == pytest.approx(shear)
    assert solution.max_sag == pytest.approx(P * (L - 0.02) ** 3 / (48 * full), rel=2e-2)


def test_stress_of_ribs_hardly_depends_on_the_mesh():
    """The demonstration on two meshes; a strain taken at single points of a rib's webs wanders by a factor of two."""
    demo = sf.demo()
    coarse, fine = (
        sf.solve(demo.with_(mesh=demo.mesh.with_(size=size)), "straight, 210 km/h").ribs.set_index("rib")
        for size in (0.06, 0.04)
    )
    assert fine.stress_MPa.to_numpy() == pytest.approx(coarse.stress_MPa.to_numpy(), rel=0.08)
    assert fine.axial_N.to_numpy() == pytest.approx(coarse.axial_N.to_numpy(), rel=0.1)


def test_unheld_designs_are_named():
    splitter = rectangle(bolts=[{"name": "one", "at": (0.3, 0.0)}])
    with pytest.raises(sf.MechanismError, match="rolls about the fore-and-aft axis"):
        sf.solve(splitter, "air")
    with pytest.raises(sf.MechanismError, match="Nothing holds the panel: add supports"):
        sf.solve(rectangle(bolts=[]), "air")


def test_a_case_that_loads_nothing_is_refused():
    case = sf.LoadCase(name="nothing", gravity=False)
    with pytest.raises(sf.DesignError, match="'nothing' loads nothing"):
        sf.solve(rectangle(), case)


def test_a_map_beside_the_panel_is_refused(tmp_path):
    (tmp_path / "taps.csv").write_text("x_mm,y_mm,cp\n9000,0,1\n9100,0,1\n9000,100,1\n")
    splitter = rectangle(
        cases=[{"name": "air", "speed": 50.0, "pressure": {"kind": "taps", "file": "taps.csv", "quantity": "cp",
                "length_unit": "mm"}}]
    ).in_folder(tmp_path)  # fmt: skip
    with pytest.raises(sf.DesignError, match="covers none of the panel"):
        sf.solve(splitter, "air")


def test_sag_at_takes_arrays(straight):
    solution = straight[0]
    grid = solution.sag_at(np.array([[0.5], [0.55]]), np.array([-0.1, 0.0, 0.1]))
    assert grid.shape == (2, 3)
    assert np.all(np.isfinite(grid))
    assert np.isnan(solution.sag_at(5.0, 0.0))
    assert np.isnan(solution.sag_at(0.25, 0.0))  # in the opening
    x, y = solution.max_sag_at
    assert solution.sag_at(x, y) == pytest.approx(solution.max_sag)


def test_second_case_reuses_the_factorisation():
    splitter = rectangle()
    first = sf.solve(splitter, "air")
    again = sf.solve(splitter.with_(car={"ride_height": 0.05}), sf.LoadCase(name="weight"))
    assert again.model.structure is first.model.structure
    assert again.clearance.least < first.clearance.least


def test_sag_converges_under_refinement():
    """Halving the mesh size changes the demonstration-like sag by well under 1 %."""
    values = [sf.solve(panel().with_(mesh={"size": size}), "air").max_sag for size in (0.04, 0.02, 0.012)]
    assert values[1] == pytest.approx(values[2], rel=4e-3)
    assert abs(values[1] - values[2]) < abs(values[0] - values[2]) + 1e-9


def test_demonstration_is_held_and_sound():
    splitter = sf.demo()
    assert splitter.invented
    assert len(splitter.cases) >= 3
    for case in splitter.cases:
        solution = sf.solve(splitter, case.name)
        assert solution.equilibrium < 1e-9
        assert solution.residual < 1e-9
        assert 0.5e-3 < solution.max_sag < 30e-3
        assert solution.min_clearance > 0.02
