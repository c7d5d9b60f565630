"""Utilisation from the design to the table, against closed forms of statics and figures of the standards."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

import splitterfem as sf
from splitterfem import materials

METAL = "6061-T6 sheet"
PLY = "birch plywood 12 mm"
YIELD = 240e6  # Pa, 6061-T6 sheet, ASTM B209 minimum as in the catalogue
AREA_M8 = 36.6e-6  # m2, tensile stress area of M8, ISO 898-1 [M]
K_MOD = 0.70  # EN 1995-1-1 table 3.1, plywood, service class 3, short
GAMMA_PLYWOOD, GAMMA_CONNECTION = 1.2, 1.3  # EN 1995-1-1 table 2.3
SUPPORT = 0.01  # m, from the end of a strip to the line that it rests on


def box(x0, x1, y0, y1):
    return {"start": (x0, y0), "edges": [{"to": (x1, y0)}, {"to": (x1, y1)}, {"to": (x0, y1)}]}


def design(panel, sheet, *, mesh=0.012, case=None, **parts):
    loading = {"name": "load", "gravity": False} | (case or {})
    return sf.Splitter.model_validate(
        {
            "name": "by hand",
            "panel": {"outline": box(*panel), "sheet": sheet},
            "car": {"ride_height": 0.08},
            "mesh": {"size": mesh},
            "cases": [loading],
            **parts,
        }
    )


def strip(length, width, sheet, *, case, **parts):
    """A strip that rests on two lines, free to turn on both."""
    line = {"shape": "rectangle", "length": 0.004, "width": 0.8 * width}
    bolts = [
        {"name": "fixed", "at": (SUPPORT, 0.0), "holds": "xyz", "pad": line},
        {"name": "free", "at": (length - SUPPORT, 0.0), "holds": "yz", "pad": line},
        {"name": "no roll", "at": (SUPPORT, 0.3 * width), "holds": "z", "pad": "4 mm"},
    ]
    return design((0.0, length, -width / 2, width / 2), sheet, case=case, bolts=bolts, **parts)


def solved(splitter):
    return sf.solve(splitter, "load")


def row(solution, part, mode):
    """Return the one row of a part whose mode begins with some words."""
    table = solution.utilisation
    found = table[(table.part == part) & table["mode"].str.startswith(mode)]
    assert len(found) == 1, table[["part", "mode"]]
    return found.iloc[0]


def pressure(value):
    return {"pressure": {"kind": "uniform", "pressure": value}}


def test_metal_strip_under_pressure():
    """Middle of a simply supported strip: M = p L^2 / 8 - p a^2 / 2 with overhangs a, stress M / (t^2 / 6)."""
    L, t, p = 0.64, 0.006, 2000.0
    solution = solved(strip(L, 0.06, {"material": METAL, "thickness": t}, case=pressure(p)))
    span = L - 2 * SUPPORT
    stress = (p * span**2 / 8 - p * SUPPORT**2 / 2) / (t**2 / 6)
    found = row(solution, "panel", "von Mises")
    assert found.demand == pytest.approx(1e-6 * stress, rel=1.5e-2)
    assert found.ratio == pytest.approx(stress / (YIELD / 1.5), rel=1.5e-2)
    assert found.x_mm == pytest.approx(1e3 * L / 2, abs=50)


def test_load_factor_multiplies_every_demand():
    splitter = strip(0.64, 0.06, {"material": METAL, "thickness": 0.006}, case=pressure(2000.0))
    once = solved(splitter).utilisation
    twice = solved(splitter.with_("strength.load_factor", 2.0)).utilisation
    assert twice.ratio.to_numpy() == pytest.approx(2 * once.ratio.to_numpy())


def test_doubler_is_judged_at_its_own_height():
    """Strip with a second sheet of the same metal on it: both outer faces have M / (T^2 / 6), T both thicknesses."""
    L, p, t, extra = 0.64, 2000.0, 0.004, 0.003
    doubler = {"name": "patch", "rectangle": {"x": (0.1, 0.54), "y": (-0.03, 0.03)},
               "sheet": {"material": METAL, "thickness": extra}}  # fmt: skip
    solution = solved(
        strip(L, 0.06, {"material": METAL, "thickness": t}, case=pressure(p), doublers=[doubler])
    )
    moment = p * (L - 2 * SUPPORT) ** 2 / 8 - p * SUPPORT**2 / 2
    assert row(solution, "patch", "von Mises").demand == pytest.approx(
        1e-6 * 6 * moment / (t + extra) ** 2, rel=2e-2
    )


@pytest.fixture(scope="module")
def cantilever():
    """Plywood strip held in a pocket without play and bent by a couple of forces near its free end."""
    force = [
        {"kind": "patch", "rectangle": {"x": (x - 0.01, x + 0.01), "y": (-0.03, 0.03)}, "force": (0, 0, sign * 100.0)}
        for x, sign in ((0.45, 1.0), (0.55, -1.0))
    ]  # fmt: skip
    pocket = {"name": "pocket", "mouth": (0.1, 0.0), "width": 0.06, "overlap": 0.1, "lip_thickness": 0.003,
              "lip_material": "6061-T6 extrusion"}  # fmt: skip
    pins = [
        {"name": "pin", "at": (0.04, 0.0), "holds": "xy", "pad": "8 mm"},
        {"name": "guide", "at": (0.2, 0.0), "holds": "xy", "slot": 0.0, "pad": "8 mm"},
    ]
    sheet = {"material": PLY, "thickness": 0.012}
    case = {"forces": force}
    return solved(design((0.0, 0.6, -0.03, 0.03), sheet, case=case, pockets=[pocket], pins=pins))


def test_plywood_cantilever(cantilever):
    """Bending moment of the couple over W, against f_m k_mod / gamma_M (EN 1995-1-1 2.4.1)."""
    strength = materials.sheet(PLY).strength.bending_along
    edge = 100.0 * 0.1 / (0.06 * 0.012**2 / 6)
    found = row(cantilever, "panel", "bending and axial force along")
    assert found.ratio == pytest.approx(edge / (strength * K_MOD / GAMMA_PLYWOOD), rel=2e-2)


def test_pocket_by_hand(cantilever):
    """Line load under a lip and its bending moment from the table of contacts; yield 241 MPa over 1.5."""
    contacts = cantilever.contacts
    stretch = 0.06 / 6
    bearing = row(cantilever, "pocket", "bearing of the panel")
    assert bearing.demand == pytest.approx(1e-3 * contacts.fz_N.abs().max() / stretch)
    assert bearing.allowable == pytest.approx(8.0 * 25.0 * K_MOD / GAMMA_PLYWOOD)
    arm = 0.1 - (0.1 - 1e-3 * contacts.x_mm)
    moments = []
    for sign in (-1.0, 1.0):  # an upper lip pushes down, a lower one up
        part = (contacts.fz_N.abs() * arm)[sign * contacts.fz_N > 0]
        moments += list(part.groupby(contacts.y_mm).sum())
    bending = row(cantilever, "pocket", "bending of the lip")
    assert bending.ratio == pytest.approx(max(moments) / stretch / (241e6 / 1.5 * 0.003**2 / 6), rel=1e-9)


def hung(*, p=4000.0, mesh=0.03, sheet=None, case=None, pins=None, **strut):
    """A square panel on four vertical struts at equal places, pins in its middle."""
    struts = [
        {"name": f"s{i}", "foot": (x, y), "head": (x, y, 0.3), "diameter": 0.008, "pad": "40 mm"} | strut
        for i, (x, y) in enumerate([(0.1, -0.2), (0.1, 0.2), (0.5, -0.2), (0.5, 0.2)])
    ]
    held = pins or [
        {"name": "pin", "at": (0.3, -0.1), "holds": "xy"},
        {"name": "guide", "at": (0.3, 0.1), "holds": "x"},
    ]
    board = sheet or {"material": PLY, "thickness": 0.012}
    return design((0.0, 0.6, -0.3, 0.3), board, mesh=mesh, case=case or pressure(p), struts=struts, pins=held)


def test_strut_in_tension():
    """A quarter of the load each; bar A f_y / 1.5, thread 0.9 f_ub A_s / 1.25 (EN 1993-1-8 table 3.4)."""
    solution = solved(hung(thread="M8", strength_class="8.8", end_rating=3000.0))
    force = 4000.0 * 0.36 / 4
    limit = 0.25 * math.pi * 0.008**2 * materials.bar("mild steel").yield_strength / 1.5
    assert row(solution, "s0", "tension, yield").ratio == pytest.approx(force / limit, rel=1e-2)
    thread = 0.9 * 800e6 * AREA_M8 / 1.25
    assert row(solution, "s0", "tension of the thread").ratio == pytest.approx(force / thread, rel=1e-2)
    assert row(solution, "s0", "end fitting").ratio == pytest.approx(force / (3000.0 / 1.5), rel=1e-2)


def test_strut_in_compression():
    """Euler's load pi^2 E I / L^2 of a slender bar over 1.5."""
    solution = solved(hung(p=-4000.0))
    I = math.pi * 0.008**4 / 64  # noqa: E741
    euler = math.pi**2 * float(solution.model.design.struts[0].modulus) * I / 0.3**2
    found = row(solution, "s3", "buckling")
    assert found.ratio == pytest.approx(4000.0 * 0.36 / 4 / (euler / 1.5), rel=1e-2)


def test_cable_by_its_rating():
    cable = {"form": "cable", "modulus": 80e9, "end_rating": 5000.0}
    found = row(solved(hung(**cable)), "s1", "break of the cable")
    assert found.ratio == pytest.approx(4000.0 * 0.36 / 4 / (5000.0 / 1.5), rel=1e-2)


def test_panel_at_a_pad_does_not_depend_on_the_mesh():
    coarse, fine = (solved(hung(mesh=h)).utilisation for h in (0.02, 0.01))
    worst = [float(table[table.part == "panel"].ratio.iloc[0]) for table in (coarse, fine)]
    assert worst[0] == pytest.approx(worst[1], rel=3e-2)


def test_bolts_in_plywood():
    """A quarter of the load on each of four washers: 3 f_c90 A k_mod / gamma_M (EN 1995-1-1 8.5.2), M8 8.8."""
    bolts = [
        {"name": f"b{i}", "at": at, "holds": "xyz" if i == 0 else "z", "pad": "30 mm", "diameter": 0.008,
         "strength_class": "8.8"}
        for i, at in enumerate([(0.1, -0.2), (0.1, 0.2), (0.5, -0.2), (0.5, 0.2)])
    ]  # fmt: skip
    bolts.append({"name": "guide", "at": (0.5, 0.0), "holds": "y"})
    case = {"acceleration": (0.0, 0.0, 0.0)} | pressure(4000.0)
    solution = solved(
        design(
            (0.0, 0.6, -0.3, 0.3), {"material": PLY, "thickness": 0.012}, mesh=0.03, case=case, bolts=bolts
        )
    )
    force = 4000.0 * 0.36 / 4
    washer = 3 * 8e6 * 0.25 * math.pi * (0.030**2 - 0.008**2) * K_MOD / GAMMA_CONNECTION
    assert row(solution, "b1", "bearing under the washer").ratio == pytest.approx(force / washer, rel=1e-2)
    tension = 0.9 * 800e6 * AREA_M8 / 1.25
    assert row(solution, "b1", "tension of the thread").ratio == pytest.approx(force / tension, rel=1e-2)
    head = 8e6 * 0.030**2 * K_MOD / GAMMA_CONNECTION  # EN 1995-1-1 8.40
    assert row(solution, "b1", "pull-through").ratio == pytest.approx(force / head, rel=1e-2)


def test_bolt_shear_in_braking():
    """Inertia m a on the only bolt that holds x: embedment 0.11 (1 - 0.01 d) rho_k t d (EN 1995-1-1 8.36)."""
    bolt = {
        "name": "b",
        "at": (0.3, 0.0),
        "holds": "xy",
        "diameter": 0.008,
        "strength_class": "8.8",
        "pad": "30 mm",
    }
    splitter = hung(
        case={"acceleration": (-20.0, 0.0, 0.0)}, pins=[{"name": "guide", "at": (0.5, 0.0), "holds": "y"}]
    )
    solution = solved(splitter.with_(bolts=[bolt]))
    force = solution.mass * 20.0
    density = materials.sheet(PLY).density_characteristic
    bearing = 0.11 * (1 - 0.08) * density * 12 * 8 * K_MOD / GAMMA_CONNECTION
    assert row(solution, "b", "embedment").ratio == pytest.approx(force / bearing, rel=2e-2)
    shear = 0.6 * 800e6 * AREA_M8 / 1.25  # EN 1993-1-8 table 3.4
    assert row(solution, "b", "shear of the bolt").ratio == pytest.approx(force / shear, rel=2e-2)


def test_pins_in_braking():
    """Half of the inertia m a on each of two pins; double shear 2 A tau_u / 1.25 (EN 1993-1-8 table 3.10)."""
    pins = [
        {"name": "rated", "at": (0.3, -0.1), "holds": "xy", "rating": 900.0},
        {"name": "clevis", "at": (0.3, 0.1), "holds": "x", "diameter": 0.006, "shear_strength": 240e6,
         "lug_thickness": 0.006, "clevis_thickness": 0.003, "gap": 0.001},
    ]  # fmt: skip
    solution = solved(hung(case={"acceleration": (-20.0, 0.0, 0.0)}, pins=pins))
    force = solution.mass * 20.0 / 2
    assert row(solution, "rated", "rating").ratio == pytest.approx(force / (900.0 / 1.5), rel=1e-2)
    shear = 2 * 0.25 * math.pi * 0.006**2 * 240e6 / 1.25
    assert row(solution, "clevis", "shear").ratio == pytest.approx(force / shear, rel=1e-2)
    bending = row(solution, "clevis", "bending")
    assert math.isnan(bending.ratio)
    assert bending.demand == pytest.approx(force / 8 * 0.016, rel=1e-2)


WIDTH, T, LENGTH, LOAD = 0.06, 0.004, 0.82, 1000.0
BAR = {"shape": "flat", "width": 0.02, "height": 0.008}


def jointed(joint, *, sheet=None):
    rib = {"name": "r", "points": [(SUPPORT, 0.0), (LENGTH - SUPPORT, 0.0)], "section": BAR,
           "material": "6061-T6 extrusion", "joint": joint}  # fmt: skip
    return solved(
        strip(LENGTH, WIDTH, sheet or {"material": METAL, "thickness": T}, case=pressure(LOAD), ribs=[rib])
    )


def newmark(stiffness):
    """Axial force of the rib N(s) and shear flow at its end, simply supported beam under even load.

    Newmark, Siess & Viest, Proc. Soc. Exp. Stress Anal. 9 (1951) 75-92: N'' - a^2 N = -k z / EI M.
    """
    E, L, q = 68.9e9, LENGTH - 2 * SUPPORT, LOAD * WIDTH
    A1, A2 = WIDTH * T, BAR["width"] * BAR["height"]
    EI = E * (WIDTH * T**3 + BAR["width"] * BAR["height"] ** 3) / 12
    z = 0.5 * (T + BAR["height"])
    a = math.sqrt(stiffness * (1 / (E * A1) + 1 / (E * A2) + z**2 / EI))
    scale = stiffness * z / EI / a**2

    def force(s):
        bend = q * s * (L - s) / 2
        return scale * (bend - q / a**2 * (1 - math.cosh(a * (s - L / 2)) / math.cosh(a * L / 2)))

    return force, scale * q * (L / 2 - math.tanh(a * L / 2) / a)


def test_adhesive_against_newmark():
    joint = {"kind": "adhesive", "thickness": 0.002, "shear_modulus": 0.5e6, "strength": 2e6}
    solution = jointed(joint)
    force, end = newmark(0.5e6 * 0.02 / 0.002)
    found = row(solution, "joint of r", "shear of the bond")
    assert found.demand == pytest.approx(1e-6 * end / 0.02, rel=2e-2)
    assert found.allowable == pytest.approx(2.0 / 3.0)
    assert solution.joints.shear_MPa[0] == pytest.approx(found.demand)
    assert solution.joints.flow_N_per_mm[0] == pytest.approx(1e-3 * end, rel=2e-2)
    # The rib's own axial force, and the fibre stress that goes with it, come from its own stretch.
    area = BAR["width"] * BAR["height"]
    assert abs(solution.ribs.axial_N[0]) == pytest.approx(force(LENGTH / 2 - SUPPORT), rel=2e-2)
    fibre = force(0.4) / area + abs(solution.ribs.moment_Nm[0]) / (BAR["width"] * BAR["height"] ** 2 / 6)
    assert row(solution, "r", "stress of the extreme fibre").demand == pytest.approx(1e-6 * fibre, rel=2e-2)


def test_flow_sums_up_to_the_axial_force():
    """Equilibrium of half a rib."""
    from splitterfem.analysis.jointforces import joint_forces
    from splitterfem.analysis.ribforces import rib_forces

    solution = jointed({"kind": "adhesive", "thickness": 0.002, "shear_modulus": 2e6})
    rib, response = solution.model.ribs[0], solution.response
    flow = joint_forces(solution.model, rib, response)
    half = flow.s <= 0.5 * flow.s[-1] + 1e-9
    total = abs(np.trapezoid(flow.flow[half], flow.s[half]))
    along = rib_forces(solution.model, rib, response.x, extra=response.extra)
    middle = np.interp(0.5 * flow.s[-1], along.s, along.axial)
    assert total == pytest.approx(abs(middle), rel=1e-2)
    assert not len(solution.utilisation[solution.utilisation.kind == "joint"])  # no strength, no row


def test_fasteners_take_the_flow_of_their_pitch():
    """The end fastener carries N(pitch) - N(0); a rating is divided by 1.5, rivets by 3."""
    fasteners = {"kind": "screws", "diameter": 0.005, "pitch": 0.05, "slip_modulus": 4e5, "strength": 900.0}
    force, _ = newmark(4e5 / 0.05)
    rated = row(jointed(fasteners), "joint of r", "shear of one")
    assert rated.demand == pytest.approx(force(0.05), rel=2e-2)
    assert rated.ratio == pytest.approx(force(0.05) / (900.0 / 1.5), rel=2e-2)
    rivets = {"kind": "rivets", "diameter": 0.0048, "pitch": 0.05, "slip_modulus": 4e5}
    bearing = row(jointed(rivets), "joint of r", "bearing in the panel")
    assert bearing.allowable == pytest.approx(2 * 0.0048 * T * 290e6 / 3, rel=1e-9)  # 2 d t F_tu / 3


def test_joints_on_plywood():
    """Veneer governs a strong bond: 1 MPa over 3 (indicative); screws are judged by their yield modes."""
    sheet = {"material": PLY, "thickness": 0.012}
    bond = row(jointed({"kind": "adhesive", "thickness": 0.001, "shear_modulus": 1e8, "strength": 15e6}, sheet=sheet),
               "joint of r", "shear of the bond")  # fmt: skip
    assert bond.allowable == pytest.approx(1.0 / 3.0)
    assert bond.basis == "indicative"
    screws = row(
        jointed({"kind": "screws", "diameter": 0.005, "pitch": 0.05}, sheet=sheet), "joint of r", "shear"
    )
    assert 0 < screws.ratio < 10
    assert screws.basis == "indicative"


def test_what_cannot_be_judged_stands_last():
    plain = {"name": "plain", "kind": "isotropic", "E1": 70e9, "nu12": 0.33, "density": 2700.0}
    table = solved(hung(sheet={"material": plain, "thickness": 0.006})).utilisation
    assert table.part.iloc[-1] == "panel"
    assert math.isnan(table.ratio.iloc[-1])
    assert "no strength" in table.note.iloc[-1]


def test_demonstration(demo_solution):
    table = demo_solution.utilisation
    assert {"panel", "rib", "strut", "rear pocket"} <= set(table.kind)
    assert (table.source.str.len() > 0).all()
    assert table.basis.isin(["published", "user", "memory", "indicative", "practice"]).all()
    judged = table.ratio.dropna()
    assert judged.is_monotonic_decreasing
    assert isinstance(table, pd.DataFrame)
    assert demo_solution.utilisation is table
    assert not (table.kind == "pin").any()  # no size given, nothing to judge
