"""Ribs on the template: the outlines of their feet, their fasteners, and the lengths that they are sawn to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Fasteners, Rib
from splitterfem.design.crossing import pieces, strip
from splitterfem.output.template.drawing import Bar, Circle, Note, Shape, centred, size_words
from splitterfem.output.wording import Words

Array = NDArray[np.float64]

TOUCHES = 1e-6
"""A piece that begins so near to the end of its rib (m) begins there and not at a notch."""

FLATTEST = math.sin(math.radians(10.0))
"""Cuts flatter than this to the bar are not made: the end is square then."""

SQUARE = "square"
LABEL = 3.5e-3
LEANING = ("angle", "tee", "channel")
"""Sections whose one upright leg is drawn, so that they are not glued on the wrong way round."""


@dataclass(frozen=True)
class Piece:
    """A rib between two notches.

    Attributes
    ----------
    rib : Rib
        One rib, or one half of a mirrored pair.
    points : ndarray, shape (n, 2)
        Ends and bends of its line, m.
    cuts : ndarray, shape (n, 2)
        Direction of the cut there, towards the left of the rib; its component across the rib is 1.
    reasons : tuple of str
        What each cut is for.
    """

    rib: Rib
    points: Array
    cuts: Array
    reasons: tuple[str, ...]

    def line_at(self, offset: float) -> Array:
        """Line (n, 2) beside that of the rib, at an offset to the left in m, from cut to cut."""
        return np.asarray(self.points + offset * self.cuts)

    def band(self, low: float, high: float) -> curves.Loop:
        """Return the closed outline of what lies between two offsets."""
        return curves.polyline(np.concatenate([self.line_at(low), self.line_at(high)[::-1]]))


def pieces_of(rib: Rib, ribs: Sequence[Rib]) -> list[Piece]:
    """Return the pieces of a rib with the cuts at their ends and bends.

    Parameters
    ----------
    rib : Rib
        One rib, or one half of a mirrored pair.
    ribs : sequence of Rib
        All ribs, pairs written out.
    """
    through = [r for r in ribs if r.name != rib.name and r.side == rib.side and r.crossing == "through"]
    whole = np.asarray(rib.points, dtype=float)
    return [_piece(rib, np.asarray(line, dtype=float), whole, through) for line in pieces(rib, ribs)]


def _piece(rib: Rib, points: Array, whole: Array, through: Sequence[Rib]) -> Piece:
    tangents = np.diff(points, axis=0)
    tangents /= np.hypot(*tangents.T)[:, None]
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    bends = normals[:-1] + normals[1:]
    bends /= np.einsum("ij,ij->i", bends, normals[:-1])[:, None]
    first, why_first = _end(points[0], whole[0], tangents[0], normals[0], through)
    last, why_last = _end(points[-1], whole[-1], tangents[-1], normals[-1], through)
    reasons = (why_first, *["mitre"] * len(bends), why_last)
    return Piece(rib, points, np.vstack([first, bends, last]), reasons)


def _end(
    at: Array, end_of_rib: Array, tangent: Array, normal: Array, through: Sequence[Rib]
) -> tuple[Array, str]:
    """Cut at an end of a piece: square at the end of the rib, along the foot of the rib that it is notched for."""
    if math.dist(at, end_of_rib) < TOUCHES or not through:
        return normal, SQUARE
    point = shapely.Point(at)
    other = min(through, key=lambda r: strip(r, r.foot_width).exterior.distance(point))
    corners = np.asarray(strip(other, other.foot_width).exterior.coords)
    sides = shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1))
    i = int(np.argmin(shapely.distance(sides, point)))
    along = corners[i + 1] - corners[i]
    along /= math.hypot(*along)
    across = float(along @ normal)
    why = f"against {other.name}"
    return (normal, why) if abs(across) < FLATTEST else (along / across, why)


def rib_drawing(
    ribs: Sequence[Rib], words: Words
) -> tuple[list[Shape], list[Circle], list[Note], tuple[Bar, ...]]:
    """Draw the feet of ribs, pairs written out, and list what they are sawn to.

    Parameters
    ----------
    ribs : sequence of Rib
        Pairs written out.
    words : Words
        Units.
    """
    shapes, circles, notes, bars = list[Shape](), list[Circle](), list[Note](), list[Bar]()
    for rib in ribs:
        found = pieces_of(rib, ribs)
        for piece in found:
            shapes += _feet(piece)
            circles += fasteners(piece)
        notes += _labels(rib, found, words)
        bars += _bars(rib, found, words)
    return shapes, circles, notes, tuple(bars)


def _turn(rib: Rib) -> float:
    return -1.0 if rib.flip else 1.0


def _feet(piece: Piece) -> Iterator[Shape]:
    rib, turn = piece.rib, _turn(piece.rib)
    for foot in rib.section.properties().feet:
        ends = sorted(turn * (foot.offset + half) for half in (-0.5 * foot.width, 0.5 * foot.width))
        yield Shape(f"rib feet {rib.side}", rib.name, piece.band(*ends))
    webs = rib.section.properties().webs
    if rib.section.shape in LEANING and len(webs) == 1:
        line = piece.line_at(turn * webs[0].offset)
        steps = tuple(curves.Line(tuple(a), tuple(b)) for a, b in pairwise(line))
        yield Shape("rib uprights", rib.name, steps, closed=False)


def fasteners(piece: Piece) -> list[Circle]:
    """Circles of the fasteners of a piece: as many in a row as its length has pitches, rounded up, evenly spread.

    The first is half a step from the end, so that each stands for one step, no longer than the pitch; rows are
    spread evenly over the foot, over both strips of a foot that has two.
    """
    joint = piece.rib.joint
    if not isinstance(joint, Fasteners):
        return []
    lengths = np.hypot(*np.diff(piece.points, axis=0).T)
    corners = np.concatenate([[0.0], np.cumsum(lengths)])
    s = np.array(joint.stations(float(corners[-1])))
    part = np.clip(np.searchsorted(corners, s, side="right") - 1, 0, len(lengths) - 1)
    along = (np.diff(piece.points, axis=0) / lengths[:, None])[part]
    middle = piece.points[part] + (s - corners[part])[:, None] * along
    left = np.column_stack([-along[:, 1], along[:, 0]])
    feet = piece.rib.section.properties().feet
    each, turn = -(-joint.rows // len(feet)), _turn(piece.rib)
    offsets = [
        turn * (foot.offset + foot.width * ((k + 0.5) / each - 0.5)) for foot in feet for k in range(each)
    ]
    layer = "screws" if joint.kind == "screws" else "holes"
    return [
        Circle(layer, f"{piece.rib.name}, {joint.kind}", (float(x), float(y)), float(joint.diameter))
        for offset in offsets
        for x, y in middle + offset * left
    ]


def _labels(rib: Rib, found: Sequence[Piece], words: Words) -> Iterator[Note]:
    """Name a rib at its longest stretch, and what it is fastened with."""
    if not found:
        return
    longest = max(found, key=lambda piece: float(np.hypot(*np.diff(piece.points, axis=0).T).max()))
    steps = np.diff(longest.points, axis=0)
    i = int(np.argmax(np.hypot(*steps.T)))
    x, y = longest.points[i] + 0.62 * steps[i]
    text = f"{rib.name}, {rib.side}" if rib.side == "below" else rib.name
    if isinstance(rib.joint, Fasteners):
        joint = rib.joint
        rows = f" in {joint.rows} rows" if joint.rows > 1 else ""
        text += f": {joint.kind} {size_words(float(joint.diameter), words)}{rows}"
    yield centred(text, (float(x), float(y)), LABEL)


def _bars(rib: Rib, found: Sequence[Piece], words: Words) -> Iterator[Bar]:
    """One row for each straight length."""
    feet = rib.section.properties().feet
    edges = [foot.offset + half * foot.width for foot in feet for half in (-0.5, 0.5)]
    total = sum(len(piece.points) - 1 for piece in found)
    number = 0
    for piece in found:
        for i, step in enumerate(np.diff(piece.points, axis=0)):
            number += 1
            length = math.hypot(*step)
            tangent = step / length
            lean = [float(piece.cuts[i + k] @ tangent) for k in (0, 1)]
            longest = length + max(_turn(rib) * edge * (lean[1] - lean[0]) for edge in edges)
            yield Bar(
                rib.name,
                f"{number} of {total}" if total > 1 else "",
                _section_words(rib, words),
                rib.resolved.name,
                length,
                longest,
                tuple((_angle(lean[k]), piece.reasons[i + k]) for k in (0, 1)),  # type: ignore[arg-type]
                rib.side,
            )


def _section_words(rib: Rib, words: Words) -> str:
    """Shape and sizes of a section, without idle zeros."""
    sizes = [size_words(size, words).removesuffix(f" {words.size}") for size in rib.section.sizes]
    return f"{rib.section.shape} {' × '.join(sizes)} {words.size}"


def _angle(lean: float) -> float:
    """Angle between a cut and the length of the bar, from how far the cut goes along it for one across it."""
    return math.atan2(1.0, abs(lean))
