"""Outlines of panels and cut-outs: edges as people give them, and the closed loop of curves they make."""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Self

from pydantic import Field, model_validator

from splitterfem import curves
from splitterfem.design._fillets import filleted
from splitterfem.design._record import Flag, Record, refuse
from splitterfem.errors import DesignError
from splitterfem.units import Length, NonNegativeLength, Point, PositiveLength

if TYPE_CHECKING:
    from shapely.geometry import Polygon

CHORD = 0.5e-3
"""Default distance between a curve and the polygon that stands for it, m."""

_ON_AXIS = 1e-9


class Edge(Record):
    """One edge of an outline, from the end of the edge before it.

    Parameters
    ----------
    to : point
        Where it ends.
    via : point, optional
        A point between the ends: makes it a circular arc.
    through : points, optional
        Points between the ends: makes it a smooth spline.
    round : length
        Radius of the corner at its end, between two straight edges.
    """

    to: Point
    via: Point | None = None
    through: Annotated[tuple[Point, ...], Field(min_length=1, max_length=2000)] | None = None
    round: NonNegativeLength = 0.0

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if self.via is not None and self.through is not None:
            refuse("an edge has via (an arc) or through (a spline), not both; leave one out")
        if self.round and (self.via is not None or self.through is not None):
            refuse("round belongs to the corner between two straight edges; drop it from an arc or spline")
        return self

    def curve(self, start: tuple[float, float]) -> curves.Curve:
        """Return the curve from ``start`` (m) to the end of the edge."""
        if self.via is not None:
            return curves.Arc(start, self.via, self.to)
        if self.through is not None:
            return curves.Spline((start, *self.through, self.to))
        return curves.Line(start, self.to)

    def shifted(self, dx: float, dy: float) -> Edge:
        """Return the edge moved by ``dx``, ``dy`` (m)."""
        fields = self.given() | {"to": shift(self.to, dx, dy)}
        if self.via is not None:
            fields["via"] = shift(self.via, dx, dy)
        if self.through is not None:
            fields["through"] = tuple(shift(point, dx, dy) for point in self.through)
        return Edge(**fields)


class Outline(Record):
    """A closed loop of straight lines, arcs and splines.

    Parameters
    ----------
    start : point
        Where the first edge begins.
    edges : edges
        In order, each from the end of the one before. The loop closes by a straight line if it is open.
    mirror : bool
        The edges run on the left side only (y >= 0), from a point on y = 0 to a point on y = 0, and their
        mirror image closes the loop. A spline that meets y = 0 runs on smoothly into its mirror image.
    """

    start: Point
    edges: Annotated[tuple[Edge, ...], Field(min_length=1, max_length=5000)]
    mirror: Flag = False

    @model_validator(mode="after")
    def _can_be_drawn(self) -> Self:
        if self.mirror:
            self._refuse_off_axis()
        try:
            self.loop()
        except DesignError as problem:
            refuse(str(problem))
        return self

    def _refuse_off_axis(self) -> None:
        """Refuse a half outline that does not begin and end on the centre plane or lies right of it."""
        for point, verb in ((self.start, "starts"), (self.edges[-1].to, "ends")):
            if abs(point[1]) > _ON_AXIS:
                refuse(
                    f"a mirrored outline starts and ends on y = 0, but this one {verb} at "
                    f"{curves.in_mm(point)} mm; move that point to y = 0 or leave mirror out"
                )
        for edge in self.edges:
            if edge.to[1] < -_ON_AXIS:
                refuse(
                    f"a mirrored outline runs on the left side, where y is positive, but it has a point at "
                    f"{curves.in_mm(edge.to)} mm; change the sign of its y"
                )

    def loop(self) -> curves.Loop:
        """Return the closed loop of curves (m).

        Raises
        ------
        DesignError
            An edge without length, an arc through points on a line, or a rounding that does not fit.
        """
        return self._loop

    @cached_property
    def _loop(self) -> curves.Loop:
        """The loop, kept: a changed design keeps the outlines that are not changed."""
        chain: list[curves.Curve] = []
        place = self.start
        for edge in self.edges:
            chain.append(edge.curve(place))
            place = edge.to
        radii = [float(edge.round) for edge in self.edges]
        if self.mirror:
            chain, radii = _with_mirror_image(chain, radii)
        elif math.dist(place, self.start) > _ON_AXIS:
            chain.append(curves.Line(place, self.start))
            radii.append(0.0)
        return curves.joined(filleted(chain, radii))

    def polygon(self, tolerance: float = CHORD) -> Polygon:
        """Return the enclosed polygon (m), within ``tolerance`` (m) of the true curves.

        Raises
        ------
        DesignError
            The outline crosses or touches itself.
        """
        return curves.polygon(self.loop(), tolerance)

    def shifted(self, dx: float, dy: float) -> Outline:
        """Return the outline moved by ``dx``, ``dy`` (m)."""
        if self.mirror and dy != 0.0:
            raise DesignError("a mirrored outline cannot move sideways; move it with dy = 0")
        edges = tuple(edge.shifted(dx, dy) for edge in self.edges)
        return Outline(**(self.given() | {"start": shift(self.start, dx, dy), "edges": edges}))

    @classmethod
    def rectangle(cls, x0: object, x1: object, y0: object, y1: object, *, round: object = 0.0) -> Outline:
        """Return a rectangle with sides along the axes.

        Parameters
        ----------
        x0, x1 : length
            Rear and front.
        y0, y1 : length
            Right and left.
        round : length
            Radius of the four corners.
        """
        return Rectangle(x=(x0, x1), y=(y0, y1), round=round).outline()

    @classmethod
    def circle(cls, centre: object, radius: object) -> Outline:
        """Return a circle about a point."""
        return Circle(centre=centre, radius=radius).outline()


class Rectangle(Record):
    """A rectangle with sides along the axes.

    Parameters
    ----------
    x : two lengths
        Rear and front.
    y : two lengths
        Right and left.
    round : length
        Radius of the corners.
    """

    x: tuple[Length, Length]
    y: tuple[Length, Length]
    round: NonNegativeLength = 0.0

    @model_validator(mode="after")
    def _right_way_round(self) -> Self:
        for axis, (low, high) in (("x", self.x), ("y", self.y)):
            if not low < high:
                refuse(
                    f"{axis} runs from {1e3 * low:.6g} mm to {1e3 * high:.6g} mm; write the smaller first "
                    "and the larger second"
                )
        side = min(self.x[1] - self.x[0], self.y[1] - self.y[0])
        if 2.0 * self.round > side * (1.0 + 1e-9):
            refuse(
                f"corners of radius {1e3 * self.round:.6g} mm do not fit a side of {1e3 * side:.6g} mm; "
                f"give at most {500.0 * side:.6g} mm"
            )
        return self

    def outline(self) -> Outline:
        """Return the rectangle as an outline, counter-clockwise from its right rear corner."""
        (x0, x1), (y0, y1) = self.x, self.y
        corners = ((x1, y0), (x1, y1), (x0, y1), (x0, y0))
        edges = tuple(
            Edge(to=corner, round=self.round) if self.round else Edge(to=corner) for corner in corners
        )
        return Outline(start=(x0, y0), edges=edges)

    def shifted(self, dx: float, dy: float) -> Rectangle:
        """Return the rectangle moved by ``dx``, ``dy`` (m)."""
        low, high = shift((self.x[0], self.y[0]), dx, dy), shift((self.x[1], self.y[1]), dx, dy)
        return self.with_(x=(low[0], high[0]), y=(low[1], high[1]))


class Circle(Record):
    """A circle about a point.

    Parameters
    ----------
    centre : point
        Its centre.
    radius : length
        Its radius.
    """

    centre: Point
    radius: PositiveLength

    def outline(self) -> Outline:
        """Return the circle as an outline of two half arcs, counter-clockwise."""
        (x, y), r = self.centre, float(self.radius)
        first = Edge(to=(x - r, y), via=(x, y + r))
        return Outline(start=(x + r, y), edges=(first, Edge(to=(x + r, y), via=(x, y - r))))

    def shifted(self, dx: float, dy: float) -> Circle:
        """Return the circle moved by ``dx``, ``dy`` (m)."""
        return self.with_(centre=shift(self.centre, dx, dy))


def shift(point: tuple[float, float], dx: float, dy: float) -> tuple[float, float]:
    """Return a point moved by ``dx``, ``dy`` (m); a coordinate that stays keeps its words."""
    x, y = point
    return (x + dx if dx else x), (y + dy if dy else y)


def _with_mirror_image(
    chain: list[curves.Curve], radii: list[float]
) -> tuple[list[curves.Curve], list[float]]:
    """Append the mirror image of half a loop; splines that meet y = 0 become one with their image."""
    image = [curve.mirrored() for curve in reversed(chain)]
    radii = [*radii, *reversed(radii[:-1]), 0.0]
    last, first = chain[-1], chain[0]
    if isinstance(last, curves.Spline):
        whole = curves.Spline((*last.points[:-1], *image[0].points))  # type: ignore[union-attr]
        if len(chain) == 1:
            return [whole], [0.0]
        radii = [*radii[: len(chain) - 1], *radii[len(chain) :]]
        chain, image = [*chain[:-1], whole], image[1:]
    if isinstance(first, curves.Spline) and isinstance(image[-1], curves.Spline):
        whole = curves.Spline((*image[-1].points[:-1], *first.points))
        chain, image, radii = [whole, *chain[1:]], image[:-1], radii[:-1]
    return [*chain, *image], radii
