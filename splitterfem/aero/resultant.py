"""Total force and centre of pressure of a pressure map over a plan-view area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from splitterfem.aero.pressure_map import PressureField
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]

MOST_POINTS = 5_000_000

# Six points and weights on the triangle, exact to degree four: Dunavant, D. A. (1985), High degree efficient
# symmetrical Gaussian quadrature rules for the triangle, Int. J. Numer. Meth. Engng 21, 1129-1148.
_DUNAVANT = (
    (0.108103018168070, 0.445948490915965, 0.223381589678011),
    (0.816847572980459, 0.091576213509771, 0.109951743655322),
)


@dataclass(frozen=True)
class Resultant:
    """What a pressure map adds up to.

    Parameters
    ----------
    force : float
        Downforce, positive downwards, N.
    x, y : float
        Centre of pressure, m; nan where suction and pressure cancel.
    area : float
        m2.
    extrapolated : float
        Share of the area on which nothing was measured, 0 to 1.
    """

    force: float
    x: float
    y: float
    area: float
    extrapolated: float


def resultant(field: PressureField, region: Polygon | MultiPolygon, *, spacing: float = 0.01) -> Resultant:
    """Integrate a pressure map over a plan-view area.

    The area is cut into triangles no longer than ``spacing``, each with a six-point rule of degree four:
    polynomial fields up to degree three come out exactly, with their centre of pressure.

    Parameters
    ----------
    field : PressureField
        Net pressure, Pa.
    region : shapely Polygon or MultiPolygon
        Area in m, holes left out.
    spacing : float
        m.

    Raises
    ------
    DesignError
        If the region is empty or crosses itself, or the spacing asks for too many points.
    """
    points, weights = quadrature(region, spacing=spacing)
    pressure = field.at(points[:, 0], points[:, 1])
    outside = field.extrapolated(points[:, 0], points[:, 1])
    force = float(weights @ pressure)
    area = float(weights.sum())
    balanced = abs(force) <= 1e-12 * float(weights @ np.abs(pressure))
    centre = np.full(2, np.nan) if balanced else (weights * pressure) @ points / force
    return Resultant(
        force=force,
        x=float(centre[0]),
        y=float(centre[1]),
        area=area,
        extrapolated=float(weights @ outside) / area,
    )


def quadrature(region: Polygon | MultiPolygon, *, spacing: float) -> tuple[FloatArray, FloatArray]:
    """Points (n, 2) in m and weights (n,) in m2 of a fine quadrature over a plan-view area.

    Raises
    ------
    DesignError
        If the region is empty or crosses itself, or the spacing asks for too many points.
    """
    if region.is_empty or not region.is_valid:
        why = "has no area" if region.is_empty else f"is not valid ({shapely.is_valid_reason(region)})"
        raise DesignError(f"The area to integrate over {why}; give a simple outline with holes inside it.")
    if not spacing > 0:
        raise DesignError(f"The spacing is {spacing:g} m; give one above zero.")
    corners = _triangles(region)
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    cuts = np.maximum(1, np.ceil(sides / spacing))
    if 6 * np.sum(cuts**2) > MOST_POINTS:
        raise DesignError(
            f"A spacing of {1e3 * spacing:g} mm asks for {6 * np.sum(cuts**2):.2g} points; "
            f"give a wider one, or an outline with fewer short edges."
        )
    parts = [_cut(corners[cuts == k], int(k)) for k in np.unique(cuts)]
    return _six_points(np.concatenate(parts))


def _triangles(region: Polygon | MultiPolygon) -> FloatArray:
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
    return np.asarray(shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3])


def _cut(corners: FloatArray, k: int) -> FloatArray:
    """Cut triangles (n, 3, 2) into k^2 equal ones each, (n k^2, 3, 2)."""
    i, j = (c.ravel() for c in np.meshgrid(np.arange(k), np.arange(k), indexing="ij"))
    up = i + j < k
    down = i + j < k - 1
    first = np.stack([np.stack([i + a, j + b], axis=1)[up] for a, b in ((0, 0), (1, 0), (0, 1))], axis=1)
    second = np.stack([np.stack([i + a, j + b], axis=1)[down] for a, b in ((1, 1), (0, 1), (1, 0))], axis=1)
    local = np.concatenate([first, second]) / k
    origin, edges = corners[:, 0], corners[:, 1:] - corners[:, :1]
    cut = origin[:, None, None] + np.einsum("mcd,nde->nmce", local, edges)
    return np.asarray(cut.reshape(-1, 3, 2))


def _six_points(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = 0.5 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    points, weights = [], []
    for one, two, weight in _DUNAVANT:
        for barycentric in ((one, two, two), (two, one, two), (two, two, one)):
            points.append(np.einsum("c,nce->ne", np.array(barycentric), corners))
            weights.append(weight * area)
    return np.concatenate(points), np.concatenate(weights)
