"""Plane curves: straight lines, circular arcs and interpolating splines.

Points are (x, y) in metres. Lengths, areas and polylines come from the curve itself, and the mesher gets the
same curve. Closed loops of curves are in `curves`.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .errors import DesignError

Point: TypeAlias = tuple[float, float]
Points: TypeAlias = NDArray[np.float64]

MAX_POINTS = 200_000  #: Most points of one curve.


def in_mm(*points: ArrayLike) -> str:
    """Write points for messages, in millimetres: ``"(1600.0, -20.5)"``."""
    return " and ".join(f"({1e3 * x:.1f}, {1e3 * y:.1f})" for x, y in (np.asarray(p, float) for p in points))


def _cross(u: Points, v: Points) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def _flip(point: Point) -> Point:
    return point[0], -point[1]


def _point(value: Any, what: str) -> Point:
    try:
        x, y = (float(v) for v in value)
    except (TypeError, ValueError):
        x = y = math.nan
    if not math.isfinite(x + y):
        raise DesignError(f"{what} is {value!r}; give two finite numbers (x, y) in metres.")
    return x, y


@dataclass(frozen=True)
class Line:
    """A straight line.

    Parameters
    ----------
    start, end : (float, float)
        Its ends (m); finite, and not the same.
    """

    start: Point
    end: Point

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", _point(self.start, "The start of a line"))
        object.__setattr__(self, "end", _point(self.end, "The end of a line"))
        if math.dist(self.start, self.end) < 1e-9:
            raise DesignError(
                f"The line at {in_mm(self.start)} mm has no length; give it two different ends."
            )

    @property
    def length(self) -> float:
        """Length (m)."""
        return math.dist(self.start, self.end)

    def at(self, t: ArrayLike) -> Points:
        """Points at parameters `t` in [0, 1]; shape (n, 2), metres."""
        return np.asarray(self.start + np.atleast_1d(t)[:, None] * np.subtract(self.end, self.start))

    def derivative(self, t: ArrayLike) -> Points:
        """Differentiate the points by `t`; shape (n, 2), metres."""
        return np.tile(np.subtract(self.end, self.start), (np.size(t), 1))

    def breaks(self, tolerance: float) -> Points:
        """Parameters of a polyline that deviates from the curve by at most `tolerance` (m)."""
        return np.array([0.0, 1.0])  # a line is its own chord

    def swept(self) -> float:
        """Area integral ½ ∫ (x dy − y dx) along the curve (m²)."""
        return 0.5 * (self.start[0] * self.end[1] - self.end[0] * self.start[1])

    def mirrored(self) -> Line:
        """Mirror image about y = 0, run backwards."""
        return Line(_flip(self.end), _flip(self.start))


@dataclass(frozen=True)
class Arc:
    """A circular arc through three points.

    Parameters
    ----------
    start, via, end : (float, float)
        Its ends and any point between them (m).

    Raises
    ------
    DesignError
        When two points are the same or all lie on one line (flatter than a millionth of the chord).
    """

    start: Point
    via: Point
    end: Point

    def __post_init__(self) -> None:
        for name in ("start", "via", "end"):
            object.__setattr__(self, name, _point(getattr(self, name), f"The {name} of an arc"))
        a, b, c = np.array(self.start), np.array(self.via), np.array(self.end)
        longest = max(math.dist(a, b), math.dist(b, c), math.dist(a, c))
        if longest < 1e-9 or abs(_cross(b - a, c - a)) < 1e-6 * longest**2:
            raise DesignError(
                f"The arc from {in_mm(a)} via {in_mm(b)} to {in_mm(c)} mm has its points on a straight "
                "line; use a line, or move the middle point sideways."
            )

    @functools.cached_property
    def centre(self) -> Point:
        """Centre of the circle (m)."""
        a, b, c = np.array(self.start), np.array(self.via), np.array(self.end)
        u, v = b - a, c - a
        offset = np.array([v[1] * (u @ u) - u[1] * (v @ v), u[0] * (v @ v) - v[0] * (u @ u)])
        x, y = a + offset / (2.0 * _cross(u, v))
        return float(x), float(y)

    @property
    def radius(self) -> float:
        """Radius (m)."""
        return math.dist(self.centre, self.start)

    @functools.cached_property
    def sweep(self) -> float:
        """Angle from start to end (rad), positive counter-clockwise."""
        x, y = self.centre
        first, middle, last = (math.atan2(p[1] - y, p[0] - x) for p in (self.start, self.via, self.end))
        turn = (last - first) % math.tau
        return turn if (middle - first) % math.tau < turn else turn - math.tau

    @property
    def length(self) -> float:
        """Length (m)."""
        return self.radius * abs(self.sweep)

    def _angles(self, t: ArrayLike) -> Points:
        first = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        return first + self.sweep * np.atleast_1d(np.asarray(t, float))

    def at(self, t: ArrayLike) -> Points:
        """Points at parameters `t` in [0, 1]; shape (n, 2), metres."""
        angle = self._angles(t)
        return np.array(self.centre) + self.radius * np.column_stack([np.cos(angle), np.sin(angle)])

    def derivative(self, t: ArrayLike) -> Points:
        """Differentiate the points by `t`; shape (n, 2), metres."""
        angle = self._angles(t)
        return self.radius * self.sweep * np.column_stack([-np.sin(angle), np.cos(angle)])

    def breaks(self, tolerance: float) -> Points:
        """Parameters of a polyline that deviates from the curve by at most `tolerance` (m)."""
        step = 4.0 * math.asin(math.sqrt(min(tolerance / (2.0 * self.radius), 0.25)))  # sagitta 2 r sin² a/4
        return np.linspace(0.0, 1.0, _pieces(abs(self.sweep) / step, self.start) + 1)

    def swept(self) -> float:
        """Area integral ½ ∫ (x dy − y dx) along the curve (m²)."""
        (x, y), (u, v) = self.start, self.end
        return 0.5 * (x * v - u * y) + 0.5 * self.radius**2 * (
            self.sweep - math.sin(self.sweep)
        )  # circular segment

    def mirrored(self) -> Arc:
        """Mirror image about y = 0, run backwards."""
        return Arc(_flip(self.end), _flip(self.via), _flip(self.start))


@dataclass(frozen=True)
class Spline:
    """A smooth cubic through given points.

    The curve is the twice continuously differentiable cubic spline over the chord length. Its slopes at both
    ends are those of the cubic through the four points next to the end (of three points, the parabola), which
    keeps the fourth-order accuracy of the interior: de Boor, *A Practical Guide to Splines* (1978), ch. IV.
    When the last point equals the first, the curve is periodic: smooth at its closing point too.

    Parameters
    ----------
    points : sequence of (float, float)
        Points to pass through in order, at least three, or four if closed (m).

    Raises
    ------
    DesignError
        When there are too few points, a point is not finite, or two neighbours are the same.
    """

    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        points = tuple(_point(p, f"Point {i + 1} of a spline") for i, p in enumerate(self.points))
        object.__setattr__(self, "points", points)
        if len(points) < (least := 4 if points and points[0] == points[-1] else 3):
            raise DesignError(f"A spline has {len(points)} points; give it at least {least}, or use a line.")
        for i, (p, q) in enumerate(itertools.pairwise(points), start=1):
            if math.dist(p, q) < 1e-9:
                raise DesignError(f"Points {i} and {i + 1} of a spline are both {in_mm(p)} mm; drop one.")

    @property
    def start(self) -> Point:
        """First point (m)."""
        return self.points[0]

    @property
    def end(self) -> Point:
        """Last point (m)."""
        return self.points[-1]

    @property
    def is_periodic(self) -> bool:
        """Whether it closes on itself."""
        return self.start == self.end

    @property
    def knots(self) -> Points:
        """Parameters of the given points, from 0 to 1."""
        return np.asarray(self._cubic.x / self._cubic.x[-1])

    @functools.cached_property
    def _cubic(self) -> Any:
        from scipy.interpolate import BarycentricInterpolator, CubicSpline

        p = np.array(self.points)
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
        if self.is_periodic:
            return CubicSpline(s, p, bc_type="periodic")
        first = BarycentricInterpolator(s[:4], p[:4]).derivative(s[0])
        last = BarycentricInterpolator(s[-4:], p[-4:]).derivative(s[-1])
        return CubicSpline(s, p, bc_type=((1, first), (1, last)))

    def _gauss(self, order: int, parts: int) -> tuple[Points, Points]:
        x, w = np.polynomial.legendre.leggauss(order)
        s = np.unique(np.linspace(self._cubic.x[:-1], self._cubic.x[1:], parts + 1))
        half = 0.5 * np.diff(s)[:, None]
        return np.ravel(s[:-1, None] + half * (1.0 + x)), np.ravel(half * w)

    @property
    def length(self) -> float:
        """Length (m), by Gauss quadrature of the speed over each quarter of a span."""
        s, w = self._gauss(8, 4)
        return float(w @ np.hypot(*self._cubic(s, 1).T))

    def at(self, t: ArrayLike) -> Points:
        """Points at parameters `t` in [0, 1]; shape (n, 2), metres."""
        return np.asarray(self._cubic(np.atleast_1d(t) * self._cubic.x[-1]))

    def derivative(self, t: ArrayLike) -> Points:
        """Differentiate the points by `t`; shape (n, 2), metres."""
        return np.asarray(self._cubic.x[-1] * self._cubic(np.atleast_1d(t) * self._cubic.x[-1], 1))

    def breaks(self, tolerance: float) -> Points:
        """Parameters of a polyline that deviates from the curve by at most `tolerance` (m)."""
        s = (
            self._cubic.x
        )  # a chord over h misses the curve by at most h² max|c''| / 8; c'' is linear in a span
        bend = np.hypot(*self._cubic(s, 2).T)
        steps = np.diff(s) * np.sqrt(np.maximum(bend[:-1], bend[1:]) / (8.0 * tolerance))
        _pieces(float(steps.sum()), self.start)
        counts = np.maximum(1, np.ceil(steps)).astype(int)
        within = [np.linspace(a, b, n + 1)[1:] for a, b, n in zip(s[:-1], s[1:], counts, strict=True)]
        return np.asarray(np.concatenate([[0.0], *within]) / s[-1])

    def swept(self) -> float:
        """Area integral ½ ∫ (x dy − y dx) along the curve (m²)."""
        s, w = self._gauss(3, 1)  # exact: of degree five in each span
        (x, y), (dx, dy) = self._cubic(s).T, self._cubic(s, 1).T
        return float(0.5 * w @ (x * dy - y * dx))

    def mirrored(self) -> Spline:
        """Mirror image about y = 0, run backwards."""
        return Spline(tuple(_flip(p) for p in reversed(self.points)))


Curve: TypeAlias = Line | Arc | Spline


def _pieces(wanted: float, where: Point) -> int:
    if not wanted <= MAX_POINTS:  # also when not a number
        raise DesignError(
            f"The curve that starts at {in_mm(where)} mm needs {wanted:.2g} points, more than {MAX_POINTS}; "
            "give it a larger tolerance or a smaller radius."
        )
    return max(1, math.ceil(wanted - 1e-9))
