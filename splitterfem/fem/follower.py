"""Loads that follow the deflection, such as the air in the gap under a panel."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Follower(Protocol):
    """A load that changes as the panel deflects."""

    def load(self, x: Array) -> Array:
        """Load vector (n_dofs,) in N that the panel's unknowns ``x`` (n_dofs,) add to the load at rest.

        It is zero for ``x = 0``.
        """

    def slope(self, x: Array) -> Callable[[Array], Array]:
        """Return the derivative of the load at ``x``, which takes changes of the unknowns to changes of the load."""
