"""Pressure that follows the sag: as a field, and what it changes, for machines and for people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from splitterfem.analysis import Solution
from splitterfem.model import SagFollower
from splitterfem.output.air_words import windy
from splitterfem.output.columns import aligned
from splitterfem.output.wording import Words

Array = NDArray[np.float64]

WITH_SAG = "with sag feedback"
"""Said of a pressure that follows the sag."""

IN_BRACKETS = "In brackets: if the pressure did not follow the sag."


@dataclass(frozen=True, eq=False)
class FollowedPressure:
    """Net pressure of a solved load case as it follows the sag.

    Attributes
    ----------
    follower : SagFollower
    x : ndarray, shape (n_dofs,)
        Unknowns of the panel.
    """

    follower: SagFollower
    x: Array

    def at(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Net pressure in Pa, positive down, at points (n,) in m; off the panel that of the nearest of them on it."""
        points = np.vstack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)])
        values = self.follower.pressure_at(self.x, points)
        off = np.isnan(values)
        if off.any() and not off.all():
            values[off] = values[~off][cKDTree(points[:, ~off].T).query(points[:, off].T)[1]]
        return values


def followed_pressure(solution: Solution) -> FollowedPressure | None:
    """Net pressure of a solution as it follows the sag; None when it does not.

    Parameters
    ----------
    solution : Solution
    """
    if solution.follower is None:
        return None
    return FollowedPressure(solution.follower, solution.response.x)


def following(solutions: Sequence[Solution]) -> list[tuple[int, Solution, Solution]]:
    """Solutions whose pressure follows the sag, each with its number from 1 and the same load case without that."""
    found = []
    for number, solution in enumerate(solutions, start=1):
        rest = solution.at_rest
        if rest is not None:
            found.append((number, solution, rest))
    return found


def followed_pairs(solution: Solution, rest: Solution, words: Words) -> list[tuple[str, str]]:
    """Sag, gap, downforce and load of the front axle, each with sag feedback and without it.

    Parameters
    ----------
    solution, rest : Solution
        With and without.
    words : Words
        Units.
    """

    def force(value: float) -> str:
        return words.number(value, words.force, 0) if np.isfinite(value) else "-"

    return [
        (words.sag(solution.max_sag), words.sag(rest.max_sag)),
        (words.sag(solution.min_clearance), words.sag(rest.min_clearance)),
        (force(solution.downforce), force(rest.downforce)),
        (force(solution.car.front), force(rest.car.front)),
    ]


def followed_headings(words: Words) -> list[tuple[str, str]]:
    """Names and units of the figures of `followed_pairs`."""
    return [("sag", words.size), ("gap", words.size), ("downforce", words.force), ("front axle", words.force)]


def followed_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Write figures with and without sag feedback as a table for a terminal; none where nothing follows the sag.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.
    """
    rows = [
        [s.case.name, *(_beside(*pair) for pair in followed_pairs(s, rest, words))]
        for _, s, rest in following(solutions)
    ]
    if not rows:
        return []
    names = [f"{name} ({unit})" for name, unit in followed_headings(words)]
    return [*aligned([["pressure follows the sag in load case", *names], *rows]), IN_BRACKETS]


def _beside(figure: str, at_rest: str) -> str:
    return figure if figure == "-" else f"{figure} ({at_rest})"


def followed_data(solution: Solution) -> dict[str, object] | None:
    """Figures of the same load case without sag feedback, ready for JSON; None when nothing follows the sag.

    Parameters
    ----------
    solution : Solution
    """
    rest = solution.at_rest
    if rest is None:
        return None
    (x, y), windless = rest.centre_of_pressure, not windy(rest)
    return {
        "max_sag_mm": 1e3 * rest.max_sag,
        "min_clearance_mm": 1e3 * rest.min_clearance,
        "downforce_N": rest.downforce,
        "centre_of_pressure_x_mm": None if windless or not np.isfinite(x) else 1e3 * x,
        "centre_of_pressure_y_mm": None if windless or not np.isfinite(y) else 1e3 * y,
    }


def cannot_follow(names: Sequence[str]) -> str:
    """Say which load cases were solved without sag feedback though it was asked for."""
    quoted = ", ".join(f"'{name}'" for name in names)
    return (
        f"Solved without sag feedback, for no pressure follows the gap there: {quoted}. A measured map follows with "
        "gap_exponent."
    )
