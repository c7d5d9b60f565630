"""Commands about many layouts: sweeps and searches as study files describe them."""

from __future__ import annotations

import argparse
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.cli_tools import (
    Parent,
    announced,
    is_watched,
    print_head,
    print_json,
    print_written,
    workers_of,
)

if TYPE_CHECKING:
    import pandas as pd

    from splitterfem.study import Study

MOST_ROWS = 40
"""Layouts that are printed for people."""


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "json")]
    study = commands.add_parser("study", parents=parents, help="try many layouts: a sweep or a search")
    study.add_argument("study", metavar="STUDY", type=Path, help="study file (TOML)")
    study.add_argument(
        "--keep",
        metavar="FILE",
        type=Path,
        help="keep finished layouts in this file, and go on from it when it is there",
    )
    study.add_argument(
        "--workers", metavar="N", help='processes on this machine, or "all" for one on each core; default: 1'
    )
    study.add_argument(
        "--cluster", metavar="ADDRESS", help="scheduler of a Dask cluster, in place of --workers"
    )
    study.add_argument("--csv", metavar="FILE", type=Path, help="write the table as comma-separated values")
    study.add_argument("--picture", metavar="FILE", type=Path, help="write a picture (PNG, SVG or PDF)")
    study.add_argument("--units", choices=("metric", "us"), help="of the picture; as in the table otherwise")
    study.set_defaults(run=_study)


def _study(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load
    from splitterfem.layouts.studyfile import read_study_file
    from splitterfem.output.files import ready

    splitter = load(arguments.file, files_in=arguments.files_in)
    watched = is_watched(arguments)
    for target in (arguments.csv, arguments.picture):
        if target is not None:
            ready(target)
    with announced("loading the solver", wanted=watched):
        from splitterfem import study
    asked = read_study_file(arguments.study, splitter)
    run = study.sweep if asked.kind == "sweep" else study.search
    found = run(
        splitter,
        asked.parameters,
        asked.cases,
        **asked.options,
        file=arguments.keep,
        workers=workers_of(arguments.workers),
        cluster=arguments.cluster,
        progress=watched,
    )
    written = _write(found, arguments)
    if arguments.json:
        from splitterfem.output.origin import origin_data

        print_json(
            {**origin_data(found.plan.base), **_data(found), "written": [str(path) for path in written]}
        )
    else:
        _tell(found, written)
    if not found.finished:
        raise KeyboardInterrupt


def _write(found: Study, arguments: argparse.Namespace) -> list[Path]:
    written: list[Path] = []
    if arguments.csv is not None:
        written.append(found.to_csv(arguments.csv))
    if arguments.picture is not None and found.layouts:
        from splitterfem.output.plots import save_picture

        written.append(save_picture(found.plot(units=arguments.units), arguments.picture))
    return written


def _data(found: Study) -> dict[str, object]:
    """Everything as plain data."""
    data: dict[str, object] = {
        "splitter": found.plan.base.name,
        "invented": found.plan.base.invented,
        "kind": found.plan.kind,
        "finished": found.finished,
        "total": found.total,
        "layouts": _records(found.table),
    }
    for name in ("best", "front"):
        table = getattr(found, name, None)
        if table is not None:
            data[name] = [int(number) for number in table.index]
    if (notes := getattr(found, "notes", None)) is not None:
        data["notes"] = list(notes)
    return data


def _records(table: pd.DataFrame) -> list[dict[str, object]]:
    rows = []
    for number, row in zip(table.index, table.to_dict("records"), strict=True):
        values = {
            str(key): None if isinstance(value, float) and not math.isfinite(value) else value
            for key, value in row.items()
        }
        rows.append({"layout": int(number), **values})
    return rows


def _tell(found: Study, written: list[Path]) -> None:
    """Print the table, that of the best layouts for a search."""
    base = found.plan.base
    print_head(base)
    print(repr(found))
    table = getattr(found, "best", found.table)
    cases = tuple(f"{case}: " for case in found.plan.cases)
    shown = table[[name for name in table.columns if not name.startswith(cases)]]
    for number, reason in found.table["refused"].items():
        if reason and len(table) <= MOST_ROWS:
            print(f"layout {number} refused: {reason}")
    print(
        "", shown.drop(columns="refused").head(MOST_ROWS).T.to_string(float_format="{:.4g}".format), sep="\n"
    )
    if len(shown) > MOST_ROWS:
        print(f"\n{len(shown) - MOST_ROWS} more layouts: give --csv FILE for all of them.")
    for note in getattr(found, "notes", ()):
        print(f"\n{note}")
    if not found.finished:
        how = (
            "give the same command again to go on"
            if found.file
            else "with --keep FILE it could go on from here"
        )
        print(f"\nUnfinished: {len(found.layouts)} of {found.total} layouts; {how}.")
    print_written(written)
