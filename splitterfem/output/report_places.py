"""Where everything of a splitter is and how large: one row for each part, for the drawing and its table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from splitterfem import curves
from splitterfem.design import Bolt, Doubler, Pin, RearPocket, Rib, Splitter, Stop, Strut
from splitterfem.design.outline import Circle, Rectangle
from splitterfem.design.pad import Pad
from splitterfem.output.planparts import at_points
from splitterfem.output.planview import CHORD
from splitterfem.output.report_tables import Table, section_words, table_of
from splitterfem.output.wording import Words

Point = tuple[float, float]

NEAR = 1e-6
"""In m: places nearer to each other than this are one."""


@dataclass(frozen=True)
class Built:
    """A part in plan view.

    Attributes
    ----------
    kind : str
        Such as ``strut``.
    name : str
        Of this one, for a pair with its side; as given for the pair in `pair`.
    pair : str
        Name as the design has it.
    points : tuple of points
        What is dimensioned, in m: its place, ends, or the corners of its bounds.
    size : str
        Sizes in words, empty where there are none.
    area : bool
        Whether the points are two opposite corners of its bounds.
    """

    kind: str
    name: str
    pair: str
    points: tuple[Point, ...]
    size: str = ""
    area: bool = False


def built(design: Splitter, words: Words) -> list[Built]:
    """Everything that has a place on the panel, pairs as two.

    Parameters
    ----------
    design : Splitter
    words : Words
        Units of sizes.
    """
    return [
        *_cutouts(design, words),
        *_doublers(design, words),
        *_ribs(design, words),
        *_fixings(design, words),
    ]


def _cutouts(design: Splitter, words: Words) -> Iterator[Built]:
    for cutout in design.panel.cutouts:
        for name, loop in cutout.sides():
            shape = cutout.drawn()[1]
            yield Built(
                "cut-out", name, cutout.name, _corners(loop), _area_words(shape, loop, words), area=True
            )


def _doublers(design: Splitter, words: Words) -> Iterator[Built]:
    for given in design.doublers:
        for doubler in given.sides():
            loop = doubler.outline.loop()
            size = f"{_area_words(doubler.drawn()[1], loop, words)}, {_sheet_words(doubler, words)}"
            yield Built("doubler", doubler.name, given.name, _corners(loop), size, area=True)


def _sheet_words(doubler: Doubler, words: Words) -> str:
    thickness = length_words(float(doubler.sheet.thickness), words)
    return f"{doubler.sheet.resolved.name}, {thickness} {words.size} thick, {doubler.side}"


def _ribs(design: Splitter, words: Words) -> Iterator[Built]:
    for given in design.ribs:
        for rib in given.sides():
            points = tuple((float(x), float(y)) for x, y in rib.points)
            yield Built("rib", rib.name, given.name, points, _rib_words(rib, words))


def _rib_words(rib: Rib, words: Words) -> str:
    return f"{section_words(rib, words)}, {rib.side}, {rib.resolved.name}"


def _fixings(design: Splitter, words: Words) -> Iterator[Built]:
    for pocket in design.pockets:
        for half in pocket.sides():
            yield Built(
                "rear pocket", half.name, pocket.name, (_point(half.mouth),), _pocket_words(half, words)
            )
    for strut in design.struts:
        for rod in strut.sides():
            yield Built("strut", rod.name, strut.name, (_point(rod.foot[:2]),), _strut_words(rod, words))
    for kind, parts in at_points(design).items():
        for given in parts:
            for part in given.sides():
                yield Built(kind, part.name, given.name, (_point(part.at),), _fixing_words(part, words))


def _point(at: tuple[float, ...]) -> Point:
    return float(at[0]), float(at[1])


def _corners(loop: curves.Loop) -> tuple[Point, Point]:
    points = curves.flatten(loop, CHORD)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return (float(x0), float(y0)), (float(x1), float(y1))


def length_words(metres: float, words: Words) -> str:
    """Write a length for a drawing, without its unit: tenths of a millimetre or hundredths of an inch, if any."""
    text = words.number(metres, words.size, 1 if words.size == "mm" else 2)
    return text.rstrip("0").rstrip(".")


def _area_words(shape: object, loop: curves.Loop, words: Words) -> str:
    """Width by length of an opening, and the radius of its corners where it has one."""
    if isinstance(shape, Circle):
        return f"Ø {length_words(2.0 * float(shape.radius), words)} {words.size}"
    (x0, y0), (x1, y1) = _corners(loop)
    size = f"{length_words(y1 - y0, words)} × {length_words(x1 - x0, words)} {words.size}"
    if isinstance(shape, Rectangle) and shape.round:
        size += f", R {length_words(float(shape.round), words)}"
    return size


def _pocket_words(pocket: RearPocket, words: Words) -> str:
    width, deep = (length_words(float(v), words) for v in (pocket.width, pocket.overlap))
    up, down = (length_words(float(v), words) for v in (pocket.clearance_up, pocket.clearance_down))
    return f"{width} {words.size} wide, {deep} {words.size} deep, play {up} up and {down} down"


def _strut_words(strut: Strut, words: Words) -> str:
    head = ", ".join(length_words(float(c), words) for c in strut.head)
    across = (
        "" if strut.diameter is None else f"Ø {length_words(float(strut.diameter), words)} {words.size}, "
    )
    return f"{across}head at x, y, z {head}; {_pad_words(strut.pad, words)}"


def _fixing_words(part: Pin | Bolt | Stop, words: Words) -> str:
    said = []
    diameter = getattr(part, "diameter", None)
    if diameter is not None:
        said.append(f"Ø {length_words(float(diameter), words)} {words.size}")
    if isinstance(part, Pin) and part.slot is not None:
        said.append(f"in a slot at {np.degrees(float(part.slot)):.0f}° from forward to left")
    if not isinstance(part, Pin):
        said.append(_pad_words(part.pad, words))
    return "; ".join(said)


def _pad_words(pad: Pad, words: Words) -> str:
    if pad.shape == "round":
        return f"pad Ø {length_words(float(pad.diameter or 0.0), words)} {words.size}"
    sizes = (length_words(float(v or 0.0), words) for v in (pad.length, pad.width))
    return f"pad {' × '.join(sizes)} {words.size}"


def places_table(design: Splitter, words: Words) -> Table:
    """One row for each part, or pair of them: what it is, where, how large.

    Parameters
    ----------
    design : Splitter
    words : Words
        Units.
    """
    rows: list[list[str]] = []
    parts = built(design, words)
    counts: dict[tuple[str, str], list[Built]] = {}
    for part in parts:
        counts.setdefault((part.kind, part.pair), []).append(part)
    for (kind, name), halves in counts.items():
        first, both = halves[0], len(halves) > 1
        x, y = _range(first, 0, words, both=False), _range(first, 1, words, both=both)
        rows.append([name, f"{kind}, a pair" if both else kind, x, y, first.size or "-"])
    size = words.size
    return table_of(["part", "what", f"x\n{size}", f"y\n{size}", "sizes"], rows)


def _range(part: Built, axis: int, words: Words, *, both: bool) -> str:
    """Write where a part is along an axis: a place, or from where to where; for a pair on both sides."""
    values = [point[axis] for point in part.points]
    if both:
        values = [abs(value) for value in values]
    low, high = min(values), max(values)
    sign = "±" if both else ""
    texts = [
        f"{sign}{length_words(value, words)}" for value in ((low,) if high - low < NEAR else (low, high))
    ]
    return " to ".join(texts)
