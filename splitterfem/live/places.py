"""What can be moved on the mesh that is there, where it is, and how far it can go."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splitterfem import curves
from splitterfem.design import Splitter
from splitterfem.design.parts import Part
from splitterfem.errors import DesignError, nearest

LISTS = ("ribs", "struts", "bolts", "pins", "pockets", "stops")
"""Lists of parts that move without a new mesh; openings need one, and doublers count by whole triangles of it."""


@dataclass(frozen=True)
class Range:
    """Least and greatest x and y in m that the place of a part can have with the part within the panel's extent."""

    x: tuple[float, float]
    y: tuple[float, float]


def movable(splitter: Splitter) -> tuple[str, ...]:
    """Names of the parts that can be moved; a mirrored pair has one."""
    return tuple(part.name for field in LISTS for part in getattr(splitter, field))


def part_to_move(splitter: Splitter, name: str) -> Part:
    """Find a part that can be moved by its name, also one half of a mirrored pair.

    Raises
    ------
    DesignError
        There is none; the nearest names are given.
    """
    names = movable(splitter)
    part = splitter.part(name) if name in {known.name for known in splitter.parts()} else None
    if part is None or name not in names:
        raise DesignError(
            f"there is no part '{name}' that the page can move; "
            f"{nearest(name, names) if names else 'the splitter has neither ribs nor supports'}"
        )
    assert isinstance(part, Part)
    return part


def points_of(part: Part) -> list[tuple[float, float]]:
    """Places (x, y) in m of a part on the panel: points of a rib, the foot of a strut, the place of a fixing."""
    value = getattr(part, part.points_at[0])
    many = value if isinstance(value[0], tuple) else (value,)
    return [(float(point[0]), float(point[1])) for point in many]


def place_of(part: Part) -> tuple[float, float]:
    """Place (x, y) in m by which a part is moved: the mean of its points on the panel."""
    points = points_of(part)
    return (
        math.fsum(x for x, _ in points) / len(points),
        math.fsum(y for _, y in points) / len(points),
    )


def range_of(splitter: Splitter, part: Part) -> Range:
    """How far a part can go: its points stay within the panel's extent, a half of a pair on its own side."""
    outline = curves.flatten(splitter.panel.outline.loop(), float(splitter.mesh.chord))
    (rear, right), (front, left) = outline.min(axis=0), outline.max(axis=0)
    x, y = place_of(part)
    xs, ys = zip(*points_of(part), strict=True)
    if part.mirror:
        right, left = (0.0, left) if y >= 0.0 else (right, 0.0)
    along = _around(x, (x - min(xs) + rear, x - max(xs) + front))
    return Range(along, _around(y, (y - min(ys) + right, y - max(ys) + left)))


def _around(here: float, ends: tuple[float, float]) -> tuple[float, float]:
    """Widen a range so far that it holds the place where the part is."""
    return min(here, float(ends[0])), max(here, float(ends[1]))
