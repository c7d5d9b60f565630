"""Derivative of a check of the panel or of a doubler by the panel's unknowns.

A check depends on the mean strains over a disc about its worst point; these depend on the unknowns by the strain rows
of the elements in the disc.  The formula of the check is differentiated by the eight mean strains.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.fem import recover
from splitterfem.fem.space import tables_at
from splitterfem.fem.stretch import slope_rows
from splitterfem.strength.assess_panel import PanelState, judged_sheets, panel_state
from splitterfem.strength.differences import differences
from splitterfem.strength.row import Check

Array = NDArray[np.float64]
Index = NDArray[np.int64]

GROUPS = (slice(0, 3), slice(3, 6), slice(6, 8))
"""Strains of one unit: mid-surface, curvatures, transverse shear."""

PLACES, APART, LEAST = 8, 1.0 / 16.0, 0.3
"""Most places of a mode that are looked at beside its worst, their distance over the panel's diagonal, and the share
of the worst ratio below which a place does not matter."""


def by_sheet(solution: Solution, check: Check, *, points: PanelState | None = None) -> Array:
    """Differentiate a check of the panel or a doubler by the panel's unknowns (n_dofs,), its worst point staying.

    Parameters
    ----------
    solution : Solution
    check : Check
        One of :func:`splitterfem.strength.assess_panel.panel_checks`, or of :func:`worst_places`.
    points : PanelState, optional
        Of the solution, not averaged yet, when it is at hand.
    """
    sheets = judged_sheets(solution, panel_state(solution) if points is None else points)
    points, judge = next((state, judge) for name, state, judge in sheets if name == check.part)
    offset = points.xy - np.array([[check.x], [check.y]])
    distance = np.hypot(offset[0], offset[1])
    disc = np.flatnonzero(distance <= solution.model.sheet.base.thickness)
    inside = PanelState(points.elements[disc], points.xy[:, disc], points.area[disc], points.strains[disc])
    share = inside.area / inside.area.sum()
    mean = share @ inside.strains
    middle = int(np.argmin(distance[disc]))
    place = PanelState(inside.elements[[middle]], inside.xy[:, [middle]], inside.area[[middle]], mean[None])

    def ratio(strains: Array) -> float:
        modes = judge(replace(place, strains=strains[None])).modes
        return max(float(mode.ratio[0]) for mode in modes if mode.mode == check.mode)

    slope = np.zeros(8)
    for group in GROUPS:
        slope[group] = differences(partial(_in_place, ratio, mean, group), mean[group])
    return by_strains(solution, inside.elements, inside.xy, share[:, None] * slope)


def _in_place(of: Callable[[Array], float], strains: Array, group: slice, part: Array) -> float:
    """Evaluate a function of strains with some of them replaced."""
    changed = strains.copy()
    changed[group] = part
    return of(changed)


def worst_places(solution: Solution, checks: Sequence[Check], points: PanelState) -> list[Check]:
    """Find where else sheets are used nearly as far as in their worst points: the checks and those of other places.

    Parameters
    ----------
    solution : Solution
    checks : sequence of Check
        Of sheets, one for each mode.
    points : PanelState
        Of the solution, not averaged yet.
    """
    found = []
    for name, part, judge in judged_sheets(solution, points):
        own = [check for check in checks if check.part == name]
        if not own:
            continue
        state = part.averaged(solution.model.sheet.base.thickness)
        apart = APART * float(np.hypot(*np.ptp(points.xy, axis=1)))
        for mode in judge(state).modes:
            for check in (one for one in own if one.mode == mode.mode):
                places = _peaks(state.xy, mode.ratio, apart)
                found += [
                    replace(
                        check, ratio=float(mode.ratio[i]), x=float(state.xy[0, i]), y=float(state.xy[1, i])
                    )
                    for i in places
                ]
    return found


def _peaks(xy: Array, ratio: Array, apart: float) -> list[int]:
    """Numbers of the highest places that are some way from each other, the highest first."""
    found, left = list[int](), ratio > LEAST * ratio.max()
    while len(found) < PLACES and left.any():
        found.append(int(np.flatnonzero(left)[np.argmax(ratio[left])]))
        left &= np.hypot(*(xy - xy[:, found[-1:]])) > apart
    return found


def by_strains(solution: Solution, elements: Index, xy: Array, by: Array) -> Array:
    """Turn derivatives (n, 8) by the strains at points (2, n) into those by the panel's unknowns (n_dofs,)."""
    panel, response = solution.model.panel, solution.response
    found = panel.scatter(elements, np.einsum("nm,nmk->nk", by, panel.strain_rows(elements, xy)))
    if response.large:
        tilt = recover.slopes(panel, response.x, elements, xy)
        pushed = by[:, :2] * tilt + by[:, 2:3] * tilt[:, ::-1]
        found += by_slopes(solution, elements, xy, pushed)
    return found


def by_slopes(solution: Solution, elements: Index, xy: Array, by: Array) -> Array:
    """Turn derivatives (n, 2) by the slopes at points (2, n) into those by the panel's unknowns (n_dofs,)."""
    space = solution.model.panel.space
    rows = slope_rows(space, elements, tables_at(space, elements, xy))
    found = np.zeros(space.n_dofs)
    np.add.at(found, space.dofs[elements][:, 2::5], np.einsum("nc,nck->nk", by, rows))
    return found
