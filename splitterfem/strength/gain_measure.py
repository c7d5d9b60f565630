"""Worst utilisation as a measure whose gain by ribs and struts is sought: what governs, and its derivative."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.measures import Measure, OwnMeasure, Slopes
from splitterfem.errors import DesignError
from splitterfem.strength.assess_panel import PanelState, panel_state
from splitterfem.strength.governing import FAMILIES, families, key_of
from splitterfem.strength.row import Check
from splitterfem.strength.slopes_hardware import by_hardware
from splitterfem.strength.slopes_joints import by_joint
from splitterfem.strength.slopes_ribs import by_rib
from splitterfem.strength.slopes_sheet import by_sheet, worst_places

Array = NDArray[np.float64]

GEOMETRY = ("overlap",)
"""Modes whose ratio is nearly all geometry, whatever acts."""

MORE, LEAST = 1e-3, 1e-2
"""Share by which a solution is made larger to see what depends on the load, and the least share of it that a ratio must
follow by."""

NEARLY = 0.9
"""Share of the worst ratio from which that of another part counts as nearly as high."""


WATCHED, MATTERS = 32, 0.3
"""Most checks that are watched for the next worst, and the share of the worst ratio below which one does not matter."""

Judged = list[tuple[Check, str]]
"""Checks and their families, the worst first."""


@dataclass(frozen=True)
class UtilisationMeasure(OwnMeasure):
    """Worst utilisation of some or all parts, of what changes with the load.

    Attributes
    ----------
    name : str
        "worst utilisation", or "utilisation of panel", "... of ribs", "... of joints", "... of hardware".

    Raises
    ------
    DesignError
        If there is no such measure.
    """

    name: str

    def __post_init__(self) -> None:
        families(self.name)

    def read(self, solution: Solution) -> Measure:
        """Read it off any solution.

        Raises
        ------
        DesignError
            If nothing can be judged there.
        """
        return self._measure(judged(solution, self.name)[0][0][0])

    def slopes(self, solution: Solution) -> Slopes:
        """Read it, and differentiate the check that governs.

        Raises
        ------
        DesignError
            If nothing can be judged there.
        """
        found, left_out = judged(solution, self.name)
        check, family = found[0]
        return replace(self._slopes(solution, check, family)[0], notes=_notes(self.name, found, left_out))

    def others(self, solution: Solution) -> list[Slopes]:
        """Differentiate the checks that may govern next: of other parts, modes and places, and of loads reversed.

        What is pushed through zero acts the other way, and a check of one way alone, such as peel, is zero until then.
        So the checks of the solution reversed are watched as well: now their value is below zero.

        Raises
        ------
        DesignError
            If nothing can be judged there.
        """
        found, _ = judged(solution, self.name)
        governs, turned = self._measure(found[0][0]), _times(solution, -1.0)
        slopes = self._watched(solution, found, MATTERS * governs.value)
        slopes = [one for one in slopes if (one.measure.value, one.measure.at) != (governs.value, governs.at)]
        against = self._watched(turned, _following(turned, self.name)[0], MATTERS * governs.value)
        slopes += [replace(one, measure=replace(one.measure, value=-one.measure.value)) for one in against]
        return slopes

    def _watched(self, solution: Solution, found: Judged, least: float) -> list[Slopes]:
        points = panel_state(solution)
        sheets = [check for check, family in found if family == "panel"]
        every = [(check, family) for check, family in found if family != "panel"]
        every += [(check, "panel") for check in worst_places(solution, sheets, points)]
        every = sorted((pair for pair in every if pair[0].ratio >= least), key=lambda pair: -pair[0].ratio)
        return [one for check, name in every[:WATCHED] for one in self._slopes(solution, check, name, points)]

    def _slopes(
        self, solution: Solution, check: Check, family: str, points: PanelState | None = None
    ) -> list[Slopes]:
        """Differentiate a check, and behind it the same check at other places of its rib, joint or pocket."""
        n, k = solution.model.structure.matrix.shape[0], len(solution.response.force)
        if family == "hardware":
            lines = by_hardware(solution, check, FAMILIES[family])
            return [Slopes(self._measure(line), np.zeros(n), by_forces) for line, by_forces in lines]
        if family == "panel":
            by_panel = by_sheet(solution, check, points=points)
            places = [(check, solution.model.structure.with_extra(by_panel))]
        else:
            places = by_rib(solution, check) if family == "ribs" else by_joint(solution, check)
        return [Slopes(self._measure(there), by_unknowns, np.zeros(k)) for there, by_unknowns in places]

    def _measure(self, check: Check) -> Measure:
        at = (check.x, check.y) if np.isfinite([check.x, check.y]).all() else None
        return Measure(self.name, "ratio", check.ratio, rising=False, at=at, own=self)


def judged(solution: Solution, measure: str) -> tuple[Judged, list[Check]]:
    """Find all checks of a measure that change with the load, the worst first, and those that do not.

    Raises
    ------
    DesignError
        If there is no such measure, or nothing that can be judged.
    """
    found, left_out = _following(solution, measure)
    if not found:
        raise DesignError(
            f"Nothing of '{solution.model.design.name}' gives '{measure}' in load case '{solution.case.name}': give "
            "sizes and strengths to judge by."
        )
    return found, left_out


def _following(solution: Solution, measure: str) -> tuple[Judged, list[Check]]:
    """Find what changes with the load, and what does not, as :func:`judged`; either may be empty."""
    found, left_out, more = list[tuple[Check, str]](), list[Check](), _times(solution, 1.0 + MORE)
    for name in families(measure):
        own, larger = ([one for one in FAMILIES[name](at) if one.ratio > 0.0] for at in (solution, more))
        for check in own:
            if _follows(check, larger):
                found.append((check, name))
            else:
                left_out.append(check)
    return sorted(found, key=lambda pair: -pair[0].ratio), sorted(left_out, key=lambda one: -one.ratio)


def _times(solution: Solution, factor: float) -> Solution:
    """Multiply unknowns and forces of a solution."""
    response = solution.response
    return replace(
        solution,
        response=replace(
            response,
            x=factor * response.x,
            extra=factor * response.extra,
            force=factor * response.force,
            motion=factor * response.motion,
        ),
    )


def _follows(check: Check, others: list[Check]) -> bool:
    if check.mode in GEOMETRY:
        return False
    ratio = max(other.ratio for other in others if key_of(other) == key_of(check))
    return abs(ratio - check.ratio) > LEAST * MORE * check.ratio


def _notes(name: str, found: Judged, left_out: list[Check]) -> tuple[str, ...]:
    check = found[0][0]
    said = [
        f"The {name} is that of {check.mode} of {check.part}; the gain to first order is of this check, and the "
        "figures with a part tried are of the worst one then, which may be another.",
        "What is added is not judged itself before it is tried, a strut not even then; what a move does to the "
        "strength of the moved part itself, such as the length of a strut, is not counted.",
    ]
    if left_out and left_out[0].ratio > check.ratio:
        said.append(
            f"Left out is what hardly changes with the load, such as {left_out[0].mode} of {left_out[0].part}, "
            f"{left_out[0].ratio:.2f}."
        )
    further = next((one for one, _ in found if one.part != check.part), None)
    if further is not None and further.ratio >= NEARLY * check.ratio:
        said.append(
            f"{further.mode[:1].upper()}{further.mode[1:]} of {further.part} is nearly as high "
            f"({further.ratio:.2f} against {check.ratio:.2f}): what helps one of the two alone lowers the worst only "
            "until the other is the worst."
        )
    return tuple(said)
