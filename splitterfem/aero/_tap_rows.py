"""The rows of a table of taps: numbers out of cells, and which face each reading is of."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from splitterfem.aero._tap_table import Column, Columns, short, split_row
from splitterfem.errors import FileError, nearest

FARTHEST = 10.0
"""A tap further from the origin than this is a mistake of units, m."""

MOST = {"cp": 1e3, "pressure": 1e8}
"""Coefficients and pressures in Pa beyond these are mistakes of units."""

Face = Literal["net", "upper", "lower"]

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_NOT_FINITE = {"nan", "inf", "infinity", "na", "n/a", "null", "none", "-", ""}
_SIDES: dict[str, Face] = {"upper": "upper", "top": "upper", "lower": "lower", "bottom": "lower"}


@dataclass
class Readings:
    """Rows x, y, value of one face in SI units or as coefficients, and the lines that they stand on."""

    numbers: list[tuple[float, float, float]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)

    def add(self, x: float, y: float, value: float, line: int) -> None:
        """Put one reading behind the others."""
        self.numbers.append((x, y, value))
        self.lines.append(line)


def read_rows(
    rows: Sequence[tuple[int, str]], separator: str, columns: Columns, name: str
) -> dict[Face, Readings]:
    """Read the lines behind the header.

    Returns
    -------
    dict
        ``net`` alone, or ``upper`` and ``lower``. Where every tap has both faces the net value is formed.

    Raises
    ------
    FileError
        One sentence that names the file, the line and the mend.
    """
    if columns.upper and columns.lower:
        return _both_faces(rows, separator, columns, name)
    value = columns.net or columns.upper or columns.lower
    assert value is not None
    only: Face = "net" if columns.net else "upper" if columns.upper else "lower"
    found: dict[Face, Readings] = {}
    for line, row in rows:
        place = f"{name}, line {line}"
        cells = _cells(row, separator, columns, place)
        x, y = (_position(cells, column, place) for column in (columns.x, columns.y))
        face = _side(cells[columns.side.place], place) if columns.side else only
        found.setdefault(face, Readings()).add(x, y, _value(cells, value, place), line)
    if columns.side is None:
        return found or {only: Readings()}
    for face in ("upper", "lower"):
        if face not in found:
            raise FileError(
                f"{name}: no tap is on the {face} face, and the net pressure needs both; name each tap's face in "
                f"the column '{columns.side.name}', or drop the column if the values are net."
            )
    return found


def _both_faces(
    rows: Sequence[tuple[int, str]], separator: str, columns: Columns, name: str
) -> dict[Face, Readings]:
    """Read rows with a value for each face, of which one may be empty."""
    assert columns.upper is not None
    assert columns.lower is not None
    upper, lower = Readings(), Readings()
    for line, row in rows:
        place = f"{name}, line {line}"
        cells = _cells(row, separator, columns, place)
        x, y = (_position(cells, column, place) for column in (columns.x, columns.y))
        given = [(column, to) for column, to in ((columns.upper, upper), (columns.lower, lower))]
        given = [(column, to) for column, to in given if cells[column.place] != ""]
        if not given:
            raise FileError(
                f"{place}: '{columns.upper.name}' and '{columns.lower.name}' are both empty; leave that tap out."
            )
        for column, to in given:
            to.add(x, y, _value(cells, column, place), line)
    if upper.lines == lower.lines:
        pairs = zip(upper.numbers, lower.numbers, strict=True)
        return {"net": Readings([(x, y, up - down) for (x, y, up), (_, _, down) in pairs], upper.lines)}
    return {"upper": upper, "lower": lower}


def _cells(row: str, separator: str, columns: Columns, place: str) -> list[str]:
    cells = split_row(row, separator)
    if len(cells) == columns.count:
        return cells
    comma = (
        " (if commas mark decimals, write points)" if separator == "," and len(cells) > columns.count else ""
    )
    raise FileError(
        f"{place}: there are {len(cells)} fields where the header has {columns.count}{comma}; "
        f"give one field for each column."
    )


def _position(cells: list[str], column: Column, place: str) -> float:
    """Read x or y in m."""
    found = number(cells[column.place], f"{place}: {column.name}")
    return within_reach(
        found, column.factor, f"{place}: {column.name} = {found:g}", "in the header, such as x_mm"
    )


def within_reach(found: float, factor: float, what: str, where: str) -> float:
    """Turn a position into m; one far from the car is a mistake of units."""
    metres = found * factor
    if abs(metres) > FARTHEST:
        raise FileError(
            f"{what} puts the tap {abs(metres):g} m away; name the unit {where}, or as the length unit."
        )
    return metres


def _value(cells: list[str], column: Column, place: str) -> float:
    what = f"{place}: {column.name}"
    return within_reason(number(cells[column.place], what), column.factor, column.kind, what)


def within_reason(found: float, factor: float, kind: str, what: str) -> float:
    """Turn a value into a coefficient or Pa; one that no air has is a mistake of units."""
    value = found * factor if abs(found) <= 1e30 else found
    if abs(value) > MOST[kind]:
        raise FileError(f"{what} is {found:g}, out of all reason; check the number and the unit.")
    return value


def _side(cell: str, place: str) -> Face:
    face = _SIDES.get(cell.casefold())
    if face is None:
        raise FileError(
            f"{place}: side is '{short(cell)}', not a face of the panel; {nearest(cell.casefold(), ('upper', 'lower'))}"
        )
    return face


def number(cell: str, what: str, mend: str = "leave that tap out or repair it") -> float:
    """Read a finite number.

    Raises
    ------
    FileError
        It is none; ``what`` begins the sentence and ``mend`` ends it.
    """
    if cell.casefold().lstrip("+-") in _NOT_FINITE:
        shown = f"is '{short(cell)}'" if cell else "is empty"
        raise FileError(f"{what} {shown}, not a number; {mend}.")
    if _DECIMAL_COMMA.fullmatch(cell):
        raise FileError(f"{what} is '{short(cell)}' with a decimal comma; write a point.")
    found = float(cell) if _NUMBER.fullmatch(cell) else math.nan
    if math.isnan(found):
        raise FileError(f"{what} is '{short(cell)}', not a number; {mend}.")
    if math.isinf(found):
        raise FileError(f"{what} is '{short(cell)}', too large for a number; repair it.")
    return found


def is_number(cell: str) -> bool:
    """Whether a cell holds a plain number."""
    return _NUMBER.fullmatch(cell) is not None
