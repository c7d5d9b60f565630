"""What the first page of a report is made of, and how load cases are named on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.envelope_rows import EnvelopeCheck
from splitterfem.output.judged import Judged, Losses, weakest
from splitterfem.output.wording import Words


@dataclass(frozen=True, eq=False)
class Found:
    """What a summary is made of.

    Attributes
    ----------
    solutions : sequence of Solution
    judged : Judged
    checks : sequence of EnvelopeCheck
        Limits of a rulebook; empty without an envelope.
    unjudged : sequence of str
        What was not judged, in sentences.
    losses : Losses or None
    behaviour : Behaviour or None
    bill : pandas.DataFrame
    words : Words
        Units.
    """

    solutions: Sequence[Solution]
    judged: Judged
    checks: Sequence[EnvelopeCheck]
    unjudged: Sequence[str]
    losses: Losses | None
    behaviour: Behaviour | None
    bill: pd.DataFrame
    words: Words

    @property
    def lowest(self) -> Solution:
        """The load case that comes nearest to the ground, or lies on it hardest."""
        return min(self.solutions, key=lambda s: (s.min_clearance, -s.ground.force))

    @property
    def weakest(self) -> pd.Series | None:
        """Row of the weakest link."""
        return weakest(self.judged.worst)

    def of(self, verdict: str) -> list[EnvelopeCheck]:
        """Limits with a verdict."""
        return [check for check in self.checks if check.verdict == verdict]


def listed(texts: Sequence[str]) -> str:
    """Write texts as a list with an "and" before the last."""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


def number_of(found: Found, solution: Solution) -> int:
    """Return the number of a load case in the report, from 1."""
    return next(n for n, other in enumerate(found.solutions, start=1) if other is solution)


def case_words(found: Found, solution: Solution) -> str:
    """Name a load case by its number and its name."""
    return f"load case {number_of(found, solution)}, {solution.case.name}"
