"""The columns of a table of taps: reading the text and finding x, y and the value by their names."""

from __future__ import annotations

import contextlib
import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from splitterfem.errors import FileError, UnitError
from splitterfem.units import quantity

LARGEST_FILE = 20_000_000
"""Bytes that a tap file may have."""

MOST_TAPS = 200_000

VALUE_COLUMNS: Mapping[str, Literal["cp", "pressure"]] = {
    "cp": "cp",
    "cp_net": "cp",
    "net_cp": "cp",
    "p": "pressure",
    "dp": "pressure",
    "p_net": "pressure",
    "net_p": "pressure",
    "pressure": "pressure",
}

_HEADER = re.compile(r"(?P<name>.*?)[ _]*[\[(](?P<unit>[^\])]*)[\])]")


@dataclass(frozen=True)
class Columns:
    """Where the numbers stand in a row, their SI factors, and what the value is."""

    count: int
    places: tuple[int, int, int]
    names: tuple[str, str, str]
    factors: tuple[float, float, float]
    kind: Literal["cp", "pressure"]


def read_text(file: Path) -> str:
    """Contents of a text file, with every way in which it can be no text file refused."""
    try:
        if not file.exists():
            raise FileError(f"There is no file {file}; check the path of the taps.")
        if not file.is_file():
            raise FileError(f"{file} is not a file; give the path of a table of taps.")
        with file.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as problem:
        raise FileError(f"{file} cannot be read ({problem.strerror}); check its permissions.") from None
    if len(content) > LARGEST_FILE:
        raise FileError(f"{file.name} is larger than {LARGEST_FILE // 1_000_000} MB; thin the taps out.")
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


def data_lines(text: str, name: str) -> list[tuple[int, str]]:
    """Lines that are neither blank nor comments, with their numbers."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") > 2 * MOST_TAPS:
        raise FileError(f"{name} has {text.count(chr(10))} lines; thin it out to {MOST_TAPS} taps at most.")
    lines = text.split("\n")
    found = [(number, line.strip(" ")) for number, line in enumerate(lines, start=1)]
    rows = [(number, line) for number, line in found if line.strip() and not line.lstrip().startswith("#")]
    for number, line in rows:
        if len(line) > 10_000:
            raise FileError(
                f"{name}, line {number}: the line has {len(line)} characters; write one tap on a line."
            )
    return rows


def split_row(row: str, separator: str) -> list[str]:
    """Cut a row into its cells, quotes taken off."""
    return [cell.strip() for cell in next(csv.reader([row], delimiter=separator, skipinitialspace=True))]


def find_columns(header: list[str], place: str, length_unit: str, pressure_unit: str) -> Columns:
    """Find x, y and the value among the column names."""
    units = {"length": length_unit, "pressure": pressure_unit}
    found: dict[str, tuple[int, float, str]] = {}
    for index, cell in enumerate(header):
        role, unit = _role(cell, units)
        if role is None:
            continue
        if role in found:
            raise FileError(f"{place}: columns '{found[role][2]}' and '{cell}' are both {role}; keep one.")
        found[role] = (index, _factor(role, unit, place, cell), cell)
    if "cp" in found and "pressure" in found:
        raise FileError(f"{place}: there is a column of coefficients and one of pressures; keep one.")
    kind: Literal["cp", "pressure"] = "pressure" if "pressure" in found else "cp"
    for role in ("x", "y", kind):
        if role not in found:
            wanted = "cp or p" if role == kind else role
            names = ", ".join(f"'{short(cell)}'" for cell in header[:12])
            raise FileError(
                f"{place}: there is no column {wanted} among {names}; name it so, with its unit (x_mm)."
            )
    x, y, value = (found[role] for role in ("x", "y", kind))
    return Columns(
        count=len(header),
        places=(x[0], y[0], value[0]),
        names=(x[2], y[2], value[2]),
        factors=(x[1], y[1], value[1]),
        kind=kind,
    )


def _role(cell: str, units: Mapping[str, str]) -> tuple[str | None, str]:
    """Tell what a column holds and its unit: ("x", "mm") for "x_mm" and "X [mm]"."""
    if len(cell) > 40:
        return None, ""
    match = _HEADER.fullmatch(cell)
    name, unit = (match["name"], match["unit"].strip()) if match else (cell, "")
    key = "_".join(name.casefold().split())
    if not unit and key not in ("x", "y", *VALUE_COLUMNS) and "_" in name:
        name, _, unit = name.rpartition("_")
        key = "_".join(name.casefold().split())
        if not _is_unit(unit):
            return None, ""
    if key in ("x", "y"):
        return key, unit or units["length"]
    kind = VALUE_COLUMNS.get(key)
    if kind == "pressure":
        return kind, unit or units["pressure"]
    return (kind, unit) if kind and unit in ("", "-", "1") else (None, "")


def _is_unit(text: str) -> bool:
    """Whether a suffix is a unit of length or pressure, and not a word such as in "x_error"."""
    for dimension in ("length", "pressure"):
        with contextlib.suppress(UnitError):
            quantity(f"1 {text}", dimension)
            return True
    return False


def _factor(role: str, unit: str, place: str, cell: str) -> float:
    """SI value of one unit of a column."""
    if role == "cp":
        return 1.0
    try:
        return float(
            quantity(f"1 {unit}", "pressure" if role == "pressure" else "length", name=f"column '{cell}'")
        )
    except UnitError as problem:
        raise FileError(f"{place}: {problem}") from None


def short(text: str) -> str:
    """Cut what a file says for a message, without control characters."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return clean if len(clean) <= 40 else clean[:37] + "..."
