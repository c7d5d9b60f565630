"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from splitterfem.errors import FileError


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
        The folder is missing, the target is a folder, or the file cannot be written.
    """
    target = ready(path)
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{target.name}.", suffix=".part", dir=target.absolute().parent
        )
    except (OSError, ValueError) as problem:
        raise _not_written(target, problem) from None
    os.close(handle)
    try:
        yield Path(name)
        os.chmod(name, _permissions(target))
        os.replace(name, target)
    except OSError as problem:
        raise _not_written(target, problem) from problem
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(name)


def ready(path: str | os.PathLike[str]) -> Path:
    """Return a target after a look whether it can be one; worth a call before a long run.

    Raises
    ------
    FileError
        Its folder is missing, or it is a folder itself.
    """
    target = Path(path)
    if target.is_dir():
        raise FileError(f"{target} is a folder; give the name of a file in it.")
    parent = target.absolute().parent
    if not parent.is_dir():
        raise FileError(f"There is no folder {parent} for {target.name}; make it first.")
    return target


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


def _not_written(target: Path, problem: Exception) -> FileError:
    reason = getattr(problem, "strerror", None) or str(problem)
    return FileError(f"{target} cannot be written: {reason.lower()}; check its folder and permissions.")


def _permissions(target: Path) -> int:
    """Permissions of the file that is replaced, or the usual ones of a new file."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
