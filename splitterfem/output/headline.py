"""Headline figures of one solution: on one line, and as a small table."""

from __future__ import annotations

import html
import math
from collections.abc import Callable

from splitterfem.analysis import Solution
from splitterfem.output.air_words import windy
from splitterfem.output.contact_words import ground_words
from splitterfem.output.range_words import newton_words, range_of
from splitterfem.output.wording import Words, invented_mark, words_for

Figure = tuple[str, str, str]
"""What, how much, where."""


def one_line(solution: Solution) -> str:
    """Splitter, load case, sag, gap and downforce on one line."""
    words = words_for("metric")
    figures = "; ".join(f"{what} {value}" for what, value, _ in _figures(solution, words))
    return f"Solution '{solution.case.name}' of '{solution.model.design.name}': {figures}" + "".join(
        f"; {text}" for text in _how(solution)
    )


def html_table(solution: Solution) -> str:
    """Headline figures as an HTML table of three columns: what, how much, where."""
    design, words = solution.model.design, words_for("metric")
    title = f"{design.name}: {solution.case.name}{invented_mark(design)}"
    judged = range_of(solution)
    shown = [
        *_figures(solution, words),
        *_axles(solution, words),
        ("checks", solution.status, ""),
        *([] if judged is None else [("trust", judged.sentence, "")]),
    ]
    rows = "".join(
        "<tr>" + "".join(f"<td style='text-align: left'>{html.escape(cell)}</td>" for cell in row) + "</tr>"
        for row in shown
    )
    return f"<table><caption>{html.escape(title)}</caption>{rows}</table>"


def _figures(solution: Solution, words: Words) -> list[Figure]:
    """Say what, how much and where; figures at rest beside those of a pressure that follows the sag."""

    def at(place: tuple[float, float]) -> str:
        return f"at x, y {words.place(place)} mm" if math.isfinite(place[0]) else ""

    def beside(figure: Callable[[Solution, Words], str]) -> str:
        other = "" if rest is None else f", {figure(rest, words)} if the pressure did not follow the sag"
        return figure(solution, words) + other

    # a solution is shown at every turn: it is not solved again for that, unless that is quick
    dear = solution.response.large and "at_rest" not in vars(solution)
    gap, rest = solution.clearance, None if dear else solution.at_rest
    lowest = "" if gap.under == "panel" else f" under {gap.under}"
    ground = ground_words(solution, words)
    rows = [
        ("sag", beside(_sag), at(solution.max_sag_at)),
        ("gap to the ground", f"{words.sag(gap.least)} mm{lowest}{ground and f', {ground}'}", at(gap.at)),
        ("mass of panel and ribs", words.with_unit(solution.mass, "kg", 2), ""),
    ]
    if windy(solution):
        rows.insert(2, ("downforce", beside(_downforce), at(solution.centre_of_pressure)))
    return rows


def _sag(solution: Solution, words: Words) -> str:
    return f"{words.sag(solution.max_sag)} mm"


def _downforce(solution: Solution, words: Words) -> str:
    band = solution.car.band
    ends = "" if band is None else f" ({words.number(band[0], 'N', 0)} to {words.number(band[2], 'N', 0)})"
    return words.with_unit(solution.downforce, "N", 0) + ends


def _how(solution: Solution) -> list[str]:
    """Say how the solution was found unless it is linear, and warn where it should not be linear."""
    judged, newton = range_of(solution), newton_words(solution)
    return [
        *([newton] if newton else []),
        *([] if judged is None or judged.within else ["OUTSIDE THE RANGE of a linear solution"]),
    ]


def _axles(solution: Solution, words: Words) -> list[Figure]:
    """Say what the downforce adds to the axles, where that is known."""
    car = solution.car
    if not math.isfinite(car.front):
        return []
    front, rear = (words.with_unit(load, "N", 0) for load in (car.front, car.rear))
    return [("added to the axles", f"front {front}, rear {rear}", "")]
