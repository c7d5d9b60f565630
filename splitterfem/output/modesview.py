"""Shapes of natural vibrations and of buckling, side by side in plan view."""

from __future__ import annotations

import textwrap
from typing import Any, Literal

from matplotlib.axes import Axes

from splitterfem.analysis.buckling import CAUTION, Buckling
from splitterfem.analysis.excitations import design_speeds, excitations, near_words
from splitterfem.analysis.modes import Modes
from splitterfem.output import style
from splitterfem.output.shapegrid import FOOT, WIDTH, Shape, grid_of, plot_shapes

__all__ = ["plot_buckling", "plot_modes"]


def plot_modes(
    modes: Modes,
    ax: Axes | None = None,
    *,
    unit: Literal["km/h", "mph"] = "km/h",
    title: str | None = None,
    columns: int | None = None,
    width: float = WIDTH,
) -> Axes:
    """Draw the shapes of natural vibrations side by side, each with its frequency.

    Colours say how far each place swings, over the largest swing of that shape, and which way: when brown goes up,
    blue goes down, and half a period later the other way round. Bold lines stay still; thin ones are full where it is
    brown and broken where it is blue.

    Parameters
    ----------
    modes : Modes
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    unit : {"km/h", "mph"}
        Of the speeds over what may shake the panel.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    columns : int, optional
        Shapes in a row.
    width : float
        Of a new figure, in inches.

    Returns
    -------
    Axes
        Those that hold all; ``child_axes`` are those of the shapes, in order, and of the colour bar.
    """
    shaking = excitations(design_speeds(modes.model.design), unit=unit)
    shapes = [
        Shape(shape, f"{number}   {_hertz(frequency)}", near_words(frequency, shaking))
        for number, (shape, frequency) in enumerate(
            zip(modes.shapes, modes.frequencies, strict=True), start=1
        )
    ]
    bar = "swing, as a share of the largest: brown goes up while blue goes down, then the other way"
    subject = f"Natural vibrations about load case: {modes.case}"
    grid = grid_of(modes.model.design, shapes, columns, width)
    return plot_shapes(modes.model.design, shapes, grid, bar, subject, title, ax)


def plot_buckling(
    buckling: Buckling,
    ax: Axes | None = None,
    *,
    title: str | None = None,
    columns: int | None = None,
    width: float = WIDTH,
    caution: bool = True,
) -> Axes:
    """Draw the shapes in which a panel buckles side by side, each with its factor on the load.

    Parameters
    ----------
    buckling : Buckling
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    columns : int, optional
        Shapes in a row.
    width : float
        Of a new figure, in inches.
    caution : bool
        Whether to write below what a factor is worth; for pages that say it themselves.

    Returns
    -------
    Axes
        Those that hold all; ``child_axes`` are those of the shapes, in order, and of the colour bar.
    """
    shapes = [
        Shape(shape, f"{number}   {factor:.1f} × the load", "")
        for number, (shape, factor) in enumerate(zip(buckling.shapes, buckling.factors, strict=True), start=1)
    ]
    bar = "bow, as a share of the largest: brown and blue bow to opposite sides"
    subject = f"Buckling under load case: {buckling.case}"
    design, foot = buckling.model.design, FOOT if caution else 0.0
    axes = plot_shapes(
        design, shapes, grid_of(design, shapes, columns, width), bar, subject, title, ax, foot=foot
    )
    if not shapes:
        axes.text(
            0.5, 0.5, buckling.notes[0], ha="center", va="center", fontsize=style.TEXT, parse_math=False
        )
    if caution:
        said = textwrap.fill(CAUTION, int(15.0 * width))
        look: dict[str, Any] = {
            "fontsize": style.SMALL,
            "fontweight": "bold",
            "color": style.INK,
            "gid": "caution",
        }
        axes.annotate(
            said,
            (0.0, 0.0),
            xytext=(0, -8),
            textcoords="offset points",
            va="top",
            annotation_clip=False,
            **look,
        )
    return axes


def _hertz(frequency: float) -> str:
    return f"{frequency:.1f} Hz" if frequency > 0.0 else "diverges"
