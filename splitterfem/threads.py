"""One thread for the dense kernels: our blocks are small, and several threads only wait for each other."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import numpy.linalg  # noqa: F401  (the libraries must be loaded before they can be found)
import scipy.linalg  # noqa: F401
from threadpoolctl import ThreadpoolController


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


_lock = threading.Lock()
_limit: list[Any] = []
"""The limit that holds, once for each block that runs."""


def _enter() -> None:
    with _lock:
        _limit.append(_limit[0] if _limit else _controller().limit(limits=1, user_api="blas"))


def _leave() -> None:
    with _lock:
        limit = _limit.pop()
        if not _limit:
            limit.restore_original_limits()


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Run the block with one BLAS thread.

    Measured on two busy cores: fifty right-hand sides of a 27 000-unknown panel take 0.14 s with one thread
    and 2.2 s with two, because the kernels' blocks are tiny and idle threads spin.  Blocks may lie within each other
    and run side by side in several threads: the last one to end gives the threads back.
    """
    _enter()
    try:
        yield
    finally:
        _leave()


def cores() -> int:
    """Return how many cores this process may use: those that the system gives it, or fewer by ``OMP_NUM_THREADS``.

    Processes of a study are given their share by that variable.
    """
    given = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    asked = os.environ.get("OMP_NUM_THREADS", "").split(",")[0].strip()
    return max(1, min(given, int(asked))) if asked.isdecimal() else given
