"""Smooth curves of a drawing, followed by cubic splines as closely as is stated.

Ellipses and B-splines are no curves of an outline. They are followed by interpolating splines through points
on them; the number of points is doubled until the two curves lie within `FIT` of each other.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.curves import Arc, Curve, Line, Loop, Point, Spline

Array = NDArray[np.float64]
At = Callable[[Array], Array]

FIT = 1e-5
"""Largest distance between a curve of the drawing and the one in the outline, m."""

_MOST_POINTS = 400
_DEEPEST = 10
_SAME = 1e-7
_KINK = math.radians(0.5)


def conic(centre: Array, a: Array, b: Array, *, start: float, sweep: float) -> Loop:
    """Return the curve c + a cos t + b sin t as arcs if it is circular, and as splines if not.

    Parameters
    ----------
    centre, a, b : ndarray, shape (2,)
        Centre and two conjugate radii (m).
    start, sweep : float
        First parameter and its change (rad); a whole turn closes the curve.

    Returns
    -------
    tuple of Line, Arc or Spline
        Arcs of at most half a turn.
    """
    whole = abs(sweep) > math.tau - 1e-9

    def at(u: Array) -> Array:
        t = start + sweep * u
        points = centre + np.outer(np.cos(t), a) + np.outer(np.sin(t), b)
        if whole:
            points[u == 1.0] = centre + math.cos(start) * a + math.sin(start) * b
        return np.asarray(points)

    if is_circular(a, b):
        parts = 2 if abs(sweep) > math.pi + 1e-9 else 1
        points = [pair(p) for p in at(np.linspace(0.0, 1.0, 2 * parts + 1))]
        return tuple(arc_or_line(*points[2 * i : 2 * i + 3]) for i in range(parts))
    return tuple(followed(at, np.linspace(0.0, 1.0, 9)))


def is_circular(a: Array, b: Array) -> bool:
    """Tell whether two conjugate radii are those of a circle, to ten millionths of the radius."""
    size = max(float(np.hypot(*a)), float(np.hypot(*b)))
    return abs(float(a @ b)) <= 1e-7 * size**2 and abs(np.hypot(*a) - np.hypot(*b)) <= 1e-7 * size


def arc_or_line(start: Point, via: Point, end: Point) -> Line | Arc:
    """Return an arc, or a line where the arc is as good as straight (two millionths of its chord)."""
    (x, y), (u, v) = np.subtract(via, start), np.subtract(end, start)
    longest = max(math.hypot(x, y), math.hypot(u, v), math.dist(via, end))
    if abs(x * v - y * u) < 2e-6 * longest**2:
        return Line(start, end)
    return Arc(start, via, end)


def bspline(control: Array, weights: Array, knots: Array, degree: int) -> Loop:
    """Return a B-spline as splines, cut where it has a corner.

    Parameters
    ----------
    control : ndarray, shape (n, 2)
        Control points (m).
    weights : ndarray, shape (n,)
        Above zero.
    knots : ndarray, shape (n + degree + 1,)
        Not decreasing.
    degree : int
        Of the polynomials.

    Returns
    -------
    tuple of Line or Spline

    Raises
    ------
    ValueError
        The spline is torn apart at a knot, has no extent, or cannot be followed closely enough.

    Notes
    -----
    Evaluated as a polynomial B-spline in homogeneous coordinates: Piegl & Tiller, *The NURBS Book* (1997),
    ch. 4.
    """
    from scipy.interpolate import BSpline

    first, last = knots[degree], knots[len(control)]
    if not first < last:
        raise ValueError("its knots span nothing")
    curve = BSpline(knots, np.column_stack([control * weights[:, None], weights]), degree)

    def at(u: Array) -> Array:
        with np.errstate(all="ignore"):
            value = curve(first + u * (last - first))
            points = np.asarray(value[:, :2] / value[:, 2:])
        if not np.isfinite(points).all():
            raise ValueError("it cannot be evaluated between its knots")
        return points

    inner, counts = np.unique(knots[(knots > first) & (knots < last)], return_counts=True)
    if (counts > degree).any():
        raise ValueError("it is torn apart at a knot")
    inner = (inner - first) / (last - first)
    corners = inner[(counts >= degree) | _bent(at, inner)]
    ends = [0.0, *corners.tolist(), 1.0]
    grid = np.concatenate([[0.0], inner, [1.0]])
    curves: list[Curve] = []
    for low, high in itertools.pairwise(ends):
        within = grid[(grid > low) & (grid < high)]
        curves += followed(at, np.concatenate([[low], within, [high]]))
    return tuple(curves)


def _bent(at: At, places: Array, step: float = 1e-7) -> NDArray[np.bool_]:
    """Tell at which parameters the direction jumps."""
    if not len(places):
        return np.zeros(0, bool)
    before, here, after = at(places - step), at(places), at(places + step)
    return _turns(here - before, after - here) > _KINK


def _turns(u: Array, v: Array) -> Array:
    """Angles between vectors (rad); none where one has no length."""
    cross, dot = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)
    return np.asarray(np.abs(np.arctan2(cross, dot)))


def followed(at: At, grid: Array) -> list[Curve]:
    """Follow a smooth curve by as few splines as it takes to stay within `FIT`.

    Parameters
    ----------
    at : callable
        Takes parameters, shape (n,), and returns points, shape (n, 2), m.
    grid : ndarray
        Increasing parameters from the first to the last; the curve is smooth between neighbours.

    Returns
    -------
    list of Line or Spline
        A single periodic spline when the curve closes smoothly. Nothing when it has no extent.

    Raises
    ------
    ValueError
        It cannot be followed closely enough.
    """
    ends = at(grid[[0, -1]])
    if len(grid) > 1 and np.hypot(*(ends[1] - ends[0])) < 1e-6:
        step = 1e-7 * (grid[-1] - grid[0])
        near = at(np.array([grid[0], grid[0] + step, grid[-1] - step, grid[-1]]))
        if float(_turns(near[3:] - near[2:3], near[1:2] - near[:1])[0]) > _KINK:
            grid = refined(grid, 2)  # not smooth where it closes: two splines that meet there in a corner
            middle = len(grid) // 2
            return _open(at, grid[: middle + 1], 0) + _open(at, grid[middle:], 0)
    return _open(at, grid, 0)


def _open(at: At, grid: Array, depth: int) -> list[Curve]:
    """Follow one piece, halving it when many points do not suffice."""
    check = at(refined(grid, max(8, 64 // len(grid))))
    if float(np.hypot(*(check - check[0]).T).max()) < _SAME:
        return []
    if np.hypot(*(check[-1] - check[0])) > FIT and _off_straight(check) <= FIT:
        return [Line(pair(check[0]), pair(check[-1]))]
    for pieces in (1, 2, 4, 8, 16, 32):
        parameters = refined(grid, pieces)
        if len(parameters) > _MOST_POINTS:
            break
        spline, parameters = _through(at(parameters), parameters)
        if spline is not None and _off(at, parameters, spline) <= FIT:
            return [spline]
    if depth == _DEEPEST:
        raise ValueError(f"it cannot be followed within {1e3 * FIT:g} mm; redraw it with arcs and lines")
    grid = grid if len(grid) > 2 else refined(grid, 2)
    middle = len(grid) // 2
    return _open(at, grid[: middle + 1], depth + 1) + _open(at, grid[middle:], depth + 1)


def _through(points: Array, parameters: Array) -> tuple[Spline | None, Array]:
    """Return the spline through points, None if they are too few, and the parameters of those used.

    A point on top of the one before is left out, the last one never.
    """
    if np.hypot(*(points[-1] - points[0])) < 1e-6:
        points = np.concatenate([points[:-1], points[:1]])  # closes to the last bit: periodic
    keep = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > _SAME])
    keep[-1] = True
    points, parameters = points[keep], parameters[keep]
    if len(points) > 2 and np.hypot(*(points[-1] - points[-2])) <= _SAME:
        points, parameters = np.delete(points, -2, axis=0), np.delete(parameters, -2)
    if len(points) < (5 if (points[0] == points[-1]).all() else 3):
        return None, parameters
    return Spline(tuple(pair(p) for p in points)), parameters


def _off(at: At, parameters: Array, spline: Spline) -> float:
    """Largest distance of a curve from a spline through its points at some parameters (m).

    Each span is looked at in eight places. The foot of a place on the spline is found by Gauss-Newton steps; if
    they do not arrive, the distance comes out too large and never too small.
    """
    knots = spline.knots
    points, t = at(refined(parameters, 8)), refined(knots, 8)
    span = np.minimum(np.arange(len(t)) // 8, len(knots) - 2)
    low, high = knots[np.maximum(span - 1, 0)], knots[np.minimum(span + 2, len(knots) - 1)]
    least = np.full(len(t), np.inf)
    for _ in range(5):
        away, along = spline.at(t) - points, spline.derivative(t)
        least = np.minimum(least, np.hypot(*away.T))
        t = np.clip(t - (away * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-30), low, high)
    return float(least.max())


def _off_straight(points: Array) -> float:
    """Largest distance of points from the straight line between the first and the last (m)."""
    base, chord = points[0], points[-1] - points[0]
    share = np.clip((points - base) @ chord / (chord @ chord), 0.0, 1.0)
    return float(np.hypot(*(points - base - np.outer(share, chord)).T).max())


def refined(grid: Array, pieces: int) -> Array:
    """Divide each interval of increasing numbers into equal pieces."""
    steps = np.linspace(grid[:-1], grid[1:], pieces + 1)[:-1]
    return np.concatenate([steps.T.ravel(), grid[-1:]])


def pair(point: ArrayLike | Sequence[float]) -> Point:
    """Return a point as two floats."""
    x, y = np.asarray(point, float)[:2]
    return float(x), float(y)
