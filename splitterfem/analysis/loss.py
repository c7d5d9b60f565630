"""What is left when one part fails: every support, and the joint of every rib, lost in turn."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from splitterfem.analysis.solution import Solution, solve_load
from splitterfem.analysis.tables import per_support
from splitterfem.design import LoadCase
from splitterfem.design.combine import settled
from splitterfem.errors import MechanismError, SolveError
from splitterfem.model import CaseLoad, Model, case_load
from splitterfem.threads import one_blas_thread

Judge = Callable[[Solution], float | None]
"""Gives the worst utilisation of a solution, load over resistance; None when nothing can be judged."""

COLUMNS = (
    "lost",
    "kind",
    "max_sag_mm",
    "x_mm",
    "y_mm",
    "min_clearance_mm",
    "touches_ground",
    "worst_support",
    "worst_support_N",
    "worst_ratio",
    "outcome",
)

_RANKS = ("not held", "not solved", "touches", "held")


@dataclass(frozen=True)
class _Loss:
    """One part that is lost, and how the rest and its load come about."""

    name: str
    kind: str
    rest: Callable[[], tuple[Model, CaseLoad]]


@one_blas_thread()
def lose_one(model: Model, case: str | LoadCase, *, judge: Judge | None = None) -> pd.DataFrame:
    """Solve a load case with each support, and the joint of each rib, lost in turn.

    Struts, bolts, pins, rear pockets and stops are taken away one at a time, the halves of mirrored pairs by
    themselves.  A rib whose joint is lost stays on the panel, carries its weight and bends with it, but no longer
    acts with it as one section.  Mesh and loads stay as they are, so that differences between the rows are those of
    the loss alone.  Joints that are lost in the load case anyway stay lost in every row and have none of their own.

    The loss is slow: the jolt of a part that breaks under load, about twice the change for a load applied at once to
    an elastic structure without damping (Timoshenko, Vibration Problems in Engineering), is not in the table.
    A panel that a loss lets down onto the ground may be held up by it; its figures are those with the ground.  "held"
    says that the other supports are in equilibrium with the load, not that they bear it: give `judge` for that.

    Parameters
    ----------
    model : Model
        With the joints of its ribs as the design has them.
    case : str or LoadCase
        A load case of the design by its name, or one of your own.
    judge : callable, optional
        Given each solution, returns its worst utilisation, load over resistance, or None when nothing can be judged.

    Returns
    -------
    pandas.DataFrame
        One row for each loss, worst first: what is not held, what touches the ground, then by ``worst_ratio`` and by
        sag.  Columns: lost, kind ("strut", "bolt", "pin", "rear pocket", "stop", "rib joint"), max_sag_mm, x_mm and
        y_mm (its place), min_clearance_mm, touches_ground, worst_support and worst_support_N (the resultant of the
        largest support force), worst_ratio (nan without `judge`), outcome ("held", "touches the ground", or
        "not held: " or "not solved: " and why).  What is not solved has no numbers.

    Raises
    ------
    DesignError
        If the load case is unknown, loads nothing, or loads something off the panel.
    """
    chosen = settled(model.design.case(case) if isinstance(case, str) else case, model.design)
    rows = [_row(loss, chosen, judge) for loss in _losses(model.for_case(chosen), chosen)]
    rows.sort(key=_badness)
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype({"touches_ground": "boolean"})


def _losses(model: Model, case: LoadCase) -> Iterator[_Loss]:
    """Everything that can be lost, in the order of the design."""
    load = case_load(model, case)
    for support in model.supports:
        yield _Loss(support.name, support.kind, partial(_without, model, support.name, load))
    for name in dict.fromkeys(rib.design.name for rib in model.ribs if not rib.unbonded):
        yield _Loss(name, "rib joint", partial(_unbonded, model, name, case))


def _without(model: Model, lost: str, load: CaseLoad) -> tuple[Model, CaseLoad]:
    return model.without_support(lost), load


def _unbonded(model: Model, lost: str, case: LoadCase) -> tuple[Model, CaseLoad]:
    """Lose a joint; the rib's weight then acts on one line, so that the load is assembled anew."""
    rest = model.with_joints_lost(model.unbonded | {lost})
    return rest, case_load(rest, case)


def _row(loss: _Loss, case: LoadCase, judge: Judge | None) -> dict[str, object]:
    row: dict[str, object] = dict.fromkeys(COLUMNS, np.nan)
    row |= {"lost": loss.name, "kind": loss.kind, "touches_ground": pd.NA, "worst_support": ""}
    try:
        rest, load = loss.rest()
        solution = solve_load(rest, case, load)
    except MechanismError as problem:
        return row | {"outcome": f"not held: {problem}"}
    except SolveError as problem:
        return row | {"outcome": f"not solved: {problem}"}
    x, y = solution.max_sag_at
    touches = solution.min_clearance <= 0.0
    worst, force = _largest_force(solution)
    ratio = None if judge is None else judge(solution)
    return row | {
        "max_sag_mm": 1e3 * solution.max_sag,
        "x_mm": 1e3 * x,
        "y_mm": 1e3 * y,
        "min_clearance_mm": 1e3 * solution.min_clearance,
        "touches_ground": touches,
        "worst_support": worst,
        "worst_support_N": force,
        "worst_ratio": np.nan if ratio is None else float(ratio),
        "outcome": "touches the ground" if touches else "held",
    }


def _largest_force(solution: Solution) -> tuple[str, float]:
    """Support with the largest resultant in N."""
    sizes = {
        support.name: float(np.linalg.norm(force @ support.directions))
        for support, force, _ in per_support(solution.model, solution.response)
    }
    return max(sizes.items(), key=lambda item: item[1])


def _badness(row: dict[str, object]) -> tuple[int, float, float]:
    """Sort key, the worst row first."""
    rank = next(i for i, words in enumerate(_RANKS) if str(row["outcome"]).startswith(words))
    numbers = (float(str(row[name])) for name in ("worst_ratio", "max_sag_mm"))
    ratio, sag = (math.inf if math.isnan(number) else -number for number in numbers)
    return rank, ratio, sag
