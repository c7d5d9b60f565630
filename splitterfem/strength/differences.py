"""Derivatives of cheap functions of few numbers by central differences."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP = 1e-5
"""Step over the largest of the numbers: rounding and curvature both leave some nine digits."""

UNCHANGED = 1e-11
"""Change of the function over its value that is rounding."""


def differences(of: Callable[[Array], float], at: Array) -> Array:
    """Differentiate a function of numbers (n,) by each of them.

    Numbers are varied in groups first; a group of which no change shows, either way, is left alone.  What depends on
    few of many numbers, as a worst place does, so takes few calls.

    Parameters
    ----------
    of : callable
    at : ndarray, shape (n,)
        Numbers of one kind: their step is the same.
    """
    step = STEP * float(np.abs(at).max(initial=0.0))
    found = np.zeros(len(at))
    if step == 0.0:
        return found
    value = of(at)
    shares = np.random.default_rng(1).uniform(
        0.5, 1.0, len(at)
    )  # groups must not cancel: any uneven shares do
    groups = [np.arange(len(at))]
    while groups:
        group = groups.pop()
        ahead, behind = (_varied(of, at, group, sign * step * shares[group]) for sign in (1.0, -1.0))
        if max(abs(ahead - value), abs(behind - value)) <= UNCHANGED * abs(value):
            continue
        if len(group) == 1:
            found[group] = (ahead - behind) / (2.0 * step * shares[group])
        else:
            groups += np.array_split(group, 2)
    return found


def _varied(of: Callable[[Array], float], at: Array, group: NDArray[np.int64], by: Array) -> float:
    varied = at.copy()
    varied[group] += by
    return of(varied)
