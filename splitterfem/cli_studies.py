"""Commands that help to lay a splitter out: where it gives under a hand, and the best of thousands of layouts."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.cli_tools import (
    Parent,
    announced,
    is_watched,
    known_of,
    print_head,
    print_json,
    print_written,
    workers_of,
)

if TYPE_CHECKING:
    from splitterfem.analysis.pushmap import PushMap
    from splitterfem.design import Splitter
    from splitterfem.layouts.screening import Screening

RANDOM = 1000
"""Layouts that are drawn when nobody says how many."""


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    push = commands.add_parser(
        "push", parents=parents, help="lean on the panel everywhere, find where it gives"
    )
    push.add_argument("--case", metavar="NAME", help="load case that acts as well; own weight otherwise")
    push.add_argument("--force", metavar="FORCE", default="200 N", help="of the push, down; default: 200 N")
    push.add_argument(
        "--pad", metavar="LENGTH", default="60 mm", help="diameter of what pushes; default: 60 mm"
    )
    push.add_argument(
        "--out", metavar="DIR", type=Path, help="folder for the picture and a table of all points"
    )
    push.set_defaults(run=_push)
    _add_screen(commands, parents)


def _add_screen(commands: Any, parents: list[Parent]) -> None:
    screen = commands.add_parser(
        "screen", parents=parents, help="find the best of thousands of layouts of ribs and struts"
    )
    screen.add_argument("candidates", metavar="CANDIDATES", type=Path, help="file of candidates (TOML)")
    screen.add_argument("--case", metavar="NAME", help="load case; the first one otherwise")
    screen.add_argument(
        "--count",
        metavar="N",
        type=int,
        help="random layouts, where the file has none of its own; default: 1000",
    )
    screen.add_argument(
        "--sizes",
        metavar=("LEAST", "MOST"),
        nargs=2,
        type=int,
        default=[2, 5],
        help="candidates of a random layout; default: 2 5",
    )
    screen.add_argument("--seed", metavar="N", type=int, default=0, help="of the random layouts; default: 0")
    screen.add_argument(
        "--best", metavar="N", type=int, default=10, help="layouts to solve in full; default: 10"
    )
    screen.add_argument(
        "--fresh", metavar="N", type=int, default=0, help="and of these on meshes of their own; default: none"
    )
    screen.add_argument("--workers", metavar="N", help='processes, or "all" for one on each core; default: 1')
    screen.add_argument("--out", metavar="DIR", type=Path, help="folder for pictures and tables")
    screen.set_defaults(run=_screen)


def _push(arguments: argparse.Namespace) -> None:
    from splitterfem.design import Pad, load
    from splitterfem.units import quantity

    force = quantity(arguments.force, "force", name="--force")
    pad = Pad(diameter=quantity(arguments.pad, "length", name="--pad"))
    splitter = load(arguments.file, files_in=arguments.files_in)
    case = None if arguments.case is None else splitter.case(arguments.case)
    watched = is_watched(arguments)
    with announced("loading the solver", wanted=watched):
        from splitterfem import api, api_studies
    with announced("meshing and factorising", wanted=watched):
        model = api.build(splitter)
    with announced("leaning on every point", wanted=watched):
        pushes = api_studies.push_map(model, case, force=force, pad=pad)
    written: list[Path] = []
    if arguments.out is not None:
        with announced("writing files", wanted=watched):
            from splitterfem.output.push_files import write_push

            written = write_push(pushes, arguments.out, units=arguments.units)
    _tell(pushes, splitter, arguments, written)


def _tell(pushes: PushMap, splitter: Splitter, arguments: argparse.Namespace, written: list[Path]) -> None:
    """Print a table or JSON."""
    from splitterfem.output.push_words import push_data, push_lines
    from splitterfem.output.wording import words_for

    if arguments.json:
        known = known_of(splitter)
        print_json({**known, "push_map": push_data(pushes), "written": [str(path) for path in written]})
        return
    print_head(splitter)
    print("", *push_lines(pushes, words_for(arguments.units)), sep="\n")
    print_written(written)


def _screen(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load
    from splitterfem.errors import DesignError
    from splitterfem.layouts.candidatefile import read_candidates

    splitter, given = load(arguments.file, files_in=arguments.files_in), read_candidates(arguments.candidates)
    if not splitter.all_cases:
        raise DesignError(f"'{splitter.name}' has no load case; add one to the file as [[cases]].")
    if given.layouts and arguments.count is not None:
        raise DesignError(
            f"{arguments.candidates.name} names its layouts, and --count asks for random ones: leave one of them out."
        )
    case = splitter.all_cases[0] if arguments.case is None else splitter.case(arguments.case)
    watched = is_watched(arguments)
    with announced("loading the solver", wanted=watched):
        from splitterfem import study
    with announced("screening layouts", wanted=watched):
        found = study.screen(
            splitter,
            case,
            ribs=[*given.take, *given.ribs],
            struts=given.struts,
            instead=given.instead,
            layouts=given.layouts or None,
            count=None if given.layouts else (RANDOM if arguments.count is None else arguments.count),
            sizes=tuple(arguments.sizes),
            seed=arguments.seed,
            best=arguments.best,
            fresh=arguments.fresh,
            workers=workers_of(arguments.workers),
        )
    _tell_screening(found, splitter, arguments)


def _tell_screening(found: Screening, splitter: Splitter, arguments: argparse.Namespace) -> None:
    """Write files, and print a table or JSON."""
    from splitterfem.output.screen_files import screen_data, screen_lines, write_screening
    from splitterfem.output.wording import words_for

    written: list[Path] = []
    if arguments.out is not None:
        written = write_screening(found, arguments.out, units=arguments.units)
    if arguments.json:
        said = {**known_of(splitter), "screening": screen_data(found)}
        print_json({**said, "written": [str(path) for path in written]})
        return
    print_head(splitter)
    print("", *screen_lines(found, words_for(arguments.units)), sep="\n")
    print_written(written)
