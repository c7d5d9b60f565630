"""Where the next strut helps most, and which way to move those that are there, in plan view."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from splitterfem.analysis.fields import Field
from splitterfem.analysis.gain_moves import Move
from splitterfem.analysis.gain_struts import StrutGain
from splitterfem.output import style
from splitterfem.output.fieldview import Look, draw_contours
from splitterfem.output.gain_phrases import amount, better, factor, unit_of, way, write_gain_title
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import plan_axes
from splitterfem.output.planparts import covered, draw_legend, draw_ribs, draw_supports, legend_rows
from splitterfem.output.planview import draw_frame, draw_outline, draw_surroundings, page
from splitterfem.output.spots import Spot, draw_beside, draw_spots, placed_spots
from splitterfem.output.style import LengthUnit, Scale, scale_of

WORTH, ARROW = 0.1, 0.09
"""Gain of moving a part, over the largest, from which it gets an arrow, and the arrow's length in m at most."""


def plot_strut_gain(
    gain: StrutGain,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
    count: int = 3,
    tried: bool = True,
) -> Axes:
    """Draw what one more strut does at each place, as filled contours in plan view with the best places called out.

    Arrows at struts, bolts, pins and stops point where moving them helps.

    Parameters
    ----------
    gain : StrutGain
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of the gain, when that is a length, and of sizes.
    step : float, optional
        Gain between contour lines; a round one when left out.
    title : str, optional
        In place of the names of the splitter, of the measure and of the load case; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.
    count : int
        Best places that are marked; none for zero.
    tried : bool
        Whether to solve with a strut at each of them, so that the measure may move to another place.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive.
    """
    scale, splitter, measure = scale_of(unit), gain.model.design, gain.measure
    best = [(gain.tried(*at).better_than(measure) if tried else value, at) for value, at in gain.best(count)]
    best.sort(key=lambda found: -found[0])
    moves = _worth_moving(gain.moves)
    entries: list[tuple[Artist, str]] = []
    if moves:
        bit = 0.01 if unit == "mm" else 0.0127
        most = amount(max(move.steepest for move in moves) * bit, measure, scale)
        arrow = Line2D([], [], color=style.ALARM, linewidth=2.0, marker=">", markersize=6.0)
        entries.append((arrow, f"way to move, {most} per {scale.say_size(bit)} at best"))
    rows = legend_rows(splitter, None, len(entries)) if legend else 0
    axes = plan_axes(splitter, share=0.84, legend=rows) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    if not frame:
        draw_surroundings(axes, box, scale, shown=False)
    per_point = units_per_point(axes)
    taken = covered(splitter, gain.of.solution.case, scale, (np.nan, np.nan), per_point)
    words = [better(value, measure, scale) for value, _ in best]
    spots = [Spot(i, at, text) for i, ((_, at), text) in enumerate(zip(best, words, strict=True), start=1)]
    marked = placed_spots(spots, taken, box, scale, axes)
    boxes = [spot.area.buffer(2.0 * per_point) for spot in marked]
    each = "a pair of struts" if gain.mirror else "a strut"
    bar_unit = f" ({unit_of(measure, scale)})" if unit_of(measure, scale) else ""
    bar = f"{measure.name} {way(measure)} with {each} there{bar_unit}"
    look = Look("", bar, style.SAG_COLOURS, step, None, title, legend, frame)
    draw_contours(axes, _drawable(gain, scale), look, scale, shapely.union_all([taken, *boxes]))
    draw_outline(axes, splitter, scale)
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale)
    _draw_moves(axes, gain, moves, scale)
    if frame:
        draw_beside(axes, marked, box, scale)
    if legend:
        draw_legend(axes, splitter, more=entries)
    draw_spots(axes, marked)
    write_gain_title(axes, gain, title, f"Gain of {each}, {measure.name}")
    return axes


def _drawable(gain: StrutGain, scale: Scale) -> Field:
    """Field where it is known, in metres or so that a scale turns it into the measure's own unit."""
    field = gain.field
    known = np.isfinite(field.values)
    values = np.where(known, field.values, np.nanmin(field.values))
    values = values * factor(gain.measure, scale) / scale.per_metre
    return Field(field.x, field.y, field.triangles[known[field.triangles].all(axis=1)], values)


def _worth_moving(moves: Sequence[Move]) -> list[Move]:
    most = max((move.steepest for move in moves), default=0.0)
    return [move for move in moves if move.steepest >= WORTH * most > 0.0]


def _draw_moves(ax: Axes, gain: StrutGain, moves: Sequence[Move], scale: Scale) -> None:
    """Draw an arrow at each part that is worth moving, the longer the more; of pairs at both halves."""
    most = max((move.steepest for move in moves), default=0.0)
    pairs = {part.name for part in gain.model.design.parts() if part.mirror}
    for move in moves:
        reach = ARROW * (0.4 + 0.6 * move.steepest / most)
        ends = np.array([move.at, move.at], dtype=float)
        ends[1] += reach * np.array([np.cos(move.direction), np.sin(move.direction)])
        for half in (1.0, -1.0) if move.name in pairs else (1.0,):
            start, end = page(ends * np.array([1.0, half]), scale)
            ax.annotate(
                "",
                xy=tuple(end),
                xytext=tuple(start),
                arrowprops={
                    "arrowstyle": "-|>",
                    "color": style.ALARM,
                    "linewidth": 2.0,
                    "mutation_scale": 13,
                },
                zorder=9,
                annotation_clip=False,
                gid=f"move {move.name}",
            )
