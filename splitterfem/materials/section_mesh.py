"""Triangle meshes of plane sections, thin walls included."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError

if TYPE_CHECKING:
    import shapely

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_SPACING = 2.0
_MOST_POINTS = 20_000
_FLAT = 1e-12


def section_mesh(shape: shapely.Polygon) -> Any:
    """Delaunay mesh of a section of about unit size.

    Points stand on the edges, about two wall thicknesses apart. An edge piece that the triangles of these
    points cross is halved until none is left, which makes the spacing follow the local thickness.

    Returns
    -------
    skfem.MeshTri

    Raises
    ------
    SolveError
        If the walls are so thin that too many points would be needed.
    """
    import shapely
    from scipy.spatial import Delaunay
    from skfem import MeshTri

    wall = 2 * shape.area / shape.length
    points, pieces = _edges(shapely.segmentize(shape, max(_SPACING * wall, 10 * shape.length / _MOST_POINTS)))
    while True:
        triangles = Delaunay(points).simplices
        crossed = ~np.isin(_keys(pieces), _keys(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)))
        if not crossed.any():
            break
        if len(points) > _MOST_POINTS:
            raise SolveError(
                "The section is too slender to find its torsion constant; leave out its finest details, or give it "
                "walls that are less thin."
            )
        points, pieces = _halved(points, pieces, crossed)
    corners = points[triangles]
    middle = corners.mean(axis=1)
    (ax, az), (bx, bz) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    inside = shapely.contains_xy(shape, middle[:, 0], middle[:, 1]) & (np.abs(ax * bz - bx * az) > _FLAT)
    used, index = np.unique(triangles[inside], return_inverse=True)
    return MeshTri(points[used].T.copy(), index.reshape(-1, 3).T.copy())


def _edges(shape: shapely.Polygon) -> tuple[FloatArray, IntArray]:
    """Points on the edges, and the pairs of them that follow one another."""
    rings = [np.asarray(ring.coords)[:-1] for ring in (shape.exterior, *shape.interiors)]
    first = np.cumsum([0] + [len(ring) for ring in rings])
    pieces = [
        start + np.column_stack([np.arange(len(ring)), np.roll(np.arange(len(ring)), -1)])
        for start, ring in zip(first[:-1], rings, strict=True)
    ]
    return np.concatenate(rings), np.concatenate(pieces)


def _keys(pairs: IntArray) -> IntArray:
    """One number for each pair of points, whichever comes first."""
    low, high = np.sort(pairs, axis=1).T.astype(np.int64)
    return np.asarray(low * 2**31 + high)


def _halved(points: FloatArray, pieces: IntArray, crossed: NDArray[np.bool_]) -> tuple[FloatArray, IntArray]:
    """Put a point in the middle of the pieces that are crossed."""
    old = pieces[crossed]
    new = len(points) + np.arange(len(old))
    halves = [pieces[~crossed], np.column_stack([old[:, 0], new]), np.column_stack([new, old[:, 1]])]
    return np.concatenate([points, points[old].mean(axis=1)]), np.concatenate(halves)
