"""A study's file: a line for the study, then a line for every finished layout, safe against being killed."""

from __future__ import annotations

import codecs
import contextlib
import json
import math
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO, FileIO
from pathlib import Path
from typing import Any

from splitterfem.errors import FileError, neighbours
from splitterfem.layouts.plan import Plan, difference
from splitterfem.layouts.solving import Done
from splitterfem.layouts.steps import Step
from splitterfem.layouts.whereabouts import seen_from
from splitterfem.replacing import keep_names, not_written, ready

MOST_BYTES, MOST_LINES = 50_000_000, 100_000
"""Bytes and lines of a study's file: what is read of it stays well below a gigabyte."""

MOST_MEASURES = 1000
"""Measures of a layout: fifty times as many as a study has."""

_START = b'{"splitterfem study"'


class Journal:
    """A study's file, open and locked for one process.

    Every line is JSON and ends with a line feed.  A layout is written when it is finished and is on the disk when
    `add` returns, so that a killed study loses only the layouts that it was solving.

    Parameters
    ----------
    path : path
        A new file is made; one of the same study is continued.
    plan : Plan

    Raises
    ------
    FileError
        If the file cannot be written, belongs to another study, is something else, is damaged, or another process
        writes to it.
    """

    def __init__(self, path: str | os.PathLike[str], plan: Plan) -> None:
        self.path = Path(path)
        self.done: dict[int, Done] = {}
        self.steps: dict[int, Step] = {}
        self._names = [one.name for one in plan.parameters]
        self._stream = _opened(self.path)
        try:
            _lock(self._stream, self.path)
            self._begin(plan)
        except BaseException:
            self._stream.close()
            raise

    def _begin(self, plan: Plan) -> None:
        content = _content(self._stream, self.path)
        header = {**seen_from(plan.header, self.path), "fingerprint": plan.fingerprint}
        torn_header = b"\n" not in content and (_START.startswith(content) or content.startswith(_START))
        if torn_header:  # nothing yet, or killed while the first line was written
            self._stream.truncate(0)
            self._write(header)
            keep_names(self.path.absolute().parent)
            return
        known, found, steps, end = parse(content, self.path)
        del content
        if known.get("fingerprint") != plan.fingerprint:
            raise FileError(
                f"{self.path} belongs to another study (of another {difference(known, header)}); give another file, "
                "or remove it to begin anew"
            )
        self._stream.truncate(end)
        self._stream.seek(0, os.SEEK_END)
        self.done, self.steps = found, steps

    def add(self, done: Done) -> None:
        """Write a finished layout; one that is there already is not written again."""
        if done.number in self.done:
            return
        self._write(_plain(done, self._names))
        self.done[done.number] = done

    def add_step(self, step: Step) -> None:
        """Write a step of a search; one that is there already is not written again."""
        if step.number in self.steps:
            return
        self._write(step.plain(self._names))
        self.steps[step.number] = step

    def _write(self, content: Mapping[str, Any]) -> None:
        """Write a line; when that fails, what was written of it is taken back."""
        line = (json.dumps(content, ensure_ascii=True, allow_nan=False) + "\n").encode()
        end = self._stream.seek(0, os.SEEK_END)
        if end + len(line) > MOST_BYTES or len(self.done) + len(self.steps) + 2 > MOST_LINES:
            raise FileError(
                f"{self.path} is full, as nothing beyond {MOST_LINES} lines and {MOST_BYTES // 1_000_000} MB is read: "
                "what it has can be used; split the study and give the rest another file"
            )
        try:
            while line:  # nothing is buffered, so that closing a full disk's file does not fail once more
                line = line[self._stream.write(line) or 0 :]
            os.fsync(self._stream.fileno())
        except OSError as problem:
            with contextlib.suppress(OSError):
                self._stream.truncate(end)
            reason = problem.strerror or str(problem)
            raise FileError(
                f"{self.path} cannot be written: {reason.lower()}; make room and run the study again"
            ) from None

    def close(self) -> None:
        """Close the file, which unlocks it."""
        self._stream.close()

    def __enter__(self) -> Journal:
        """Return itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the file."""
        self.close()


def read_journal(path: str | os.PathLike[str]) -> tuple[dict[str, Any], dict[int, Done], dict[int, Step]]:
    """Read a study's file, also while it is being written.

    Returns
    -------
    dict
        The study as plain data, see :attr:`splitterfem.layouts.plan.Plan.header`.
    dict of int to Done
        Finished layouts by number.
    dict of int to Step
        Steps of a search by number.

    Raises
    ------
    FileError
        If it is missing, damaged, or no study.
    """
    place = Path(path)
    try:
        with place.open("rb", buffering=0) as stream:
            content = _content(stream, place)
    except FileNotFoundError:
        raise FileError(f"there is no file {place}; {neighbours(place)}") from None
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise FileError(f"{place} cannot be read: {reason}; check its name and folder") from None
    header, done, steps, _ = parse(content, place)
    return header, done, steps


def _content(stream: FileIO, place: Path) -> bytes:
    """Read a file from its beginning, unless it is too large to be a study."""
    stream.seek(0)
    # The size is asked for as well: a buffer of the size asked for is made whatever there is to read.
    size = min(os.fstat(stream.fileno()).st_size, MOST_BYTES)
    content = b""
    while more := stream.read(size + 1 - len(content)):
        content += more
    if len(content) > MOST_BYTES:
        raise FileError(
            f"{place} is larger than {MOST_BYTES // 1_000_000} MB; it is no study of this library"
        )
    return content


def parse(content: bytes, place: Path) -> tuple[dict[str, Any], dict[int, Done], dict[int, Step], int]:
    """Take a file apart; a last line that was cut off is left out.

    Returns
    -------
    header : dict
    done : dict of int to Done
    steps : dict of int to Step
    end : int
        Bytes up to the end of the last whole line.
    """
    end = content.rfind(b"\n") + 1
    if content.count(b"\n") > MOST_LINES:
        raise FileError(f"{place} has more than {MOST_LINES} lines; it is no study of this library")
    lines = (line[:-1] for line in BytesIO(content) if line.endswith(b"\n"))
    first = next(lines, b"").removeprefix(codecs.BOM_UTF8)  # which an editor may have put there
    if not first.startswith(_START):
        raise FileError(f"{place} is not the file of a study; give the name of a new file")
    header = _loaded(first, place, 1)
    done: dict[int, Done] = {}
    steps: dict[int, Step] = {}
    try:
        names = [str(one["name"]) for one in header.get("parameters", [])]
    except (KeyError, TypeError):
        raise FileError(f"{place}, line 1 is no study; give the name of a new file") from None
    for number, line in enumerate(lines, start=2):
        found = _loaded(line, place, number)
        try:
            if "step" in found:
                step = Step.from_plain(found, names)
                steps.setdefault(step.number, step)
                continue
            cells = tuple(found["values"][name] for name in names)
            measures = found["measures"]
            if len(measures) > MOST_MEASURES:
                raise ValueError
            row = {sys.intern(key): math.nan if value is None else value for key, value in measures.items()}
            one = Done(int(found["layout"]), cells, row, found["refused"], float(found["seconds"]))
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
            raise FileError(f"{place}, line {number} is no layout of a study; remove the line") from None
        done.setdefault(one.number, one)
    return header, done, steps, end


def _loaded(line: bytes, place: Path, number: int) -> dict[str, Any]:
    try:
        found = json.loads(line)
        if isinstance(found, dict):
            return found
    except (ValueError, RecursionError):
        pass
    raise FileError(f"{place}, line {number} is damaged; remove the line, its layout is solved again")


def _plain(done: Done, names: Sequence[str]) -> dict[str, Any]:
    measures = {key: None if _missing(value) else value for key, value in done.row.items()}
    return {
        "layout": done.number,
        "values": dict(zip(names, done.cells, strict=True)),
        "measures": measures,
        "refused": done.refused,
        "seconds": round(done.seconds, 4),
    }


def _missing(value: Any) -> bool:
    return isinstance(value, float) and not math.isfinite(value)


@contextlib.contextmanager
def opened(path: str | os.PathLike[str] | None, plan: Plan) -> Iterator[Journal | None]:
    """Open a study's file, if there is to be one."""
    if path is None:
        yield None
        return
    with Journal(path, plan) as journal:
        yield journal


def _opened(path: Path) -> FileIO:
    ready(path)
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
    except OSError as problem:
        raise not_written(path, problem) from None
    return FileIO(handle, "r+b")


def _lock(stream: FileIO, path: Path) -> None:
    """Lock a file for this process; the lock goes with the process, however that ends."""
    try:
        try:
            import fcntl
        except ImportError:  # Windows
            import msvcrt

            stream.seek(2**30)
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined, unused-ignore]
        else:
            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise FileError(
            f"{path} is being written by another study; wait until it ends, or give another file"
        ) from None
