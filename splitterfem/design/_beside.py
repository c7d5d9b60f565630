"""Writing a design file together with the files that it names: all of them appear, or none."""

from __future__ import annotations

import contextlib
import filecmp
import os
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from splitterfem.errors import FileError
from splitterfem.replacing import beside, on_disk, put

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter


class Copy(NamedTuple):
    """A file to copy, and where to."""

    source: Path
    target: Path


def copies(splitter: Splitter, place: Path) -> list[Copy]:
    """Return the files that a design names and that are not beside a new design file yet.

    Parameters
    ----------
    splitter : Splitter
        Its folder, or the working directory when it has none, is where its files are.
    place : Path
        Of the new design file, in a folder that exists.

    Raises
    ------
    DesignError
        A path leads out of a folder, through a link for example.
    FileError
        A file is missing, would take the place of a different one, or is the one that the design goes to.
    """
    folder = place.absolute().parent
    there = splitter.in_folder(folder)
    home = Path.cwd() if splitter.folder is None else splitter.folder
    found = list[Copy]()
    for name in _named(splitter):
        one = Copy(splitter.path(name).absolute(), there.path(name))
        if place.resolve() in (one.target, one.source.resolve()):
            raise FileError(f"{place.name} is the name of a file that the design needs; choose another name")
        if home.resolve() == folder.resolve() or _is_there(one, place):
            continue
        if one.source.is_file():
            found.append(one)
        elif splitter.folder is not None:
            raise FileError(
                f"{place.name} cannot be written: there is no file {name} in {home} to copy beside it; put it there"
            )
    return found


def _named(splitter: Splitter) -> list[str]:
    """Return the files that a design names, each once."""
    maps = [case.pressure for case in splitter.cases if case.pressure is not None]
    names = [name for one in maps for name in one.files]
    drawing = splitter.panel.drawing
    return list(dict.fromkeys(names if drawing is None else [drawing.file, *names]))


def _is_there(one: Copy, place: Path) -> bool:
    """Tell whether the copy is there already; refuse to put it in the place of something else."""
    if not os.path.lexists(one.target):
        return False
    try:
        if not one.source.exists() or filecmp.cmp(one.source, one.target, shallow=False):
            return True
    except OSError:
        pass  # a folder, or not to be read: not the same
    raise FileError(
        f"{place.name} cannot be written: {one.target} is another file than {one.source}, which the design names; "
        "rename one of the two, or choose another folder"
    )


def write_together(place: Path, text: str, found: Sequence[Copy]) -> None:
    """Write a text file and copies of other files; when anything fails, nothing has changed.

    Each is written beside its place first. A link at the place of the text is replaced and not followed.

    Raises
    ------
    OSError
        One of them cannot be written.
    """
    with contextlib.ExitStack() as undo:
        for one in found:
            _make_folder(one.target.parent, undo)
        temporary = [_beside(one.target, undo) for one in found]
        for one, name in zip(found, temporary, strict=True):
            shutil.copyfile(one.source, name)
        own = _beside(place, undo)
        own.write_text(text, encoding="utf-8", newline="\n")
        for name in (*temporary, own):
            on_disk(name)
        for one, name in zip(found, temporary, strict=True):
            put(name, one.target)
            undo.callback(one.target.unlink, missing_ok=True)
        put(own, place)
        undo.pop_all()  # everything is in its place


def _beside(target: Path, undo: contextlib.ExitStack) -> Path:
    """Make an empty temporary file in the folder of a target."""
    name = beside(target)
    undo.callback(name.unlink, missing_ok=True)
    return name


def _make_folder(folder: Path, undo: contextlib.ExitStack) -> None:
    """Make a folder and those above it; on the way back those made here go, if they are empty."""
    for missing in [one for one in (*reversed(folder.parents), folder) if not one.exists()]:
        missing.mkdir(exist_ok=True)
        undo.callback(_drop, missing)


def _drop(folder: Path) -> None:
    with contextlib.suppress(OSError):
        folder.rmdir()
