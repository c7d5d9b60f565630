"""Random designs either solve with forces in equilibrium, or are refused with a reason: nothing else ever happens."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest
from bad_input_tools import no_warnings
from hypothesis import HealthCheck, event, given, settings
from random_designs import designs

import splitterfem as sf

EQUILIBRIUM = 1e-8
"""What is left of the six sums of loads and reactions, over all loads."""

QUIET = settings(
    derandomize=True, database=None, deadline=None, suppress_health_check=list(HealthCheck), print_blob=False
)


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


@given(designs())
@settings(QUIET, max_examples=120)
def test_random_designs(fields: dict[str, Any]) -> None:
    event(solved_or_refused(fields))


@pytest.mark.slow
@given(designs())
@settings(QUIET, max_examples=1500, derandomize="SPLITTERFEM_OTHER_DESIGNS" not in os.environ)
def test_many_random_designs(fields: dict[str, Any]) -> None:
    event(solved_or_refused(fields))
