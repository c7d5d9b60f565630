"""How far a linear solution can be trusted, and how others were found, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.design import Splitter
from splitterfem.output.case_words import Said, together, with_names
from splitterfem.output.columns import wrapped
from splitterfem.output.origin import Made

SMALL = 0.15
"""Deflection over thickness up to which stretching is not looked at.

With q the load that would bend a thin round plate to w by bending alone, one whose hinged edge cannot move in takes
q (1 + 1.852 (w/t)^2) (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, article 100, for a Poisson's ratio
of 0.3; from memory): 4 % more at 0.15, and a panel whose edges are free takes less.
"""


@dataclass(frozen=True)
class Range:
    """What a linear solution leaves out.

    Attributes
    ----------
    sag_over_thickness : float
        Largest deflection, up or down, over the sheet's thickness.
    share : float or None
        Of the load that stretching would carry; None where the deflection is too small to look.
    within : bool
        Whether the linear solution can stand for itself.
    sentence : str
    """

    sag_over_thickness: float
    share: float | None
    within: bool
    sentence: str


def range_of(solution: Solution) -> Range | None:
    """Judge a linear solution; None for one with large deflection.

    Where the deflection is small this costs nothing, else the factorisation of the in-plane part of the model.

    Parameters
    ----------
    solution : Solution
    """
    if solution.response.large:
        return None
    thickness = float(solution.model.sheet.base.thickness)
    deflection = float(np.abs(solution.response.x[2::5]).max()) / thickness
    if deflection <= SMALL:
        text = (
            f"Linear solution within its range: the largest deflection is {deflection:.2g} sheet thicknesses, too "
            "little for stretching to count."
        )
        return Range(deflection, None, True, text)
    found = solution.linear_range
    assert found is not None
    return Range(deflection, found.membrane_share, found.within, found.sentence)


def newton_words(solution: Solution) -> str:
    """Say how a solution that is not linear was found: ``large deflection, 5 Newton steps``; empty for a linear one."""
    newton = solution.response.newton
    if newton is None:
        return ""
    count = newton.iterations
    how = [
        *(["large deflection"] if solution.response.large else []),
        *(["sag feedback"] if solution.follower is not None else []),
    ]
    return ", ".join([*how, f"{count} Newton step{'' if count == 1 else 's'}"])


def range_sentences(solutions: Sequence[Solution]) -> tuple[list[Said], list[Said]]:
    """Warnings of load cases outside the range of a linear solution; then what there is to say of the others.

    Parameters
    ----------
    solutions : sequence of Solution
    """
    warnings: list[tuple[int, str]] = []
    notes: list[tuple[int, str]] = []
    within: list[tuple[int, Range]] = []
    for number, solution in enumerate(solutions, start=1):
        found, how = range_of(solution), newton_words(solution)
        if how:
            notes.append((number, f"Solved with {how}."))
        if found is None:
            continue
        if found.within:
            within.append((number, found))
        else:
            warnings.append((number, found.sentence))
    if within:
        text = _within([found for _, found in within])
        notes += [(number, text) for number, _ in within]
    return together(warnings), together(notes)


def _within(found: Sequence[Range]) -> str:
    """Say in one sentence of load cases within the range how near they come to its end."""
    if len(found) == 1:
        return found[0].sentence
    most = max(one.sag_over_thickness for one in found)
    text = (
        f"Linear solution within its range: the largest deflection is at most {most:.2g} sheet thicknesses, "
    )
    shares = [abs(one.share) for one in found if one.share is not None]
    return text + (
        f"stretching carries at most about {100.0 * max(shares):.1f} % of the load."
        if shares
        else "too little for stretching to count."
    )


def range_lines(solutions: Sequence[Solution]) -> list[str]:
    """Say in lines for a terminal how far linear solutions can be trusted, and how the others were found.

    Parameters
    ----------
    solutions : sequence of Solution
    """
    names = [solution.case.name for solution in solutions]
    warnings, notes = range_sentences(solutions)
    # what holds for all load cases needs no names
    notes = [((), text) if len(numbers) == len(names) else (numbers, text) for numbers, text in notes]
    said = [*(f"WARNING {text}" for text in with_names(warnings, names)), *with_names(notes, names)]
    return [line for text in said for line in wrapped(text)]


def range_data(solution: Solution) -> dict[str, object]:
    """Return how a solution was found and how far it can be trusted, ready for JSON.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    dict
        ``large_deflection``, ``newton_steps`` (None for a linear solution) and ``linear_range``: None with large
        deflection, else ``sag_over_thickness``, ``stretching_percent`` (of the load; None where the deflection is too
        small to look), ``within`` and ``sentence``.
    """
    found, newton = range_of(solution), solution.response.newton
    return {
        "large_deflection": solution.response.large,
        "newton_steps": None if newton is None else newton.iterations,
        "linear_range": None
        if found is None
        else {
            "sag_over_thickness": found.sag_over_thickness,
            "stretching_percent": None if found.share is None else 100.0 * found.share,
            "within": found.within,
            "sentence": found.sentence,
        },
    }


def doubts(solution: Solution) -> list[str]:
    """Say in a few words each why the figures of a solution should be doubted; none where they can be trusted.

    Judging the range of a linear solution may take the factorisation of the in-plane part of the model.
    """
    judged = range_of(solution)
    return [
        *([] if judged is None or judged.within else ["outside the range of a linear solution"]),
        *(["pressure estimated by the gap law"] if estimated(solution) else []),
    ]


def subject(solution: Solution, what: str) -> str:
    """Write what a picture of a solution shows, in which load case, and why it should be doubted."""
    return "; ".join([plain_subject(solution, what), *doubts(solution)])


def with_doubts(made_by: str, made: Made) -> str:
    """Put behind the origin of a file of figures why they should be doubted.

    Parameters
    ----------
    made_by : str
        As `origin` or `full_origin` has it.
    made : Splitter, Solution or sequence of Solution
        What the file was made of; of several load cases each doubt names its own.
    """
    if isinstance(made, Splitter):
        return made_by
    if isinstance(made, Solution):
        return "; ".join([made_by, *doubts(made)])
    said = [f"load case '{one.case.name}' {doubt}" for one in made for doubt in doubts(one)]
    return "; ".join([made_by, *said])


def plain_subject(solution: Solution, what: str) -> str:
    """Write what a picture of a solution shows, and in which load case."""
    return f"{what} in load case: {solution.case.name}"


def estimated(solution: Solution) -> bool:
    """Whether the pressure is an estimate of the gap law, and no map."""
    return getattr(solution.case.pressure, "kind", None) == "gap law"
