"""Whether the panel, and what is drawn on it, is the same on both sides of the centre plane."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from scipy.spatial import cKDTree

from splitterfem.output.template.drawing import Circle, Shape

WITHIN = 0.1e-3
"""Left and right may differ by so much and still be alike at the saw, m."""


def is_symmetric(area: shapely.Geometry) -> bool:
    """Tell whether an area is its own mirror image about y = 0.

    Parameters
    ----------
    area : shapely.Polygon
        m.
    """
    image = shapely.transform(area, lambda points: points * (1.0, -1.0))
    return bool(shapely.hausdorff_distance(area.boundary, image.boundary, densify=0.02) <= WITHIN)


def is_alike(shapes: Iterable[Shape], circles: Iterable[Circle]) -> bool:
    """Tell whether every line and circle has its mirror image about y = 0 on the same layer.

    Parameters
    ----------
    shapes, circles : iterable of Shape, Circle
    """
    places: dict[str, list[tuple[float, float]]] = {}
    for shape in shapes:
        ends = np.array([curve.at([0.0, 0.5]) for curve in shape.curves]).reshape(-1, 2)
        places.setdefault(shape.layer, []).extend(map(tuple, ends))
        if not shape.closed:
            places[shape.layer].append(shape.curves[-1].end)
    for circle in circles:
        places.setdefault(f"{circle.layer} {circle.diameter:.6f}", []).append(circle.centre)
    return all(_has_its_image(np.array(points)) for points in places.values())


def _has_its_image(points: np.ndarray) -> bool:
    """Tell whether the mirror image of every point is among the points."""
    away, _ = cKDTree(points).query(points * (1.0, -1.0))
    return bool(np.max(away) <= WITHIN)
