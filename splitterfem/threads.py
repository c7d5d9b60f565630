"""One thread for the dense kernels: our blocks are small, and several threads only wait for each other."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import numpy.linalg  # noqa: F401  (the libraries must be loaded before they can be found)
import scipy.linalg  # noqa: F401
from threadpoolctl import ThreadpoolController


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Run the block with one BLAS thread.

    Measured on two busy cores: fifty right-hand sides of a 27 000-unknown panel take 0.14 s with one thread
    and 2.2 s with two, because the kernels' blocks are tiny and idle threads spin.
    """
    with _controller().limit(limits=1, user_api="blas"):
        yield


def cores() -> int:
    """Return how many cores this process may use: those that the system gives it, or fewer by ``OMP_NUM_THREADS``.

    Processes of a study are given their share by that variable.
    """
    given = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    asked = os.environ.get("OMP_NUM_THREADS", "").split(",")[0].strip()
    return max(1, min(given, int(asked))) if asked.isdecimal() else given
