"""A rib's own displacement along itself, for joints that slip.

Where the joint slips, the rib's foot moves along the panel's face by the slip ``U - (u_t - z phi_t)``, whose energy
is half the joint's stiffness times its square (Newmark, Siess & Viest, Proc. Soc. Exp. Stress Anal. 9 (1951) 75-92).
A stiff joint makes the rib act with the panel, a soft one leaves two beams that only bend together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.contribution import Extra

Array = NDArray[np.float64]
Index = NDArray[np.int64]

CELLS_PER_METRE = 60
GROWTH = 1.4
"""Ratio of neighbouring cells towards the middle: the slip peaks at the ends of a rib."""


@dataclass(frozen=True)
class SlipField:
    """Displacement of a rib's foot along the rib: continuous, quadratic in each cell.

    Attributes
    ----------
    knots : ndarray, shape (c + 1,)
        Ends of the cells along the rib in m.
    first : int
        Number of its first unknown among the extra ones.
    """

    knots: Array
    first: int

    @property
    def count(self) -> int:
        """Number of unknowns: ends and middles of the cells."""
        return 2 * len(self.knots) - 1

    def functions(self, s: Array) -> tuple[Index, Array, Array]:
        """Unknowns (n, 3) at distances ``s`` along the rib, their functions (n, 3) and derivatives (n, 3)."""
        cell = np.clip(np.searchsorted(self.knots, s, side="right") - 1, 0, len(self.knots) - 2)
        size = self.knots[cell + 1] - self.knots[cell]
        t = (s - self.knots[cell]) / size
        values = np.column_stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)])
        slopes = np.column_stack([4 * t - 3, 4 - 8 * t, 4 * t - 1]) / size[:, None]
        return (self.first + 2 * cell[:, None] + np.arange(3)).astype(np.int64), values, slopes

    def rows(self, s: Array, *, value: Array, slope: Array) -> Extra:
        """Extra rows (n, m, 3) from the factors (m,) of the displacement and of its derivative."""
        dofs, functions, slopes = self.functions(s)
        return Extra(dofs, value[:, None] * functions[:, None] + slope[:, None] * slopes[:, None])

    def at(self, s: Array, extra: Array) -> tuple[Array, Array]:
        """Displacement (n,) in m and its derivative at distances ``s`` from all extra unknowns."""
        dofs, functions, slopes = self.functions(s)
        return np.sum(functions * extra[dofs], axis=1), np.sum(slopes * extra[dofs], axis=1)


def slip_field(points: Array, first: int, *, stiffness: float, EA: float) -> SlipField:
    """Cells along a rib, closing up towards its ends as far as the slip's decay length ``sqrt(EA / k)`` asks.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Rib line in m.
    first : int
        Number of the first extra unknown that is free.
    stiffness : float
        Of the joint in N/m2.
    EA : float
        Of the rib in N.
    """
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    usual = length / max(8, int(np.ceil(length * CELLS_PER_METRE)))
    size = min(usual, 0.25 * float(np.sqrt(EA / stiffness)))
    half = [0.0]
    while half[-1] < 0.5 * length:
        half.append(half[-1] + size)
        size = min(size * GROWTH, usual)
    knots = np.array(half) * (0.5 * length / half[-1])
    return SlipField(np.concatenate([knots, length - knots[-2::-1]]), first)
