"""Pictures and tables of what a design asks besides its load cases as files."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal, cast

import pandas as pd

from splitterfem.analysis.behaviour import Behaviour
from splitterfem.output import files
from splitterfem.output.excitationview import plot_excitations
from splitterfem.output.exports import write_table
from splitterfem.output.modesview import plot_buckling, plot_modes
from splitterfem.output.plots import save_picture
from splitterfem.output.summary_behaviour import shaking
from splitterfem.output.sweepview import plot_sweep
from splitterfem.output.wording import System, words_for


def write_behaviour(
    behaviour: Behaviour,
    directory: str | os.PathLike[str],
    *,
    units: System = "metric",
    tables: bool = True,
) -> list[Path]:
    """Write what a design asked for besides its load cases into a folder.

    ``natural_frequencies.png`` has the shapes, ``excitations.png`` the frequencies over what may shake the panel;
    ``buckling.png`` has the shapes of the first load case, ``buckling-2.png`` those of the next.  The tables have the
    same names with ``.csv``; in that of buckling the column ``case`` names the load cases.  ``speed.png`` and
    ``speed.csv`` are the first sweep over speed, ``speed-2.png`` and ``speed-2.csv`` the next.

    Parameters
    ----------
    behaviour : Behaviour
    directory : path
        Made if it is not there; files of these names in it are replaced.
    units : {"metric", "us"}
        Of the pictures.
    tables : bool
        Whether to write the tables.

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
    written: list[Path] = []
    if behaviour.modes is not None:
        modes, unit = behaviour.modes, cast("Literal['km/h', 'mph']", words.speed)
        written += [
            save_picture(plot_modes(modes, unit=unit), place / "natural_frequencies.png"),
            save_picture(plot_excitations(modes, unit=unit), place / "excitations.png"),
        ]
        if tables:
            written += [
                write_table(modes.table, place / "natural_frequencies.csv", modes.model.design),
                write_table(shaking(modes, words), place / "excitations.csv", modes.model.design),
            ]
    for number, one in enumerate(behaviour.buckling, start=1):
        tail = "" if number == 1 else f"-{number}"
        written.append(save_picture(plot_buckling(one), place / f"buckling{tail}.png"))
    if behaviour.buckling and tables:
        table = pd.concat([one.table.assign(case=one.case) for one in behaviour.buckling])
        table = table[["case", *(name for name in table.columns if name != "case")]]
        written.append(write_table(table, place / "buckling.csv", behaviour.buckling[0].model.design))
    for number, sweep in enumerate(behaviour.sweeps, start=1):
        tail = "" if number == 1 else f"-{number}"
        written.append(save_picture(plot_sweep(sweep, units=words.system), place / f"speed{tail}.png"))
        if tables:
            written.append(write_table(sweep.table, place / f"speed{tail}.csv", sweep.model.design))
    return written
