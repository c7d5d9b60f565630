"""What comes out of a comparison with one limit, and its verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from splitterfem.analysis.planform import ACCURACY

Verdict = Literal["inside", "outside", "measure it", "not measured"]
Place = tuple[float, float]

NOWHERE: Place = (math.nan, math.nan)


@dataclass(frozen=True)
class EnvelopeCheck:
    """One limit of the envelope and what was found.

    Attributes
    ----------
    rule : str
        Which limit.
    measured : str
        What is measured, and how.
    sense : {"at most", "at least"}
        Side of the limit on which the panel is to be.
    limit, found : float
        In m; found is nan when it could not be measured.
    distance : float
        From the limit in m, positive inside.
    at : tuple of float
        Worst place (x, y) in m; nan when there is none.
    since : tuple of float
        Place (x, y) in m from which the worst place is measured; nan when there is none.
    tolerance : float
        In m.
    note : str
        What else there is to know.
    """

    rule: str
    measured: str
    sense: Literal["at most", "at least"]
    limit: float
    found: float
    distance: float
    at: Place
    since: Place
    tolerance: float
    note: str = ""

    @property
    def verdict(self) -> Verdict:
        """Whether it lies inside, outside, or so near to the limit that it is to be measured on the car."""
        if math.isnan(self.distance):
            return "not measured"
        if abs(self.distance) <= self.tolerance + ACCURACY:
            return "measure it"
        return "inside" if self.distance > 0.0 else "outside"


def at_most(
    rule: str,
    measured: str,
    *,
    limit: float,
    found: float,
    tolerance: float,
    at: Place = NOWHERE,
    since: Place = NOWHERE,
    note: str = "",
) -> EnvelopeCheck:
    """Compare what was found with a limit from above (m)."""
    return EnvelopeCheck(rule, measured, "at most", limit, found, limit - found, at, since, tolerance, note)


def at_least(
    rule: str,
    measured: str,
    *,
    limit: float,
    found: float,
    tolerance: float,
    at: Place = NOWHERE,
    since: Place = NOWHERE,
    note: str = "",
) -> EnvelopeCheck:
    """Compare what was found with a limit from below (m)."""
    return EnvelopeCheck(rule, measured, "at least", limit, found, found - limit, at, since, tolerance, note)
