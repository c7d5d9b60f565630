"""The command that writes the template for the saw."""

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
    from splitterfem.output.template.tiles import Tiling


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the command to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "json")]
    template = commands.add_parser(
        "template", parents=parents, help="draw the panel in true size, as DXF or as PDF"
    )
    template.add_argument(
        "--out",
        metavar="FILE",
        type=Path,
        default=Path("template.dxf"),
        help="its name ends in .dxf or .pdf; default: template.dxf",
    )
    template.add_argument(
        "--units", choices=("metric", "us"), help="of the drawing; as the design was written otherwise"
    )
    template.add_argument(
        "--seen-from", choices=("above", "below"), default="above", help="face that is drawn; default: above"
    )
    template.add_argument(
        "--paper", choices=("a4", "letter", "a3", "roll"), help="of a PDF; default: a4, letter with US units"
    )
    template.add_argument("--margin", metavar="LENGTH", help="what the printer leaves blank; default: 10 mm")
    template.add_argument("--overlap", metavar="LENGTH", help="of neighbouring sheets; default: 15 mm")
    template.add_argument("--roll-width", metavar="LENGTH", help="of paper from a roll; default: 36 in")
    template.add_argument(
        "--half", action="store_true", help="only the left half of a panel whose halves are alike"
    )
    template.set_defaults(run=_template)


def _template(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    splitter = load(arguments.file, files_in=arguments.files_in)
    with announced("drawing the template", wanted=is_watched(arguments)):
        from splitterfem.output.template.write import write_template

        sheets: list[Tiling] = []
        path = write_template(
            splitter,
            arguments.out,
            units=arguments.units,
            seen_from=arguments.seen_from,
            paper=arguments.paper,
            margin=arguments.margin,
            overlap=arguments.overlap,
            roll_width=arguments.roll_width,
            half=arguments.half,
            told=sheets.append,
        )
    if arguments.json:
        known = known_of(splitter)
        print_json({**known, **_sheet_data(sheets), "written": [str(path)]})
        return
    print_head(splitter)
    for one in sheets:
        print(_sheet_words(one))
    print(
        "Print at 100 % and measure the check lines before you cut." if sheets else "Units are in its header."
    )
    print_written([path])


def _sheet_data(sheets: list[Tiling]) -> dict[str, object]:
    """Return what there is to say of the sheets of a PDF, ready for JSON."""
    if not sheets:
        return {"sheets": None}
    page = sheets[0].page
    return {
        "sheets": [tile.name for tile in sheets[0].tiles],
        "paper": page.name,
        "sheet_width_mm": 1e3 * page.width,
        "sheet_height_mm": 1e3 * page.height,
        "overlap_mm": 1e3 * page.overlap,
    }


def _sheet_words(sheets: Tiling) -> str:
    count, page = len(sheets.tiles), sheets.page
    return (
        f"{count} sheet{'s' if count > 1 else ''} of {page.name}, {sheets.rows} row{'s' if sheets.rows > 1 else ''} by "
        f"{sheets.columns}, besides the assembly map."
    )
