"""Derivatives against central differences of full solutions on the same mesh; two steps tell how good these are."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem import analysis
from splitterfem.analysis.gradients import gradients
from splitterfem.analysis.measures import measured
from splitterfem.analysis.parameters import Parameter, parameters
from splitterfem.errors import DesignError
from splitterfem.model import Model, build
from splitterfem.strength.governing import worst_utilisation

TUBE = {"shape": "tube", "width": "25.4 mm", "height": "25.4 mm", "wall": "3.2 mm"}
ANGLE = {"shape": "angle", "foot": "30 mm", "upright": "30 mm", "wall": "3 mm"}
SCREWS = {"kind": "screws", "diameter": "4 mm", "pitch": "60 mm"}
AIR = {"speed": "180 km/h", "pressure": {"kind": "uniform", "cp": 0.8}}
PLACE = (0.9, 0.05)
SAGS = ("worst sag", "mean sag", "least clearance", PLACE)

DESIGN = {
    "name": "small",
    "panel": {
        "outline": {
            "start": ["400 mm", "-400 mm"],
            "edges": [{"to": [f"{x} mm", f"{y} mm"]} for x, y in ((1000, -400), (1000, 400), (400, 400))],
        },
        "sheet": {"material": "birch plywood 12 mm", "thickness": "11.7 mm", "grain_angle": "90 deg"},
    },
    "ribs": [
        {
            "name": "tube",
            "points": [["730 mm", "-330 mm"], ["745 mm", "317 mm"]],
            "section": TUBE,
            "material": "6061-T6 extrusion",
        },
        {
            "name": "angle",
            "points": [["790 mm", "190 mm"], ["963 mm", "201 mm"]],
            "section": ANGLE,
            "material": "6061-T6 extrusion",
            "joint": SCREWS,
        },
    ],
    "struts": [
        {
            "name": "strut",
            "mirror": True,
            "foot": ["911 mm", "293 mm"],
            "bracket_height": "30 mm",
            "head": ["790 mm", "270 mm", "280 mm"],
            "diameter": "8 mm",
        }
    ],
    "pins": [
        {"name": "pin left", "at": ["480 mm", "210 mm"], "holds": "xy"},
        {"name": "pin right", "at": ["480 mm", "-210 mm"], "holds": "xy", "slot": "90 deg"},
    ],
    "pockets": [
        {
            "name": "pocket",
            "mirror": True,
            "mouth": ["450 mm", "240 mm"],
            "width": "110 mm",
            "overlap": "45 mm",
            "clearance_up": "0.2 mm",
            "clearance_down": "0.2 mm",
        }
    ],
    "car": {"ride_height": "70 mm"},
    "cases": [
        {"name": "fast", **AIR},
        {"name": "low", **AIR, "ride_height": "0.6 mm", "ground": True},
        {"name": "far", **AIR, "speed": "280 km/h", "large_deflection": True},
        {
            "name": "follows",
            "speed": "180 km/h",
            "sag_feedback": True,
            "pressure": {"kind": "uniform", "cp": 0.8, "gap_exponent": 1.0},
        },
    ],
    "mesh": {"size": "200 mm", "pad_size": "120 mm"},
}


@cache
def model() -> Model:
    """Ribs are not where they are on the mesh's own lines: there what they add would jump."""
    meshed = build(sf.Splitter.model_validate(DESIGN))
    return meshed.moved("tube", dx="-4.3 mm", dy="2.1 mm").moved("angle", dx="-3.7 mm", dy="3.3 mm")


@cache
def solved(case: str) -> analysis.Solution:
    return analysis.solve(model(), case)


def read(solution: analysis.Solution, case: str) -> np.ndarray:
    """Sags, clearance and mass; the worst sag where it was."""
    worst = solution.sag_at(*solved(case).max_sag_at)
    mean = measured(solution, "mean sag").value
    gap = 0.0 if solution.ground.touches else solution.min_clearance
    return np.array([float(worst), mean, gap, float(solution.sag_at(*PLACE)), solution.mass])


def reference(what: Parameter, case: str, step: float, of: Any = read) -> tuple[np.ndarray, np.ndarray]:
    """Difference of full solutions, extrapolated from two steps, and how much that changed it."""

    def full(by: float) -> np.ndarray:
        return of(analysis.solve(model().for_design(what.changed(model().design, by)), case), case)

    wide, narrow = ((full(h) - full(-h)) / (2.0 * h) for h in (step, 0.5 * step))
    return (4.0 * narrow - wide) / 3.0, np.abs(narrow - wide)


def compare(name: str, case: str, *, step: float, least: float = 1e-4) -> None:
    (what,) = parameters(model().design, [name])
    wanted = [one for one in SAGS if not (case == "low" and one == "least clearance")]
    found = gradients(solved(case), [*wanted, "mass"], by=[name])
    exact, doubt = reference(what, case, step)
    if case == "low":
        exact, doubt = np.delete(exact, 2), np.delete(doubt, 2)
    # a sag that hardly changes is compared with a little of sag for a metre
    allowed = 1e-5 * np.maximum(np.abs(exact), least)
    assert np.all(doubt <= 50.0 * allowed), "the reference is no good"
    assert np.all(np.abs(found.values[0] - exact) <= allowed), (found.values[0], exact, doubt)


PLACES = ("strut dx", "strut dy", "pin left dy", "pocket dx", "struts.strut.head.z")
SIZES = (
    "panel.sheet.thickness",
    "ribs.tube.section.height",
    "ribs.angle.joint.pitch",
    "struts.strut.diameter",
    "pockets.pocket.clearance_down",
)


@pytest.mark.parametrize("name", PLACES)
def test_by_places_of_supports(name: str) -> None:
    compare(name, "fast", step=2e-4)


@pytest.mark.parametrize("name", SIZES)
def test_by_sizes(name: str) -> None:
    value = model().design.at(name)
    assert isinstance(value, float)
    compare(name, "fast", step=2e-3 * value)


@pytest.mark.parametrize("name", ["tube dx", "tube dy", "ribs.tube.points.#1.x", "angle dx"])
def test_by_places_of_ribs_between_the_edges_of_the_mesh(name: str) -> None:
    """Between two edges there is room for some micrometres: the slope of a cubic through twenty full solutions."""
    (what,) = parameters(model().design, [name])
    found = gradients(solved("fast"), [*SAGS, "mass"], by=[name])
    steps = 1e-6 * np.concatenate([-np.linspace(6.0, 2.0, 10), np.linspace(2.0, 6.0, 10)])
    full = [
        read(analysis.solve(model().for_design(what.changed(model().design, h)), "fast"), "fast")
        for h in steps
    ]
    exact = np.polynomial.polynomial.polyfit(1e6 * steps, np.array(full), 3)[1] * 1e6
    assert np.all(np.abs(found.values[0] - exact) <= 1e-5 * np.maximum(np.abs(exact), 1e-3)), (
        found.values[0],
        exact,
    )


def test_a_lip_of_a_pocket_touches_in_all_this() -> None:
    assert (solved("fast").contacts["touches"] == "lower lip").any()


@pytest.mark.parametrize("name", ["strut dx", "panel.sheet.thickness", "car.ride_height"])
def test_on_the_ground(name: str) -> None:
    assert solved("low").ground.touches
    step = 5e-6 if name == "panel.sheet.thickness" else 2e-6  # the same places go on touching
    if name == "car.ride_height":  # the case has a ride height of its own
        found = gradients(solved("low"), ["mean sag"], by=[name])
        assert found.values == pytest.approx(0.0, abs=1e-12)
    else:
        compare(name, "low", step=step, least=1e-3)


@pytest.mark.parametrize(
    "name", [pytest.param("strut dx", marks=pytest.mark.slow), "ribs.tube.section.height"]
)
def test_with_large_deflection(name: str) -> None:
    compare(name, "far", step=2e-4 if name == "strut dx" else 1e-4)


def test_with_air_that_follows_the_sag() -> None:
    compare("strut dx", "follows", step=2e-4)
    with pytest.raises(DesignError, match="while the air follows the sag"):
        gradients(solved("follows"), by=["panel.sheet.thickness"])
    figure = worst_utilisation(solved("follows"), "worst utilisation")
    with pytest.raises(DesignError, match="while the air follows the sag"):
        gradients(solved("follows"), [figure], by=["strut dx"])


@pytest.mark.parametrize(
    "measure", ["utilisation of panel", "utilisation of ribs", "utilisation of hardware"]
)
@pytest.mark.parametrize("name", ["strut dx", "panel.sheet.thickness"])
def test_of_utilisations(measure: str, name: str) -> None:
    figure = worst_utilisation(solved("fast"), measure)
    (what,) = parameters(model().design, [name])
    found = gradients(solved("fast"), [figure], by=[name])
    step = 5e-5 if what.of_place else 1e-3 * what.value
    exact, doubt = reference(what, "fast", step, lambda solution, _: np.array([figure.read(solution)]))
    assert np.all(exact != 0.0)
    assert doubt <= 1e-3 * np.abs(
        exact
    )  # of steps that differ by half: the extrapolated figure is better by far
    assert found.values[0] == pytest.approx(exact, rel=1e-5)
    assert figure.governed_by in " ".join(found.notes)


def test_of_mass_by_thickness_is_area_times_density() -> None:
    found = gradients(solved("fast"), ["mass"], by=["panel.sheet.thickness"])
    density = model().sheet.base.mass_per_area / model().sheet.base.thickness
    assert found.of("mass", "panel.sheet.thickness") == pytest.approx(0.6 * 0.8 * density, rel=1e-9)


def test_the_face_takes_names_and_words() -> None:
    found = sf.gradients(
        model(), "fast", measures=["worst sag", ("900 mm", "50 mm"), "utilisation of hardware"], by=["strut"]
    )
    names = [one.name for one in found.parameters]
    assert names[:2] == ["strut dx", "strut dy"]
    assert "struts.strut.foot.x" in names
    assert "struts.strut.head.z" in names
    column = found.table.set_index("parameter")["worst sag_mm"]
    assert column["strut dx"] == pytest.approx(found.of("worst sag", "strut dx"))
    assert "strut" in found._repr_html_()
    assert "small" in repr(found)


def test_everything_is_asked_for_when_nothing_is_named() -> None:
    names = [one.name for one in parameters(model().design, None)]
    assert {"tube dx", "ribs.tube.points.#2.y", "pin right dy", "pocket dy"} <= set(names)
    assert names[-1] == "panel.sheet.thickness"


@pytest.mark.parametrize(
    ("by", "said"),
    [
        ("tub dx", "did you mean"),
        ("nothing", "There is no part 'nothing'"),
        ("panel.sheet.thicknes", "did you mean 'thickness'"),
        ("panel.sheet.material", "is not a figure"),
        ("panel.outline.start.x", "another outline"),
        ("cases.fast.speed", "name something below"),
    ],
)
def test_what_has_no_derivative_is_refused(by: str, said: str) -> None:
    with pytest.raises(DesignError, match=said):
        gradients(solved("fast"), by=[by])


def test_a_measure_that_there_is_not_is_refused() -> None:
    with pytest.raises(DesignError, match="no derivative here"):
        gradients(solved("fast"), ["first frequency"], by=["strut dx"])
    with pytest.raises(DesignError, match="did you mean"):
        sf.gradients(model(), "fast", measures=["utilisation of rib"], by=["strut dx"])
    with pytest.raises(DesignError, match="There is no derivative of 'x'"):
        gradients(solved("fast"), by=["strut dx"]).of("x", "strut dx")
