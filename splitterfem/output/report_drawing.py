"""The drawing of a report: plan view to a standard scale, with sizes from the front axle line and the centre line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.dimensions import (
    CHAIN,
    PLATE,
    ROW,
    Sheet,
    bar,
    dimension,
    ordinates,
    paper_axes,
    standard_scale,
    write,
)
from splitterfem.output.planparts import at_points, halves, mark_look, rib_area, towards_head
from splitterfem.output.planview import CHORD, Bounds, bounds
from splitterfem.output.report_marks import Mark, marks_across, marks_along, sides_of
from splitterfem.output.report_pictures import figure_svg_as_is
from splitterfem.output.report_places import built, length_words
from splitterfem.output.wording import Words

Array = NDArray[np.float64]

LETTER_WIDTH = 1.3
"""Mean width of a letter in mm."""
EDGE, KINK = 5.0, 7.5
"""Between the panel and where the thin lines bend, and from there to the texts, in mm."""
BELOW, UNDER_AXLE = 26.0, 12.0
"""Room in mm under the rear edge for the overall width and the measuring bar, and under the axle line."""
BESIDE = 17.0
"""Room for the overall length, in mm."""
FARTHEST_AXLE = 70.0
"""The axle line is drawn unless it is farther than this from the panel, in mm on the paper."""
BARS = {"metric": (100.0, "100 mm on the sheet"), "us": (4.0 * 25.4, "4 in on the sheet")}
"""Length in mm of the bar by which a print is measured, and its text."""


@dataclass(frozen=True)
class Drawing:
    """A drawing to scale.

    Attributes
    ----------
    svg : bytes
    width, height : float
        Of the sheet in mm; shown at any other size its scale is not true.
    scale : int
        The n of 1:n.
    notes : tuple of str
        What the drawing leaves out, in sentences.
    """

    svg: bytes
    width: float
    height: float
    scale: int
    notes: tuple[str, ...]


def draw(design: Splitter, words: Words, room: tuple[float, float]) -> Drawing:
    """Draw a splitter in plan view to a standard scale, with its sizes.

    The left half has its places from the front axle line and from the centre line beside it, and so has what the
    right half has otherwise than the left.

    Parameters
    ----------
    design : Splitter
    words : Words
        Units.
    room : two floats
        Width and height of the sheet in mm that there is at most.
    """
    box, parts = bounds(design), built(design, words)
    left, right = sides_of(parts)
    xs, more = marks_along(left, words, box), marks_along(right, words, left=False)
    ys = marks_across(left, right, words, box)
    margins = _margins(xs, more, ys)
    width = room[0] - margins[0] - margins[1]
    scale = standard_scale((box.width, box.length), (width, room[1] - margins[2] - BELOW), words.system)
    per = 1e3 / scale
    below, axle = _below(box, per, room[1] - margins[2] - per * box.length)
    height = below + per * box.length + margins[2]
    ax = paper_axes(room[0], height)
    middle = margins[0] + 0.5 * width + 0.5 * per * (box.left + box.right)
    sheet = Sheet(ax, (middle, below - per * box.rear), per)
    _panel(sheet, design, words)
    _datums(sheet, box, shown=axle)
    left_out = _sizes(sheet, box, (xs, more, ys), margins, words)
    _marginalia(sheet, design, words)
    notes = _notes(design, box, words, left_out, axle_shown=axle)
    return Drawing(figure_svg_as_is(ax.get_figure(root=True)), room[0], height, scale, notes)


def _margins(xs: Sequence[Mark], more: Sequence[Mark], ys: Sequence[Mark]) -> tuple[float, float, float]:
    """Room in mm that the texts need: left, right, over the panel."""

    def room(marks: Sequence[Mark]) -> float:
        longest = max((len(mark.name) + len(mark.number) + 2 for mark in marks), default=0)
        return EDGE + KINK + LETTER_WIDTH * longest + 2.0

    return room(xs), max(BESIDE, room(more) + BESIDE if more else 0.0), room(ys)


def _below(box: Bounds, per: float, left: float) -> tuple[float, bool]:
    """Room in mm under the rear edge, of so much that there is, and whether the axle line is drawn."""
    away = per * box.rear
    if away <= 0.0:  # it crosses the panel, or lies ahead of it
        return BELOW, box.front >= 0.0
    needed = max(BELOW, away + UNDER_AXLE)
    shown = away <= FARTHEST_AXLE and needed <= left
    return (needed if shown else BELOW), shown


def _panel(sheet: Sheet, design: Splitter, words: Words) -> None:
    """Draw the panel and everything on it."""
    outline = sheet.path(curves.flatten(design.panel.outline.loop(), CHORD))
    line: dict[str, Any] = {"edgecolor": style.INK, "joinstyle": "miter"}
    sheet.ax.add_patch(Polygon(outline, facecolor=style.SHEET, linewidth=0.0, zorder=1, gid="panel"))
    sheet.ax.add_patch(Polygon(outline, fill=False, linewidth=1.1, zorder=4, gid="outline", **line))
    for name, loop in design.panel.holes():
        corners = sheet.path(curves.flatten(loop, CHORD))
        look: dict[str, Any] = {
            "facecolor": style.PAPER,
            "linewidth": 0.9,
            "zorder": 2,
            "gid": f"cut-out {name}",
        }
        sheet.ax.add_patch(Polygon(corners, **look, **line))
    for doubler in halves(design.doublers):
        corners = sheet.path(curves.flatten(doubler.outline.loop(), CHORD))
        sheet.ax.add_patch(
            Polygon(corners, fill=False, linewidth=0.7, linestyle=(0, (6, 2)), zorder=3, edgecolor=style.INK)
        )
    _sizes_of_openings(sheet, design, words)
    _parts(sheet, design)


def _sizes_of_openings(sheet: Sheet, design: Splitter, words: Words) -> None:
    for part in built(design, words):
        if part.kind == "cut-out" and len(part.points) == 2:
            (x0, y0), (x1, y1) = part.points
            lines = part.size.replace(", ", "\n")
            if max(map(len, lines.split("\n"))) * 0.9 * LETTER_WIDTH < sheet.per_metre * (y1 - y0):
                write(sheet.ax, sheet.at(0.5 * (x0 + x1), 0.5 * (y0 + y1)), lines, linespacing=1.4, size=6.0)


def _parts(sheet: Sheet, design: Splitter) -> None:
    """Draw ribs as wide as their feet, rear pockets to scale, and marks where the other parts are."""
    for rib in halves(design.ribs):
        look: dict[str, Any] = {
            "facecolor": style.METAL,
            "edgecolor": style.INK,
            "linewidth": 0.7,
            "gid": f"rib {rib.name}",
        }
        dashed = "-" if rib.side == "above" else (0, (4, 2))
        sheet.ax.add_patch(Polygon(sheet.path(rib_area(rib)), zorder=3, linestyle=dashed, **look))
    for pocket in halves(design.pockets):
        x0, y0, x1, y1 = pocket.bounds
        corners = sheet.path([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
        sheet.ax.add_patch(
            Polygon(
                corners, facecolor=style.PAPER, edgecolor=style.INK, hatch="xxxx", linewidth=0.8, zorder=5
            )
        )
    for strut in halves(design.struts):
        line = sheet.path([strut.foot, towards_head(strut)])
        sheet.ax.plot(*line.T, color=style.INK, linewidth=1.6, zorder=6)
        _mark(sheet, (strut.foot[0], strut.foot[1]), "strut")
    for kind, parts in at_points(design).items():
        for part in halves(parts):
            _mark(sheet, (float(part.at[0]), float(part.at[1])), kind)


def _mark(sheet: Sheet, at: tuple[float, float], kind: str) -> None:
    look = mark_look(kind)
    smaller = {"markersize": 0.62 * look["markersize"], "markeredgewidth": 1.0}
    x, y = sheet.at(*at)
    sheet.ax.plot([x], [y], zorder=7, **{**look, **smaller})


def _datums(sheet: Sheet, box: Bounds, *, shown: bool) -> None:
    """Draw the centre line and, where it is near enough, the front axle line."""
    x, low = sheet.at(box.rear, 0.0)
    top = sheet.at(box.front, 0.0)[1] + EDGE
    bottom = sheet.at(0.0, 0.0)[1] - 6.0 if shown and box.rear > 0.0 else low - 3.0
    sheet.ax.plot([x, x], [bottom, top], zorder=7.5, gid="centre line", **CHAIN)
    write(sheet.ax, (x + 1.2, top - 1.0), "centre line, y = 0", ha="left", va="bottom", bbox=PLATE)
    if shown:
        y = sheet.at(0.0, 0.0)[1]
        ends = [x - 18.0, sheet.at(0.0, box.right)[0] + EDGE]
        sheet.ax.plot(ends, [y, y], zorder=7.5, gid="axle line", **CHAIN)
        write(sheet.ax, (ends[1] - 1.0, y + 1.0), "front axle line, x = 0", ha="right", va="bottom")


def _sizes(
    sheet: Sheet,
    box: Bounds,
    marks: tuple[Sequence[Mark], Sequence[Mark], Sequence[Mark]],
    margins: tuple[float, float, float],
    words: Words,
) -> int:
    """Write overall sizes and places; return how many places there was no room for."""
    xs, more, ys = marks
    (x0, y0), (x1, y1) = sheet.at(box.rear, box.left), sheet.at(box.front, box.right)
    size = words.size
    dimension(sheet.ax, (x0, y0), (x1, y0), f"{length_words(box.width, words)} {size}", away=-7.0)
    dimension(sheet.ax, (x1, y0), (x1, y1), f"{length_words(box.length, words)} {size}", away=9.0)
    upright, lying = (y0 - 6.0, y1 + 14.0), (x0 - 0.5 * margins[0], x1 + 0.5 * margins[1])
    left_out = 0
    for side, group, ends, edge in (
        ("left", xs, upright, x0 - EDGE),
        ("right", more, upright, x1 + BESIDE - 2.0),
        ("top", ys, lying, y1 + EDGE),
    ):
        kept = _kept(group, ends)
        left_out += len(group) - len(kept)
        placed = [(sheet.at(mark.x, mark.y), _text(mark, number_first=side == "top")) for mark in kept]
        ordinates(sheet.ax, placed, side=side, edge=edge, ends=ends)  # type: ignore[arg-type]
    return left_out


def _text(mark: Mark, *, number_first: bool) -> str:
    """Write a number and a name, the number next to the drawing."""
    return f"{mark.number}  {mark.name}" if number_first else f"{mark.name}  {mark.number}"


def _kept(marks: Sequence[Mark], ends: tuple[float, float]) -> list[Mark]:
    """Choose marks that there is room for, evenly among all; the first and the last are of the panel's edges."""
    room = int((ends[1] - ends[0]) / ROW)
    if len(marks) <= room:
        return list(marks)
    return [marks[i] for i in np.unique(np.linspace(0, len(marks) - 1, room).astype(int))]


def _marginalia(sheet: Sheet, design: Splitter, words: Words) -> None:
    """Draw the measuring bar, the direction of travel and that of the face grain in the lower corners."""
    length, text = BARS[words.system]
    right = sheet.ax.get_xlim()[1]
    bar(sheet.ax, (right - length - 4.0, 3.0), length, text)
    arrow = {"shrinkA": 0, "shrinkB": 0, "color": style.INK, "linewidth": 1.2, "mutation_scale": 9}
    sheet.ax.annotate("", xy=(4.0, 15.0), xytext=(4.0, 3.0), arrowprops={**arrow, "arrowstyle": "-|>"})
    write(sheet.ax, (6.0, 9.0), "direction\nof travel", ha="left", linespacing=1.2)
    grained = design.panel.sheet
    if getattr(grained.resolved, "kind", "") == "orthotropic":
        angle = float(grained.grain_angle)
        dx, dy = -6.0 * math.sin(angle), 6.0 * math.cos(angle)
        middle = (30.0, 9.0)
        ends = [(middle[0] - dx, middle[1] - dy), (middle[0] + dx, middle[1] + dy)]
        sheet.ax.annotate("", xy=ends[1], xytext=ends[0], arrowprops={**arrow, "arrowstyle": "<->"})
        write(sheet.ax, (middle[0] + 7.5, middle[1]), "face\ngrain", ha="left", linespacing=1.2)


def _notes(
    design: Splitter, box: Bounds, words: Words, left_out: int, *, axle_shown: bool
) -> tuple[str, ...]:
    unit = "mm" if words.size == "mm" else "inches"
    said = [
        f"Seen from above. Sizes in {unit}: on the left from the front axle line forward, on top from the centre line "
        "outward. The right half is the mirror image of the left unless it has sizes of its own."
    ]
    if not axle_shown:
        rear = f"{length_words(abs(box.rear), words)} {words.size}"
        where = "behind" if box.rear > 0.0 else "ahead of"
        said.append(f"The front axle line is not on the sheet: it lies {rear} {where} the rear edge.")
    if left_out:
        said.append(
            f"{left_out} more places have no room beside the drawing; they are in the table of places."
        )
    return tuple(said)
