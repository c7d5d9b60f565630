"""Air that follows the sag, read backwards: which deflections a load that is asked for comes from.

The derivative of the load is ``A = L D W``: what the unknowns deflect (W), what that changes of the pressure (D), and
the load of that pressure (L).  An adjoint solve needs ``A' = W' D' L'``.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from splitterfem.model.feedback import SagFollower
from splitterfem.model.feedback_air import GapAir
from splitterfem.model.feedback_points import panel_points, stations

Array = NDArray[np.float64]
Slope = Callable[[Array], Array]


def transposed_slope(follower: SagFollower, x: Array) -> Slope:
    """Return the transpose of ``follower.slope(x)``.

    Parameters
    ----------
    follower : SagFollower
    x : ndarray, shape (n_dofs,)
        Unknowns of the panel.

    Returns
    -------
    callable
        Takes vectors (n_dofs,) to vectors (n_dofs,).
    """
    terms: list[Slope] = []
    following = [air for air in follower.maps if air.rule is not None]
    if following:
        points = panel_points(follower.model.panel)
        w = points.deflection @ x
        by_w = np.sum([air.added_slope(w) for air in following], axis=0)
        terms.append(lambda v: points.deflection.T @ (by_w * (points.load.T @ v)))
    terms += [_of_law(follower, law, x) for law in follower.laws]
    return lambda v: np.asarray(np.sum([term(v) for term in terms], axis=0))


def _of_law(follower: SagFollower, law: GapAir, x: Array) -> Slope:
    under = stations(follower.model, law.rest.grid)
    slope = law.added_slope(under.deflection @ x)
    strips, count = law.gap.shape
    # strips do not feel each other, so that one station of all of them can be moved at once
    columns = [slope(np.tile(unit, strips)).reshape(strips, count) for unit in np.eye(count)]
    back = np.stack(columns, axis=1)

    def transposed(v: Array) -> Array:
        pressed = (under.load.T @ v).reshape(strips, count, 1)
        return np.asarray(under.deflection.T @ np.matmul(back, pressed).ravel())

    return transposed
