"""A measure of a study over two parameters, as a map with its figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from splitterfem.layouts.cells import Cell, as_text
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.results import Study
from splitterfem.layouts.solving import Done
from splitterfem.output import style
from splitterfem.output.colours import ink_on, map_of
from splitterfem.output.picture import name_axes, new_picture
from splitterfem.output.readable import measure_label, parameter_label, shortened
from splitterfem.output.studydata import best_of, cells_of, groups_of
from splitterfem.output.studyunits import StudyUnits

Array = NDArray[np.float64]

MOST_FIGURES = 160
"""Cells of a map above which figures are not written into them."""


def draw_map(
    study: Study, asked: Asked, chosen: Sequence[Parameter], units: StudyUnits, ax: Axes | None
) -> Axes:
    """Draw the best layout of each pair of values; its colour and figure are the measure, the best one is framed."""
    first, second = chosen
    columns, rows = cells_of(study, first), cells_of(study, second)
    groups = groups_of(study, chosen)
    values = np.full((len(rows), len(columns)), math.nan)
    for i, row in enumerate(rows):
        for j, column in enumerate(columns):
            best = best_of(study, asked, asked.column, groups.get((column, row), []))
            values[i, j] = math.nan if best is None else units.shown(best.row[asked.column], asked.unit)
    longest = max(len(_tick(second, cell, units)) for cell in rows)
    width = min(2.4 + 0.08 * longest + 0.85 * len(columns), 11.0)
    height = min(2.2 + 0.5 * len(rows), 9.0)
    axes = new_picture(max(width, 6.4), max(height, 3.4)) if ax is None else ax
    colours, scale = _colours(asked, values)
    axes.imshow(values, origin="lower", aspect="auto", cmap=colours, norm=scale, zorder=1)
    _write_cells(axes, values, units.unit(asked.unit), groups, rows, columns, colours, scale)
    _mark_best_cell(axes, values, asked)
    axes.set_xticks(
        range(len(columns)), [_tick(first, cell, units) for cell in columns], rotation=_turn(first, columns)
    )
    axes.set_yticks(range(len(rows)), [_tick(second, cell, units) for cell in rows])
    name_axes(axes, parameter_label(first, units), parameter_label(second, units))
    axes.tick_params(length=0, labelsize=style.SMALL, colors=style.INK)
    for spine in axes.spines.values():
        spine.set_visible(False)
    figure = axes.get_figure(root=True)
    if figure is not None and np.isfinite(values).any():
        bar = figure.colorbar(ScalarMappable(scale, colours), ax=axes, pad=0.02)
        worse = "more" if asked.better == "low" else "less"
        bar.set_label(f"{measure_label(asked, units)}; dark is {worse}", fontsize=style.TEXT)
        bar.ax.tick_params(labelsize=style.SMALL)
    return axes


def _colours(asked: Asked, values: Array) -> tuple[Any, Normalize]:
    """Dark is worse, as in the pictures of sag and clearance."""
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    name = style.SAG_COLOURS if asked.better == "low" else style.CLEARANCE_COLOURS
    colours = map_of(name).with_extremes(bad=style.NOT_THERE)
    return colours, Normalize(low, high if high > low else low + 1.0)


def _write_cells(
    axes: Axes,
    values: Array,
    unit: str,
    groups: dict[tuple[Cell, ...], list[Done]],
    rows: list[Cell],
    columns: list[Cell],
    colours: Any,
    scale: Normalize,
) -> None:
    if values.size > MOST_FIGURES:
        return
    written = StudyUnits()
    for i, row in enumerate(rows):
        for j, column in enumerate(columns):
            value = values[i, j]
            if math.isfinite(value):
                text, colour = written.number(value, unit), ink_on(colours(scale(value)))
            else:
                text, colour = ("refused" if groups.get((column, row)) else "not done"), style.INK
            axes.text(j, i, text, ha="center", va="center", fontsize=style.SMALL, color=colour, zorder=3)


def _mark_best_cell(axes: Axes, values: Array, asked: Asked) -> None:
    if not np.isfinite(values).any():
        return
    flat = np.nanargmin(values) if asked.better == "low" else np.nanargmax(values)
    i, j = np.unravel_index(int(flat), values.shape)
    axes.add_patch(
        Rectangle(
            (j - 0.5, i - 0.5),
            1.0,
            1.0,
            fill=False,
            edgecolor=style.ALARM,
            linewidth=3.0,
            zorder=5,
            gid="best",
        )
    )


def _tick(one: Parameter, cell: Cell, units: StudyUnits) -> str:
    if one.numeric and units.unit(one.unit) != one.unit:
        return units.number(float(cell), one.unit)
    return shortened(as_text(cell))


def _turn(one: Parameter, cells: list[Cell]) -> float:
    return 30.0 if not one.numeric and max(len(as_text(cell)) for cell in cells) > 10 else 0.0
