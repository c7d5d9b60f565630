"""Where points, lines and areas lie on a mesh, cut exactly at the element edges.

Ribs, pads and loads need not follow the mesh.  What they contribute is integrated piece by piece between
their crossings with the element edges, so a rib between mesh lines costs no accuracy and the answer does
not depend on where the mesh happens to have its nodes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.fem.reference import quadrature
from splitterfem.fem.space import PanelSpace

Array = NDArray[np.float64]
Index = NDArray[np.int64]

EDGE_TOLERANCE = 1e-9
"""Relative to an element's size: points this near to an edge count as on it."""


@dataclass(frozen=True)
class Samples:
    """Quadrature points on a mesh.

    Attributes
    ----------
    elements : ndarray of int, shape (n,)
    xy : ndarray, shape (2, n)
        Places in m.
    weights : ndarray, shape (n,)
        In m along a line, in m2 over an area.
    s : ndarray, shape (n,)
        Position along the line in m; zero for an area.
    direction : ndarray, shape (2, n)
        Unit tangent of the line; zero for an area.
    """

    elements: Index
    xy: Array
    weights: Array
    s: Array
    direction: Array

    @property
    def measure(self) -> float:
        """Length (m) or area (m2) that was found on the mesh."""
        return float(self.weights.sum())


def join(samples: list[Samples]) -> Samples:
    """Put several sample sets behind each other."""
    if not samples:
        empty = np.zeros(0)
        return Samples(empty.astype(np.int64), np.zeros((2, 0)), empty, empty, np.zeros((2, 0)))
    return Samples(
        elements=np.concatenate([part.elements for part in samples]),
        xy=np.hstack([part.xy for part in samples]),
        weights=np.concatenate([part.weights for part in samples]),
        s=np.concatenate([part.s for part in samples]),
        direction=np.hstack([part.direction for part in samples]),
    )


class Locator:
    """Finds elements under points, lines and polygons in bulk.

    Parameters
    ----------
    space : PanelSpace
    """

    def __init__(self, space: PanelSpace) -> None:
        self.space = space

    @cached_property
    def _triangles(self) -> NDArray[np.object_]:
        corners = self.space.points[:, self.space.triangles].transpose(2, 1, 0)
        polygons: NDArray[np.object_] = shapely.polygons(corners)
        return polygons

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._triangles)

    def find(self, xy: Array, *, reach: float = 0.0) -> Index:
        """Element under each point.

        Parameters
        ----------
        xy : ndarray, shape (2, n)
        reach : float
            A point outside the mesh counts to its nearest element up to this distance in m.

        Returns
        -------
        ndarray of int, shape (n,)
            Element numbers, -1 where there is none.  On an edge it is the neighbour with the lower number.
        """
        points = shapely.points(xy.T)
        found = np.full(xy.shape[1], -1, dtype=np.int64)
        which, element = self._tree.query(points, predicate="intersects")
        np.maximum.at(found, which, self.space.n_elements - element)
        found[found >= 0] = self.space.n_elements - found[found >= 0]
        lost = np.flatnonzero(found < 0)
        if len(lost):
            step = max(reach, EDGE_TOLERANCE * float(np.sqrt(self.space.area.max())))
            which, element = self._tree.query_nearest(points[lost], max_distance=step, all_matches=False)
            found[lost[which]] = element
        return found

    def line(
        self,
        points: Array,
        *,
        order: int = 5,
        stations: Array | None = None,
        cuts: Array | None = None,
    ) -> Samples:
        """Gauss points along a polyline, cut at every element edge.

        A stretch that runs along an edge counts half to each neighbour, which keeps mirror designs mirror.

        Parameters
        ----------
        points : ndarray, shape (n, 2)
            Corners of the polyline in m.
        order : int
            Polynomial degree that is integrated exactly on each piece.
        stations : ndarray, shape (n,), optional
            Values of ``s`` at the corners; default: the length along the polyline.
        cuts : ndarray, optional
            Further values of ``s`` to cut at, where something else than the mesh has its kinks.

        Returns
        -------
        Samples
            Stretches off the mesh are absent: compare ``measure`` with the polyline's length.
        """
        if stations is None:
            stations = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        breaks = np.zeros(0) if cuts is None else cuts
        parts = [
            self._segment(points[i], points[i + 1], stations[i : i + 2], order, breaks)
            for i in range(len(points) - 1)
            if np.any(points[i] != points[i + 1])
        ]
        return join(parts)

    def _segment(self, a: Array, b: Array, stations: Array, order: int, breaks: Array) -> Samples:
        length = float(np.hypot(*(b - a)))
        # Round-off must not lose a line that runs along the panel's edge: the boxes are compared with some air.
        air = EDGE_TOLERANCE * float(np.sqrt(self.space.area.max()))
        box = shapely.box(*(np.minimum(a, b) - air), *(np.maximum(a, b) + air))
        candidates = self._tree.query(box).astype(np.int64)
        enter, leave = self._clip(a, b, candidates)
        tolerance = EDGE_TOLERANCE
        keep = leave - enter > tolerance
        candidates, enter, leave = candidates[keep], enter[keep], leave[keep]
        inner = (breaks - stations[0]) / (stations[1] - stations[0])
        inner = inner[(inner > 0.0) & (inner < 1.0)]
        cuts = np.unique(np.concatenate([enter, leave, inner])) if len(enter) else enter
        cuts = cuts[np.concatenate([[True], np.diff(cuts) > tolerance])] if len(cuts) else cuts
        middle = 0.5 * (cuts[1:] + cuts[:-1])
        inside = (enter[:, None] < middle) & (middle < leave[:, None])
        which, piece = np.nonzero(inside)
        share = 1.0 / inside.sum(axis=0)[piece]
        g, wg = np.polynomial.legendre.leggauss(order // 2 + 1)
        size = (cuts[1:] - cuts[:-1])[piece]
        t = (middle[piece, None] + 0.5 * size[:, None] * g).ravel()
        weights = (0.5 * length * (size * share)[:, None] * wg).ravel()
        return Samples(
            elements=np.repeat(candidates[which], len(g)),
            xy=a[:, None] + np.outer(b - a, t),
            weights=weights,
            s=stations[0] + (stations[1] - stations[0]) * t,
            direction=np.repeat(((b - a) / length)[:, None], len(t), axis=1),
        )

    def _clip(self, a: Array, b: Array, elements: Index) -> tuple[Array, Array]:
        """Parameters where the segment enters and leaves each triangle (enter > leave: it misses)."""
        origin = self.space.origin[elements]
        inv_J = self.space.inv_J[elements]
        start = np.einsum("nij,nj->ni", inv_J, a - origin)
        step = np.einsum("nij,j->ni", inv_J, b - a)
        at = np.column_stack([start, 1.0 - start.sum(axis=1)])
        rate = np.column_stack([step, -step.sum(axis=1)])
        parallel = np.abs(rate) < 1e-12 * np.abs(rate).max(axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = np.where(parallel, 0.0, -at / rate)
        outside = (parallel & (at < -EDGE_TOLERANCE)).any(axis=1)
        enter = np.where(~parallel & (rate > 0), crossing, 0.0).max(axis=1)
        leave = np.where(~parallel & (rate < 0), crossing, 1.0).min(axis=1)
        return np.maximum(enter, 0.0), np.where(outside, -1.0, np.minimum(leave, 1.0))

    def area(self, polygon: shapely.Polygon | NDArray[np.object_], *, order: int = 4) -> Samples:
        """Quadrature points over polygons, cut exactly at every element edge.

        Parameters
        ----------
        polygon : shapely Polygon or array of them
            In m; may have any shape.  Where several overlap, each counts.
        order : int
            Polynomial degree that is integrated exactly on each piece.

        Returns
        -------
        Samples
            Parts off the mesh are absent: compare ``measure`` with the polygon's area.
        """
        return self.areas(np.atleast_1d(np.asarray(polygon, dtype=object)), order=order)[0]

    def areas(self, polygons: NDArray[np.object_], *, order: int = 4) -> tuple[Samples, Index]:
        """Quadrature points over polygons as in :meth:`area`, and to which polygon each belongs.

        Parameters
        ----------
        polygons : ndarray of shapely Polygon, shape (k,)
            In m; may have any shape and overlap.
        order : int
            Polynomial degree that is integrated exactly on each piece.

        Returns
        -------
        Samples
            Of all polygons, element by element.
        owner : ndarray of int, shape (n,)
            Number of the polygon of each point.
        """
        which, found = self._tree.query(polygons, predicate="intersects")
        order_found = np.lexsort((which, found))
        which, elements = which[order_found], found[order_found].astype(np.int64)
        pieces = shapely.intersection(self._triangles[elements], polygons[which])
        triangles, owner = _triangulated(pieces)
        X, w = quadrature(order)
        corner = triangles[:, 0]
        edges = np.stack([triangles[:, 1] - corner, triangles[:, 2] - corner], axis=-1)
        double = np.abs(np.linalg.det(edges))
        xy = corner[:, :, None] + edges @ X
        n = double.size * len(w)
        samples = Samples(
            elements=np.repeat(elements[owner], len(w)),
            xy=xy.transpose(1, 0, 2).reshape(2, n),
            weights=np.outer(double, w).ravel(),
            s=np.zeros(n),
            direction=np.zeros((2, n)),
        )
        return samples, np.repeat(which[owner], len(w)).astype(np.int64)


def _parts(pieces: NDArray[np.object_]) -> tuple[NDArray[np.object_], Index]:
    """Parts of geometries in their order, and which one each is of; most are single polygons, which are not copied."""
    single = shapely.get_type_id(pieces) == shapely.GeometryType.POLYGON
    several = np.flatnonzero(~single)
    more, of = shapely.get_parts(pieces[several], return_index=True)
    owner = np.concatenate([np.flatnonzero(single), several[of]])
    order = np.argsort(owner, kind="stable")
    return np.concatenate([pieces[single], more])[order], owner[order].astype(np.int64)


def _triangulated(pieces: NDArray[np.object_]) -> tuple[Array, Index]:
    """Cut polygons into triangles (n, 3, 2) and tell which piece each comes from."""
    parts, owner = _parts(pieces)
    solid = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > 0.0)
    parts, owner = parts[solid], owner[solid]
    hull = shapely.convex_hull(parts)
    convex = shapely.area(hull) - shapely.area(parts) <= 1e-9 * shapely.area(hull)
    if not np.all(convex):
        cut, of_part = shapely.get_parts(
            shapely.constrained_delaunay_triangles(parts[~convex]), return_index=True
        )
        parts = np.concatenate([parts[convex], cut])
        owner = np.concatenate([owner[convex], owner[~convex][of_part]])
    rings = shapely.get_exterior_ring(parts)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    count = np.bincount(ring, minlength=len(parts))
    first = np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int64)
    position = np.arange(len(xy)) - first[ring]
    fan = (position >= 1) & (position <= count[ring] - 3)
    second = np.flatnonzero(fan)
    triangles = np.stack([xy[first[ring[second]]], xy[second], xy[second + 1]], axis=1)
    return triangles, owner[ring[second]].astype(np.int64)
