"""The design file: TOML with the field names of the classes, read and written without surprises."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from splitterfem.design._beside import copies, write_together
from splitterfem.design._layout import text_of
from splitterfem.design._record import build, plain
from splitterfem.design.pressure import inside_folder
from splitterfem.design.splitter import Splitter
from splitterfem.design.toml_file import read_toml, reason
from splitterfem.errors import DesignError, FileError, SplitterError

VERSION = 1


def load(path: str | os.PathLike[str], *, files_in: str | os.PathLike[str] | None = None) -> Splitter:
    """Read a splitter from a design file.

    Parameters
    ----------
    path : path
        TOML, UTF-8, at most 2 MB, with ``version = 1``. Every quantity is a text with its unit.
    files_in : path, optional
        Folder of the files that the design names, maps and drawings; its own folder when left out. None of them may
        lie outside, also not by a link: a design from a stranger reads nothing but what is in a folder that you chose.

    Returns
    -------
    Splitter
        It remembers the folder that paths in it are relative to.

    Raises
    ------
    FileError
        The file is missing, too large, not text, not TOML, or of another version; `files_in` is no folder.
    DesignError
        A line for each fault: ``file: table.field: what was found and what would be right``.
    """
    place = Path(path)
    data = read_toml(place, "design file")
    version = data.pop("version", None)
    if version is None:
        raise FileError(f"{place.name}: version is missing; write version = {VERSION} in the first line")
    if isinstance(version, bool) or version != VERSION:
        raise FileError(
            f"{place.name}: version is {version!r:.40}, and this library reads version {VERSION}; "
            "update the library, or write the file anew"
        )
    folder = _chosen(files_in, place)
    return build(Splitter, data, prefix=place.name, in_file=True, folder=folder).in_folder(folder)


def _chosen(files_in: str | os.PathLike[str] | None, place: Path) -> Path:
    """Return the folder of the files that a design names."""
    if files_in is None:
        return place.absolute().parent
    if not os.path.isdir(files_in):
        raise FileError(
            f"there is no folder {files_in} for the files that {place.name} names; check its name"
        )
    return Path(files_in).absolute()


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
        raise FileError(f"{place.name} cannot be written: {reason(problem)}") from None


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
    """Return the JSON schema of the design file; quantities are texts with units.

    Returns
    -------
    dict
        Draft 2020-12 of JSON Schema.
    """
    schema = Splitter.model_json_schema(mode="validation")
    version = {"const": VERSION, "type": "integer", "description": "version of the file format"}
    schema["properties"] = {"version": version, **schema["properties"]}
    schema["required"] = ["version", *schema["required"]]
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return schema
