"""Commands that help to lay a splitter out: where it gives under a hand."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.cli_tools import Parent, announced, is_watched, print_json, print_written
from splitterfem.version import __version__

if TYPE_CHECKING:
    from splitterfem.analysis.pushmap import PushMap
    from splitterfem.design import Splitter


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to those of the command line.

    Parameters
    ----------
    commands : subparsers of argparse
    shared : mapping of str to ArgumentParser
        As :func:`splitterfem.cli_tools.shared_arguments` makes them.
    """
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


def _push(arguments: argparse.Namespace) -> None:
    from splitterfem.design import Pad, load
    from splitterfem.units import quantity

    force = quantity(arguments.force, "force", name="--force")
    pad = Pad(diameter=quantity(arguments.pad, "length", name="--pad"))
    splitter = load(arguments.file)
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
        known = {"version": __version__, "splitter": splitter.name, "invented": splitter.invented}
        print_json({**known, "push_map": push_data(pushes), "written": [str(path) for path in written]})
        return
    print(splitter.name + (" (invented data)" if splitter.invented else ""))
    print("", *push_lines(pushes, words_for(arguments.units)), sep="\n")
    print_written(written)
