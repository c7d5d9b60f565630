"""Gain of ribs and struts: against beams in closed form, and against full solutions with the change really made.

Sources: simply supported beam under an even load, ``5 w l^4 / (384 E I)`` in the middle and
``w x (l^3 - 2 l x^2 + x^3) / (24 E I)`` elsewhere, and ``l^3 / (48 E I)`` under a force in the middle (Timoshenko,
Strength of Materials, part I); its natural frequency goes with the root of ``E I / m``.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.stats import spearmanr

import splitterfem as sf
from splitterfem.analysis.gain import RibGain, rib_gain
from splitterfem.analysis.gain_density import Directional
from splitterfem.analysis.gain_line import with_ribs
from splitterfem.analysis.gain_moves import move_gains, restraints_of
from splitterfem.analysis.gain_places import room_for_ribs
from splitterfem.analysis.gain_struts import strut_gain
from splitterfem.analysis.measures import measured
from splitterfem.analysis.sensitivity import sensitivity
from splitterfem.analysis.solution import solve
from splitterfem.fem.structure import Structure
from splitterfem.model import Model, build, sag_follower
from splitterfem.model.feedback_adjoint import transposed_slope

E, DENSITY = 69e9, 2700.0
TUBE = {"shape": "tube", "width": 0.02, "height": 0.02, "wall": 0.002}
ANGLE = {"shape": "angle", "foot": 0.025, "upright": 0.03, "wall": 0.003}
FLAT = {"shape": "flat", "width": 0.02, "height": 0.003}
LINE = ((0.12, -0.3), (0.45, -0.1), (0.55, 0.31))
EVERY = ("worst sag", "mean sag", "least clearance", "first frequency", (0.42, -0.11))


def metal(share: float = 1.0) -> dict[str, Any]:
    """Aluminium of which only a share is there."""
    return {"name": "some of it", "E": share * E, "nu": 0.33, "density": share * DENSITY}


def panel(**changes: Any) -> sf.Splitter:
    """A small unsymmetric panel with every kind of support, and cases of every kind."""
    edges = [{"to": (0.7, -0.45)}, {"to": (0.7, 0.45)}, {"to": (0.0, 0.45)}]
    air = {"speed": 60.0, "pressure": {"kind": "uniform", "cp": 0.5}}
    follows = {"kind": "uniform", "cp": 0.9, "gap_exponent": 1.0}
    return sf.Splitter.model_validate(
        {
            "name": "plain",
            "panel": {
                "outline": {"start": (0.0, -0.45), "edges": edges},
                "cutouts": [{"name": "opening", "rectangle": {"x": (0.2, 0.4), "y": (0.1, 0.3)}}],
                "sheet": {"material": "birch plywood 9 mm", "thickness": 0.009},
            },
            "struts": [
                {"name": "front", "mirror": True, "foot": (0.6, 0.3), "head": (0.5, 0.25, 0.3), "diameter": 0.008,
                 "bracket_height": 0.03, "end_stiffness": 5e5, "preload": 20.0}
            ],
            "bolts": [{"name": "bolt", "at": (0.1, -0.3), "holds": "xyz"}],
            "pins": [{"name": "pin", "at": (0.35, -0.35), "holds": "xy"}],
            "stops": [{"name": "stop", "at": (0.47, 0.03), "gap_down": 0.002, "stiffness": 2e4}],
            "pockets": [
                {"name": "pocket", "mouth": (0.06, 0.3), "width": 0.12, "overlap": 0.05,
                 "clearance_up": 2e-4, "clearance_down": 2e-4}
            ],
            "car": {"ride_height": 0.06},
            "mesh": {"size": 0.15, "pad_size": 0.02},
            "cases": [
                {"name": "air", **air},
                {"name": "far", **air, "large_deflection": True, "speed": 90.0},
                {"name": "follows", "speed": 60.0, "sag_feedback": True, "pressure": follows},
                {"name": "all", "speed": 70.0, "sag_feedback": True, "large_deflection": True, "pressure": follows},
                {"name": "low", **air, "ride_height": 0.003, "ground": True},
                {"name": "weightless", **air, "gravity": False},
            ],
        }
        | changes
    )  # fmt: skip


@pytest.fixture(scope="module")
def model() -> Model:
    return build(panel())


def gain_of(
    model: Model, case: str, measure: Any, *, section: Any = TUBE, share: float = 1.0, **more: Any
) -> RibGain:
    return rib_gain(model, case, section=section, material=metal(share), measure=measure, **more)


def improvement(gain: RibGain, points: Any) -> float:
    """By how much the measure is better at the place where it was, with the rib there."""
    place = gain.measure.at if gain.measure.name == "worst sag" else None
    if place is None:
        return gain.tried(points).better_than(gain.measure)
    solution = solve(with_ribs(gain.model, gain._laid(points)), gain.of.solution.case)
    return gain.measure.value - float(solution.sag_at(*place))


@pytest.mark.parametrize("measure", EVERY)
@pytest.mark.parametrize("section", [TUBE, ANGLE], ids=["tube", "angle"])
def test_a_weak_rib_does_what_the_gain_says(model: Model, section: Any, measure: Any) -> None:
    """A bent rib between mesh lines, of which next to nothing is there."""
    gain = gain_of(model, "air", measure, section=section, share=1e-5)
    assert gain.along(LINE) == pytest.approx(improvement(gain, LINE), rel=2e-3)


@pytest.mark.parametrize("case", ["far", "follows", "all", "low", "weightless"])
def test_so_it_does_in_cases_of_every_kind(model: Model, case: str) -> None:
    """Large deflection, air that follows the sag, both, the ground, and no weight; ribs below the panel too."""
    # a rib below would lie on the ground itself
    for side in ("above",) if case == "low" else ("above", "below"):
        gain = gain_of(model, case, "mean sag", side=side, share=1e-5)
        assert gain.along(LINE) == pytest.approx(improvement(gain, LINE), rel=2e-3)
    assert gain.of.solution.ground.touches == (case == "low")


def test_weight_counts_where_there_is_gravity(model: Model) -> None:
    """A rib without stiffness only weighs: it lets the panel sag by its load, which is found by a solution with it."""
    heavy = {"name": "lead foil", "E": 1.0, "nu": 0.33, "density": 11340.0}
    gain = rib_gain(model, "air", section=FLAT, material=heavy, measure="mean sag")
    assert gain.along(LINE) < 0.0
    assert gain.along(LINE) == pytest.approx(gain.tried(LINE).better_than(gain.measure), rel=1e-6)
    still = rib_gain(model, "weightless", section=FLAT, material=heavy, measure="mean sag")
    assert abs(still.along(LINE)) < 1e-6 * abs(gain.along(LINE))
    assert "weight is counted" in " ".join(gain.notes)
    assert "weight is not, for the load case has neither" in " ".join(still.notes)


def test_ranking_of_a_hundred_ribs(model: Model) -> None:
    """Random ribs of a light flat bar, as long as fits up to a metre: the gain ranks them as full solutions do."""
    random = np.random.default_rng(20)
    area = model.design.panel.polygon(1e-3).buffer(-0.012)
    lines: list[Any] = []
    while len(lines) < 100:
        middle, turn = random.uniform((0.0, -0.45), (0.7, 0.45)), random.uniform(0.0, np.pi)
        way, length = 0.5 * np.array([np.cos(turn), np.sin(turn)]), 1.0
        while length > 0.15 and not area.covers(
            shapely.LineString([middle - length * way, middle + length * way])
        ):
            length *= 0.9
        if length > 0.15:
            lines.append((middle - length * way, middle + length * way))
    gains = [gain_of(model, "air", measure, section=FLAT) for measure in ("mean sag", (0.42, -0.11))]
    found = np.empty((100, 2))
    for row, line in zip(found, lines, strict=True):
        there = solve(with_ribs(model, gains[0]._laid(line)), "air")
        row[:] = [measured(there, gain.measure.which).better_than(gain.measure) for gain in gains]
    for gain, better in zip(gains, found.T, strict=True):
        assert spearmanr([gain.along(line) for line in lines], better).statistic >= 0.95


def test_what_a_whole_rib_gains_is_estimated(model: Model) -> None:
    """Stiff tubes, of which the gain to first order is many times too high: ranked, and never promised too much."""
    random = np.random.default_rng(4)
    gain = gain_of(model, "air", "mean sag")
    lines: list[Any] = []
    while len(lines) < 24:
        x, y, turn = *random.uniform((0.15, -0.3), (0.57, -0.05)), random.uniform(0.0, np.pi)
        way = 0.12 * np.array([np.cos(turn), np.sin(turn)])
        lines.append((np.array([x, y]) - way, np.array([x, y]) + way))
    first, whole, found = (
        np.array([figure(line) for line in lines])
        for figure in (gain.along, gain.whole, lambda line: gain.tried(line).better_than(gain.measure))
    )
    assert spearmanr(whole, found).statistic >= max(0.95, spearmanr(first, found).statistic)
    much = found > 0.2 * found.max()
    assert np.median(first[much] / found[much]) > 3.0
    assert np.all(whole[much] < 1.02 * found[much])
    assert np.median(whole[much] / found[much]) > 0.6


L, B, T = 1.0, 0.06, 0.004
SPAN = L - 0.02
LOAD = 500.0


def strip() -> sf.Splitter:
    """A narrow aluminium strip on two bolts' pads as wide as it is, under an even load."""
    pad = {"shape": "rectangle", "length": 0.004, "width": 0.058}
    corners = ((L, -B / 2), (L, B / 2), (0, B / 2))
    patch = {"kind": "patch", "rectangle": {"x": (0.0, L), "y": (-B / 2, B / 2)}, "pressure": LOAD}
    return sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {
                "outline": {"start": (0, -B / 2), "edges": [{"to": point} for point in corners]},
                "sheet": {"material": "6061-T6 sheet", "thickness": T},
            },
            "bolts": [
                {"name": "fixed", "at": (0.01, 0.0), "holds": "xyz", "pad": pad},
                {"name": "free", "at": (L - 0.01, 0.0), "holds": "yz", "pad": pad},
                {"name": "no roll", "at": (0.01, 0.025), "holds": "z", "pad": "4 mm"},
            ],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.03},
            "cases": [{"name": "even", "gravity": False, "forces": [patch]}],
        }
    )


@pytest.fixture(scope="module")
def beam() -> Model:
    return build(strip())


def bending() -> tuple[float, float]:
    """E I of the strip as a beam, and its sag in the middle."""
    EI = float(strip().panel.sheet.resolved.E1) * B * T**3 / 12.0  # type: ignore[union-attr]
    return EI, 5.0 * LOAD * B * SPAN**4 / (384.0 * EI)


def test_a_rib_along_a_beam(beam: Model) -> None:
    """To first order an eccentric flat bar adds ``E (I + A e^2)``; sag goes as 1 / EI, frequency as sqrt(EI / m)."""
    width, height = 0.02, 0.003
    section = {"shape": "flat", "width": width, "height": height}
    arm = 0.5 * (T + height)
    added = E * (width * height**3 / 12.0 + width * height * arm**2)
    EI, sag = bending()
    ends = ((0.0, 0.0), (L, 0.0))
    gain = gain_of(beam, "even", (L / 2, 0.0), section=section)
    assert gain.measure.value == pytest.approx(sag, rel=1e-2)
    assert gain.along(ends) == pytest.approx(sag * added / EI, rel=2e-2)
    swing = gain_of(beam, "even", "first frequency", section=section)
    mass = B * strip().panel.sheet.resolved.stiffness(T).mass_per_area
    expected = 0.5 * swing.measure.value * (added / EI - DENSITY * width * height / mass)
    assert swing.along(ends) == pytest.approx(expected, rel=2e-2)


def test_a_whole_rib_along_a_beam(beam: Model) -> None:
    """Composite section: ``E I = sum of both + e^2 EA_1 EA_2 / (EA_1 + EA_2)``; sag as 1 / EI."""
    rib = sf.Rib.model_validate(
        {"name": "r", "points": [(0, 0), (1, 0)], "section": FLAT, "material": metal()}
    )
    A_rib, arm = 0.02 * 0.003, 0.5 * (T + 0.003)
    sheet = strip().panel.sheet.resolved
    EA = float(sheet.E1) * B * T  # type: ignore[union-attr]
    EI, sag = bending()
    whole = EI + E * 0.02 * 0.003**3 / 12.0 + arm**2 * EA * E * A_rib / (EA + E * A_rib)
    ends = ((0.0, 0.0), (L, 0.0))
    gain = rib_gain(beam, "even", section=rib.section, material=rib.material, measure=(L / 2, 0.0))
    assert gain.tried(ends).value == pytest.approx(sag * EI / whole, rel=2e-2)
    assert gain.whole(ends) == pytest.approx(sag * (1.0 - EI / whole), rel=5e-2)
    swing = gain_of(beam, "even", "first frequency", section=FLAT)
    mass = B * sheet.stiffness(T).mass_per_area
    expected = swing.measure.value * np.sqrt(whole / EI * mass / (mass + DENSITY * A_rib))
    assert swing.tried(ends).value == pytest.approx(expected, rel=2e-2)


@pytest.mark.parametrize("stiffness", [2e3, np.inf])
def test_a_strut_under_a_beam(beam: Model, stiffness: float) -> None:
    """A spring k in the middle takes ``k c / (1 + k c)`` of the sag there, ``c = l^3 / (48 E I)``; a rigid one all."""
    EI, sag = bending()
    gain = strut_gain(beam, "even", stiffness=stiffness, measure=(L / 2, 0.0), pad=sf.Pad(diameter=0.004))
    c = SPAN**3 / (48.0 * EI)
    i = int(np.argmin(np.hypot(gain.field.x - L / 2, gain.field.y)))
    at = gain.field.x[i] - 0.01
    # both deflections are flat in the middle: a mesh corner beside it does
    assert abs(at - SPAN / 2) < 0.02
    share = 1.0 if np.isinf(stiffness) else stiffness * c / (1.0 + stiffness * c)
    assert gain.field.values[i] == pytest.approx(share * sag, rel=2e-2)


def test_moving_the_support_of_a_beam(beam: Model) -> None:
    """With ``y = w x (l^3 - 2 l x^2 + x^3) / (24 E I)``, ``dy/dl = w x (3 l^2 - 2 x^2) / (24 E I)`` at a fixed x."""
    EI, _ = bending()
    x = SPAN / 2
    expected = LOAD * B * x * (3.0 * SPAN**2 - 2.0 * x**2) / (24.0 * EI)
    (move,) = move_gains(sensitivity(solve(beam, "even"), (x + 0.01, 0.0)), ["free"])
    assert move.forward == pytest.approx(-expected, rel=2e-2)
    assert abs(move.left) < 1e-3 * expected
    assert abs(np.degrees(move.direction)) > 179.0


def moved(model: Model, name: str, way: tuple[float, float]) -> Model:
    """The same mesh with one support moved: all restraints anew, factorised anew."""
    part = model.design.part(name)
    at = part.foot if isinstance(part, sf.Strut) else part.at
    place = (at[0] + way[0], at[1] + way[1])
    fresh = restraints_of(model, part.with_(**{"foot" if isinstance(part, sf.Strut) else "at": place}))
    kept = [r for r in model.structure.restraints if r.support != name]
    structure = Structure(model.panel, (*kept, *fresh), contributions=model.rib_parts)
    order = {s.name: s for s in model.supports}
    supports = (*(s for s in model.supports if s.name != name), replace(order[name], restraints=fresh))
    return replace(model, structure=structure, supports=supports)


@pytest.mark.parametrize(
    ("case", "name"),
    [("air", "front left"), ("air", "bolt"), ("air", "pin"), ("air", "stop"), ("all", "front left")],
)
def test_moving_a_support_is_the_difference_of_two_solutions(model: Model, case: str, name: str) -> None:
    of = sensitivity(solve(model, case), (0.42, -0.11))
    (move,) = move_gains(of, [name])
    step = 2e-4
    for way, gain in (((step, 0.0), move.forward), ((0.0, step), move.left)):
        ahead, behind = (
            measured(solve(moved(model, name, (sign * way[0], sign * way[1])), case), (0.42, -0.11)).value
            for sign in (1.0, -1.0)
        )
        assert gain == pytest.approx((behind - ahead) / (2.0 * step), rel=1e-4, abs=1e-4 * move.steepest)


@pytest.mark.parametrize("name", ["front left", "bolt"])
def test_so_it_is_for_the_first_frequency(model: Model, name: str) -> None:
    of = sensitivity(solve(model, "air"), "first frequency")
    (move,) = move_gains(of, [name])
    step = 2e-4
    ahead, behind = (
        measured(solve(moved(model, name, (sign * step, 0.0)), "air"), "first frequency").value
        for sign in (1.0, -1.0)
    )
    # rigid supports are very stiff springs in vibrations, and the frequencies are those of an iteration
    assert move.forward == pytest.approx((ahead - behind) / (2.0 * step), rel=1e-3)


def test_pairs_move_as_in_a_mirror(model: Model) -> None:
    of = sensitivity(solve(model, "air"), "mean sag")
    left, right = (move_gains(of, [name])[0] for name in ("front left", "front right"))
    (both,) = move_gains(of, ["front"], pairs=True)
    assert both.forward == pytest.approx(left.forward + right.forward)
    assert both.left == pytest.approx(left.left - right.left)


@pytest.mark.parametrize("mirror", [False, True], ids=["one", "pair"])
@pytest.mark.parametrize("measure", ["mean sag", "worst sag", "first frequency"])
def test_struts_do_what_the_map_says(model: Model, measure: str, mirror: bool) -> None:
    """Not to first order: a stiff strut, as long as no lip of a pocket lets go."""
    gain = strut_gain(model, "air", stiffness=4e4, measure=measure, mirror=mirror)
    some = np.flatnonzero(np.isfinite(gain.field.values) & (np.abs(gain.field.y) > 0.03))[::17]
    # the worst sag is watched at some tens of places
    close = {
        "mean sag": (1e-6, 1e-9),
        "worst sag": (1e-6, 1.5e-2 * gain.measure.value),
        "first frequency": (2e-3, 1e-9),
    }
    rel, near = close[measure]
    agreed = 0
    for i in some:
        there = solve(gain._with_strut(gain.field.x[i], gain.field.y[i]), "air")
        if np.array_equal(there.response.side[: -1 - mirror], gain.of.solution.response.side):
            found = measured(there, measure).better_than(gain.measure)
            assert gain.field.values[i] == pytest.approx(found, rel=rel, abs=near)
            agreed += 1
    assert agreed >= 5


def test_struts_on_the_ground_and_after_large_deflection(model: Model) -> None:
    """Weak ones, since large deflection is taken as small changes; on the ground a stiff one too."""
    for case, stiffness in (("low", 1e3), ("far", 1.0)):
        gain = strut_gain(model, case, stiffness=stiffness, measure="mean sag")
        i = int(np.argmax(gain.field.values))
        found = gain.tried(gain.field.x[i], gain.field.y[i]).better_than(gain.measure)
        assert gain.field.values[i] == pytest.approx(found, rel=1e-2)


def test_thin_ribs_in_every_direction(model: Model) -> None:
    """A rib a few millimetres long and hardly wider than a line gains its length times the figure of its place."""
    tiny = {"shape": "tube", "width": 0.001, "height": 0.02, "wall": 0.0002}
    for case in ("air", "far"):
        gain = gain_of(model, case, "mean sag", section=tiny)
        for i in range(3, len(gain.x), 131):
            for angle in (0.0, 0.7, 2.2):
                way = 0.001 * np.array([np.cos(angle), np.sin(angle)])
                middle = np.array([gain.x[i], gain.y[i]])
                along = gain.along((middle - way, middle + way))
                assert along == pytest.approx(
                    0.002 * gain.towards(angle)[i], rel=2e-2, abs=2e-5 * gain.gain.max()
                )


def test_the_best_direction_is_the_best(model: Model) -> None:
    gain = gain_of(model, "air", "worst sag")
    angles = np.linspace(0.0, np.pi, 1441)
    swept = np.column_stack([gain.towards(angle) for angle in angles])
    size = np.abs(gain.terms.terms).sum(axis=1)
    assert np.all(gain.gain >= swept.max(axis=1) - 1e-12 * size)
    assert np.all(gain.gain <= swept.max(axis=1) + 1e-4 * size)
    assert gain.towards(0.3) == pytest.approx(gain.towards(0.3 + np.pi))
    assert gain.per_gram == pytest.approx(gain.gain / (1e3 * gain.mass_per_metre))
    terms = np.random.default_rng(3).standard_normal((200, 5))
    found, angle = Directional(terms).best()
    assert found == pytest.approx(np.max([Directional(terms).at(a) for a in angles], axis=0), abs=1e-4)
    assert np.abs(angle).max() <= np.pi / 2


def test_best_places_fit_and_help(model: Model) -> None:
    gain = gain_of(model, "air", "mean sag")
    places = gain.best(3, length=0.3)
    free = room_for_ribs(model.design, side="above")
    feet = [shapely.LineString(place.points).buffer(0.01, cap_style="flat") for place in places]
    assert all(free.buffer(1e-9).covers(foot) for foot in feet)
    assert not any(a.intersects(b) for a, b in itertools.pairwise(feet))
    better = [place.improvement(gain.measure) for place in places]
    assert better == sorted(better, reverse=True)
    assert better[-1] > 0.0
    random = np.random.default_rng(8)
    for _ in range(5):
        x, y = random.uniform((0.16, -0.3), (0.5, -0.15))
        assert (
            gain.tried(((x, y), (x, y + 0.3 if y < -0.25 else y + 0.2))).better_than(gain.measure) < better[0]
        )
    assert list(gain.table.columns[:6]) == ["place", "x_mm", "y_mm", "angle_deg", "length_mm", "mass_g"]
    assert gain.table.better_mm.is_monotonic_decreasing
    assert gain.table.with_it_mm[0] == pytest.approx(1e3 * gain.measure.value - gain.table.better_mm[0])


def test_pairs_of_ribs(model: Model) -> None:
    """The gain of a pair is that of the one and of its mirror image, and so much for each metre of it."""
    pair, one = (gain_of(model, "air", "mean sag", section=ANGLE, mirror=mirror) for mirror in (True, False))
    line = ((0.1, -0.32), (0.5, -0.4))
    image = ((0.1, 0.32), (0.5, 0.4))
    flipped = one.rib.with_(flip=True)
    assert pair.along(line) == pytest.approx(one.along(line) + replace(one, rib=flipped).along(image))
    i, j = (int(np.argmin(np.hypot(gain.x - 0.55, gain.y - y))) for gain, y in ((pair, 0.2), (one, 0.2)))
    k = int(np.argmin(np.hypot(one.x - one.x[j], one.y + one.y[j])))
    assert pair.towards(0.4)[i] == pytest.approx(0.5 * (one.towards(0.4)[j] + one.towards(-0.4)[k]))
    place = pair.best(1, length=0.2, tried=False)[0]
    assert place.mass == pytest.approx(0.4 * pair.mass_per_metre)


@pytest.mark.parametrize("case", ["follows", "all", "gap law"])
def test_the_air_read_backwards(case: str) -> None:
    """A matrix and its transpose: ``v . (A u) = u . (A' v)``."""
    law = {"name": "gap law", "speed": 60.0, "sag_feedback": True, "pressure": {"kind": "gap law"}}
    design = panel()
    design = design.with_(cases=(*design.cases, sf.LoadCase.model_validate(law)))
    model = build(design)
    follower = sag_follower(model, design.case(case))
    assert follower is not None
    random = np.random.default_rng(1)
    n = model.panel.space.n_dofs
    x = solve(model, case).response.x
    u, v = random.standard_normal((2, n))
    forth, back = follower.slope(x)(u), transposed_slope(follower, x)(v)
    assert v @ forth == pytest.approx(u @ back, rel=1e-10)
    gain = gain_of(model, case, "mean sag", share=1e-5)
    assert gain.along(LINE) == pytest.approx(improvement(gain, LINE), rel=5e-3)


def test_a_second_place_that_is_nearly_as_bad_is_said() -> None:
    design = sf.demo().with_("mesh.size", "150 mm")
    gain = rib_gain(build(design), design.cases[0], section=FLAT, material=metal())
    assert any("is nearly as large" in note and "Look at pairs" in note for note in gain.notes)


def test_what_is_refused(model: Model) -> None:
    with pytest.raises(sf.DesignError, match="no measure 'worst sagg'; did you mean 'worst sag'"):
        gain_of(model, "air", "worst sagg")
    with pytest.raises(
        sf.DesignError, match="x 300, y 200 mm was asked for, which is off the panel or in an opening"
    ):
        gain_of(model, "air", (0.3, 0.2))
    with pytest.raises(sf.DesignError, match=r"given as \(1.0, 2.0, 3.0\): give a place"):
        gain_of(model, "air", (1.0, 2.0, 3.0))
    with pytest.raises(sf.DesignError, match=r"lies on the ground at x .* take another measure"):
        gain_of(model, "low", "least clearance")
    with pytest.raises(sf.DesignError, match="spacing of the places is 0 mm"):
        gain_of(model, "air", "mean sag", spacing=0.0)
    gain = gain_of(model, "air", "mean sag")
    with pytest.raises(sf.DesignError, match="off the panel or over an opening"):
        gain.along(((0.1, 0.2), (0.5, 0.2)))
    with pytest.raises(sf.DesignError, match="No rib of 2000 mm with a foot of 20 mm fits"):
        gain.best(length=2.0)
    with pytest.raises(sf.DesignError, match="ask for at least one"):
        gain.best(0)
    with pytest.raises(sf.DesignError, match="stiffness of the strut is 0 N/m"):
        strut_gain(model, "air", stiffness=0.0)
    with pytest.raises(
        sf.DesignError, match="no strut, bolt, pin or stop 'front' to move; did you mean 'front"
    ):
        move_gains(gain.of, ["front"])
