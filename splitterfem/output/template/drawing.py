"""What a template is made of: named curves, circles, texts and dimensions on layers, in metres.

Both writers, of DXF and of PDF, draw the same data. The axes are those of the car as seen: x forward, and y to the
left when seen from above; seen from below y is turned round, so that the drawing is a true picture of that face.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from splitterfem.curves import Curve, Loop, Point, Points, circle, mirrored
from splitterfem.output.template.layers import LAYERS, Layer
from splitterfem.output.wording import Words

CHORD = 2e-5
"""Distance of polygons that stand for curves where only room and extent matter, m."""


@dataclass(frozen=True)
class Shape:
    """A line of curves, closed or open.

    Attributes
    ----------
    layer, name : str
    curves : tuple of Line, Arc or Spline
        In order, each from the end of the one before (m).
    closed : bool
    """

    layer: str
    name: str
    curves: tuple[Curve, ...]
    closed: bool = True

    @property
    def points(self) -> Points:
        """Corners of a polyline within `CHORD` of it, shape (n, 2), m; that of a closed one ends where it starts."""
        parts = [curve.at(curve.breaks(CHORD)) for curve in self.curves]
        return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])

    def mirrored(self) -> Shape:
        """Mirror image about y = 0."""
        return Shape(self.layer, self.name, mirrored(self.curves), self.closed)


@dataclass(frozen=True)
class Circle:
    """A circle of true diameter, all in m."""

    layer: str
    name: str
    centre: Point
    diameter: float

    closed = True

    @property
    def curves(self) -> Loop:
        """Its line, two half arcs."""
        return circle(self.centre, 0.5 * self.diameter)

    @property
    def points(self) -> Points:
        """The four ends of its axes, shape (4, 2), m."""
        r = 0.5 * self.diameter
        return np.array(self.centre) + r * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])

    def mirrored(self) -> Circle:
        """Mirror image about y = 0."""
        return Circle(self.layer, self.name, (self.centre[0], -self.centre[1]), self.diameter)


@dataclass(frozen=True)
class Note:
    """A text on one line, level as the page is read.

    Attributes
    ----------
    text : str
    at : (float, float)
        m.
    height : float
        Of capital letters, m.
    shift : (float, float)
        To the right and up as the page is read, from the point to the left end of its baseline, m.
    layer : str
    title : bool
        Whether it belongs to the title beside the panel.
    """

    text: str
    at: Point
    height: float
    shift: Point = (0.0, 0.0)
    layer: str = "text"
    title: bool = False

    def mirrored(self) -> Note:
        """Move to the mirror image of its place; it stays readable."""
        return replace(self, at=(self.at[0], -self.at[1]))


def centred(text: str, at: Point, height: float, *, above: float = 0.0) -> Note:
    """Make a text whose middle is about at a point, or above it; letters are taken as 0.8 of their height wide."""
    return Note(text, at, height, (-0.4 * height * len(text), above - 0.5 * height))


@dataclass(frozen=True)
class Dimension:
    """A distance along one of the axes.

    Attributes
    ----------
    start, end : (float, float)
        Points that it is measured between, m.
    axis : {0, 1}
        Along x or along y.
    line_at : float
        The other coordinate of its line, m.
    """

    start: Point
    end: Point
    axis: int
    line_at: float

    @property
    def value(self) -> float:
        """The distance, m."""
        return abs(self.end[self.axis] - self.start[self.axis])


@dataclass(frozen=True)
class Bar:
    """A straight length of a rib as it is sawn.

    Attributes
    ----------
    rib, part : str
        Name of the rib, and which of its lengths this is, such as "2 of 3"; empty when there is one.
    section, material : str
        In words, the section without its sizes' unit written out.
    length : float
        Along its line, m.
    longest : float
        Along its longest edge, what the saw takes off the bar, m.
    ends : two of (float, str)
        Angle between the cut and the bar's length in rad, a right angle for a square cut, and what it is for.
    side : {"above", "below"}
    """

    rib: str
    part: str
    section: str
    material: str
    length: float
    longest: float
    ends: tuple[tuple[float, str], tuple[float, str]]
    side: str


@dataclass(frozen=True)
class Drawing:
    """A template, before it becomes a file.

    Attributes
    ----------
    title : str
        Name of the design.
    lines : tuple of str
        What has to be known of it, a sentence each.
    words : Words
        Units.
    seen_from : {"above", "below"}
    grain : float or None
        Direction of the grain of the face, from x towards y as drawn, rad.
    symmetric : bool
        Whether the panel is the same on both sides of y = 0.
    alike : bool
        Whether all that is drawn on it is so too.
    shapes, circles, notes, dimensions : tuples
    bars : tuple of Bar
        What the ribs are sawn to.
    area : shapely.Polygon
        The panel without its openings, m.
    """

    title: str
    lines: tuple[str, ...]
    words: Words
    seen_from: str
    grain: float | None
    symmetric: bool
    alike: bool
    shapes: tuple[Shape, ...]
    circles: tuple[Circle, ...]
    notes: tuple[Note, ...]
    dimensions: tuple[Dimension, ...]
    bars: tuple[Bar, ...]
    area: shapely.Geometry = field(repr=False)

    @property
    def scale(self) -> float:
        """Units of the drawing in a metre."""
        return units_per_metre(self.words)

    @property
    def parts(self) -> tuple[Shape | Circle, ...]:
        """Shapes and circles."""
        return (*self.shapes, *self.circles)

    def on(self, *layers: str) -> tuple[Shape, ...]:
        """Shapes of layers."""
        return tuple(shape for shape in self.shapes if shape.layer in layers)

    def used_layers(self) -> list[Layer]:
        """Layers on which something is drawn, in the order of the legend."""
        used = {part.layer for part in self.parts} | {note.layer for note in self.notes}
        used |= {"dimensions"} if self.dimensions else set()
        return [self.layer(name) for name in LAYERS if name in used]

    def layer(self, name: str) -> Layer:
        """Return a layer; what lies on the face that is not seen is dashed."""
        layer = LAYERS[name]
        face = name.rsplit(" ", 1)[-1]
        return replace(layer, dashed=face != self.seen_from) if face in ("above", "below") else layer


def units_per_metre(words: Words) -> float:
    """Units of length of a system in a metre, exact to the last bit for both."""
    return 1e3 if words.size == "mm" else 1.0 / 0.0254


def extent(parts: Iterable[Shape | Circle]) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y of what is drawn, m."""
    points = np.concatenate([part.points for part in parts])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def size_words(metres: float, words: Words) -> str:
    """Write a size with its unit: mm to a hundredth, inches to a ten-thousandth, without idle zeros.

    Examples
    --------
    >>> from splitterfem.output.wording import words_for
    >>> size_words(0.008, words_for("metric")), size_words(0.0079375, words_for("us"))
    ('8 mm', '0.3125 in')
    """
    text = words.number(metres, words.size, 2 if words.size == "mm" else 4)
    return f"{text.rstrip('0').rstrip('.')} {words.size}"
