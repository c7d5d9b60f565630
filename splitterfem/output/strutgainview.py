"""Where the next strut helps most, and which way to move those that are there, in plan view."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Unpack

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.analysis.gain_moves import Move
from splitterfem.analysis.gain_struts import StrutGain
from splitterfem.output import style
from splitterfem.output.fieldview import Look, draw_contours
from splitterfem.output.gain_phrases import amount, better, factor, gain_subject, unit_of, way
from splitterfem.output.planparts import covered
from splitterfem.output.planpicture import Manner, PlanOptions, plan_of
from splitterfem.output.planview import page
from splitterfem.output.spots import Spot
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

WORTH, ARROW = 0.1, 0.09
"""Gain of moving a part, over the largest, from which it gets an arrow, and the arrow's length in m at most."""


def plot_strut_gain(
    gain: StrutGain,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    count: int = 3,
    tried: bool = True,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw what one more strut does at each place, as filled contours in plan view with the best places called out.

    Arrows at struts, bolts, pins and stops point where moving them helps.

    Parameters
    ----------
    gain : StrutGain
    ax : Axes, optional
        Where to draw; a new figure when left out.
    step : float, optional
        Gain between contour lines; a round one when left out.
    count : int
        Best places that are marked; none for zero.
    tried : bool
        Whether to solve with a strut at each of them, so that the measure may move to another place.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive.
    """
    manner = Manner(**options)
    scale, splitter, measure = manner.scale, gain.model.design, gain.measure
    best = [(gain.tried(*at).better_than(measure) if tried else value, at) for value, at in gain.best(count)]
    best.sort(key=lambda found: -found[0])
    moves = _worth_moving(gain.moves)
    entries: list[tuple[Artist, str]] = []
    if moves:
        bit = 0.01 if manner.unit == "mm" else 0.0127
        most = amount(max(move.steepest for move in moves) * bit, measure, scale)
        arrow = Line2D([], [], color=style.ALARM, linewidth=2.0, marker=">", markersize=6.0)
        entries.append((arrow, f"way to move, {most} per {scale.say_size(bit)} at best"))
    each = "a pair of struts" if gain.mirror else "a strut"
    another = f"another {each.removeprefix('a ')}"
    hint = f"Dark is where {another} helps most. Try the numbered places first."
    plan = plan_of(splitter, ax, manner, hint=hint, more=entries)
    taken = covered(splitter, gain.of.solution.case, scale, (np.nan, np.nan), plan.per_point)
    words = [better(value, measure, scale) for value, _ in best]
    spots = [Spot(i, at, text) for i, ((_, at), text) in enumerate(zip(best, words, strict=True), start=1)]
    marked = plan.placed(spots, taken)
    bar_unit = f" ({unit_of(measure, scale)})" if unit_of(measure, scale) else ""
    bar = f"{measure.name} {way(measure)} with {each} there{bar_unit}"
    arrows = _arrows(gain, moves, scale)
    under = [shapely.LineString([start, end]).buffer(4.0 * plan.per_point) for _, start, end in arrows]
    clear = shapely.union_all([taken, *under, *plan.clear_of(marked)])
    draw_contours(plan.ax, _drawable(gain, scale), Look(bar, style.GAIN_COLOURS, step), scale, clear)
    plan.draw_parts()
    _draw_moves(plan.ax, arrows)
    plan.finish(gain_subject(gain, f"Gain of {each}"), spots=marked)
    return plan.ax


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


def _arrows(gain: StrutGain, moves: Sequence[Move], scale: Scale) -> list[tuple[str, Array, Array]]:
    """Part, start and end on the page of each arrow, the longer the more moving is worth; of pairs at both halves."""
    most = max((move.steepest for move in moves), default=0.0)
    pairs = {part.name for part in gain.model.design.parts() if part.mirror}
    found = []
    for move in moves:
        reach = ARROW * (0.4 + 0.6 * move.steepest / most)
        ends = np.array([move.at, move.at], dtype=float)
        ends[1] += reach * np.array([np.cos(move.direction), np.sin(move.direction)])
        for half in (1.0, -1.0) if move.name in pairs else (1.0,):
            start, end = page(ends * np.array([1.0, half]), scale)
            found.append((move.name, start, end))
    return found


def _draw_moves(ax: Axes, arrows: Sequence[tuple[str, Array, Array]]) -> None:
    """Draw an arrow at each part that is worth moving."""
    for name, start, end in arrows:
        ax.annotate(
            "",
            xy=tuple(end),
            xytext=tuple(start),
            arrowprops={"arrowstyle": "-|>", "color": style.ALARM, "linewidth": 2.0, "mutation_scale": 13},
            zorder=9,
            annotation_clip=False,
            gid=f"move {name}",
        )
