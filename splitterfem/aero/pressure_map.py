"""Net pressure over the panel: what every map answers; uniform maps and maps by a function.

The net pressure is ``p_upper - p_lower`` in Pa; a positive one pushes the panel down.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeAlias, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from splitterfem.aero.overlap import Area, Sampling, adaptive, six_points, triangulated
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

Marks: TypeAlias = "tuple[tuple[str, FloatArray], ...]"
"""Kinds of places where a map was measured, and those places (n, 2) in m."""


@runtime_checkable
class PressureField(Protocol):
    """What a panel asks of a pressure map."""

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points, Pa, of their common shape."""

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points lie where nothing was measured."""


@runtime_checkable
class SourceField(PressureField, Protocol):
    """A pressure map that knows its own integral, and where it was measured."""

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m) that gives the map's own integral there."""

    def covered(self, area: Area) -> Area:
        """Part of an area (m) on which the map was measured."""

    def marks(self) -> Marks:
        """Places where single values were measured."""

    def scaled(self, factor: float) -> SourceField:
        """Return the map times ``factor``."""


@dataclass(frozen=True)
class UniformMap:
    """The same net pressure everywhere.

    Parameters
    ----------
    value : float
        Pa.
    """

    value: float

    def __post_init__(self) -> None:
        if not np.isfinite(self.value):
            raise DesignError("The uniform pressure is not a finite number; give one in Pa.")

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        return np.full(np.broadcast(x, y).shape, float(self.value))

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points lie where nothing is known: nowhere."""
        return np.zeros(np.broadcast(x, y).shape, dtype=np.bool_)

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): exact."""
        points, weights = six_points(triangulated(np.array(_polygons(area), dtype=object))[0])
        return Sampling(points, weights, np.full(len(points), float(self.value)))

    def covered(self, area: Area) -> Area:
        """Part of an area on which the map is known: all of it."""
        return area

    def marks(self) -> Marks:
        """Places of single values: none."""
        return ()

    def scaled(self, factor: float) -> UniformMap:
        """Return the map times ``factor``."""
        return UniformMap(self.value * factor)


@dataclass(frozen=True)
class FunctionMap:
    """Net pressure by a function of the position.

    Parameters
    ----------
    function : callable
        Takes arrays x and y in m, returns the net pressure in Pa.
    """

    function: Callable[[FloatArray, FloatArray], ArrayLike]

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa.

        Raises
        ------
        DesignError
            If the function returns another number of values or one that is not finite.
        """
        X, Y = (np.asarray(c, dtype=np.float64) for c in np.broadcast_arrays(x, y))
        values = np.asarray(self.function(X, Y), dtype=np.float64)
        if values.shape not in (X.shape, ()):
            raise DesignError(
                f"The pressure function returned shape {values.shape} for points of shape {X.shape}; "
                f"write it with array arithmetic."
            )
        values = np.broadcast_to(values, X.shape)
        if not np.all(np.isfinite(values)):
            i = np.unravel_index(int(np.argmin(np.isfinite(values))), X.shape)
            raise DesignError(
                f"The pressure function is not finite at x = {1e3 * X[i]:.1f}, y = {1e3 * Y[i]:.1f} mm; "
                f"make it finite over the whole panel."
            )
        return values.copy()

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points lie where nothing is known: nowhere."""
        return np.zeros(np.broadcast(x, y).shape, dtype=np.bool_)

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): on squares of a 160th of its longer side and finer where it is needed."""
        return adaptive(lambda points: self.at(points[:, 0], points[:, 1]), area)

    def covered(self, area: Area) -> Area:
        """Part of an area on which the map is known: all of it."""
        return area

    def marks(self) -> Marks:
        """Places of single values: none."""
        return ()

    def scaled(self, factor: float) -> FunctionMap:
        """Return the map times ``factor``."""
        inner = self.function
        return FunctionMap(lambda x, y: factor * np.asarray(inner(x, y), dtype=np.float64))


def _polygons(area: Area) -> list[Polygon]:
    return [area] if isinstance(area, Polygon) else list(area.geoms)
