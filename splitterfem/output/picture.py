"""Figures that belong to nobody but their axes, and that a notebook shows."""

from __future__ import annotations

import io
from typing import cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.planview import bounds

NOTEBOOK_DPI = 100.0

LEGEND_ROW = 0.19
"""Inches of a row of a legend."""

WIDEST, NARROWEST, HIGHEST = 9.0, 5.0, 8.0
"""Sizes in inches of a figure of a plan view: its width, and the height of the plan view in it."""


class Picture(Axes):
    """Axes of a figure of their own; at the end of a cell a notebook shows the figure.

    pyplot does not know the figure, so that it is freed with its last reference.
    """

    def _repr_png_(self) -> bytes:
        """Draw the figure as PNG; notebooks ask for it by this name."""
        stream = io.BytesIO()
        figure = self.get_figure(root=True)
        assert figure is not None
        figure.savefig(stream, format="png", dpi=NOTEBOOK_DPI)
        return stream.getvalue()


def new_picture(width: float, height: float) -> Picture:
    """Make axes on a figure of their own, its sizes in inches."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return cast(Picture, figure.add_subplot(axes_class=Picture))


def plan_axes(splitter: Splitter, *, share: float, legend: int) -> Axes:
    """Make axes on a figure that pyplot does not know, as high as the panel needs in its width.

    Parameters
    ----------
    splitter : Splitter
    share : float
        Of the figure's width that the plan view has.
    legend : int
        Rows of the legend under it.
    """
    box = bounds(splitter)
    ratio = (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin)
    width = float(np.clip(HIGHEST / (share * ratio), NARROWEST, WIDEST))
    height = share * width * ratio + (1.6 + LEGEND_ROW * (legend - 1) if legend else 1.2)
    return new_picture(width, height)


def write_title(ax: Axes, splitter: Splitter, name: str, subject: str) -> None:
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
