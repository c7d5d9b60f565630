"""How much of a Newton step is taken, and what is said when no step leads on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError

Array = NDArray[np.float64]

SHORTEST, LONGEST, CLOSE = 0.01, 1.5, 0.05
"""Shares of a Newton step that are taken, and how near to one a share counts as the whole step."""

PARTS = np.array([0.0, 0.5, 1.0, 1.5])
"""Shares of a step at which the work of the out-of-balance forces is looked at."""


def share_of_step(work: Array) -> float:
    """Share of a step at which a cubic through the work at `PARTS` is zero; the whole step when it is nowhere.

    Parameters
    ----------
    work : ndarray, shape (4,)
        Of the out-of-balance forces along the step, in J; any that is not finite asks for the shortest share.
    """
    if not np.all(np.isfinite(work)):
        return SHORTEST
    roots = np.roots(np.polyfit(PARTS, work, 3))
    real = roots.real[(np.abs(roots.imag) < 1e-9) & (roots.real > SHORTEST) & (roots.real <= LONGEST)]
    found = float(real.min()) if len(real) else 1.0
    return 1.0 if abs(found - 1.0) < CLOSE else found


def no_equilibrium(done: float, *, follows: bool) -> SolveError:
    """Say up to which share of the load there was an equilibrium, and what may be behind it.

    Parameters
    ----------
    done : float
        Share of the load, 0 to 1.
    follows : bool
        Whether the load follows the deflection.
    """
    snaps = "the panel snaps or buckles there, or its supports let it go; look at the linear solution"
    why = (
        "suction grows faster than the panel resists it, or the panel snaps or buckles; go slower, or stiffen it"
        if follows
        else f"{snaps}, and stiffen it"
    )
    return SolveError(f"No equilibrium was found beyond {100 * done:.0f} % of the load: {why}.")
