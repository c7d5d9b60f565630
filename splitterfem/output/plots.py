"""Pictures of a splitter in plan view: what is built, the air on it, how far it sags, and how near the ground it comes.

Every function draws on the axes given, or on a figure of its own, and returns the axes. A figure of its own
belongs to nobody else: it is freed with its last reference, ``ax.figure.savefig(...)`` saves it, and a
notebook shows it when the axes end a cell.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path as Outline

from splitterfem.aero import SourceField
from splitterfem.aero import resultant as added_up
from splitterfem.aero.overlap import Area
from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.design import LoadCase, Splitter
from splitterfem.errors import FileError
from splitterfem.model import AirLoad
from splitterfem.model.airload import panel_area, pressure_field
from splitterfem.output import files, style
from splitterfem.output.contours import joined
from splitterfem.output.fieldview import Look, Worst, call_out, draw_contours
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import new_picture
from splitterfem.output.planparts import (
    covered,
    draw_forces,
    draw_legend,
    draw_names,
    draw_ribs,
    draw_supports,
)
from splitterfem.output.planview import (
    Bounds,
    bounds,
    draw_dimensions,
    draw_frame,
    draw_outline,
    draw_surroundings,
    page,
)
from splitterfem.output.style import LengthUnit, Scale, scale_of
from splitterfem.output.wording import words_for
from splitterfem.units import convert

__all__ = ["plot_clearance", "plot_design", "plot_pressure", "plot_sag", "save_picture"]

_KINDS = ("png", "svg", "pdf")
WIDEST, NARROWEST, HIGHEST = 9.0, 5.0, 8.0
"""Sizes in inches of a figure made here: its width, and the height of the plan view in it."""


def plot_sag(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    span: tuple[float, float] | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
) -> Axes:
    """Draw how far the panel sags, as filled contours in plan view with the largest sag called out.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of sag and of sizes.
    step : float, optional
        Sag between contour lines, in `unit`; a round one when left out.
    span : two floats, optional
        Least and greatest sag of the colours, in `unit`, for pictures that are to be compared; widened where
        the panel sags more. Give the same `step` too.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    scale = scale_of(unit)
    worst = Worst(solution.max_sag_at, scale.say(solution.max_sag))
    look = Look("Sag", f"sag, down ({unit})", style.SAG_COLOURS, step, span, title, legend, frame)
    return _plot_field(solution, solution.sag, worst, look, scale, ax)


def plot_clearance(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    span: tuple[float, float] | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
) -> Axes:
    """Draw the gap between the panel's lower face and the ground, with the smallest gap called out.

    The smallest gap counts ribs under the panel; the contours are those of the panel alone.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of the gap and of sizes.
    step : float, optional
        Gap between contour lines, in `unit`; a round one when left out.
    span : two floats, optional
        Least and greatest gap of the colours, in `unit`, for pictures that are to be compared; widened where
        the gap goes beyond. Give the same `step` too.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    scale = scale_of(unit)
    gap = solution.clearance
    text = scale.say(gap.least)
    if gap.under != "panel":
        text += f"\nunder {gap.under}"
    if gap.least <= 0.0:
        text += "\ntouches the ground"
    worst = Worst(gap.at, text)
    bar = f"gap to the ground ({unit})"
    look = Look("Clearance", bar, style.CLEARANCE_COLOURS, step, span, title, legend, frame)
    return _plot_field(solution, gap.field, worst, look, scale, ax)


def plot_pressure(
    splitter: Splitter,
    case: str | LoadCase,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    span: tuple[float, float] | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
    air: AirLoad | None = None,
) -> Axes:
    """Draw the net pressure of a load case in plan view, with its total and its centre called out.

    Taps and grid points are shown where the map has them. Where nothing was measured the map is hatched.

    Parameters
    ----------
    splitter : Splitter
    case : str or LoadCase
        A load case of the splitter by its name, or one of your own.
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of sizes; pressures are in Pa and forces in N with mm, in psf and lbf with in.
    step : float, optional
        Pressure between contour lines, in Pa or psf; a round one when left out.
    span : two floats, optional
        Least and greatest pressure of the colours, in Pa or psf, for pictures that are to be compared; widened
        where the map goes beyond. Give the same `step` too.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.
    air : AirLoad, optional
        Load of a solution of this case, for its total and centre; those of the map itself when left out.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    DesignError
        The case is unknown or has no pressure map.
    FileError
        The file of the map cannot be read.
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    scale = scale_of(unit)
    chosen = splitter.case(case) if isinstance(case, str) else case
    field, area = pressure_field(splitter, chosen), panel_area(splitter)
    if air is None:
        total = added_up(field, area)
        force, at = total.force, (total.x, total.y)
    else:
        force, at = air.downforce, air.centre
    axes = _new_axes(splitter, share=0.84, legend=legend) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    bare = shapely.difference(area, field.covered(area))
    bar = f"net pressure, down ({_PRESSURE_UNITS[unit]})"
    look = Look("Net pressure", bar, style.SAG_COLOURS, step, span, title, legend, frame)
    _draw_pressure(axes, field, area, look, scale)
    draw_outline(axes, splitter, scale)
    marks = [*_draw_measured(axes, field, scale), *_draw_bare(axes, bare, bare.area / area.area, scale)]
    draw_surroundings(axes, box, scale, shown=frame)
    if legend and marks:
        axes.legend(
            *zip(*marks, strict=True), loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=3, **_LEGEND
        )
    _call_out_total(axes, force, at, box, scale)
    if title is None:
        _write_title(axes, splitter, splitter.name, f"Net pressure of the air in load case: {chosen.name}")
    else:
        _write_title(axes, splitter, title, "")
    return axes


def plot_design(
    splitter: Splitter,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    title: str | None = None,
    legend: bool = True,
    names: bool = True,
) -> Axes:
    """Draw what is built in plan view: outline, openings, ribs and supports, with the overall sizes.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of sizes.
    title : str, optional
        In place of the name of the splitter; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    names : bool
        Whether to write the parts' names beside them.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit.
    """
    scale = scale_of(unit)
    axes = _new_axes(splitter, share=0.92, legend=legend) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    draw_outline(axes, splitter, scale, fill=style.SHEET)
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale)
    draw_surroundings(axes, box, scale)
    if legend:
        draw_legend(axes, splitter)
    draw_dimensions(axes, box, scale)
    if names:
        draw_names(axes, splitter, scale)
    _write_title(axes, splitter, splitter.name if title is None else title, "")
    return axes


def save_picture(ax: Axes, path: str | os.PathLike[str], *, dpi: float = 150.0) -> Path:
    """Save the figure of a picture; the file appears whole or not at all.

    Parameters
    ----------
    ax : Axes
        As the functions above return it.
    path : path
        Its ending says the kind: ``.png``, ``.svg`` or ``.pdf``. An existing file is replaced.
    dpi : float
        Pixels to the inch of a PNG.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        Another ending, or the file cannot be written.
    """
    place = Path(path)
    kind = place.suffix.lower().removeprefix(".")
    if kind not in _KINDS:
        raise FileError(
            f"A picture cannot be saved as '{place.name}'; let its name end in .png, .svg or .pdf."
        )
    with files.replaced(place) as temporary:
        ax.get_figure(root=True).savefig(temporary, format=kind, dpi=dpi)  # type: ignore[union-attr]
    return place


def _plot_field(
    solution: Solution, field: Field, worst: Worst, look: Look, scale: Scale, ax: Axes | None
) -> Axes:
    splitter = solution.model.design
    axes = _new_axes(splitter, share=0.84, legend=look.legend) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    taken = covered(splitter, solution.case, scale, worst.at, units_per_point(axes))
    draw_contours(axes, joined(field), look, scale, taken)
    draw_outline(axes, splitter, scale)
    draw_forces(axes, solution.case, scale)
    on_left = worst.at[1] > box.right + 0.5 * box.width and worst.at[0] > box.rear + 0.4 * box.length
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale)
    draw_surroundings(axes, box, scale, shown=look.frame, travel_left=not on_left)
    if look.legend:
        draw_legend(axes, splitter, solution.case)
    call_out(axes, worst, box, scale)
    if look.title is None:
        _write_title(axes, splitter, splitter.name, f"{look.what} in load case: {solution.case.name}")
    else:
        _write_title(axes, splitter, look.title, "")
    return axes


_PRESSURE_UNITS = {"mm": "Pa", "in": "psf"}
_FINENESS = 320
"""Samples of a pressure map over the longer side of the panel: 5 mm on one 1.6 m wide."""

_LEGEND: dict[str, Any] = {
    "frameon": False,
    "fontsize": style.SMALL,
    "handlelength": 2.0,
    "columnspacing": 1.4,
}
_MARKS = ("o", "^", "v", "s")


def _draw_pressure(ax: Axes, field: SourceField, area: Area, look: Look, scale: Scale) -> None:
    """Draw contours of the map over the panel, clipped at its edge."""
    x0, y0, x1, y1 = area.bounds
    step = max(x1 - x0, y1 - y0) / _FINENESS
    x, y = (np.linspace(low, high, 2 + int((high - low) / step)) for low, high in ((x0, x1), (y0, y1)))
    X, Y = np.meshgrid(x, y, indexing="ij")
    near = shapely.dwithin(area, shapely.points(X, Y), 2.0 * step)
    number = np.cumsum(near).reshape(near.shape) - 1
    corners = [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]]
    whole = near[:-1, :-1] & near[1:, :-1] & near[1:, 1:] & near[:-1, 1:]
    halves = [np.column_stack([corners[k][whole] for k in three]) for three in ((0, 1, 2), (0, 2, 3))]
    pressure = convert(1.0, _PRESSURE_UNITS[scale.unit], dimension="pressure") * field.at(X[near], Y[near])
    # contours scale the values of a field like its places, for most fields are lengths
    shown = Field(X[near], Y[near], np.concatenate(halves), pressure / scale.per_metre)
    per_point = units_per_point(ax)
    marks = [places for _, places in field.marks()]
    dots = shapely.multipoints(page(np.concatenate(marks), scale)) if marks else shapely.MultiPoint()
    off = shapely.difference(shapely.box(*area.buffer(10.0 * step).bounds), area)
    taken = shapely.union(shapely.transform(off, lambda c: page(c, scale)), dots.buffer(2.0 * per_point))
    before = set(ax.collections)
    draw_contours(ax, shown, look, scale, taken)
    for drawn in set(ax.collections) - before:
        drawn.set_clip_path(_path(area, scale), transform=ax.transData)


def _draw_measured(ax: Axes, field: SourceField, scale: Scale) -> list[tuple[Artist, str]]:
    """Draw a small mark at every place with a value of its own."""
    entries: list[tuple[Artist, str]] = []
    for shape, (kind, places) in zip(_MARKS, field.marks(), strict=False):
        looks: dict[str, Any] = {
            "marker": shape,
            "markersize": 3.2 if len(places) < 500 else 1.4,
            "markerfacecolor": style.PAPER,
            "markeredgecolor": style.INK,
            "markeredgewidth": 0.7,
            "linestyle": "none",
        }
        ax.plot(*page(places, scale).T, zorder=6, gid=f"{kind} places", **looks)
        entries.append((Line2D([], [], **looks), kind))
    return entries


def _draw_bare(ax: Axes, bare: Area, share: float, scale: Scale) -> list[tuple[Artist, str]]:
    """Hatch the part of the panel on which nothing was measured."""
    if share < 1e-4:
        return []
    looks: dict[str, Any] = {"facecolor": (1.0, 1.0, 1.0, 0.5), "edgecolor": style.QUIET, "hatch": "\\\\\\"}
    ax.add_patch(PathPatch(_path(bare, scale), linewidth=0.6, zorder=2.8, gid="not measured", **looks))
    words = f"not measured, taken from the map's edge: {100.0 * share:.0f} % of the panel"
    return [(Patch(**looks), words)]


def _path(area: Area, scale: Scale) -> Outline:
    """Outline of an area on the page, holes included."""
    rings = shapely.get_rings(shapely.get_parts(area))
    return Outline.make_compound_path(
        *(Outline(page(shapely.get_coordinates(r), scale), closed=True) for r in rings)
    )


def _call_out_total(ax: Axes, force: float, at: tuple[float, float], box: Bounds, scale: Scale) -> None:
    """Mark the centre of pressure and write the total behind the panel, where it hides nothing of the map."""
    words, per = words_for("us" if scale.unit == "in" else "metric"), scale.per_metre
    x, y = at if np.isfinite(at[0]) else (0.0, 0.0)
    room = box.margin
    seen = box.rear - room < x < box.front + room and box.right - room < y < box.left + room
    text = "no net force: suction and pressure cancel"
    if np.isfinite(at[0]):
        total = f"{words.with_unit(abs(force), words.force, 0)} {'down' if force > 0.0 else 'up'}"
        text = f"{total}, centre {'of pressure' if seen else 'off the panel'} at x, y {words.place(at)} {scale.unit}"
    shown = seen and bool(np.isfinite(at[0]))
    if shown:
        looks: dict[str, Any] = {
            "color": style.ALARM,
            "markerfacecolor": "none",
            "linestyle": "none",
            "zorder": 10,
        }
        for marker, size in (("o", 13.0), ("+", 19.0)):
            ax.plot([y * per], [x * per], marker, ms=size, mew=2.4, gid="centre of pressure", **looks)
    ax.annotate(
        text,
        xy=(y * per, x * per) if shown else (0.0, 0.0),
        xytext=(box.left * per, (box.rear - 0.5 * box.margin) * per),
        ha="left",
        va="center",
        fontsize=11,
        fontweight="bold",
        color=style.ALARM,
        parse_math=False,
        zorder=11,
        annotation_clip=False,
        gid="call-out",
        bbox={
            "boxstyle": "round,pad=0.3",
            "facecolor": style.PAPER,
            "edgecolor": style.ALARM,
            "linewidth": 1.4,
        },
        arrowprops={"arrowstyle": "-", "color": style.ALARM, "linewidth": 1.6, "shrinkB": 7}
        if shown
        else None,
    )


def _new_axes(splitter: Splitter, *, share: float, legend: bool) -> Axes:
    """Make axes on a figure that pyplot does not know, as high as the panel needs in its width."""
    box = bounds(splitter)
    ratio = (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin)
    width = float(np.clip(HIGHEST / (share * ratio), NARROWEST, WIDEST))
    height = share * width * ratio + (1.6 if legend else 1.2)
    return new_picture(width, height)


def _write_title(ax: Axes, splitter: Splitter, name: str, subject: str) -> None:
    """Write the title in two lines; data that were made up are called so."""
    if not name:
        return
    second = [text for text in (subject, "invented data" if splitter.invented else "") if text]
    ax.set_title(
        "\n".join([name, "; ".join(second)] if second else [name]),
        loc="left",
        fontsize=11,
        color=style.INK,
        parse_math=False,
    )
