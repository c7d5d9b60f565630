"""Checks that every solution makes of itself: what they measure, and that a wrong answer is withheld."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.errors import SolveError
from splitterfem.fem.structure import LIMITS, energy_gap


@pytest.fixture(scope="module")
def solution():
    return sf.solve(tiny_panel(), "lean")


def test_clapeyron(solution):
    """Loads do twice the work that the bent panel stores on rigid supports (Clapeyron's theorem, any textbook)."""
    structure, response = solution.model.structure, solution.response
    x = np.concatenate([response.x, response.extra])
    load = structure.with_extra(solution.load.vector)
    assert x @ load == pytest.approx(x @ (structure.matrix @ x), rel=1e-6)
    assert response.energy_gap < 1e-10
    assert response.correction < 1e-9


def test_work_that_goes_nowhere_is_found():
    x, load = np.array([1.0, 2.0]), np.array([3.0, 4.0])
    assert energy_gap(load, x, np.zeros(2), load) == 0.0
    assert energy_gap(load, x, np.zeros(2), 0.5 * load) == pytest.approx(5.5 / 16.5)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("residual", "nodal forces miss equilibrium"),
        ("play_residual", "support forces miss equilibrium"),
        ("imbalance", "sums of loads and reactions miss equilibrium"),
        ("energy_gap", "works of loads and panel miss equilibrium"),
        ("correction", "Rounding still moves the displacements"),
    ],
)
def test_an_answer_that_fails_a_check_is_withheld(solution, name, said):
    structure = solution.model.structure
    structure.check(replace(solution.response, **{name: 0.99 * LIMITS[name]}))
    for bad in (1.01 * LIMITS[name], np.nan):
        with pytest.raises(SolveError, match=said):
            structure.check(replace(solution.response, **{name: bad}))
