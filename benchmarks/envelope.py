"""Error and time of a formulation at any number of unknowns, from those at a few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """How error and time go with the unknowns.

    The error at a mesh counts as the worst at it and at all finer ones, so that one that passes through zero by chance
    does not count as good; and never as less than what the source of the exact value leaves open.

    Attributes
    ----------
    unknowns, error, seconds : ndarray, shape (k,)
        Increasing unknowns; error over the exact value; CPU time of assembly and solution.
    """

    unknowns: Array
    error: Array
    seconds: Array

    @classmethod
    def of(
        cls, unknowns: Sequence[int], errors: Sequence[float], seconds: Sequence[float], known: float = 0.0
    ) -> Curve:
        """Make it from signed errors."""
        order = np.argsort(unknowns)
        size = np.maximum(np.abs(np.array(errors, dtype=float)[order]), max(known, 1e-12))
        worst = np.maximum.accumulate(size[::-1])[::-1]
        return cls(np.array(unknowns, dtype=float)[order], worst, np.array(seconds, dtype=float)[order])

    def error_at(self, unknowns: float) -> float | None:
        """Error at some number of unknowns, None outside of what was measured."""
        return self._at(unknowns, self.error)

    def seconds_at(self, unknowns: float) -> float | None:
        """Time at some number of unknowns, None outside of what was measured."""
        return self._at(unknowns, self.seconds)

    def _at(self, unknowns: float, values: Array) -> float | None:
        if not self.unknowns[0] <= unknowns <= self.unknowns[-1]:
            return None
        return float(np.exp(np.interp(np.log(unknowns), np.log(self.unknowns), np.log(values))))

    def unknowns_for(self, error: float) -> float | None:
        """Unknowns from which on the error stays below a limit, between meshes by a straight line of logarithms.

        None if the finest mesh misses it; those of the coarsest mesh if that meets it.
        """
        if self.error[-1] > error:
            return None
        if self.error[0] <= error:
            return float(self.unknowns[0])
        last = int(np.flatnonzero(self.error > error)[-1])
        logs = np.log(self.error[[last + 1, last]])
        share = (np.log(error) - logs[1]) / (logs[0] - logs[1])
        low, high = np.log(self.unknowns[[last, last + 1]])
        return float(np.exp(low + share * (high - low)))
