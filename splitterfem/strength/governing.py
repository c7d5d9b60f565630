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

WORST, OF = "worst utilisation", "utilisation of "

UTILISATIONS = (WORST, *(OF + name for name in FAMILIES))
"""Names of measures of utilisation."""


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
    chosen = families(measure)
    found = [
        (check, FAMILIES[name])
        for name in chosen
        for check in FAMILIES[name](solution)
        if np.isfinite(check.ratio)
    ]
    if not found:
        raise DesignError(
            f"Nothing of '{solution.model.design.name}' gives '{measure}': give sizes and strengths to judge by."
        )
    worst, judge = max(found, key=lambda pair: pair[0].ratio)
    key = key_of(worst)

    def read(near: Solution) -> float:
        return max(check.ratio for check in judge(near) if key_of(check) == key)

    return Figure(measure, "-", 1.0, worst.ratio, read, governed_by=f"{worst.mode} of {worst.part}")


def families(measure: str) -> tuple[str, ...]:
    """Names of the families that a measure looks at.

    Raises
    ------
    DesignError
        If there is no such measure.
    """
    if measure == WORST:
        return tuple(FAMILIES)
    if measure.startswith(OF) and (name := measure.removeprefix(OF)) in FAMILIES:
        return (name,)
    raise DesignError(f"There is no measure '{measure}'; {nearest(measure, UTILISATIONS)}")


def key_of(check: Check) -> tuple[str, str, str]:
    """Return what tells a check from others."""
    return check.part, check.kind, check.mode
