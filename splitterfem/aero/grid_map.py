"""Net pressure on a regular grid: bilinear between its stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import box

from splitterfem.aero.combined import WeightedMap
from splitterfem.aero.overlap import Area, Sampling, area_of, beyond, boxes, cut, six_points, together
from splitterfem.aero.pressure_map import Marks
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class GridMap:
    """Net pressure on a grid of stations, bilinear in each of its rectangles.

    Beyond the grid the value is that of the nearest point of its edge.

    Parameters
    ----------
    x : array_like, shape (nx,)
        Stations, ascending, m; they need not be evenly spaced.
    y : array_like, shape (ny,)
        The same across the car.
    values : array_like, shape (nx, ny)
        Net pressure, Pa.

    Raises
    ------
    DesignError
        If there are fewer than two stations either way, they do not ascend, or a number is not finite.
    """

    x: FloatArray
    y: FloatArray
    values: FloatArray

    def __post_init__(self) -> None:
        for name in ("x", "y", "values"):
            array = np.array(getattr(self, name), dtype=np.float64)
            if not np.isfinite(array).all():
                raise DesignError(f"The grid has {name} that are not finite; repair them.")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        for name, stations in (("x", self.x), ("y", self.y)):
            if stations.ndim != 1 or len(stations) < 2 or not (np.diff(stations) > 0.0).all():
                raise DesignError(
                    f"The {name} stations of a grid must ascend, two or more of them; sort them."
                )
        if self.values.shape != (len(self.x), len(self.y)):
            raise DesignError(
                f"The grid has values of shape {self.values.shape} for {len(self.x)} x and {len(self.y)} y "
                f"stations; give one value for each crossing."
            )

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        i, s = _within(self.x, np.asarray(x, dtype=np.float64))
        j, t = _within(self.y, np.asarray(y, dtype=np.float64))
        v = self.values
        near = (1.0 - t) * v[i, j] + t * v[i, j + 1]
        far = (1.0 - t) * v[i + 1, j] + t * v[i + 1, j + 1]
        return np.asarray((1.0 - s) * near + s * far)

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points (m) lie outside the grid."""
        X, Y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        air = 1e-9 * max(np.ptp(self.x), np.ptp(self.y))
        return np.asarray(
            (self.x[0] - air > X) | (self.x[-1] + air < X) | (self.y[0] - air > Y) | (self.y[-1] + air < Y)
        )

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): exact on the grid, fine squares beyond it."""
        points, weights = six_points(cut(boxes(self.x, self.y), area)[0])
        inside = Sampling(points, weights, self.at(points[:, 0], points[:, 1]))
        return together([inside, *beyond(lambda outside: self.at(*outside.T), area, self._frame())])

    def covered(self, area: Area) -> Area:
        """Part of an area (m) that lies within the grid."""
        return area_of(shapely.intersection(area, self._frame()))

    def marks(self) -> Marks:
        """Places of the grid's values (n, 2), m."""
        x, y = np.meshgrid(self.x, self.y, indexing="ij")
        return (("grid point", np.column_stack([x.ravel(), y.ravel()])),)

    def scaled(self, factor: float) -> WeightedMap:
        """Return the map times ``factor``."""
        return WeightedMap(self, factor)

    def _frame(self) -> shapely.Polygon:
        return box(self.x[0], self.y[0], self.x[-1], self.y[-1])


def _within(stations: FloatArray, at: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Interval of each place and where it lies in it, 0 to 1; places beyond are taken to the end."""
    i = np.clip(np.searchsorted(stations, at, side="right") - 1, 0, len(stations) - 2)
    share = (at - stations[i]) / (stations[i + 1] - stations[i])
    return i, np.clip(share, 0.0, 1.0)
