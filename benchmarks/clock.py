"""Times of calls: wall clock, and time that the process spent on all its threads."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Spent:
    """What a call took, in s; on a machine that others use as well, ``cpu`` says more.

    Attributes
    ----------
    wall : float
        By the clock on the wall.
    cpu : float
        Of the process, its threads together.
    """

    wall: float
    cpu: float


def timed(action: Callable[[], Answer]) -> tuple[Spent, Answer]:
    """Time one call."""
    wall, cpu = time.perf_counter(), time.process_time()
    answer = action()
    return Spent(time.perf_counter() - wall, time.process_time() - cpu), answer


def best_of(count: int, action: Callable[[], Answer]) -> tuple[Spent, Answer]:
    """Least times of a few calls, and the last answer."""
    spent, answer = timed(action)
    for _ in range(count - 1):
        again, answer = timed(action)
        spent = Spent(min(spent.wall, again.wall), min(spent.cpu, again.cpu))
    return spent, answer
