"""The command that says where the next rib or strut helps most."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
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
    from splitterfem.api_gain import RibGain, StrutGain
    from splitterfem.design import Splitter
    from splitterfem.model import Model


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the command to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    gain = commands.add_parser("gain", parents=parents, help="find where the next rib or strut helps most")
    gain.add_argument("--case", metavar="NAME", help="load case; the first one otherwise")
    gain.add_argument(
        "--new", choices=("rib", "strut", "both"), default="both", help="what is to be added; default: both"
    )
    gain.add_argument(
        "--measure",
        metavar="NAME",
        default="worst sag",
        help="what is to get better: worst sag, mean sag, least clearance, first frequency, worst utilisation, or "
        "utilisation of panel, of ribs, of joints, of hardware; default: worst sag",
    )
    gain.add_argument(
        "--at",
        nargs=2,
        metavar=("X", "Y"),
        help="the sag at this place is to get better, not a measure by name",
    )
    gain.add_argument(
        "--pairs",
        action=argparse.BooleanOptionalAction,
        help="add left and right together; as the splitter has mirrored parts or none otherwise",
    )
    gain.add_argument(
        "--like", metavar="RIB", help="rib whose section and material the new one has; the first"
    )
    gain.add_argument(
        "--length", metavar="LENGTH", default="400 mm", help="of the ribs that are tried; default: 400 mm"
    )
    gain.add_argument("--out", metavar="DIR", type=Path, help="folder for pictures and tables of all places")
    gain.set_defaults(run=_gain)


def _gain(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load
    from splitterfem.units import quantity

    length = float(quantity(arguments.length, "length", name="--length"))
    splitter = load(arguments.file, files_in=arguments.files_in)
    case = splitter.case(arguments.case).name if arguments.case else _first_case(splitter)
    watched = is_watched(arguments)
    with announced("loading the solver", wanted=watched):
        from splitterfem import api
    with announced("meshing and factorising", wanted=watched):
        model = api.build(splitter)
    found: list[RibGain | StrutGain] = []
    if arguments.new in ("rib", "both"):
        with announced("laying a rib at every place", wanted=watched):
            ribs = _ribs(model, case, arguments)
            ribs.best(length=length)
            found.append(ribs)
    if arguments.new in ("strut", "both"):
        with announced("setting a strut at every place", wanted=watched):
            found.append(_struts(model, case, arguments))
            _ = found[-1].table
    written: list[Path] = []
    if arguments.out is not None:
        with announced("writing files", wanted=watched):
            from splitterfem.output.gain_files import write_gains

            written = write_gains(found, arguments.out, length=length, units=arguments.units)
    _tell(found, splitter, arguments, written, length)


def _first_case(splitter: Splitter) -> str:
    from splitterfem.errors import DesignError

    if not splitter.all_cases:
        raise DesignError(f"'{splitter.name}' has no load case; add one to the file as [[cases]].")
    return splitter.all_cases[0].name


def _ribs(model: Model, case: str, arguments: argparse.Namespace) -> RibGain:
    from splitterfem.api_gain import rib_gain
    from splitterfem.errors import DesignError, nearest

    like = {}
    if arguments.like is not None:
        ribs = {half.name: half for rib in model.design.ribs for half in (rib, *rib.sides())}
        if arguments.like not in ribs:
            raise DesignError(f"--like: there is no rib '{arguments.like}'; {nearest(arguments.like, ribs)}")
        rib = ribs[arguments.like]
        like = {"section": rib.section, "material": rib.material}
    return rib_gain(model, case, measure=_measure(arguments), mirror=_pairs(model, arguments), **like)  # type: ignore[arg-type]


def _struts(model: Model, case: str, arguments: argparse.Namespace) -> StrutGain:
    from splitterfem.api_gain import strut_gain

    return strut_gain(model, case, measure=_measure(arguments), mirror=_pairs(model, arguments))


def _measure(arguments: argparse.Namespace) -> str | Sequence[object]:
    return list(arguments.at) if arguments.at is not None else str(arguments.measure)


def _pairs(model: Model, arguments: argparse.Namespace) -> bool:
    if arguments.pairs is not None:
        return bool(arguments.pairs)
    design = model.design
    return any(part.mirror for part in (*design.ribs, *design.struts, *design.pockets))


def _tell(
    found: Sequence[RibGain | StrutGain],
    splitter: Splitter,
    arguments: argparse.Namespace,
    written: list[Path],
    length: float,
) -> None:
    """Print tables or JSON."""
    from splitterfem.output.gain_tables import gain_data, gain_lines
    from splitterfem.output.wording import words_for

    if arguments.json:
        known = known_of(splitter)
        parts = {name: value for gain in found for name, value in gain_data(gain, length=length).items()}
        print_json({**known, **parts, "written": [str(path) for path in written]})
        return
    print_head(splitter)
    for gain in found:
        print("", *gain_lines(gain, words_for(arguments.units), length=length), sep="\n")
    print_written(written)
