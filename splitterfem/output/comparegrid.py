"""Where the pictures of a comparison stand on their figure, and their axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.transforms import BboxBase

from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.picture import new_picture
from splitterfem.output.planview import Bounds, bounds, draw_frame
from splitterfem.output.style import Scale

Place = tuple[float, float, float, float]
"""Left, bottom, width and height as shares of all."""

WIDTH, BAR, GAP = 11.0, 0.85, 0.25
"""Inches: width of a figure, room of the colour bars, and between the two columns."""
NAME, HEAD, FOOT, MARGIN = 0.42, 0.62, 0.75, 0.12
"""Inches: over each picture for its name, over all for the title, under all for the legend, and round everything."""


@dataclass(frozen=True)
class Grid:
    """Where pictures stand: two columns, those of the designs over those of the differences; sizes in inches."""

    designs: int
    cell: float
    height: float

    @property
    def above(self) -> int:
        """Rows of designs."""
        return -(-self.designs // 2)

    @property
    def rows(self) -> int:
        """Rows of all; the figures stand behind the last difference."""
        return self.above + -(-self.designs // 2)

    @property
    def total(self) -> float:
        """Height of all."""
        return self.rows * (self.height + NAME)

    def place(self, index: int, *, below: bool) -> Place:
        """Left, bottom, width and height of a picture as shares of all."""
        row, column = divmod(index, 2)
        top = self.total - (row + (self.above if below else 0)) * (self.height + NAME) - NAME
        whole = WIDTH - 2.0 * MARGIN
        return (
            column * (self.cell + GAP) / whole,
            (top - self.height) / self.total,
            self.cell / whole,
            self.height / self.total,
        )

    def bar(self, *, below: bool) -> Place:
        """Place of a colour bar beside the first row of designs, or of differences."""
        _, bottom, _, height = self.place(0, below=below)
        alone = below and self.designs == 2  # the figures stand behind it
        start = (self.cell if alone else 2.0 * self.cell + GAP) + 0.12
        return start / (WIDTH - 2.0 * MARGIN), bottom + 0.1 * height, 0.016, 0.8 * height


def new_axes(grid: Grid, *, title: bool, legend: bool) -> Axes:
    """Make axes on a figure of their own, with just the room that the grid, title and legend need."""
    head, foot = HEAD * title, FOOT * legend
    height = grid.total + head + foot + 2.0 * MARGIN
    axes = new_picture(WIDTH, height)
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.set_layout_engine("none")
    axes.set_position(
        (MARGIN / WIDTH, (foot + MARGIN) / height, 1.0 - 2.0 * MARGIN / WIDTH, grid.total / height)
    )
    return axes


def common_bounds(designs: Sequence[Splitter]) -> Bounds:
    """Extent of all panels together, so that all are drawn to one scale."""
    boxes = [bounds(design) for design in designs]
    return Bounds(
        min(box.rear for box in boxes),
        max(box.front for box in boxes),
        min(box.right for box in boxes),
        max(box.left for box in boxes),
    )


def plain_axes(axes: Axes, place: Place) -> Axes:
    """Make axes within others whose position is known before they are drawn."""
    inner = axes.inset_axes(place)
    locator = inner.get_axes_locator()
    assert locator is not None
    where: BboxBase = locator(inner, None)  # type: ignore[arg-type]
    inner.set_position(where.frozen())
    return inner


def plan_within(axes: Axes, place: Place, splitter: Splitter, box: Bounds, scale: Scale) -> Axes:
    """Make axes of a plan view within others, of the same extent for all designs."""
    inner, per, room = plain_axes(axes, place), scale.per_metre, box.margin
    draw_frame(inner, splitter, scale)
    inner.set_xlim((box.left + room) * per, (box.right - room) * per)
    inner.set_ylim((box.rear - room) * per, (box.front + room) * per)
    inner.set_axis_off()
    return inner


def write_name(ax: Axes, name: str, remark: str) -> None:
    """Write over a picture what it is of, and what there is to say of it."""
    look: dict[str, Any] = {
        "xycoords": "axes fraction",
        "textcoords": "offset points",
        "annotation_clip": False,
        "va": "bottom",
    }
    ax.annotate(
        name, (0.0, 1.0), xytext=(2, 2), fontsize=10.5, fontweight="bold", color=style.INK, gid="name",
        parse_math=False, **look,
    )  # fmt: skip
    ax.annotate(
        remark, (1.0, 1.0), xytext=(-2, 2), fontsize=style.TEXT, color=style.INK, ha="right", gid="remark",
        **look,
    )  # fmt: skip
