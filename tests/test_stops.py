"""Stops: what the panel touches after a gap, from the design file to the report, against closed forms of beams.

Sources: Timoshenko, Strength of Materials, part I (deflection of cantilevers, superposition for statically
indeterminate beams); EN 1995-1-1 and EN 1993-1-8 for the panel under a pad.
"""

from __future__ import annotations

import datetime
import math
import re

import numpy as np
import pandas as pd
import pytest
import shapely

import splitterfem as sf
from splitterfem import materials
from splitterfem.analysis.tables import contact_table
from splitterfem.design import check, dumps
from splitterfem.errors import DesignError, MechanismError
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.model.supports import model_supports
from splitterfem.output.checked import check_text
from splitterfem.output.planparts import covered
from splitterfem.output.report_data import report_data
from splitterfem.output.report_words import assumptions
from splitterfem.output.style import scale_of
from splitterfem.output.summary import summary_text
from splitterfem.output.wording import words_for
from splitterfem.strength.cases import worst_of

GRAVITY = 9.80665

# beams --------------------------------------------------------------------------------------------

L, B, T, E = 0.6, 0.03, 0.012, 10e9
EI = E * B * T**3 / 12
PAD = 0.004
NEAR_TIP = L - 0.5 * PAD


def strip(n=24):
    """A strip without Poisson effect and stiff in shear: a beam of the textbooks."""
    laminate = Homogeneous(T, E1=E, nu12=0.0, G13=E, G23=E)
    return Panel(PanelSpace(*rectangle_mesh(L, B, n, 2, pattern="cross")), generalised_stiffness(laminate))


def with_stop(panel, at=NEAR_TIP, **fields):
    """The strip clamped at x = 0, with a stop across it whose law comes from a design."""
    pad = {"shape": "rectangle", "length": PAD, "width": 0.999 * B}
    design = sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {
                "outline": box(0.0, L, 0.0, B),
                "sheet": {"material": "birch plywood 4 mm", "thickness": 0.004},
            },
            "car": {"ride_height": 0.1},
            "stops": [{"name": "stop", "at": (at, B / 2), "pad": pad, **fields}],
        }
    )
    (support,) = model_supports(panel, Locator(panel.space), design)
    space = panel.space
    clamped = space.dofs_of(np.flatnonzero(space.node_points[0] < 1e-9), COMPONENTS)
    return Structure(panel, support.restraints, fixed=clamped)


def box(x0, x1, y0, y1):
    return {"start": (x0, y0), "edges": [{"to": (x1, y0)}, {"to": (x1, y1)}, {"to": (x0, y1)}]}


BOARD = {"material": "birch plywood 12 mm", "thickness": T}


def uniform(panel, q):
    """Load q per length of the strip, positive down."""
    return pressure_load(panel, lambda x, y: np.full_like(x, q / B))


def free_sag(q, a=NEAR_TIP):
    """Sag at a of a cantilever under q: q a^2 (6 L^2 - 4 L a + a^2) / 24 EI, at the tip q L^4 / 8 EI."""
    return q * a**2 * (6 * L**2 - 4 * L * a + a**2) / (24 * EI)


@pytest.mark.parametrize("side", ["gap_up", "gap_down"])
@pytest.mark.parametrize("share", [0.3, 0.99, 1.5, 5.0])
def test_cantilever_with_a_stop_at_its_tip(share, side):
    """No contact while q L^4 / 8 EI <= g, else R = (3 EI / L^3)(q L^4 / 8 EI - g); here at a, half a pad inside."""
    panel, gap = strip(), 0.004
    q = share * gap / free_sag(1.0) * (1 if side == "gap_down" else -1)
    found = with_stop(panel, **{side: gap}).solve(uniform(panel, q))
    expected = max(0.0, 3 * EI / NEAR_TIP**3 * (free_sag(abs(q)) - gap))
    assert abs(found.force[0]) == pytest.approx(expected, rel=1e-3, abs=1e-12)
    assert abs(found.motion[0]) == pytest.approx(min(share, 1.0) * gap, rel=1e-3)
    assert np.sign(found.force[0]) == (0 if share < 1 else -np.sign(q))


def test_the_formula_at_a_is_that_of_the_tip():
    """With a = L the sag is q L^4 / 8 EI, as the handbooks have it."""
    assert free_sag(7.0, L) == pytest.approx(7.0 * L**4 / (8 * EI), rel=1e-14)


@pytest.mark.parametrize("stiffness", [200.0, 2e4, 1e7])
@pytest.mark.parametrize("gap", [0.0, 0.004])
def test_elastic_stop_at_the_tip(stiffness, gap):
    """R = (delta - g) / (1 / k + L^3 / 3 EI): the gap that is left is shared by beam and rubber."""
    panel = strip()
    q = 3.0 * 0.004 / free_sag(1.0)
    found = with_stop(panel, gap_down=gap, stiffness=stiffness).solve(uniform(panel, q))
    expected = (free_sag(q) - gap) / (1 / stiffness + NEAR_TIP**3 / (3 * EI))
    assert -found.force[0] == pytest.approx(expected, rel=1e-3)
    assert -found.motion[0] == pytest.approx(gap + expected / stiffness, rel=1e-3)


@pytest.mark.parametrize("up", [False, True])
def test_a_stop_on_both_sides_pushes_where_it_is_reached(up):
    panel = strip()
    structure = with_stop(panel, gap_up=0.003, gap_down=0.001)
    gap, sign = (0.003, -1.0) if up else (0.001, 1.0)
    q = 0.006 / free_sag(1.0)
    found = structure.solve(uniform(panel, sign * q))
    assert -sign * found.force[0] == pytest.approx(3 * EI / NEAR_TIP**3 * (0.006 - gap), rel=1e-3)
    inside = structure.solve(uniform(panel, sign * 0.9 * q * gap / 0.006))
    assert inside.force[0] == 0.0


def test_without_play_it_holds_both_ways():
    """Propped cantilever: R = 3 q L / 8 at the tip, up or down."""
    panel = strip()
    structure = with_stop(panel, gap_up=0.0, gap_down=0.0)
    for q in (50.0, -50.0):
        force = structure.solve(uniform(panel, q)).force[0]
        assert -force == pytest.approx(3 * EI / NEAR_TIP**3 * free_sag(q), rel=1e-3)
        assert -force == pytest.approx(3 * q * L / 8, rel=6e-3)  # the pad is half a per cent inside the tip


@pytest.mark.parametrize("at", [0.25, 0.4])
def test_no_node_needs_to_be_there(at):
    """The same stop on meshes with and without a node under it, and the closed form of a load at a."""
    forces = []
    for n in (24, 23, 31):
        panel = strip(n)
        forces.append(-with_stop(panel, at, gap_down=0.001).solve(uniform(panel, 200.0)).force[0])
    assert forces == pytest.approx([forces[0]] * 3, rel=1e-3)
    assert forces[0] == pytest.approx(3 * EI / at**3 * (free_sag(200.0, at) - 0.001), rel=1e-3)


# rigid panels on stops ------------------------------------------------------------------------------

PINS = [
    {"name": "pin", "at": (0.2, 0.0), "holds": "xy", "pad": "10 mm"},
    {"name": "guide", "at": (0.4, 0.0), "holds": "xy", "slot": 0.0, "pad": "10 mm"},
]
THREE = ((0.1, -0.2), (0.1, 0.2), (0.5, 0.0))


def panel_on(stops, *, pins=PINS, **more):
    """A plate of 600 x 600 mm with pins in its plane and nothing but stops up and down."""
    case = {"name": "weight", "ground": False}
    suction = {"kind": "uniform", "pressure": -200.0}
    return sf.Splitter.model_validate(
        {
            "name": "plate",
            "panel": {"outline": box(0.0, 0.6, -0.3, 0.3), "sheet": BOARD},
            "pins": pins,
            "stops": stops,
            "car": {"ride_height": 0.1},
            "mesh": {"size": 0.06},
            "cases": [case, {"name": "up", "pressure": suction, "ground": False}],
        }
        | more
    )


def three(**fields):
    return [{"name": f"stop {n}", "at": at, **fields} for n, at in enumerate(THREE, start=1)]


def test_a_panel_lies_down_on_stops_below_it():
    """Three points: a quarter, a quarter and a half of the weight by moments; the panel sinks by the gap."""
    splitter = panel_on(three(gap_down=0.002, gap_up=0.001))
    solution = sf.solve(splitter, "weight")
    weight = solution.mass * GRAVITY
    stops = solution.supports.query("kind == 'stop'")
    assert stops.fz_N.tolist() == pytest.approx([0.25 * weight, 0.25 * weight, 0.5 * weight], rel=1e-8)
    assert set(stops.state) == {"touches below"}
    contacts = solution.contacts
    assert contacts.lift_mm.tolist() == pytest.approx([-2.0] * 3, rel=1e-6)
    assert contacts.gap_mm.tolist() == [0.0] * 3


def test_more_suction_above_than_weight_lifts_it_to_the_stops_above():
    splitter = panel_on(three(gap_down=0.002, gap_up=0.001))
    solution = sf.solve(splitter, "up")
    total = 200.0 * 0.36 - solution.mass * GRAVITY
    stops = solution.supports.query("kind == 'stop'")
    assert stops.fz_N.sum() == pytest.approx(-total, rel=1e-8)
    assert set(stops.state) == {"touches above"}
    assert solution.contacts.lift_mm.tolist() == pytest.approx([1.0] * 3, rel=1e-6)


def test_stops_above_alone_do_not_hold_a_panel_that_hangs():
    """The panel could be held, were it pushed up; under its weight nothing does."""
    splitter = panel_on(three(gap_up=0.001))
    assert set(sf.solve(splitter, "up").supports.query("kind == 'stop'").state) == {"touches above"}
    with pytest.raises(
        MechanismError, match=r"Nothing stops the panel as it .*moves up and down.* lifts it off"
    ):
        sf.solve(splitter, "weight")


def test_stops_do_not_hold_a_panel_in_its_plane():
    with pytest.raises(MechanismError, match="slides"):
        sf.solve(panel_on(three(gap_down=0.0, gap_up=0.0), pins=[]), "weight")


def test_two_stops_in_line_are_not_enough():
    stops = three(gap_down=0.001, gap_up=0.001)[:2]
    with pytest.raises(MechanismError, match="pitches about the crosswise axis"):
        sf.solve(panel_on(stops), "weight")


# what the tables say --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def buffered():
    """The demonstration on a coarse mesh: a soft pair in front that is touched, a bracket above that is not."""
    stops = [
        {"name": "buffer", "at": (0.82, 0.42), "gap_down": 0.0003, "gap_up": 0.002, "stiffness": 2e5, "mirror": True,
         "pad": "30 mm"},
        {"name": "bracket", "at": (0.6, 0.0), "gap_up": 0.004},
    ]  # fmt: skip
    splitter = sf.demo().with_(stops=stops).with_("mesh.size", "80 mm")
    return sf.solve(splitter, "straight, 210 km/h")


def test_supports_carry_air_and_weight(buffered):
    """Sums of forces and moments about the origin, by hand from the table."""
    load = np.sum(list(buffered.load.resultants.values()), axis=0)
    force, moment = np.zeros(3), np.zeros(3)
    for row, support in zip(buffered.supports.itertuples(), buffered.model.supports, strict=True):
        f = np.array([row.fx_N, row.fy_N, row.fz_N])
        force += f
        if support.kind == "rear pocket":  # its stretches act at places of their own
            part = buffered.contacts[buffered.contacts.support == support.name]
            for at in part.itertuples():
                moment += np.cross([1e-3 * at.x_mm, 1e-3 * at.y_mm, 0.0], [0.0, 0.0, at.fz_N])
            continue
        moment += np.cross(support.at, f)
    assert force == pytest.approx(-load[:3], abs=1e-8 * abs(load).max())
    assert moment == pytest.approx(-load[3:], abs=1e-8 * abs(load).max())


def test_contacts_of_stops(buffered):
    """Force by the stiffness of the rubber, gap by the lift; the same force as in the table of supports."""
    stops = buffered.contacts.query("kind == 'stop'").set_index("support")
    forces = buffered.supports.set_index("support")
    assert stops.index.tolist() == ["buffer left", "buffer right", "bracket"]
    for name in ("buffer left", "buffer right"):
        row = stops.loc[name]
        assert row.lift_mm < -0.3
        assert row.fz_N == pytest.approx(200.0 * (-row.lift_mm - 0.3), rel=1e-8)
        assert row.fz_N == forces.loc[name, "fz_N"] > 20.0
        assert (row.touches, row.gap_mm, row.place) == ("below", 0.0, "pad")
        assert forces.loc[name, "state"] == "touches below"
    bracket = stops.loc["bracket"]
    assert (bracket.fz_N, bracket.touches, forces.loc["bracket", "state"]) == (0.0, "nothing", "open")
    assert bracket.gap_mm == pytest.approx(4.0 - bracket.lift_mm, rel=1e-12)
    assert bracket.lift_mm == pytest.approx(-1e3 * float(buffered.sag_at(0.6, 0.0)), abs=2e-3)


def test_contacts_of_pockets_stay_what_they_were(buffered):
    """Lips with 0.3 mm of play up and down: the gap is what the lift leaves of it."""
    pockets = buffered.contacts.query("kind == 'rear pocket'")
    assert len(pockets) == 2 * 18
    assert set(pockets.touches) <= {"upper lip", "lower lip", "nothing"}
    free = pockets[pockets.touches == "nothing"]
    assert len(free)
    assert free.gap_mm.to_numpy() == pytest.approx(0.3 - free.lift_mm.abs().to_numpy(), rel=1e-9)
    assert (pockets.gap_mm[pockets.touches != "nothing"] == 0.0).all()


def test_a_stop_that_is_not_touched_changes_nothing(buffered):
    """Lost, or moved out of reach on the same mesh, it leaves every figure as it is."""
    model = buffered.model
    farther = sf.solve(model.design.with_part("bracket", gap_up=0.05), buffered.case.name)
    assert farther.max_sag == pytest.approx(buffered.max_sag, rel=1e-10)
    losses = sf.lose_one(model, buffered.case).set_index("lost")
    assert losses.loc["bracket", "max_sag_mm"] == pytest.approx(1e3 * buffered.max_sag, rel=1e-9)
    assert losses.loc["bracket", ["kind", "outcome"]].tolist() == ["stop", "held"]
    # what a touched one carried goes elsewhere, and the panel comes down where it was
    rest = sf.solve(model.without_support("buffer left"), buffered.case)
    assert "buffer left" not in set(rest.contacts.support)
    assert float(rest.sag_at(0.82, 0.42)) > float(buffered.sag_at(0.82, 0.42))


def test_mirrored_stops_of_a_symmetric_panel_carry_alike():
    """A symmetric panel on a mesh that is not: alike within the mesh's own error; in the mirror it is the same."""
    stops = [{"name": "front", "at": (0.5, 0.2), "gap_down": 0.0005, "mirror": True},
             {"name": "rear", "at": (0.1, 0.22), "gap_down": 0.0, "mirror": True}]  # fmt: skip
    solution = sf.solve(panel_on(stops), "weight")
    force = solution.supports.set_index("support").fz_N
    assert force["front left"] == pytest.approx(force["front right"], rel=1e-4)
    assert force["rear left"] == pytest.approx(force["rear right"], rel=1e-4)
    assert force[["front left", "rear left"]].sum() == pytest.approx(0.5 * solution.mass * GRAVITY, rel=1e-4)


def test_cables_are_contacts_too():
    """A hinged plate on one upright cable: taut by moments; pushed up it tells the slack that is left."""
    cable = {"name": "cable", "form": "cable", "foot": (0.5, 0.0), "head": (0.5, 0.0, 0.3), "area": 4e-6,
             "modulus": 60e9, "pad": "20 mm"}  # fmt: skip
    hinges = [{"name": f"hinge {s}", "at": (0.05, s * 0.2), "holds": "z", "pad": "6 mm"} for s in (-1, 1)]
    stop = [{"name": "catch", "at": (0.5, 0.1), "gap_up": 0.004}]
    splitter = panel_on(stop, bolts=hinges, struts=[cable])
    taut = sf.solve(splitter, "weight")
    row = taut.contacts.set_index("support").loc["cable"]
    assert (row.kind, row.place, row.touches, row.gap_mm) == ("strut", "foot", "taut", 0.0)
    assert row.fz_N == pytest.approx(taut.mass * GRAVITY * (0.3 - 0.05) / (0.5 - 0.05), rel=1e-6)
    slack = sf.solve(splitter.with_part("cable", slack=0.001), "up").contacts.set_index("support")
    assert slack.loc["catch", "touches"] == "above"
    cable_row = slack.loc["cable"]
    assert (cable_row.touches, cable_row.fz_N) == ("slack", 0.0)
    assert cable_row.lift_mm > 4.0  # the catch beside it is there already
    assert cable_row.gap_mm == pytest.approx(cable_row.lift_mm + 1.0, rel=1e-3)


def test_struts_that_push_as_well_are_no_contacts(buffered):
    assert "strut" not in set(buffered.contacts.kind)
    table = contact_table(buffered.model, buffered.response)
    assert list(table.columns) == [
        "support", "kind", "place", "x_mm", "y_mm", "lift_mm", "fz_N", "touches", "gap_mm",
    ]  # fmt: skip
    pd.testing.assert_frame_equal(table, buffered.contacts)


# the design -----------------------------------------------------------------------------------------


def test_it_is_above_or_below():
    with pytest.raises(DesignError, match=r"stop \"s\": has neither gap_up nor gap_down; give how far"):
        sf.Stop(name="s", at=(0.1, 0.1))
    with pytest.raises(DesignError, match=r'gap_up: "-1 mm" is below zero'):
        sf.Stop(name="s", at=(0.1, 0.1), gap_up="-1 mm")
    with pytest.raises(DesignError, match=r'stiffness: "0 N/m" is not above zero'):
        sf.Stop(name="s", at=(0.1, 0.1), gap_up="1 mm", stiffness="0 N/m")
    with pytest.raises(DesignError, match=r"gap_upp: there is no such field; did you mean 'gap_up'"):
        sf.Stop(name="s", at=(0.1, 0.1), gap_upp="1 mm")
    assert sf.Stop(name="s", at=(0.1, 0.1), gap_down=0).gap_up is None


def test_units_of_a_stop():
    """1 lbf/in = 4.4482216152605 N / 25.4 mm (exact by definition of both)."""
    stop = sf.Stop(name="s", at=("20 in", "8 in"), gap_up="1/8 in", gap_down="2 mm", stiffness="500 lbf/in")
    assert stop.gap_up == pytest.approx(3.175e-3, rel=1e-12)
    assert stop.stiffness == pytest.approx(500 * 4.4482216152605 / 0.0254, rel=1e-12)
    assert stop.gap_down == 0.002
    assert "1/8 in" in repr(stop)


def test_halves_of_a_pair():
    stop = sf.Stop(
        name="s", at=(0.4, 0.2), gap_up=0.001, mirror=True, cost=3.0,
        pad={"shape": "rectangle", "length": 0.03, "width": 0.02, "angle": 0.3},
    )  # fmt: skip
    left, right = stop.sides()
    assert (left.name, right.name) == ("s left", "s right")
    assert (left.at, right.at) == ((0.4, 0.2), (0.4, -0.2))
    assert right.pad.angle == -left.pad.angle == -0.3
    assert left.gap_up == right.gap_up == 0.001


def test_changes_by_name(buffered):
    splitter = buffered.model.design
    moved = splitter.moved("buffer", dx="-20 mm", dy="10 mm")
    assert moved.part("buffer right").at == pytest.approx((0.80, -0.43))
    softer = splitter.with_part("buffer left", stiffness="50 N/mm")
    assert (softer.part("buffer left").stiffness, softer.part("buffer right").stiffness) == (5e4, 2e5)
    assert splitter.with_("stops.bracket.gap_up", "5 mm").part("bracket").gap_up == 0.005
    assert [stop.name for stop in splitter.without("buffer left").stops] == ["buffer right", "bracket"]
    with pytest.raises(DesignError, match="there is no part 'bufer'; did you mean 'buffer'"):
        splitter.part("bufer")
    with pytest.raises(DesignError, match="two parts are called 'bracket'"):
        splitter.with_part("pin left", name="bracket")


INCHES = """\
version = 1
name = "inches"

[panel]
sheet = {material = "birch plywood 12 mm", thickness = "0.47 in"}

[panel.outline]
start = ["0 in", "-12 in"]
edges = [{to = ["24 in", "-12 in"]}, {to = ["24 in", "12 in"]}, {to = ["0 in", "12 in"]}]

[[pins]]
name = "pin"
at = ["6 in", "0 in"]
holds = "xyz"

[[stops]]
name = "buffer"
at = ["20 in", "8 in"]
pad = "1 1/4 in"
gap_up = "1/8 in"
gap_down = "0 in"
stiffness = "500 lbf/in"
mirror = true

[car]
ride_height = "3 in"
"""


def test_file_in_inches(tmp_path):
    """Read, written in the words in which it was given, and read again."""
    place = tmp_path / "inches.toml"
    place.write_text(INCHES, encoding="utf-8")
    splitter = sf.load(place)
    assert splitter.stops[0].pad.diameter == pytest.approx(1.25 * 0.0254)
    sf.save(splitter, tmp_path / "again.toml")
    again = sf.load(tmp_path / "again.toml")
    assert again == splitter
    text = dumps(again)
    assert text[text.index("[[stops]]") :].startswith(
        INCHES[INCHES.index("[[stops]]") : INCHES.index("[car]")]
    )
    place.write_text(INCHES.replace('gap_up = "1/8 in"', "gap_up = 3"), encoding="utf-8")
    with pytest.raises(DesignError, match=r'stops\.buffer\.gap_up: 3 has no unit; write "3 mm"'):
        sf.load(place)
    place.write_text(INCHES.replace('at = ["20 in", "8 in"]', 'at = ["23.9 in", "8 in"]'), encoding="utf-8")
    wanted = "stops.buffer.at: at (607.1, 203.2) mm = (23.90, 8.00) in has a pad that reaches past the edge"
    with pytest.raises(DesignError, match=re.escape(wanted)):
        sf.load(place)


def test_schema_has_stops():
    schema = sf.json_schema()
    assert schema["properties"]["stops"]["items"] == {"$ref": "#/$defs/Stop"}
    stop = schema["$defs"]["Stop"]
    assert {"name", "at", "pad", "gap_up", "gap_down", "stiffness", "mirror", "cost"} == set(
        stop["properties"]
    )
    assert stop["required"] == ["name", "at"]


def test_check_tells_what_shares_a_place(buffered):
    splitter = buffered.model.design.with_part("bracket", at=("500 mm", "240 mm"))
    found = [finding for finding in check(splitter) if finding.code == "fixings-together"]
    assert [finding.path for finding in found] == ["stops.bracket.at"]
    assert "where 'pin left' is too" in found[0].sentence


def test_the_model_is_built_anew_for_other_stops(buffered):
    design = buffered.model.design
    assert sf.build(design) is sf.build(design)
    assert sf.build(design.with_part("bracket", gap_up=0.001)) is not sf.build(design)


# strength -------------------------------------------------------------------------------------------

PLY = "birch plywood 12 mm"
K_MOD, GAMMA_PLYWOOD = 0.70, 1.2  # EN 1995-1-1 tables 3.1 and 2.3: plywood, service class 3, short duration
F_C90 = 8e6  # Pa, hardwood plywood across its faces: indicative
ULTIMATE = 290e6  # Pa, 6061-T6 sheet, ASTM B209 minimum as in the catalogue


def rows_of(solution, part):
    table = solution.utilisation
    return table[table.part == part].set_index("mode")


def test_plywood_under_a_pad():
    """Pad of 30 mm: f_c90 A; pi d t f_r / 1.5; pi d t f_v, each times k_mod / gamma_M (EN 1995-1-1 2.4.1, 6.1.5)."""
    solution = sf.solve(panel_on(three(gap_down=0.001, pad="30 mm")), "weight")
    rows, strength = rows_of(solution, "stop 3"), materials.sheet(PLY).strength
    push = 0.5 * solution.mass * GRAVITY
    assert rows.kind.tolist() == ["stop"] * 3
    assert rows.demand.to_numpy() == pytest.approx(push, rel=1e-6)
    factor, around = K_MOD / GAMMA_PLYWOOD, math.pi * 0.03 * T
    planar = min(strength.planar_shear_along, strength.planar_shear_across)
    expected = {
        "bearing of the panel under the pad": F_C90 * math.pi * 0.015**2,
        "planar shear around the pad": around * planar / 1.5,
        "punching through the panel": around * strength.panel_shear,
    }
    assert set(rows.index) == set(expected)
    for mode, value in expected.items():
        assert rows.loc[mode, "allowable"] == pytest.approx(factor * value, rel=1e-9)
        assert rows.loc[mode, "ratio"] == pytest.approx(push / (factor * value), rel=1e-6)
    assert (rows.x_mm == 500.0).all()
    assert rows.note.str.contains("a blow is not in it").all()


def test_a_rectangular_pad_counts_as_the_circle_of_its_area():
    stops = three(gap_down=0.001, pad={"shape": "rectangle", "length": 0.04, "width": 0.02})
    rows = rows_of(sf.solve(panel_on(stops), "weight"), "stop 1")
    strength = materials.sheet(PLY).strength
    around = math.pi * math.sqrt(4 * 0.0008 / math.pi) * T
    assert rows.loc["bearing of the panel under the pad", "allowable"] == pytest.approx(
        F_C90 * 0.0008 * K_MOD / GAMMA_PLYWOOD
    )
    assert rows.loc["punching through the panel", "allowable"] == pytest.approx(
        around * strength.panel_shear * K_MOD / GAMMA_PLYWOOD
    )


def test_metal_under_a_pad():
    """Punching shear of EN 1993-1-8 table 3.4: 0.6 pi d t f_u / 1.25."""
    sheet = {"material": "6061-T6 sheet", "thickness": 0.004}
    splitter = panel_on(three(gap_down=0.001)).with_("panel.sheet", sheet)
    rows = rows_of(sf.solve(splitter, "weight"), "stop 2")
    assert rows.index.tolist() == ["punching through the sheet"]
    assert rows.allowable.iloc[0] == pytest.approx(0.6 * math.pi * 0.025 * 0.004 * ULTIMATE / 1.25)


def test_a_sandwich_under_a_pad_is_left_to_a_test():
    name = next(name for name in materials.sheet_names() if "foam" in name)
    sheet = {"material": name, "thickness": materials.sheet(name).thickness}
    splitter = panel_on(three(gap_down=0.001)).with_("panel.sheet", sheet)
    rows = rows_of(sf.solve(splitter, "weight"), "stop 2")
    assert rows.ratio.isna().all()
    assert "a test tells what its faces and its core bear under a pad" in rows.note.iloc[0]


def test_a_stop_that_is_not_touched_has_rows_of_zero(buffered):
    rows = rows_of(buffered, "bracket")
    assert (rows.demand == 0.0).all()
    assert (rows.ratio == 0.0).all()


# words and pictures ---------------------------------------------------------------------------------


def test_largest_force_of_all_cases(buffered):
    table = worst_of([buffered])
    row = table[(table.measure == "largest force") & (table.part == "buffer left")].iloc[0]
    assert row.value == pytest.approx(buffered.supports.set_index("support").fz_N["buffer left"])


def test_text_for_a_terminal(buffered):
    text = summary_text([buffered])
    force = buffered.supports.set_index("support").fz_N.abs()
    assert (
        f"Stops touched in 'straight, 210 km/h': buffer left {force['buffer left']:.0f} N, "
        f"buffer right {force['buffer right']:.0f} N." in text
    )
    assert re.search(
        r"body and fixing of buffer left, buffer right, bracket: the design does\s+not describe", text
    )
    assert buffered.summary()["touched_stops"] == ["buffer left", "buffer right"]
    design = buffered.model.design
    open_everywhere = sf.solve(design.with_part("buffer", gap_down="20 mm"), "push on the lip")
    assert "No stop is touched." in summary_text([open_everywhere])
    assert "3 stops" in check_text(design, (), buffered.model.mesh)


def test_no_word_of_stops_without_any(demo_solution):
    assert not re.search(r"\bstops?\b", summary_text([demo_solution]), re.IGNORECASE)
    assert demo_solution.summary()["touched_stops"] == []
    assert "stops" not in assumptions([demo_solution], words_for("metric"))[0]


def test_report_counts_and_lists_stops(buffered):
    data = report_data([buffered], words_for("metric"), datetime.date(2024, 1, 2))
    assert ["stops", "3"] in data["design"]
    table = next(t for t in data["supports"] if any(row[0] == "bracket" for row in t["rows"]))
    rows = {row[0]: row for row in table["rows"] if row[1] == "stop"}
    assert rows["bracket"][3:] == ["upward", "open"]
    force = buffered.supports.set_index("support").fz_N["buffer left"]
    assert rows["buffer left"][3:] == ["upward", f"{force:.0f}"]
    assert "stops that carry only once it touches them" in data["assumptions"][0]


def test_picture_shows_stops(buffered):
    ax = sf.plot_design(buffered.model.design)
    marks = {line.get_gid(): line for line in ax.lines}
    stop = marks["stop buffer right"]
    assert (stop.get_xdata()[0], stop.get_ydata()[0]) == pytest.approx((-420.0, 820.0))
    assert stop.get_marker() not in {
        marks["pin pin left"].get_marker(),
        marks["strut inner strut left"].get_marker(),
    }
    assert "stop" in [text.get_text() for text in ax.get_legend().get_texts()]
    assert {"buffer", "bracket"} <= {text.get_text() for text in ax.texts}
    taken = covered(buffered.model.design, buffered.case, scale_of("mm"), (0.4, 0.4), 1.0)
    assert taken.contains(shapely.Point(-420.0, 820.0))
