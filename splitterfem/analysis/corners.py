"""The sharpest outward corner of a closed loop of curves."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from splitterfem import curves

KINK = math.radians(2.0)
"""Turn of the tangent between two curves above which their joint is a sharp corner."""

_PER_SPAN = 64

Place = tuple[float, float]


def sharpest_corner(loop: curves.Loop, aft: float = -math.inf) -> tuple[float, Place]:
    """Smallest radius of curvature of a loop where it turns outward, and its place.

    Two curves that meet at more than 2° have a corner of no radius. The radius of a spline is
    ``|c'|³ / (c' × c'')``, looked at in 64 places between two given points.

    Parameters
    ----------
    loop : sequence of curves
        Closed (m).
    aft : float
        What lies behind this x does not count (m).

    Returns
    -------
    radius : float
        In m; zero at a sharp corner, infinite when nothing turns outward.
    at : tuple of float
        (x, y) in m; nan when nothing turns outward.
    """
    sense = 1.0 if curves.area(loop) > 0.0 else -1.0
    found = [(radius, at) for radius, at in _bends(loop, sense) if at[0] >= aft]
    if not found:
        return math.inf, (math.nan, math.nan)
    least = min(radius for radius, _ in found)
    alike = [at for radius, at in found if radius <= least + 1e-6]
    return least, max(alike, key=lambda at: (round(at[0], 6), at[1]))


def _bends(loop: curves.Loop, sense: float) -> Iterator[tuple[float, Place]]:
    """Radius and place of every outward bend."""
    for number, curve in enumerate(loop):
        into, out = loop[number - 1].derivative([1.0])[0], curve.derivative([0.0])[0]
        turn = math.atan2(into[0] * out[1] - into[1] * out[0], float(into @ out))
        if sense * turn > KINK:
            yield 0.0, curve.start
        if isinstance(curve, curves.Arc) and sense * curve.sweep > 0.0:
            for place in curve.at(np.linspace(0.0, 1.0, 5)):
                yield curve.radius, (float(place[0]), float(place[1]))
        if isinstance(curve, curves.Spline):
            yield from _spline_bends(curve, sense)


def _spline_bends(curve: curves.Spline, sense: float) -> Iterator[tuple[float, Place]]:
    knots = curve.knots
    share = (np.arange(_PER_SPAN) + 0.5) / _PER_SPAN
    t = (knots[:-1, None] + share * np.diff(knots)[:, None]).ravel()
    h = np.repeat(np.diff(knots), _PER_SPAN) * 0.25 / _PER_SPAN
    first = curve.derivative(t)
    second = (curve.derivative(t + h) - curve.derivative(t - h)) / (2.0 * h)[:, None]  # exact within a span
    bend = sense * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    outward = bend > 1e-9 * np.hypot(*first.T) ** 3
    radii = np.hypot(*first[outward].T) ** 3 / bend[outward]
    for radius, place in zip(radii, curve.at(t[outward]), strict=True):
        yield float(radius), (float(place[0]), float(place[1]))
