"""Text files in TOML that people write: of limited size, and told with the line when they are wrong."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from splitterfem.errors import FileError, neighbours

MOST_BYTES = 2_000_000

_LONGEST_LINE = 20_000

_DEEPEST = 60
"""Tables within tables; what is written by hand has a handful."""

_MOST_ITEMS = 5_000
"""Of a list or a table; the longest are those of the points of an edge."""

_LISTS = (
    "bolts", "cases", "cutouts", "doublers", "handling", "parameters", "pins", "pockets", "ribs", "stops", "struts",
    "sweeps",
)  # fmt: skip
"""Tables of which there can be many."""


def read_toml(place: Path, what: str) -> dict[str, Any]:
    """Read a file of tables.

    Parameters
    ----------
    place : Path
        TOML, UTF-8, at most 2 MB.
    what : str
        What it is to be, such as "design file", for messages.

    Raises
    ------
    FileError
        One sentence: the file is missing, too large, not text, nested too deeply, or not TOML, with the line.
    """
    return _tables(_text(place, what), place.name)


def _text(place: Path, what: str) -> str:
    """Read a file of limited size as UTF-8."""
    try:
        with place.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise FileError(f"there is no file {place}; {neighbours(place)}") from None
    except IsADirectoryError:
        raise FileError(f"{place} is a folder; name the {what} in it") from None
    except (OSError, ValueError) as problem:
        raise FileError(f"{place.name} cannot be read: {reason(problem)}") from None
    if len(raw) > MOST_BYTES:
        raise FileError(f"{place.name} is larger than {MOST_BYTES // 1_000_000} MB; a {what} is far smaller")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise FileError(f"{place.name} is not UTF-8 text at line {line}; save it as UTF-8") from None
    if "\0" in text:
        raise FileError(f"{place.name} is not a text file; name a {what} in TOML")
    return text


def reason(problem: Exception) -> str:
    """Return why a file cannot be read or written, and what to check."""
    text = problem.strerror if isinstance(problem, OSError) and problem.strerror else str(problem)
    return f"{text.lower()}; check its name, its folder and its permissions"


def _tables(text: str, file: str) -> dict[str, Any]:
    """Read TOML; a fault of syntax is told with its line."""
    lines = text.splitlines()
    for number, line in enumerate(lines, start=1):
        if len(line) > _LONGEST_LINE:
            raise FileError(f"{file}: line {number} has {len(line)} characters; break it into shorter ones")
    try:
        data = tomllib.loads(text)
        _refuse_endless(data, file)
        return data
    except (RecursionError, MemoryError):
        raise FileError(f"{file}: brackets are nested too deeply; write one table after another") from None
    except ValueError as problem:
        raise FileError(f"{file}: {_syntax(str(problem), lines)}") from None


def _refuse_endless(data: dict[str, Any], file: str) -> None:
    """Refuse tables in tables beyond all reason, as dotted keys make them without any bracket, and endless lists.

    Raises
    ------
    RecursionError
        They are nested too deeply.
    FileError
        A list or a table has too many items.
    """
    level: list[tuple[str, Any]] = [("the file", data)]
    for _ in range(_DEEPEST):
        for name, one in level:
            if len(one) > _MOST_ITEMS:
                raise FileError(f"{file}: {name[:60]} has {len(one)} items; give at most {_MOST_ITEMS}")
        level = [
            (str(key), inner)
            for _, one in level
            for key, inner in (one.items() if isinstance(one, dict) else enumerate(one))
            if isinstance(inner, (dict, list))
        ]
    if level:
        raise RecursionError


def _syntax(problem: str, lines: list[str]) -> str:
    """Say where the syntax is wrong and, when it can be seen, what was forgotten."""
    found = re.search(r"\(at line (\d+), column (\d+)\)", problem)
    if not found:
        where = "the end of the file" if "end of document" in problem else "some line"
        return f"{where}: {problem.split(' (at')[0].lower()}; close brackets and quotes"
    number, column = int(found[1]), int(found[2])
    line = lines[number - 1].strip() if number <= len(lines) else ""
    bare = re.fullmatch(r"([\w.-]+)\s*=\s*([+-]?[0-9][^\"'#,\[\]{}]*?)\s*(#.*)?", line)
    what = problem[: found.start()].strip().lower()
    if bare:
        return f'line {number}: {line[:60]!r} has no quotes; write {bare[1]} = "{bare[2]}"'
    if "illegal character '\\n'" in what:
        return f"line {number}: a quote is not closed in {line[:60]!r}; end the text with the quote it began with"
    twice = re.search(r"cannot declare \('(\w+)',\) twice", what)
    if twice and twice[1] not in _LISTS:
        return f"line {number}: there are two tables [{twice[1]}]; make them one"
    if twice:
        name = twice[1]
        return f"line {number}: there are two tables [{name}]; write [[{name}]] above each, for there can be many"
    return f"line {number}, column {column}: {what} in {line[:60]!r}; mend the line"
