"""Everything that is usually wanted of solved load cases, in one folder."""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence
from pathlib import Path

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.bill import bill_of_materials
from splitterfem.analysis.envelope import check_envelope, envelope_table
from splitterfem.design import save
from splitterfem.output import files
from splitterfem.output.behaviour_files import write_behaviour
from splitterfem.output.contour_dxf import write_contour_dxf
from splitterfem.output.envelopeview import plot_envelope
from splitterfem.output.exports import (
    write_contours,
    write_sag,
    write_table,
    write_tables,
    write_vtu,
    write_xdmf,
)
from splitterfem.output.judged import Losses, judged
from splitterfem.output.plots import plot_clearance, plot_pressure, plot_sag, save_picture
from splitterfem.output.report_maps import distinct_maps
from splitterfem.output.style import LengthUnit
from splitterfem.output.wording import System, words_for
from splitterfem.strength.cases import worst_of


def write_bundle(
    solutions: Sequence[Solution],
    directory: str | os.PathLike[str],
    *,
    units: System = "metric",
    tables: bool = True,
    losses: Losses | None = None,
    behaviour: Behaviour | None = None,
    also: Collection[str] = (),
) -> list[Path]:
    """Write pictures, mesh, contour lines and tables of load cases into a folder.

    ``sag.png``, ``clearance.png``, ``solution.vtu``, ``contours.csv``, ``supports.csv``, ``contacts.csv`` and
    ``ribs.csv`` are of the first load case; those of the others have their number behind: ``sag-2.png``.
    ``pressure.png`` is the first pressure map, ``pressure-2.png`` the next that differs, those that follow the sag
    last; ``envelope.png`` shows the
    limits of the user's rulebook, and ``envelope.csv`` has them, where there are any.
    ``utilisation.csv`` has the utilisations of all load cases, worst first, ``worst.csv`` the worst of every measure
    over all of them, ``bill.csv`` what is built, and ``losses.csv`` what becomes of a load case when one part is lost;
    in those about load cases the column ``case`` names them.

    Parameters
    ----------
    solutions : sequence of Solution
    directory : path
        Made if it is not there; files of these names in it are replaced.
    units : {"metric", "us"}
        Of the pictures.
    tables : bool
        Whether to write the tables of supports, ribs, utilisations and parts.
    losses : Losses, optional
        Written when given.
    behaviour : Behaviour, optional
        Natural frequencies, buckling factors and sweeps over speed, written as
        :func:`splitterfem.output.behaviour_files.write_behaviour` does.
    also : collection of {"xdmf", "dxf", "sag", "design"}
        Written besides: ``solution.xdmf``, the contour lines as ``contours.dxf``, the sag at the nodes as ``sag.csv``,
        and the design that was solved as ``design.toml``.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    UnitError
        Another system of units.
    FileError
        A file cannot be written.
    """
    unit = words_for(units).size
    place = files.folder(directory)
    written: list[Path] = []
    for number, solution in enumerate(solutions, start=1):
        tail = "" if number == 1 else f"-{number}"
        written += [
            save_picture(plot_sag(solution, unit=unit), place / f"sag{tail}.png"),
            save_picture(plot_clearance(solution, unit=unit), place / f"clearance{tail}.png"),
            write_vtu(solution, place / f"solution{tail}.vtu"),
            write_contours(solution, place / f"contours{tail}.csv"),
        ]
        if tables:
            written += write_tables(solution, place, tail=tail)
        written += _besides(solution, place, tail, unit, also)
    if "design" in also:
        save(solutions[0].model.design, place / "design.toml")
        written.append(place / "design.toml")
    written += _pictures_of_all(solutions, place, unit)
    if tables:
        written += _tables_of_all(solutions, place)
    if losses is not None:
        written.append(write_table(losses.named, place / "losses.csv", solutions))
    if behaviour:
        written += write_behaviour(behaviour, place, units=units, tables=tables)
    return written


def _besides(
    solution: Solution, place: Path, tail: str, unit: LengthUnit, also: Collection[str]
) -> list[Path]:
    """Write what is asked for besides, of one load case."""
    written = []
    if "xdmf" in also:
        written.append(write_xdmf(solution, place / f"solution{tail}.xdmf"))
    if "dxf" in also:
        written.append(write_contour_dxf(solution, place / f"contours{tail}.dxf", unit=unit))
    if "sag" in also:
        written.append(write_sag(solution, place / f"sag{tail}.csv"))
    return written


def _pictures_of_all(solutions: Sequence[Solution], place: Path, unit: LengthUnit) -> list[Path]:
    """Pressure maps that differ, and the envelope where there is one."""
    design, written = solutions[0].model.design, []
    for number, (_, case, air, followed) in enumerate(distinct_maps(solutions), start=1):
        tail = "" if number == 1 else f"-{number}"
        picture = plot_pressure(design, case, unit=unit, air=air, followed=followed)
        written.append(save_picture(picture, place / f"pressure{tail}.png"))
    if design.envelope is not None:
        picture = plot_envelope(design, solutions=solutions, unit=unit)
        written.append(save_picture(picture, place / "envelope.png"))
    return written


def _tables_of_all(solutions: Sequence[Solution], place: Path) -> list[Path]:
    """Tables in which all load cases stand together, and the bill."""
    design = solutions[0].model.design
    tables = {
        "utilisation": judged(solutions).rows.drop(columns="number"),
        "worst": worst_of(solutions),
        "bill": bill_of_materials(design),
    }
    if design.envelope is not None:
        tables["envelope"] = envelope_table(check_envelope(design, solutions))
    return [write_table(table, place / f"{name}.csv", solutions) for name, table in tables.items()]
