"""The outline of a section drawn as a polygon: checks, what stands on the panel, area moments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError

if TYPE_CHECKING:
    import shapely

FloatArray = NDArray[np.float64]
Ring = tuple[tuple[float, float], ...]

ON_PANEL = 1e-6
"""Height up to which a corner counts as standing on the panel, m."""

_NARROWEST_FOOT = 1e-4
_LEAST_WIDTH = 1e-6


@dataclass(frozen=True)
class Moments:
    """Area and moments of a region about fixed axes: ``area``, ``y``, ``z``, ``yy``, ``zz`` and ``yz``."""

    area: float
    y: float
    z: float
    yy: float
    zz: float
    yz: float


def checked_polygon(points: Ring, hole: Ring | None = None) -> shapely.Polygon:
    """Polygon of a section, offsets from the middle of its feet, after checks.

    Raises
    ------
    DesignError
        See `polygon_properties`.
    """
    import shapely

    corners = np.array(points, dtype=float)
    corners[np.abs(corners[:, 1]) <= ON_PANEL, 1] = 0.0
    _check_ring(corners, "section")
    inner = None if hole is None else np.array(hole, dtype=float)
    if inner is not None:
        _check_ring(inner, "section's hole")
        if not shapely.Polygon(corners).contains_properly(shapely.Polygon(inner)):
            raise DesignError(
                "The section's hole is not inside its outline; move the hole's points so that wall is left all "
                "round."
            )
    lowest = float(corners[:, 1].min())
    if lowest != 0.0:
        raise DesignError(
            f"The section does not stand on the panel: its lowest point is at height {1e3 * lowest:.6g} mm; "
            f"move it {'down' if lowest > 0 else 'up'} by {1e3 * abs(lowest):.6g} mm."
        )
    feet = contacts_of(corners)
    width = sum(b - a for a, b in feet)
    if width < _NARROWEST_FOOT:
        raise DesignError(
            "The section does not stand on the panel: it touches it in a point only; give it a side at height "
            "0, or take a section of shape 'round tube' with a saddle."
        )
    middle = (feet[0][0] + feet[-1][1]) / 2
    rings = [corners - [middle, 0.0]] + ([] if inner is None else [inner - [middle, 0.0]])
    return shapely.Polygon(rings[0], rings[1:])


def moments(polygon: shapely.Polygon) -> Moments:
    """Area and moments about the axes, by Green's theorem over the sides."""
    import shapely

    total = np.zeros(6)
    oriented = shapely.orient_polygons(polygon)  # outline anticlockwise, holes clockwise
    for ring in (oriented.exterior, *oriented.interiors):
        y, z = np.asarray(ring.coords).T
        a, b, c, d = y[:-1], z[:-1], y[1:], z[1:]
        cross = a * d - c * b
        total += [
            (cross / 2).sum(),
            (cross * (a + c) / 6).sum(),
            (cross * (b + d) / 6).sum(),
            (cross * (a * a + a * c + c * c) / 12).sum(),
            (cross * (b * b + b * d + d * d) / 12).sum(),
            (cross * (2 * a * b + a * d + c * b + 2 * c * d) / 24).sum(),
        ]
    return Moments(*(float(value) for value in total))


def contacts_of(corners: FloatArray) -> list[tuple[float, float]]:
    """Stretches of the outline at height 0 from right to left (rising offset), joined where they meet."""
    after = np.roll(corners, -1, axis=0)
    flat = (np.abs(corners[:, 1]) <= ON_PANEL) & (np.abs(after[:, 1]) <= ON_PANEL)
    pairs = np.sort(np.column_stack([corners[flat, 0], after[flat, 0]]), axis=1)
    found: list[tuple[float, float]] = []
    for a, b in sorted((float(a), float(b)) for a, b in pairs):
        if found and a <= found[-1][1] + ON_PANEL:
            found[-1] = (found[-1][0], max(b, found[-1][1]))
        else:
            found.append((a, b))
    return found


def _check_ring(corners: FloatArray, what: str) -> None:
    """Refuse a line that crosses itself or encloses nothing."""
    import shapely

    flat = np.linalg.svd(corners - corners.mean(axis=0), compute_uv=False)
    if flat[1] < _LEAST_WIDTH:
        raise DesignError(f"The {what} encloses no area; give corners that do not lie on one line.")
    reason = shapely.is_valid_reason(shapely.Polygon(corners))
    if reason != "Valid Geometry":
        place = reason.partition("[")[2].rstrip("]").split()
        near = " mm, height ".join(f"{1e3 * float(number):.4g}" for number in place[:2])
        raise DesignError(
            f"The {what} crosses or touches itself{f' near offset {near} mm' if near else ''}; list its corners in "
            "order, once round."
        )
