"""How a file takes the place of another: written beside it, put on the disk, then renamed, so that there is no half."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from pathlib import Path

from splitterfem.errors import FileError

ENDING = ".part"
"""Ending of files that are being written; one that a killed process left behind may be deleted."""

_TRIES = 20
_LETTERS = 40  # of the target's name: with four bytes each they leave room for the rest below the usual 255


def ready(path: str | os.PathLike[str]) -> Path:
    """Return a target after a look whether it can be one; worth a call before a long run.

    Raises
    ------
    FileError
        Its folder is missing or may not be written to, its name is too long, or it is a folder itself or another
        thing that is no file.
    """
    target = Path(path)
    try:
        kind = os.stat(target).st_mode
    except FileNotFoundError:
        kind = stat.S_IFREG
    except NotADirectoryError:
        kind = stat.S_IFREG  # the folder is looked at below
    except (OSError, ValueError) as problem:
        raise not_written(target, problem) from None
    if stat.S_ISDIR(kind):
        raise FileError(f"{target} is a folder; give the name of a file in it.")
    if not stat.S_ISREG(kind):
        raise FileError(f"{target} is a device or a pipe and not a file; give the name of a file.")
    folder = target.absolute().parent
    if not folder.is_dir():
        raise FileError(f"There is no folder {folder} for {target.name}; make it first.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise not_written(target, OSError(errno.EACCES, _why_not(folder)))
    return target


def _why_not(folder: Path) -> str:
    """Say why nothing can be written into a folder."""
    try:
        mounted_to_read = bool(os.statvfs(folder).f_flag & os.ST_RDONLY)
    except (OSError, AttributeError):  # Windows has no such call
        mounted_to_read = False
    return os.strerror(errno.EROFS if mounted_to_read else errno.EACCES)


def beside(target: Path) -> Path:
    """Make an empty file in the folder of a target, which nobody else may read if the target is there already.

    Raises
    ------
    OSError
        It cannot be made.
    """
    folder, mode = target.absolute().parent, _mode(target)
    for _ in range(_TRIES):
        name = folder / f".{target.name[:_LETTERS]}.{secrets.token_hex(4)}{ENDING}"
        try:
            handle = os.open(name, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666 if mode is None else 0o600)
        except FileExistsError:
            continue
        os.close(handle)
        return name
    raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder))


def _mode(target: Path) -> int | None:
    """Permissions of the file that is replaced; None for the usual ones of a new file."""
    try:
        return stat.S_IMODE(target.stat().st_mode) & 0o777
    except OSError:
        return None


def on_disk(place: Path) -> None:
    """Have the content of a file on the disk, and not only on its way there.

    Raises
    ------
    OSError
        The disk is full, or fails.
    """
    with place.open("rb+") as stream:
        os.fsync(stream.fileno())


def put(temporary: Path, target: Path) -> None:
    """Let a file take the place of another, at once, with its permissions; a link is replaced and not followed.

    Raises
    ------
    OSError
        It cannot; the target is as it was.
    """
    mode = _mode(target)
    if mode is not None:
        temporary.chmod(mode)
    os.replace(temporary, target)
    keep_names(target.absolute().parent)


def keep_names(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can be asked for it."""
    with contextlib.suppress(OSError):  # Windows opens no folders, and some file systems refuse
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def not_written(target: Path, problem: Exception) -> FileError:
    """Return the error that says why a file cannot be written, and what would mend it."""
    reason = getattr(problem, "strerror", None) or str(problem)
    mend = {
        errno.ENOSPC: "make room on the disk or choose another place",
        errno.EDQUOT: "make room on the disk or choose another place",
        errno.ENAMETOOLONG: "choose a shorter name or another folder",
        errno.EFBIG: "make room or raise the limit on the size of files",
    }.get(getattr(problem, "errno", None) or 0, "check its folder and permissions")
    shown = str(target) if len(str(target)) <= 300 else f"...{str(target)[-200:]}"
    return FileError(f"{shown} cannot be written: {reason.lower()}; {mend}.")
