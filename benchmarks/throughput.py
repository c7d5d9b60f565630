"""Layouts a second, solved in full and screened, against processes, Dask workers and the number of layouts.

Where other processes do the work, times are by the clock alone: they want an idle machine.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from typing import Any

import splitterfem as sf
from benchmarks.clock import Spent, timed
from benchmarks.screening import CASE, random_ribs, struts_of
from benchmarks.section import Options, Row, Table
from splitterfem.layouts.candidates import candidates_of
from splitterfem.layouts.library import CandidateLibrary, candidate_library
from splitterfem.layouts.subsets import random_layouts
from splitterfem.model import build
from splitterfem.threads import one_blas_thread

FULL, FULL_LONG = (10, 100), (1000,)
SCREENED = (10, 100, 1000, 10_000)
TOGETHER = 40
"""Layouts that are shared out among processes."""

SOURCE, HERE = "measured in this run", "this process"


def coarse() -> sf.Splitter:
    """Return the demonstration on a coarse mesh, so that what is not arithmetic shows."""
    return sf.demo().with_(mesh=sf.MeshSettings(size="150 mm", pad_size="100 mm", chord="1.5 mm"))


def moves(count: int) -> dict[Any, Any]:
    """Make the changes of a sweep of so many layouts: the cross tube moved, on the mesh that there is."""
    return {("cross tube", "dx"): ("-40 mm", "40 mm", count)}


def swept(count: int, **options: Any) -> Spent:
    """Time of a sweep; refused layouts are no throughput."""
    spent, study = timed(
        lambda: sf.study.sweep(coarse(), moves(count), CASE, fresh_mesh=False, progress=False, **options)
    )
    if (study.table["refused"] != "").any():
        raise RuntimeError("layouts of the sweep were refused; the benchmark measures nothing")
    return spent


def full_rows(options: Options) -> list[Row]:
    """Cost of one layout in sweeps of different length, in this process."""
    counts = FULL[:1] if options.quick else FULL + (FULL_LONG if options.long else ())
    swept(2)
    return [_row("solved in full, cross tube moved", n, HERE, swept(n)) for n in counts]


def process_rows(options: Options) -> list[Row]:
    """Sweeps in one and two processes, and with one and two Dask workers of one thread; all warm."""
    rows, count = list[Row](), 10 if options.quick else TOGETHER
    crews: list[tuple[str, Callable[[], Any]]] = []
    if find_spec("joblib") is not None:
        crews += [("2 processes", lambda: _nothing({"workers": 2}))]
    if find_spec("distributed") is not None:
        crews += [(f"{n} Dask worker{'s' * (n > 1)}", partial(_dask, n)) for n in (1, 2)]
    rows.append(_row("solved in full, cross tube moved", count, "1 process", swept(count)))
    for name, crew in crews:
        with crew() as where:
            swept(4, **where)
            rows.append(_row("solved in full, cross tube moved", count, name, swept(count, **where)))
    return rows


@contextmanager
def _nothing(where: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield where


@contextmanager
def _dask(count: int) -> Iterator[dict[str, Any]]:
    """Cluster of processes of one thread on this machine."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=count, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster, set_as_default=False) as client,
    ):
        yield {"cluster": client}


@one_blas_thread()
def screening_rows(options: Options) -> list[Row]:
    """Cost of one screened layout among few and many, and in two processes."""
    splitter = sf.demo().with_("ribs", ())
    struts, instead = struts_of(splitter)
    given = candidates_of(splitter, random_ribs(splitter, 12 if options.quick else 40), struts, instead)
    library = candidate_library(build(given.bare), splitter.case(CASE).with_(ground=False), given)
    counts = SCREENED[:3] if options.quick else SCREENED
    many = random_layouts(given, min(counts[-1], 4000), seed=5)
    many = (many * -(-counts[-1] // len(many)))[: counts[-1]]
    library.screened(many[:50])
    rows = [_row("screened", n, HERE, _screened(library, many[:n])) for n in counts]
    if find_spec("joblib") is not None and not options.quick:
        library.screened(many[:100], workers=2)
        rows.append(_row("screened", counts[-1], "2 processes", _screened(library, many, workers=2)))
    return rows


def _screened(library: CandidateLibrary, layouts: list[tuple[str, ...]], **options: Any) -> Spent:
    return timed(lambda: library.screened(layouts, **options))[0]


def _row(what: str, count: int, where: str, spent: Spent) -> Row:
    here = where in (HERE, "1 process")
    return {
        "what": what,
        "where": where,
        "layouts": count,
        "layouts per s": count / spent.wall,
        "ms per layout": 1e3 * spent.wall / count,
        "CPU ms per layout": 1e3 * spent.cpu / count if here else None,
        "unit": "ms, by the clock and of the process",
        "source": SOURCE,
    }


def with_growth(rows: list[Row]) -> list[Row]:
    """Add the CPU time of a layout over that in the shortest study of its kind."""
    own = "CPU ms per layout"
    first = float(str(rows[0][own]))
    return [
        {**row, "CPU over the shortest study": None if row[own] is None else float(str(row[own])) / first}
        for row in rows
    ]


def measure(options: Options) -> list[Table]:
    """Three tables."""
    note = (
        f"The demonstration on a mesh of {build(coarse()).unknowns} unknowns; each layout is built, solved with "
        "contact and measured; the first one of a study builds the model."
    )
    return [
        Table("Layouts solved in full: cost against their number", with_growth(full_rows(options)), (note,)),
        Table(
            "Layouts solved in full: processes and Dask workers",
            process_rows(options),
            (
                f"{os.cpu_count()} cores. Processes are started and warm; the model of the base is built by each anew.",
            ),
        ),
        Table(
            "Layouts screened: cost against their number",
            with_growth(screening_rows(options)),
            ("The demonstration's own mesh; random layouts of 2 to 5 candidate ribs and struts.",),
        ),
    ]
