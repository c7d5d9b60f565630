"""Layouts on a grid, or any list of them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from splitterfem.layouts.cells import Cell
from splitterfem.layouts.choices import grid
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.results import Study
from splitterfem.layouts.running import Progress, running
from splitterfem.layouts.solving import Task

MOST = 200_000
"""Layouts of a grid."""


def sweep(
    plan: Plan,
    *,
    file: str | os.PathLike[str] | None = None,
    workers: Any = None,
    cluster: Any = None,
    progress: Progress | None = None,
) -> Study:
    """Solve all combinations of the values of a plan's parameters; the last parameter changes fastest.

    Parameters
    ----------
    plan : Plan
    file, workers, cluster, progress
        See :func:`splitterfem.layouts.running.running`.

    Raises
    ------
    DesignError
        If a range has no steps, or there are too many combinations.
    """
    cells = grid(plan.parameters, most=MOST)
    return solve_all(plan, cells, file=file, workers=workers, cluster=cluster, progress=progress)


def solve_all(
    plan: Plan,
    cells: Sequence[Sequence[Cell]],
    *,
    file: str | os.PathLike[str] | None = None,
    workers: Any = None,
    cluster: Any = None,
    progress: Progress | None = None,
) -> Study:
    """Solve a list of layouts, each given by a value for each parameter of a plan; they are numbered from 1.

    What decides the list belongs into the plan's `more`, so that a file of another list is not taken for this one.
    """
    tasks = [Task(number, tuple(row)) for number, row in enumerate(cells, start=1)]
    with running(
        plan, total=len(tasks), file=file, workers=workers, cluster=cluster, progress=progress
    ) as run:
        run.solve(tasks)
    layouts = tuple(run.done[number] for number in sorted(run.done))
    return Study(plan, layouts, len(tasks), run.finished, None if file is None else Path(file))
