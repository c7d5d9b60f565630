"""Maps made of other maps: the two faces of the panel, and a map with a factor that tilts from side to side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from splitterfem.aero.overlap import Area, Sampling, area_of, together
from splitterfem.aero.pressure_map import Marks, SourceField

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class FacesMap:
    """Net pressure from maps of the two faces that need not have been measured at the same places.

    Parameters
    ----------
    upper, lower : SourceField
        Pressure on each face, Pa; the net pressure is their difference. A place counts as measured where
        both faces were.
    """

    upper: SourceField
    lower: SourceField

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        return np.asarray(self.upper.at(x, y) - self.lower.at(x, y))

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points (m) lie where one of the faces was not measured."""
        return np.asarray(self.upper.extrapolated(x, y) | self.lower.extrapolated(x, y))

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): that of the upper face, and that of the lower face turned round."""
        upper, lower = self.upper.sampling(area), self.lower.sampling(area)
        return together([upper, lower.times(np.full(len(lower.values), -1.0))])

    def covered(self, area: Area) -> Area:
        """Part of an area (m) on which both faces were measured."""
        return area_of(shapely.intersection(self.upper.covered(area), self.lower.covered(area)))

    def marks(self) -> Marks:
        """Places where single values were measured, by face."""
        return tuple(
            (f"{kind}, {face} face", places)
            for face, field in (("upper", self.upper), ("lower", self.lower))
            for kind, places in field.marks()
        )

    def scaled(self, factor: float) -> WeightedMap:
        """Return the map times ``factor``."""
        return WeightedMap(self, factor)


@dataclass(frozen=True)
class WeightedMap:
    """A map times ``factor + tilt y``.

    Parameters
    ----------
    field : SourceField
    factor : float
    tilt : float
        Per m of y, so that a positive one puts more of the load on the left.
    """

    field: SourceField
    factor: float
    tilt: float = 0.0

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        return np.asarray(self.field.at(x, y) * self._factor(np.asarray(y, dtype=np.float64)))

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points (m) lie where nothing was measured."""
        return self.field.extrapolated(x, y)

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m)."""
        samples = self.field.sampling(area)
        return samples.times(self._factor(samples.points[:, 1]))

    def covered(self, area: Area) -> Area:
        """Part of an area (m) on which the map was measured."""
        return self.field.covered(area)

    def marks(self) -> Marks:
        """Places where single values were measured."""
        return self.field.marks()

    def scaled(self, factor: float) -> WeightedMap:
        """Return the map times ``factor``."""
        return WeightedMap(self.field, factor * self.factor, factor * self.tilt)

    def _factor(self, y: FloatArray) -> FloatArray:
        return np.asarray(self.factor + self.tilt * y)
