"""The search for good layouts: proposals of a sampler, then small steps from the best."""

from __future__ import annotations

import math
import os
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from splitterfem.errors import DesignError, MissingExtraError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.finds import Found
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.measures import limit_of
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.refining import refined
from splitterfem.layouts.running import Progress, Run, running
from splitterfem.layouts.solving import Done, Task

TOGETHER = 8
"""Layouts that are proposed at once for one objective; a number of its own, so that workers do not change a search."""

MOST_LAYOUTS = 100_000
"""Layouts that a search proposes, or refines."""

FEWEST, MOST = 8, 50
"""Layouts of a generation for several objectives: an eighth of all of them, within these."""


def goal_of(plan: Plan, objectives: Sequence[str], limits: Mapping[str, Any]) -> Goal:
    """Read objectives and limits.

    Parameters
    ----------
    plan : Plan
    objectives : names of measures
    limits : mapping of names of measures to limits
        On the side that is worse: at most for sag, mass, cost and utilisation, at least for the others.

    Raises
    ------
    DesignError, UnitError
        If one is no measure of the plan, or a limit is of another kind.
    """
    if not objectives:
        raise DesignError(
            'A search needs something to make better; give objectives such as ["mass", "worst sag"].'
        )
    wanted = tuple(plan.measure(name) for name in objectives)
    if len(set(wanted)) < len(wanted):
        raise DesignError("A search has the same objective twice; name it once.")
    bounds = tuple(
        (plan.measure(name), limit_of(plan.measure(name), value)) for name, value in limits.items()
    )
    return Goal(wanted, bounds)


def search(
    plan: Plan,
    goal: Goal,
    *,
    layouts: int,
    seed: int,
    refine: int = 0,
    file: str | os.PathLike[str] | None = None,
    workers: Any = None,
    cluster: Any = None,
    progress: Progress | None = None,
) -> Found:
    """Search for layouts that are better and within limits.

    For one objective proposals come from a tree-structured Parzen estimator, for several from NSGA-II (Deb et al. 2002;
    from memory), both as Optuna has them.  They are made in fixed numbers at a time, so that the search is the same
    for any number of workers, and the same again when it goes on from its file: finished layouts are told to the
    sampler anew, in their order.

    Parameters
    ----------
    plan : Plan
        Its `more` is to have all that decides the search, see `settings`.
    goal : Goal
    layouts : int
        To propose; those of the steps come on top.
    seed : int
    refine : int
        Layouts from which to go on in small steps of the parameters that are continuous ranges.
    file, workers, cluster, progress
        See :func:`splitterfem.layouts.running.running`.

    Raises
    ------
    MissingExtraError
        If Optuna is not installed.
    """
    with running(plan, total=layouts, file=file, workers=workers, cluster=cluster, progress=progress) as run:
        with _sampler(goal, layouts, seed) as (study, together):
            _propose(run, goal, study, layouts, together)
        refined(run, goal, refine)
    done = tuple(run.done[number] for number in sorted(run.done))
    place = None if file is None else Path(file)
    return Found(
        plan, done, max(layouts, len(done)), run.finished, place, goal, steps=tuple(run.steps.values())
    )


def settings(goal: Goal, *, layouts: int, seed: int, refine: int) -> dict[str, Any]:
    """Gather what decides a search, as plain data for a plan's `more`.

    Raises
    ------
    MissingExtraError
        If Optuna is not installed.
    """
    for name, value, least in (("layouts", layouts, 1), ("refine", refine, 0), ("seed", seed, 0)):
        most = 2**31 - 1 if name == "seed" else MOST_LAYOUTS
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise DesignError(
                f"{name} of a search is {value!r:.40}: give a whole number from {least} to {most}."
            )
    more = {"layouts": layouts, "seed": seed, "refine": refine, "optuna": str(_optuna().__version__)}
    return goal.spec() | more


def _propose(run: Run, goal: Goal, study: Any, layouts: int, together: int) -> None:
    """Let the sampler propose, solve what is new, and tell it what came of it."""
    plan, optuna = run.plan, _optuna()
    space = {one.name: _distribution(one) for one in plan.parameters}
    known: dict[Any, int] = {}
    for first in range(1, layouts + 1, together):
        numbers = range(first, min(first + together, layouts + 1))
        trials = [study.ask(space) for _ in numbers]
        cells = [tuple(_cell(one, trial.params[one.name]) for one in plan.parameters) for trial in trials]
        keys = [plan.layout(some).key for some in cells]
        tasks = []
        for number, some, key in zip(numbers, cells, keys, strict=True):
            if known.setdefault(key, number) == number:
                tasks.append(Task(number, some))
        run.solve(tasks)
        for number, some, key, trial in zip(numbers, cells, keys, trials, strict=True):
            done = run.done[known[key]]
            if known[key] != number:
                done = run.repeat(Done(number, some, done.row, done.refused))
            values = goal.values(done)
            if done.refused or not all(map(math.isfinite, values)):
                study.tell(trial, state=optuna.trial.TrialState.FAIL)
                continue
            trial.set_user_attr("missed", goal.missed(done))
            study.tell(trial, values)


@contextmanager
def _sampler(goal: Goal, layouts: int, seed: int) -> Iterator[tuple[Any, int]]:
    """Give a study of Optuna that keeps quiet, and how many layouts to propose at a time."""
    optuna = _optuna()
    before = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    generation = min(max(layouts // 8, FEWEST), MOST)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
            warnings.simplefilter("ignore", FutureWarning)
            if len(goal.objectives) == 1:
                together = TOGETHER
                sampler = optuna.samplers.TPESampler(
                    seed=seed, multivariate=True, constant_liar=True, constraints_func=_missed
                )
            else:
                together = generation
                sampler = optuna.samplers.NSGAIISampler(
                    seed=seed, population_size=generation, constraints_func=_missed
                )
            directions = ["minimize" if one.better == "low" else "maximize" for one in goal.objectives]
            yield optuna.create_study(directions=directions, sampler=sampler), together
    finally:
        optuna.logging.set_verbosity(before)


def _missed(trial: Any) -> Sequence[float]:
    """By how much a proposal misses each limit; zero or less when it keeps it."""
    return tuple(trial.user_attrs.get("missed", ()))


def _distribution(one: Parameter) -> Any:
    """Values of a parameter as Optuna has them: a range, or the place in a list."""
    optuna = _optuna()
    if one.continuous:
        assert one.span is not None
        return optuna.distributions.FloatDistribution(*one.span)
    count = len(one.cells)
    if one.numeric:
        return optuna.distributions.IntDistribution(0, count - 1)
    return optuna.distributions.CategoricalDistribution(list(range(count)))


def _cell(one: Parameter, drawn: Any) -> Cell:
    return one.cell_at(float(drawn)) if one.continuous else one.cells[int(drawn)]


def _optuna() -> Any:
    try:
        import optuna
    except ImportError:
        raise MissingExtraError(
            "A search needs Optuna: install it with  pip install 'splitterfem[search]'  or take a sweep."
        ) from None
    return optuna
