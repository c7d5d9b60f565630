"""What is known of a panel in equilibrium."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class NewtonReport:
    """How a solution was found step by step.

    Attributes
    ----------
    load_steps : int
        Parts in which the load was put on.
    residuals : tuple of tuple of float
        Relative out-of-balance forces after each iteration of each load step.
    """

    load_steps: int
    residuals: tuple[tuple[float, ...], ...]

    @property
    def iterations(self) -> int:
        """Newton iterations of all load steps."""
        return sum(len(step) for step in self.residuals)


@dataclass(frozen=True)
class Response:
    """Equilibrium of the panel under one load.

    Attributes
    ----------
    x : ndarray, shape (n_dofs,)
        Unknowns (u, v, w, phi_x, phi_y) node by node.
    extra : ndarray, shape (k,)
        Unknowns of the ribs' own.
    motion, force : ndarray, shape (m,)
        Motion of each restraint in m and force of the panel on it in N.
    side : ndarray of int, shape (m,)
        0 where a restraint does not act, else the bound that it is at.
    residual : float
        Norm of the out-of-balance nodal forces over that of the absolute nodal forces that should cancel
        (normwise backward error).
    play_residual : float
        Violation of the laws of restraints and ground, dimensionless.
    imbalance : float
        Largest of the six sums of loads and reactions, over the sum of absolute loads (moments: times the
        panel's size).
    energy_gap : float
        Work of loads and supports less that of the panel's own forces on the displacements, over the sum of their
        absolute values.
    correction : float
        Last correction of the unknowns by refinement over the largest of them: it grows with the condition of the
        matrix, and refinement fails where it does not shrink.
    steps : int
        Steps of the search for the acting restraints.
    seconds : float
    large : bool
        Whether slopes stretch panel and ribs (von Karman), so that strains have a part of second order in ``x``.
    ground : ndarray, shape (p,)
        Force of the ground on each of its places in N, up; empty where there is no ground.
    added : ndarray, shape (n_dofs,), or None
        Load that follows the deflection, beyond that at rest.
    newton : NewtonReport or None
        None for a linear solution.
    """

    x: Array
    extra: Array
    motion: Array
    force: Array
    side: NDArray[np.int64]
    residual: float
    play_residual: float
    imbalance: float
    energy_gap: float
    correction: float
    steps: int
    seconds: float
    large: bool = False
    ground: Array = field(default_factory=lambda: np.zeros(0))
    added: Array | None = None
    newton: NewtonReport | None = None
