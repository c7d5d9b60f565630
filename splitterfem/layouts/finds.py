"""What a search found: layouts within limits, the best of them, the front of objectives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from splitterfem.layouts.goal import Goal
from splitterfem.layouts.results import Study
from splitterfem.layouts.smooth import notes_of
from splitterfem.layouts.solving import Done

NOTHING = Goal(())

MOST = 5
"""Layouts of the table of the best for one objective."""


def not_beaten(goal: Goal, layouts: Iterable[Done]) -> list[Done]:
    """Find the layouts within limits that no other one beats in all objectives, by the first of them.

    Of layouts with the same objectives the first counts.
    """
    kept = [done for done in layouts if goal.kept(done)]
    kept.sort(key=lambda done: (*goal.costs(done), done.number))
    costs = np.array([goal.costs(done) for done in kept]).reshape(len(kept), len(goal.objectives))
    front: list[int] = []
    for i in range(len(kept)):
        # sorted by the first objective, so that only earlier ones can beat it
        if not any((costs[j] <= costs[i]).all() for j in front):
            front.append(i)
    return [kept[i] for i in front]


@dataclass(frozen=True, eq=False)
class Found(Study):
    """A study that looked for good layouts.

    Attributes
    ----------
    goal : Goal
        Objectives and limits.
    """

    goal: Goal = NOTHING

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row for each layout as in any study, and whether it keeps the limits ("within limits")."""
        table = super().table.copy()
        table["within limits"] = [self.goal.kept(done) for done in self.layouts]
        return table

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """How small steps were made from good layouts, in sentences; none when there were none."""
        return notes_of(self.plan, self.goal, self.steps, layouts=len(self.layouts))

    @cached_property
    def front(self) -> pd.DataFrame:
        """Layouts within the limits that no other one beats in all objectives, by the first of them."""
        return self.table.loc[[done.number for done in not_beaten(self.goal, self.layouts)]]

    @cached_property
    def best(self) -> pd.DataFrame:
        """Best layouts within the limits, with the reason ("chosen for") as first column.

        For one objective the best few; for several the best by each, and the one that is nearest to being best by all,
        distances taken over the front's extent.
        """
        reasons: dict[int, str] = {}
        front = not_beaten(self.goal, self.layouts)
        if len(self.goal.objectives) == 1:
            ranked = sorted((d for d in self.layouts if self.goal.kept(d)), key=lambda d: self.goal.costs(d))
            seen: set[Any] = set()
            for done in ranked:
                key = self.plan.layout(done.cells).key
                if key not in seen and len(seen) < MOST:
                    seen.add(key)
                    reasons[done.number] = f"place {len(seen)}"
        elif front:
            costs = np.array([self.goal.costs(done) for done in front])
            for place, one in enumerate(self.goal.objectives):
                number = front[int(np.argmin(costs[:, place]))].number
                reason = f"{'least' if one.better == 'low' else 'most'} {one.name.removeprefix('worst ')}"
                reasons[number] = f"{reasons[number]}, {reason}" if number in reasons else reason
            extent = np.ptp(costs, axis=0)
            shares = (costs - costs.min(axis=0)) / np.where(extent > 0.0, extent, 1.0)
            balanced = front[int(np.argmin(np.linalg.norm(shares, axis=1)))].number
            reasons.setdefault(balanced, "balanced")
        table = self.table.loc[list(reasons)].copy()
        table.insert(0, "chosen for", list(reasons.values()))
        return table

    def __repr__(self) -> str:
        """Write what was searched, and what was found, on one line."""
        kept = sum(1 for done in self.layouts if self.goal.kept(done))
        return f"{super().__repr__()}, {kept} within limits, {len(self.front)} on the front"
