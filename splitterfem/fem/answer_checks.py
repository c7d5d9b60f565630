"""Whether an answer passes its own tests: out-of-balance forces, sums of forces, energy, rounding."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.response import Response

Array = NDArray[np.float64]

LIMITS = {"residual": 1e-10, "play_residual": 1e-8, "imbalance": 1e-8, "energy_gap": 1e-7, "correction": 1e-4}
"""Largest errors with which a solution is handed out."""

SLIPPING = 1e-4
"""Largest imbalance with large deflection and ribs that slip: their own displacements, which are splines along them,
cannot follow a bowed panel that turns to the last digit."""


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
