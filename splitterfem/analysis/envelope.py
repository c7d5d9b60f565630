"""A splitter against the limits of a rulebook as its user typed them in.

Everything is measured on the drawing and on solved load cases. The figures in plan view are within 0.01 mm of the
true curves; what is built differs by more, so that whatever lies within the envelope's tolerance of a limit gets
the verdict "measure it".
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from splitterfem.analysis.envelope_gaps import gap_checks, loaded_limits
from splitterfem.analysis.envelope_plan import plan_checks
from splitterfem.analysis.envelope_rows import EnvelopeCheck
from splitterfem.analysis.solution import Solution
from splitterfem.design import Envelope, Splitter
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CAUTION", "COLUMNS", "EnvelopeCheck", "cases_to_solve", "check_envelope", "envelope_table"]

CAUTION = (
    "The limits are numbers that the user typed in; nobody has compared them with any rulebook. At the event the "
    "car is measured by the scrutineers, in their way, and not this drawing."
)
"""For everything that shows figures of an envelope."""

COLUMNS = (
    "rule", "measured", "limit_mm", "found_mm", "distance_mm", "x_mm", "y_mm", "verdict", "note",
)  # fmt: skip

_BUILT = ("panel", "doublers", "ribs", "struts", "bolts", "pins", "pockets", "stops", "car")


def check_envelope(
    splitter: Splitter, solutions: Solution | Iterable[Solution] = ()
) -> tuple[EnvelopeCheck, ...]:
    """Compare a splitter with every limit of its envelope.

    Parameters
    ----------
    splitter : Splitter
        With an envelope.
    solutions : Solution or iterable of Solution
        Load cases of the same splitter; limits of load cases that are not among them stay "not measured".

    Returns
    -------
    tuple of EnvelopeCheck
        In the order of the fields of the envelope, but gaps and test forces last.

    Raises
    ------
    DesignError
        If there is no envelope, its bodywork ends before the panel does, it names a load case that does not
        exist, or a solution belongs to another design.
    """
    envelope = _envelope_of(splitter)
    known = {solution.case.name: solution for solution in _several(solutions)}
    for name, solution in known.items():
        other = solution.model.design
        if any(getattr(other, field) != getattr(splitter, field) for field in _BUILT):
            raise DesignError(
                f"The solution of load case '{name}' belongs to another design than the envelope is held against; "
                "solve this one."
            )
    return (*plan_checks(splitter, envelope), *gap_checks(splitter, envelope, known))


def cases_to_solve(splitter: Splitter) -> tuple[str, ...]:
    """Name the load cases of a splitter without whose solutions some limit stays unmeasured.

    Raises
    ------
    DesignError
        If there is no envelope, or it names a load case that does not exist.
    """
    envelope = _envelope_of(splitter)
    tests = [splitter.case(limit.case).name for limit in envelope.deflections]
    return tuple(dict.fromkeys([*loaded_limits(splitter, envelope, {}), *tests]))


def envelope_table(checks: Iterable[EnvelopeCheck]) -> pd.DataFrame:
    """Put comparisons with the limits of an envelope into a table.

    Columns: rule, measured (what and how), limit_mm, found_mm, distance_mm (between the two, positive inside), x_mm
    and y_mm (worst place), verdict ("inside", "outside", "measure it" or "not measured"), note.
    ``attrs["caution"]`` of the table is `CAUTION`.
    """
    import pandas as pd

    rows = [
        (
            check.rule,
            check.measured,
            *(1e3 * value for value in (check.limit, check.found, check.distance, *check.at)),
            check.verdict,
            check.note,
        )
        for check in checks
    ]
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    table.attrs["caution"] = CAUTION
    return table


def _envelope_of(splitter: Splitter) -> Envelope:
    if splitter.envelope is None:
        raise DesignError(
            f"Splitter '{splitter.name}' has no envelope; give it one with the limits of your rulebook."
        )
    return splitter.envelope


def _several(solutions: Solution | Iterable[Solution]) -> Iterable[Solution]:
    return (solutions,) if isinstance(solutions, Solution) else solutions
