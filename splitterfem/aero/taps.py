"""Reading scattered pressure taps from a text file.

The file is a table of columns apart by commas, semicolons or tabs: lines that start with ``#`` are
comments, the first other line names the columns, each further line is one tap. Needed are ``x``, ``y`` and
one value: ``cp`` (net pressure coefficient) or ``p`` (net pressure). A unit may follow a name: ``x_mm``,
``y [in]``, ``p_kPa``. Other columns are left alone. Net means upper face minus lower face.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero._tap_table import (
    MOST_TAPS,
    Columns,
    data_lines,
    find_columns,
    read_text,
    short,
    split_row,
)
from splitterfem.aero.pressure_map import TapMap, on_one_line, same_place
from splitterfem.errors import DesignError, FileError

FloatArray = NDArray[np.float64]

FARTHEST = 10.0
"""A tap further from the origin than this is a mistake of units, m."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_NOT_FINITE = {"nan", "inf", "infinity", "na", "n/a", "null", "none", "-", ""}


@dataclass(frozen=True, eq=False)
class Taps:
    """Scattered readings, as found in a file.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Positions x, y, m.
    values : ndarray, shape (n,)
        Net pressure coefficients, or net pressures in Pa.
    kind : {"cp", "pressure"}
        What the values are.
    name : str
        Of the file, for messages.
    """

    points: FloatArray
    values: FloatArray
    kind: Literal["cp", "pressure"]
    name: str

    def pressures(self, q: float | None = None, *, q_reference: float | None = None) -> FloatArray:
        """Net pressures in Pa.

        Parameters
        ----------
        q : float, optional
            Dynamic pressure of the load case, Pa.
        q_reference : float, optional
            Dynamic pressure at which pressures were measured, Pa; they are then scaled by
            ``q / q_reference``, and left as measured when both are left out.

        Raises
        ------
        DesignError
            If coefficients come without ``q`` or with a reference, or only one of the two is given for
            pressures.
        """
        for what, given in (("dynamic pressure", q), ("reference dynamic pressure", q_reference)):
            if given is not None and not (math.isfinite(given) and given >= 0):
                raise DesignError(f"The {what} is {given:g} Pa; give zero or more.")
        if self.kind == "cp":
            if q is None or q_reference is not None:
                raise DesignError(
                    f"The taps of {self.name} are pressure coefficients; give the dynamic pressure of the "
                    f"load case and no reference."
                )
            return self.values * q
        if q is None and q_reference is None:
            return self.values.copy()
        if q is None or not q_reference:
            raise DesignError(
                f"The taps of {self.name} are pressures; to scale them give both the dynamic pressure of the "
                f"load case and the one, above zero, at which they were measured."
            )
        return self.values * (q / q_reference)

    def map(self, q: float | None = None, *, q_reference: float | None = None) -> TapMap:
        """Interpolated net pressure in Pa; parameters and errors as in `pressures`."""
        return TapMap(self.points, self.pressures(q, q_reference=q_reference))


def read_taps(path: str | Path, *, length_unit: str = "m", pressure_unit: str = "Pa") -> Taps:
    """Read a table of taps.

    Parameters
    ----------
    path : str or Path
        A text file in UTF-8 of at most 20 MB.
    length_unit : str
        Of x and y where their columns name none.
    pressure_unit : str
        Of the pressure where its column names none.

    Returns
    -------
    Taps

    Raises
    ------
    FileError
        One sentence that names the file, the line and the mend.
    """
    file = Path(path)
    rows = data_lines(read_text(file), file.name)
    if not rows:
        raise FileError(
            f"{file.name} has no line but comments; it needs a header such as x_mm, y_mm, cp and the taps."
        )
    header_line, header = rows[0]
    separator = next((s for s in "\t;," if s in header), None)
    if separator is None:
        raise FileError(
            f"{file.name}, line {header_line}: the header '{short(header)}' has one column; "
            f"separate x, y and cp by commas, semicolons or tabs."
        )
    place = f"{file.name}, line {header_line}"
    columns = find_columns(split_row(header, separator), place, length_unit, pressure_unit)
    if len(rows) - 1 > MOST_TAPS:
        raise FileError(f"{file.name} has {len(rows) - 1} taps; thin it out to {MOST_TAPS} at most.")
    table = [_tap(row, separator, columns, f"{file.name}, line {line}") for line, row in rows[1:]]
    lines = [line for line, _ in rows[1:]]
    numbers = np.array(table, dtype=np.float64).reshape(-1, 3)
    _check(numbers[:, :2], lines, file.name)
    numbers.setflags(write=False)
    return Taps(points=numbers[:, :2], values=numbers[:, 2], kind=columns.kind, name=file.name)


def _tap(row: str, separator: str, columns: Columns, place: str) -> list[float]:
    """Read one line: x and y in m, the value in Pa or as a coefficient."""
    cells = split_row(row, separator)
    if len(cells) != columns.count:
        comma = (
            " (if commas mark decimals, write points)"
            if separator == "," and len(cells) > columns.count
            else ""
        )
        raise FileError(
            f"{place}: there are {len(cells)} fields where the header has {columns.count}{comma}; "
            f"give one field for each column."
        )
    numbers = [_number(cells[i], f"{place}: {n}") for i, n in zip(columns.places, columns.names, strict=True)]
    tap = [number * factor for number, factor in zip(numbers, columns.factors, strict=True)]
    for number, metres, name in zip(numbers[:2], tap[:2], columns.names[:2], strict=True):
        if abs(metres) > FARTHEST:
            raise FileError(
                f"{place}: {name} = {number:g} puts the tap {abs(metres):g} m away; name the unit in the "
                f"header, such as x_mm, or as the length unit."
            )
    return tap


def _number(cell: str, what: str) -> float:
    if cell.casefold().lstrip("+-") in _NOT_FINITE:
        shown = f"is '{short(cell)}'" if cell else "is empty"
        raise FileError(f"{what} {shown}, not a number; leave that tap out or repair it.")
    if _DECIMAL_COMMA.fullmatch(cell):
        raise FileError(f"{what} is '{short(cell)}' with a decimal comma; write a point.")
    number = float(cell) if _NUMBER.fullmatch(cell) else math.nan
    if math.isnan(number):
        raise FileError(f"{what} is '{short(cell)}', not a number; leave that tap out or repair it.")
    if math.isinf(number):
        raise FileError(f"{what} is '{short(cell)}', too large for a number; repair it.")
    return number


def _check(points: FloatArray, lines: list[int], name: str) -> None:
    """Refuse taps that cannot carry a map."""
    if len(points) < 3:
        last = f"line {lines[-1]}" if lines else "the header"
        raise FileError(
            f"{name} ends after {last} with too few taps ({len(points)}); a map needs three or more."
        )
    pair = same_place(points)
    if pair is not None:
        x, y = 1e3 * points[pair[0]]
        raise FileError(
            f"{name}, line {lines[pair[1]]}: the tap at x = {x:.1f}, y = {y:.1f} mm is already on line "
            f"{lines[pair[0]]}; keep one of them."
        )
    if on_one_line(points):
        raise FileError(
            f"{name}: all {len(points)} taps lie on one line; a map needs taps that span an area."
        )
