"""Pictures of a splitter in plan view: what is built, the air on it, how far it sags, and how near the ground it comes.

Every function draws on the axes given, or on a figure of its own, and returns the axes. A figure of its own
belongs to nobody else: it is freed with its last reference, ``ax.figure.savefig(...)`` saves it, and a
notebook shows it when the axes end a cell.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Unpack

from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.design import Splitter
from splitterfem.errors import FileError
from splitterfem.output import files, style
from splitterfem.output.fieldpicture import clearance_sight, plot_sight, sag_sight
from splitterfem.output.origin import signed
from splitterfem.output.picture import steady
from splitterfem.output.plannames import draw_names
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
    return plot_sight(sag_sight(solution, manner.scale, step=step, span=span), manner, ax)


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
    return plot_sight(clearance_sight(solution, manner.scale, step=step, span=span), manner, ax)


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
    """Save the figure of a picture; the file appears whole or not at all, and says what it was made of.

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
    figure = ax.get_figure(root=True)
    assert figure is not None
    with files.replaced(place) as temporary, steady():
        figure.savefig(temporary, format=kind, dpi=dpi, metadata=_notes(kind, signed(figure)))
    return place


def _notes(kind: str, made_by: str) -> dict[str, str | None]:
    """Return what a picture's file says: what it was made of, and no time, so that it is the same every time."""
    if kind == "png":  # keywords of the PNG specification, 11.3.3
        return {"Software": made_by}
    if kind == "svg":  # terms of Dublin Core
        return {"Creator": made_by, "Date": None}
    return {"Creator": made_by, "CreationDate": None}
