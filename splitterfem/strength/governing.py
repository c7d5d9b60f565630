"""Worst utilisation of a solved load case as a figure that can be followed when the design changes a little."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.analysis.gradients import Figure
from splitterfem.errors import DesignError, nearest
from splitterfem.strength.assess_fixings import bolt_rows
from splitterfem.strength.assess_joints import joint_checks
from splitterfem.strength.assess_panel import panel_checks
from splitterfem.strength.assess_pins import pin_rows
from splitterfem.strength.assess_pockets import pocket_rows
from splitterfem.strength.assess_ribs import rib_checks
from splitterfem.strength.assess_stops import stop_rows
from splitterfem.strength.assess_supports import strut_rows
from splitterfem.strength.row import Check

Assess = Callable[[Solution], list[Check]]


def _hardware(solution: Solution) -> list[Check]:
    found = (rows(solution) for rows in (strut_rows, bolt_rows, pin_rows, pocket_rows, stop_rows))
    return [check for checks in found for check in checks]


FAMILIES: dict[str, Assess] = {
    "panel": panel_checks,
    "ribs": rib_checks,
    "joints": joint_checks,
    "hardware": _hardware,
}
"""What of a design is judged together, and how."""

OF = "utilisation of "


def worst_utilisation(solution: Solution, measure: str) -> Figure:
    """Find the worst utilisation of some or all parts, and keep to what governs it.

    Parameters
    ----------
    solution : Solution
    measure : str
        "worst utilisation", or "utilisation of panel", "... of ribs", "... of joints", "... of hardware".

    Raises
    ------
    DesignError
        If there is no such measure, or nothing that can be judged.
    """
    chosen = FAMILIES if measure == "worst utilisation" else {}
    if measure.startswith(OF) and (name := measure.removeprefix(OF)) in FAMILIES:
        chosen = {name: FAMILIES[name]}
    if not chosen:
        known = ["worst utilisation", *(OF + name for name in FAMILIES)]
        raise DesignError(f"There is no measure '{measure}'; {nearest(measure, known)}")
    found = [
        (check, judge) for judge in chosen.values() for check in judge(solution) if np.isfinite(check.ratio)
    ]
    if not found:
        raise DesignError(
            f"Nothing of '{solution.model.design.name}' gives '{measure}': give sizes and strengths to judge by."
        )
    worst, judge = max(found, key=lambda pair: pair[0].ratio)
    key = _key(worst)

    def read(near: Solution) -> float:
        return max(check.ratio for check in judge(near) if _key(check) == key)

    return Figure(measure, "-", 1.0, worst.ratio, read, governed_by=f"{worst.mode} of {worst.part}")


def _key(check: Check) -> tuple[str, str, str]:
    return check.part, check.kind, check.mode
