"""Where the files of a study's design lie: written down as seen from the study's file, and not trusted blindly."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any


def digest(content: bytes) -> str:
    """First 24 hex digits of the SHA-256 of a content."""
    return sha256(content).hexdigest()[:24]


def seen_from(header: Mapping[str, Any], place: Path) -> dict[str, Any]:
    """Return a study as plain data with the folder of its design as seen from a file of the study.

    So a folder with both can be moved, and the same study has the same bytes wherever it lies.

    Parameters
    ----------
    header : mapping
        Of :attr:`splitterfem.layouts.plan.Plan.header`.
    place : Path
        Of the file.
    """
    folder = header["folder"]
    if folder is None:
        return dict(header)
    try:
        path = os.path.relpath(folder, place.absolute().parent.resolve())
    except ValueError:  # another drive of Windows
        return dict(header)
    return {**header, "folder": Path(path).as_posix()}


def folder_of(header: Mapping[str, Any], data: Mapping[str, Any], place: Path | None) -> Path | None:
    """Find the folder of the files that a study's design names.

    It is the one written down if all files are there with the content that the study began with, and else the folder
    of the study's own file: a study from a stranger cannot have other files of this machine read.

    Parameters
    ----------
    header : mapping
        The study as plain data.
    data : mapping
        Its design as tables.
    place : Path or None
        Of the file of the study; None for a study that was not in a file.
    """
    if header["folder"] is None:
        return None
    home = Path() if place is None else place.absolute().parent
    folder = home / str(header["folder"])
    known = header["files"]
    named = set(_files(data))
    if named <= set(known) and all(_is_there(folder, name, known[name]) for name in named):
        return folder
    return home


def _files(data: object, key: str = "") -> Iterator[str]:
    """Find every file that tables name: texts under a key such as ``file`` or ``file_low``."""
    if isinstance(data, Mapping):
        for name, value in data.items():
            yield from _files(value, str(name))
    elif isinstance(data, list):
        for value in data:
            yield from _files(value, key)
    elif isinstance(data, str) and "file" in key:
        yield data


def _is_there(folder: Path, name: str, wanted: object) -> bool:
    """Tell whether a file within a folder has a content."""
    try:
        full = (folder / name).resolve()
        return full.is_relative_to(folder.resolve()) and digest(full.read_bytes()) == wanted
    except (OSError, ValueError):
        return False
