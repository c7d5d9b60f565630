"""The bodywork's edge seen from above: an open line from one side of the car to the other."""

from __future__ import annotations

import itertools
from typing import Annotated, Self

import numpy as np
import shapely
from pydantic import Field, model_validator

from splitterfem import curves
from splitterfem.curves import in_mm
from splitterfem.design._fillets import filleted
from splitterfem.design._record import Flag, Record, refuse
from splitterfem.design.outline import CHORD, Edge
from splitterfem.errors import DesignError
from splitterfem.units import Point

_ON_AXIS = 1e-9


class Bodywork(Record):
    """The bodywork's edge in plan view, from which a rulebook measures.

    Either `points`, joined by straight lines, or `start` and `edges`, which can be arcs and splines.

    Parameters
    ----------
    points : points, optional
        In order along the line.
    start : point, optional
        Where the first edge begins.
    edges : edges, optional
        In order, each from the end of the one before.
    mirror : bool
        The line runs on the left side only (y >= 0) and begins or ends on y = 0; its mirror image is the other
        half. A spline that meets y = 0 runs on smoothly into its image.
    """

    points: Annotated[tuple[Point, ...], Field(min_length=2, max_length=5000)] | None = None
    start: Point | None = None
    edges: Annotated[tuple[Edge, ...], Field(min_length=1, max_length=5000)] | None = None
    mirror: Flag = False

    @model_validator(mode="after")
    def _can_be_drawn(self) -> Self:
        self._refuse_two_forms()
        if self.mirror:
            self._refuse_off_axis()
        try:
            line = self.line()
        except DesignError as problem:
            refuse(str(problem))
        place = _crossing(line)
        if place is not None:
            refuse(
                f"the line of the bodywork crosses itself at {in_mm(place)} mm; let its points run from one "
                "side of the car to the other in order"
            )
        return self

    def _refuse_two_forms(self) -> None:
        by_edges = [name for name in ("start", "edges") if getattr(self, name) is not None]
        if self.points is not None and by_edges:
            refuse(f"has points and {' and '.join(by_edges)}; write points, or start and edges")
        if self.points is None and len(by_edges) < 2:
            refuse(f"has {by_edges[0] if by_edges else 'no line'}; write points, or start and edges")
        if self.edges is not None and self.edges[-1].round and not self._ends_on_axis():
            refuse("the last edge ends the line, so that there is no corner to round; leave its round out")

    def _ends_on_axis(self) -> bool:
        return self.mirror and abs(self._places()[-1][1]) <= _ON_AXIS

    def _places(self) -> tuple[tuple[float, float], ...]:
        """Return the given points, those between the ends of arcs and splines left out (m)."""
        if self.points is not None:
            return self.points
        assert self.start is not None
        assert self.edges is not None
        return (self.start, *(edge.to for edge in self.edges))

    def _refuse_off_axis(self) -> None:
        """Refuse half a line that has not exactly one end on the centre plane, or lies right of it."""
        places = self._places()
        if (abs(places[0][1]) <= _ON_AXIS) == (abs(places[-1][1]) <= _ON_AXIS):
            refuse(
                f"a mirrored line has one of its two ends on y = 0, but these are {in_mm(places[0], places[-1])} "
                "mm; move one of them, or leave mirror out"
            )
        for place in places:
            if place[1] < -_ON_AXIS:
                refuse(
                    f"a mirrored line runs on the left side, where y is positive, but it has a point at "
                    f"{in_mm(place)} mm; change the sign of its y"
                )

    def chain(self) -> tuple[curves.Curve, ...]:
        """Return the line as curves in order (m).

        Raises
        ------
        DesignError
            An edge without length, an arc through points on a line, or a rounding that does not fit.
        """
        places = self._places()
        edges = tuple(Edge(to=place) for place in places[1:]) if self.edges is None else self.edges
        half = [edge.curve(place) for edge, place in zip(edges, places, strict=False)]
        radii = [float(edge.round) for edge in edges]
        if not self.mirror:
            return tuple(filleted(half, radii))
        image = [curve.mirrored() for curve in reversed(half)]
        back = list(reversed(radii[:-1]))
        if self._ends_on_axis():
            whole = _as_one([*half, *image], [*radii, *back, 0.0], len(half))
        else:
            whole = _as_one([*image, *half], [*back, 0.0, *radii], len(half))
        return tuple(filleted(*whole))

    def line(self, tolerance: float = CHORD) -> curves.Points:
        """Return the line as points (n, 2), within ``tolerance`` (m) of the true curves.

        Raises
        ------
        DesignError
            As `chain`.
        """
        pieces = [curve.at(curve.breaks(tolerance)) for curve in self.chain()]
        return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _as_one(
    chain: list[curves.Curve], radii: list[float], middle: int
) -> tuple[list[curves.Curve], list[float]]:
    """Make one spline of two that meet on y = 0, before the curve of the given number."""
    before, after = chain[middle - 1], chain[middle]
    if not (isinstance(before, curves.Spline) and isinstance(after, curves.Spline)):
        return chain, radii
    whole = curves.Spline((*before.points[:-1], *after.points))
    return [*chain[: middle - 1], whole, *chain[middle + 1 :]], [*radii[: middle - 1], *radii[middle:]]


def _crossing(line: curves.Points) -> tuple[float, float] | None:
    """Return a point at which a line meets itself other than from one step to the next (m)."""
    if shapely.LineString(line).is_simple:
        return None
    steps = [shapely.LineString(pair) for pair in itertools.pairwise(line)]
    for i, j in shapely.STRtree(steps).query(steps, predicate="intersects").T:
        if j > i + 1:
            met = shapely.get_coordinates(shapely.intersection(steps[i], steps[j]))
            return float(met[0, 0]), float(met[0, 1])
    x, y = line[0]  # two neighbours lie on each other
    return float(x), float(y)
