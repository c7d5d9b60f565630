"""What may be the worst when the worst gets better, and how it changes with what is added to a solved panel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.measures import Slopes, fall, next_worst
from splitterfem.analysis.sensitivity import Sensitivity, Tangent, falling

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Watched:
    """Places, or ratios of parts, of which each may be the worst when another gets better.

    Attributes
    ----------
    values : ndarray, shape (p,)
        Of what is to fall there, sag or clearance taken negative, in m; or ratios.
    adjoints : ndarray, shape (n_dofs, p)
        The panel's unknowns under the derivative of each.
    """

    values: Array
    adjoints: Array

    def gain(self, falls: Array) -> Array:
        """Fall (...,) of the worst with falls (..., p) of the places."""
        return np.asarray(self.values.max() - (self.values - falls).max(axis=-1))


def watched(of: Sensitivity, tangent: Tangent) -> Watched:
    """Watch all places that may be the worst in turn; a measure that is not of the worst place is its own."""
    structure, n = of.solution.model.structure, len(of.state)
    if of.measure.own is not None:
        return _watched_ratios(of, tangent, of.measure.own.others(of.solution))
    places = next_worst(of.solution, of.measure)
    sense = -1.0 if of.measure.rising else 1.0
    adjoints = of.adjoint[:, None]
    if len(places) > 1:
        gradients = np.column_stack([fall(of.solution, place) for place in places[1:]])
        adjoints = np.hstack([adjoints, tangent.adjoint(structure.with_extra(gradients))[0][:n]])
    return Watched(np.array([sense * place.value for place in places]), adjoints)


def _watched_ratios(of: Sensitivity, tangent: Tangent, others: list[Slopes]) -> Watched:
    values = np.array([of.measure.value, *(other.measure.value for other in others)])
    adjoints = of.adjoint[:, None]
    if others:
        further = tangent.adjoint(*falling(of.solution, tangent, others))[0]
        adjoints = np.hstack([adjoints, further[: len(of.state)]])
    return Watched(values, adjoints)
