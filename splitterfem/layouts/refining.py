"""Small steps from good layouts in the parameters that are continuous ranges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from splitterfem.layouts.cells import Cell
from splitterfem.layouts.descent import descended
from splitterfem.layouts.finds import not_beaten
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.merit import merit, scales_of
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.running import Run
from splitterfem.layouts.smooth import why_not
from splitterfem.layouts.solving import Bench, Done, Task

FIRST, LAST = 0.08, 0.01
"""First and last step, as shares of each range."""

ROUNDS = 8


def refined(run: Run, goal: Goal, count: int) -> None:
    """Go on from the best layouts of a run in small steps, and add what is solved to the run.

    By derivatives, where they are good, see :func:`splitterfem.layouts.descent.descended`; else by compass search: a
    step up and a step down in every continuous parameter are tried at once; the best one is taken, and where none is
    better the step is halved (Hooke & Jeeves 1961; Kolda, Lewis & Torczon, SIAM Review 45, 2003; from memory).  What is
    made less is the sum of the objectives, each over its extent on the front, and of the limits that are missed.
    """
    places = [i for i, one in enumerate(run.plan.parameters) if one.continuous]
    starts = _starts(run, goal, count)
    if not places or not starts:
        return
    scales, bench = scales_of(run, goal), Bench(run.plan)
    smooth = not why_not(run.plan, goal)
    for start in starts:
        if not (smooth and descended(run, bench, goal, start, scales)):
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
            key=lambda done: (merit(goal, done, scales), done.number),
            default=here,
        )
        if merit(goal, best, scales) < merit(goal, here, scales):
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
