"""A push map as files: its picture, and a table of all points."""

from __future__ import annotations

import os
from pathlib import Path

from splitterfem.analysis.pushmap import PushMap
from splitterfem.output import files
from splitterfem.output.exports import write_table
from splitterfem.output.plots import save_picture
from splitterfem.output.pushview import plot_push
from splitterfem.output.wording import System, words_for


def write_push(pushes: PushMap, directory: str | os.PathLike[str], *, units: System = "metric") -> list[Path]:
    """Write ``push_map.png`` and ``push_map.csv`` into a folder.

    Parameters
    ----------
    pushes : PushMap
    directory : path
        Made if it is not there; files of these names in it are replaced.
    units : {"metric", "us"}
        Of the picture.

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
    words = words_for(units)
    place = files.folder(directory)
    return [
        save_picture(plot_push(pushes, unit=words.size), place / "push_map.png"),
        write_table(pushes.points, place / "push_map.csv", pushes.model.design),
    ]
