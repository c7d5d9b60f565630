"""Pressure that follows the sag: as a field, and what it changes, for machines and for people."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.output.air_words import windy
from splitterfem.output.columns import aligned
from splitterfem.output.wording import Words

IN_BRACKETS = "In brackets: if the pressure did not follow the sag."


def pressure_field(solution: Solution) -> Field | None:
    """Net pressure in Pa, positive down, as it follows the sag; None when it does not.

    Parameters
    ----------
    solution : Solution
    """
    if solution.follower is None:
        return None
    places = solution.sag
    values = solution.follower.pressure_at(solution.response.x, np.vstack([places.x, places.y]))
    # samples on the edge of an opening may lie off the mesh by a rounding error
    on = np.isfinite(values)
    number = np.cumsum(on) - 1
    whole = places.triangles[on[places.triangles].all(axis=1)]
    return Field(places.x[on], places.y[on], number[whole], values[on])


def beside(with_sag: str, without: str) -> str:
    """Write a figure with the one at rest in brackets."""
    return f"{with_sag} ({without})"


def following(solutions: Sequence[Solution]) -> list[tuple[int, Solution, Solution]]:
    """Solutions whose pressure follows the sag, each with its number from 1 and the same load case without that."""
    found = []
    for number, solution in enumerate(solutions, start=1):
        rest = solution.at_rest
        if rest is not None:
            found.append((number, solution, rest))
    return found


def followed_cells(solution: Solution, rest: Solution, words: Words) -> list[str]:
    """Sag, gap, downforce and load of the front axle with sag feedback, each with that without it in brackets.

    Parameters
    ----------
    solution, rest : Solution
        With and without.
    words : Words
        Units.
    """

    def force(value: float) -> str:
        return words.number(value, words.force, 0) if np.isfinite(value) else "-"

    pairs = [
        (words.sag(solution.max_sag), words.sag(rest.max_sag)),
        (words.sag(solution.min_clearance), words.sag(rest.min_clearance)),
        (force(solution.downforce), force(rest.downforce)),
        (force(solution.car.front), force(rest.car.front)),
    ]
    return [beside(*pair) if pair != ("-", "-") else "-" for pair in pairs]


def followed_headings(words: Words) -> list[tuple[str, str]]:
    """Names and units of the figures of `followed_cells`."""
    return [("sag", words.size), ("gap", words.size), ("downforce", words.force), ("front axle", words.force)]


def followed_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Write figures with and without sag feedback as a table for a terminal; none where nothing follows the sag.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.
    """
    rows = [[s.case.name, *followed_cells(s, rest, words)] for _, s, rest in following(solutions)]
    if not rows:
        return []
    names = [f"{name} ({unit})" for name, unit in followed_headings(words)]
    return [*aligned([["pressure follows the sag in load case", *names], *rows]), IN_BRACKETS]


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
