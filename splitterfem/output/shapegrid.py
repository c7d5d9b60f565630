"""Shapes of a panel side by side in plan view, all in the colours of one bar."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.tri import Triangulation

from splitterfem import curves
from splitterfem.analysis.fields import Field
from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.colours import SIGNED, map_of
from splitterfem.output.contours import joined
from splitterfem.output.picture import new_picture, write_title
from splitterfem.output.planparts import draw_ribs, draw_supports
from splitterfem.output.planview import CHORD, bounds, page
from splitterfem.output.style import scale_of

LEVELS = np.linspace(-1.0, 1.0, 21)
"""Shares of the largest motion: the same in every picture, zero in the middle and a level itself."""

TELLING = np.array([0.25, 0.5, 0.75])
"""Shares at which thin lines stand, broken ones at their opposites: in grey nothing else tells the two sides apart."""

STILL = 0.02
"""Lines of no motion that bound less than this are rounding and are left out."""

WIDTH, BAR = 9.0, 0.62
"""Inches: of all shapes unless another width is asked for, and under them for the colour bar."""
TITLE, REMARK, LINE = 0.24, 0.22, 0.125
"""Inches over each shape for its headline, for its remark where any has one, and for each further line of remarks."""
HEAD, FOOT, MARGIN = 0.55, 0.5, 0.1
"""Inches of a figure: over the shapes for its title, under them for the caution, and all round."""
GAP = 0.03
"""Between shapes, as a share of the width."""
THIN, SMALL_MARK = 0.7, 3.0
"""Points: lines and marks of parts, so that the shapes stay in the foreground."""


@dataclass(frozen=True)
class Shape:
    """A shape with what is written over it: the figure that it is about, and what there is to say of it."""

    field: Field
    headline: str
    remark: str


@dataclass(frozen=True)
class Grid:
    """Where the shapes stand on a figure: numbers of columns and rows, sizes in inches."""

    width: float
    columns: int
    rows: int
    cell: float
    height: float
    title: float

    @property
    def total(self) -> float:
        """Height of all, colour bar included."""
        return self.rows * (self.height + self.title) + BAR

    def place(self, index: int) -> tuple[float, float, float, float]:
        """Left, bottom, width and height of a shape as shares of all."""
        row, column = divmod(index, self.columns)
        top = self.total - row * (self.height + self.title) - self.title
        left = column * (1.0 + GAP) / (self.columns + (self.columns - 1) * GAP)
        return left, (top - self.height) / self.total, self.cell / self.width, self.height / self.total


def grid_of(splitter: Splitter, shapes: Sequence[Shape], columns: int | None, width: float) -> Grid:
    """Share a width in inches among shapes, as many in a row as are asked for or as look well."""
    box, count = bounds(splitter), len(shapes)
    wide = columns or (2 if count == 4 else min(count or 3, 3))
    cell = width / (wide + (wide - 1) * GAP)
    lines = max((len(_broken(shape.remark, cell)) for shape in shapes), default=0)
    title = TITLE + (REMARK + (lines - 1) * LINE if lines else 0.0)
    return Grid(width, wide, max(1, math.ceil(count / wide)), cell, cell * box.length / box.width, title)


def _new_axes(grid: Grid, head: float, foot: float) -> Axes:
    """Make axes on a figure of their own, with just the room that the grid, title and caution need."""
    width, height = grid.width + 2.0 * MARGIN, grid.total + head + foot + 2.0 * MARGIN
    axes = new_picture(width, height)
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.set_layout_engine("none")
    axes.set_position((MARGIN / width, (foot + MARGIN) / height, grid.width / width, grid.total / height))
    return axes


def plot_shapes(
    splitter: Splitter,
    shapes: Sequence[Shape],
    grid: Grid,
    bar: str,
    subject: str,
    title: str | None,
    ax: Axes | None,
    *,
    foot: float = 0.0,
) -> Axes:
    """Draw shapes of a splitter side by side.

    Parameters
    ----------
    splitter : Splitter
    shapes : sequence of Shape
    grid : Grid
        Where they stand.
    bar : str
        Words under the colour bar.
    subject : str
        Second line of the title, unless there is one of one's own.
    title : str, optional
        In place of the name of the splitter and the subject; empty for none.
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    foot : float
        Inches to leave empty under the colour bar of a new figure.
    """
    axes = _new_axes(grid, 0.0 if title == "" else HEAD, foot) if ax is None else ax
    axes.set_axis_off()
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    for index, shape in enumerate(shapes):
        _draw_shape(axes.inset_axes(grid.place(index)), splitter, shape, grid.cell)
    if shapes:
        _draw_bar(axes, grid, bar)
    if title is None:
        write_title(axes, splitter, splitter.name, subject)
    else:
        write_title(axes, splitter, title, "")
    return axes


def _draw_shape(ax: Axes, splitter: Splitter, shape: Shape, width: float) -> None:
    """Draw one shape with its line of no motion, and the parts over it."""
    scale, box = scale_of("mm"), bounds(splitter)
    per, field = scale.per_metre, joined(shape.field)
    mesh = Triangulation(field.y * per, field.x * per, field.triangles)
    filled = ax.tricontourf(mesh, field.values, levels=LEVELS, cmap=map_of(SIGNED), extend="both", zorder=2)
    filled.set_gid("shape")
    look: dict[str, Any] = {"colors": style.INK, "linewidths": THIN, "zorder": 2.4}
    for levels, dashes in ((TELLING, "-"), (-TELLING[::-1], (0, (4, 3)))):
        if field.values.min() < levels[-1] and field.values.max() > levels[0]:
            ax.tricontour(mesh, field.values, levels=levels, linestyles=[dashes], **look)
    if field.values.min() < -STILL and field.values.max() > STILL:
        still = ax.tricontour(mesh, field.values, levels=[0.0], colors=style.INK, linewidths=1.3, zorder=2.5)
        still.set_gid("still")
    for name, loop in (("outline", splitter.panel.outline.loop()), *splitter.panel.holes()):
        face = "none" if name == "outline" else style.PAPER
        corners = page(curves.flatten(loop, CHORD), scale)
        ax.add_patch(Polygon(corners, facecolor=face, edgecolor=style.INK, linewidth=1.0, zorder=3))
    _draw_parts(ax, splitter)
    edge = 0.01 * box.width
    ax.set(
        aspect="equal",
        xlim=((box.left + edge) * per, (box.right - edge) * per),
        ylim=((box.rear - edge) * per, (box.front + edge) * per),
    )
    ax.set_axis_off()
    _write(ax, shape, width)


def _draw_parts(ax: Axes, splitter: Splitter) -> None:
    """Draw ribs and supports thin and without fill."""
    scale, known = scale_of("mm"), set(ax.get_children())
    draw_ribs(ax, splitter, scale)
    draw_supports(ax, splitter, scale)
    for artist in set(ax.get_children()) - known:
        if isinstance(artist, Polygon):
            artist.set(facecolor="none", hatch=None, linewidth=THIN)
        elif isinstance(artist, Line2D):
            artist.set(linewidth=THIN, markersize=SMALL_MARK, markeredgewidth=THIN)


def _write(ax: Axes, shape: Shape, width: float) -> None:
    """Write headline and remark over a shape."""
    common: dict[str, Any] = {
        "xycoords": "axes fraction",
        "textcoords": "offset points",
        "annotation_clip": False,
    }
    lines = _broken(shape.remark, width)
    ax.annotate(
        shape.headline,
        (0.0, 1.0),
        xytext=(0.0, 3.0 + 72.0 * LINE * len(lines)),
        fontsize=10.5,
        fontweight="bold",
        color=style.INK,
        gid="headline",
        **common,
    )
    for number, line in enumerate(reversed(lines)):
        ax.annotate(
            line,
            (0.0, 1.0),
            xytext=(0.0, 3.0 + 72.0 * LINE * number),
            fontsize=7.2,
            color=style.ALARM if shape.remark.startswith("in ") else style.QUIET,
            gid="remark",
            **common,
        )


def _broken(text: str, width: float) -> list[str]:
    """Break a remark into lines that fit over a shape."""
    return textwrap.wrap(text, max(20, int(width * 72.0 / 3.7)), max_lines=2, placeholder=" ...")


def _draw_bar(ax: Axes, grid: Grid, words: str) -> None:
    """Draw the colour bar under all shapes, and say how they are seen."""
    share = BAR / grid.total
    place = ax.inset_axes((0.27, 0.58 * share, 0.46, 0.2 * share))
    figure = ax.get_figure(root=True)
    assert figure is not None
    norm = BoundaryNorm(LEVELS, 256)
    bar = figure.colorbar(ScalarMappable(norm=norm, cmap=map_of(SIGNED)), cax=place, orientation="horizontal")
    bar.set_ticks([-1.0, -0.5, 0.0, 0.5, 1.0])
    bar.ax.tick_params(labelsize=style.SMALL, length=2)
    bar.set_label(f"{words}; bold lines stay still", fontsize=style.SMALL)
    ax.text(
        0.0, 0.6 * share, "seen from above,\ndriving up the page", fontsize=style.SMALL, color=style.QUIET
    )
