"""The columns of a table of taps: reading the text and finding x, y and the values by their names."""

from __future__ import annotations

import contextlib
import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, NamedTuple

from splitterfem.errors import FileError, UnitError, neighbours
from splitterfem.units import quantity

LARGEST_FILE = 20_000_000
"""Bytes that a tap file may have."""

MOST_TAPS = 200_000

VALUE_COLUMNS: Mapping[str, str] = {
    "cp": "cp",
    "cp_net": "cp",
    "net_cp": "cp",
    "cp_upper": "cp upper",
    "upper_cp": "cp upper",
    "cp_lower": "cp lower",
    "lower_cp": "cp lower",
    "p": "pressure",
    "dp": "pressure",
    "p_net": "pressure",
    "net_p": "pressure",
    "pressure": "pressure",
    "p_upper": "pressure upper",
    "upper_p": "pressure upper",
    "pressure_upper": "pressure upper",
    "p_lower": "pressure lower",
    "lower_p": "pressure lower",
    "pressure_lower": "pressure lower",
}
"""What a column holds by its name: coefficients or pressures, net or of one face."""

_PLAIN_COLUMNS = ("x", "y", "side")

_HEADER = re.compile(r"(?P<name>.*?)[ _]*[\[(](?P<unit>[^\])]*)[\])]")


class Column(NamedTuple):
    """Where a number stands in a row, how the file calls it, and its SI factor."""

    place: int
    name: str
    factor: float
    kind: str


@dataclass(frozen=True)
class Columns:
    """The columns of a table: `net` alone, with `side`, or `upper` and `lower`, of which one may be absent."""

    count: int
    kind: Literal["cp", "pressure"]
    x: Column
    y: Column
    net: Column | None
    upper: Column | None
    lower: Column | None
    side: Column | None


def read_text(file: Path, what: str = "taps") -> str:
    """Contents of a text file of ``what``, with every way in which it can be no text file refused."""
    try:
        if not file.exists():
            raise FileError(
                f"There is no file {file}; {neighbours(file, f'check the path of the {what}')}.".replace(
                    "?.", "?"
                )
            )
        if not file.is_file():
            raise FileError(f"{file} is not a file; give the path of a table of {what}.")
        with file.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as problem:
        raise FileError(f"{file} cannot be read ({problem.strerror}); check its permissions.") from None
    if len(content) > LARGEST_FILE:
        raise FileError(f"{file.name} is larger than {LARGEST_FILE // 1_000_000} MB; thin the {what} out.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content.count(b"\n", 0, problem.start) + 1
        raise FileError(
            f"{file.name}, line {line}: this is not UTF-8 text; save the table as CSV in UTF-8."
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise FileError(f"{file.name}, line {line}: this is not text; save the table as CSV in UTF-8.")
    return text


_SHORTER = ("write one tap on a line", "write the grid as one line x, y, value for each place")


def data_lines(text: str, name: str, *, longest: int = 10_000) -> list[tuple[int, str]]:
    """Lines that are neither blank nor comments, with their numbers."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") > 2 * MOST_TAPS:
        raise FileError(f"{name} has {text.count(chr(10))} lines; thin it out to {MOST_TAPS} taps at most.")
    lines = text.split("\n")
    found = [(number, line.strip(" ")) for number, line in enumerate(lines, start=1)]
    rows = [(number, line) for number, line in found if line.strip() and not line.lstrip().startswith("#")]
    for number, line in rows:
        if len(line) > longest:
            raise FileError(
                f"{name}, line {number}: the line has {len(line)} characters; {_SHORTER[longest > 10_000]}."
            )
    return rows


def split_row(row: str, separator: str) -> list[str]:
    """Cut a row into its cells, quotes taken off."""
    return [cell.strip() for cell in next(csv.reader([row], delimiter=separator, skipinitialspace=True))]


def find_columns(header: list[str], place: str, length_unit: str, pressure_unit: str) -> Columns:
    """Find x, y and the value among the column names."""
    units = {"length": length_unit, "pressure": pressure_unit}
    found: dict[str, Column] = {}
    for index, cell in enumerate(header):
        role, unit = _role(cell, units)
        if role is None:
            continue
        if role in found:
            raise FileError(f"{place}: columns '{found[role].name}' and '{cell}' are both {role}; keep one.")
        found[role] = Column(index, cell, _factor(role, unit, place, cell), role.split()[0])
    kinds = {role.split()[0] for role in found if role not in _PLAIN_COLUMNS}
    if len(kinds) > 1:
        raise FileError(f"{place}: there is a column of coefficients and one of pressures; keep one.")
    kind: Literal["cp", "pressure"] = "pressure" if "pressure" in kinds else "cp"
    missing = next((role for role in ("x", "y") if role not in found), None if kinds else "cp or p")
    if missing:
        names = ", ".join(f"'{short(cell)}'" for cell in header[:12])
        raise FileError(
            f"{place}: there is no column {missing} among {names}; name it so, with its unit (x_mm)."
        )
    net, upper, lower, side = (found.get(role) for role in (kind, f"{kind} upper", f"{kind} lower", "side"))
    other = upper or lower
    if net and other:
        raise FileError(
            f"{place}: '{net.name}' is a net value and '{other.name}' that of one face; keep the one or the other."
        )
    if side and other:
        raise FileError(f"{place}: '{other.name}' names its face, so drop the column '{side.name}'.")
    return Columns(len(header), kind, found["x"], found["y"], net, upper, lower, side)


def _role(cell: str, units: Mapping[str, str]) -> tuple[str | None, str]:
    """Tell what a column holds and its unit: ("x", "mm") for "x_mm" and "X [mm]"."""
    if len(cell) > 40:
        return None, ""
    match = _HEADER.fullmatch(cell)
    name, unit = (match["name"], match["unit"].strip()) if match else (cell, "")
    key = "_".join(name.casefold().split())
    if not unit and key not in (*_PLAIN_COLUMNS, *VALUE_COLUMNS) and "_" in name:
        name, _, unit = name.rpartition("_")
        key = "_".join(name.casefold().split())
        if not _is_unit(unit):
            return None, ""
    if key in ("x", "y"):
        return key, unit or units["length"]
    role = key if key == "side" else VALUE_COLUMNS.get(key)
    if role is not None and role.startswith("pressure"):
        return role, unit or units["pressure"]
    return (role, unit) if role and unit in ("", "-", "1") else (None, "")


def _is_unit(text: str) -> bool:
    """Whether a suffix is a unit of length or pressure, and not a word such as in "x_error"."""
    for dimension in ("length", "pressure"):
        with contextlib.suppress(UnitError):
            quantity(f"1 {text}", dimension)
            return True
    return False


def _factor(role: str, unit: str, place: str, cell: str) -> float:
    """SI value of one unit of a column."""
    if role not in ("x", "y") and not role.startswith("pressure"):
        return 1.0
    dimension = "length" if role in ("x", "y") else "pressure"
    try:
        return float(quantity(f"1 {unit}", dimension, name=f"column '{cell}'"))
    except UnitError as problem:
        raise FileError(f"{place}: {problem}") from None


def short(text: str) -> str:
    """Cut what a file says for a message, without control characters."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return clean if len(clean) <= 40 else clean[:37] + "..."
