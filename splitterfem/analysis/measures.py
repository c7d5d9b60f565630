"""What is to get better: sag, clearance, first frequency or a ratio, with its derivative by the unknowns."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.fields import CHORD_REACH
from splitterfem.analysis.modes import natural_modes
from splitterfem.analysis.solution import Solution
from splitterfem.errors import DesignError, nearest
from splitterfem.fem.loads import deflection_matrix, surface_load
from splitterfem.fem.reference import quadrature
from splitterfem.units import say_as

Array = NDArray[np.float64]
Which = str | Sequence[float]
Kind = Literal["length", "frequency", "ratio"]

UNITS: dict[Kind, tuple[str, float]] = {"length": ("mm", 1e-3), "frequency": ("Hz", 1.0), "ratio": ("-", 1.0)}
"""Units in which people read measures, and what they are in SI."""

MEASURES = ("worst sag", "mean sag", "least clearance", "first frequency")
"""Names of measures; a place (x, y) in m stands for the sag there."""

LINEAR = 2
"""Degree of the quadrature of a mean over the panel: exact for quadratic deflections."""

WATCHED, APART, MATTERS = 48, 1.0 / 16.0, 0.2
"""Most places that are watched for the next worst, their distance over the panel's diagonal, and the share of the worst
sag, or of the sag that makes the least clearance, below which a place does not matter."""

ELSEWHERE, NEARLY = 0.2, 0.9
"""Distance in m from the worst place, and share of its sag, from which another place counts as nearly as bad."""


@dataclass(frozen=True, eq=False)
class Measure:
    """A figure of a solved load case that is to get better.

    Attributes
    ----------
    name : str
    kind : {"length", "frequency", "ratio"}
        A length in m; a frequency in Hz; a number without a unit.
    value : float
    rising : bool
        Whether a higher value is better.
    at : tuple of float or None
        Its place (x, y) in m.
    own : OwnMeasure or None
        What reads it, when it is none of the measures of this module.
    """

    name: str
    kind: Kind
    value: float
    rising: bool
    at: tuple[float, float] | None = None
    own: OwnMeasure | None = None

    @property
    def which(self) -> Asked:
        """What to ask for to read it off another solution."""
        if self.own is not None:
            return self.own
        return self.name if self.at is None or self.name in MEASURES else self.at

    def better_than(self, before: Measure) -> float:
        """How much better it is than another value of the same measure, in SI units."""
        change = self.value - before.value
        return change if self.rising else -change

    @property
    def unit(self) -> str:
        """Unit in which people read it: "-" of a ratio."""
        return UNITS[self.kind][0]

    @property
    def heading(self) -> str:
        """Unit as part of the name of a column: "ratio" of a ratio."""
        return "ratio" if self.kind == "ratio" else self.unit

    @property
    def per_unit(self) -> float:
        """Its unit in SI."""
        return UNITS[self.kind][1]


@dataclass(frozen=True, eq=False)
class Slopes:
    """A measure with its derivatives.

    Attributes
    ----------
    measure : Measure
        It falls when it gets better.
    by_unknowns : ndarray, shape (n,)
        By all unknowns, those of the ribs' own behind the panel's.
    by_forces : ndarray, shape (k,)
        By the forces on the restraints, as those of a response.
    notes : tuple of str
        What to know beside it, in sentences.
    """

    measure: Measure
    by_unknowns: Array
    by_forces: Array
    notes: tuple[str, ...] = ()


class OwnMeasure(ABC):
    """What reads a measure of one's own off solutions, and differentiates it."""

    @abstractmethod
    def read(self, solution: Solution) -> Measure:
        """Read it off any solution."""

    @abstractmethod
    def slopes(self, solution: Solution) -> Slopes:
        """Read it and differentiate it by the unknowns and by the forces on the restraints."""

    @abstractmethod
    def others(self, solution: Solution) -> list[Slopes]:
        """Find and differentiate what may be the worst when the worst gets better; none of them above it."""


Asked = Which | OwnMeasure


def measured(solution: Solution, which: Asked) -> Measure:
    """Read a measure off a solved load case.

    Parameters
    ----------
    solution : Solution
    which : str, (x, y) or OwnMeasure
        One of `MEASURES`, a place in m for the sag there, or what reads one of your own.

    Raises
    ------
    DesignError
        If there is no such measure, its place is off the panel, or the panel lies on the ground and the least
        clearance was asked for.
    """
    if isinstance(which, OwnMeasure):
        return which.read(solution)
    if not isinstance(which, str):
        x, y = _place(which)
        sag = float(solution.sag_at(x, y))
        if not np.isfinite(sag):
            raise DesignError(
                f"The sag at x {1e3 * x:.0f}, y {1e3 * y:.0f} mm was asked for, which is off the panel or in an "
                "opening: give a place on it."
            )
        name = f"sag at x {say_as(x, 'length', digits=0)}, y {say_as(y, 'length', digits=0)}"
        return Measure(name, "length", sag, rising=False, at=(x, y))
    if which == "worst sag":
        return Measure(which, "length", solution.max_sag, rising=False, at=solution.max_sag_at)
    if which == "mean sag":
        return Measure(which, "length", float(_mean_row(solution) @ solution.response.x), rising=False)
    if which == "least clearance":
        return _clearance(solution)
    if which == "first frequency":
        found = natural_modes(solution.model, 1, case=solution.case)
        return Measure(which, "frequency", float(found.frequencies[0]), rising=True)
    raise DesignError(f"There is no measure '{which}'; {nearest(which, MEASURES)}")


def fall(solution: Solution, measure: Measure) -> Array:
    """Differentiate what is to fall, sag or clearance taken negative, by the panel's unknowns (n_dofs,).

    The worst place stays the one that it is: a maximum changes at first as its own place does (Danskin 1967; from
    memory).
    """
    if measure.at is None:
        return _mean_row(solution)
    model, at = solution.model, np.array(measure.at)[:, None]
    element = model.locator.find(at, reach=CHORD_REACH)
    return np.asarray(-deflection_matrix(model.panel, element, at).toarray().ravel())


def next_worst(solution: Solution, measure: Measure) -> list[Measure]:
    """Find the places that may be the worst when the worst one gets better, that one first; it alone without others.

    Their measures are those of single places, all of the same sense as the given one.
    """
    if measure.name == "worst sag":
        bad = solution.sag.values
    elif measure.name == "least clearance":
        bad = -solution.clearance.field.values
    else:
        return [measure]
    field, sag = solution.sag, solution.sag.values
    reach = APART * float(np.hypot(np.ptp(field.x), np.ptp(field.y)))
    left = sag > MATTERS * float(sag.max())
    assert measure.at is not None
    left &= np.hypot(field.x - measure.at[0], field.y - measure.at[1]) > reach
    found = [measure]
    while len(found) < WATCHED and left.any():
        i = int(np.flatnonzero(left)[np.argmax(bad[left])])
        value = float(-bad[i] if measure.rising else bad[i])
        found.append(replace(measure, value=value, at=(float(field.x[i]), float(field.y[i]))))
        left &= np.hypot(field.x - field.x[i], field.y - field.y[i]) > reach
    return found


def caution(solution: Solution, measure: Measure) -> tuple[str, ...]:
    """Say where else it is nearly as bad, since helping one place alone then helps the worst little."""
    if measure.name != "worst sag" or measure.at is None:
        return ()
    sag, (x, y) = solution.sag, measure.at
    away = np.flatnonzero(np.hypot(sag.x - x, sag.y - y) > ELSEWHERE)
    if not len(away):
        return ()
    second = away[np.argmax(sag.values[away])]
    if sag.values[second] < NEARLY * measure.value:
        return ()
    return (
        f"The sag at x {1e3 * sag.x[second]:.0f}, y {1e3 * sag.y[second]:.0f} mm is nearly as large "
        f"({1e3 * sag.values[second]:.1f} mm against {1e3 * measure.value:.1f} mm): what helps one of the two places "
        "alone lowers the worst sag only until the other is the worst. Look at pairs (mirror), or at the mean sag.",
    )


def _place(which: Sequence[float]) -> tuple[float, float]:
    if len(which) != 2:
        raise DesignError(
            f"A measure was given as {tuple(which)}: give a place (x, y), or one of {', '.join(MEASURES)}."
        )
    return float(which[0]), float(which[1])


def _clearance(solution: Solution) -> Measure:
    gap = solution.clearance
    if solution.ground.touches:
        x, y = gap.at
        raise DesignError(
            f"The panel lies on the ground at x {1e3 * x:.0f}, y {1e3 * y:.0f} mm in load case "
            f"'{solution.case.name}', so that its least clearance is zero and stays so: take another measure, or a "
            "case with ground = false."
        )
    return Measure("least clearance", "length", gap.least, rising=True, at=gap.at)


def _mean_row(solution: Solution) -> Array:
    """Row (n_dofs,) of the mean sag over the panel."""
    space = solution.model.panel.space
    n = space.n_elements * len(quadrature(LINEAR)[1])
    traction = np.zeros((3, n))
    traction[2] = -1.0 / float(space.area.sum())
    return surface_load(solution.model.panel, traction, LINEAR)
