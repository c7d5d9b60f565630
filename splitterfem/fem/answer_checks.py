"""Whether an answer passes its own tests: out-of-balance forces, sums of forces, energy, rounding."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.response import Response

Array = NDArray[np.float64]

LIMITS = {"residual": 1e-10, "play_residual": 1e-8, "imbalance": 1e-8, "energy_gap": 1e-7, "correction": 1e-4}
"""Largest errors with which a solution is handed out."""

SLIPPING = 1e-4
"""Largest imbalance with large deflection and ribs that slip: their own displacements, which are splines along them,
cannot follow a bowed panel that turns to the last digit."""

MOST_GIVE = 1e-5
"""Share of the largest motion by which rigid bounds give way when they contradict each other."""

MOST_FORCE = 1e3
"""Force over the sum of the loads that rigid bounds bear when they contradict each other."""

CHUNK = 1 << 21
"""Entries of a matrix whose absolute values are taken at once."""


def refuse_wrong(response: Response, *, slipping: bool) -> None:
    """Refuse an answer that misses its own tests by more than `LIMITS`.

    Parameters
    ----------
    response : Response
    slipping : bool
        Whether it has ribs that slip.

    Raises
    ------
    SolveError
        Naming which.
    """
    for name, what in (
        ("residual", "nodal forces"),
        ("play_residual", "support forces"),
        ("imbalance", "sums of loads and reactions"),
        ("energy_gap", "works of loads and panel"),
    ):
        value = getattr(response, name)
        slips = response.large and slipping and name == "imbalance"
        limit = SLIPPING if slips else LIMITS[name]
        if not value <= limit:
            raise SolveError(
                f"The {what} miss equilibrium by {value:.1e} (limit {limit:.0e}), so the answer is "
                "withheld: look for extreme stiffness ratios between sheet, ribs and struts."
            )
    if not response.correction <= LIMITS["correction"]:
        raise SolveError(
            f"Rounding still moves the displacements by {response.correction:.1e} of the largest (limit "
            f"{LIMITS['correction']:.0e}), so the answer is withheld: look for extreme stiffness ratios between "
            "sheet, ribs and struts, or for a panel that hardly anything holds."
        )


def energy_gap(load: Array, x: Array, reaction: Array, internal: Array) -> float:
    """Work that loads and supports do and the panel does not take up, over all of it; vectors of shape (n,)."""
    works = np.array([x @ load, -(x @ reaction), -(x @ internal)])
    return float(np.abs(works.sum()) / max(np.abs(works).sum(), 1e-300))


def refuse_contradiction(force: Array, give: Array, *, load: Array, x: Array) -> None:
    """Refuse rigid bounds that contradict each other.

    Parameters
    ----------
    force, give : ndarray, shape (m,)
        Forces on them, and how far they give way under these in the search.
    load, x : ndarray, shape (n,)

    Raises
    ------
    SolveError
        Saying by how much they do.
    """
    strained = np.abs(force) > MOST_FORCE * float(np.abs(load).sum())
    most = float(np.abs(give[strained]).max(initial=0.0))
    if most > MOST_GIVE * float(np.abs(x).max(initial=0.0)):
        raise SolveError(
            "Supports that touch, or a support and the ground, contradict each other by about "
            f"{1e3 * most:.2g} mm: look for places that two of them hold at different heights, at clearances, and "
            "at the ride height."
        )


def absolute_product(matrix: sp.csc_array, x: Array) -> Array:
    """Absolute values of a matrix (n, m) times those of a vector (m,), without a second matrix."""
    ends, found = matrix.indptr, np.zeros(matrix.shape[0])
    cuts = np.unique(np.append(np.searchsorted(ends, np.arange(0, ends[-1], CHUNK)), [0, matrix.shape[1]]))
    for first, last in pairwise(cuts.tolist()):
        some = slice(ends[first], ends[last])
        part = (np.abs(matrix.data[some]), matrix.indices[some], ends[first : last + 1] - ends[first])
        found += sp.csc_array(part, shape=(matrix.shape[0], last - first)) @ np.abs(x[first:last])
    return found
