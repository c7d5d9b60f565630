"""A measure of a study over one or two parameters."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from splitterfem.errors import DesignError, nearest
from splitterfem.layouts.cells import Cell, as_text
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.results import Study
from splitterfem.layouts.solving import Done
from splitterfem.output import style
from splitterfem.output.picture import dress, name_axes, new_picture, ring_with_words, write_title
from splitterfem.output.readable import measure_label, measure_name, parameter_label
from splitterfem.output.studydata import best_of, cells_of, groups_of
from splitterfem.output.studymap import draw_map
from splitterfem.output.studyunits import StudyUnits
from splitterfem.output.wording import System

Array = NDArray[np.float64]

LINES = (
    (style.INK, "-", "o"), (style.UP, (0, (5, 2)), "s"), (style.DOWN, (0, (1.5, 1.5)), "^"),
    (style.POINTS, (0, (6, 2, 1, 2)), "D"), (style.QUIET, (0, (3, 1)), "v"), (style.INK, (0, (1, 3)), "x"),
)  # fmt: skip
"""Colour, line and mark of load cases, told apart in grey as well."""


def plot_study(
    study: Study,
    measure: str | None = None,
    ax: Axes | None = None,
    *,
    over: Sequence[str] | None = None,
    units: System | None = None,
    title: str | None = None,
) -> Axes:
    """Draw a measure over one parameter as lines, over two as a map with its figures; the best layout is marked.

    Layouts that were refused are drawn as such.  Where the study has more parameters than are drawn over, each point is
    the best of the layouts that it stands for.

    Parameters
    ----------
    study : Study
    measure : str, optional
        By its name or its column; the first one when left out.
    ax : Axes, optional
        A new figure when left out.
    over : one or two names of parameters, optional
        The first two when left out.
    units : {"metric", "us"}, optional
        Of all figures; those of the study's table when left out.
    title : str, optional
        In place of the splitter's name; empty for none.

    Raises
    ------
    DesignError
        If a name is unknown, or nothing is finished yet.
    UnitError
        If there are no such units.
    """
    shown = StudyUnits(units)
    if not study.layouts:
        raise DesignError("The study has no finished layout yet: there is nothing to draw.")
    asked = study.plan.measures[0] if measure is None else study.plan.measure(measure)
    chosen = _over(study, over)
    axes = (
        _lines(study, asked, chosen[0], shown, ax)
        if len(chosen) == 1
        else draw_map(study, asked, chosen, shown, ax)
    )
    _head(axes, study, asked, chosen, measure_name(asked, shown), title)
    return axes


def _over(study: Study, over: Sequence[str] | None) -> tuple[Parameter, ...]:
    known = study.plan.parameters
    if over is None:
        return known[:2]
    names = [over] if isinstance(over, str) else list(over)
    found = [one for name in names for one in known if name in (one.name, one.column)]
    if len(found) != len(names) or not 1 <= len(names) <= 2:
        missing = [name for name in names if all(name not in (one.name, one.column) for one in known)]
        hint = nearest(missing[0], (one.name for one in known)) if missing else "give one or two of them"
        raise DesignError(f"The study cannot be drawn over {', '.join(map(str, names))!s:.80}: {hint}")
    return tuple(found)


def _lines(study: Study, asked: Asked, one: Parameter, units: StudyUnits, ax: Axes | None) -> Axes:
    axes = new_picture(7.2, 4.4) if ax is None else ax
    cells = cells_of(study, one)
    groups = groups_of(study, (one,))
    at = np.arange(len(cells), dtype=float)
    if one.numeric:
        at = units.factor(one.unit) * np.array([float(cell) for cell in cells])
    several = len(study.plan.cases) > 1 and asked.scope == "case"
    columns = [asked.column_in(case) for case in study.plan.cases] if several else [asked.column]
    found: list[tuple[str, Array]] = []
    for number, column in enumerate(columns):
        best = [best_of(study, asked, column, groups.get((cell,), [])) for cell in cells]
        values = np.array([math.nan if done is None else done.row[column] for done in best])
        values = units.factor(asked.unit) * values
        colour, dashes, mark = LINES[number % len(LINES)]
        axes.plot(
            at, values, marker=mark, markersize=5.0, linewidth=1.8 if one.numeric else 0.0, linestyle=dashes, zorder=4,
            gid=column, color=colour,
        )  # fmt: skip
        found.append((study.plan.cases[number] if several else "", values))
    _name_lines(axes, at, found)
    if not one.numeric:
        axes.set_xticks(at, [as_text(cell) for cell in cells])
        axes.set_xlim(-0.5, len(cells) - 0.5)
    axes.margins(x=0.06, y=0.18)
    _mark_best_point(axes, study, asked, one, units, dict(zip(cells, at, strict=True)))
    _mark_refused(axes, at, cells, groups)
    name_axes(axes, parameter_label(one, units), measure_label(asked, units))
    dress(axes, grid="y")
    return axes


def _name_lines(axes: Axes, at: Array, found: list[tuple[str, Array]]) -> None:
    """Write at its last point what each line is."""
    for number, (name, values) in enumerate(found):
        known = np.flatnonzero(np.isfinite(values))
        if name and len(known):
            axes.annotate(
                name, (at[known[-1]], values[known[-1]]), xytext=(9, 0), textcoords="offset points", va="center",
                fontsize=style.SMALL, color=LINES[number % len(LINES)][0], annotation_clip=False, parse_math=False,
            )  # fmt: skip


def _mark_best_point(
    axes: Axes, study: Study, asked: Asked, one: Parameter, units: StudyUnits, at: dict[Cell, float]
) -> None:
    best = best_of(study, asked, asked.column, study.layouts)
    if best is None:
        return
    place = study.plan.parameters.index(one)
    value = float(best.row[asked.column])
    point = (float(at[best.cells[place]]), units.shown(value, asked.unit))
    ring_with_words(axes, point, f"best: {units.figure(value, asked.unit)}")


def _mark_refused(
    axes: Axes, at: Array, cells: list[Cell], groups: dict[tuple[Cell, ...], list[Done]]
) -> None:
    """Put a cross on the axis where every layout was refused."""
    bad = [x for x, cell in zip(at, cells, strict=True) if all(done.refused for done in groups[(cell,)])]
    if not bad:
        return
    axes.plot(
        bad, [0.02] * len(bad), "x", transform=axes.get_xaxis_transform(), color=style.ALARM, markersize=8,
        markeredgewidth=2.0, clip_on=False, zorder=7, gid="refused",
    )  # fmt: skip
    axes.annotate(
        "refused", (bad[0], 0.02), xycoords=axes.get_xaxis_transform(), xytext=(0, 9), textcoords="offset points",
        ha="center", fontsize=style.SMALL, color=style.ALARM,
    )  # fmt: skip


def _head(
    axes: Axes, study: Study, asked: Asked, chosen: Sequence[Parameter], name: str, title: str | None
) -> None:
    if title == "":
        return
    best = best_of(study, asked, asked.column, study.layouts)
    several = len(study.plan.cases) > 1 and asked.scope == "case"
    what = name[0].upper() + name[1:]
    if several:
        what += " in each load case" if len(chosen) == 1 else " in its worst load case"
    elif asked.scope == "case":
        what += f" in load case: {study.plan.cases[0]}"
    parts: list[str] = []
    if best is not None:
        parts.append(f"best: layout {best.number}")
    if len(study.plan.parameters) > len(chosen):
        parts.append("best of the other parameters")
    if not study.finished:
        parts.append("unfinished")
    write_title(
        axes,
        study.plan.base,
        study.plan.base.name if title is None else title,
        "\n".join([what, *(["; ".join(parts)] if parts else [])]),
    )
