"""Designs side by side in plan view: their sags on one scale, and where they differ."""

from __future__ import annotations

from typing import Unpack

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.compare import Comparison
from splitterfem.output.comparediff import draw_differences
from splitterfem.output.comparegrid import (
    BAR,
    GAP,
    MARGIN,
    WIDTH,
    Grid,
    common_bounds,
    new_axes,
    plain_axes,
    plan_within,
    write_name,
)
from splitterfem.output.contours import joined
from splitterfem.output.fieldview import Look, Worst, call_out, draw_bar, draw_contours
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import write_title
from splitterfem.output.planparts import (
    covered,
    draw_forces,
    draw_ribs,
    draw_supports,
    legend_columns,
    legend_entries,
)
from splitterfem.output.planpicture import Manner, PlanOptions
from splitterfem.output.planview import Bounds, draw_outline, draw_scale_bar, draw_travel
from splitterfem.output.style import Scale


def plot_comparison(
    comparison: Comparison,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw the sag of each design with the same colours and contour levels, and what changed from the first.

    Differences are drawn where both panels are: brown where a design sags more than the first, blue where less, with
    broken lines.  The first one's outline is dotted there.

    Parameters
    ----------
    comparison : Comparison
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    step : float, optional
        Sag between contour lines, in the unit of the picture; a round one when left out.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.

    Returns
    -------
    Axes
        Those that hold all; ``child_axes`` are those of the designs, of the differences, of the figures, and of the
        colour bars.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive.
    """
    manner = Manner(**options)
    solutions, scale = comparison.solutions, manner.scale
    box = common_bounds([solution.model.design for solution in solutions])
    cell = 0.5 * (WIDTH - 2.0 * MARGIN - BAR - GAP)
    grid = Grid(len(solutions), cell, cell * (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin))
    axes = new_axes(grid, title=manner.title != "", legend=manner.legend) if ax is None else ax
    axes.set_axis_off()
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    fields = [joined(solution.sag) for solution in solutions]
    every = np.concatenate([field.values for field in fields]) * scale.per_metre
    levels = style.contour_levels(every, step)
    look = Look("", style.SAG_COLOURS, float(levels[1] - levels[0]), (float(every.min()), float(every.max())))
    drawn = []
    for index, (solution, field) in enumerate(zip(solutions, fields, strict=True)):
        inner = plan_within(axes, grid.place(index, below=False), solution.model.design, box, scale)
        drawn.append(_draw_design(inner, solution, field, look, box, scale))
        write_name(inner, comparison.names[index], f"sag {scale.say(solution.max_sag)} at most")
        if index == 0 and manner.frame:
            draw_travel(inner, box, scale)
            draw_scale_bar(inner, box, scale)
    draw_differences(axes, comparison, grid, box, scale)
    _write_figures(plain_axes(axes, grid.place(len(solutions) - 1, below=True)), comparison, manner)
    draw_bar(
        [axes], drawn[0], levels, f"sag, down ({manner.unit})", cax=plain_axes(axes, grid.bar(below=False))
    )
    if manner.legend:
        _draw_legend(axes, comparison)
    _write_head(axes, comparison, manner)
    return axes


def _draw_design(
    ax: Axes, solution: Solution, field: Field, look: Look, box: Bounds, scale: Scale
) -> ContourSet:
    splitter, worst = solution.model.design, Worst(solution.max_sag_at, scale.say(solution.max_sag))
    taken = covered(splitter, solution.case, scale, worst.at, units_per_point(ax))
    filled = draw_contours(ax, field, look, scale, taken)
    draw_outline(ax, splitter, scale)
    draw_ribs(ax, splitter, scale)
    draw_supports(ax, splitter, scale)
    draw_forces(ax, solution.case, scale)
    call_out(ax, worst, box, scale)
    return filled


def _write_figures(ax: Axes, comparison: Comparison, manner: Manner) -> None:
    """Write the figures as a table, changes of two designs beside them."""
    ax.set_axis_off()
    count = len(comparison.names)
    rows = comparison.rows("us" if manner.unit == "in" else "metric")
    wide = 1 + count + (count == 2)
    start = 0.2 if count == 2 else 0.04
    step = 1.0 / (len(rows) + 1)
    width = min(0.15, 0.6 / (wide - 1))
    letters = int(width * 72.0 * 4.9 / (0.68 * style.TEXT))
    for number, row in enumerate(rows):
        for column, cell in enumerate(row[:wide]):
            at = start if column == 0 else 1.0 - (wide - 1 - column) * width
            ax.text(
                at, 1.0 - (number + 0.5) * step, cell if number else cell[:letters], va="center",
                ha="left" if column == 0 else "right", fontsize=style.TEXT, color=style.INK,
                transform=ax.transAxes, parse_math=False,
                fontweight="bold" if number == 0 or (count == 2 and column == wide - 1) else "normal", gid="figure",
            )  # fmt: skip


def _draw_legend(axes: Axes, comparison: Comparison) -> None:
    entries: dict[str, Artist] = {}
    for solution in comparison.solutions:
        entries |= {word: mark for mark, word in legend_entries(solution.model.design, solution.case)}
    hint = "The same colours and lines in all pictures of sag. Dotted in the differences: outline of the first design."
    axes.legend(
        list(entries.values()), list(entries), title=hint, title_fontproperties={"size": style.SMALL}, frameon=False,
        fontsize=style.SMALL, loc="upper center", bbox_to_anchor=(0.5, -0.02),
        ncols=legend_columns(list(entries), WIDTH - 1.0), handlelength=2.0, columnspacing=1.4,
    )  # fmt: skip


def _write_head(axes: Axes, comparison: Comparison, manner: Manner) -> None:
    if manner.title == "":
        return
    designs = [solution.model.design for solution in comparison.solutions]
    invented = next((design for design in designs if design.invented), designs[0])
    own = list(dict.fromkeys(design.name for design in designs))
    several = (
        " and ".join(comparison.names) if len(comparison.names) == 2 else f"{len(comparison.names)} designs"
    )
    name = manner.title or (own[0] if len(own) == 1 else several)
    write_title(axes, invented, name, f"Sag compared in load case: {comparison.case}")
    axes.title.set_position((0.0, 1.0))
