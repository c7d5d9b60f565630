"""Which stops the panel touches, in words."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.output.columns import wrapped
from splitterfem.output.wording import Words


def touched(solution: Solution) -> dict[str, float]:
    """Force on the panel in N, up positive, of every stop that it touches."""
    table = solution.supports
    stops = table[(table["kind"] == "stop") & (table["state"] != "open")]
    return {str(name): float(force) for name, force in zip(stops["support"], stops["fz_N"], strict=True)}


def stop_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Say in lines for a terminal which stops are touched in which load case, and how hard; none without stops.

    Parameters
    ----------
    solutions : sequence of Solution
        Of one splitter.
    words : Words
        Units.
    """
    if not solutions[0].model.design.stops:
        return []
    said = []
    for solution in solutions:
        pushes = [
            f"{name} {words.with_unit(abs(force), words.force, 0)}"
            for name, force in touched(solution).items()
        ]
        if pushes:
            said += wrapped(f"Stops touched in '{solution.case.name}': {', '.join(pushes)}.")
    return said or ["No stop is touched."]
