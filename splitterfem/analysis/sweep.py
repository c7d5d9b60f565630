"""How a splitter behaves over speed: one load case solved at one speed after the other."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis.atspeed import AtSpeed
from splitterfem.analysis.divergence import Divergence
from splitterfem.analysis.fields import sag_field
from splitterfem.analysis.linearised import unknowns
from splitterfem.analysis.solution import Solution, solution_of
from splitterfem.analysis.touch import TouchSpeed
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError, MechanismError, SolveError
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

Judge = Callable[[Solution], float | None]
"""Gives the worst utilisation of a solution, load over resistance; None when nothing can be judged."""

MOST_SPEEDS = 200

ENOUGH, ENOUGH_LARGE = 2, 1
"""Speeds in a row without equilibrium after which faster ones are not tried, and how many with large deflection: each
takes long to give up."""

COLUMNS = (
    "speed_kmh",
    "max_sag_mm",
    "x_mm",
    "y_mm",
    "sag_at_rest_mm",
    "min_clearance_mm",
    "ground_force_N",
    "downforce_N",
    "downforce_at_rest_N",
    "worst_ratio",
    "outcome",
)


@dataclass(frozen=True, eq=False)
class Sweep:
    """A load case at several speeds, the slowest first.

    Attributes
    ----------
    model : Model
    case : str
        Load case.
    speed : float
        Its own speed in m/s; zero when it has none.
    follows, large : bool
        Whether the pressure follows the sag, and whether slopes stretch the panel.
    rows : tuple of dict
        Those of `table`.
    notes : tuple of str
        How far the air can be trusted at the fastest speed at which there is an equilibrium.
    touch : TouchSpeed or None
        Where it first touches the ground, when that was asked.
    divergence : Divergence or None
        Where the air overcomes it, when that was asked.
    """

    model: Model
    case: str
    speed: float
    follows: bool
    large: bool
    rows: tuple[dict[str, object], ...]
    notes: tuple[str, ...] = ()
    touch: TouchSpeed | None = None
    divergence: Divergence | None = None
    seconds: float = field(default=0.0, compare=False)

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row for each speed.

        Columns: speed_kmh; max_sag_mm, x_mm and y_mm (its place); sag_at_rest_mm (with pressure that does not follow
        the sag); min_clearance_mm; ground_force_N; downforce_N; downforce_at_rest_N; worst_ratio (utilisation, nan
        without a judge); outcome ("held", "touches the ground", or "no equilibrium: " or "not held: " and why).  What
        was not found is nan.
        """
        return pd.DataFrame(list(self.rows), columns=list(COLUMNS))

    def with_limits(
        self, touch: TouchSpeed | None, divergence: Divergence | None, notes: tuple[str, ...] = ()
    ) -> Sweep:
        """Return the same sweep with what its load case comes to at higher speeds, and further notes."""
        return replace(self, touch=touch, divergence=divergence, notes=(*self.notes, *notes))

    def __repr__(self) -> str:
        """Write splitter, load case, speeds and the worst outcome on one line."""
        speeds = self.table["speed_kmh"]
        bad = next((str(row["outcome"]) for row in self.rows if row["outcome"] != "held"), "held")
        return (
            f"'{self.model.design.name}' in '{self.case}' at {len(self.rows)} speeds from {speeds.min():.0f} to "
            f"{speeds.max():.0f} km/h: {bad}"
        )


@one_blas_thread()
def speed_sweep(
    model: Model,
    case: str | LoadCase,
    speeds: Iterable[float],
    *,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
    judge: Judge | None = None,
) -> Sweep:
    """Solve a load case at several speeds.

    Each speed begins with the deflection at the one before, so that a branch of equilibria is followed.  Speeds at
    which there is no equilibrium become rows that say why; after two of them in a row, with large deflection after one,
    faster ones are not tried.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        With air; where it combines cases with different speeds these go in proportion.
    speeds : iterable of float
        Of the car in m/s, in any order; the highest of the cases that are combined.
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.
    judge : callable, optional
        Given each solution, returns its worst utilisation, load over resistance, or None when nothing can be judged.

    Raises
    ------
    DesignError
        If the case is unknown, its pressures belong to no speed, a speed is not above zero or slower than a wind from
        behind, or the pressure is to follow the sag and cannot.
    """
    at = AtSpeed(model, case, large_deflection=large_deflection, sag_feedback=sag_feedback)
    return sweep_of(at, speeds, judge=judge)


def sweep_of(at: AtSpeed, speeds: Iterable[float], *, judge: Judge | None = None) -> Sweep:
    """Solve a case, whose loads at some speeds may be assembled already, at several speeds in m/s."""
    begun = time.perf_counter()
    wanted = _checked(speeds)
    run = _Run(at, judge)
    rows = tuple(run.row(speed) for speed in wanted)
    return Sweep(
        model=at.model,
        case=at.case.name,
        speed=at.speed,
        follows=at.follows,
        large=at.case.large_deflection,
        rows=rows,
        notes=run.notes,
        seconds=time.perf_counter() - begun,
    )


def _checked(speeds: Iterable[float]) -> list[float]:
    """Speeds in rising order, each once."""
    found = sorted({float(speed) for speed in speeds})
    if not found:
        raise DesignError("A sweep over speed needs at least one speed; there is none.")
    if len(found) > MOST_SPEEDS:
        raise DesignError(f"A sweep over {len(found)} speeds was asked for; ask for at most {MOST_SPEEDS}.")
    for speed in found:
        if not (math.isfinite(speed) and speed > 0.0):
            raise DesignError(f"A sweep has the speed {speed:g} m/s: give speeds above zero.")
    return found


class _Run:
    """What the next speed takes over from those before."""

    def __init__(self, at: AtSpeed, judge: Judge | None) -> None:
        self.at, self.judge = at, judge
        self.start: Array | None = None
        self.start_at_rest: Array | None = None
        self.lost: list[float] = []
        self.enough = ENOUGH_LARGE if at.case.large_deflection else ENOUGH
        self.notes: tuple[str, ...] = ()

    def row(self, speed: float) -> dict[str, object]:
        """Solve at one speed."""
        row: dict[str, object] = dict.fromkeys(COLUMNS, math.nan) | {"speed_kmh": 3.6 * speed, "outcome": ""}
        row |= self._at_rest(speed)
        if len(self.lost) >= self.enough:
            where = " and ".join(f"{3.6 * lost:.0f}" for lost in self.lost)
            return row | {"outcome": f"no equilibrium: not tried, because there is none at {where} km/h"}
        try:
            solution = self._solved(speed)
        except MechanismError as problem:
            return row | {"outcome": f"not held: {problem}"}
        except SolveError as problem:
            self.lost.append(speed)
            return row | {"outcome": f"no equilibrium: {problem}"}
        self.lost = []
        self.start = unknowns(solution)
        if solution.load.air is not None:
            self.notes = solution.load.air.notes
        return row | self._told(solution)

    def _solved(self, speed: float) -> Solution:
        at = self.at
        follower = at.follower_at(speed) if at.follows else None
        balance = at.balance_at(speed, feedback=at.follows, ground=at.case.ground)
        response = balance.solve(start=self.start)
        return solution_of(
            at.model_at(speed), at.case_at(speed), at.load_at(speed), response, follower=follower
        )

    def _at_rest(self, speed: float) -> dict[str, object]:
        """Sag and downforce with pressure that does not follow the sag; nothing where it does not anyway."""
        at = self.at
        if not at.follows:
            return {}
        still = at.case_at(speed).with_(sag_feedback=False)
        try:
            balance = at.balance_at(speed, feedback=False, ground=at.case.ground)
            response = balance.solve(start=self.start_at_rest)
        except (MechanismError, SolveError):
            return {}
        solution = Solution(at.model_at(speed), still, at.load_at(speed), response)
        self.start_at_rest = unknowns(solution)
        return {
            "sag_at_rest_mm": 1e3 * sag_field(at.model, response.x).highest()[0],
            "downforce_at_rest_N": solution.downforce,
        }

    def _told(self, solution: Solution) -> dict[str, object]:
        x, y = solution.max_sag_at
        ratio = None if self.judge is None else self.judge(solution)
        known: dict[str, object] = {
            "max_sag_mm": 1e3 * solution.max_sag,
            "x_mm": 1e3 * x,
            "y_mm": 1e3 * y,
            "min_clearance_mm": 1e3 * solution.min_clearance,
            "ground_force_N": float(solution.ground.force),
            "downforce_N": solution.downforce,
            "worst_ratio": math.nan if ratio is None else float(ratio),
            "outcome": "touches the ground" if solution.min_clearance <= 0.0 else "held",
        }
        if not self.at.follows:
            known |= {"sag_at_rest_mm": known["max_sag_mm"], "downforce_at_rest_N": known["downforce_N"]}
        return known
