"""The worst over several load cases, and which case gives it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.analysis.tables import per_support
from splitterfem.errors import DesignError
from splitterfem.strength.assess import utilisation_of

COLUMNS = ("measure", "part", "value", "unit", "case", "x_mm", "y_mm")

ON_GROUND = "largest force of the ground"
"""Measure of the row that is there only when some load case ends on the ground; all places added up."""

Row = dict[str, object]


def worst_of(solutions: Sequence[Solution]) -> pd.DataFrame:
    """Find the worst of every measure over several solved load cases.

    Parameters
    ----------
    solutions : sequence of Solution
        Of one design.

    Returns
    -------
    pandas.DataFrame
        One row each for the largest sag, the smallest gap to the ground, the largest force of the ground where the
        panel lies on it, and the largest downforce; for the largest force of every support; and for the largest
        utilisation of every part, worst part first.  Columns: measure, part (empty for the panel as a whole), value,
        unit, case, x_mm, y_mm (nan where it has no place).

    Raises
    ------
    DesignError
        Without a solution.
    """
    if not solutions:
        raise DesignError("There is no solved load case to look at: solve one first.")
    rows = [*_overall(solutions), *_supports(solutions), *_utilisations(solutions)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _overall(solutions: Sequence[Solution]) -> list[Row]:
    sag = max(solutions, key=lambda s: s.max_sag)
    gap = min(solutions, key=lambda s: (s.min_clearance, -s.ground.force))
    found = [
        _row("largest sag", "", 1e3 * sag.max_sag, "mm", sag, sag.max_sag_at),
        _row("smallest gap to the ground", "", 1e3 * gap.min_clearance, "mm", gap, gap.min_clearance_at),
    ]
    if any(s.ground.touches for s in solutions):
        lying = max(solutions, key=lambda s: s.ground.force)
        hardest = lying.ground.patches[0]
        found.append(_row(ON_GROUND, "", lying.ground.force, "N", lying, hardest.at))
    windy = [s for s in solutions if s.downforce]
    if windy:
        most = max(windy, key=lambda s: s.downforce)
        found.append(_row("largest downforce", "", most.downforce, "N", most, most.centre_of_pressure))
    return found


def _supports(solutions: Sequence[Solution]) -> list[Row]:
    worst: dict[str, Row] = {}
    for solution in solutions:
        for support, force, _ in per_support(solution.model, solution.response):
            size = float(np.linalg.norm(force @ support.directions))
            if support.name not in worst or size > float(str(worst[support.name]["value"])):
                at = (float(support.at[0]), float(support.at[1]))
                worst[support.name] = _row("largest force", support.name, size, "N", solution, at)
    return list(worst.values())


def _utilisations(solutions: Sequence[Solution]) -> list[Row]:
    worst: dict[str, Row] = {}
    for solution in solutions:
        table = utilisation_of(solution).dropna(subset=["ratio"])
        for part, ratio, x, y in zip(table.part, table.ratio, table.x_mm, table.y_mm, strict=True):
            if part not in worst or ratio > float(str(worst[part]["value"])):
                at = (1e-3 * float(x), 1e-3 * float(y))
                worst[part] = _row("largest utilisation", part, float(ratio), "-", solution, at)
    return sorted(worst.values(), key=lambda row: -float(str(row["value"])))


def _row(
    measure: str, part: str, value: float, unit: str, solution: Solution, at: tuple[float, float]
) -> Row:
    x, y = (1e3 * c if math.isfinite(c) else math.nan for c in at)
    return {
        "measure": measure,
        "part": part,
        "value": value,
        "unit": unit,
        "case": solution.case.name,
        "x_mm": x,
        "y_mm": y,
    }
