"""What the commands of the command line share: steps that are announced, JSON, arguments."""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from splitterfem.api import Solution
    from splitterfem.design import Splitter

PATIENCE = 1.0
"""Seconds after which a step is announced."""


@contextlib.contextmanager
def announced(what: str, *, wanted: bool, patience: float = PATIENCE) -> Iterator[None]:
    """Say on stderr what is being done if it takes long, and how long it took.

    Parameters
    ----------
    what : str
        The step.
    wanted : bool
        Whether somebody wants to know; nothing is said otherwise.
    patience : float
        Seconds before anything is said.
    """
    timer = threading.Timer(patience, print, (f"{what} ...",), {"file": sys.stderr, "flush": True})
    timer.daemon = True
    start = time.perf_counter()
    if wanted:
        timer.start()
    try:
        yield
    finally:
        timer.cancel()
        took = time.perf_counter() - start
        if wanted and took > patience:
            print(f"{what}: {took:.1f} s", file=sys.stderr, flush=True)


def is_watched(arguments: argparse.Namespace) -> bool:
    """Tell whether somebody wants to know what takes long."""
    return bool(arguments.progress or sys.stderr.isatty())


def print_json(content: dict[str, object]) -> None:
    """Print one JSON object."""
    print(json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False))


def known_of(splitter: Splitter) -> dict[str, object]:
    """Return what JSON objects begin with: version, fingerprint of the input, name, and whether it is invented."""
    from splitterfem.output.origin import origin_data

    return {**origin_data(splitter), "splitter": splitter.name, "invented": splitter.invented}


def print_head(splitter: Splitter) -> None:
    """Print the name of a splitter, and whether it is invented."""
    from splitterfem.output.wording import invented_mark

    print(splitter.name + invented_mark(splitter))


def print_written(written: list[Path]) -> None:
    """Say which files were written; nothing when there are none."""
    if written:
        print("\nwritten:", *written, sep="\n  ")


def workers_of(given: str | None) -> Any:
    """Read a number of workers; what is no number is judged by the study."""
    return int(given) if given is not None and given.isdecimal() else given


Parent = argparse.ArgumentParser


def shared_arguments() -> dict[str, Parent]:
    """Make the arguments that several commands have, as parents of their parsers.

    Returns
    -------
    dict
        ``progress``, ``units``, ``file`` and ``json``.
    """
    parents = {name: Parent(add_help=False) for name in ("progress", "units", "file", "json")}
    parents["progress"].add_argument(
        "--progress", action="store_true", help="say what takes long, also when nobody watches"
    )
    parents["units"].add_argument(
        "--units", choices=("metric", "us"), default="metric", help="units for people"
    )
    parents["file"].add_argument("file", metavar="FILE", type=Path, help="design file (TOML)")
    parents["file"].add_argument(
        "--files-in",
        metavar="FOLDER",
        type=Path,
        help="where the files are that the design names, in place of its own folder",
    )
    parents["json"].add_argument("--json", action="store_true", help="print one JSON object instead of text")
    return parents


def solved(
    splitter: Splitter,
    names: Sequence[str] | None,
    *,
    watched: bool,
    large_deflection: bool = False,
    sag_feedback: bool = False,
) -> list[Solution]:
    """Solve load cases of a design.

    Parameters
    ----------
    splitter : Splitter
    names : sequence of str or None
        Of the load cases; all when left out.
    watched : bool
        Whether somebody wants to know what takes long.
    large_deflection : bool
        Whether slopes stretch panel and ribs, also where the load cases do not say so.
    sag_feedback : bool
        Whether the pressure follows the sag wherever it can, also where the load cases do not say so.

    Raises
    ------
    DesignError
        If there is no load case.
    """
    from splitterfem.errors import DesignError

    cases = [splitter.case(name) for name in names] if names else list(splitter.all_cases)
    if not cases:
        raise DesignError(f"'{splitter.name}' has no load case; add one to the file as [[cases]].")
    with announced("loading the solver", wanted=watched):
        from splitterfem import api
        from splitterfem.analysis.following import can_follow
    with announced("meshing and factorising", wanted=watched):
        model = api.build(splitter)
    found = []
    for case in cases:
        with announced(f"solving '{case.name}'", wanted=watched):
            follows = True if sag_feedback and can_follow(model, case) else None
            large = True if large_deflection else None
            found.append(api.solve(model, case, large_deflection=large, sag_feedback=follows))
    return found
