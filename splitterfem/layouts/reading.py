"""What is read off a solved layout: sag, clearance, downforce, utilisation, frequency, distance to the envelope."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from splitterfem.analysis.envelope import check_envelope
from splitterfem.analysis.measures import measured
from splitterfem.analysis.modes import natural_modes
from splitterfem.analysis.solution import Solution
from splitterfem.layouts.measures import Asked, Better, Row
from splitterfem.strength.assess import assess


def solved_row(chosen: Sequence[Asked], solutions: Sequence[Solution]) -> Row:
    """Read the other measures off solved load cases: each, and the worst of them.

    Parameters
    ----------
    chosen : sequence of Asked
    solutions : sequence of Solution
        Of one design; at least one.
    """
    row: Row = {}
    for one in chosen:
        if one.scope == "case":
            row |= _over_cases(one, solutions)
        elif one.name == "first frequency":
            row[one.column] = float(natural_modes(solutions[0].model, 1).frequencies[0])
        elif one.name == "envelope distance":
            row |= _envelope(one, solutions)
    return row


def _over_cases(one: Asked, solutions: Sequence[Solution]) -> Row:
    found = [(_READ[one.name] if one.at is None else _sag_at)(one, solution) for solution in solutions]
    worst = _worst([value for value, _ in found], one.better)
    row: Row = {one.column: found[worst][0]}
    if len(solutions) > 1:
        row[f"{one.name} in"] = solutions[worst].case.name
        for solution, (value, _) in zip(solutions, found, strict=True):
            row[one.column_in(solution.case.name)] = value
    return row | dict(zip(one.text_columns, found[worst][1], strict=True))


def _worst(values: Sequence[float], better: Better) -> int:
    """Place of the worst value; nan, which says that there is none, never is."""
    sign = 1.0 if better == "low" else -1.0
    return max(range(len(values)), key=lambda i: -math.inf if math.isnan(values[i]) else sign * values[i])


Found = tuple[float, tuple[str, ...]]


def _sag_at(one: Asked, solution: Solution) -> Found:
    assert one.at is not None
    return 1e3 * measured(solution, one.at).value, ()


def _of_measure(one: Asked, solution: Solution) -> Found:
    return 1e3 * measured(solution, one.name).value, ()


def _gap(one: Asked, solution: Solution) -> Found:
    return 1e3 * solution.min_clearance, ()


def _downforce(one: Asked, solution: Solution) -> Found:
    """Downforce; nan in a load case without air."""
    return solution.downforce if solution.load.air is not None else math.nan, ()


def _utilisation(one: Asked, solution: Solution) -> Found:
    """Largest ratio of load over resistance, of what, and where."""
    judged = [check for check in assess(solution) if not math.isnan(check.ratio)]
    if not judged:
        return math.nan, ("", "")
    worst = max(judged, key=lambda check: check.ratio)
    place = "" if math.isnan(worst.x) else f"x {1e3 * worst.x:.0f}, y {1e3 * worst.y:.0f} mm"
    return float(worst.ratio), (f"{worst.part}: {worst.mode}", place)


_READ: dict[str, Callable[[Asked, Solution], Found]] = {
    "worst sag": _of_measure,
    "mean sag": _of_measure,
    "least clearance": _gap,
    "downforce": _downforce,
    "worst utilisation": _utilisation,
}


def _envelope(one: Asked, solutions: Sequence[Solution]) -> Row:
    """Least distance from the limits that can be measured on the drawing and in these load cases, positive inside."""
    checks = check_envelope(solutions[0].model.design, [s for s in solutions if not s.case.unbonded])
    known = [check for check in checks if not math.isnan(check.distance)]
    if not known:
        return {one.column: math.nan, "envelope limit": ""}
    worst = min(known, key=lambda check: check.distance)
    return {one.column: 1e3 * worst.distance, "envelope limit": worst.rule}
