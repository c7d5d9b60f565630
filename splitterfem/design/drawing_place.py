"""Points and curves of entities, taken from where they are stored to the car's plan."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.curves import Line, Loop, Point
from splitterfem.design import drawing_smooth as smooth
from splitterfem.design.drawing_walk import Placed

Array = NDArray[np.float64]

FARTHEST = 1e3
"""A point further from the origin than this is a mistake of units or a damaged number, m."""

FLAT = 1e-4
"""Heights within an entity may differ by this, m."""

NOTHING = 1e-6
"""What is shorter has no extent, m."""


@dataclass(frozen=True)
class Piece:
    """Curves that follow each other, as drawn by one entity.

    Parameters
    ----------
    curves : tuple of Line, Arc or Spline
        In order (m, car's axes); at least one.
    layer : str
        On which they appear.
    what : str
        The entity, for messages.
    circle : (point, float), optional
        Centre and radius (m) of a whole circle.
    """

    curves: Loop
    layer: str
    what: str
    circle: tuple[Point, float] | None = None

    @property
    def start(self) -> Point:
        """Where it begins (m)."""
        return self.curves[0].start

    @property
    def end(self) -> Point:
        """Where it ends (m)."""
        return self.curves[-1].end


def conic(
    matrix: Any, centre: Any, a: Any, b: Any, *, start: float, sweep: float
) -> tuple[Loop, tuple[Point, float] | None]:
    """Return the curve c + a cos t + b sin t where a matrix takes it; centre and radius of a whole circle."""
    middle = np.array(matrix.transform(centre).xyz, float)
    u, v = (np.array(matrix.transform_direction(axis).xyz, float) for axis in (a, b))
    if not np.isfinite([middle, u, v]).all():
        raise ValueError("a coordinate is not a finite number")
    if max(abs(u[2]), abs(v[2])) > FLAT:
        raise ValueError("it does not lie flat in the plan")
    reach = float(np.hypot(*u[:2]) + np.hypot(*v[:2]))
    if max(abs(middle[0]), abs(middle[1]), reach) > 100.0 * FARTHEST:
        raise ValueError(f"it reaches {reach:.3g} m far; check it and the unit")
    if reach < NOTHING or abs(u[0] * v[1] - u[1] * v[0]) < 1e-12 * reach**2:
        return (), None
    loop = smooth.conic(middle[:2], u[:2], v[:2], start=start, sweep=sweep)
    _refuse_far([curve.start for curve in loop])
    whole = abs(sweep) > math.tau - 1e-9 and smooth.is_circular(u[:2], v[:2])
    return loop, (smooth.pair(middle), float(np.hypot(*u[:2]))) if whole else None


def pinned(loop: Loop, start: Point, end: Point) -> Loop:
    """Move the first and the last point of curves that follow each other."""
    if not loop:
        return ()
    found = list(loop)
    found[0] = moved(found[0], start=start)
    found[-1] = moved(found[-1], end=end)
    return tuple(found)


def moved(curve: curves.Curve, *, start: Point | None = None, end: Point | None = None) -> curves.Curve:
    """Return a curve with one end or both ends moved a little."""
    first, last = start or curve.start, end or curve.end
    if isinstance(curve, Line):
        return Line(first, last)
    if isinstance(curve, curves.Arc):
        return smooth.arc_or_line(first, curve.via, last)
    return curves.Spline((first, *curve.points[1:-1], last))


def backwards(loop: Sequence[curves.Curve]) -> Loop:
    """Return curves that follow each other run in the other direction."""
    return tuple(_reversed(curve) for curve in reversed(loop))


def _reversed(curve: curves.Curve) -> curves.Curve:
    if isinstance(curve, Line):
        return Line(curve.end, curve.start)
    if isinstance(curve, curves.Arc):
        return curves.Arc(curve.end, curve.via, curve.start)
    return curves.Spline(curve.points[::-1])


def line(points: Sequence[Array]) -> Loop:
    """Join two points by a line, if they are apart."""
    a, b = points
    return (Line(smooth.pair(a), smooth.pair(b)),) if np.hypot(*(b - a)) >= NOTHING else ()


def plan(matrix: Any, points: Sequence[Any]) -> Array:
    """Take points to the car's plan (m) and check that they lie level and near."""
    found = np.array([matrix.transform(point).xyz for point in points], float)
    if not np.isfinite(found).all():
        raise ValueError("a coordinate is not a finite number")
    if np.ptp(found[:, 2]) > FLAT:
        raise ValueError(f"it is not level, for its heights differ by {1e3 * np.ptp(found[:, 2]):.3g} mm")
    _refuse_far(found)
    return found[:, :2]


def _refuse_far(points: Iterable[Sequence[float]]) -> None:
    for point in points:
        if max(abs(point[0]), abs(point[1])) > FARTHEST:
            raise ValueError(
                f"it reaches {max(abs(point[0]), abs(point[1])):.3g} m away from the origin; check it and the "
                "unit"
            )


def in_plane(one: Placed) -> Any:
    """Return the matrix from the plane of an entity, which may be seen from below, to the car."""
    ocs = one.entity.ocs()
    return ocs.matrix * one.matrix if ocs.transform else one.matrix


def turn(start: float, end: float) -> float:
    """Angle from start to end, counter-clockwise, in (0, 2 pi] (rad)."""
    turn = (end - start) % math.tau
    return turn if turn > 1e-9 else math.tau


def number(value: object) -> float:
    """Return a finite float."""
    number = float(value)  # type: ignore[arg-type]
    if not math.isfinite(number):
        raise ValueError("a number of it is not finite")
    return number


def vector(row: Sequence[float]) -> Any:
    """Return the first three numbers as a vector of the reading package."""
    from ezdxf.math import Vec3

    return Vec3(float(row[0]), float(row[1]), float(row[2]))
