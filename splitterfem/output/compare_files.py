"""A comparison as files: its picture and its table."""

from __future__ import annotations

import os
from pathlib import Path

from splitterfem.output import files
from splitterfem.output.compare import Comparison
from splitterfem.output.compareview import plot_comparison
from splitterfem.output.exports import write_table
from splitterfem.output.plots import save_picture
from splitterfem.output.wording import System, words_for


def write_comparison(
    comparison: Comparison, directory: str | os.PathLike[str], *, units: System = "metric"
) -> list[Path]:
    """Write a comparison into a folder.

    Parameters
    ----------
    comparison : Comparison
    directory : path
        Made if it is not there; ``comparison.png`` and ``comparison.csv`` in it are replaced.
    units : {"metric", "us"}
        Of the picture; the table is metric, as its column of units says.

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
    return [
        save_picture(plot_comparison(comparison, unit=unit), place / "comparison.png"),
        write_table(comparison.table.reset_index(), place / "comparison.csv", comparison.solutions),
    ]
