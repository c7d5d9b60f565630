"""Small steps from good layouts in the parameters that are continuous ranges."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from splitterfem.layouts.choices import Cell, Parameter
from splitterfem.layouts.finds import Goal, not_beaten
from splitterfem.layouts.running import Run
from splitterfem.layouts.solving import Done, Task

FIRST, LAST = 0.08, 0.01
"""First and last step, as shares of each range."""

ROUNDS = 8

PENALTY = 10.0
"""On a missed limit, against the extent of the objectives."""


def refined(run: Run, goal: Goal, count: int) -> None:
    """Go on from the best layouts of a run by compass search, and add what is solved to the run.

    From each layout a step up and a step down in every continuous parameter are tried at once; the best one is taken,
    and where none is better the step is halved (Hooke & Jeeves 1961; Kolda, Lewis & Torczon, SIAM Review 45, 2003; from
    memory).  It needs no derivatives: by the place of a rib, those of one mesh are too rough to go by.  What is made
    less is the sum of the objectives, each over its extent on the front, and of the limits that are missed.
    """
    places = [i for i, one in enumerate(run.plan.parameters) if one.continuous]
    starts = _starts(run, goal, count)
    if not places or not starts:
        return
    scales = _scales(run, goal)
    for start in starts:
        _compass(run, goal, start, places, scales)


def _starts(run: Run, goal: Goal, count: int) -> list[Done]:
    """Layouts to begin with, spread evenly over the front; for one objective the best ones."""
    layouts = [run.done[number] for number in sorted(run.done)]
    if len(goal.objectives) == 1:
        kept = [done for done in layouts if goal.kept(done)]
        return sorted(kept, key=lambda done: (goal.costs(done), done.number))[:count]
    front = not_beaten(goal, layouts)
    if len(front) <= count or count < 1:
        return front[:count]
    return [front[i] for i in sorted({round(x) for x in np.linspace(0, len(front) - 1, count)})]


def _scales(run: Run, goal: Goal) -> list[float]:
    """Extent of each objective over the layouts that keep the limits."""
    costs = np.array([goal.costs(done) for done in run.done.values() if goal.kept(done)])
    return [float(extent) or 1.0 for extent in np.ptp(costs, axis=0)]


def _merit(goal: Goal, done: Done, scales: Sequence[float]) -> float:
    """Find what is to be made less; infinite for a layout that was refused."""
    costs = goal.costs(done)
    if done.refused or not all(map(math.isfinite, costs)):
        return math.inf
    missed = sum(max(by, 0.0) for by in goal.missed(done))
    return sum(cost / scale for cost, scale in zip(costs, scales, strict=True)) + PENALTY * missed


def _compass(run: Run, goal: Goal, start: Done, places: Sequence[int], scales: Sequence[float]) -> None:
    plan = run.plan
    known = {plan.layout(done.cells).key: done for done in run.done.values()}
    here, step = start, FIRST
    for _ in range(ROUNDS):
        if step < LAST:
            return
        wanted = {
            plan.layout(cells).key: cells for cells in _around(plan.parameters, here.cells, places, step)
        }
        fresh = [cells for key, cells in wanted.items() if key not in known]
        number = max(run.done) + 1
        solved = run.solve([Task(number + i, cells) for i, cells in enumerate(fresh)])
        known |= {plan.layout(done.cells).key: done for done in solved}
        best = min(
            (known[key] for key in wanted),
            key=lambda done: (_merit(goal, done, scales), done.number),
            default=here,
        )
        if _merit(goal, best, scales) < _merit(goal, here, scales):
            here = best
        else:
            step *= 0.5


def _around(
    chosen: Sequence[Parameter], cells: tuple[Cell, ...], places: Sequence[int], step: float
) -> list[tuple[Cell, ...]]:
    """Layouts a step up and a step down in each parameter, within its range."""
    found = []
    for place in places:
        one = chosen[place]
        assert one.span is not None
        low, high = one.span
        for sign in (1.0, -1.0):
            value = one.cell_at(min(max(float(cells[place]) + sign * step * (high - low), low), high))
            if value != cells[place]:
                found.append((*cells[:place], value, *cells[place + 1 :]))
    return found
