"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from splitterfem.errors import FileError
from splitterfem.replacing import beside, not_written, on_disk, put, ready

__all__ = ["folder", "ready", "replaced", "replaced_together", "write_bytes", "write_text"]


@contextlib.contextmanager
def replaced(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a temporary file beside a target; it takes the target's place when the block ends well.

    Until then, and for ever if the block fails, an existing target stays as it is. A link at the target is
    replaced and not followed.

    Parameters
    ----------
    path : path
        The target; its folder must exist.

    Yields
    ------
    Path
        The temporary file, empty, in the same folder.

    Raises
    ------
    FileError
        The folder is missing or may not be written to, the target is no file, or the disk is full.
    """
    with replaced_together([path]) as (temporary,):
        yield temporary


@contextlib.contextmanager
def replaced_together(paths: Sequence[str | os.PathLike[str]]) -> Iterator[list[Path]]:
    """Give a temporary file beside each of some targets; when the block ends well, all take their places.

    All of them are on the disk before the first takes its place, so that a full disk changes none.

    Yields
    ------
    list of Path
        The temporary files, empty, in the order of the targets.

    Raises
    ------
    FileError
        As `replaced`.
    """
    targets, temporary = [ready(path) for path in paths], list[Path]()
    try:
        temporary += [beside(target) for target in targets]
        yield temporary
        for name in temporary:
            on_disk(name)
        for name, target in zip(temporary, targets, strict=True):
            put(name, target)
    except OSError as problem:
        raise not_written(targets[0], problem) from problem
    finally:
        for name in temporary:
            with contextlib.suppress(FileNotFoundError):
                name.unlink()


def write_bytes(path: str | os.PathLike[str], content: bytes) -> Path:
    """Write a whole file and return its path.

    Raises
    ------
    FileError
        As `replaced`.
    """
    with replaced(path) as temporary:
        temporary.write_bytes(content)
    return Path(path)


def write_text(path: str | os.PathLike[str], text: str) -> Path:
    """Write a whole text file in UTF-8, its line ends as they are, and return its path.

    Raises
    ------
    FileError
        As `replaced`.
    """
    return write_bytes(path, text.encode("utf-8"))


def folder(path: str | os.PathLike[str]) -> Path:
    """Return a folder, made if it is not there yet.

    Raises
    ------
    FileError
        It cannot be made, or a file has that name.
    """
    place = Path(path)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise FileError(f"{place} is a file and not a folder; give the name of a folder.") from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise FileError(
            f"The folder {place} cannot be made: {reason.lower()}; choose another place."
        ) from None
    return place
