"""A study while it runs: what is done already is not done again, what is finished is kept."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from splitterfem.errors import FileError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.journal import Journal, opened
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.solving import Done, Task
from splitterfem.layouts.steps import Step
from splitterfem.layouts.workers import Crew, crew_of

Progress = Callable[[int, int, float | None], None]
"""Told how many layouts are finished, how many there will be, and how many seconds are left, None when not known."""


class Run:
    """Solves layouts, keeps them in the study's file, and remembers them.

    Attributes
    ----------
    plan : Plan
    done : dict of int to Done
        Finished layouts of this run, those taken over from the file included.
    steps : dict of int to Step
        Layouts on the meshes of others that were solved on the way, in the same manner.
    finished : bool
        Whether all that was wanted is there.
    """

    def __init__(
        self, plan: Plan, crew: Crew, journal: Journal | None, progress: Progress | None, total: int
    ) -> None:
        self.plan, self.done, self.finished = plan, dict[int, Done](), False
        self.steps: dict[int, Step] = {}
        self._crew, self._journal, self._progress = crew, journal, progress
        self._total, self._solved, self._begun = total, 0, time.perf_counter()

    def solve(self, tasks: Sequence[Task]) -> list[Done]:
        """Solve layouts that are not in the file yet; return all in the order of the tasks.

        Raises
        ------
        FileError
            If the file has other values for one of them.
        """
        known = {} if self._journal is None else self._journal.done
        for task in tasks:
            if task.number in known:
                self._take(known[task.number], task)
        self._tell()
        for done in self._crew.each([task for task in tasks if task.number not in self.done]):
            self.done[done.number] = (
                done  # first, so that an interruption while it is written does not lose it
            )
            if self._journal is not None:
                self._journal.add(done)
            self._solved += 1
            self._tell()
        return [self.done[task.number] for task in tasks]

    def step(self, start: int, cells: tuple[Cell, ...], solve: Callable[[int], Step]) -> Step:
        """Take the next step over from the file, or make it in this process and keep it.

        Parameters
        ----------
        start : int
            Layout on whose mesh it stands.
        cells : tuple
        solve : callable
            Makes the step of a number.

        Raises
        ------
        FileError
            If the file has another one in its place.
        """
        number = len(self.steps) + 1
        known = None if self._journal is None else self._journal.steps.get(number)
        if known is not None and (known.start, known.cells) != (start, cells):
            raise FileError(
                f"step {number} in the study's file has other values than this study gives it; remove the file to "
                "begin anew"
            )
        self.steps[number] = made = solve(number) if known is None else known
        if self._journal is not None:
            self._journal.add_step(made)
        self._tell()
        return made

    def repeat(self, done: Done) -> Done:
        """Take a layout over from one that has the same design."""
        if self._journal is not None:
            self._journal.add(done)
        self.done[done.number] = done
        self._tell()
        return done

    def _take(self, done: Done, task: Task) -> None:
        if done.cells != task.cells:
            raise FileError(
                f"layout {task.number} in the study's file has other values than this study gives it; remove the file "
                "to begin anew"
            )
        self.done[done.number] = done

    def _tell(self) -> None:
        if self._progress is None:
            return
        left = None
        if self._solved:
            pace = (time.perf_counter() - self._begun) / self._solved
            left = pace * max(self._total - len(self.done), 0)
        self._progress(len(self.done), max(self._total, len(self.done)), left)


@contextmanager
def running(
    plan: Plan,
    *,
    total: int,
    file: str | os.PathLike[str] | None = None,
    workers: Any = None,
    cluster: Any = None,
    progress: Progress | None = None,
) -> Iterator[Run]:
    """Begin a study, or continue it from its file; an interruption from the keyboard ends it early and in order.

    Parameters
    ----------
    plan : Plan
    total : int
        Layouts that there will be.
    file : path, optional
        See :class:`splitterfem.layouts.journal.Journal`.
    workers, cluster
        See :func:`splitterfem.layouts.workers.crew_of`.
    progress : callable, optional
        See `Progress`.
    """
    with opened(file, plan) as journal, crew_of(plan, workers=workers, cluster=cluster) as crew:
        run = Run(plan, crew, journal, progress, total)
        try:
            yield run
            run.finished = True
        except KeyboardInterrupt:
            run.finished = False
