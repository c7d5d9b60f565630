"""Commands that compare a design with reality: fitting it to a flex test, and letting it scatter."""

from __future__ import annotations

import argparse
import contextlib
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
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.study import FlexTest, Scatter


def add_commands(commands: Any, shared: Mapping[str, Parent]) -> None:
    """Add the commands to the subparsers; see :func:`splitterfem.cli_tools.shared_arguments`."""
    parents = [shared[name] for name in ("file", "progress", "units", "json")]
    flex = commands.add_parser(
        "flextest", parents=parents, help="fit moduli, joints and supports to measured deflections"
    )
    flex.add_argument("readings", metavar="CSV", type=Path, help="table of pushes and readings")
    flex.add_argument(
        "--fit",
        metavar="FIGURE",
        action="append",
        help="'E along', 'E across', 'shear modulus', 'planar shear', 'sheet', or a path such as "
        "struts.front.end_stiffness; may be repeated",
    )
    flex.add_argument(
        "--leave-out", metavar="LINE", type=int, action="append", default=[], help="line that does not count"
    )
    flex.add_argument(
        "--out", metavar="DIR", type=Path, help="folder for picture, readings and fitted design"
    )
    flex.set_defaults(run=_flextest)

    plain = [shared[name] for name in ("file", "progress", "json")]
    scatter = commands.add_parser(
        "scatter", parents=plain, help="how sag, gap and utilisation scatter when materials and loads do"
    )
    scatter.add_argument(
        "--vary",
        metavar="WHAT=HOW",
        action="append",
        required=True,
        help="'moduli=10 %%' is normal with this standard deviation, 'car.ride_height=±5 mm' uniform within; also "
        "strength, density, thickness, joints, strut ends, load, and any path; may be repeated",
    )
    scatter.add_argument("--case", metavar="NAME", action="append", required=True, help="may be repeated")
    scatter.add_argument("--draws", metavar="N", type=int, default=128, help="a power of two; default: 128")
    scatter.add_argument("--sobol", action="store_true", help="shares of the variance, for many more solves")
    scatter.add_argument("--seed", metavar="N", type=int, default=1, help="default: 1")
    scatter.add_argument("--workers", metavar="N", type=int, help="processes on this machine")
    scatter.add_argument(
        "--keep", metavar="PATH", type=Path, help="file of finished draws, to go on from later"
    )
    scatter.add_argument("--out", metavar="DIR", type=Path, help="folder for picture and table of all draws")
    scatter.add_argument(
        "--units", choices=("metric", "us"), help="of the picture; as in the table otherwise"
    )
    scatter.set_defaults(run=_scatter)


def _flextest(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    splitter, watched = load(arguments.file, files_in=arguments.files_in), is_watched(arguments)
    with announced("loading the solver", wanted=watched):
        from splitterfem import api, study
    with announced("meshing and factorising", wanted=watched):
        model = api.build(splitter)
    with announced("fitting", wanted=watched):
        found = study.fit_flex_test(
            model, arguments.readings, fit=arguments.fit, leave_out=arguments.leave_out
        )
    written: list[Path] = []
    if arguments.out is not None:
        with announced("writing files", wanted=watched):
            written = _write_flex(found, arguments)
    if arguments.json:
        from splitterfem.output.columns import records

        data = {
            "file": found.readings.name,
            "readings": len(found.readings),
            "figures": records(found.table),
            "residual_deviation_mm": 1e3 * found.deviation,
            "notes": list(found.notes),
        }
        _print_json(splitter, {"flex_test": data, "written": [str(path) for path in written]})
        return
    _print_flex(found, written)


def _write_flex(found: FlexTest, arguments: argparse.Namespace) -> list[Path]:
    from splitterfem.design import save
    from splitterfem.output import files
    from splitterfem.output.exports import write_table
    from splitterfem.output.plots import save_picture

    place = files.folder(arguments.out)
    picture = found.plot(unit="in" if arguments.units == "us" else "mm")
    design = place / "fitted.toml"
    written = [
        save_picture(picture, place / "flex_test.png"),
        write_table(found.residuals, place / "flex_readings.csv", found.splitter),
    ]
    save(found.design, design)
    return [*written, design]


def _print_flex(found: FlexTest, written: list[Path]) -> None:
    from splitterfem.layouts.flextest_words import figures
    from splitterfem.output.columns import aligned, wrapped

    rows = [["figure", "fitted", "± (1 s)", "95 % from", "to", "unit", "before"]]
    for row in found.table.to_dict("records"):
        value, error = figures(float(row["value"]), float(row["standard_uncertainty"]))
        ends = [f"{float(row[name]):.4g}" for name in ("low_95", "high_95")]
        rows.append([str(row["figure"]), value, error, *ends, str(row["unit"]), f"{float(row['start']):.4g}"])
    print_head(found.splitter)
    print(f"\nFitted to {len(found.readings)} readings of {found.readings.name}:\n")
    print(*aligned(rows), "", sep="\n")
    print(*(line for note in found.notes for line in wrapped(note)), sep="\n")
    print_written(written)


def _spreads(given: list[str]) -> dict[str, str]:
    """Read what scatters and how from the command line.

    Raises
    ------
    DesignError
        If there is no equals sign, or something is named twice.
    """
    found: dict[str, str] = {}
    for text in given:
        what, sign, how = (part.strip() for part in text.partition("="))
        if not (what and sign and how):
            raise DesignError(
                f"--vary '{text}' says not what scatters and how; write for example 'moduli=10 %'."
            )
        if what in found:
            raise DesignError(f"'{what}' scatters twice; name it once.")
        found[what] = how
    return found


def _scatter(arguments: argparse.Namespace) -> None:
    from splitterfem.design import load

    splitter = load(arguments.file, files_in=arguments.files_in)
    spreads, watched = _spreads(arguments.vary), is_watched(arguments)
    with announced("loading the solver", wanted=watched):
        from splitterfem import study
    found = study.scatter(
        splitter,
        spreads,
        arguments.case,
        draws=arguments.draws,
        scheme="sobol" if arguments.sobol else "ranks",
        seed=arguments.seed,
        file=arguments.keep,
        workers=arguments.workers,
        progress=watched,
    )
    written: list[Path] = []
    if arguments.out is not None:
        from splitterfem.output import files
        from splitterfem.output.exports import write_table
        from splitterfem.output.plots import save_picture

        place = files.folder(arguments.out)
        written = [
            save_picture(found.plot(units=arguments.units), place / "scatter.png"),
            write_table(found.table, place / "draws.csv", found.plan.base),
        ]
    _tell_scatter(found, arguments, written)


def _tell_scatter(found: Scatter, arguments: argparse.Namespace, written: list[Path]) -> None:
    """Print tables or JSON."""
    from splitterfem.output.columns import aligned, records, wrapped

    splitter = found.plan.base
    if arguments.json:
        data = {
            "cases": list(found.plan.cases),
            "draws": len(found.sample),
            "percentiles": records(found.percentiles),
            "probabilities": records(found.probabilities),
            "influence": _influence(found),
            "notes": list(found.notes),
        }
        _print_json(splitter, {"scatter": data, "written": [str(path) for path in written]})
        return
    print_head(splitter)
    rows = [["measure", "5 %", "50 %", "95 %", "unit"]]
    for row in found.percentiles.to_dict("records"):
        shares = [f"{float(row[name]):.4g}" for name in ("p5", "p50", "p95")]
        rows.append([str(row["measure"]), *shares, str(row["unit"])])
    print("", *aligned(rows), "", sep="\n")
    from splitterfem.output.scatterview import share_words

    for event, share in found.events.items():
        print(f"{event}: {share_words(share)}")
    print("", *(line for note in found.notes for line in wrapped(note)), sep="\n")
    print_written(written)


def _influence(found: Scatter) -> dict[str, object]:
    """Tell what each measure comes from, as far as there are draws enough to tell."""
    from splitterfem.output.columns import records

    told: dict[str, object] = {}
    for one in found.plan.measures:
        with contextlib.suppress(DesignError):
            told[one.name] = records(found.influence_table(one.name))
    return told


def _print_json(splitter: Any, content: dict[str, object]) -> None:
    known = known_of(splitter)
    print_json({**known, **content})
