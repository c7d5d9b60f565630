"""The design file: TOML with the field names of the classes, read and written without surprises."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any

from splitterfem.design._beside import copies, write_together
from splitterfem.design._layout import text_of
from splitterfem.design._record import build, plain
from splitterfem.design.pressure import inside_folder
from splitterfem.design.splitter import Splitter
from splitterfem.errors import DesignError, FileError, SplitterError, nearest

VERSION = 1
MOST_BYTES = 2_000_000
_LONGEST_LINE = 20_000


def load(path: str | os.PathLike[str]) -> Splitter:
    """Read a splitter from a design file.

    Parameters
    ----------
    path : path
        TOML, UTF-8, at most 2 MB, with ``version = 1``. Every quantity is a text with its unit.

    Returns
    -------
    Splitter
        It remembers the folder of the file, which paths in it are relative to.

    Raises
    ------
    FileError
        The file is missing, too large, not text, not TOML, or of another version.
    DesignError
        A line for each fault: ``file: table.field: what was found and what would be right``.
    """
    place = Path(path)
    data = _tables(_text(place), place.name)
    version = data.pop("version", None)
    if version is None:
        raise FileError(f"{place.name}: version is missing; write version = {VERSION} in the first line")
    if isinstance(version, bool) or version != VERSION:
        raise FileError(
            f"{place.name}: version is {version!r:.40}, and this library reads version {VERSION}; "
            "update the library, or write the file anew"
        )
    folder = place.absolute().parent
    return build(Splitter, data, prefix=place.name, in_file=True, folder=folder).in_folder(folder)


def save(splitter: Splitter, path: str | os.PathLike[str]) -> None:
    """Write a splitter to a design file, in the words in which it was given.

    The files that it names, of pressures and of the panel's drawing, are copied beside it when it goes to another
    folder than its own, under the same relative paths. The file and its copies appear whole or not at all: they
    are written beside their targets and then take their places. Files that a design made in Python names are
    looked for in the working directory, and left for later when they are not there.

    Parameters
    ----------
    splitter : Splitter
        What to write.
    path : path
        Where to; an existing design file is replaced, no other file ever is.

    Raises
    ------
    DesignError
        The splitter holds something that a file cannot: a pressure map that is a Python function, or a
        path outside the folder.
    FileError
        The file cannot be written, or a file that it names is missing or would take the place of a
        different one.
    """
    place = Path(path)
    text = dumps(splitter)
    try:
        found = copies(splitter, place) if place.absolute().parent.is_dir() else []
        write_together(place, text, found)
    except (OSError, ValueError) as problem:
        if isinstance(problem, SplitterError):
            raise
        raise FileError(f"{place.name} cannot be written: {_reason(problem)}") from None


def dumps(splitter: Splitter) -> str:
    """Return the text of the design file of a splitter.

    Raises
    ------
    DesignError
        The splitter holds something that a file cannot.
    """
    drawing = splitter.panel.drawing
    if drawing is not None and not inside_folder(drawing.file):
        raise DesignError(
            f'panel.drawing.file: "{drawing.file}" leaves the folder of the design file; copy the file beside '
            "it and give its name"
        )
    for case in splitter.cases:
        if case.pressure is None:
            continue
        if case.pressure.kind == "function":
            raise DesignError(
                f"cases.{case.name}.pressure: a Python function cannot be written to a file; "
                "write its values to a file of taps and name that"
            )
        for name in case.pressure.files:
            if not inside_folder(name):
                raise DesignError(
                    f'cases.{case.name}.pressure.file: "{name}" leaves the folder of the design file; copy the '
                    "file beside it and give its name"
                )
    return text_of({"version": VERSION, **plain(splitter)})


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of the design file; quantities are texts with units."""
    schema = Splitter.model_json_schema(mode="validation")
    version = {"const": VERSION, "type": "integer", "description": "version of the file format"}
    schema["properties"] = {"version": version, **schema["properties"]}
    schema["required"] = ["version", *schema["required"]]
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return schema


def _text(place: Path) -> str:
    """Read a file of limited size as UTF-8."""
    try:
        with place.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise FileError(f"there is no file {place}{_neighbours(place)}") from None
    except IsADirectoryError:
        raise FileError(f"{place} is a folder; name the design file in it") from None
    except (OSError, ValueError) as problem:
        raise FileError(f"{place.name} cannot be read: {_reason(problem)}") from None
    if len(raw) > MOST_BYTES:
        raise FileError(
            f"{place.name} is larger than {MOST_BYTES // 1_000_000} MB; a design file is far smaller"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise FileError(f"{place.name} is not UTF-8 text at line {line}; save it as UTF-8") from None
    if "\0" in text:
        raise FileError(f"{place.name} is not a text file; name a design file in TOML")
    return text


def _neighbours(place: Path) -> str:
    """Hint at the design files that the folder has."""
    try:
        found = [other.name for other in place.parent.glob("*.toml")][:200]
    except OSError:
        found = []
    return f"; {nearest(place.name, found)}" if found else "; check its name and folder"


def _reason(problem: Exception) -> str:
    text = problem.strerror if isinstance(problem, OSError) and problem.strerror else str(problem)
    return f"{text.lower()}; check its name, its folder and its permissions"


def _tables(text: str, file: str) -> dict[str, Any]:
    """Read TOML; a fault of syntax is told with its line."""
    lines = text.splitlines()
    for number, line in enumerate(lines, start=1):
        if len(line) > _LONGEST_LINE:
            raise FileError(f"{file}: line {number} has {len(line)} characters; break it into shorter ones")
    try:
        return tomllib.loads(text)
    except (RecursionError, MemoryError):
        raise FileError(f"{file}: brackets are nested too deeply; write one table after another") from None
    except ValueError as problem:
        raise FileError(f"{file}: {_syntax(str(problem), lines)}") from None


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
    if twice:
        name = twice[1]
        return f"line {number}: there are two tables [{name}]; write [[{name}]] above each, for there can be many"
    return f"line {number}, column {column}: {what} in {line[:60]!r}; mend the line"
