"""Places for straight ribs on a panel: clear of edges, openings and what stands there, the most promising first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from splitterfem.analysis.measures import Measure
from splitterfem.design import Bolt, Pin, Splitter, Stop
from splitterfem.errors import DesignError
from splitterfem.model import Model, pad_polygon, written_out

if TYPE_CHECKING:
    from splitterfem.analysis.gain import RibGain

Array = NDArray[np.float64]

DIRECTIONS = 24
"""Directions of the lines that are looked at, over half a turn."""

BLOCK = 2000
"""Lines that are looked at at once for whether they fit."""

SHORTLIST = 4
"""Lines that are looked at closely for each place that is asked for."""


@dataclass(frozen=True)
class RibPlace:
    """A straight rib that could be laid.

    Attributes
    ----------
    points : two points
        Its ends (x, y) in m; of a pair those of one of the two.
    gain : float
        Of the rib to first order, of a pair that of both; in m or Hz.
    whole : float
        Estimated gain of the whole rib, which takes its own bend away.
    mass : float
        In kg, of a pair that of both.
    measure : Measure or None
        With the rib there, when that was solved.
    """

    points: tuple[tuple[float, float], tuple[float, float]]
    gain: float
    whole: float
    mass: float
    measure: Measure | None = None

    @property
    def at(self) -> tuple[float, float]:
        """Its middle (x, y) in m."""
        (x0, y0), (x1, y1) = self.points
        return 0.5 * (x0 + x1), 0.5 * (y0 + y1)

    @property
    def length(self) -> float:
        """Of one, in m."""
        return float(np.hypot(*np.diff(self.points, axis=0)[0]))

    @property
    def angle(self) -> float:
        """Direction in rad from x towards y, between -90 and 90 degrees."""
        dx, dy = np.diff(self.points, axis=0)[0]
        return float((np.arctan2(dy, dx) + 0.5 * np.pi) % np.pi - 0.5 * np.pi)

    def with_measure(self, measure: Measure) -> RibPlace:
        """Return the same with what came out with the rib there."""
        return replace(self, measure=measure)

    def improvement(self, before: Measure) -> float:
        """How much better the measure is with the rib there, in m or Hz; nan when that was not solved."""
        return float("nan") if self.measure is None else self.measure.better_than(before)


def mirrored(xy: Array) -> Array:
    """Points (2, n) seen in the mirror of the centre plane."""
    return np.asarray(xy * np.array([[1.0], [-1.0]]))


def grid_of(model: Model, spacing: float, *, mirror: bool) -> Array:
    """Grid of places (2, n) on the panel, the same on both sides of the centre plane."""
    x, y = model.mesh.points
    across = spacing * (np.arange(np.ceil(np.abs(y).max() / spacing)) + 0.5)
    X, Y = np.meshgrid(
        np.arange(x.min() + 0.5 * spacing, x.max(), spacing), np.concatenate([-across[::-1], across])
    )
    xy = np.vstack([X.ravel(), Y.ravel()])
    on = model.locator.find(xy) >= 0
    if mirror:
        on &= model.locator.find(mirrored(xy)) >= 0
    if not np.any(on):
        raise DesignError(
            f"No place of a grid of {1e3 * spacing:g} mm is on the panel; give a smaller spacing."
        )
    return xy[:, on]


def best_places(of: RibGain, count: int, length: float, apart: float, *, tried: bool) -> list[RibPlace]:
    """Find the best places for ribs of a length, best first; see :meth:`splitterfem.analysis.gain.RibGain.best`.

    Raises
    ------
    DesignError
        If no such rib fits on the panel.
    """
    lines = lines_that_fit(of, length, SHORTLIST * count, apart)
    kept = sorted((_place(of, points) for points in lines), key=lambda place: -place.whole)[:count]
    if not tried:
        return kept
    solved = [place.with_measure(of.tried(place.points)) for place in kept]
    solved.sort(key=lambda place: -place.improvement(of.measure))
    return [place for place in solved if place.improvement(of.measure) > 0.0] or solved[:1]


def _place(of: RibGain, points: Array) -> RibPlace:
    (x0, y0), (x1, y1) = points
    length = float(np.hypot(x1 - x0, y1 - y0))
    count = 2 if of.mirror else 1
    return RibPlace(
        points=((float(x0), float(y0)), (float(x1), float(y1))),
        gain=of.along(points.tolist()),
        whole=of.whole(points.tolist()),
        mass=count * length * of.mass_per_metre,
    )


def lines_that_fit(of: RibGain, length: float, count: int, apart: float) -> list[Array]:
    """Find the ends (2, 2) of the most promising lines on which a rib of a length fits, far enough apart.

    Raises
    ------
    DesignError
        If there is none.
    """
    width = float(of.rib.section.properties().span)
    room = room_for_ribs(of.model.design, side=of.rib.side)
    lines, gains = _candidates(of, length)
    order = np.argsort(-gains, kind="stable")
    found, taken = list[Array](), list[shapely.Polygon]()
    for first in range(0, len(order), BLOCK):
        block = order[first : first + BLOCK]
        feet = shapely.buffer(shapely.linestrings(lines[block]), 0.5 * width, cap_style="flat")
        fits = shapely.covers(room, feet)
        if of.mirror:
            other = shapely.transform(feet, lambda points: points * np.array([1.0, -1.0]))
            fits &= shapely.covers(room, other) & ~shapely.intersects(feet, other)
        for i in np.flatnonzero(fits):
            if all(shapely.distance(feet[i], foot) >= apart for foot in taken):
                found.append(lines[block[i]])
                taken.append(feet[i])
                if of.mirror:
                    taken.append(other[i])
            if len(found) == count:
                return found
    if not found:
        raise DesignError(
            f"No rib of {1e3 * length:.0f} mm with a foot of {1e3 * width:.0f} mm fits on the panel clear of its "
            "edges, openings and parts: give a shorter length."
        )
    return found


def room_for_ribs(design: Splitter, *, side: str) -> shapely.Geometry:
    """Area of the panel, in m, that is free for the foot of a rib on one side.

    Ribs on the same side, pads of bolts, pins and stops, and rear pockets are in the way, and feet of struts above.
    """
    ribs = [
        shapely.LineString(rib.points).buffer(
            0.5 * float(rib.section.properties().span), cap_style="flat", join_style="mitre"
        )
        for rib in written_out(design.ribs)
        if rib.side == side
    ]
    fixings: tuple[Bolt | Pin | Stop, ...] = (
        *written_out(design.bolts),
        *written_out(design.pins),
        *written_out(design.stops),
    )
    pads = [pad_polygon(part.pad, part.at) for part in fixings]
    if side == "above":
        pads += [pad_polygon(strut.pad, strut.foot) for strut in written_out(design.struts)]
    pockets = [shapely.box(*pocket.bounds) for pocket in written_out(design.pockets)]
    panel = design.panel.polygon(float(design.mesh.chord))
    room = shapely.difference(panel, shapely.union_all([*ribs, *pads, *pockets]))
    shapely.prepare(room)
    return room


def _candidates(of: RibGain, length: float) -> tuple[Array, Array]:
    """Lines (n, 2, 2) about every place in every direction, and about how much a rib on each gains (n,)."""
    places = np.column_stack([of.x, of.y])
    tree = cKDTree(places)
    share = np.linspace(-0.5, 0.5, 2 * int(np.ceil(length / of.spacing)) + 1)
    weights = np.full(len(share), length / (len(share) - 1))
    weights[[0, -1]] *= 0.5
    lines, gains = [], []
    for angle in np.pi * np.arange(DIRECTIONS) / DIRECTIONS:
        way = length * np.array([np.cos(angle), np.sin(angle)])
        points = places[:, None] + share[:, None] * way
        _, near = tree.query(points)
        gains.append(of.terms.at(angle)[near] @ weights)
        lines.append(points[:, [0, -1]])
    return np.concatenate(lines), np.concatenate(gains)
