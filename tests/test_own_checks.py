"""Checks that every solution makes of itself: what they measure, and that a wrong answer is withheld."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sp
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.errors import SolveError
from splitterfem.fem.answer_checks import LIMITS, energy_gap

BOX = (["300 mm", "277 mm"], ["0 mm", "277 mm"], ["0 mm", "0 mm"])


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


def test_forces_that_a_rigid_motion_should_not_meet_are_not_smoothed_away(solution):
    """A stiffness that resists rigid motions is wrong, not rounded: nodal forces miss equilibrium."""
    wrong = copy(solution.model.structure)
    wrong.matrix = sp.csc_array(wrong.matrix + 1e-8 * sp.diags_array(wrong.matrix.diagonal()))
    wrong.base = copy(wrong.base)
    wrong.base.matrix = wrong.matrix
    with pytest.raises(SolveError, match="nodal forces miss equilibrium"):
        wrong.solve(solution.load.vector)
    with pytest.raises(SolveError, match="nodal forces miss equilibrium"):
        sf.solve(replace(solution.model, structure=wrong), "lean")


def test_rounding_of_stiff_ribs_leaves_no_forces_over():
    """A steel tube rides on a 1 mm sheet that bends by 5 mm under its own weight: the sums of forces still vanish."""
    around = {"start": ["300 mm", "0 mm"], "mirror": True, "edges": [{"to": p} for p in BOX]}
    found = sf.solve(
        sf.Splitter(
            name="soft",
            panel={"outline": around, "sheet": {"material": "6061-T6 sheet", "thickness": "1 mm"}},
            ribs=[
                {
                    "name": "tube",
                    "points": [["20 mm", "0 mm"], ["100 mm", "0 mm"]],
                    "section": {"shape": "tube", "width": "25 mm", "height": "25 mm", "wall": "2 mm"},
                    "material": "mild steel",
                    "side": "above",
                }
            ],
            struts=[
                {
                    "name": "strut",
                    "foot": ["140 mm", "60 mm"],
                    "head": ["100 mm", "60 mm", "250 mm"],
                    "mirror": True,
                    "diameter": "8 mm",
                }
            ],
            bolts=[{"name": "bolt", "at": ["40 mm", "127 mm"], "holds": "xyz", "mirror": True}],
            car={"ride_height": "80 mm"},
            mesh={"size": "110 mm"},
            cases=[{"name": "parked", "speed": "1 km/h", "pressure": {"kind": "uniform", "cp": 0.0}}],
        ),
        "parked",
    )
    assert found.equilibrium < 1e-13
