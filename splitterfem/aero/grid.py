"""Reading a pressure map on a regular grid from a text file.

Two forms are told apart by their first line. In a cross table it has the y stations behind a first cell that is
free or says what the table is, and each further line has an x station and the values there. Otherwise the first
line names columns, as in a table of taps (``x``, ``y`` and ``cp`` or ``p``, or the values of both faces), and each
further line is one place; the places must make up a complete grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero._tap_rows import is_number, number, read_rows, within_reach, within_reason
from splitterfem.aero._tap_table import MOST_TAPS, data_lines, find_columns, read_text, short, split_row
from splitterfem.aero.grid_map import GridMap
from splitterfem.aero.tap_map import CLOSEST_TAPS
from splitterfem.errors import FileError
from splitterfem.units import quantity

FloatArray = NDArray[np.float64]

LONGEST_LINE = 100_000
"""Characters of a line of a cross table."""


@dataclass(frozen=True, eq=False)
class Grid:
    """A grid as found in a file.

    Parameters
    ----------
    x, y : ndarray, shapes (nx,) and (ny,)
        Stations, ascending, m.
    values : ndarray, shape (nx, ny)
        Coefficients, or pressures in Pa.
    kind : {"cp", "pressure"} or None
        What the file calls them; a cross table does not say.
    name : str
        Of the file, for messages.
    """

    x: FloatArray
    y: FloatArray
    values: FloatArray
    kind: Literal["cp", "pressure"] | None
    name: str

    def map(self, factor: float = 1.0) -> GridMap:
        """Net pressure in Pa: the values times ``factor``."""
        return GridMap(self.x, self.y, factor * self.values)


def read_grid(
    path: str | Path, kind: Literal["cp", "pressure"], *, length_unit: str = "m", pressure_unit: str = "Pa"
) -> Grid:
    """Read a pressure map on a regular grid.

    Parameters
    ----------
    path : str or Path
        A text file in UTF-8 of at most 20 MB.
    kind : {"cp", "pressure"}
        What the values of a cross table are; other files say it themselves.
    length_unit : str
        Of x and y where their columns name none.
    pressure_unit : str
        Of a pressure where its column names none.

    Raises
    ------
    FileError
        One sentence that names the file, the line and the mend.
    """
    file = Path(path)
    rows = data_lines(read_text(file, "values"), file.name, longest=LONGEST_LINE)
    if not rows:
        raise FileError(
            f"{file.name} has no line but comments; it needs the y stations or a header, and values."
        )
    line, first = rows[0]
    separator = next((s for s in "\t;," if s in first), None)
    if separator is None:
        raise FileError(
            f"{file.name}, line {line}: the line '{short(first)}' has one column; separate columns by commas, "
            f"semicolons or tabs."
        )
    cells = split_row(first, separator)
    if all(is_number(cell) for cell in cells[1:]):
        unit = (kind, 1.0 if kind == "cp" else _si(pressure_unit, "pressure"))
        return _cross_table(rows, separator, file.name, _si(length_unit, "length"), unit)
    columns = find_columns(cells, f"{file.name}, line {line}", length_unit, pressure_unit)
    if columns.side or not (columns.net or (columns.upper and columns.lower)):
        raise FileError(
            f"{file.name}, line {line}: a grid needs a net value, or that of both faces, at each place; for faces "
            f'read at different places use kind = "taps".'
        )
    found = read_rows(rows[1:], separator, columns, file.name)
    if "net" not in found:
        raise FileError(f"{file.name}: some places have a value of one face only; complete them.")
    return _list_of_places(np.array(found["net"].numbers).reshape(-1, 3), columns.kind, file.name)


def _si(unit: str, dimension: str) -> float:
    return float(quantity(f"1 {unit}", dimension))


def _cross_table(
    rows: Sequence[tuple[int, str]], separator: str, name: str, length: float, unit: tuple[str, float]
) -> Grid:
    line, first = rows[0]
    y = _stations(split_row(first, separator)[1:], f"{name}, line {line}: y", length)
    if len(rows) * len(y) > MOST_TAPS:
        raise FileError(f"{name} has {len(rows) * len(y)} values; thin it out to {MOST_TAPS} at most.")
    x, values = [], []
    for line, row in rows[1:]:
        cells = split_row(row, separator)
        if len(cells) != len(y) + 1:
            raise FileError(
                f"{name}, line {line}: there are {len(cells)} fields where the first line has {len(y) + 1}; give an "
                f"x station and a value for each y station."
            )
        x += _stations(cells[:1], f"{name}, line {line}: x", length)
        place = f"{name}, line {line}, column"
        values.append([_value(c, unit, f"{place} {k}: the value") for k, c in enumerate(cells[1:], start=2)])
    along, across = (_order(np.array(s), name, axis) for s, axis in ((x, "x"), (y, "y")))
    table = np.array(values).reshape(len(x), len(y))[along][:, across]
    return Grid(np.array(x)[along], np.array(y)[across], table, None, name)


def _value(cell: str, unit: tuple[str, float], what: str) -> float:
    kind, factor = unit
    return within_reason(number(cell, what, "repair it"), factor, kind, what)


def _stations(cells: Sequence[str], what: str, length: float) -> list[float]:
    numbers = [number(cell, what) for cell in cells]
    return [within_reach(n, length, f"{what} = {n:g}", "in the design") for n in numbers]


def _order(stations: FloatArray, name: str, axis: str) -> NDArray[np.intp]:
    """Order in which stations ascend; too few or equal ones are refused."""
    order = np.argsort(stations, kind="stable")
    if len(stations) < 2:
        raise FileError(
            f"{name} has too few {axis} stations ({len(stations)}); a grid needs two or more each way."
        )
    steps = np.diff(stations[order])
    if (steps <= CLOSEST_TAPS).any():
        at = 1e3 * stations[order][int(np.argmin(steps))]
        raise FileError(f"{name} has the {axis} station {at:.1f} mm twice; keep one.")
    return order


def _list_of_places(table: FloatArray, kind: Literal["cp", "pressure"], name: str) -> Grid:
    """Put places in any order on their grid."""
    if len(table) > MOST_TAPS:
        raise FileError(f"{name} has {len(table)} values; thin it out to {MOST_TAPS} at most.")
    (x, i), (y, j) = (_levels(table[:, axis]) for axis in (0, 1))
    if min(len(x), len(y)) < 2:
        raise FileError(f"{name} has {len(x)} x and {len(y)} y stations; a grid needs two or more of each.")
    if len(x) * len(y) > 4 * len(table):
        raise FileError(
            f"{name}: its {len(table)} places lie on {len(x)} x and {len(y)} y stations and make no grid; use kind = "
            f'"taps".'
        )
    count = np.zeros((len(x), len(y)), dtype=np.intp)
    np.add.at(count, (i, j), 1)
    if (count != 1).any():
        a, b = np.argwhere(count != 1)[0]
        what = "is missing" if count[a, b] == 0 else "is there twice"
        raise FileError(
            f"{name}: of its grid of {len(x)} by {len(y)} places that at x = {1e3 * x[a]:.1f}, y = {1e3 * y[b]:.1f} mm "
            f'{what}; mend it, or use kind = "taps".'
        )
    values = np.empty(count.shape)
    values[i, j] = table[:, 2]
    return Grid(x, y, values, kind, name)


def _levels(places: FloatArray) -> tuple[FloatArray, NDArray[np.intp]]:
    """Distinct stations, ascending, and which one each place is on."""
    order = np.argsort(places, kind="stable")
    fresh = (
        np.concatenate([[True], np.diff(places[order]) > CLOSEST_TAPS]) if len(places) else np.empty(0, bool)
    )
    level = np.empty(len(places), dtype=np.intp)
    level[order] = np.cumsum(fresh) - 1
    return places[order][fresh], level
