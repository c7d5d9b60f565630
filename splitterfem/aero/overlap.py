"""Exact integration over a plan-view area: the cells of a pressure map cut along the edge of the panel.

A map that is linear, or bilinear, in each of its cells is integrated cell by cell. Cells that lie across the edge
of the area are cut there and the pieces triangulated, so that nothing is lost or counted twice however coarse
the cells are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Area: TypeAlias = Polygon | MultiPolygon

MOST_POINTS = 5_000_000

FINE = 160
"""Steps over the longer side of an area where a map is not a polynomial: 10 mm on a panel 1.6 m wide."""

COARSE = 64
"""The same where a map goes on from its edge, along which it is linear."""

DEEPEST = 7
"""How often triangles are cut where a map jumps: 10 mm become 0.1 mm."""

SETTLED = 0.01
"""Change by a finer rule, over the mean load, up to which a coarser one is good enough."""

# Six points and weights on the triangle, exact to degree four: Dunavant, D. A. (1985), High degree efficient
# symmetrical Gaussian quadrature rules for the triangle, Int. J. Numer. Meth. Engng 21, 1129-1148.
_DUNAVANT = (
    (0.108103018168070, 0.445948490915965, 0.223381589678011),
    (0.816847572980459, 0.091576213509771, 0.109951743655322),
)


@dataclass(frozen=True)
class Sampling:
    """A quadrature with the map's values at its points.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        x and y, m.
    weights : ndarray, shape (n,)
        m2. Where the surface of a mesh lies twice above a place, its area counts twice.
    values : ndarray, shape (n,)
        Net pressure, Pa.
    """

    points: FloatArray
    weights: FloatArray
    values: FloatArray

    def times(self, factor: FloatArray) -> Sampling:
        """Return the sampling with its values (n,) multiplied by ``factor`` (n,)."""
        return Sampling(self.points, self.weights, self.values * factor)


def together(parts: Sequence[Sampling]) -> Sampling:
    """Put several samplings, of areas side by side or of maps that add up, into one."""
    return Sampling(
        np.concatenate([part.points for part in parts]),
        np.concatenate([part.weights for part in parts]),
        np.concatenate([part.values for part in parts]),
    )


def cut(triangles: FloatArray, area: Area) -> tuple[FloatArray, IntArray]:
    """Cut triangles along the edge of an area and keep what lies within.

    Parameters
    ----------
    triangles : ndarray, shape (n, 3, 2)
        m; they may overlap.
    area : shapely Polygon or MultiPolygon
        m.

    Returns
    -------
    pieces : ndarray, shape (m, 3, 2)
    owner : ndarray of int, shape (m,)
        Which triangle each piece comes from.
    """
    if area.is_empty or not len(triangles):
        return np.empty((0, 3, 2)), np.empty(0, dtype=np.intp)
    x0, y0, x1, y1 = area.bounds
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    near = np.flatnonzero((low <= (x1, y1)).all(axis=1) & (high >= (x0, y0)).all(axis=1))
    shapely.prepare(area)
    polygons = shapely.polygons(triangles[near])
    whole = shapely.contains_properly(area, polygons)
    across = np.flatnonzero(~whole)
    across = across[shapely.intersects(area, polygons[across])]
    parts, of = shapely.get_parts(shapely.intersection(polygons[across], area), return_index=True)
    solid = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > 0.0)
    pieces, of_part = triangulated(parts[solid])
    return (
        np.concatenate([triangles[near[whole]], pieces]),
        np.concatenate([near[whole], near[across[of[solid][of_part]]]]),
    )


def triangulated(parts: NDArray[np.object_]) -> tuple[FloatArray, IntArray]:
    """Cut polygons into triangles (m, 3, 2); the second result says which polygon each is of."""
    found, owner = shapely.get_parts(shapely.constrained_delaunay_triangles(parts), return_index=True)
    corners = shapely.get_coordinates(found).reshape(-1, 4, 2)[:, :3]
    return np.asarray(corners, dtype=np.float64), owner.astype(np.intp)


def six_points(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points (6 n, 2) and weights (6 n,) of a rule of degree four on triangles (n, 3, 2), point after point."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = 0.5 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    points, weights = [np.empty((0, 2))], [np.empty(0)]
    for one, two, weight in _DUNAVANT:
        for barycentric in ((one, two, two), (two, one, two), (two, two, one)):
            points.append(np.einsum("c,nce->ne", np.array(barycentric), corners))
            weights.append(weight * area)
    return np.concatenate(points), np.concatenate(weights)


def quadrature(area: Area, *, spacing: float | None = None) -> tuple[FloatArray, FloatArray]:
    """Points (n, 2) in m and weights (n,) in m2 of a quadrature over a plan-view area.

    Parameters
    ----------
    area : shapely Polygon or MultiPolygon
        m, holes left out.
    spacing : float, optional
        Side in m of the squares into which the area is cut; by default a 160th of its longer side. In each,
        polynomials to degree four are integrated exactly.

    Raises
    ------
    DesignError
        If the area is empty or crosses itself, or the spacing asks for too many points.
    """
    check(area)
    x0, y0, x1, y1 = area.bounds
    return six_points(tiles(area, max(x1 - x0, y1 - y0) / FINE if spacing is None else float(spacing)))


def tiles(area: Area, step: float) -> FloatArray:
    """Cut an area (m) into squares of a side (m), these and what is left at its edge into triangles (n, 3, 2).

    Raises
    ------
    DesignError
        If the side is not positive or asks for too many points.
    """
    x0, y0, x1, y1 = area.bounds
    if not step > 0:
        raise DesignError(f"The spacing is {step:g} m; give one above zero.")
    nx, ny = max(1.0, np.ceil((x1 - x0) / step)), max(1.0, np.ceil((y1 - y0) / step))
    if 12 * nx * ny > MOST_POINTS:
        raise DesignError(
            f"A spacing of {1e3 * step:g} mm asks for {12 * nx * ny:.2g} points; give a wider one."
        )
    x, y = np.linspace(x0, x1, int(nx) + 1), np.linspace(y0, y1, int(ny) + 1)
    lattice, edge = boxes(x, y), _edge_cells(area, x, y)
    # Only what is near the edge is cut: to make polygons of all squares takes most of the time.
    middle = np.meshgrid(0.5 * (x[:-1] + x[1:]), 0.5 * (y[:-1] + y[1:]), indexing="ij")
    whole = ~edge
    whole[whole] = shapely.contains_xy(area, middle[0].ravel()[whole], middle[1].ravel()[whole])
    return np.concatenate([lattice[np.tile(whole, 2)], cut(lattice[np.tile(edge, 2)], area)[0]])


def _edge_cells(area: Area, x: FloatArray, y: FloatArray) -> NDArray[np.bool_]:
    """Which rectangles between stations the edge of an area may touch, ((nx - 1) (ny - 1),); some more than it does.

    Places on the edge half a rectangle apart at most, and the rectangles around them: it cannot reach another between.
    """
    sides = np.array([x[1] - x[0], y[1] - y[0]])
    edge = shapely.segmentize(shapely.boundary(area), 0.5 * float(sides.min()))
    at = np.floor((shapely.get_coordinates(edge) - (x[0], y[0])) / sides).astype(np.intp)
    near = np.zeros((len(x) + 1, len(y) + 1), dtype=np.bool_)
    for across in (0, 1, 2):
        for along in (0, 1, 2):
            near[np.clip(at[:, 0] + across, 0, len(x)), np.clip(at[:, 1] + along, 0, len(y))] = True
    return near[1:-1, 1:-1].ravel()


def check(area: Area) -> None:
    """Refuse an area that cannot be integrated over.

    Raises
    ------
    DesignError
        If it is empty or crosses itself.
    """
    if area.is_empty or not area.is_valid:
        why = "has no area" if area.is_empty else f"is not valid ({shapely.is_valid_reason(area)})"
        raise DesignError(f"The area to integrate over {why}; give a simple outline with holes inside it.")


def adaptive(at: Callable[[FloatArray], FloatArray], area: Area) -> Sampling:
    """Sample values over an area, more finely where they bend, peak or jump.

    Squares are cut into triangles, and triangles into four again and again until a finer rule changes their
    integral by no more than a hundredth of the mean load of their area.

    Parameters
    ----------
    at : callable
        Values (n,) at points (n, 2).
    area : shapely Polygon or MultiPolygon
        m.
    """
    x0, y0, x1, y1 = area.bounds
    triangles = tiles(area, max(x1 - x0, y1 - y0) / FINE)
    done, mean = [], None
    for depth in range(DEEPEST):
        coarse = _sampled(at, triangles)
        quarters = _quarters(triangles)
        fine = _sampled(at, quarters)
        if mean is None:
            mean = float(fine.weights @ np.abs(fine.values)) / float(fine.weights.sum())
        pushes = [
            (one.weights * one.values).reshape(-1, len(triangles)).sum(axis=0) for one in (coarse, fine)
        ]
        size = fine.weights.reshape(-1, len(triangles)).sum(axis=0)
        rough = np.abs(pushes[1] - pushes[0]) > SETTLED * mean * size
        if depth == DEEPEST - 1 or 24 * rough.sum() > MOST_POINTS // 8:
            rough[:] = False
        settled = np.tile(~rough, 24)
        done.append(Sampling(fine.points[settled], fine.weights[settled], fine.values[settled]))
        triangles = quarters[np.tile(rough, 4)]
        if not len(triangles):
            break
    return together(done)


def _sampled(at: Callable[[FloatArray], FloatArray], triangles: FloatArray) -> Sampling:
    points, weights = six_points(triangles)
    return Sampling(points, weights, at(points))


def _quarters(triangles: FloatArray) -> FloatArray:
    """Cut triangles (n, 3, 2) at the middles of their sides, (4 n, 3, 2): first quarters first."""
    a, b, c = (triangles[:, k] for k in range(3))
    ab, bc, ca = 0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)
    parts = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (bc, ca, ab))
    return np.concatenate([np.stack(part, axis=1) for part in parts])


def beyond(
    taken: Callable[[FloatArray], FloatArray], area: Area, measured: shapely.Geometry
) -> list[Sampling]:
    """Sample a map on the rest of an area, where it is taken from its edge; nothing when there is no rest.

    ``taken`` gives the values (n,) at points (n, 2) outside the part that was measured.
    """
    rest = area_of(shapely.difference(area, measured))
    if rest.area <= 1e-12 * area.area:
        return []
    x0, y0, x1, y1 = rest.bounds
    points, weights = quadrature(rest, spacing=max(x1 - x0, y1 - y0) / COARSE)
    return [Sampling(points, weights, taken(points))]


def boxes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Rectangles between stations, each as two triangles: (2 (nx - 1) (ny - 1), 3, 2)."""
    left, right = np.meshgrid(x[:-1], y[:-1], indexing="ij"), np.meshgrid(x[1:], y[1:], indexing="ij")
    (xa, ya), (xb, yb) = (tuple(c.ravel() for c in pair) for pair in (left, right))
    one = np.stack([np.column_stack(c) for c in ((xa, ya), (xb, ya), (xb, yb))], axis=1)
    two = np.stack([np.column_stack(c) for c in ((xa, ya), (xb, yb), (xa, yb))], axis=1)
    return np.concatenate([one, two])


def area_of(geometry: shapely.Geometry) -> Area:
    """Return the polygons of a geometry; what an intersection leaves of lines and points is dropped."""
    parts = shapely.get_parts(shapely.get_parts(geometry))
    solid = [part for part in parts if isinstance(part, Polygon) and part.area > 0.0]
    return solid[0] if len(solid) == 1 else MultiPolygon(solid)
