"""A screening as lines for a terminal, as data for machines, and as files."""

from __future__ import annotations

import os
from pathlib import Path

from splitterfem.layouts.screening import Screening
from splitterfem.output import files
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.exports import write_table
from splitterfem.output.plots import save_picture
from splitterfem.output.screenview import plot_sag_and_mass, plot_screened_and_solved
from splitterfem.output.wording import System, Words, words_for


def screen_lines(found: Screening, words: Words) -> list[str]:
    """Write the best layouts as a table for a terminal, and what the figures cover."""
    fresh = "fresh_mesh_mm" in found.best.columns
    size, mass = words.size, words.mass
    headings = ["layout", "ribs", "struts", f"sag ({size})", f"screened ({size})"]
    headings += [f"on its own mesh ({size})"] * fresh + [f"mass ({mass})"]
    rows = []
    for row in found.best.to_dict("records"):
        sags = [row["solved_mm"], row["screened_mm"], *([row["fresh_mesh_mm"]] if fresh else [])]
        rows.append(
            [
                str(row["layout"]),
                str(row["ribs"]),
                str(row["struts"]),
                *(_sag(float(sag), words) for sag in sags),
                words.number(float(row["mass_kg"]), mass, 2),
            ]
        )
    table = (
        aligned([headings, *rows], left=(0, 1, 2))
        if rows
        else ["No layout that was screened holds the panel."]
    )
    many = len(found.layouts)
    return [
        f"{many} layout{'s' * (many != 1)} screened in load case '{found.library.case.name}'; those with the least "
        "sag, solved in full:",
        "",
        *table,
        "",
        *(line for note in found.notes for line in wrapped(note)),
    ]


def screen_data(found: Screening) -> dict[str, object]:
    """Return all layouts and the best ones, ready for JSON."""
    return {
        "case": found.library.case.name,
        "layouts": records(found.table.reset_index(names="layout")),
        "best": records(found.best),
        "notes": list(found.notes),
    }


def write_screening(
    found: Screening, directory: str | os.PathLike[str], *, units: System = "metric"
) -> list[Path]:
    """Write ``screening.png``, ``screened_and_solved.png``, ``screening.csv`` and ``best.csv`` into a folder.

    Parameters
    ----------
    found : Screening
    directory : path
        Made if it is not there; files of these names in it are replaced.
    units : {"metric", "us"}
        Of the pictures; tables are metric, as their headings say.

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
    words_for(units)
    place, design = files.folder(directory), found.library.model.design
    return [
        save_picture(plot_sag_and_mass(found, units=units), place / "screening.png"),
        save_picture(plot_screened_and_solved(found, units=units), place / "screened_and_solved.png"),
        write_table(found.table.reset_index(names="layout"), place / "screening.csv", design),
        write_table(found.best, place / "best.csv", design),
    ]


def _sag(millimetres: float, words: Words) -> str:
    return (
        words.number(1e-3 * millimetres, words.size, 2 if words.size == "mm" else 3)
        if millimetres == millimetres
        else "-"
    )
