"""Studies on a Dask cluster of processes that this test starts, one of which is killed."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from study_runs import CHANGES, LAYOUTS, journal_lines
from tiny_panel import CASES, same, tiny_panel

import splitterfem as sf

distributed = pytest.importorskip("distributed")


def started(folder: Path, *words: str) -> subprocess.Popen:
    root, tests = str(Path(__file__).parents[1]), str(Path(__file__).parent)
    said = (folder / f"said_{words[0]}_{time.monotonic_ns()}").open("w")
    with said:
        return subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_" + words[0], *words[1:]],
            env=os.environ | {"PYTHONPATH": os.pathsep.join([root, tests])},
            cwd=folder,
            stdout=said,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )


def ended(process: subprocess.Popen) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(30)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """Address of a scheduler of its own with two workers, processes of one thread each without a nanny."""
    folder = tmp_path_factory.mktemp("cluster")
    known = folder / "scheduler.json"
    processes = [
        started(folder, "scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(known))
    ]
    try:
        give_up = time.monotonic() + 60.0
        while not known.exists():
            assert time.monotonic() < give_up
            time.sleep(0.05)
        workers = {
            "--nthreads": "1",
            "--no-nanny": None,
            "--no-dashboard": None,
            "--scheduler-file": str(known),
        }
        words = [word for pair in workers.items() for word in pair if word is not None]
        processes += [started(folder, "worker", "--name", name, *words) for name in ("a", "b")]
        with distributed.Client(scheduler_file=str(known), set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
            yield client
    finally:
        for process in processes:
            ended(process)


@pytest.fixture(scope="module")
def whole():
    """The study in one process."""
    return sf.study.sweep(tiny_panel(), CHANGES, CASES)


def worker_pids(client) -> dict[str, int]:
    return {address: client.run(os.getpid, workers=[address])[address] for address in client.nthreads()}


def test_a_worker_that_is_killed_loses_nothing_and_counts_nothing_twice(cluster, whole, tmp_path):
    client = cluster
    pids = worker_pids(client)
    killed: list[int] = []

    def kill_one(done, total, left):
        if done == 2 and not killed:
            killed.append(next(iter(pids.values())))
            os.kill(killed[0], signal.SIGKILL)

    file = tmp_path / "study.jsonl"
    study = sf.study.sweep(tiny_panel(), CHANGES, CASES, file=file, cluster=client, progress=kill_one)
    assert killed
    assert study.finished
    same(study.table, whole.table)
    numbers = [line["layout"] for line in journal_lines(tmp_path)]
    assert sorted(numbers) == list(range(1, LAYOUTS + 1))
    assert len(client.nthreads()) == 1  # it really was gone
    again = sf.study.sweep(tiny_panel(), CHANGES, CASES, file=file)  # and goes on without a cluster
    same(again.table, whole.table)


def test_an_address_will_do_and_files_of_the_design_travel(cluster, tmp_path):
    """The workers' folder has no pressure map; the design's has."""
    client = cluster
    (tmp_path / "taps.csv").write_text("x_mm,y_mm,cp\n" + "\n".join(
        f"{x},{y},{0.5 + 0.001 * x}" for x in (0, 200, 400) for y in (-300, 0, 300)
    ))  # fmt: skip
    taps = {"kind": "taps", "file": "taps.csv", "quantity": "cp", "length_unit": "mm"}
    tiny = tiny_panel(cases=[{"name": "air", "speed": "150 km/h", "pressure": taps}]).in_folder(tmp_path)
    changes = {("tube", "dx"): ["0 mm", "20 mm"]}
    here = sf.study.sweep(tiny, changes, "air")
    there = sf.study.sweep(tiny, changes, "air", cluster=client.scheduler.address)
    assert list(here.table.refused) == ["", ""]
    same(there.table, here.table)


def test_control_c_ends_it_in_order(cluster):
    client = cluster

    def interrupt(done, total, left):
        if done == 2:
            raise KeyboardInterrupt

    study = sf.study.sweep(tiny_panel(), CHANGES, CASES, cluster=client, progress=interrupt)
    assert not study.finished
    assert len(study.table) == 2


def test_what_is_no_cluster_is_refused(monkeypatch):
    from splitterfem.layouts import cluster as clusters

    monkeypatch.setattr(clusters, "PATIENCE", 1)
    with pytest.raises(sf.SolveError, match=r"No Dask scheduler answers at tcp://127\.0\.0\.1:9"):
        sf.study.sweep(tiny_panel(), CHANGES, CASES, cluster="tcp://127.0.0.1:9")
    with pytest.raises(sf.DesignError, match="give a Dask client, or the address"):
        sf.study.sweep(tiny_panel(), CHANGES, CASES, cluster=3)
    with pytest.raises(sf.DesignError, match="give one of the two"):
        sf.study.sweep(tiny_panel(), CHANGES, CASES, cluster="tcp://127.0.0.1:9", workers=2)
