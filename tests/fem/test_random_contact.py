"""A thousand random designs over random ground: every one in equilibrium, or refused for a reason that is so.

What counts as right is in contact_tools: statics, the laws one by one, and linear programming for what cannot be held.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from contact_tools import (
    Problem,
    check,
    contradicts,
    firmly_held,
    floats,
    held_whatever,
    problems,
    solve_on_ground,
    work_of_free_motion,
)
from hypothesis import HealthCheck, Phase, given, settings

from splitterfem.errors import MechanismError, SolveError
from splitterfem.fem.places import Places

TOLERANCE = 1e-8
SETTINGS = {
    "deadline": None,
    "suppress_health_check": [HealthCheck.too_slow],
    # a failing design is told call by call, and shrinking takes minutes
    "phases": [Phase.generate],
}


def solved(problem, structure):
    """Unknowns, forces on the supports and forces of the ground."""
    landed = solve_on_ground(structure, problem.load, problem.ground)
    return landed.x, landed.force, landed.ground


def outcome(problem):
    """How a problem ends, with every claim of the solver checked."""
    try:
        structure = problem.structure()
    except MechanismError as error:
        assert not held_whatever(problem)
        assert_a_sentence(error)
        return "nothing holds it"
    assert held_whatever(problem)
    try:
        answer = solved(problem, structure)
    except MechanismError as error:
        assert_a_sentence(error)
        # A load on the edge of what can be held, or one that leaves the panel floating within its clearances.
        assert not firmly_held(problem, 1e-5) or floats(problem, structure)
        return "load lifts it off"
    except SolveError as error:
        assert_a_sentence(error, "contradict each other")
        assert contradicts(problem)
        return "contradiction"
    assert work_of_free_motion(problem) < 1e-9
    errors = check(problem, structure, *answer)
    assert max(errors.values()) <= TOLERANCE, errors
    return "on the ground" if np.any(answer[2]) else "solved"


def assert_a_sentence(error, reason=""):
    text = str(error)
    assert reason in text
    assert text[0].isupper()
    assert text.endswith(".")
    assert "\n" not in text


@pytest.mark.slow
def test_a_thousand_random_designs():
    seen = Counter()

    @settings(max_examples=1000, **SETTINGS)
    @given(problems())
    def run(problem):
        seen[outcome(problem)] += 1

    run()
    assert seen["solved"] > 300
    assert seen["on the ground"] > 100
    assert seen["load lifts it off"] > 10
    assert seen["contradiction"] > 5


def levered_by_one_slot(problem):
    """All of the load on one shallow slot: its lips bear forces a hundred times the load."""
    problem.hold(0.15, 0.45, "xy")
    problem.hold(0.05, 0.25, "xy")
    problem.hold(0.05, 0.1, "z")
    problem.pocket(0.75, width=0.06, overlap=0.015, up=5e-4, down=1e-4)
    problem.strut(0.05, 0.1, lean=(0.3, 0.0), height=0.0, stiffness=1e5, preload=300.0)
    problem.press(1000.0, 0.0, 0.0)


def turned_in_plan(problem):
    """Nothing but the rounding of motions stops it, a very long way off."""
    problem.hold(0.15, 1.1, "xy")
    problem.hold(0.15, 1.1, "xz")
    for y in (0.25, 0.95):
        problem.pocket(y, width=0.15, overlap=0.045, up=0.0, down=1.5e-3)
    problem.strut(
        0.55, 0.6, lean=(0.3, 0.0), height=0.03, stiffness=1e5, tension_only=True, slack=7e-4, preload=300
    )
    problem.stop(0.45, 0.6, gap=1.5e-3, compliance=0.0, above=True)
    problem.push(0.3, 0.6, [120.0, 0.0, 0.0])


def flush_on_the_ground(problem):
    """Ground and lips at one height: the panel hardly moves, and rounding decides what touches."""
    problem.hold(0.05, 0.75, "xy")
    problem.hold(0.55, 0.1, "xyz")
    problem.pocket(0.6, width=0.06, overlap=0.03, up=1.2e-3, down=0.0)
    for y, lean in ((0.75, 0.2), (0.45, -0.2)) * 2:
        problem.strut(
            0.05, y, lean=(0.0, lean), height=0.03, stiffness=1e7, tension_only=True, slack=1.3e-3, preload=20
        )
    problem.over_ground(0.0, 0.0, 0.0)
    problem.press(1000.0, 0.0, 0.0)


def lifted_out_of_a_slot(problem):
    """Ground that lifts a panel which slots without play hold down."""
    problem.hold(0.15, 0.1, "xy")
    problem.hold(0.55, 0.6, "xyz")
    problem.pocket(0.6, width=0.1, overlap=0.045, up=0.0, down=0.0)
    for y in (0.45, 0.75):
        problem.pocket(y, width=0.1, overlap=0.045, up=2e-4, down=0.0)
    problem.over_ground(0.0, 0.01, 0.0)
    problem.press(1000.0, 1000.0, 1000.0)


@pytest.mark.parametrize(
    ("build", "kind", "expected"),
    [
        (levered_by_one_slot, 0, "solved"),
        (turned_in_plan, 0, "load lifts it off"),
        (flush_on_the_ground, 1, "on the ground"),
        (lifted_out_of_a_slot, 1, "contradiction"),
    ],
)
def test_designs_that_are_hard_to_search(build, kind, expected):
    problem = Problem(kind)
    build(problem)
    assert outcome(problem) == expected


def test_the_answer_does_not_depend_on_where_the_search_begins():
    """Twenty random sets to begin with give the same motions, the same forces, the same set."""
    seen = Counter()

    @settings(max_examples=60, **SETTINGS)
    @given(problems())
    def run(problem):
        seen[same_from_everywhere(problem)] += 1

    run()
    assert seen["every force"] > 8
    assert seen["motions and sums"] > 2


def same_from_everywhere(problem):
    """Solve from twenty random sets; every place of the ground is watched from the beginning."""
    try:
        held = problem.structure()
        if problem.ground is None:
            base = held.base
        else:
            places = Places(held, problem.ground)
            base = places.watching(held.base, np.arange(len(problem.ground.lowest)))
        x, state = base.solve(problem.load)
    except (MechanismError, SolveError):
        return "refused"
    if not state.held:
        return "loose"
    x, state = base.polished(problem.load, x, state)
    loads = max(problem.size, float(np.abs(state.force).max()))
    travel = max(float(np.abs(x).max()), 5e-9 * loads)
    law, motion = base.play.law, base.rows @ x
    opened = np.minimum(law.upper - motion, motion - law.lower) > 1e-7 * travel
    strict = opened | (np.abs(state.force) > 1e-7 * loads)
    touching = base.rows[np.flatnonzero(~opened)].toarray()
    # several lips on one coarse element share a force in ways that differ by less than rounding
    alone = np.linalg.matrix_rank(touching, tol=1e-3) == len(touching)
    rng = np.random.default_rng(1)
    for _ in range(20):
        again, other = base.polished(
            problem.load, *base.solve(problem.load, start=rng.integers(-1, 2, len(state.side)))
        )
        # rigid lips 15 mm deep turn rounding of their motions, picometres, into a hundred times as much in front
        assert np.abs(again - x).max() <= 1e-7 * travel
        assert np.abs(base.rows.T @ (other.force - state.force)).max() <= 1e-9 * loads
        if alone:
            assert np.abs(other.force - state.force).max() <= 1e-9 * loads
            assert np.array_equal(other.side[strict], state.side[strict])
    return "every force" if alone else "motions and sums"
