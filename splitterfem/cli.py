"""The command line: solve, check and report a design file, or the demonstration that comes with the library.

Exit codes: 0 done; 1 something is wrong with the design, a file or the installation; 2 wrong command line;
3 the panel is not held or the solver failed; 130 interrupted; 141 nobody reads the output any more.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from typing import Any

from splitterfem.cli_behaviour import add_commands as add_behaviour
from splitterfem.cli_compare import add_commands as add_compare
from splitterfem.cli_flextest import add_commands as add_reality
from splitterfem.cli_gain import add_commands as add_gain
from splitterfem.cli_layouts import add_commands as add_layouts
from splitterfem.cli_solve import add_commands as add_solve
from splitterfem.cli_studies import add_commands as add_studies
from splitterfem.cli_template import add_commands as add_template
from splitterfem.cli_tools import shared_arguments
from splitterfem.cli_words import USAGE, Parser
from splitterfem.errors import MechanismError, SolveError, SplitterError
from splitterfem.version import __version__

DONE, FAULT, UNSOLVED, INTERRUPTED, UNREAD = 0, 1, 3, 130, 141
"""Exit codes; a wrong command line has `USAGE`."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; those of the process when left out.
    """
    try:
        arguments = _parser().parse_args(argv)
    except SystemExit as leave:
        return leave.code if isinstance(leave.code, int) else USAGE
    try:
        _say_anything()
        arguments.run(arguments)
        sys.stdout.flush()
    except (MechanismError, SolveError) as problem:
        return _complain(problem, UNSOLVED)
    except BrokenPipeError:
        # Python flushes stdout once more on leaving; that must not fail again.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return UNREAD
    except (SplitterError, OSError) as problem:
        return _complain(problem, FAULT)
    except KeyboardInterrupt:
        print("splitterfem: interrupted", file=sys.stderr)
        return INTERRUPTED
    return DONE


def _say_anything() -> None:
    """Let names with characters that a terminal cannot show come out escaped and not as an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _complain(problem: Exception, code: int) -> int:
    text = str(problem)
    if isinstance(problem, OSError):
        text = f"{problem.filename or 'a file'}: {(problem.strerror or text).lower()}"
    for line in text.splitlines():
        print(f"splitterfem: {line}", file=sys.stderr)
    return code


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="splitterfem",
        description="Sag, clearance, forces and strength of a race car's front splitter.",
        epilog="Exit codes: 0 done, 1 fault in design or file, 2 wrong command line, 3 not held or not "
        "solved, 130 interrupted. An estimate and not a certificate.",
    )
    parser.add_argument("--version", action="version", version=f"splitterfem {__version__}")
    commands: Any = parser.add_subparsers(metavar="COMMAND", required=True)
    shared = shared_arguments()
    add_solve(commands, shared)
    add_template(commands, shared)
    add_behaviour(commands, shared)
    add_studies(commands, shared)
    add_layouts(commands, shared)
    add_reality(commands, shared)
    add_gain(commands, shared)
    add_compare(commands, shared)
    for command in commands.choices.values():
        command.set_defaults(parser=command)
    return parser
