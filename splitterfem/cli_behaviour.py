"""Commands about what a splitter does besides its load cases: how it vibrates, when it buckles, what speed does."""

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
)

if TYPE_CHECKING:
    from splitterfem.analysis.behaviour import Behaviour
    from splitterfem.design import SpeedSweep, Splitter, Vibration
    from splitterfem.model import Model


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    modes = commands.add_parser("modes", parents=parents, help="find natural frequencies")
    modes.add_argument(
        "--count", metavar="N", type=int, help="how many; as the file says, or 6, when left out"
    )
    modes.add_argument(
        "--case", metavar="NAME", help="load case about which it vibrates; own weight otherwise"
    )
    modes.add_argument(
        "--prestress",
        action="store_true",
        help="let the stresses of the load case stiffen or soften the panel",
    )
    modes.add_argument(
        "--air-spring", action="store_true", help="let the pressure follow the gap as the panel moves"
    )
    modes.add_argument("--out", metavar="DIR", type=Path, help="folder for pictures and tables")
    modes.set_defaults(run=_modes)

    buckling = commands.add_parser("buckling", parents=parents, help="find buckling factors of load cases")
    buckling.add_argument(
        "--case",
        metavar="NAME",
        action="append",
        help="load case by name; may be repeated; as the file says when left out",
    )
    buckling.add_argument("--out", metavar="DIR", type=Path, help="folder for pictures and tables")
    buckling.set_defaults(run=_buckling)

    speed = commands.add_parser("speed", parents=parents, help="solve a load case at several speeds")
    speed.add_argument("--case", metavar="NAME", help="load case by name; as the file says when left out")
    speed.add_argument("--from", dest="slowest", metavar="SPEED", help='such as "80 km/h"')
    speed.add_argument("--to", dest="fastest", metavar="SPEED", help='such as "240 km/h"')
    speed.add_argument("--steps", metavar="N", type=int, help="number of speeds, both ends included")
    speed.add_argument("--out", metavar="FOLDER", type=Path, help="folder for pictures and tables")
    speed.set_defaults(run=_speed)


def _modes(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    splitter = load(arguments.file, files_in=arguments.files_in)
    wanted = _wanted(splitter, arguments)
    model = _built(splitter, arguments)
    with announced("finding natural frequencies", wanted=is_watched(arguments)):
        from splitterfem.analysis.behaviour import Behaviour, modes_of

        found = Behaviour(modes=modes_of(model, wanted))
    _tell(found, splitter, arguments, "natural_frequencies")


def _wanted(splitter: Splitter, arguments: argparse.Namespace) -> Vibration:
    """Return what the file asks, and what the command line says in its place."""
    from splitterfem.design import Vibration

    changes: dict[str, object] = {}
    if arguments.count is not None:
        changes["modes"] = arguments.count
    if arguments.case is not None:
        changes["case"] = splitter.case(arguments.case).name
    changes |= {name: True for name in ("prestress", "air_spring") if getattr(arguments, name)}
    return (splitter.vibration or Vibration()).with_(**changes)


def _buckling(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load
    from splitterfem.errors import DesignError

    splitter = load(arguments.file, files_in=arguments.files_in)
    names = [splitter.case(name).name for name in arguments.case or splitter.buckling]
    if not names:
        raise DesignError(
            f"'{splitter.name}' does not say which load cases may buckle it: name one with --case, or write "
            'buckling = ["..."] into the file.'
        )
    model = _built(splitter, arguments)
    found = []
    for name in dict.fromkeys(names):
        with announced(f"finding buckling factors of '{name}'", wanted=is_watched(arguments)):
            from splitterfem.analysis.buckling import buckling_factors

            found.append(buckling_factors(model, name))
    from splitterfem.analysis.behaviour import Behaviour

    _tell(Behaviour(buckling=tuple(found)), splitter, arguments, "buckling")


def _speed(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    splitter = load(arguments.file, files_in=arguments.files_in)
    wanted = _sweeps(splitter, arguments)
    model = _built(splitter, arguments)
    found = []
    for one in wanted:
        with announced(f"solving '{one.case}' at {one.steps} speeds", wanted=is_watched(arguments)):
            from splitterfem.analysis.overspeed import sweep_asked
            from splitterfem.output.judged import worst_ratio

            found.append(sweep_asked(model, one, worst_ratio))
    from splitterfem.analysis.behaviour import Behaviour

    _tell(Behaviour(sweeps=tuple(found)), splitter, arguments, "speed_sweeps")


def _sweeps(splitter: Splitter, arguments: argparse.Namespace) -> list[SpeedSweep]:
    """Return the sweeps that the file asks for, and what the command line says in their place."""
    from splitterfem.api_speed import usual_sweep
    from splitterfem.design import SpeedSweep
    from splitterfem.design.combine import settled
    from splitterfem.errors import DesignError

    if arguments.case is None:
        wanted = list(splitter.sweeps)
        if not wanted:
            raise DesignError(
                f"'{splitter.name}' asks for no sweep over speed: name a load case with --case, or write [[sweeps]] "
                "into the file."
            )
    else:
        name = splitter.case(arguments.case).name
        wanted = [sweep for sweep in splitter.sweeps if sweep.case == name]
        ends = {end: getattr(arguments, end) for end in ("slowest", "fastest")}
        if not wanted and None not in ends.values():
            wanted = [SpeedSweep(case=name, **ends)]
        wanted = wanted or [usual_sweep(name, float(settled(splitter.case(name), splitter).speed))]
    given = {name: getattr(arguments, name) for name in ("slowest", "fastest", "steps")}
    changes = {name: value for name, value in given.items() if value is not None}
    return [sweep.with_(**changes) for sweep in wanted]


def _built(splitter: Splitter, arguments: argparse.Namespace) -> Model:
    with announced("loading the solver", wanted=is_watched(arguments)):
        from splitterfem import api
    with announced("meshing and factorising", wanted=is_watched(arguments)):
        return api.build(splitter)


def _tell(found: Behaviour, splitter: Splitter, arguments: argparse.Namespace, key: str) -> None:
    """Write files, and print a table or JSON."""
    from splitterfem.output.summary_behaviour import behaviour_data, behaviour_lines
    from splitterfem.output.wording import words_for

    written: list[Path] = []
    if arguments.out is not None:
        with announced("writing files", wanted=is_watched(arguments)):
            from splitterfem.output.behaviour_files import write_behaviour

            written = write_behaviour(found, arguments.out, units=arguments.units)
    if arguments.json:
        known = known_of(splitter)
        print_json({**known, key: behaviour_data(found)[key], "written": [str(path) for path in written]})
        return
    print_head(splitter)
    print("", *behaviour_lines(found, words_for(arguments.units)), sep="\n")
    print_written(written)
