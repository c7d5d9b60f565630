"""Readings of a flex test: where the panel was pushed, how hard, and what a gauge read where.

The file is a table of columns apart by commas, semicolons or tabs: lines that start with ``#`` are comments, the first
other line names the columns, each further line is one reading.  A unit stands behind each name: ``push x mm``,
``force_N``, ``deflection [mm]``.  Other columns are left alone.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from splitterfem.design.drawing_frame import printable
from splitterfem.design.text_table import fields_of, heading_of, rows_of
from splitterfem.errors import FileError, UnitError, nearest
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.units import quantity

Array = NDArray[np.float64]

LARGEST_FILE = 1_000_000
"""Bytes that a table of readings may have."""

MOST_READINGS = 2000

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901): a weight is its mass times this."""

PAD = 0.06
"""Diameter in m of what pushes where the file does not say."""

LARGEST = {"length": 10.0, "force": 1e5, "mass": 1e4}
"""Numbers beyond these, in SI units, are mistakes of units."""

COLUMNS: Mapping[str, str] = {
    "push x": "length",
    "push y": "length",
    "force": "force",
    "mass": "mass",
    "read x": "length",
    "read y": "length",
    "deflection": "length",
    "uncertainty": "length",
    "pad diameter": "length",
}
"""Names of columns and what they hold."""

NEEDED = ("push x", "push y", "read x", "read y", "deflection")
_UNITS = {"length": "mm", "force": "N", "mass": "kg"}
_BRACKETS = re.compile(r"(?P<name>.*?)[ _]*[\[(](?P<unit>[^\])]*)[\])]")


@dataclass(frozen=True)
class _Column:
    """A column: its number, its heading, its unit and the factor to SI."""

    index: int
    heading: str
    unit: str
    kind: str
    factor: float


def read_flex_test(path: str | os.PathLike[str]) -> FlexReadings:
    """Read the table of a flex test.

    Parameters
    ----------
    path : path
        A text file in UTF-8 of at most 1 MB and 2000 readings.  Columns ``push x``, ``push y``, ``force`` or ``mass``
        (what was hung there), ``read x``, ``read y``, ``deflection`` (what the push added, positive down) and, if
        there are, ``uncertainty`` (standard, of the reading) and ``pad diameter`` (60 mm when left out), each with
        its unit.

    Returns
    -------
    FlexReadings

    Raises
    ------
    FileError
        One sentence that names the file, the line, the column, what was found and the mend.
    """
    place = Path(path)
    lines = rows_of(place, largest=LARGEST_FILE, what="readings", each="reading")
    rows = [(number, row) for number, row in lines if row.strip(" ,;\t")]
    needs = "a heading such as 'push x mm' and the readings"
    separator, headings = heading_of(place, rows, needs=needs, apart="the columns")
    columns = _columns(headings, f"{place.name}, line {rows[0][0]}")
    if not 0 < len(rows) - 1 <= MOST_READINGS:
        raise FileError(f"{place.name} has {len(rows) - 1} readings; give between 1 and {MOST_READINGS}")
    found: dict[str, list[float]] = {role: [] for role in columns}
    for number, row in rows[1:]:
        where = f"{place.name}, line {number}"
        cells = fields_of(row, separator, len(headings), place=where)
        for role, column in columns.items():
            found[role].append(_number(cells[column.index], column, role, where))
    numbers = np.array([number for number, _ in rows[1:]], dtype=np.int64)
    return _readings(place.name, numbers, {role: np.array(values) for role, values in found.items()})


def _readings(name: str, lines: NDArray[np.int64], found: Mapping[str, Array]) -> FlexReadings:
    force = found["force"] if "force" in found else GRAVITY * found["mass"]
    return FlexReadings(
        name=name,
        line=lines,
        push=np.column_stack([found["push x"], found["push y"]]),
        force=force,
        pad=found.get("pad diameter", np.full(len(lines), PAD)),
        read=np.column_stack([found["read x"], found["read y"]]),
        deflection=found["deflection"],
        uncertainty=found.get("uncertainty"),
    )


def _columns(headings: list[str], place: str) -> dict[str, _Column]:
    """Find the columns by their names."""
    found: dict[str, _Column] = {}
    for index, heading in enumerate(headings):
        role, unit = _role(heading)
        if role is None:
            continue
        shown = printable(heading, 40)
        if role in found:
            raise FileError(
                f"{place}: columns '{found[role].heading}' and '{shown}' are both {role}; keep one"
            )
        kind = COLUMNS[role]
        if not unit:
            raise FileError(
                f"{place}: column '{shown}' names no unit; write for example '{role} {_UNITS[kind]}'"
            )
        try:
            factor = float(quantity(f"1 {unit}", kind, name=f"column '{shown}'"))
        except UnitError as problem:
            raise FileError(f"{place}: {problem}") from None
        found[role] = _Column(index, shown, unit, kind, factor)
    if "force" in found and "mass" in found:
        raise FileError(f"{place}: there is a column of forces and one of masses; keep one")
    wanted = [role for role in NEEDED if role not in found]
    wanted += [] if "force" in found or "mass" in found else ["force"]
    if wanted:
        names = ", ".join(f"'{printable(heading, 30)}'" for heading in headings[:12])
        unit = _UNITS[COLUMNS[wanted[0]]]
        raise FileError(
            f"{place}: there is no column {wanted[0]} among {names}; name it so, with its unit ({wanted[0]} {unit})"
        )
    _refuse_misspelt(headings, found, place)
    return found


def _refuse_misspelt(headings: list[str], found: Mapping[str, _Column], place: str) -> None:
    """Refuse a column that looks like one of the optional ones without being it."""
    known = {column.index for column in found.values()}
    for index, heading in enumerate(headings):
        word = _split(heading)[0]
        hint = nearest(word, [role for role in COLUMNS if role not in found]) if word else ""
        if index not in known and hint.startswith("did you mean"):
            raise FileError(f"{place}: column '{printable(heading, 40)}' is not known; {hint}")


def _split(heading: str) -> tuple[str, str]:
    """Cut a heading into its name, in plain words, and what may be its unit."""
    match = _BRACKETS.fullmatch(heading[:60])
    name, unit = (match["name"], match["unit"].strip()) if match else (heading[:60], "")
    words = name.replace("_", " ").split()
    plain = " ".join(words).casefold()
    if unit or plain in COLUMNS or len(words) < 2:
        return plain, unit
    return " ".join(words[:-1]).casefold(), words[-1]


def _role(heading: str) -> tuple[str | None, str]:
    """Tell what a column holds and its unit: ("push x", "mm") for "push x mm" and "Push_x [mm]"."""
    name, unit = _split(heading)
    return (name, unit) if name in COLUMNS else (None, "")


def _number(cell: str, column: _Column, role: str, place: str) -> float:
    """Read one number of a column, in SI units."""
    what, shown = f"{place}: {column.heading}", printable(cell, 40)
    if not cell:
        raise FileError(f"{what} is empty; write the number, or drop the line")
    if re.fullmatch(r"[+-]?[0-9]*,[0-9]+", cell):
        raise FileError(f"{what} is '{shown}' with a decimal comma; write a point")
    try:
        value = float(cell) * column.factor if "_" not in cell else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise FileError(
            f"{what} is '{shown}', not a number; write the number alone, its unit stands in the heading"
        )
    if abs(value) > LARGEST[column.kind]:
        raise FileError(
            f"{what} is '{shown}' {column.unit}, out of all reason; check the number and the unit"
        )
    if role in ("uncertainty", "pad diameter") and value <= 0.0:
        raise FileError(f"{what} is '{shown}'; give one above zero")
    if role in ("force", "mass") and value == 0.0:
        raise FileError(f"{what} is zero, which pushes nothing; drop the line")
    return value
