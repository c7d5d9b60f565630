"""Net pressure between scattered taps: linear in the triangles of their Delaunay mesh."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import Delaunay, QhullError

from splitterfem.aero.overlap import Area, Sampling, area_of, beyond, cut, six_points, together
from splitterfem.aero.pressure_map import Marks
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CLOSEST_TAPS = 1e-6
"""Taps nearer than this are the same point, m."""

_ONE_LINE = "All taps lie on one line; a pressure map needs taps that span an area."
_CHUNK = 20_000  # points that are compared with every edge of the hull at once


@dataclass(frozen=True, eq=False)
class TapMap:
    """Net pressure interpolated between scattered taps.

    Inside the convex hull of the taps the value is linear over the Delaunay triangles: it follows the
    readings, never exceeds them between taps, and reproduces a linear field exactly. A smoother
    interpolant would overshoot where neighbouring readings scatter. Outside the hull the value is that of
    the nearest point of the hull.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Positions x, y of the taps, m.
    values : array_like, shape (n,)
        Net pressure, Pa.

    Raises
    ------
    DesignError
        With fewer than three taps, taps on one line, two taps at one place, or a number that is not finite.
    """

    points: FloatArray
    values: FloatArray
    _mesh: Delaunay = field(init=False, repr=False)

    def __post_init__(self) -> None:
        points = np.array(self.points, dtype=np.float64)
        values = np.array(self.values, dtype=np.float64)
        if points.ndim != 2 or points.shape[1:] != (2,) or values.shape != points.shape[:1]:
            raise DesignError(
                f"The taps have positions of shape {points.shape} and values of shape {values.shape}; "
                f"give (n, 2) and (n,)."
            )
        if not (np.isfinite(points).all() and np.isfinite(values).all()):
            raise DesignError("A tap has a position or value that is not finite; leave that tap out.")
        check_spread(points)
        for array in (points, values):
            array.setflags(write=False)
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "values", values)
        try:
            object.__setattr__(self, "_mesh", Delaunay(points))
        except QhullError:
            raise DesignError(_ONE_LINE) from None

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, TapMap):
            return NotImplemented
        return np.array_equal(self.points, other.points) and np.array_equal(self.values, other.values)

    def __hash__(self) -> int:
        return hash((self.points.tobytes(), self.values.tobytes()))

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        shape, points, triangle = self._located(x, y)
        values = np.empty(len(points))
        inside = triangle >= 0
        values[inside] = self._within(points[inside], triangle[inside])
        values[~inside] = self._beyond(points[~inside])[0]
        return values.reshape(shape)

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points (m) lie outside the convex hull of the taps."""
        shape, points, triangle = self._located(x, y)
        outside = triangle < 0
        outside[outside] = self._beyond(points[outside])[1] > 1e-9 * np.ptp(self.points)
        return np.asarray(outside.reshape(shape))

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): exact between the taps, fine squares beyond them."""
        pieces, owner = cut(self.points[self._mesh.simplices], area)
        points, weights = six_points(pieces)
        inside = Sampling(points, weights, self._within(points, np.tile(owner, 6)))
        return together([inside, *beyond(lambda outside: self._beyond(outside)[0], area, self._hull())])

    def covered(self, area: Area) -> Area:
        """Part of an area (m) that lies within the convex hull of the taps."""
        return area_of(shapely.intersection(area, self._hull()))

    def marks(self) -> Marks:
        """Places of the taps (n, 2), m."""
        return (("tap", self.points),)

    def scaled(self, factor: float) -> TapMap:
        """Return the map times ``factor``."""
        return self.with_values(self.values * factor)

    def with_values(self, values: ArrayLike) -> TapMap:
        """Return a map of the same taps with other values (n,), Pa; cheap, as the triangles are shared.

        Raises
        ------
        DesignError
            If there is not one finite value for each tap.
        """
        other = np.array(values, dtype=np.float64)
        if other.shape != self.values.shape or not np.isfinite(other).all():
            raise DesignError(f"New values for {len(self.values)} taps must be as many finite numbers.")
        other.setflags(write=False)
        made = object.__new__(TapMap)
        for name, content in (("points", self.points), ("values", other), ("_mesh", self._mesh)):
            object.__setattr__(made, name, content)
        return made

    def _hull(self) -> shapely.Geometry:
        return shapely.convex_hull(shapely.multipoints(self.points))

    def _located(self, x: ArrayLike, y: ArrayLike) -> tuple[tuple[int, ...], FloatArray, NDArray[np.intp]]:
        X, Y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        points = np.column_stack([X.ravel(), Y.ravel()])
        return X.shape, points, self._mesh.find_simplex(points).astype(np.intp)

    def _within(self, points: FloatArray, triangle: NDArray[np.intp]) -> FloatArray:
        """Linear interpolation in the triangles found."""
        transform = self._mesh.transform[triangle]
        two = np.einsum("nij,nj->ni", transform[:, :2], points - transform[:, 2])
        weights = np.column_stack([two, 1 - two.sum(axis=1)])
        return np.asarray(np.einsum("ni,ni->n", weights, self.values[self._mesh.simplices[triangle]]))

    def _beyond(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values at the nearest points of the hull, and the distances to them."""
        values, distances = np.empty(len(points)), np.empty(len(points))
        edges = self._mesh.convex_hull
        start, along = self.points[edges[:, 0]], np.diff(self.points[edges], axis=1)[:, 0]
        for i in range(0, len(points), _CHUNK):
            away = points[i : i + _CHUNK, None] - start
            t = np.clip(np.sum(away * along, axis=2) / np.sum(along**2, axis=1), 0.0, 1.0)
            distance = np.linalg.norm(away - t[..., None] * along, axis=2)
            nearest = np.argmin(distance, axis=1)
            row = np.arange(len(nearest))
            ends = self.values[edges[nearest]]
            share = t[row, nearest]
            values[i : i + _CHUNK] = (1 - share) * ends[:, 0] + share * ends[:, 1]
            distances[i : i + _CHUNK] = distance[row, nearest]
        return values, distances


def check_spread(points: FloatArray) -> None:
    """Check that taps can carry a map.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Finite positions, m.

    Raises
    ------
    DesignError
        With fewer than three taps, two taps at one place, or all taps on one line.
    """
    if len(points) < 3:
        raise DesignError(f"A pressure map needs at least three taps; there {_are(len(points))}.")
    pair = same_place(points)
    if pair is not None:
        x, y = 1e3 * points[pair[0]]
        raise DesignError(
            f"Taps {pair[0] + 1} and {pair[1] + 1} are both at x = {x:.1f}, y = {y:.1f} mm; keep one."
        )
    if on_one_line(points):
        raise DesignError(_ONE_LINE)


def same_place(points: FloatArray) -> tuple[int, int] | None:
    """First pair of points that are the same place, or None."""
    cells = np.round(points / CLOSEST_TAPS)
    _, first, inverse = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    twin = first[inverse.ravel()]
    repeated = np.flatnonzero(twin != np.arange(len(points)))
    if not len(repeated):
        return None
    return int(twin[repeated[0]]), int(repeated[0])


def on_one_line(points: FloatArray) -> bool:
    """Whether the points span no area, within a millionth of their extent."""
    away = points - points.mean(axis=0)
    narrow, wide = np.linalg.eigvalsh(away.T @ away)
    return bool(narrow <= 1e-12 * wide)


def _are(count: int) -> str:
    return {0: "are none", 1: "is one"}.get(count, f"are {count}")
