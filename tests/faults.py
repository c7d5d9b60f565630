"""Places where things go wrong, for tests: a small disk, mounted to read only or not, and files that may not grow."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX system")


def mounted(place: Path, options: str) -> Iterator[Path]:
    """Mount a small file system in memory at a place, which root may do; skips the test where that fails."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("mounting a small disk needs root on Linux")
    place.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip(f"no small disk can be mounted here: {done.stderr.decode().strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


@contextlib.contextmanager
def largest_file(size: int) -> Iterator[None]:
    """Let no file grow beyond a size in bytes, as a quota would; anybody may do that to itself."""
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def fill(disk: Path, leave: int) -> Path:
    """Fill a disk but for so many bytes; deleting the file that is returned empties it again."""
    filler = disk / "filler"
    free = shutil.disk_usage(disk).free - leave
    filler.write_bytes(bytes(max(free, 0)))
    return filler
