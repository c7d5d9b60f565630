"""What is drawn besides the parts: grain, travel, half-symmetry line, check square, dimensions and title."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from splitterfem.curves import Line, Point
from splitterfem.design import Splitter
from splitterfem.output.template.drawing import Dimension, Drawing, Note, Shape, extent, size_words
from splitterfem.output.wording import invented_mark

GRAIN, TRAVEL = 0.2, 0.12
"""Lengths of the arrows, m."""

HEAD = 12e-3
"""Length of an arrow's head, m."""

LABEL = 5e-3
TITLE = 8e-3
GAP = 40e-3
"""Room between the panel and what stands beside it, m."""

_STEP = 20e-3
_SHORTER = 0.7
_TRIES = 6


def finished(plain: Drawing, splitter: Splitter) -> Drawing:
    """Return a drawing of parts with everything that is drawn besides them.

    Parameters
    ----------
    plain : Drawing
        Of the parts alone, as seen.
    splitter : Splitter
        Its design.
    """
    x0, y0, x1, y1 = extent(plain.shapes)
    panel = extent(plain.on("panel"))
    arrows, names = _arrows(plain)
    line, word = _half_symmetry(plain, (x0, x1))
    square, told = check_square(plain, (x0, y0 - GAP))
    lines = sentences(plain, splitter)
    below = y0 - GAP
    title = [
        Note(text, (x0 + square_side(plain) + 0.5 * GAP, below - TITLE * (1.0 + 1.8 * i)), TITLE, title=True)
        for i, text in enumerate((*lines, "Travel is to the right in this drawing, along +x."))
    ]
    return replace(
        plain,
        lines=lines,
        shapes=(*plain.shapes, *line, *arrows, *square),
        notes=(*plain.notes, *names, *word, *told, *title),
        dimensions=(
            Dimension((panel[0], panel[1]), (panel[2], panel[1]), 0, y1 + GAP),
            Dimension((panel[2], panel[1]), (panel[2], panel[3]), 1, x1 + GAP),
        ),
    )


def sentences(drawing: Drawing, splitter: Splitter) -> tuple[str, ...]:
    """Say what has to be known of a template, one line each."""
    sheet, words = splitter.panel.sheet, drawing.words
    invented = invented_mark(splitter)
    thick = size_words(float(sheet.thickness), words)
    left = "left" if drawing.seen_from == "above" else "right"
    side = size_words(square_side(drawing), words)
    return (
        f"{splitter.name}{invented}",
        f"{sheet.resolved.name}, {thick} thick",
        f"Scale 1:1, all numbers in {'mm' if words.size == 'mm' else 'inches'}. Check square: {side} by {side}.",
        f"Seen from {drawing.seen_from}; +x is forward, +y to the car's {left}.",
        "Diameters are those of bolts, pins, rivets and screws as designed, without play.",
    )


def square_side(drawing: Drawing) -> float:
    """Side of the check square, and length of the check lines: 100 mm, or 4 in, m."""
    return 0.1 if drawing.words.size == "mm" else 4.0 * 0.0254


def check_square(drawing: Drawing, corner: Point) -> tuple[list[Shape], list[Note]]:
    """Square of known side with its upper left corner at a point (m), as the drawing lies, and its label."""
    side, (x, y) = square_side(drawing), corner
    corners = ((x, y), (x, y - side), (x + side, y - side), (x + side, y))
    lines = tuple(Line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))
    size = size_words(side, drawing.words)
    label = Note(f"{size} by {size}", (x, y - 0.5 * side), LABEL, (LABEL, 0.0), layer="check square")
    return [Shape("check square", "check square", lines)], [label]


def _half_symmetry(drawing: Drawing, reach: tuple[float, float]) -> tuple[list[Shape], list[Note]]:
    """Line on the centre plane; none for a panel that is not the same on both sides."""
    if not drawing.symmetric:
        return [], []
    inside = shapely.intersection(drawing.area, shapely.LineString([(reach[0], 0.0), (reach[1], 0.0)]))
    ends = shapely.get_coordinates(inside)[:, 0]
    line = Line((float(ends.min()), 0.0), (float(ends.max()), 0.0))
    text = "half-symmetry line, " + (
        "panel and parts alike left and right" if drawing.alike else "panel alike left and right, parts not"
    )
    longest = max(shapely.get_parts(inside), key=lambda part: float(part.length))
    start = float(shapely.get_coordinates(longest)[:, 0].min())
    note = Note(text, (start, 0.0), LABEL, (2e-3, 2e-3), layer="half-symmetry line")
    return [Shape("half-symmetry line", "half-symmetry line", (line,), closed=False)], [note]


def _arrows(drawing: Drawing) -> tuple[list[Shape], list[Note]]:
    """Arrows of travel and of the grain where there is most room on the panel."""
    free = _free(drawing)
    start, end = _roomiest(free, TRAVEL, 0.0)
    shapes = arrow("travel", start, end, both=False)
    notes = [Note("travel", _between(start, end), LABEL, (LABEL, LABEL), layer="travel")]
    if drawing.grain is not None:
        taken = shapely.LineString([start, end]).buffer(0.04)
        start, end = _roomiest(shapely.difference(free, taken), GRAIN, drawing.grain)
        shapes += arrow("grain", start, end, both=True)
        notes.append(Note("face grain", _between(start, end), LABEL, (LABEL, LABEL), layer="grain"))
    return shapes, notes


def _free(drawing: Drawing) -> shapely.Geometry:
    """Return the panel without what is drawn on it."""
    lines = [
        shapely.LineString(shape.points).buffer(5e-3)
        for shape in drawing.shapes
        if shape.layer not in ("panel", "openings")
    ]
    points = [shapely.Point(note.at).buffer(0.015) for note in drawing.notes]
    middle = shapely.LineString([(-100.0, 0.0), (100.0, 0.0)]).buffer(0.01)
    return shapely.difference(drawing.area, shapely.union_all([*lines, *points, middle]))


def _roomiest(free: shapely.Geometry, length: float, angle: float) -> tuple[Point, Point]:
    """Find where an arrow of a length and direction has most room, a shorter one where it must be; return its ends."""
    x0, y0, x1, y1 = free.bounds
    X, Y = np.meshgrid(np.arange(x0, x1, _STEP), np.arange(y0, y1, _STEP), indexing="ij")
    middle = np.column_stack([X.ravel(), Y.ravel()])
    along = 0.5 * length * np.array([math.cos(angle), math.sin(angle)])
    for _ in range(_TRIES):
        lines = shapely.linestrings(np.stack([middle - along, middle + along], axis=1))
        inside = shapely.covers(free, lines)
        if inside.any():
            room = np.where(inside, shapely.distance(lines, free.boundary), -1.0)
            i = int(np.argmax(np.round(room, 6)))
            return _pair(middle[i] - along), _pair(middle[i] + along)
        along = _SHORTER * along
    at = np.array(free.representative_point().coords[0])
    return _pair(at - along), _pair(at + along)


def arrow(layer: str, start: Point, end: Point, *, both: bool) -> list[Shape]:
    """Draw a line (m) with a head at its end, or at both ends."""
    shapes = [Shape(layer, layer, (Line(start, end),), closed=False)]
    for tip, tail in ((end, start), (start, end))[: 2 if both else 1]:
        back = np.subtract(tail, tip) / math.dist(tail, tip)
        side = np.array([-back[1], back[0]])
        ends = [_pair(np.array(tip) + HEAD * (back + turn * side)) for turn in (0.35, -0.35)]
        shapes.append(Shape(layer, layer, (Line(ends[0], tip), Line(tip, ends[1])), closed=False))
    return shapes


def _between(a: Point, b: Point) -> Point:
    return 0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])


def _pair(point: np.ndarray) -> Point:
    return float(point[0]), float(point[1])
