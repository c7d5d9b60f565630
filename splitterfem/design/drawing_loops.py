"""Closed loops of a drawing as the outline of a panel and the openings in it."""

from __future__ import annotations

import dataclasses
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from splitterfem import curves
from splitterfem.curves import Arc, Line, Loop, Point
from splitterfem.design.cutout import CutOut
from splitterfem.design.drawing_chain import Chain
from splitterfem.design.drawing_frame import LARGEST, SMALLEST, Notes, printable
from splitterfem.design.drawing_place import backwards
from splitterfem.design.outline import Circle, Edge, Outline
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from shapely.geometry import Polygon

CHORD = 5e-5
"""Distance between a curve and the polygon that stands for it here, m."""

MOST_EDGES = 5000
MOST_CUTOUTS = 200
_MOST_LOOPS = 1000
_ALIKE = 1e-5


@dataclass(frozen=True)
class Area:
    """A closed loop and what it encloses.

    Parameters
    ----------
    loop : tuple of Line, Arc or Spline
        Counter-clockwise (m).
    polygon : shapely.Polygon
        Within `CHORD` of it.
    layer : str
        On which it is drawn.
    circle : (point, float), optional
        Centre and radius (m) when it is a circle.
    pair : bool
        Its mirror image about y = 0 belongs to the panel too.
    """

    loop: Loop
    polygon: Polygon
    layer: str
    circle: tuple[Point, float] | None = None
    pair: bool = False


def sorted_out(
    chains: Sequence[Chain], notes: Notes, *, half: bool, snap: float
) -> tuple[Outline, tuple[CutOut, ...]]:
    """Tell the outline from the openings.

    Parameters
    ----------
    chains : sequence of Chain
        All loops of the drawing.
    notes : Notes
        Takes the report.
    half : bool
        The drawing shows one side of the centre plane.
    snap : float
        Ends within it of the plane count as on it, m.

    Raises
    ------
    FileError
        A loop crosses itself or another, lies outside the outline or within an opening, or the outline is
        out of all reason; the place is named as it is in the drawing.
    """
    if len(chains) > _MOST_LOOPS:
        raise notes.fault(f"there are {len(chains)} closed loops; save the panel in a file of its own")
    areas = [_whole(chain, notes, snap) if chain.open else _area(chain, notes) for chain in chains]
    areas = _without_doubles(areas, notes)
    areas.sort(key=lambda area: -area.polygon.area)
    outer, inner = areas[0], areas[1:]
    _refuse_size(outer, notes)
    if half:
        if not any(chain.open for chain in chains) or not _is_symmetric(outer.polygon, snap):
            raise _not_half(outer, notes)
        inner = _pairs(inner, chains, notes, snap)
    _refuse_overlaps(outer, inner, notes)
    if len(inner) > MOST_CUTOUTS:
        raise notes.fault(f"there are {len(inner)} openings; a panel has at most {MOST_CUTOUTS}")
    for area in (outer, *inner):
        if len(area.loop) > MOST_EDGES:
            raise notes.fault(
                f"a loop on layer '{printable(area.layer)}' has {len(area.loop)} edges and may have {MOST_EDGES}; "
                "redraw it with arcs or splines"
            )
    return outline_of(outer.loop), _cutouts(inner)


def outline_of(loop: Loop) -> Outline:
    """Return a closed loop of curves as the record of an outline."""
    edges = []
    for curve in loop:
        fields: dict[str, object] = {"to": _tidy(curve.end)}
        if isinstance(curve, Arc):
            fields["via"] = _tidy(curve.via)
        elif not isinstance(curve, Line):
            fields["through"] = tuple(_tidy(point) for point in curve.points[1:-1])
        edges.append(Edge(**fields))
    return Outline(start=_tidy(loop[0].start), edges=tuple(edges))


def _tidy(point: Point) -> Point:
    """Round to a nanometre, so that 0.8 m is not written as 799.9999999999999 mm."""
    x, y = round(point[0], 9), round(point[1], 9)
    return x + 0.0, y + 0.0  # no negative zeros


def _area(chain: Chain, notes: Notes, *, pair: bool = False) -> Area:
    """Return what a closed chain encloses, run counter-clockwise."""
    loop = chain.curves
    if curves.area(loop) < 0.0:
        loop = backwards(loop)
    layer = printable(chain.layer)
    try:
        corners = curves.flatten(loop, CHORD)
    except DesignError as problem:
        raise notes.fault(
            f"the loop at {notes.frame.say(loop[0].start)} on layer '{layer}': {problem}"
        ) from None
    polygon = shapely.Polygon(corners if len(corners) > 2 else [*corners, *corners[:1], *corners[:1]])
    if not polygon.is_valid or polygon.area < 1e-9:
        place = _place(shapely.is_valid_reason(polygon), loop[0].start)
        what = (
            "encloses nothing"
            if abs(curves.area(loop)) < 1e-9 and len(corners) < 4
            else "crosses or touches itself"
        )
        raise notes.fault(
            f"the loop on layer '{layer}' {what} at {notes.frame.say(place)}; let its lines meet only at their "
            "ends"
        )
    return Area(loop, polygon, chain.layer, chain.circle, pair)


def _place(reason: str, default: Point) -> Point:
    """Read the place out of a sentence such as ``Self-intersection[0.5 0.5]``."""
    try:
        x, y = reason[reason.index("[") + 1 : reason.index("]")].split()[:2]
        return float(x), float(y)
    except ValueError:
        return default


def _whole(chain: Chain, notes: Notes, snap: float) -> Area:
    """Close a chain that ends on y = 0 by its mirror image."""
    points = np.concatenate([curve.at(curve.breaks(CHORD)) for curve in chain.curves])
    low, high = points[np.argmin(points[:, 1])], points[np.argmax(points[:, 1])]
    if low[1] < -snap and high[1] > snap:
        raise notes.fault(
            f"a half drawing lies on one side of the centre plane, but a line that ends there runs from "
            f"{notes.frame.say(low)} to {notes.frame.say(high)}; set origin, or read the drawing as a whole one"
        )
    try:
        loop = curves.joined((*chain.curves, *curves.mirrored(chain.curves)))
    except DesignError as problem:
        raise notes.fault(
            f"a loop on layer '{printable(chain.layer)}' cannot be mirrored: {problem}"
        ) from None
    return _area(dataclasses.replace(chain, curves=loop, open=False), notes)


def _without_doubles(areas: Sequence[Area], notes: Notes) -> list[Area]:
    """Drop loops that lie on top of another one; a circle is kept rather than what looks like one."""
    tree = shapely.STRtree([area.polygon for area in areas])
    dropped: set[int] = set()
    for i, j in zip(*tree.query([area.polygon for area in areas], predicate="intersects"), strict=True):
        if i >= j or i in dropped or j in dropped:
            continue
        p, q = areas[i].polygon, areas[j].polygon
        room = _ALIKE * p.length + 2.0 * CHORD * p.length * (areas[i].circle != areas[j].circle)
        if abs(p.area - q.area) <= room and shapely.symmetric_difference(p, q).area <= room:
            again = i if areas[i].circle is None and areas[j].circle is not None else j
            dropped.add(again)
            place = notes.frame.say(areas[again].loop[0].start)
            notes.add(
                f"Drawn twice and taken once: the loop on layer '{printable(areas[again].layer)}' at {place}."
            )
    return [area for i, area in enumerate(areas) if i not in dropped]


def _refuse_size(outer: Area, notes: Notes) -> None:
    """Refuse a panel of the size of a house or a coin, which a wrong unit makes."""
    x0, y0, x1, y1 = outer.polygon.bounds
    if not SMALLEST <= min(x1 - x0, y1 - y0) <= max(x1 - x0, y1 - y0) <= LARGEST:
        raise notes.fault(
            f"the largest loop is {_size(outer)} with the unit {notes.frame.unit}, and a panel measures "
            f"{1e3 * SMALLEST:g} mm to {1e3 * LARGEST:g} mm each way; give the right unit, or the layer of the panel"
        )


def _size(area: Area) -> str:
    x, y = np.ptp(curves.flatten(area.loop, 1e-6), axis=0)
    return f"{_millimetres(x)} x {_millimetres(y)} mm"


def _millimetres(metres: float) -> str:
    return f"{1e3 * metres:.2f}".rstrip("0").rstrip(".")


def _is_symmetric(polygon: Polygon, snap: float) -> bool:
    image = shapely.transform(polygon, lambda points: points * np.array([1.0, -1.0]))
    return bool(shapely.symmetric_difference(polygon, image).area <= 2.0 * snap * polygon.length)


def _not_half(outer: Area, notes: Notes) -> Exception:
    _, y0, _, y1 = outer.polygon.bounds
    return notes.fault(
        f"it is no half drawing, for the largest loop does not end on the centre plane but runs from "
        f"y = {1e3 * y0:.6g} mm to y = {1e3 * y1:.6g} mm of the car; set origin to a point of the centre plane, or "
        "leave mirror out"
    )


def _pairs(inner: Sequence[Area], chains: Sequence[Chain], notes: Notes, snap: float) -> list[Area]:
    """Mark the openings of a half drawing that have a mirror image."""
    heights = [p[1] for chain in chains if chain.open for curve in chain.curves for p in curve.at([0.5, 1.0])]
    side = math.copysign(1.0, max(heights, key=abs))
    found = []
    for area in inner:
        _, y0, _, y1 = area.polygon.bounds
        near, far = (y0, y1) if side > 0.0 else (-y1, -y0)
        if near < -snap and not _is_symmetric(area.polygon, snap):
            where = "across the centre plane" if far > 0.0 else "on the other side of the centre plane"
            raise notes.fault(
                f"an opening of a half drawing lies {where} at {notes.frame.say(area.loop[0].start)}; draw it on the "
                "side of the outline, or as a half that ends on the centre plane"
            )
        found.append(dataclasses.replace(area, pair=near >= -snap))
    return found


def _refuse_overlaps(outer: Area, inner: Sequence[Area], notes: Notes) -> None:
    """Refuse openings outside of the outline, over its edge, within or over each other."""
    for area in inner:
        place = notes.frame.say(area.loop[0].start)
        name = f"the loop of {_size(area)} on layer '{printable(area.layer)}' at {place}"
        if shapely.disjoint(outer.polygon, area.polygon):
            raise notes.fault(
                f"{name} lies outside the largest one, which is the outline; give the layer of the panel, or delete it"
            )
        if not shapely.contains_properly(outer.polygon, area.polygon):
            raise notes.fault(
                f"{name} crosses or touches the outline; move it in, or draw one line around both"
            )
    if not inner:
        return
    polygons = [area.polygon for area in inner]
    tree = shapely.STRtree(polygons)
    for i, j in zip(*tree.query(polygons, predicate="intersects"), strict=True):
        if i == j or polygons[i].area > polygons[j].area:
            continue
        place = notes.frame.say(inner[i].loop[0].start)
        if shapely.contains_properly(polygons[j], polygons[i]):
            raise notes.fault(
                f"the loop on layer '{printable(inner[i].layer)}' at {place} lies within an opening, and an opening "
                "has nothing in it; delete it, or give the layer of the panel if a frame was taken for the outline"
            )
        raise notes.fault(f"two openings cross or touch at {place}; move one, or draw one line around both")


def _cutouts(inner: Sequence[Area]) -> tuple[CutOut, ...]:
    """Name the openings by their layer, numbered from the front backwards and from left to right."""
    counts: Counter[str] = Counter()
    found = []
    for area in sorted(inner, key=_order):
        layer = printable(area.layer, 40)
        base = "opening" if layer in ("", "0") else layer
        counts[base] += 1
        fields: dict[str, object] = {"name": f"{base} {counts[base]}"}
        if area.circle is not None:
            fields["circle"] = Circle(centre=_tidy(area.circle[0]), radius=round(area.circle[1], 9))
        else:
            fields["outline"] = outline_of(area.loop)
        if area.pair:
            fields["mirror"] = True
        found.append(CutOut(**fields))
    return tuple(found)


def _order(area: Area) -> tuple[float, float, float]:
    x0, y0, x1, y1 = area.polygon.bounds
    return -round(x1, 3), -round(0.5 * (y0 + y1), 3), -round(0.5 * (x0 + x1), 6)
