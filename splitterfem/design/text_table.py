"""Text files with a table: lines with their numbers, the heading, and the fields of a line.

Columns are apart by commas, semicolons or tabs; lines that start with ``#`` are comments, and the first other line
names the columns.
"""

from __future__ import annotations

import csv
from pathlib import Path

from splitterfem.design.drawing_frame import limited_bytes, printable
from splitterfem.errors import FileError

Rows = list[tuple[int, str]]

_LONGEST_LINE = 10_000


def rows_of(path: Path, *, largest: int, what: str, each: str) -> Rows:
    """Lines that are neither blank nor comments, with their numbers.

    Parameters
    ----------
    path : Path
    largest : int
        Bytes that the file may have.
    what, each : str
        What it is a table of, and what stands on a line, for messages.

    Raises
    ------
    FileError
        If the file cannot be read, is too large or is no text.
    """
    content = limited_bytes(path, largest, f"table of {what}")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content.count(b"\n", 0, problem.start) + 1
        raise FileError(
            f"{path.name}, line {line}: this is not UTF-8 text; save the table as CSV in UTF-8"
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise FileError(f"{path.name}, line {line}: this is not text; save the table as CSV in UTF-8")
    rows = []
    for number, row in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1):
        if len(row) > _LONGEST_LINE:
            raise FileError(f"{path.name}, line {number}: the line is too long; write one {each} on a line")
        if row.strip() and not row.lstrip().startswith("#"):
            rows.append((number, row.strip(" ")))
    return rows


def heading_of(path: Path, rows: Rows, *, needs: str, apart: str) -> tuple[str, list[str]]:
    """Find what separates the columns, and their headings.

    Parameters
    ----------
    path : Path
    rows : list of (int, str)
    needs, apart : str
        What the file should have, and what is to be separated, for messages.

    Raises
    ------
    FileError
        If there is no line, or but one column.
    """
    if not rows:
        raise FileError(f"{path.name} has no line but comments; it needs {needs}")
    number, header = rows[0]
    separator = next((s for s in "\t;," if s in header), None)
    if separator is None:
        raise FileError(
            f"{path.name}, line {number}: the heading '{printable(header, 40)}' has one column; separate {apart} by "
            "commas, semicolons or tabs"
        )
    return separator, _cells(header, separator)


def fields_of(row: str, separator: str, count: int, *, place: str, rule: str = "") -> list[str]:
    """Cut a line into its fields.

    Parameters
    ----------
    row, separator : str
    count : int
        Of the headings.
    place, rule : str
        Where the line is, and what else to say of fields, for messages.

    Raises
    ------
    FileError
        If there are more or fewer.
    """
    cells = _cells(row, separator)
    if len(cells) != count:
        comma = " (if commas mark decimals, write points)" if separator == "," else ""
        raise FileError(
            f"{place}: there are {len(cells)} fields where the heading has {count}{comma}; give one field for each "
            f"column{rule}"
        )
    return cells


def _cells(row: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([row], delimiter=separator, skipinitialspace=True))]
