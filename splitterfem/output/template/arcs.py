"""Smooth curves as chains of circular arcs, for writers and machines that know no splines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np

from splitterfem.curves import Arc, Curve, Line, Point, Spline
from splitterfem.errors import DesignError

CLOSE = 2e-6
"""Distance of the arcs from the curve that they stand for, m."""

_LOOKED_AT = np.linspace(0.0, 1.0, 9)[1:-1]
_DEEPEST = 20


def in_arcs(curves: Iterable[Curve]) -> tuple[Line | Arc, ...]:
    """Return curves with every spline as arcs within 2 µm of it; lines and arcs stay as they are.

    Parameters
    ----------
    curves : iterable of Line, Arc or Spline

    Returns
    -------
    tuple of Line or Arc
    """
    found: list[Line | Arc] = []
    for curve in curves:
        found += _arcs(curve) if isinstance(curve, Spline) else [curve]
    return tuple(found)


def _arcs(spline: Spline) -> Iterator[Line | Arc]:
    """Arcs of every span between two given points, where the curve is a plain cubic."""
    knots = spline.knots
    ends = [spline.start, *(_pair(p) for p in spline.at(knots[1:-1])), spline.end]
    for i in range(len(knots) - 1):
        yield from _span(spline, float(knots[i]), float(knots[i + 1]), ends[i], ends[i + 1], _DEEPEST)


def _span(spline: Spline, a: float, b: float, start: Point, end: Point, deeper: int) -> Iterator[Line | Arc]:
    middle = _pair(spline.at(0.5 * (a + b))[0])
    try:
        arc: Line | Arc = Arc(start, middle, end)
    except DesignError:  # flatter than an arc can be
        arc = Line(start, end)
    if deeper == 0 or _misses(arc, spline.at(a + (b - a) * _LOOKED_AT)) <= CLOSE:
        yield arc
        return
    half = 0.5 * (a + b)
    yield from _span(spline, a, half, start, middle, deeper - 1)
    yield from _span(spline, half, b, middle, end, deeper - 1)


def _misses(arc: Line | Arc, points: np.ndarray) -> float:
    """Largest distance of points from a line or the circle of an arc."""
    if isinstance(arc, Arc):
        return float(np.abs(np.hypot(*(points - np.array(arc.centre)).T) - arc.radius).max())
    along = np.subtract(arc.end, arc.start) / arc.length
    away = points - np.array(arc.start)
    return float(np.abs(along[0] * away[:, 1] - along[1] * away[:, 0]).max())


def _pair(point: np.ndarray) -> Point:
    return float(point[0]), float(point[1])


def as_circle(curves: tuple[Curve, ...]) -> tuple[Point, float] | None:
    """Centre and diameter (m) of a closed loop that is one circle; None for any other.

    Parameters
    ----------
    curves : tuple of Line, Arc or Spline
        A closed loop.
    """
    arcs = [curve for curve in curves if isinstance(curve, Arc)]
    if len(arcs) < len(curves):
        return None
    (x, y), radius = arcs[0].centre, arcs[0].radius
    near = 1e-9
    same = all(math.dist(arc.centre, (x, y)) < near and abs(arc.radius - radius) < near for arc in arcs)
    whole = abs(abs(math.fsum(arc.sweep for arc in arcs)) - math.tau) < near
    return ((x, y), 2.0 * radius) if same and whole else None
