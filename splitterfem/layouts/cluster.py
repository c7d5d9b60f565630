"""Layouts on a Dask cluster: each result counts once, whatever becomes of the workers."""

from __future__ import annotations

import atexit
import pickle
import shutil
import tempfile
import threading
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from splitterfem.design.pressure import inside_folder
from splitterfem.errors import DesignError, MissingExtraError, SolveError
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.solving import Done, Task, bench_of
from splitterfem.layouts.workers import Parcel
from splitterfem.version import __version__

PATIENCE = 30
"""Seconds to wait for a scheduler and for its first worker."""

LONG_ENOUGH = 0.5
"""Seconds that a parcel of layouts should take, so that sending it costs little beside."""

MOST_TOGETHER = 50

_one_at_a_time = threading.Lock()


@contextmanager
def connected(cluster: Any) -> Iterator[Any]:
    """Give a client of a cluster; one that is made here is closed again.

    Raises
    ------
    MissingExtraError
        If Dask is not installed.
    SolveError
        If nothing answers.
    DesignError
        If it is no cluster.
    """
    try:
        from distributed import Client
    except ImportError:
        raise MissingExtraError(
            "Studies on a cluster need Dask: install it with  pip install 'splitterfem[cluster]'  on every machine."
        ) from None
    if isinstance(cluster, Client):
        yield cluster
        return
    if not isinstance(cluster, str) and not hasattr(cluster, "scheduler_address"):
        raise DesignError(
            f"cluster is {cluster!r:.60}: give a Dask client, or the address of a scheduler such as "
            '"tcp://192.168.0.10:8786".'
        )
    try:
        client = Client(cluster, timeout=PATIENCE, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as problem:
        raise SolveError(
            f"No Dask scheduler answers at {cluster!s:.120} ({str(problem) or 'time ran out'!s:.120}): start one with  "
            "dask scheduler  and give its address."
        ) from None
    try:
        yield client
    finally:
        client.close()


class Cluster:
    """Solves on a Dask cluster, several quick layouts at a time.

    Workers that die are borne: their layouts are given to others.  A layout that ends one worker after the other is
    refused.

    Parameters
    ----------
    client : distributed.Client
    parcel : Parcel
    """

    def __init__(self, client: Any, parcel: Parcel) -> None:
        self._client, self._parcel = client, parcel
        self._pace: list[float] = []

    def each(self, tasks: Sequence[Task]) -> Iterator[Done]:
        """Solve layouts.

        Raises
        ------
        SolveError
            If the cluster is lost, has no worker, or its workers cannot run this library.
        """
        from distributed import as_completed

        threads = self._threads()
        mark = uuid.uuid4().hex
        client = self._client
        plan = client.submit(_same, self._parcel, key=f"splitterfem-plan-{mark}")
        todo, running, seen = list(reversed(tasks)), dict[str, tuple[Any, list[Task]]](), set[int]()
        stream = as_completed(loop=client.loop)

        def send(some: list[Task]) -> None:
            key = f"splitterfem-layouts-{mark}-{some[0].number}-{uuid.uuid4().hex[:8]}"
            future = client.submit(solved_far, plan, some, key=key, pure=False)
            running[key] = (future, some)
            stream.add(future)

        try:
            while todo or running:
                while todo and len(running) < 2 * threads + 2:
                    send([todo.pop() for _ in range(self._together(len(todo), threads))])
                future = next(stream)
                _, some = running.pop(future.key, (None, []))
                for done in self._outcome(future, some, send):
                    if done.number not in seen:
                        seen.add(done.number)
                        self._pace.append(done.seconds)
                        yield done
        finally:
            if running:
                client.cancel([future for future, _ in running.values()])

    def _threads(self) -> int:
        try:
            self._client.wait_for_workers(1, timeout=PATIENCE)
        except (TimeoutError, OSError, ValueError):
            raise SolveError(
                f"The Dask scheduler has no worker after {PATIENCE} s: start some with  dask worker --nthreads 1  "
                "ADDRESS."
            ) from None
        return max(int(sum(self._client.nthreads().values())), 1)

    def _together(self, left: int, threads: int) -> int:
        """Find how many layouts to send at once: one, until it is known that they are quick."""
        if not self._pace:
            return 1
        recent = self._pace[-100:]
        quick = int(LONG_ENOUGH / max(sum(recent) / len(recent), 1e-6))
        return max(1, min(quick, MOST_TOGETHER, left // (2 * threads), left))

    def _outcome(self, future: Any, some: list[Task], send: Any) -> list[Done]:
        """Take what came of some layouts; those that ended their worker are sent again one by one, then refused."""
        from distributed.scheduler import KilledWorker

        if future.status == "finished":
            return list(future.result())
        if future.status != "error":
            raise SolveError(
                "The connection to the Dask scheduler was lost; what is finished stays in the study's file, run the "
                "study again to go on."
            )
        problem = future.exception()
        if not isinstance(problem, KilledWorker):
            raise SolveError(
                f"The workers of the cluster cannot solve layouts ({type(problem).__name__}: {problem!s:.200}): "
                f"install splitterfem {__version__} on all of them."
            )
        if len(some) > 1:
            for task in some:
                send([task])
            return []
        reason = "each worker that solved it was ended, for want of memory perhaps: take a coarser mesh"
        return [Done(task.number, task.cells, {}, reason) for task in some]


def _same(parcel: Parcel) -> Parcel:
    """Put a plan on the cluster, where it can be made anew when the worker that has it is lost."""
    return parcel


def solved_far(parcel: Parcel, tasks: Sequence[Task]) -> list[Done]:
    """Solve layouts on a worker of a cluster.

    Raises
    ------
    SolveError
        If the worker has another version of the library.
    """
    if parcel.version != __version__:
        raise SolveError(f"this worker has splitterfem {__version__}, the study needs {parcel.version}")
    with _one_at_a_time:  # mesher and caches are for one thread
        bench = bench_of(parcel.fingerprint, lambda: _unpacked(parcel))
        return [bench.done(task) for task in tasks]


def _unpacked(parcel: Parcel) -> Plan:
    """Unpack a plan, with the files of its design in a folder of this machine."""
    plan: Plan
    plan, files = pickle.loads(parcel.content)  # noqa: S301  (from the process that began the study, never from a file)
    inside = {name: content for name, content in files.items() if inside_folder(name)}
    if not inside:
        return plan
    folder = Path(tempfile.mkdtemp(prefix="splitterfem-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name, content in inside.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return replace(plan, base=plan.base.in_folder(folder))
