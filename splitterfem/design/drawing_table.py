"""A table of measured offsets: reading the text and finding its columns by their names.

The file is a table of columns apart by commas, semicolons or tabs: lines that start with ``#`` are comments,
the first other line names the columns, each further line is one station. A unit may follow a name: ``y_mm``,
``x_front [in]``. Other columns are left alone.
"""

from __future__ import annotations

import contextlib
import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from splitterfem.design.drawing_frame import factor_of, printable
from splitterfem.design.text_table import fields_of, heading_of, rows_of
from splitterfem.errors import DesignError, FileError, UnitError
from splitterfem.units import quantity

LARGEST_FILE = 1_000_000
"""Bytes that a table of offsets may have."""

MOST_STATIONS = 1900

FARTHEST = 10.0
"""A coordinate larger than this is a mistake of units, m."""

COLUMNS = ("y", "x_front", "x_rear")

_BRACKETS = re.compile(r"(?P<name>.*?)[ _]*[\[(](?P<unit>[^\])]*)[\])]")


@dataclass(frozen=True)
class Station:
    """One line of the table.

    Parameters
    ----------
    line : int
        Its number in the file.
    values : mapping of str to float
        By role ("y", "x_front", "x_rear"), m; empty cells are not there.
    """

    line: int
    values: Mapping[str, float]


@dataclass(frozen=True)
class Column:
    """A column of the table: its number, its heading, and the unit of its numbers."""

    index: int
    heading: str
    unit: str


def read_stations(path: Path, unit: str | None) -> tuple[list[Station], dict[str, Column]]:
    """Read a table of offsets.

    Parameters
    ----------
    path : Path
        A text file in UTF-8 of at most 1 MB.
    unit : str, optional
        Of the columns that name none.

    Returns
    -------
    list of Station
        In the order of the file.
    dict of str to Column
        Those that were found, by role.

    Raises
    ------
    FileError
        One sentence that names the file, the line, the column, what was found and the mend.
    DesignError
        ``unit`` is no unit of length.
    """
    rows = rows_of(path, largest=LARGEST_FILE, what="offsets", each="station")
    needs = "a heading such as y_mm, x_front_mm and the stations"
    separator, headings = heading_of(path, rows, needs=needs, apart="y and x_front")
    columns = _columns(headings, f"{path.name}, line {rows[0][0]}", unit)
    if len(rows) - 1 > MOST_STATIONS:
        raise FileError(f"{path.name} has {len(rows) - 1} stations; thin them out to {MOST_STATIONS} at most")
    stations = []
    for number, row in rows[1:]:
        place = f"{path.name}, line {number}"
        rule = ", an empty one where nothing was measured"
        cells = fields_of(row, separator, len(headings), place=place, rule=rule)
        values = {role: _length(cells[c.index], c, place) for role, c in columns.items() if cells[c.index]}
        if "y" not in values:
            raise FileError(
                f"{place}: {columns['y'].heading} is empty; write where the station is, or drop the line"
            )
        stations.append(Station(number, values))
    return stations, columns


def _columns(headings: list[str], place: str, unit: str | None) -> dict[str, Column]:
    """Find the columns by their names."""
    found: dict[str, Column] = {}
    for index, heading in enumerate(headings):
        role, own = _role(heading)
        if role is None:
            continue
        if role in found:
            raise FileError(
                f"{place}: columns '{found[role].heading}' and '{printable(heading, 40)}' are both {role}; keep one"
            )
        chosen = own or unit
        if chosen is None:
            raise FileError(
                f"{place}: column '{heading}' names no unit; write for example {role}_mm, or give unit='mm'"
            )
        try:
            name, _ = factor_of(chosen, where=f"{place}: column '{heading}'" if own else "unit")
        except DesignError as problem:
            if own:
                raise FileError(str(problem)) from None
            raise
        found[role] = Column(index, heading, name)
    for role in COLUMNS[:2]:
        if role not in found:
            names = ", ".join(f"'{printable(heading, 30)}'" for heading in headings[:12])
            raise FileError(
                f"{place}: there is no column {role} among {names}; name it so, with its unit ({role}_mm)"
            )
    _refuse_misspelt(headings, found, place)
    return found


def _refuse_misspelt(headings: list[str], found: Mapping[str, Column], place: str) -> None:
    """Refuse a column that looks like the one of the rear edge without being it."""
    known = {column.index for column in found.values()}
    for index, heading in enumerate(headings):
        name = "_".join(heading[:40].casefold().split())
        word = re.split(r"[_ ]*[\[(]", name)[0]
        near = difflib.get_close_matches(word, ["x_rear", "x_rear_mm"], cutoff=0.75)
        if "x_rear" not in found and index not in known and near:
            raise FileError(
                f"{place}: column '{printable(heading, 40)}' is not known; did you mean '{near[0]}'?"
            )


def _role(heading: str) -> tuple[str | None, str]:
    """Tell what a column holds and its unit: ("x_front", "mm") for "x_front_mm" and "X front [mm]"."""
    if len(heading) > 40:
        return None, ""
    match = _BRACKETS.fullmatch(heading)
    name, unit = (match["name"], match["unit"].strip()) if match else (heading, "")
    key = "_".join(name.casefold().split())
    if not unit and key not in COLUMNS and "_" in name:
        name, _, unit = name.rpartition("_")
        key = "_".join(name.casefold().split())
        with contextlib.suppress(UnitError):
            quantity(f"1 {unit}", "length")
            return (key, unit) if key in COLUMNS else (None, "")
        return None, ""
    return (key, unit) if key in COLUMNS else (None, "")


def _length(cell: str, column: Column, place: str) -> float:
    """Read one number of a column (m)."""
    what = f"{place}: {column.heading}"
    if re.search(r"[a-df-z\"']", cell.casefold()) and cell.casefold().strip("+-") not in ("nan", "inf"):
        raise FileError(
            f"{what} is '{printable(cell, 40)}'; write the number alone, for the unit of the column is "
            f"{column.unit}, and leave the field empty where nothing was measured"
        )
    try:
        value = float(quantity(f"{cell} {column.unit}", "length"))
    except UnitError as problem:
        said = str(problem).removeprefix("quantity: ")
        raise FileError(f"{what} is '{printable(cell, 40)}': {said}") from None
    if abs(value) > FARTHEST:
        raise FileError(
            f"{what} is '{printable(cell, 40)}', which is {abs(value):g} m; check the number and the unit"
        )
    return value
