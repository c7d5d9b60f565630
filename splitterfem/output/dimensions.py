"""Drawings to scale: a sheet of paper as axes in millimetres, standard scales, dimension lines and ordinates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from splitterfem.output import style

Array = NDArray[np.float64]
Place = tuple[float, float]
"""A place on the paper in mm, from its lower left corner."""

MM_PER_INCH = 25.4
MM_PER_POINT = MM_PER_INCH / 72.0

SCALES = {
    "metric": (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000),
    "us": (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 384, 768),
}
"""Reductions: those of ISO 5455:1979 (from memory); for inches those that a rule with eighths and twelfths reads,
common practice, no source."""

LETTERS = 6.5
"""Size of the type in points; 2.3 mm, near the 2.5 mm of ISO 3098 (from memory)."""
ROW = 3.3
"""Room in mm that a line of such type needs."""
GAP = 1.2
"""Between what is measured and its extension line, in mm."""

THIN: dict[str, Any] = {"color": style.QUIET, "linewidth": 0.45, "solid_capstyle": "butt"}
"""Extension and dimension lines: thin and full (ISO 128-2, from memory)."""
CHAIN: dict[str, Any] = {"color": style.INK, "linewidth": 0.6, "linestyle": (0, (12, 2.5, 1.5, 2.5))}
"""Lines of symmetry and datum lines: long dashes with dots (ISO 128-2, from memory)."""


PLATE: dict[str, Any] = {"facecolor": style.PAPER, "edgecolor": "none", "boxstyle": "square,pad=0.15"}
"""Paper behind a text that crosses a line."""


@dataclass(frozen=True)
class Sheet:
    """Where the panel lies on the paper: the origin of the car in mm, and millimetres of paper to a metre."""

    ax: Axes
    origin: tuple[float, float]
    per_metre: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Place on the paper of a point of the car in m; y to the left, x up."""
        return self.origin[0] - y * self.per_metre, self.origin[1] + x * self.per_metre

    def path(self, points: ArrayLike) -> Array:
        """Points (n, 2) of the car in m, on the paper."""
        given = np.asarray(points, dtype=float).reshape(-1, 2)
        return np.column_stack(self.at(given[:, 0], given[:, 1]))  # type: ignore[arg-type]


def paper_axes(width: float, height: float) -> Axes:
    """Make axes that are a sheet of paper, their units millimetres on it.

    Parameters
    ----------
    width, height : float
        Of the sheet in mm.

    Returns
    -------
    Axes
        They fill a figure that pyplot does not know; saved without cropping it has just these sizes.
    """
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    return axes


def standard_scale(
    size: tuple[float, float], room: tuple[float, float], system: Literal["metric", "us"]
) -> int:
    """Return the least reduction of a standard series at which something fits on the paper.

    Parameters
    ----------
    size : two floats
        Width and height of what is drawn in m.
    room : two floats
        Width and height that there is on the paper in mm.
    system : {"metric", "us"}

    Returns
    -------
    int
        The n of a scale 1:n; what is larger than the series foresees gets the next power of ten.

    Examples
    --------
    >>> standard_scale((1.6, 0.63), (200.0, 110.0), "metric")
    10
    """
    least = max(1e3 * size[0] / room[0], 1e3 * size[1] / room[1])
    fitting = [scale for scale in SCALES[system] if scale >= least * (1.0 - 1e-9)]
    return fitting[0] if fitting else int(10 ** math.ceil(math.log10(least)))


def spread(places: ArrayLike, room: float, low: float, high: float) -> Array:
    """Move labels along a line so that none touches the next, each as little as may be.

    Parameters
    ----------
    places : array_like of shape (n,)
        Where they would stand, in any order.
    room : float
        What each needs.
    low, high : float
        Ends of the line; when there is too little room on it they share it evenly.

    Returns
    -------
    ndarray of shape (n,)
        In the order of `places`: among all arrangements in their order the one with the least squares of shifts
        (isotonic regression by pooling neighbours).
    """
    given = np.asarray(places, dtype=float)
    order = np.argsort(given, kind="stable")
    count = len(given)
    if count * room > high - low:
        room = (high - low) / max(count, 1)
    # without the room between them labels must only not decrease: pools of equal value
    targets = given[order] - room * np.arange(count)
    pools: list[tuple[float, int]] = []
    for target in targets:
        pools.append((float(target), 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (a, n), (b, m) = pools[-2:]
            pools[-2:] = [((a * n + b * m) / (n + m), n + m)]
    flat = np.concatenate([np.full(n, value) for value, n in pools] or [np.zeros(0)])
    flat = np.clip(flat, low + 0.5 * room, high - 0.5 * room - room * max(count - 1, 0))
    found = np.empty(count)
    found[order] = flat + room * np.arange(count)
    return found


def write(ax: Axes, at: Place, text: str, *, size: float = LETTERS, **options: Any) -> None:
    """Write a text at a place on the paper, as it is and never as a formula."""
    look: dict[str, Any] = {"ha": "center", "va": "center", "color": style.INK, "rotation_mode": "anchor"}
    ax.text(*at, text, fontsize=size, parse_math=False, zorder=9, **{**look, **options})


def dimension(ax: Axes, start: Place, end: Place, text: str, *, away: float) -> None:
    """Draw a dimension line along the paper, its extension lines, and the size over it.

    Parameters
    ----------
    ax : Axes
        A sheet of paper.
    start, end : Place
        What is measured: two places at one height, or two above each other.
    text : str
        The size.
    away : float
        Distance in mm of the line from the farther of the two, up or to the right when positive.
    """
    upright = abs(end[1] - start[1]) > abs(end[0] - start[0])
    across = 0 if upright else 1
    both = (start[across], end[across])
    line = (max(both) if away > 0.0 else min(both)) + away
    step = math.copysign(1.0, away)
    for place in (start, end):
        run = [place[across] + step * GAP, line + step * GAP]
        level = [place[1 - across]] * 2
        ax.plot(*((run, level) if upright else (level, run)), zorder=8, **THIN)
    ends = [(line, place[1]) if upright else (place[0], line) for place in (start, end)]
    arrow = {"arrowstyle": "<|-|>", "shrinkA": 0, "shrinkB": 0, "mutation_scale": 6, "linewidth": 0.5}
    ax.annotate("", xy=ends[1], xytext=ends[0], arrowprops={**arrow, "color": style.QUIET}, zorder=8)
    middle = (0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1]))
    over = (middle[0] - 0.8, middle[1]) if upright else (middle[0], middle[1] + 0.8)
    write(ax, over, text, size=LETTERS + 1.0, va="bottom", rotation=90.0 if upright else 0.0, bbox=PLATE)


def ordinates(
    ax: Axes,
    marks: Sequence[tuple[Place, str]],
    *,
    side: Literal["left", "right", "top"],
    edge: float,
    ends: tuple[float, float],
    kink: float = 5.0,
) -> None:
    """Write distances from a datum line beside a drawing, each joined to what it measures by a thin line.

    Running sizes from one datum, without arrows, as in ISO 129-1 and ASME Y14.5 (from memory).

    Parameters
    ----------
    ax : Axes
        A sheet of paper.
    marks : sequence of (Place, str)
        What is measured, and the text beside it.
    side : {"left", "right", "top"}
        Where the texts stand.
    edge : float
        Where thin lines leave the drawing straight, in mm: a height for the top, else a distance from the left.
    ends : two floats
        Between which the texts may spread, in mm.
    kink : float
        Length in mm in which a line goes aside to its text.
    """
    along = 0 if side == "top" else 1
    step = -1.0 if side == "left" else 1.0
    texts = spread([place[along] for place, _ in marks], ROW, *ends)
    for (place, text), level in zip(marks, texts, strict=True):
        run = [place[1 - along] + step * GAP, edge, edge + step * kink, edge + step * (kink + 1.0)]
        levels = [place[along], place[along], float(level), float(level)]
        ax.plot(*((levels, run) if side == "top" else (run, levels)), zorder=3.5, **THIN)
        at = edge + step * (kink + 1.6)
        if side == "top":
            write(ax, (float(level), at), text, rotation=90.0, ha="left")
        else:
            write(ax, (at, float(level)), text, ha="right" if side == "left" else "left")


def bar(ax: Axes, at: Place, length: float, text: str) -> None:
    """Draw a bar of a length in mm from a place to the right, with a text over it, to measure the print by."""
    x, y = at
    ax.plot(
        [x, x + length], [y, y], color=style.INK, linewidth=1.4, solid_capstyle="butt", gid="measuring bar"
    )
    for end in (x, x + length):
        ax.plot([end, end], [y - 1.0, y + 1.0], color=style.INK, linewidth=0.8)
    write(ax, (x + 0.5 * length, y + 1.2), text, va="bottom")
