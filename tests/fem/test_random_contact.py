"""A thousand random designs over random ground: every one in equilibrium, or refused for a reason that is so.

What counts as right is in contact_tools: statics, the laws one by one, and linear programming for what cannot be held.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
from contact_tools import (
    check,
    contradicts,
    firmly_held,
    held_whatever,
    may_float,
    problems,
    work_of_free_motion,
)
from hypothesis import HealthCheck, Phase, given, settings

from splitterfem.errors import MechanismError, SolveError
from splitterfem.fem.ground import Places, solve_on_ground

TOLERANCE = 1e-8
SETTINGS = {
    "deadline": None,
    "derandomize": True,
    "database": None,
    "suppress_health_check": [HealthCheck.too_slow],
    # a failing design is told call by call, and shrinking takes minutes
    "phases": [Phase.generate],
}


def solved(problem, structure):
    """Unknowns, forces on the supports and forces of the ground."""
    if problem.ground is None:
        response = structure.solve(problem.load)
        return response.x, response.force, np.zeros(0)
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
        assert not firmly_held(problem, 1e-5) or may_float(problem)
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


def test_the_answer_does_not_depend_on_where_the_search_begins():
    """Twenty random sets to begin with give the same motions, the same forces, the same set."""
    seen = Counter()

    @settings(max_examples=60, **SETTINGS)
    @given(problems())
    def run(problem):
        seen[same_from_everywhere(problem)] += 1

    run()
    assert seen["every force"] > 15
    assert seen["motions and sums"] > 5


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
        assert np.abs(again - x).max() <= 1e-9 * travel
        assert np.abs(base.rows.T @ (other.force - state.force)).max() <= 1e-9 * loads
        if alone:
            assert np.abs(other.force - state.force).max() <= 1e-9 * loads
            assert np.array_equal(other.side[strict], state.side[strict])
    return "every force" if alone else "motions and sums"
