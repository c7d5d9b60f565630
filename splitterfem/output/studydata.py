"""What pictures of a study draw from: values of a parameter, layouts that share them, the best of these."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splitterfem.layouts.cells import Cell
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.results import Study
from splitterfem.layouts.solving import Done


def cells_of(study: Study, one: Parameter) -> list[Cell]:
    """Values of a parameter that the study has, numbers in rising order."""
    place = study.plan.parameters.index(one)
    found = list(dict.fromkeys(done.cells[place] for done in study.layouts))
    if one.numeric:
        return sorted(found, key=lambda cell: float(cell))
    order = [cell for cell, _ in one.choices]
    return sorted(found, key=order.index)


def best_of(study: Study, asked: Asked, column: str, among: Sequence[Done]) -> Done | None:
    """Find the best layout by a column; None when all were refused."""
    sign = 1.0 if asked.better == "low" else -1.0
    known = [done for done in among if not done.refused and math.isfinite(done.row.get(column, math.nan))]
    return min(known, key=lambda done: sign * done.row[column], default=None)


def groups_of(study: Study, chosen: Sequence[Parameter]) -> dict[tuple[Cell, ...], list[Done]]:
    """Layouts by their values of some parameters."""
    places = [study.plan.parameters.index(one) for one in chosen]
    groups: dict[tuple[Cell, ...], list[Done]] = {}
    for done in study.layouts:
        groups.setdefault(tuple(done.cells[place] for place in places), []).append(done)
    return groups
