"""What a search is for: objectives and limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from splitterfem.layouts.measures import Asked
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.solving import Done


@dataclass(frozen=True)
class Goal:
    """Objectives and limits of a search.

    Attributes
    ----------
    objectives : tuple of Asked
    limits : tuple of (Asked, float)
        In the units of their columns.
    """

    objectives: tuple[Asked, ...]
    limits: tuple[tuple[Asked, float], ...] = ()

    def values(self, done: Done) -> list[float]:
        """Objectives of a layout in the units of their columns."""
        return [float(done.row.get(one.column, math.nan)) for one in self.objectives]

    def costs(self, done: Done) -> list[float]:
        """Objectives of a layout, signs such that less is better."""
        pairs = zip(self.objectives, self.values(done), strict=True)
        return [value if one.better == "low" else -value for one, value in pairs]

    def missed(self, done: Done) -> list[float]:
        """By how much a layout misses each limit, over the limit's size; zero or less when it keeps it."""
        found = []
        for one, limit in self.limits:
            value = float(done.row.get(one.column, math.nan))
            by = value - limit if one.better == "low" else limit - value
            found.append(by / (abs(limit) or 1.0) if math.isfinite(by) else 1e3)
        return found

    def kept(self, done: Done) -> bool:
        """Tell whether a layout was solved, has all objectives and keeps all limits."""
        known = not done.refused and all(map(math.isfinite, self.values(done)))
        return known and all(by <= 0.0 for by in self.missed(done))

    def spec(self) -> dict[str, Any]:
        """Write as plain data."""
        return {
            "objectives": [one.name for one in self.objectives],
            "limits": {one.name: limit for one, limit in self.limits},
        }

    @staticmethod
    def from_spec(plan: Plan, spec: Mapping[str, Any]) -> Goal:
        """Read from plain data."""
        wanted = tuple(plan.measure(name) for name in spec["objectives"])
        return Goal(
            wanted, tuple((plan.measure(name), float(limit)) for name, limit in spec["limits"].items())
        )
