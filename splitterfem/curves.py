"""Closed loops of plane curves: outlines, cut-outs and their areas, polylines and mirror images.

A loop is a tuple of curves, each starting where the one before it ends, and the last ending where the first
starts. Points are (x, y) in metres.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from .errors import DesignError
from .primitives import Arc, Curve, Line, Point, Points, Spline, in_mm

if TYPE_CHECKING:
    from shapely.geometry import Polygon

__all__ = [
    "Arc",
    "Curve",
    "Line",
    "Loop",
    "Point",
    "Points",
    "Spline",
    "area",
    "circle",
    "flatten",
    "in_mm",
    "joined",
    "length",
    "mirrored",
    "polygon",
    "polyline",
    "rounded",
]

Loop: TypeAlias = tuple[Curve, ...]

JOIN_TOLERANCE = 1e-6  #: Largest gap between two curves of a loop that is closed silently (m).


def joined(loop: Sequence[Curve]) -> Loop:
    """Check that curves form a closed loop and close gaps of rounding size.

    Parameters
    ----------
    loop : sequence of Line, Arc or Spline
        The curves in order. A gap of up to 1 µm is closed by moving the start of the later curve.

    Returns
    -------
    tuple of Line, Arc or Spline
        The same loop with every curve starting exactly where the one before it ends.

    Raises
    ------
    DesignError
        When the loop is empty or has a larger gap.
    """
    if not loop:
        raise DesignError("A loop has no curves; give it at least two lines or arcs, or one closed spline.")
    curves = list(loop)
    for i, curve in enumerate(curves):
        before = curves[i - 1].end
        gap = math.dist(before, curve.start)
        if gap > JOIN_TOLERANCE:
            raise DesignError(
                f"The loop is open by {1e3 * gap:.3g} mm: one curve ends at {in_mm(before)} mm and the next "
                f"starts at {in_mm(curve.start)} mm; let each curve start where the one before it ends."
            )
        if gap > 0.0:
            curves[i] = _starting_at(curve, before, closes=len(curves) == 1)
    return tuple(curves)


def _starting_at(curve: Curve, start: Point, *, closes: bool) -> Curve:
    """Copy of a curve with its start moved; `closes` says that it is a loop by itself."""
    if not isinstance(curve, Spline):
        return dataclasses.replace(curve, start=start)
    points = (start, *curve.points[1:])
    return Spline((*points[:-1], start)) if closes else Spline(points)


def flatten(loop: Sequence[Curve], tolerance: float) -> Points:
    """Replace a loop by a closed polygon with its corners on the curves.

    Parameters
    ----------
    loop : sequence of Line, Arc or Spline
        A closed loop.
    tolerance : float
        Largest distance between a curve and its chord (m).

    Returns
    -------
    ndarray, shape (n, 2)
        Corners in order; the first is not repeated at the end (m).

    Raises
    ------
    DesignError
        When the loop is open, the tolerance is not positive, or a curve would need too many points.
    """
    if not (math.isfinite(tolerance) and tolerance > 0.0):
        raise DesignError(
            f"The flattening tolerance is {tolerance!r} m; give a positive number such as 1e-4."
        )
    return np.concatenate([_from_start(c, tolerance)[:-1] for c in joined(loop)])


def _from_start(curve: Curve, tolerance: float) -> Points:
    """Points of a curve whose ends are the given ones to the last bit."""
    points = curve.at(curve.breaks(tolerance))
    points[0], points[-1] = curve.start, curve.end
    return points


def polygon(loop: Sequence[Curve], tolerance: float) -> Polygon:
    """Shapely polygon of a loop.

    Parameters
    ----------
    loop : sequence of Line, Arc or Spline
        A closed loop.
    tolerance : float
        Largest distance between a curve and its chord (m).

    Returns
    -------
    shapely.Polygon
        A valid polygon, metres.

    Raises
    ------
    DesignError
        As `flatten`, and when the loop has fewer than three corners, crosses or touches itself.
    """
    import shapely

    corners = flatten(loop, tolerance)
    if len(corners) < 3:
        raise DesignError(
            f"The loop at {in_mm(corners[0])} mm encloses nothing with its {len(corners)} corners; "
            "give it at least three, or an arc."
        )
    shape = shapely.Polygon(corners)
    if not shape.is_valid:
        place = _place_of(shapely.is_valid_reason(shape), corners[0])
        raise DesignError(
            f"The loop crosses or touches itself near {place} mm; let its curves meet only at their ends."
        )
    return shape


def _place_of(reason: str, default: ArrayLike) -> str:
    """Place named in a validity message such as ``Self-intersection[0.5 0.5]``, in mm."""
    try:
        x, y = map(float, reason[reason.index("[") + 1 : reason.index("]")].split()[:2])
    except ValueError:
        return in_mm(default)
    return in_mm((x, y))


def mirrored(loop: Sequence[Curve]) -> Loop:
    """Mirror a loop about y = 0 and reverse it, so that it stays continuous and keeps its sense of turn."""
    return tuple(curve.mirrored() for curve in reversed(loop))


def length(loop: Sequence[Curve]) -> float:
    """Add up the lengths of the curves (m)."""
    return math.fsum(curve.length for curve in loop)


def area(loop: Sequence[Curve]) -> float:
    """Signed area enclosed by a closed loop of true curves (m²), positive counter-clockwise.

    Green's theorem, ½ ∮ (x dy − y dx): closed forms on lines and arcs, exact quadrature on splines.
    """
    return math.fsum(curve.swept() for curve in joined(loop))


def polyline(points: ArrayLike) -> Loop:
    """Join points by straight lines into a closed loop.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Corners in order, the first not repeated (m).

    Returns
    -------
    tuple of Line
    """
    corners = [(float(x), float(y)) for x, y in np.asarray(points, float)]
    return tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))


def circle(centre: Point, radius: float) -> Loop:
    """Circle as a loop of two half arcs, counter-clockwise (m)."""
    (x, y), r = centre, radius
    east, west = (x + r, y), (x - r, y)
    return Arc(east, (x, y + r), west), Arc(west, (x, y - r), east)


def rounded(points: ArrayLike, radii: ArrayLike) -> Loop:
    """Round the corners of a closed polygon by arcs tangent to both sides.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Corners in order, the first not repeated (m).
    radii : float or array_like, shape (n,)
        Radius at each corner (m); 0 keeps a corner sharp.

    Returns
    -------
    tuple of Line or Arc

    Raises
    ------
    DesignError
        When a radius is negative or too large for its sides.
    """
    p = np.asarray(points, float)
    r = np.broadcast_to(np.asarray(radii, float), (len(p),))
    into, out = _units(p - np.roll(p, 1, axis=0)), _units(np.roll(p, -1, axis=0) - p)
    half_turn = 0.5 * np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
    cut = r * np.abs(np.tan(half_turn))
    room = np.linalg.norm(np.roll(p, -1, axis=0) - p, axis=1) - cut - np.roll(cut, -1)
    if not (r >= 0.0).all() or (room < -1e-9).any():
        worst = int(np.argmin(np.minimum(room, r)))
        raise DesignError(
            f"The rounding of the corners at {in_mm(p[worst], p[(worst + 1) % len(p)])} mm does not fit the "
            "side between them; give smaller radii, and none below zero."
        )
    first, last = p - cut[:, None] * into, p + cut[:, None] * out
    middle = p + _units(out - into) * (r * (1.0 / np.cos(half_turn) - 1.0))[:, None]
    curves: list[Curve] = []
    for i in range(len(p)):
        if cut[i] > 1e-9:
            curves.append(Arc(tuple(first[i]), tuple(middle[i]), tuple(last[i])))
        if room[i] > 1e-9:
            curves.append(Line(tuple(last[i]), tuple(first[(i + 1) % len(p)])))
    return joined(curves)


def _units(vectors: Points) -> Points:
    norms = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(vectors / np.where(norms > 0.0, norms, 1.0))
