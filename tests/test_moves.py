"""A changed design on the mesh of another: the same answers as a model built anew on that mesh."""

from __future__ import annotations

from functools import cache
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest

import splitterfem as sf
from splitterfem import analysis
from splitterfem.errors import DesignError, MechanismError
from splitterfem.model import Model, assembly, build

CASE = "straight, 210 km/h"


@cache
def before() -> Model:
    return build(sf.demo().with_("mesh.size", "90 mm"))


def anew(design: sf.Splitter, *, mesh_of: Model) -> Model:
    """Build everything from the start, but on the mesh of another model."""
    with patch.object(assembly, "mesh_design", lambda splitter, also=(), coarser=1.0: mesh_of.mesh):
        return build(design)


CHANGES: dict[str, Any] = {
    "a rib moved": lambda d: d.moved("cross tube", dx="-31 mm", dy="7 mm"),
    "a rib turned": lambda d: d.with_part("cross tube", points=[("725 mm", "-600 mm"), ("705 mm", "610 mm")]),
    "a rib less": lambda d: d.without("cross tube"),
    "a strut moved": lambda d: d.moved("inner strut", dx="-23 mm", dy="11 mm"),
    "a strut less": lambda d: d.without("outer strut left"),
    "a pin moved": lambda d: d.moved(d.pins[0].name, dx="6 mm"),
    "a pocket moved": lambda d: d.moved(d.pockets[0].name, dy="-35 mm"),
    "another sheet": lambda d: d.with_("panel.sheet.thickness", "17 mm"),
    "another ride height": lambda d: d.with_("car.ride_height", "9 mm"),
    "another joint": lambda d: d.with_part(
        "cross tube", joint={"kind": "screws", "diameter": "5 mm", "pitch": "90 mm"}
    ),
    "lower wind": lambda d: d.with_(f"cases.{CASE}.speed", "150 km/h"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_design_on_the_same_mesh_is_solved_as_one_built_anew(change: str) -> None:
    design = CHANGES[change](before().design)
    moved = before().for_design(design)
    fresh = anew(design, mesh_of=before())
    assert moved.mesh is before().mesh
    here, there = (analysis.solve(model, CASE) for model in (moved, fresh))
    assert here.model.design == there.model.design
    np.testing.assert_allclose(here.sag.values, there.sag.values, atol=1e-8 * there.max_sag, rtol=0)
    force = np.abs(there.response.force).max()
    np.testing.assert_allclose(here.response.force, there.response.force, atol=1e-7 * force)
    assert here.mass == pytest.approx(there.mass, rel=1e-12)


def test_changes_of_a_model_are_those_of_its_design() -> None:
    model, design = before(), before().design
    assert model.moved("cross tube", dx="-31 mm").design == design.moved("cross tube", dx="-31 mm")
    assert model.with_("car.ride_height", "60 mm").design == design.with_("car.ride_height", "60 mm")
    assert model.with_(name="other").design == design.with_(name="other")
    assert model.with_part("angle", mirror=False).design == design.with_part("angle", mirror=False)
    assert model.without("outer strut").design == design.without("outer strut")


def test_what_is_not_changed_is_taken_over() -> None:
    model = before().moved("cross tube", dx="-31 mm")
    assert model.panel is before().panel
    assert model.locator is before().locator
    for old, new in zip(before().ribs, model.ribs, strict=True):
        assert (old is new) == (old.name != "cross tube")
    assert all(old is new for old, new in zip(before().supports, model.supports, strict=True))
    there = before().with_("panel.sheet.thickness", "16 mm")
    assert there.panel is not before().panel
    assert not any(old is new for old, new in zip(before().ribs, there.ribs, strict=True))


def test_a_way_there_and_back_ends_where_it_began() -> None:
    back = before().moved("cross tube", dx="-31 mm").moved("cross tube", dx="31 mm")
    here, there = (analysis.solve(model, CASE) for model in (back, before()))
    np.testing.assert_allclose(here.sag.values, there.sag.values, atol=1e-8 * there.max_sag, rtol=0)


def test_lost_joints_stay_lost_as_far_as_the_ribs_are_there() -> None:
    loose = build(before().design, unbonded=frozenset({"cross tube"}))
    assert loose.moved("angle", dx="-5 mm").unbonded == {"cross tube"}
    assert loose.without("cross tube").unbonded == frozenset()
    of_case = before().for_case(before().design.case(CASE).with_(unbonded=["cross tube"]))
    assert of_case.moved("angle", dx="-5 mm").unbonded == frozenset()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.moved("tunnel", dx="5 mm"), "another opening 'tunnel left'"),
        (lambda d: d.without("tunnel"), "another opening 'tunnel left'"),
        (lambda d: d.with_("mesh.size", "50 mm"), "asks for another mesh"),
        (lambda d: d.with_("panel.outline", sf.Outline.rectangle(0.3, 1.02, -0.82, 0.82)), "another outline"),
    ],
)
def test_another_panel_is_refused(change: Any, said: str) -> None:
    with pytest.raises(DesignError, match=said):
        before().for_design(change(before().design))


def test_a_changed_design_that_nothing_holds_is_refused() -> None:
    design = before().design.with_(struts=(), pockets=())
    with pytest.raises(MechanismError):
        before().for_design(design)


def test_a_mesh_can_be_made_for_several_designs_at_once() -> None:
    design = before().design
    other = design.moved("cross tube", dx="45 mm")
    both = build(design, also=[other])
    away = [points for rib in other.ribs if rib.name == "cross tube" for points in rib.points]
    here, there = (
        model.panel.space.area[model.locator.find(np.linspace(*np.array(away), 41).T)].mean()
        for model in (both, before())
    )
    assert here < 0.5 * there
    assert both.for_design(other).mesh is both.mesh
    with pytest.raises(DesignError, match="another opening"):
        build(design, also=[design.without("tunnel")])


def test_air_is_found_once_for_a_mesh(monkeypatch: pytest.MonkeyPatch) -> None:
    from splitterfem.model import keptair

    model = before().moved("cross tube", dx="-2 mm")
    model.air._found.clear()
    calls = []
    monkeypatch.setattr(
        keptair, "air_load", lambda *given, real=keptair.air_load: (calls.append(given), real(*given))[1]
    )
    for dx in ("-3 mm", "-4 mm"):
        analysis.solve(model.moved("cross tube", dx=dx), CASE)
    assert len(calls) == 1
    analysis.solve(model.with_("car.ride_height", "60 mm"), CASE)
    assert len(calls) == 2
