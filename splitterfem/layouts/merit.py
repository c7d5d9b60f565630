"""What a search makes less when it goes on from a good layout."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from splitterfem.layouts.goal import Goal
from splitterfem.layouts.running import Run
from splitterfem.layouts.solving import Done

PENALTY = 10.0
"""On a missed limit, against the extent of the objectives."""


def scales_of(run: Run, goal: Goal) -> list[float]:
    """Extent of each objective over the layouts that keep the limits."""
    costs = np.array([goal.costs(done) for done in run.done.values() if goal.kept(done)])
    return [float(extent) or 1.0 for extent in np.ptp(costs, axis=0)]


def merit(goal: Goal, done: Done, scales: Sequence[float]) -> float:
    """Find the sum of the objectives, each over its extent, and of the limits that are missed.

    It is infinite for a layout that was refused.
    """
    costs = goal.costs(done)
    if done.refused or not all(map(math.isfinite, costs)):
        return math.inf
    missed = sum(max(by, 0.0) for by in goal.missed(done))
    return sum(cost / scale for cost, scale in zip(costs, scales, strict=True)) + PENALTY * missed
