"""Everything that is usually wanted of solved load cases, in one folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from splitterfem.analysis import Solution
from splitterfem.analysis.bill import bill_of_materials
from splitterfem.output import files
from splitterfem.output.exports import write_contours, write_table, write_tables, write_vtu
from splitterfem.output.judged import Losses, judged
from splitterfem.output.plots import plot_clearance, plot_sag, save_picture
from splitterfem.output.wording import System, words_for


def write_bundle(
    solutions: Sequence[Solution],
    directory: str | os.PathLike[str],
    *,
    units: System = "metric",
    tables: bool = True,
    losses: Losses | None = None,
) -> list[Path]:
    """Write pictures, mesh, contour lines and tables of load cases into a folder.

    ``sag.png``, ``clearance.png``, ``solution.vtu``, ``contours.csv``, ``supports.csv``, ``contacts.csv`` and
    ``ribs.csv`` are of the first load case; those of the others have their number behind: ``sag-2.png``.
    ``utilisation.csv`` has the utilisations of all load cases, worst first, ``bill.csv`` what is built, and
    ``losses.csv`` what becomes of a load case when one part is lost; in the first and the last the column ``case``
    names the load case.

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
    if tables:
        bill = bill_of_materials(solutions[0].model.design)
        rows = judged(solutions).rows.drop(columns="number")
        written += [write_table(rows, place / "utilisation.csv"), write_table(bill, place / "bill.csv")]
    if losses is not None:
        written.append(write_table(losses.named, place / "losses.csv"))
    return written
