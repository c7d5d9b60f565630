"""Strains in the direction of a line, from the first derivatives of the displacements alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.locate import Samples
from splitterfem.fem.panel import PointRows
from splitterfem.fem.reference import N_NODES, N_OUTER
from splitterfem.fem.space import N_LOCAL

Array = NDArray[np.float64]


class LineRows:
    """Rows of a panel at samples, in the axes of the line that they are on: along it, and its left normal.

    Rows of all strains at once, turned afterwards, are the same and take three times as long.

    Parameters
    ----------
    here : PointRows
        Of the panel, at the samples.
    samples : Samples
    """

    def __init__(self, here: PointRows, samples: Samples) -> None:
        self._here = here
        self._tx, self._ty = samples.direction[:, :, None]
        slopes = here.slopes
        self._along = self._tx * slopes[:, 0] + self._ty * slopes[:, 1]
        self._across = self._tx * slopes[:, 1] - self._ty * slopes[:, 0]

    def stretch(self, z: float) -> Array:
        """Rows (n, 30) of the strain along the line at a height ``z`` above the mid-surface."""
        return self._rows(self._tx * self._along, self._ty * self._along, 1.0, -z)

    def shear(self, z: float) -> Array:
        """Rows (n, 30) of the engineering shear strain between line and normal at a height ``z``."""
        x = self._tx * self._across - self._ty * self._along
        y = self._ty * self._across + self._tx * self._along
        return self._rows(x, y, 1.0, -z)

    def bending(self) -> Array:
        """Rows (n, 30) of the derivative along the line of the normal's rotation in its direction."""
        return self._rows(self._tx * self._along, self._ty * self._along, 0.0, 1.0)

    def twist(self) -> Array:
        """Rows (n, 30) of the derivative along the line of the rotation about it."""
        return self._rows(-self._ty * self._along, self._tx * self._along, 0.0, 1.0)

    def transverse_shear(self) -> Array:
        """Rows (n, 30) of the interpolated shear strain between line and normal to the panel."""
        shear = self._here.shear
        return np.asarray(self._tx * shear[:, 0] + self._ty * shear[:, 1])

    def _rows(self, x: Array, y: Array, displacement: float, rotation: float) -> Array:
        """Rows of a derivative (n, 7) of each component in the plane, of displacements and of rotations by factors."""
        rows = np.zeros((len(x), 1, N_LOCAL))
        for first, factor in ((0, displacement), (3, rotation)):
            if factor:
                rows[:, 0, first:N_OUTER:5] = factor * x[:, :N_NODES]
                rows[:, 0, first + 1 : N_OUTER : 5] = factor * y[:, :N_NODES]
        if rotation:
            rows[:, 0, N_OUTER] = rotation * x[:, N_NODES]
            rows[:, 0, N_OUTER + 1] = rotation * y[:, N_NODES]
        return self._here.slaved(rows)[:, 0]
