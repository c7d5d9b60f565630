"""Gains as files: their pictures, and tables of all places."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from splitterfem.analysis.gain import LENGTH, RibGain
from splitterfem.analysis.gain_struts import StrutGain
from splitterfem.output import files
from splitterfem.output.exports import write_table
from splitterfem.output.gainview import plot_rib_gain
from splitterfem.output.plots import save_picture
from splitterfem.output.strutgainview import plot_strut_gain
from splitterfem.output.wording import System, words_for


def write_gains(
    gains: Sequence[RibGain | StrutGain],
    directory: str | os.PathLike[str],
    *,
    length: float = LENGTH,
    units: System = "metric",
) -> list[Path]:
    """Write a picture and a table of all places of each gain into a folder.

    Parameters
    ----------
    gains : sequence of RibGain or StrutGain
    directory : path
        Made if it is not there; ``rib_gain.png``, ``rib_gain.csv``, ``strut_gain.png`` and ``strut_gain.csv`` in it
        are replaced.
    length : float
        Of the ribs in the picture, in m.
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
    words, place = words_for(units), files.folder(directory)
    written: list[Path] = []
    for gain in gains:
        name = "rib_gain" if isinstance(gain, RibGain) else "strut_gain"
        draw = (
            plot_rib_gain(gain, length=length, unit=words.size)
            if isinstance(gain, RibGain)
            else plot_strut_gain(gain, unit=words.size)
        )
        written += [
            save_picture(draw, place / f"{name}.png"),
            write_table(gain_points(gain), place / f"{name}.csv", gain.model.design),
        ]
    return written


def gain_points(gain: RibGain | StrutGain) -> pd.DataFrame:
    """Tabulate all places.

    Columns: x_mm, y_mm, gain in the measure's unit (of a rib per metre, in its best direction, and that direction).
    """
    unit, per = gain.measure.heading, gain.measure.per_unit
    if isinstance(gain, RibGain):
        columns = {
            "x_mm": 1e3 * gain.x,
            "y_mm": 1e3 * gain.y,
            f"first_order_{unit}_per_m": gain.gain / per,
            f"first_order_{unit}_per_g": gain.per_gram / per,
            "direction_deg": np.degrees(gain.direction),
        }
    else:
        columns = {
            "x_mm": 1e3 * gain.field.x,
            "y_mm": 1e3 * gain.field.y,
            f"gain_{unit}": gain.field.values / per,
        }
    return pd.DataFrame(columns)
