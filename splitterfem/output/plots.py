"""Pictures of a splitter in plan view: what is built, the air on it, how far it sags, and how near the ground it comes.

Every function draws on the axes given, or on a figure of its own, and returns the axes. A figure of its own
belongs to nobody else: it is freed with its last reference, ``ax.figure.savefig(...)`` saves it, and a
notebook shows it when the axes end a cell.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Unpack

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
from splitterfem.output.plannames import draw_names
from splitterfem.output.planparts import covered, draw_forces
from splitterfem.output.planpicture import Manner, PlanOptions, plan_of
from splitterfem.output.planview import draw_dimensions, draw_surroundings
from splitterfem.output.pressureview import plot_pressure

__all__ = ["plot_clearance", "plot_design", "plot_pressure", "plot_sag", "save_picture"]

_KINDS = ("png", "svg", "pdf")


def plot_sag(
    solution: Solution,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    span: tuple[float, float] | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw how far the panel sags, as filled contours in plan view with the largest sag called out.

    Lips of pockets and stops that the panel touches, slack struts, and what lies on the ground are marked.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    step : float, optional
        Sag between contour lines, in the unit of the picture; a round one when left out.
    span : two floats, optional
        Least and greatest sag of the colours, in that unit, for pictures that are to be compared; widened where the
        panel sags more. Give the same `step` too.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    manner = Manner(**options)
    worst = Worst(solution.max_sag_at, manner.scale.say(solution.max_sag))
    look = Look(f"sag, down ({manner.unit})", style.SAG_COLOURS, step, span)
    hint = "Dark sags most. The ring marks the worst place: brace it there first."
    return plot_field(solution, solution.sag, worst, look, "Sag", manner, ax, hint=hint)


def plot_clearance(
    solution: Solution,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    span: tuple[float, float] | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw the gap between the panel's lower face and the ground, with the smallest gap called out.

    The smallest gap counts ribs under the panel; the contours are those of the panel alone. Marks, parameters and
    errors are those of :func:`plot_sag`, with the gap in place of the sag.
    """
    manner = Manner(**options)
    gap = solution.clearance
    text = manner.scale.say(gap.least)
    if gap.under != "panel":
        text += f"\nunder {gap.under}"
    if solution.ground.touches:
        text += "\nlies on the ground"
    elif gap.least <= 0.0:
        text += "\ntouches the ground" if solution.case.ground else "\nbelow the ground"
    look = Look(f"gap to the ground ({manner.unit})", style.CLEARANCE_COLOURS, step, span)
    hint = "Dark is nearest to the ground. The ring marks the smallest gap."
    return plot_field(solution, gap.field, Worst(gap.at, text), look, "Clearance", manner, ax, hint=hint)


def plot_design(
    splitter: Splitter, ax: Axes | None = None, *, names: bool = True, **options: Unpack[PlanOptions]
) -> Axes:
    """Draw what is built in plan view: outline, openings, ribs and supports, with the overall sizes.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    names : bool
        Whether to write the parts' names beside them.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    UnitError
        Another unit.
    """
    plan = plan_of(splitter, ax, Manner(**options), share=0.92)
    plan.draw_parts(fill=style.SHEET)
    if plan.manner.frame:
        draw_surroundings(plan.ax, plan.box, plan.scale)
        draw_dimensions(plan.ax, plan.box, plan.scale)
    if names:
        draw_names(plan.ax, splitter, plan.scale)
    plan.finish("What is built, seen from above")
    return plan.ax


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


def plot_field(
    solution: Solution,
    field: Field,
    worst: Worst,
    look: Look,
    what: str,
    manner: Manner,
    ax: Axes | None,
    *,
    hint: str = "",
) -> Axes:
    """Draw a field of a solution in plan view with its parts, what they touch, and the worst point.

    Parameters
    ----------
    solution : Solution
    field : Field
        Over the panel, in m or so that the scale of the picture turns it into the field's own unit.
    worst : Worst
    look : Look
    what : str
        It is of, for the title.
    manner : Manner
    ax : Axes, optional
    hint : str
        One sentence on what the eye should find.
    """
    case = solution.case
    touched = contact_entries(solution)
    plan = plan_of(solution.model.design, ax, manner, hint=hint, case=case, more=touched)
    axes, box, scale = plan.ax, plan.box, plan.scale
    per_point = plan.per_point
    patches = [area for _, area in ground_areas(solution, scale, per_point)]
    taken = shapely.union_all([covered(plan.splitter, case, scale, worst.at, per_point), *patches])
    draw_contours(axes, joined(field), look, scale, taken)
    plan.draw_parts(slack=slack(solution))
    draw_forces(axes, case, scale)
    draw_contacts(axes, solution, scale, per_point)
    if manner.frame:
        on_left = worst.at[1] > box.right + 0.5 * box.width and worst.at[0] > box.rear + 0.4 * box.length
        behind_right = worst.at[1] < box.right + 0.5 * box.width and worst.at[0] < box.rear + 0.3 * box.length
        draw_surroundings(axes, box, scale, travel_left=not on_left, scale_right=not behind_right)
    plan.finish(f"{what} in load case: {case.name}")
    call_out(axes, worst, box, scale)
    return axes
