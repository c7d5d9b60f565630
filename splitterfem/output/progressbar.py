"""How far a study is, and how long it still takes, on stderr or in a notebook."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from splitterfem.layouts.running import Progress

EVERY, EVERY_LINE = 0.2, 10.0
"""Seconds between two updates: of a line that is written over, and of lines one below the other."""


@contextmanager
def progress_of(wanted: bool | Progress | None, what: str) -> Iterator[Progress | None]:
    """Give what a study tells its progress to.

    Parameters
    ----------
    wanted : bool or callable, optional
        A callable is used as it is, see :data:`splitterfem.layouts.running.Progress`; when left out, progress is shown
        where somebody can see it: in a terminal or a notebook.
    what : str
        Is being done.
    """
    if callable(wanted):
        yield wanted
        return
    notebook = _in_notebook()
    if wanted is False or (wanted is None and not (notebook or sys.stderr.isatty())):
        yield None
        return
    shown = _with_tqdm(what, notebook) or _Plain(what)
    try:
        yield shown
    finally:
        shown.close()


def in_words(seconds: float) -> str:
    """Write a time for people.

    Examples
    --------
    >>> in_words(4.2), in_words(75.0), in_words(7300.0)
    ('4 s', '1 min 15 s', '2 h 2 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


class _Plain:
    """A line of text that is written over, or lines now and then where that does not work."""

    def __init__(self, what: str) -> None:
        self._what, self._over = what, sys.stderr.isatty()
        self._last, self._width = -1e9, 0

    def __call__(self, done: int, total: int, left: float | None) -> None:
        now = time.monotonic()
        if done < total and now - self._last < (EVERY if self._over else EVERY_LINE):
            return
        self._last = now
        rest = "" if left is None or done == total else f", {in_words(left)} left"
        text = f"{self._what}: {done} of {total} layouts{rest}"
        end = "" if self._over else "\n"
        sys.stderr.write(f"{chr(13) if self._over else ''}{text.ljust(self._width)}{end}")
        sys.stderr.flush()
        self._width = len(text)

    def close(self) -> None:
        """End the line."""
        if self._over and self._width:
            sys.stderr.write("\n")


class _Tqdm:
    """A bar of tqdm."""

    def __init__(self, make: Callable[..., Any], what: str) -> None:
        self._bar: Any = None
        self._make, self._what = make, what

    def __call__(self, done: int, total: int, left: float | None) -> None:
        if self._bar is None:
            self._bar = self._make(
                total=total, desc=self._what, unit=" layouts", initial=done, mininterval=EVERY
            )
        if total != self._bar.total:
            self._bar.total = total
        self._bar.update(done - self._bar.n)

    def close(self) -> None:
        """End the bar."""
        if self._bar is not None:
            self._bar.close()


def _with_tqdm(what: str, notebook: bool) -> _Tqdm | None:
    try:
        if notebook:
            from tqdm.auto import tqdm
        else:
            from tqdm import tqdm
    except ImportError:
        return None
    return _Tqdm(tqdm, what)


def _in_notebook() -> bool:
    shell = sys.modules.get("IPython")
    running = shell.get_ipython() if shell is not None and hasattr(shell, "get_ipython") else None
    return running is not None and hasattr(running, "kernel")
