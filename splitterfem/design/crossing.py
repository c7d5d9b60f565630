"""Ribs that meet on one face: where they do, and what is left of a rib that is notched for another.

A rib's foot covers a strip of the panel along its line. A notched rib is cut to the edge of the strip: a
straight rib that crosses another of foot width b at an angle a loses ``b / (2 sin a)`` on either side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import shapely

from splitterfem.curves import in_mm
from splitterfem.design._ground import TOUCH, first_point
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.parts import Rib

Point = tuple[float, float]

SHORTEST = 1e-4
"""Pieces shorter than this are nothing, m."""


def foot_width(rib: Rib) -> float:
    """Return the width of a rib's foot (m)."""
    return rib.foot_width


def pieces(
    rib: Rib, others: Iterable[Rib], *, width: Callable[[Rib], float] = foot_width
) -> tuple[tuple[Point, ...], ...]:
    """Return what is left of a rib between the ribs that it is notched for.

    Parameters
    ----------
    rib : Rib
        One rib, or one half of a mirrored pair.
    others : iterable of Rib
        All ribs; it may hold the rib itself, ribs on the other face and mirrored pairs.
    width : callable
        Gives the width of the strip that another rib takes up (m), by default that of its foot.

    Returns
    -------
    tuple of tuples of (float, float)
        Lines (m) in the order and the direction of the rib; the whole line of a rib that runs through, and
        nothing when no piece is left.

    Raises
    ------
    DesignError
        A mirrored pair, or two ribs that meet and are both notched.
    """
    if rib.mirror:
        raise DesignError(f"the rib '{rib.name}' is a pair; give one of its sides()")
    points = tuple((float(x), float(y)) for x, y in rib.points)
    if rib.crossing == "through":
        return (points,)
    strips = []
    for other in (half for one in others for half in one.sides()):
        if other.name == rib.name or other.side != rib.side:
            continue
        if other.crossing == "through":
            strips.append(strip(other, width(other)))
            continue
        place = meeting(rib, other, width=width)
        if place is not None:
            raise DesignError(
                f"the ribs '{rib.name}' and '{other.name}' meet at {in_mm(place)} mm and both are notched; "
                'let one run through: crossing = "through"'
            )
    return _without(points, covered(points, strips))


def meeting(one: Rib, other: Rib, *, width: Callable[[Rib], float] = foot_width) -> Point | None:
    """Return where the line of one rib runs into the foot of another, whichever of the two it is.

    Faces and names are not looked at.

    Parameters
    ----------
    one, other : Rib
        Ribs, or halves of mirrored pairs.
    width : callable
        Gives the width of the strip that a rib takes up (m), by default that of its foot.

    Returns
    -------
    (float, float) or None
        The first place where the lines cross (m), else the middle of a stretch of one within the foot of the
        other; None when they keep clear.
    """
    crossed = shapely.LineString(one.points).intersection(shapely.LineString(other.points))
    for rib, wide in ((one, other), (other, one)):
        for start, end in covered(rib.points, [strip(wide, width(wide))]):
            if end - start > TOUCH:
                middle = _along(rib.points, 0.5 * (start + end))
                return middle if crossed.is_empty else first_point(crossed)
    return None


def strip(rib: Rib, width: float) -> Any:
    """Return the strip of the panel that a rib takes up, square at its ends (shapely polygon, m)."""
    return shapely.LineString(rib.points).buffer(0.5 * width, cap_style="flat", join_style="mitre")


def covered(points: Sequence[Point], areas: Iterable[Any]) -> list[tuple[float, float]]:
    """Return the stretches of a line that lie in areas, as lengths along it (m), in order and joined up.

    Parameters
    ----------
    points : sequence of (float, float)
        Ends and bends of the line (m).
    areas : iterable of shapely.Polygon
        May overlap.
    """
    found, areas, behind = list[tuple[float, float]](), list(areas), 0.0
    for a, b in pairwise(points):
        side, length = shapely.LineString((a, b)), math.dist(a, b)
        for area in areas:
            for part in shapely.get_parts(side.intersection(area)):
                ends = [math.dist(a, end) for end in part.coords]
                if ends:  # an empty intersection is one empty part
                    found.append((behind + min(ends), behind + max(ends)))
        behind += length
    joined = list[tuple[float, float]]()
    for start, end in sorted(found):
        if joined and start <= joined[-1][1] + TOUCH:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _without(points: tuple[Point, ...], cut: list[tuple[float, float]]) -> tuple[tuple[Point, ...], ...]:
    """Return the pieces of a line between the stretches that are cut out."""
    cut = [(start, end) for start, end in cut if end - start > TOUCH]
    total = math.fsum(math.dist(a, b) for a, b in pairwise(points))
    starts = [0.0, *(end for _, end in cut)]
    ends = [*(start for start, _ in cut), total]
    kept = [(a, b) for a, b in zip(starts, ends, strict=True) if b - a > SHORTEST]
    return tuple(_stretch(points, a, b) for a, b in kept)


def _stretch(points: Sequence[Point], start: float, end: float) -> tuple[Point, ...]:
    """Return the part of a line between two lengths along it, with the bends between them."""
    bends, behind = list[Point](), 0.0
    for a, b in pairwise(points):
        behind += math.dist(a, b)
        if start + TOUCH < behind < end - TOUCH:
            bends.append(b)
    return (_along(points, start), *bends, _along(points, end))


def _along(points: Sequence[Point], place: float) -> Point:
    """Return the point of a line at a length along it (m)."""
    for a, b in pairwise(points):
        length = math.dist(a, b)
        if place <= length + TOUCH:
            share = min(place / length, 1.0)
            return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
        place -= length
    return points[-1]
