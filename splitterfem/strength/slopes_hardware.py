"""Derivative of a check of hardware by the forces on supports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.strength.differences import differences
from splitterfem.strength.pocket import UNDER_LIP
from splitterfem.strength.row import Check

Array = NDArray[np.float64]
Judge = Callable[[Solution], list[Check]]


def by_hardware(solution: Solution, check: Check, judge: Judge) -> list[tuple[Check, Array]]:
    """Differentiate a check of hardware by the forces (k,) on the restraints.

    Parameters
    ----------
    solution : Solution
    check : Check
    judge : callable
        Makes checks, this one among them.

    Returns
    -------
    list of (Check, ndarray)
        The check first; then, of a panel under a lip, the same check of the further lines on which it bears.
    """

    def ratio(force: Array) -> float:
        near = replace(solution, response=replace(solution.response, force=force))
        same = (one for one in judge(near) if (one.part, one.mode) == (check.part, check.mode))
        return max((one.ratio for one in same), default=0.0)

    by_forces = differences(ratio, solution.response.force)
    further = _other_lines(solution, check, by_forces) if check.mode == UNDER_LIP else []
    return [(check, by_forces), *further]


def _other_lines(solution: Solution, check: Check, by_forces: Array) -> list[tuple[Check, Array]]:
    force, supports = solution.response.force, solution.model.supports
    counts = [len(support.restraints) for support in supports]
    number = [support.name for support in supports].index(check.part)
    first = sum(counts[:number])
    per_force, found = float(np.abs(by_forces).max()), list[tuple[Check, Array]]()
    for i in range(first, first + counts[number]):
        if force[i] != 0.0 and by_forces[i] == 0.0:
            x, y = (float(value) for value in supports[number].places[i - first][:2])
            slope = np.zeros(len(force))
            slope[i] = per_force * np.sign(force[i])
            found.append((replace(check, ratio=per_force * abs(float(force[i])), x=x, y=y), slope))
    return found
