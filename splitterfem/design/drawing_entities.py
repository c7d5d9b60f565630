"""Entities of a drawing as curves in the car's axes."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from splitterfem import curves
from splitterfem.curves import Line, Loop, Point
from splitterfem.design import drawing_smooth as smooth
from splitterfem.design.drawing_file import reason
from splitterfem.design.drawing_frame import Notes
from splitterfem.design.drawing_place import (
    NOTHING,
    Array,
    Piece,
    conic,
    in_plane,
    line,
    number,
    pinned,
    plan,
    turn,
    vector,
)
from splitterfem.design.drawing_walk import Placed
from splitterfem.errors import SplitterError

_MOST_VERTICES = 20_000
_MOST_CONTROL_POINTS = 2_000
_LARGEST_RATIO = 1e6
_HIGHEST_DEGREE = 15
_SPLINE_FRAME = 16


def pieces_of(entities: Iterable[Placed], notes: Notes) -> list[Piece]:
    """Return the curves of all entities; those without extent are left out and counted in the report.

    Raises
    ------
    FileError
        An entity that is damaged, not flat, or out of all reason; it is named.
    """
    reader = _Reader(notes)
    found = [piece for one in entities for piece in reader.read(one)]
    reader.tell()
    return found


class _Reader:
    """Reads entities one by one and keeps account of what it meets."""

    def __init__(self, notes: Notes) -> None:
        self.notes = notes
        self.vertices = 0
        self.controls = 0
        self.empty: Counter[str] = Counter()
        self.replaced: Counter[str] = Counter()

    def read(self, one: Placed) -> list[Piece]:
        """Return the piece of one entity, or nothing when it has no extent."""
        kind = one.entity.dxftype()
        read: Callable[[Placed], tuple[Loop, tuple[Point, float] | None]] = getattr(self, f"_{kind.lower()}")
        try:
            loop, circle = read(one)
        except SplitterError as problem:
            raise self.notes.fault(f"{one} cannot be drawn: {problem}") from None
        except Exception as problem:  # a damaged entity can provoke any kind of error
            told = reason(problem)
            mend = "" if ";" in told else "; redraw or delete it"
            raise self.notes.fault(f"{one}: {told}{mend}") from None
        if not loop or curves.length(loop) < NOTHING:
            self.empty[kind] += 1
            return []
        if any(isinstance(curve, curves.Spline) for curve in loop):
            self.replaced[kind] += 1
        return [Piece(loop, one.layer, str(one), circle)]

    def tell(self) -> None:
        """Put what was dropped and what was replaced into the report."""
        for kind, count in sorted(self.empty.items()):
            self.notes.add(f"Left out, for it has no extent: {count} {kind}.")
        for kind, count in sorted(self.replaced.items()):
            self.notes.add(
                f"{count} {kind} became smooth curves that lie within {1e3 * smooth.FIT:g} mm of the drawn ones."
            )

    def _line(self, one: Placed) -> tuple[Loop, None]:
        dxf = one.entity.dxf
        a, b = plan(one.matrix, [dxf.start, dxf.end])
        return line([a, b]), None

    def _arc(self, one: Placed) -> tuple[Loop, tuple[Point, float] | None]:
        dxf = one.entity.dxf
        start, end = math.radians(number(dxf.start_angle)), math.radians(number(dxf.end_angle))
        return _round(one, start, turn(start, end))

    def _circle(self, one: Placed) -> tuple[Loop, tuple[Point, float] | None]:
        return _round(one, 0.0, math.tau)

    def _ellipse(self, one: Placed) -> tuple[Loop, tuple[Point, float] | None]:
        dxf = one.entity.dxf
        major, ratio = dxf.major_axis, number(dxf.ratio)
        if not 1e-6 <= abs(ratio) <= 1.0 + 1e-9:
            raise ValueError(f"the ratio of its axes is {ratio:g}, and it lies between 0 and 1")
        minor = dxf.extrusion.normalize().cross(major) * ratio
        start, end = number(dxf.start_param), number(dxf.end_param)
        return conic(one.matrix, dxf.center, major, minor, start=start, sweep=turn(start, end))

    def _spline(self, one: Placed) -> tuple[Loop, None]:
        source = one.entity
        if not self._sound(source):
            return (), None
        if source.control_point_count() and len(source.knots):
            degree, knots, weights = int(source.dxf.degree), list(source.knots), list(source.weights)
        else:  # knots that belong to points alone are the business of the reading package
            source = source.construction_tool()
            degree, knots, weights = source.degree, list(source.knots()), list(source.weights())
        control = np.array([tuple(point) for point in source.control_points], float)
        points = plan(one.matrix, [vector(point) for point in control])
        weights = weights or [1.0] * len(control)
        _refuse_mismatch(len(control), np.array(knots, float), np.array(weights, float), degree)
        scaled = np.array(weights, float) / max(weights)
        return smooth.bspline(points, scaled, np.array(knots, float), degree), None

    def _sound(self, entity: Any) -> bool:
        """Check the size of a spline before anything is computed with it; False when it has no points."""
        control, fit = entity.control_point_count(), entity.fit_point_count()
        self.controls += max(control, fit)
        if self.controls > _MOST_CONTROL_POINTS:
            raise ValueError(f"the splines have more than {_MOST_CONTROL_POINTS} points together")
        degree = int(entity.dxf.get("degree", 3))
        if control and not 1 <= degree <= min(_HIGHEST_DEGREE, control - 1):
            raise ValueError(f"it has {control} control points and degree {degree}")
        finite = np.array(
            [tuple(p) for p in (entity.control_points if control else entity.fit_points)], float
        )
        if not np.isfinite(finite).all():
            raise ValueError("a coordinate is not a finite number")
        return bool(control or fit > 1)

    def _lwpolyline(self, one: Placed) -> tuple[Loop, None]:
        entity = one.entity
        rows = list(entity.get_points("xyb"))
        height = float(entity.dxf.get("elevation", 0.0))
        return self._polygon(one, [(x, y, height, bulge) for x, y, bulge in rows], entity.closed), None

    def _polyline(self, one: Placed) -> tuple[Loop, None]:
        entity = one.entity
        if not (entity.is_2d_polyline or entity.is_3d_polyline):
            raise ValueError("it is a mesh and not a line")
        drawn = [v for v in entity.vertices if not int(v.dxf.get("flags", 0)) & _SPLINE_FRAME]
        rows = [(*v.dxf.location.xyz, float(v.dxf.get("bulge", 0.0))) for v in drawn]
        if entity.is_2d_polyline:
            height = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
            rows = [(x, y, height, bulge) for x, y, _, bulge in rows]
        return self._polygon(one, rows, entity.is_closed), None

    def _polygon(self, one: Placed, rows: Sequence[tuple[float, ...]], closed: bool) -> Loop:
        """Join vertices (x, y, z, bulge) by lines and arcs."""
        self.vertices += len(rows)
        if self.vertices > _MOST_VERTICES:
            raise ValueError(
                f"the polylines have more than {_MOST_VERTICES} vertices together; draw curves as arcs"
            )
        flat = one.entity.dxftype() == "LWPOLYLINE" or one.entity.is_2d_polyline
        matrix = in_plane(one) if flat else one.matrix
        if len(rows) < 2:
            return ()
        places = plan(matrix, [vector(row) for row in rows])
        found: list[curves.Curve] = []
        count = len(rows) if closed else len(rows) - 1
        for i in range(count):
            j = (i + 1) % len(rows)
            if np.hypot(*(places[j] - places[i])) < NOTHING / 10.0:
                continue
            start = found[-1].end if found else smooth.pair(places[i])
            end = found[0].start if closed and j == 0 and found else smooth.pair(places[j])
            found += _segment(matrix, rows[i], rows[j], start, end)
        return tuple(found)


def _refuse_mismatch(count: int, knots: Array, weights: Array, degree: int) -> None:
    """Refuse numbers that make no B-spline."""
    if len(knots) != count + degree + 1 or len(weights) != count:
        raise ValueError(
            f"it has {count} control points, {len(knots)} knots and {len(weights)} weights, which do not belong "
            "together"
        )
    if not (np.isfinite([*knots, np.abs(knots).max() * 2.0]).all() and (np.diff(knots) >= 0.0).all()):
        raise ValueError("its knots do not increase")
    if not (np.isfinite(weights).all() and (weights > 0.0).all()):
        raise ValueError("its weights are not all above zero")
    if weights.max() > _LARGEST_RATIO * weights.min():
        raise ValueError(f"its weights differ by more than {_LARGEST_RATIO:g} times")


def _segment(matrix: Any, p: Sequence[float], q: Sequence[float], start: Point, end: Point) -> Loop:
    """Return one side of a polyline: a line, or where it bulges an arc.

    The bulge is the tangent of a quarter of the angle of the arc, positive counter-clockwise; the centre
    lies ``c (1 - b²) / 4 b`` to the left of the middle of the chord c.
    """
    bulge = number(p[3])
    if abs(bulge) < 4e-6:
        return (Line(start, end),)
    x, y, dx, dy = 0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1]), q[0] - p[0], q[1] - p[1]
    lift = (1.0 - bulge**2) / (4.0 * bulge)
    centre = vector((x - lift * dy, y + lift * dx, p[2]))
    ray = vector((p[0] - centre.x, p[1] - centre.y, 0.0))
    across = vector((-ray.y, ray.x, 0.0))
    found, _ = conic(matrix, centre, ray, across, start=0.0, sweep=4.0 * math.atan(bulge))
    return pinned(found, start, end) or (Line(start, end),)


def _round(one: Placed, start: float, sweep: float) -> tuple[Loop, tuple[Point, float] | None]:
    """Return an arc or a circle."""
    dxf = one.entity.dxf
    radius = number(dxf.radius)
    if not radius > 0.0:
        raise ValueError(f"its radius is {radius:g}, and a radius is above zero")
    a, b = vector((radius, 0.0, 0.0)), vector((0.0, radius, 0.0))
    return conic(in_plane(one), dxf.center, a, b, start=start, sweep=sweep)
