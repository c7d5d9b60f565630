"""The command that sets designs side by side."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from splitterfem.cli_tools import Parent, announced, is_watched, print_json, print_written
from splitterfem.version import __version__


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the command to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("progress", "units", "json")]
    compare = commands.add_parser(
        "compare", parents=parents, help="set designs side by side: before and after"
    )
    compare.add_argument(
        "files",
        metavar="FILE",
        type=Path,
        nargs="+",
        help="design files (TOML), at least two; changes are from the first",
    )
    compare.add_argument(
        "--case", metavar="NAME", help="load case that all have; the first such one otherwise"
    )
    compare.add_argument(
        "--name",
        metavar="NAME",
        action="append",
        help="of a design, once for each file; as in the files otherwise",
    )
    compare.add_argument("--out", metavar="DIR", type=Path, help="folder for the picture and the table")
    compare.set_defaults(run=_compare)


def _compare(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    watched = is_watched(arguments)
    designs = [load(file) for file in arguments.files]
    with announced("loading the solver", wanted=watched):
        from splitterfem.api_compare import common_case, compare
    case = arguments.case or common_case(designs)
    with announced("solving all designs", wanted=watched):
        found = compare(designs, case, names=arguments.name)
        table = found.table
    written: list[Path] = []
    if arguments.out is not None:
        with announced("writing files", wanted=watched):
            from splitterfem.output.compare_files import write_comparison

            written = write_comparison(found, arguments.out, units=arguments.units)
    if arguments.json:
        from splitterfem.output.origin import input_of, versions

        assert len(table)
        invented = any(design.invented for design in designs)
        paths = [str(path) for path in written]
        inputs = {name: input_of(design) for name, design in zip(found.names, designs, strict=True)}
        made = {"version": __version__, "inputs": inputs, "versions": dict(versions())}
        print_json({**made, "invented": invented, **found.summary(), "written": paths})
        return
    from splitterfem.output.wording import invented_mark

    for name, design, file in zip(found.names, designs, arguments.files, strict=True):
        print(f"{name}: {file}{invented_mark(design)}")
    print("", found.text(arguments.units), sep="\n")
    print_written(written)
