"""Net pressure on a mesh: linear in each triangle, or constant in each cell."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.errors import GEOSException

from splitterfem.aero.combined import WeightedMap
from splitterfem.aero.overlap import Area, Sampling, area_of, beyond, cut, six_points, together
from splitterfem.aero.pressure_map import Marks
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]

ASIDE = np.array([1.0e-9, 0.618e-9])
"""Points are looked up this far (m) beside where they are, so that one between two triangles is in one of them."""

TOUCHING = 1e-8
"""A point this near (m) to the mesh is on it."""


@dataclass(frozen=True, eq=False)
class MeshMap:
    """Net pressure on triangles in plan view, linear in each and free to jump between them.

    Beyond the mesh the value is that of its nearest point. Where triangles lie above each other their values
    add up, as the faces of a folded surface do.

    Parameters
    ----------
    triangles : array_like, shape (n, 3, 2)
        Corners x, y, m.
    values : array_like, shape (n, 3)
        Pressure at the corners, Pa; three equal ones where the source has a value for each cell.

    Raises
    ------
    DesignError
        If the shapes do not fit, a number is not finite, or no triangle has an area.
    """

    triangles: FloatArray
    values: FloatArray

    def __post_init__(self) -> None:
        triangles = np.array(self.triangles, dtype=np.float64)
        values = np.array(self.values, dtype=np.float64)
        if triangles.ndim != 3 or triangles.shape[1:] != (3, 2) or values.shape != triangles.shape[:2]:
            raise DesignError(
                f"The mesh has triangles of shape {triangles.shape} and values of shape {values.shape}; "
                f"give (n, 3, 2) and (n, 3)."
            )
        if not (np.isfinite(triangles).all() and np.isfinite(values).all()):
            raise DesignError("The mesh has a corner or a value that is not finite; leave that triangle out.")
        areas = np.abs(_double_areas(triangles))
        keep = areas > 1e-12 * areas.max(initial=0.0)
        if not keep.any():
            raise DesignError("No triangle of the mesh has an area in plan view; give a mesh that spans one.")
        for name, array in (("triangles", triangles[keep]), ("values", values[keep])):
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        shape, points = _listed(x, y)
        which, triangle = self._under(points)
        summed = np.bincount(which, self._values_in(points[which], triangle), minlength=len(points))
        values = summed.astype(np.float64)  # counts of nothing are whole numbers
        lost = np.bincount(which, minlength=len(points)) == 0
        values[lost] = self._beyond(points[lost])[0]
        return np.asarray(values.reshape(shape), dtype=np.float64)

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> BoolArray:
        """Whether the points (m) lie beside the mesh."""
        shape, points = _listed(x, y)
        lost = np.bincount(self._under(points)[0], minlength=len(points)) == 0
        lost[lost] = self._beyond(points[lost])[1] > TOUCHING
        return np.asarray(lost.reshape(shape))

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): exact on the mesh, fine squares beyond it."""
        pieces, owner = cut(self.triangles, area)
        points, weights = six_points(pieces)
        inside = Sampling(points, weights, self._values_in(points, np.tile(owner, 6)))
        return together([inside, *beyond(lambda outside: self._beyond(outside)[0], area, self.cover)])

    def covered(self, area: Area) -> Area:
        """Part of an area (m) that lies on the mesh."""
        return area_of(shapely.intersection(area, self.cover))

    def marks(self) -> Marks:
        """Places of single values: none, for a mesh has too many to be told apart."""
        return ()

    def scaled(self, factor: float) -> WeightedMap:
        """Return the map times ``factor``."""
        return WeightedMap(self, factor)

    @cached_property
    def cover(self) -> Area:
        """Area in plan view (m) that the mesh covers."""
        polygons = shapely.polygons(self.triangles)
        # The quick way is for triangles that share their edges exactly; it refuses all others or is wrong for them.
        with contextlib.suppress(GEOSException):
            quick = shapely.coverage_union_all(polygons)
            if abs(quick.area - self.total_area) <= 1e-6 * self.total_area and quick.is_valid:
                return area_of(quick)
        return area_of(shapely.union_all(polygons, grid_size=TOUCHING))

    @property
    def total_area(self) -> float:
        """Sum of the areas of the triangles in plan view, m2; more than that of `cover` where they overlap."""
        return float(0.5 * np.abs(_double_areas(self.triangles)).sum())

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.polygons(self.triangles))

    def _under(self, points: FloatArray) -> tuple[IntArray, IntArray]:
        """Pairs of a point and a triangle that it is in."""
        which, triangle = self._tree.query(shapely.points(points + ASIDE), predicate="intersects")
        return which.astype(np.intp), triangle.astype(np.intp)

    def _values_in(self, points: FloatArray, triangle: IntArray) -> FloatArray:
        """Linear interpolation in the triangles found."""
        a, b, c = (self.triangles[triangle, k] for k in range(3))
        whole = _cross(b - a, c - a)
        second, third = _cross(points - a, c - a) / whole, _cross(b - a, points - a) / whole
        v = self.values[triangle]
        return np.asarray(v[:, 0] + second * (v[:, 1] - v[:, 0]) + third * (v[:, 2] - v[:, 0]))

    def _beyond(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values at the nearest points of the mesh, and the distances to them."""
        if not len(points):
            return np.empty(0), np.empty(0)
        triangle = np.asarray(self._tree.nearest(shapely.points(points)), dtype=np.intp)
        corners, values = self.triangles[triangle], self.values[triangle]
        start, along = corners, np.roll(corners, -1, axis=1) - corners
        away = points[:, None] - start
        t = np.clip(np.sum(away * along, axis=2) / np.sum(along**2, axis=2), 0.0, 1.0)
        distance = np.linalg.norm(away - t[..., None] * along, axis=2)
        row, edge = np.arange(len(points)), np.argmin(distance, axis=1)
        ends, share = (values[row, edge], values[row, (edge + 1) % 3]), t[row, edge]
        return (1.0 - share) * ends[0] + share * ends[1], distance[row, edge]


def _listed(x: ArrayLike, y: ArrayLike) -> tuple[tuple[int, ...], FloatArray]:
    X, Y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    return X.shape, np.column_stack([X.ravel(), Y.ravel()])


def _double_areas(triangles: FloatArray) -> FloatArray:
    return _cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
