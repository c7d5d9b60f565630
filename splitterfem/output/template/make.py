"""From a design to its template: everything that is cut, drilled or marked on the panel, in true size."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np
import shapely

from splitterfem.curves import Arc, Line, Point
from splitterfem.design import Bolt, Doubler, Pin, Sheet, Splitter
from splitterfem.design._inches import mostly_inches
from splitterfem.design.pad import Pad
from splitterfem.errors import DesignError, nearest
from splitterfem.materials import Layup
from splitterfem.model import written_out
from splitterfem.output.template.arcs import as_circle
from splitterfem.output.template.bars import rib_drawing
from splitterfem.output.template.drawing import CHORD, Circle, Drawing, Note, Shape, centred, size_words
from splitterfem.output.template.marks import arrow, finished
from splitterfem.output.template.symmetry import is_alike, is_symmetric
from splitterfem.output.wording import System, Words, words_for

Side = Literal["above", "below"]
SIDES = ("above", "below")

LABEL = 3.5e-3
"""Height of the letters beside holes and feet, m."""

ARM = 3e-3
"""How far a centre mark reaches beyond its hole, and half of one without a hole, m."""

MOST_GRAIN = 0.16
"""Size of a doubler above which the arrow of its grain grows no longer, m."""

Parts = tuple[list[Shape], list[Circle], list[Note]]


def template_drawing(
    splitter: Splitter, *, units: System | None = None, seen_from: Side = "above"
) -> Drawing:
    """Draw the template of a design.

    Parameters
    ----------
    splitter : Splitter
    units : {"metric", "us"}, optional
        Of drawing and texts; as most lengths of the design were written when left out.
    seen_from : {"above", "below"}
        Face of the panel that is drawn.

    Returns
    -------
    Drawing

    Raises
    ------
    UnitError
        Another system of units.
    DesignError
        Another face.
    """
    if seen_from not in SIDES:
        raise DesignError(f"A template is not seen from '{seen_from}'; {nearest(str(seen_from), SIDES)}")
    words = words_for(template_units(splitter, units))
    shapes, circles, notes = _panel(splitter, words)
    for more in (_doublers(splitter), _struts(splitter), _pockets(splitter), _stops(splitter)):
        shapes, circles, notes = _together((shapes, circles, notes), more)
    shapes, circles, notes = _together((shapes, circles, notes), _holes(splitter, words))
    feet, fixed, labels, bars = rib_drawing(written_out(splitter.ribs), words)
    shapes, circles, notes = _together((shapes, circles, notes), (feet, fixed, labels))
    shapes += _centre_marks(circles)
    area = splitter.panel.polygon(CHORD)
    symmetric = is_symmetric(area)
    alike = symmetric and is_alike(shapes, circles)
    grain = float(splitter.panel.sheet.grain_angle)
    if seen_from == "below":
        shapes, circles = [s.mirrored() for s in shapes], [c.mirrored() for c in circles]
        notes, grain = [n.mirrored() for n in notes], -grain
        area = shapely.transform(area, lambda points: points * (1.0, -1.0))
    plain = Drawing(
        title=splitter.name,
        lines=(),
        words=words,
        seen_from=seen_from,
        grain=grain if _has_grain(splitter.panel.sheet) else None,
        symmetric=symmetric,
        alike=alike,
        shapes=tuple(shapes),
        circles=tuple(circles),
        notes=tuple(notes),
        dimensions=(),
        bars=bars,
        area=area,
    )
    return finished(plain, splitter)


def template_units(splitter: Splitter, units: System | None = None) -> System:
    """Return the system of units that is asked for, or that in which most lengths of a design were written."""
    return units if units is not None else ("us" if mostly_inches(splitter) else "metric")


def _has_grain(sheet: Sheet) -> bool:
    """Tell whether a sheet, or a ply of it, is stiffer one way than the other."""
    material = sheet.resolved
    plies = [ply.material for ply in material.plies] if isinstance(material, Layup) else [material]
    return any(ply.kind == "orthotropic" for ply in plies)


def _together(one: Parts, more: Parts) -> Parts:
    return one[0] + more[0], one[1] + more[1], one[2] + more[2]


def _panel(splitter: Splitter, words: Words) -> Parts:
    """Draw the edge of the panel and its openings; a round one is a circle with its centre marked."""
    shapes = [Shape("panel", "panel", splitter.panel.outline.loop())]
    circles, notes = list[Circle](), list[Note]()
    for name, loop in splitter.panel.holes():
        round_one = as_circle(loop)
        if round_one is None:
            shapes.append(Shape("openings", name, loop))
        else:
            circles.append(Circle("openings", name, *round_one))
        x0, y0, x1, y1 = shapely.Polygon(Shape("openings", name, loop).points).bounds
        middle = (0.5 * (x0 + x1), 0.5 * (y0 + y1))
        if round_one is None:
            notes.append(centred(name, middle, LABEL))
        else:
            notes.append(
                centred(f"{name}, {size_words(round_one[1], words)}", middle, LABEL, above=5.0 * ARM)
            )
    return shapes, circles, notes


def _doublers(splitter: Splitter) -> Parts:
    shapes, notes = list[Shape](), list[Note]()
    for doubler in written_out(splitter.doublers):
        shapes.append(Shape(f"doublers {doubler.side}", doubler.name, doubler.outline.loop()))
        notes.append(Note(_doubler_words(doubler), shapes[-1].curves[0].start, LABEL, (2e-3, 2e-3)))
        if _has_grain(doubler.sheet):
            shapes += _grain_of(doubler, shapely.Polygon(shapes[-1].points))
    return shapes, [], notes


def _grain_of(doubler: Doubler, area: shapely.Polygon) -> list[Shape]:
    """Arrow along the face grain of a doubler, as long as half of it at most, about a point inside."""
    angle = float(doubler.sheet.grain_angle)
    middle = area.centroid if area.covers(area.centroid) else area.representative_point()
    x0, y0, x1, y1 = area.bounds
    along = 0.25 * min(x1 - x0, y1 - y0, MOST_GRAIN) * np.array([math.cos(angle), math.sin(angle)])
    start, end = ((middle.x + turn * along[0], middle.y + turn * along[1]) for turn in (-1.0, 1.0))
    return arrow("grain of doublers", start, end, both=True)


def _doubler_words(doubler: Doubler) -> str:
    return f"{doubler.name}, {doubler.side}"


def _struts(splitter: Splitter) -> Parts:
    """Feet of struts in true size, with their centres."""
    parts: Parts = ([], [], [])
    for strut in written_out(splitter.struts):
        parts = _together(parts, _pad("strut feet", strut.name, strut.foot, strut.pad))
        parts[2].append(_label(strut.name, strut.foot, strut.pad))
    return parts


def _stops(splitter: Splitter) -> Parts:
    parts: Parts = ([], [], [])
    for stop in written_out(splitter.stops):
        parts = _together(parts, _pad("stops", stop.name, stop.at, stop.pad))
        parts[2].append(_label(stop.name, stop.at, stop.pad))
    return parts


def _pockets(splitter: Splitter) -> Parts:
    shapes, notes = list[Shape](), list[Note]()
    for pocket in written_out(splitter.pockets):
        x0, y0, x1, y1 = pocket.bounds
        corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        shapes.append(Shape("rear pockets", pocket.name, _closed(corners)))
        notes.append(Note(pocket.name, (x0, y1), LABEL, (2e-3, 2e-3)))
    return shapes, [], notes


def _holes(splitter: Splitter, words: Words) -> Parts:
    """Holes of bolts and pins with their washers; one of unknown diameter is a centre mark alone."""
    parts: Parts = ([], [], [])
    fixings: list[Bolt | Pin] = [*written_out(splitter.bolts), *written_out(splitter.pins)]
    for fixing in fixings:
        parts = _together(parts, _pad("washers", fixing.name, fixing.at, fixing.pad, marked=False))
        text = _drill(fixing, parts, words)
        parts[2].append(_label(text, fixing.at, fixing.pad))
    return parts


def _drill(fixing: Bolt | Pin, parts: Parts, words: Words) -> str:
    """Add the hole or the slot of a fixing to what is drawn; return its name with its size."""
    shapes, circles, _ = parts
    slot = fixing.slot if isinstance(fixing, Pin) else None
    size = "diameter not given" if fixing.diameter is None else size_words(float(fixing.diameter), words)
    if isinstance(fixing, Pin) and fixing.slot_length is not None and fixing.diameter is not None:
        shapes.append(_slot(fixing, float(fixing.diameter), float(fixing.slot_length)))
        shapes += _cross(fixing.name, fixing.at, ARM)
        return f"{fixing.name}, slot {size} by {size_words(float(fixing.slot_length), words)}"
    if fixing.diameter is not None:
        circles.append(Circle("holes", fixing.name, _plain(fixing.at), float(fixing.diameter)))
    elif fixing.pad.diameter is None:  # else the washer has a centre mark
        shapes += _cross(fixing.name, fixing.at, ARM)
    if slot is None:
        return f"{fixing.name}, {size}"
    shapes.append(_slot_direction(fixing.name, fixing.at, slot, float(fixing.diameter or 0.0)))
    return f"{fixing.name}, {size}, in a slot of no given length"


def _slot(pin: Pin, width: float, length: float) -> Shape:
    """Slot in true size, its ends round: as wide as the pin, its length from end to end, the pin in its middle."""
    assert pin.slot is not None
    along = np.array([math.cos(pin.slot), math.sin(pin.slot)])
    across, half = 0.5 * width * np.array([-along[1], along[0]]), 0.5 * (length - width) * along
    middle = np.array(_plain(pin.at))
    a, b, c, d = (
        (float(x), float(y))
        for x, y in (
            middle - half - across,
            middle + half - across,
            middle + half + across,
            middle - half + across,
        )
    )
    ends = [middle + turn * (half + 0.5 * width * along) for turn in (1.0, -1.0)]
    tips = [(float(x), float(y)) for x, y in ends]
    return Shape("holes", pin.name, (Line(a, b), Arc(b, tips[0], c), Line(c, d), Arc(d, tips[1], a)))


def _slot_direction(name: str, at: Point, slot: float, diameter: float) -> Shape:
    """Line through a pin in the direction in which it slides."""
    half = 0.5 * diameter + 4.0 * ARM
    dx, dy = half * math.cos(slot), half * math.sin(slot)
    x, y = _plain(at)
    return Shape("slots", name, (Line((x - dx, y - dy), (x + dx, y + dy)),), closed=False)


def _pad(layer: str, name: str, at: Point, pad: Pad, *, marked: bool = True) -> Parts:
    """Area of a pad: a circle of true diameter, or an outline with a mark in its middle."""
    if pad.diameter is not None:
        return [], [Circle(layer, name, _plain(at), float(pad.diameter))], []
    marks = _cross(name, at, ARM) if marked else []
    return [Shape(layer, name, pad.loop(at)), *marks], [], []


def _label(text: str, at: Point, pad: Pad) -> Note:
    """Name of a part, to the right of its pad as the page is read."""
    reach = pad.diameter if pad.diameter is not None else math.hypot(pad.length or 0.0, pad.width or 0.0)
    return Note(text, _plain(at), LABEL, (0.5 * float(reach) + 2e-3, -0.5 * LABEL))


def _centre_marks(circles: Iterable[Circle]) -> list[Shape]:
    """One cross in every circle; circles about one centre share the largest."""
    largest = dict[tuple[float, float], Circle]()
    for circle in circles:
        key = (round(circle.centre[0], 6), round(circle.centre[1], 6))
        if key not in largest or circle.diameter > largest[key].diameter:
            largest[key] = circle
    return [
        line
        for circle in largest.values()
        for line in _cross(circle.name, circle.centre, min(0.5 * circle.diameter + ARM, 4.0 * ARM))
    ]


def _cross(name: str, at: Point, arm: float) -> list[Shape]:
    x, y = _plain(at)
    return [
        Shape("hole centres", name, (Line((x - arm, y), (x + arm, y)),), closed=False),
        Shape("hole centres", name, (Line((x, y - arm), (x, y + arm)),), closed=False),
    ]


def _closed(corners: Sequence[Point]) -> tuple[Line, ...]:
    return tuple(Line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))


def _plain(at: Point) -> Point:
    return float(at[0]), float(at[1])
