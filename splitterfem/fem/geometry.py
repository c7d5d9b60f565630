"""The plane domain that is meshed: an outline with holes, its corners, and the way to its boundary."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ..curves import Arc, Curve, Loop, Points, Spline, area, flatten, in_mm, joined, length, polygon
from ..errors import DesignError

FINE = 1e-5  #: Chord deviation of the polygon that stands for the true curves in containment tests (m).
NARROW = 1e-3  #: Least gap between two loops, and between lines that run side by side (m).
OUTLINE = "outline"  #: Name of the outer loop.


@dataclass(frozen=True)
class Region:
    """A plane region: one outer loop less its holes.

    Parameters
    ----------
    outer : tuple of Line, Arc or Spline
        Closed outer loop, either sense of turn (m).
    holes : tuple of loops
        Closed loops inside the outer one.
    hole_names : tuple of str
        One name for each hole, all different and none of them ``"outline"``.
    """

    outer: Loop
    holes: tuple[Loop, ...] = ()
    hole_names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Edge:
    """Where points sit on the boundary of a domain.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Nearest points of the true curves (m).
    distance : ndarray, shape (n,)
        Distance to them (m).
    curve : ndarray of int, shape (n,)
        Number of the curve, counted through all loops.
    parameter : ndarray, shape (n,)
        Place on that curve, 0 at its start and 1 at its end.
    """

    points: Points
    distance: NDArray[np.float64]
    curve: NDArray[np.int64]
    parameter: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Domain:
    """A checked region with its true curves and a fine polygon of them.

    Attributes
    ----------
    loops : dict of str to tuple of curves
        Every loop by name, the outline first; the domain is on the left of each curve.
    polygon : shapely.Polygon
        The region with its curves flattened to `FINE`.
    """

    loops: dict[str, Loop]
    polygon: shapely.Polygon

    @functools.cached_property
    def curves(self) -> tuple[Curve, ...]:
        """All curves of all loops."""
        return tuple(itertools.chain.from_iterable(self.loops.values()))

    @functools.cached_property
    def loop_of(self) -> NDArray[np.int64]:
        """Number of the loop that each curve belongs to, shape (number of curves,)."""
        return np.repeat(np.arange(len(self.loops)), [len(loop) for loop in self.loops.values()])

    @functools.cached_property
    def corners(self) -> Points:
        """Start points of the curves, shape (number of curves, 2), metres."""
        return np.array([curve.start for curve in self.curves])

    @functools.cached_property
    def area(self) -> float:
        """Area inside the true curves (m²)."""
        return math.fsum(area(loop) for loop in self.loops.values())

    @functools.cached_property
    def turns(self) -> NDArray[np.float64]:
        """Turn of the boundary at each corner (rad); negative where the corner juts into the domain."""
        out = np.array([curve.derivative(0.0)[0] for curve in self.curves])
        into = np.array([self.curves[self.before(i)].derivative(1.0)[0] for i in range(len(self.curves))])
        across = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
        return np.asarray(np.arctan2(across, (into * out).sum(axis=1)))

    def before(self, curve: int) -> int:
        """Find the curve that ends where the given one starts."""
        return self._neighbour(curve, -1)

    def after(self, curve: int) -> int:
        """Find the curve that starts where the given one ends."""
        return self._neighbour(curve, 1)

    def _neighbour(self, curve: int, step: int) -> int:
        first, last = np.searchsorted(self.loop_of, self.loop_of[curve] + np.arange(2))
        return int(first + (curve - first + step) % (last - first))

    def name_of(self, curve: int) -> str:
        """Words for the loop of a curve, for messages."""
        name = list(self.loops)[int(self.loop_of[curve])]
        return "the outline" if name == OUTLINE else f"hole '{name}'"

    @functools.cached_property
    def _chords(self) -> tuple[Any, NDArray[np.int64], Points]:
        """Search tree of the fine chords, with the curve and the two parameters of each."""
        segments, owner, spans = [], [], []
        for i, curve in enumerate(self.curves):
            t = curve.breaks(FINE)
            points = curve.at(t)
            segments.append(np.stack([points[:-1], points[1:]], axis=1))
            owner.append(np.full(len(t) - 1, i))
            spans.append(np.stack([t[:-1], t[1:]], axis=1))
        tree = shapely.STRtree(shapely.linestrings(np.concatenate(segments)))
        return tree, np.concatenate(owner), np.concatenate(spans)

    def nearest(self, points: Points) -> Edge:
        """Nearest points of the boundary, on the true curves.

        Parameters
        ----------
        points : ndarray, shape (n, 2)
            Points anywhere (m).

        Returns
        -------
        Edge
            Exact to rounding for points close to the boundary; by the fine chord otherwise good to `FINE`.
        """
        tree, owner, spans = self._chords
        chord = tree.nearest(shapely.points(points))
        curve, (low, high) = owner[chord], spans[chord].T
        foot = np.empty_like(points)
        parameter = np.empty(len(points))
        for i in np.unique(curve):
            here = curve == i
            parameter[here] = _foot(self.curves[i], points[here], low[here], high[here])
            foot[here] = self.curves[i].at(parameter[here])
        for t, ends in ((0.0, self.corners), (1.0, np.array([c.end for c in self.curves]))):
            foot[parameter == t] = ends[curve[parameter == t]]
        return Edge(foot, np.linalg.norm(points - foot, axis=1), curve, parameter)

    def bends(self, size: float) -> NDArray[np.bool_]:
        """Mark the curves that round off a re-entrant corner: arcs with a radius up to twice `size`."""
        return np.array(
            [isinstance(c, Arc) and c.sweep < 0.0 and c.radius <= 2.0 * size for c in self.curves]
        )

    def curved_length(self) -> float:
        """Add up the lengths of the curves that are not straight (m)."""
        return length([c for c in self.curves if isinstance(c, Arc | Spline)])


def _foot(curve: Curve, points: Points, low: Points, high: Points) -> Points:
    """Parameters of the feet of perpendiculars, by Newton from the chords between `low` and `high`.

    The step leaves out the curvature term, which vanishes with the distance, so it is quadratic near the
    curve. It stays within one chord of the first guess, because far from a tight arc it could run away.
    """
    a, b = curve.at(low), curve.at(high)
    along = ((points - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1)
    t = low + np.clip(along, 0.0, 1.0) * (high - low)
    low, high = np.maximum(2.0 * low - high, 0.0), np.minimum(2.0 * high - low, 1.0)
    for _ in range(20):
        slope = curve.derivative(t)
        step = ((points - curve.at(t)) * slope).sum(axis=1) / (slope**2).sum(axis=1)
        moved = np.clip(t + step, low, high)
        if np.abs(moved - t).max() < 1e-14:
            break
        t = moved
    near = 1e-9 / max(curve.length, 1e-9)
    return np.where(moved < near, 0.0, np.where(moved > 1.0 - near, 1.0, moved))


def domain_of(region: Region) -> Domain:
    """Check a region and prepare it for meshing.

    Parameters
    ----------
    region : Region
        Outer loop and holes.

    Returns
    -------
    Domain

    Raises
    ------
    DesignError
        When a loop is open or crosses itself, a hole lies outside the outline or nearer than 1 mm to it or to
        another hole, or the names do not fit.
    """
    _check_names(region)
    outer = polygon(region.outer, FINE)
    holes = [polygon(loop, FINE) for loop in region.holes]
    for name, hole in zip(region.hole_names, holes, strict=True):
        if not outer.contains(hole):
            place = shapely.difference(hole, outer).representative_point()
            raise DesignError(
                f"Hole '{name}' reaches beyond the outline at {in_mm((place.x, place.y))} mm; move it "
                "inside, or draw the notch as part of the outline."
            )
        _check_gap(f"Hole '{name}'", hole.exterior, "the outline", outer.exterior)
    for (name, hole), (other, second) in itertools.combinations(
        zip(region.hole_names, holes, strict=True), 2
    ):
        _check_gap(f"Hole '{name}'", hole, f"hole '{other}'", second)
    loops = {OUTLINE: _turned(region.outer, left=True)}
    loops |= {n: _turned(loop, left=False) for n, loop in zip(region.hole_names, region.holes, strict=True)}
    rings = [flatten(loop, FINE) for loop in loops.values()]
    return Domain(loops, shapely.Polygon(rings[0], rings[1:]))


def _check_names(region: Region) -> None:
    names = region.hole_names
    if len(names) != len(region.holes):
        raise DesignError(
            f"There are {len(region.holes)} holes but {len(names)} hole names; name each hole once."
        )
    check_names((OUTLINE, *names), "hole")


def check_names(names: Iterable[str], what: str) -> None:
    """Refuse empty and repeated names of holes or lines."""
    seen: set[str] = set()
    for name in names:
        if not name or name in seen:
            raise DesignError(
                f"The {what} name {name!r} is empty or already taken; give each one a name of its own."
            )
        seen.add(name)


def _check_gap(name: str, shape: Any, other: str, second: Any) -> None:
    gap = shapely.distance(shape, second)
    if gap < NARROW:
        place = shapely.shortest_line(shape, second).coords[0]
        raise DesignError(
            f"{name} is only {1e3 * gap:.3g} mm from {other} at {in_mm(place)} mm; leave at least "
            f"{1e3 * NARROW:g} mm between them, or make them one."
        )


def _turned(loop: Loop, *, left: bool) -> Loop:
    """Run a loop so that its inside is on the left or on the right."""
    loop = joined(loop)
    if (area(loop) > 0.0) == left:
        return loop
    return tuple(_reversed(curve) for curve in reversed(loop))


def _reversed(curve: Curve) -> Curve:
    if isinstance(curve, Spline):
        return Spline(curve.points[::-1])
    if isinstance(curve, Arc):
        return Arc(curve.end, curve.via, curve.start)
    return type(curve)(curve.end, curve.start)
