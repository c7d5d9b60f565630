"""Figures that belong to nobody but their axes, and that a notebook shows."""

from __future__ import annotations

import contextlib
import io
import textwrap
from collections.abc import Collection, Iterator
from typing import Any, Literal, cast

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.origin import is_signed, sign
from splitterfem.output.planview import bounds

NOTEBOOK_DPI = 100.0

LEGEND_ROW = 0.19
"""Inches of a row of a legend."""

TITLE, LETTER = 11.0, 0.56
"""Points of the title's type, and width of a letter over that."""

WIDEST, NARROWEST, HIGHEST = 9.0, 5.0, 8.0
"""Sizes in inches of a figure of a plan view: its width, and the height of the plan view in it."""


class Picture(Axes):
    """Axes of a figure of their own; at the end of a cell a notebook shows the figure.

    pyplot does not know the figure, so that it is freed with its last reference.
    """

    def _repr_png_(self) -> bytes:
        """Draw the figure as PNG; notebooks ask for it by this name."""
        return png_of(self)


def png_of(ax: Axes) -> bytes:
    """Draw the figure of axes as PNG, as notebooks show it."""
    stream = io.BytesIO()
    figure = ax.get_figure(root=True)
    assert figure is not None
    figure.savefig(stream, format="png", dpi=NOTEBOOK_DPI)
    return stream.getvalue()


@contextlib.contextmanager
def steady() -> Iterator[None]:
    """Write files of pictures without anything that changes from one run to the next."""
    with matplotlib.rc_context({"svg.hashsalt": "splitterfem"}):
        yield


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


def write_title(
    ax: Axes, splitter: Splitter, name: str, subject: str, *, pad: float | None = None, x: float | None = None
) -> None:
    """Write the title, splitter over subject; data that were made up are called so, long lines are broken.

    ``pad`` is its distance above the axes in points, ``x`` where it begins as a share of their width.
    """
    figure = ax.get_figure(root=True)
    if not is_signed(figure):
        sign(figure, splitter)
    if not name:
        return
    second = "; ".join(text for text in (subject, "invented data" if splitter.invented else "") if text)
    assert figure is not None
    letters = max(24, int(0.92 * 72.0 * figure.get_figwidth() / (LETTER * TITLE)))
    lines = [
        line
        for text in (name, *second.split("\n"))
        if text
        for line in textwrap.wrap(text, letters) or [text]
    ]
    look: dict[str, Any] = {"fontsize": TITLE, "color": style.INK, "parse_math": False}
    if x is not None:
        look["x"] = x
    ax.set_title("\n".join(lines), loc="left", pad=pad, **look)


def dress(
    ax: Axes, *, grid: Literal["", "y", "both"] = "", sides: Collection[str] = ("left", "bottom")
) -> None:
    """Give a diagram the ticks, the grid and the sides of a frame that all of them have."""
    if grid:
        ax.grid(True, axis=grid, color=style.GRID, linewidth=0.8, zorder=0)
        ax.set_axisbelow(True)
    ax.tick_params(labelsize=style.SMALL, colors=style.QUIET, length=2.5)
    for side, spine in ax.spines.items():
        spine.set_visible(side in sides)
        spine.set_color(style.QUIET)


def name_axes(ax: Axes, across: str, up: str) -> None:
    """Write what is drawn to the right and what upwards, each with its unit."""
    ax.set_xlabel(across, loc="left", fontsize=style.TEXT, color=style.INK, parse_math=False)
    ax.set_ylabel(up, fontsize=style.TEXT, color=style.INK, parse_math=False)


def ring_with_words(ax: Axes, at: tuple[float, float], words: str) -> None:
    """Ring a point of a diagram and write on it, with a line to its words; they stand towards the middle."""
    ax.get_xlim()  # brings limits up to date that follow from what is drawn
    right = ax.transData.transform(at)[0] > ax.transAxes.transform((0.5, 0.5))[0]
    low = ax.transData.transform(at)[1] < ax.transAxes.transform((0.5, 0.5))[1]
    ax.plot(
        [at[0]], [at[1]], "o", markersize=12, markerfacecolor="none", markeredgecolor=style.ALARM,
        markeredgewidth=1.8, zorder=6, gid="best",
    )  # fmt: skip
    ax.annotate(
        words, at, xytext=(-18 if right else 18, 22 if low else -22), textcoords="offset points",
        ha="right" if right else "left", va="bottom" if low else "top", fontsize=style.TEXT, **style.CALL_OUT,
        arrowprops={"arrowstyle": "-", "color": style.ALARM, "linewidth": 1.4, "shrinkB": 6},
    )  # fmt: skip
