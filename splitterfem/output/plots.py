"""Pictures of a splitter in plan view: what is built, the air on it, how far it sags, and how near the ground it comes.

Every function draws on the axes given, or on a figure of its own, and returns the axes. A figure of its own
belongs to nobody else: it is freed with its last reference, ``ax.figure.savefig(...)`` saves it, and a
notebook shows it when the axes end a cell.
"""

from __future__ import annotations

import os
from pathlib import Path

import shapely
from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.design import Splitter
from splitterfem.errors import FileError
from splitterfem.output import files, style
from splitterfem.output.contact_words import slack
from splitterfem.output.contactmarks import contact_entries, draw_contacts, ground_areas
from splitterfem.output.contours import joined
from splitterfem.output.fieldview import Look, Worst, call_out, draw_contours
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import plan_axes, write_title
from splitterfem.output.plannames import draw_names
from splitterfem.output.planparts import (
    covered,
    draw_forces,
    draw_legend,
    draw_ribs,
    draw_supports,
    legend_rows,
)
from splitterfem.output.planview import draw_dimensions, draw_frame, draw_outline, draw_surroundings
from splitterfem.output.pressureview import plot_pressure
from splitterfem.output.style import LengthUnit, Scale, scale_of

__all__ = ["plot_clearance", "plot_design", "plot_pressure", "plot_sag", "save_picture"]

_KINDS = ("png", "svg", "pdf")


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

    Lips of pockets and stops that the panel touches, slack struts, and what lies on the ground are marked.

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

    The smallest gap counts ribs under the panel; the contours are those of the panel alone. Lips of pockets and stops
    that the panel touches, slack struts, and what lies on the ground are marked.

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
    if solution.ground.touches:
        text += "\nlies on the ground"
    elif gap.least <= 0.0:
        text += "\ntouches the ground" if solution.case.ground else "\nbelow the ground"
    worst = Worst(gap.at, text)
    bar = f"gap to the ground ({unit})"
    look = Look("Clearance", bar, style.CLEARANCE_COLOURS, step, span, title, legend, frame)
    return _plot_field(solution, gap.field, worst, look, scale, ax)


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
    axes = plan_axes(splitter, share=0.92, legend=int(legend)) if ax is None else ax
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
    write_title(axes, splitter, splitter.name if title is None else title, "")
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
    touched = contact_entries(solution)
    rows = legend_rows(splitter, solution.case, len(touched)) if look.legend else 0
    axes = plan_axes(splitter, share=0.84, legend=rows) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    per_point = units_per_point(axes)
    patches = [area for _, area in ground_areas(solution, scale, per_point)]
    taken = shapely.union_all([covered(splitter, solution.case, scale, worst.at, per_point), *patches])
    draw_contours(axes, joined(field), look, scale, taken)
    draw_outline(axes, splitter, scale)
    draw_forces(axes, solution.case, scale)
    on_left = worst.at[1] > box.right + 0.5 * box.width and worst.at[0] > box.rear + 0.4 * box.length
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale, slack=slack(solution))
    draw_contacts(axes, solution, scale, per_point)
    behind_right = worst.at[1] < box.right + 0.5 * box.width and worst.at[0] < box.rear + 0.3 * box.length
    sides = {"travel_left": not on_left, "scale_right": not behind_right}
    draw_surroundings(axes, box, scale, shown=look.frame, **sides)
    if look.legend:
        draw_legend(axes, splitter, solution.case, more=touched)
    call_out(axes, worst, box, scale)
    if look.title is None:
        write_title(axes, splitter, splitter.name, f"{look.what} in load case: {solution.case.name}")
    else:
        write_title(axes, splitter, look.title, "")
    return axes
