"""Answers with every restraint tied, as far as a search for the restraints that act asks for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.carried import Top

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Eliminated:
    """A load that was carried to the top: what the ties do under it is known, the panel's answer is yet to be found.

    Attributes
    ----------
    rest : ndarray, shape (n, 1)
        What is left of the load where each unknown is eliminated, the forces of the ties last.
    give : ndarray, shape (m,)
        Compliance of the ties, m/N.
    top : Top
    back : callable
        Goes back down from the top.
    """

    rest: Array
    give: Array
    top: Top
    back: Callable[[Array], Array]

    @cached_property
    def motion(self) -> Array:
        """Motions of the ties (m,), m."""
        forces = self.top.solve(self.rest[-self.top.size :])[-len(self.give) :, 0]
        return self.give * forces

    def answer(self, push: Array) -> Array:
        """Unknowns (n,) under the load and forces (m,) on the ties."""
        found = self.rest.copy()
        found[-len(push) :, 0] += self.give * push
        return self.back(found)[:, 0]

    @cached_property
    def alone(self) -> Array:
        """Unknowns (n,) under the load alone."""
        return self.answer(np.zeros(len(self.give)))


Tied: TypeAlias = Array | Eliminated
"""Answer with every restraint tied: the unknowns (n,), or what leads to them."""
