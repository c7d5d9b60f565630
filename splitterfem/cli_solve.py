"""The commands that solve a design, check it and report it, and the one that solves the demonstration."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.cli_tools import Parent, announced, is_watched, print_json, print_written, solved
from splitterfem.errors import FileError

if TYPE_CHECKING:
    from splitterfem.analysis.behaviour import Behaviour
    from splitterfem.api import Solution
    from splitterfem.output.judged import Losses


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    for add in (_add_demo, _add_solve, _add_check, _add_report):
        add(commands, shared)


def _add_demo(commands: Any, shared: Mapping[str, Parent]) -> None:
    parents = [shared[name] for name in ("progress", "units")]
    demo = commands.add_parser("demo", parents=parents, help="solve the demonstration")
    demo.add_argument(
        "--out", metavar="DIR", type=Path, help="folder for pictures, report, mesh and contours"
    )
    demo.set_defaults(run=_demo)


def _add_solve(commands: Any, shared: Mapping[str, Parent]) -> None:
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    solve = commands.add_parser("solve", parents=parents, help="solve load cases")
    solve.add_argument("--case", metavar="NAME", action="append", help="load case by name; may be repeated")
    solve.add_argument("--out", metavar="DIR", type=Path, help="folder for pictures, meshes and tables")
    solve.add_argument(
        "--also",
        metavar="KIND",
        action="append",
        default=[],
        choices=("xdmf", "dxf", "sag", "design"),
        help="written into that folder besides: xdmf, dxf (contour lines), sag (table), design; may be repeated",
    )
    solve.add_argument(
        "--losses", action="store_true", help="lose one part after the other in the case that uses most"
    )
    solve.add_argument(
        "--large-deflection",
        action="store_true",
        help="let slopes stretch panel and ribs, in all cases solved",
    )
    solve.add_argument(
        "--sag-feedback",
        action="store_true",
        help="let the pressure follow the gap as the panel sags, in all cases solved that can",
    )
    solve.set_defaults(run=_solve)


def _add_check(commands: Any, shared: Mapping[str, Parent]) -> None:
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    check = commands.add_parser("check", parents=parents, help="read and mesh, solve nothing")
    check.set_defaults(run=_check)


def _add_report(commands: Any, shared: Mapping[str, Parent]) -> None:
    parents = [shared[name] for name in ("file", "progress", "units")]
    report = commands.add_parser("report", parents=parents, help="solve and write PDF or HTML")
    report.add_argument(
        "--out",
        metavar="REPORT",
        type=Path,
        default=Path("report.pdf"),
        help="ends in .pdf or .html; default: report.pdf",
    )
    report.add_argument("--paper", choices=("a4", "letter"), help="default: a4, letter with US units")
    report.add_argument("--title", default="", help="in place of the name of the splitter")
    report.add_argument("--for", dest="prepared_for", metavar="NAME", default="", help="the customer")
    report.add_argument("--by", dest="prepared_by", metavar="NAME", default="", help="the shop")
    report.add_argument("--job", metavar="TEXT", default="", help="number or name of the job")
    report.add_argument(
        "--no-losses", dest="losses", action="store_false", help="leave out what the loss of one part does"
    )
    report.set_defaults(run=_report)


def _demo(arguments: argparse.Namespace) -> None:
    from splitterfem import api
    from splitterfem.output.summary import summary_text

    watched = is_watched(arguments)
    if arguments.out is not None:
        _require_report(Path("report.pdf"), {})
    solutions = solved(api.demo(), None, watched=watched)
    asked = _asked(solutions, None, watched=watched)
    _judge_mesh(solutions, watched=watched)
    print(summary_text(solutions, units=arguments.units, behaviour=asked))
    if arguments.out is None:
        print("\nGive --out FOLDER for pictures, report, mesh and contour lines.")
        return
    written = _write_files(solutions, arguments.out, arguments.units, watched, tables=False, behaviour=asked)
    lost = _lost(solutions, wanted=True, watched=watched)
    written.append(
        _write_report(
            solutions, arguments.out / "report.pdf", {"units": arguments.units}, watched, lost, asked
        )
    )
    print_written(written)


def _solve(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load
    from splitterfem.output.followed import cannot_follow
    from splitterfem.output.origin import origin_data
    from splitterfem.output.summary import solved_data, summary_text

    watched = is_watched(arguments)
    _refuse_nowhere(arguments)
    solutions = solved(
        load(arguments.file, files_in=arguments.files_in),
        arguments.case,
        watched=watched,
        large_deflection=arguments.large_deflection,
        sag_feedback=arguments.sag_feedback,
    )
    without = [s.case.name for s in solutions if arguments.sag_feedback and s.follower is None]
    lost = _lost(solutions, wanted=arguments.losses, watched=watched)
    asked = _asked(solutions, arguments.case, watched=watched)
    _judge_mesh(solutions, watched=watched)
    written: list[Path] = []
    if arguments.out is not None:
        written = _write_files(
            solutions, arguments.out, arguments.units, watched,
            tables=True, losses=lost, behaviour=asked, also=arguments.also,
        )  # fmt: skip
    if arguments.json:
        found = solved_data(solutions, losses=lost, behaviour=asked)
        more = {"cannot_follow_the_sag": without, "written": [str(path) for path in written]}
        print_json({**origin_data(solutions), **found, **more})
        return
    print(summary_text(solutions, units=arguments.units, losses=lost, behaviour=asked))
    if without:
        print("\n" + cannot_follow(without))
    print_written(written)


def _refuse_nowhere(arguments: argparse.Namespace) -> None:
    """Refuse before a long run files without a folder, and a drawing that cannot be written."""
    if arguments.also and arguments.out is None:
        raise FileError("--also says what is written into the folder of --out; give --out FOLDER.")
    if "dxf" in arguments.also:
        from splitterfem.output.template.dxf import writer

        writer()


def _check(arguments: argparse.Namespace) -> None:
    from splitterfem.design import check, load
    from splitterfem.output.checked import check_data, check_text
    from splitterfem.output.origin import origin_data
    from splitterfem.strength.listed import unlisted

    watched = is_watched(arguments)
    splitter = load(arguments.file, files_in=arguments.files_in)
    findings = (*check(splitter), *unlisted(splitter))
    with announced("meshing", wanted=watched):
        from splitterfem.model import mesh_design

        mesh = mesh_design(splitter)
    with announced("reading pressure maps and measuring limits", wanted=watched):
        if arguments.json:
            content = {**origin_data(splitter), **check_data(splitter, findings, mesh)}
        else:
            text = check_text(splitter, findings, mesh, units=arguments.units)
    if arguments.json:
        print_json(content)
    else:
        print(text)


def _report(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    names = ("units", "paper", "title", "prepared_for", "prepared_by", "job")
    front = {name: getattr(arguments, name) for name in names}
    _require_report(arguments.out, front)
    watched = is_watched(arguments)
    solutions = solved(load(arguments.file, files_in=arguments.files_in), None, watched=watched)
    lost = _lost(solutions, wanted=arguments.losses, watched=watched)
    asked = _asked(solutions, None, watched=watched)
    _judge_mesh(solutions, watched=watched)
    path = _write_report(solutions, arguments.out, front, watched, lost, asked)
    print("written:", path)


def _lost(solutions: Sequence[Solution], *, wanted: bool, watched: bool) -> Losses | None:
    """Lose one part after the other in the load case that uses the splitter most."""
    if not wanted:
        return None
    from splitterfem.output.judged import judged

    with announced("losing one part after the other", wanted=watched):
        return judged(solutions).lose_one()


def _asked(solutions: Sequence[Solution], names: Sequence[str] | None, *, watched: bool) -> Behaviour | None:
    """Answer what the design asks besides its load cases; only what is about those named, if any are."""
    from splitterfem.analysis.behaviour import asks, behaviour
    from splitterfem.output.judged import worst_ratio

    model = solutions[0].model
    if not asks(model.design):
        return None
    with announced("finding what the design asks besides its load cases", wanted=watched):
        return behaviour(model, names, judge=worst_ratio, solved=solutions)


def _judge_mesh(solutions: Sequence[Solution], *, watched: bool) -> None:
    """Let the solutions that are asked for it later find the error of the mesh, which they keep."""
    from splitterfem.output.mesh_words import mesh_data

    with announced("judging the mesh by another one", wanted=watched):
        mesh_data(solutions)


def _require_report(path: Path, front: dict[str, Any]) -> None:
    """Find out before a long run that a report cannot be written."""
    from splitterfem.output.report import front_of

    front_of(path, **front)


def _write_report(
    solutions: Sequence[Solution],
    path: Path,
    front: dict[str, Any],
    watched: bool,
    losses: Losses | None,
    asked: Behaviour | None,
) -> Path:
    from splitterfem.output.report import write_report

    with announced("setting the report", wanted=watched):
        return write_report(solutions, path, losses=losses or False, behaviour=asked or False, **front)


def _write_files(
    solutions: Sequence[Solution],
    out: Path,
    units: Any,
    watched: bool,
    *,
    tables: bool,
    losses: Losses | None = None,
    behaviour: Behaviour | None = None,
    also: Sequence[str] = (),
) -> list[Path]:
    from splitterfem.output.bundle import write_bundle

    with announced("writing files", wanted=watched):
        return write_bundle(
            solutions, out, units=units, tables=tables, losses=losses, behaviour=behaviour, also=also
        )
