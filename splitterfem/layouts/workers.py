"""Who solves the layouts: this process, processes on this machine, or a cluster."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

from splitterfem.errors import DesignError, MissingExtraError, SolveError
from splitterfem.layouts.plan import Plan, named_files
from splitterfem.layouts.solving import Bench, Done, Task, bench_of
from splitterfem.version import __version__

IDLE = 60
"""Seconds after which a process without work ends; so long one outlives a study that was killed."""

DEATHS = 3
"""Times in a row that worker processes may end without a finished layout before a study gives up."""


class Crew(Protocol):
    """Solves layouts; gives each one back when it is finished, in any order."""

    def each(self, tasks: Sequence[Task]) -> Iterator[Done]:
        """Solve layouts."""


@dataclass(frozen=True)
class Parcel:
    """A plan as other processes get it.

    Attributes
    ----------
    version : str
        Of the library that packed it; results of two versions are not mixed.
    fingerprint : str
    content : bytes
        The pickled plan and the files that its design names.
    """

    version: str
    fingerprint: str
    content: bytes

    @staticmethod
    def of(plan: Plan) -> Parcel:
        """Pack a plan.

        Raises
        ------
        DesignError
            If it holds a Python function.
        """
        mark = plan.fingerprint
        return Parcel(__version__, mark, pickle.dumps((plan, named_files(plan.base))))


class Alone:
    """Solves in this process."""

    def __init__(self, plan: Plan) -> None:
        self._bench = Bench(plan)

    def each(self, tasks: Sequence[Task]) -> Iterator[Done]:
        """Solve layouts one after the other."""
        for task in tasks:
            yield self._bench.done(task)


class Processes:
    """Solves in processes on this machine, each with one thread for linear algebra.

    Quick layouts travel several at a time.
    """

    def __init__(self, plan: Plan, workers: int) -> None:
        self._parcel, self._workers = Parcel.of(plan), workers
        joblib_for("A study")

    def each(self, tasks: Sequence[Task]) -> Iterator[Done]:
        """Solve layouts; when a process is ended from outside, its layouts are given to others."""
        left = {task.number: task for task in tasks}
        deaths = 0
        while left:
            try:
                for done in self._stream(list(left.values())):
                    del left[done.number]
                    deaths = 0
                    yield done
            except BrokenProcessPool:
                deaths += 1
                if deaths == DEATHS:
                    raise SolveError(
                        f"Worker processes were ended from outside {DEATHS} times while layouts "
                        f"{_numbers(left)} were to be solved, for want of memory perhaps: ask for fewer workers or a "
                        "coarser mesh; what is finished stays in the study's file."
                    ) from None

    def _stream(self, tasks: Sequence[Task]) -> Iterator[Done]:
        joblib = joblib_for("A study")
        with joblib.parallel_config(backend="loky", inner_max_num_threads=1, idle_worker_timeout=IDLE):
            stream = joblib.Parallel(n_jobs=self._workers, return_as="generator_unordered")(
                joblib.delayed(solved_there)(self._parcel, task) for task in tasks
            )
            try:
                yield from stream
            finally:
                stream.close()


def solved_there(parcel: Parcel, task: Task) -> Done:
    """Solve a layout in another process on the same machine."""
    # from the process that began the study, never from a file
    return bench_of(parcel.fingerprint, lambda: pickle.loads(parcel.content)[0]).done(task)  # noqa: S301


def _numbers(numbers: Any) -> str:
    first = sorted(numbers)[:5]
    return ", ".join(map(str, first)) + (" and others" if len(numbers) > 5 else "")


def joblib_for(what: str) -> Any:
    """Import joblib.

    Raises
    ------
    MissingExtraError
        If it is not installed.
    """
    try:
        import joblib
    except ImportError:
        raise MissingExtraError(
            f"{what} in several processes needs joblib: install it with  pip install 'splitterfem[parallel]'  or ask "
            "for workers = 1."
        ) from None
    return joblib


def count_of(workers: Any) -> int:
    """Read a number of worker processes: 1 when left out.

    Raises
    ------
    DesignError
        If it is none.
    """
    if workers is None:
        return 1
    if workers == "all":
        affinity: Callable[[int], set[int]] | None = getattr(os, "sched_getaffinity", None)
        return len(affinity(0)) if affinity is not None else os.cpu_count() or 1
    if isinstance(workers, bool) or not isinstance(workers, int) or not 1 <= workers <= 1024:
        raise DesignError(
            f'workers is {workers!r:.40}: give a whole number from 1 to 1024, or "all" for one on each core.'
        )
    return workers


@contextmanager
def crew_of(plan: Plan, *, workers: Any = None, cluster: Any = None) -> Iterator[Crew]:
    """Find who solves the layouts of a plan.

    Parameters
    ----------
    plan : Plan
    workers : int or "all", optional
        Processes on this machine; 1, when left out, is this process.
    cluster : distributed.Client, cluster or str, optional
        A client of a Dask cluster, a cluster, or the address of its scheduler.

    Raises
    ------
    DesignError
        If both are given, or something cannot be sent to another process.
    MissingExtraError
        If the package that it takes is not installed.
    SolveError
        If no cluster answers.
    """
    if cluster is not None:
        if workers is not None:
            raise DesignError(
                "A study has workers and a cluster: give one of the two; a cluster brings its own workers."
            )
        from splitterfem.layouts.cluster import Cluster, connected

        parcel = Parcel.of(plan)
        with connected(cluster) as client:
            yield Cluster(client, parcel)
        return
    count = count_of(workers)
    yield Alone(plan) if count == 1 else Processes(plan, count)
