"""Random designs either solve with forces in equilibrium, or are refused with a reason: nothing else ever happens."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bad_input_tools import no_warnings
from hypothesis import HealthCheck, event, given, settings
from random_designs import designs

import splitterfem as sf
from splitterfem.fem.factor import CHOICE

EQUILIBRIUM = 1e-8
"""What is left of the six sums of loads and reactions, over all loads."""

QUIET = settings(deadline=None, suppress_health_check=list(HealthCheck), print_blob=False)


def solved_or_refused(fields: dict[str, Any]) -> str:
    """Solve a design and test its equilibrium; returns what became of it."""
    with no_warnings():
        try:
            solution = sf.solve(sf.Splitter(**fields), "case")
        except sf.SplitterError as problem:
            reason = str(problem)
            assert reason.strip()
            assert "unexpected" not in reason
            return type(problem).__name__
        assert np.isfinite(solution.max_sag)
        assert solution.equilibrium <= EQUILIBRIUM, f"{solution.equilibrium:.1e} of {fields}"
        assert unbalanced(solution) <= EQUILIBRIUM, f"{unbalanced(solution):.1e} of {fields}"
    return "solved"


def unbalanced(solution: sf.Solution) -> float:
    """Sum of the loads and of what supports and ground carry, from their tables, over the loads."""
    loads = sum(sums[:3] for sums in solution.load.resultants.values())
    supports = solution.supports[["fx_N", "fy_N", "fz_N"]].to_numpy().sum(axis=0)
    ground = np.array([0.0, 0.0, solution.ground.force])
    size = sum(float(np.abs(sums[:3]).sum()) for sums in solution.load.resultants.values())
    return float(np.abs(loads + supports + ground).max()) / size


def moved_by_parts_and_as_a_whole(fields: dict[str, Any]) -> str:
    """Move a part on the mesh that there is; parts that were kept must not show."""
    with no_warnings():
        try:
            model = sf.build(sf.Splitter(**fields))
            # Two moves: the second takes parts from the first.
            name = (fields["ribs"] or fields["struts"])[0]["name"]
            moved = model.moved(name, dx="1.5 mm").moved(name, dx="-4 mm")
            found = sf.solve(moved, "case")
            with pytest.MonkeyPatch.context() as patch:
                patch.setenv(CHOICE, "superlu")
                whole = sf.solve(model.moved(name, dx="-2.5 mm"), "case")
        except sf.SplitterError as problem:
            return type(problem).__name__
    assert found.equilibrium <= EQUILIBRIUM
    one, other = found.response, whole.response
    assert np.array_equal(one.side, other.side)
    allowed = max(1e-8, 10.0 * other.correction)
    assert np.abs(one.x - other.x).max() <= allowed * np.abs(other.x).max(), fields
    return "moved"


@given(designs())
@settings(QUIET, max_examples=40)
def test_random_moves(fields: dict[str, Any]) -> None:
    event(moved_by_parts_and_as_a_whole(fields))


@pytest.mark.slow
@given(designs())
@settings(QUIET, max_examples=400)
def test_many_random_moves(fields: dict[str, Any]) -> None:
    event(moved_by_parts_and_as_a_whole(fields))


@given(designs())
@settings(QUIET, max_examples=120)
def test_random_designs(fields: dict[str, Any]) -> None:
    event(solved_or_refused(fields))


@pytest.mark.slow
@given(designs())
@settings(QUIET, max_examples=1500)
def test_many_random_designs(fields: dict[str, Any]) -> None:
    event(solved_or_refused(fields))
