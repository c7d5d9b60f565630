"""What a report says of the limits of a rulebook: a table, how they are measured, and the caution."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.analysis.envelope import CAUTION
from splitterfem.analysis.envelope_rows import EnvelopeCheck
from splitterfem.output.envelope_words import HEADINGS, how_words, limit_cells, verdict_words
from splitterfem.output.report_tables import minus, table_of
from splitterfem.output.style import scale_of
from splitterfem.output.wording import Words


def envelope_part(
    solutions: Sequence[Solution], checks: Sequence[EnvelopeCheck], words: Words
) -> dict[str, object] | None:
    """Everything that a report says of the envelope; None when the splitter has none.

    Parameters
    ----------
    solutions : sequence of Solution
        Load cases of one splitter.
    checks : sequence of EnvelopeCheck
        Comparisons with its limits; those of cases that are not among the solutions stay unmeasured.
    words : Words
        Units.

    Returns
    -------
    dict or None
        ``table``, ``verdict`` (sentences), ``bad`` (whether something lies outside), ``how`` (sentences),
        ``caution``, ``picture``.
    """
    design = solutions[0].model.design
    if design.envelope is None:
        return None
    scale = scale_of(words.size)
    outside = [i for i, check in enumerate(checks) if check.verdict == "outside"]
    rows = [limit_cells(check, scale) for check in checks]
    return {
        "table": table_of([*HEADINGS, f"at x, y\n{words.size}"], rows, alarms=outside),
        "verdict": [minus(line) for line in verdict_words(checks, scale)],
        "bad": bool(outside),
        "how": [minus(line) for line in how_words(checks)],
        "caution": CAUTION,
        "picture": "envelope.svg",
    }
