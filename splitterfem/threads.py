"""One thread for the dense kernels: our blocks are small, and several threads only wait for each other."""

from __future__ import annotations

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
