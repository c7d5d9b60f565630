"""Findings on ribs: where they run, and how they lie to one another."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import shapely

from splitterfem.curves import in_mm
from splitterfem.design import crossing
from splitterfem.design._finding import Finding
from splitterfem.design._ground import Ground, close_pairs, first_point

if TYPE_CHECKING:
    from splitterfem.design.parts import Rib
    from splitterfem.design.splitter import Splitter

_SAME_PLACE = 0.5e-3
_SAME_LENGTH = 20e-3
_NEAR_EDGE = 1e-3
_FOOT_OFF = 1e-4
"""Share of a foot that may be off the panel; the solver, on whose mesh edges are polygons, looks closer."""
_ROOM = 3.0
"""Thicknesses of the panel between the end of a rib and the foot of another."""
_BESIDE = math.sin(math.radians(10.0))
"""A rib that another one passes within this sine of square to its end lies beside it, not ahead of it."""


class _Half(NamedTuple):
    """A rib or one half of a pair, its line and the strip that its foot takes up."""

    pair: Rib
    rib: Rib
    line: Any
    strip: Any

    @property
    def path(self) -> str:
        """Where it is in the design."""
        return f"ribs.{self.pair.name}"


def _own_crossing(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return a place where a line meets itself, besides the corner between two of its pieces (m)."""
    pieces = [shapely.LineString(pair) for pair in itertools.pairwise(points)]
    for (i, one), (j, other) in itertools.combinations(enumerate(pieces), 2):
        shared = shapely.intersection(one, other)
        if not shared.is_empty and (j > i + 1 or shared.geom_type != "Point"):
            return first_point(shared)
    return float(points[0][0]), float(points[0][1])


def each_rib(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find ribs off the panel, over openings, crossing themselves or ending just short of an edge."""
    for rib in splitter.ribs:
        path = f"ribs.{rib.name}.points"
        for half in rib.sides():
            line = shapely.LineString(half.points)
            if not line.is_simple:
                place = _own_crossing(half.points)
                text = f"crosses or touches itself at {in_mm(place)} mm; draw it as two ribs"
                yield Finding("rib-crosses", "error", path, place, text)
            if not ground.holds(line):
                what, place = ground.where_off(line)
                text = f"runs {what} at {in_mm(place)} mm; end it on the panel, or lead it round"
                yield Finding("rib-off-panel", "error", path, place, text)
                continue
            yield from _foot(half, ground, path)
            for end in (half.points[0], half.points[-1]):
                gap = ground.net.boundary.distance(shapely.Point(end))
                if 1e-6 < gap < _NEAR_EDGE:
                    place = (float(end[0]), float(end[1]))
                    text = (
                        f"ends {1e3 * gap:.2g} mm short of an edge at {in_mm(place)} mm; end it on the edge"
                    )
                    yield Finding("rib-near-edge", "note", path, place, text)


def _foot(half: Rib, ground: Ground, path: str) -> Iterator[Finding]:
    """Find a rib whose line is on the panel and whose foot is not."""
    strip = crossing.strip(half, half.foot_width)
    off = shapely.difference(strip, ground.roomy)
    if off.area > _FOOT_OFF * strip.area:
        what, place = ground.where_off(strip)
        text = (
            f"has a foot of {1e3 * half.foot_width:.6g} mm that reaches {what} at {in_mm(place)} mm and cannot be "
            "solved; move it inwards, or end it earlier"
        )
        yield Finding("rib-foot-off-panel", "warning", path, place, text)


def ribs_together(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find ribs on one face that lie in the same place, cross, overlap, or end close to one another."""
    del ground
    halves = [
        _Half(rib, half, shapely.LineString(half.points), crossing.strip(half, half.foot_width))
        for rib in splitter.ribs
        for half in rib.sides()
    ]
    room = _ROOM * float(splitter.panel.sheet.thickness)
    cut, faulty = set[int](), set[int]()
    for a, b in sorted(close_pairs([half.strip for half in halves], room)):
        one, other = halves[a], halves[b]
        if one.rib.side != other.rib.side:
            continue
        found = list(_in_one_place(one, other))
        place = None if found else crossing.meeting(one.rib, other.rib)
        if place is not None:
            found += _crossing(one, other, place)
            cut |= {i for i in (a, b) if halves[i].rib.crossing == "notched"}
        faulty |= {a, b} if found else set()
        if place is None and not found:
            found += [*_feet(one, other), *_ends(one, other, room)]
        yield from found
    ribs = [half.rib for half in halves]
    for index in sorted(cut - faulty):
        yield from _left_over(halves[index], ribs)


def _in_one_place(one: _Half, other: _Half) -> Iterator[Finding]:
    """Find two ribs that lie in the same place."""
    shared = one.line.buffer(_SAME_PLACE).intersection(other.line)
    if shared.length > min(_SAME_LENGTH, 0.5 * min(one.line.length, other.line.length)):
        place = first_point(shared)
        text = (
            f"lies in the same place as the rib '{other.rib.name}' over {1e3 * shared.length:.0f} mm at "
            f"{in_mm(place)} mm; move one, or put it on the other face"
        )
        yield Finding("ribs-together", "error", f"{one.path}.points", place, text)


def _crossing(one: _Half, other: _Half, place: tuple[float, float]) -> Iterator[Finding]:
    """Find two ribs that meet of which both run through, both are notched, or the wrong one is."""
    notched = [half for half in (one, other) if half.rib.crossing == "notched"]
    path, name = f"{one.path}.crossing", other.rib.name
    if one.pair is other.pair:
        text = (
            f"crosses its own mirror image '{name}' at {in_mm(place)} mm; end it before the centre plane, or "
            "draw both as one rib"
        )
        yield Finding("ribs-cross", "error", path, place, text)
    elif not notched:
        verb = "crosses" if one.line.intersects(other.line) else "runs into the foot of"
        text = (
            f"{verb} the rib '{name}' at {in_mm(place)} mm and both run through; notch one: "
            'crossing = "notched", or put one on the other face'
        )
        yield Finding("ribs-cross", "error", path, place, text)
    elif len(notched) == 2:
        text = (
            f"meets the rib '{name}' at {in_mm(place)} mm and both are notched; let one run through: "
            'crossing = "through"'
        )
        yield Finding("ribs-both-notched", "error", path, place, text)
    else:
        (short,) = notched
        through = other if short is one else one
        cuts = crossing.covered(short.rib.points, [through.strip])
        if not any(end - start > crossing.SHORTEST for start, end in cuts):
            text = (
                f"is notched for the rib '{through.rib.name}', which only ends within its foot at "
                f"{in_mm(place)} mm; notch '{through.rib.name}' in its place, or end that sooner"
            )
            yield Finding("notch-misses", "error", f"{short.path}.crossing", place, text)


def _feet(one: _Half, other: _Half) -> Iterator[Finding]:
    """Find two ribs side by side whose feet overlap."""
    shared = one.strip.intersection(other.strip)
    if shared.area > 1e-9:
        place = first_point(shared)
        text = (
            f"has a foot that overlaps the one of the rib '{other.rib.name}' at {in_mm(place)} mm; move one, "
            "or put it on the other face"
        )
        yield Finding("rib-feet-overlap", "warning", f"{one.path}.points", place, text)


def _ends(one: _Half, other: _Half, room: float) -> Iterator[Finding]:
    """Find the end of a rib that stops close to another one; of two that end at each other tell one."""
    for short, long in ((one, other), (other, one)):
        points = short.rib.points
        for end, before in ((points[0], points[1]), (points[-1], points[-2])):
            gap = long.strip.distance(shapely.Point(end))
            if gap < room and _is_ahead(end, before, long.strip):
                place = (float(end[0]), float(end[1]))
                text = (
                    f"ends {1e3 * gap:.0f} mm from the rib '{long.rib.name}' at {in_mm(place)} mm: panels give "
                    "way there more than the calculation shows (up to a seventh more sag); run it through or "
                    "leave more room"
                )
                yield Finding("rib-ends-at-rib", "note", f"{short.path}.points", place, text)
                return


def _is_ahead(end: tuple[float, float], before: tuple[float, float], strip: Any) -> bool:
    """Tell whether the nearest point of a strip lies ahead of an end rather than beside it."""
    near = shapely.shortest_line(shapely.Point(end), strip).coords[-1]
    gap, step = math.dist(end, near), math.dist(before, end)
    along = sum((n - e) * (e - b) for n, e, b in zip(near, end, before, strict=True)) / step
    return gap < crossing.SHORTEST or along > _BESIDE * gap


def _left_over(half: _Half, ribs: list[Rib]) -> Iterator[Finding]:
    """Find a notched rib of which nothing is left, or a piece shorter than its foot is wide."""
    left = crossing.pieces(half.rib, ribs)
    if not left:
        text = "is notched away altogether by the ribs that it meets; move it, or put it on the other face"
        yield Finding("rib-notched-away", "error", f"{half.path}.crossing", None, text)
    for piece in left:
        line = shapely.LineString(piece)
        if line.length < half.rib.foot_width:
            place = first_point(shapely.Point(line.centroid))
            text = (
                f"leaves a piece of {1e3 * line.length:.2g} mm at {in_mm(place)} mm, shorter than its foot is "
                "wide; end the rib before it"
            )
            yield Finding("rib-stub", "warning", f"{half.path}.crossing", place, text)
