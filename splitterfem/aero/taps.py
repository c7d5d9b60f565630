"""Reading scattered pressure taps from a text file.

The file is a table of columns apart by commas, semicolons or tabs: lines that start with ``#`` are
comments, the first other line names the columns, each further line is one tap. Needed are ``x``, ``y`` and
one of

- ``cp`` (net pressure coefficient) or ``p`` (net pressure), net being upper face minus lower face;
- ``cp_upper`` and ``cp_lower``, or ``p_upper`` and ``p_lower``; a tap that was read on one face only leaves the
  other empty;
- ``cp`` or ``p`` of one face, and ``side`` with the word upper or lower.

The two faces may also come in two files. A unit may follow a name: ``x_mm``, ``y [in]``, ``p_kPa``. Other columns
are left alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero._tap_rows import Face, Readings, read_rows
from splitterfem.aero._tap_table import (
    MOST_TAPS,
    Columns,
    data_lines,
    find_columns,
    read_text,
    short,
    split_row,
)
from splitterfem.aero.combined import FacesMap
from splitterfem.aero.tap_map import TapMap, on_one_line, same_place
from splitterfem.errors import DesignError, FileError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Taps:
    """Scattered readings, as found in a file.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Positions x, y, m.
    values : ndarray, shape (n,)
        Net pressure coefficients, or net pressures in Pa; those of the upper face when there is a `lower`.
    kind : {"cp", "pressure"}
        What the values are.
    name : str
        Of the file, for messages.
    lower : Taps, optional
        Readings of the lower face, at places of their own.
    """

    points: FloatArray
    values: FloatArray
    kind: Literal["cp", "pressure"]
    name: str
    lower: Taps | None = None

    def over(self, lower: Taps) -> Taps:
        """Take these readings as those of the upper face, and others as those of the lower face.

        Raises
        ------
        DesignError
            If one holds both faces already, or one has coefficients and the other pressures.
        """
        for taps in (self, lower):
            if taps.lower is not None:
                raise DesignError(
                    f"The taps of {taps.name} hold both faces; give no second file, or one face in each."
                )
        if self.kind != lower.kind:
            words = {"cp": "coefficients", "pressure": "pressures"}
            raise DesignError(
                f"The taps of {self.name} are {words[self.kind]} and those of {lower.name} {words[lower.kind]}; "
                f"give both in the same way."
            )
        return replace(self, lower=lower)

    def pressures(self, q: float | None = None, *, q_reference: float | None = None) -> FloatArray:
        """Net pressures in Pa, or those of the upper face when there is a `lower`.

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

    def map(self, q: float | None = None, *, q_reference: float | None = None) -> TapMap | FacesMap:
        """Interpolated net pressure in Pa; parameters and errors as in `pressures`."""
        here = TapMap(self.points, self.pressures(q, q_reference=q_reference))
        if self.lower is None:
            return here
        return FacesMap(here, TapMap(self.lower.points, self.lower.pressures(q, q_reference=q_reference)))


def read_taps(
    path: str | Path,
    *,
    length_unit: str = "m",
    pressure_unit: str = "Pa",
    face: Literal["upper", "lower"] | None = None,
) -> Taps:
    """Read a table of taps.

    Parameters
    ----------
    path : str or Path
        A text file in UTF-8 of at most 20 MB.
    length_unit : str
        Of x and y where their columns name none.
    pressure_unit : str
        Of the pressure where its column names none.
    face : {"upper", "lower"}, optional
        The face that the file is of, when each has a file of its own; the values are then not net.

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
    readings = read_rows(rows[1:], separator, columns, file.name)
    for one in readings:
        _check(readings[one], file.name, one)
    if face is None:
        _check_faces(readings, columns, place)
    elif set(readings) not in ({"net"}, {face}) or (columns.upper and columns.lower):
        both = columns.side or (columns.upper and columns.lower)
        holds = "both faces" if both else f"the {next(iter(readings))} face"
        raise FileError(
            f"{file.name} is given for the {face} face and holds {holds}; give it for what it holds."
        )
    taps = {one: _taps(found, columns.kind, file.name) for one, found in readings.items()}
    first = taps.get("net") or taps.get("upper") or taps["lower"]
    return replace(first, lower=taps["lower"]) if "upper" in taps and "lower" in taps else first


def _taps(found: Readings, kind: Literal["cp", "pressure"], name: str) -> Taps:
    numbers = np.array(found.numbers, dtype=np.float64).reshape(-1, 3)
    numbers.setflags(write=False)
    return Taps(points=numbers[:, :2], values=numbers[:, 2], kind=kind, name=name)


def _check_faces(readings: Mapping[Face, Readings], columns: Columns, place: str) -> None:
    """Refuse a table of one face only."""
    if "net" in readings or len(readings) == 2:
        return
    face = next(iter(readings))
    other = "lower" if face == "upper" else "upper"
    value = columns.upper or columns.lower
    assert value is not None
    raise FileError(
        f"{place}: there is a column '{value.name}' and none of the {other} face, and the net pressure needs both; "
        f"add the other column, or give a file for each face."
    )


def _check(found: Readings, name: str, face: Face) -> None:
    """Refuse taps that cannot carry a map."""
    points = np.array(found.numbers, dtype=np.float64).reshape(-1, 3)[:, :2]
    lines, of = found.lines, "" if face == "net" else f" on the {face} face"
    if len(points) < 3:
        last = f"line {lines[-1]}" if lines else "the header"
        raise FileError(
            f"{name} ends after {last} with too few taps{of} ({len(points)}); a map needs three or more."
        )
    pair = same_place(points)
    if pair is not None:
        x, y = 1e3 * points[pair[0]]
        raise FileError(
            f"{name}, line {lines[pair[1]]}: the tap{of} at x = {x:.1f}, y = {y:.1f} mm is already on line "
            f"{lines[pair[0]]}; keep one of them."
        )
    if on_one_line(points):
        raise FileError(
            f"{name}: all {len(points)} taps{of} lie on one line; a map needs taps that span an area."
        )
