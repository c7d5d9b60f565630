"""A field over the panel: filled and labelled contours, and the worst point called out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, ListedColormap
from matplotlib.contour import ContourSet
from matplotlib.patheffects import withStroke
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.labels import placed_labels, units_per_point
from splitterfem.output.planview import Bounds
from splitterfem.output.style import Scale

BAR = 0.72
"""Length of the colour bar over the height of the picture."""


@dataclass(frozen=True)
class Worst:
    """A place (x, y) in m and what to write there."""

    at: tuple[float, float]
    text: str


@dataclass(frozen=True)
class Look:
    """What a picture of a field is of and how it is drawn; `step` and `span` in the unit of the picture."""

    what: str
    bar: str
    colours: str
    step: float | None
    span: tuple[float, float] | None
    title: str | None
    legend: bool
    frame: bool


def draw_contours(ax: Axes, field: Field, look: Look, scale: Scale, taken: shapely.Geometry) -> None:
    """Draw filled contours with a colour bar that has the same levels, and labels clear of what is taken."""
    values = field.values * scale.per_metre
    levels = style.contour_levels(values, look.step, look.span)
    digits = style.decimals(float(levels[1] - levels[0]))
    mesh = Triangulation(field.y * scale.per_metre, field.x * scale.per_metre, field.triangles)
    filled = ax.tricontourf(mesh, values, levels=levels, cmap=_colours(look.colours), zorder=2)
    filled.set_gid("filled contours")
    lines = ax.tricontour(
        mesh, values, levels=levels, colors=style.INK, linewidths=0.6, alpha=0.7, zorder=2.5
    )
    label_lines(ax, lines, [f"{level:.{digits}f}" for level in levels], taken)
    _draw_bar(ax, filled, levels, digits, look.bar)


def label_lines(ax: Axes, lines: ContourSet, words: Sequence[str], taken: shapely.Geometry) -> None:
    """Write the words of each level on its lines, once on each that has room, clear of what is taken."""
    texts = [
        (word, corners)
        for word, segments in zip(words, lines.allsegs, strict=True)
        for corners in segments
        if len(corners) > 1
    ]
    for label in placed_labels(texts, taken, size=style.SMALL, per_point=units_per_point(ax)):
        # The page's abscissa grows to the left, so directions turn the other way there; no text on its head.
        turned = np.degrees(np.pi - label.angle if ax.xaxis_inverted() else label.angle)
        ax.text(
            label.x,
            label.y,
            label.text,
            rotation=(turned + 90.0) % 180.0 - 90.0,
            ha="center",
            va="center",
            fontsize=style.SMALL,
            color=style.INK,
            zorder=2.6,
            gid="contour label",
            path_effects=[withStroke(linewidth=3.0, foreground=style.PAPER)],
        )


def _draw_bar(ax: Axes, filled: ContourSet, levels: NDArray[np.float64], digits: int, words: str) -> None:
    """Draw the colour bar with as many numbers as there is room for."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    bar = figure.colorbar(filled, ax=ax, shrink=BAR, aspect=22, pad=0.02)
    points = 72.0 * BAR * ax.get_position().height * figure.get_figheight()
    most = int(np.clip(points / (1.6 * style.SMALL), 3, 12))
    stride = 1 + (len(levels) - 1) // most
    counts = np.rint(levels / (levels[1] - levels[0])).astype(int)
    bar.set_ticks([float(level) for level in levels[counts % stride == 0]])
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.ax.yaxis.set_major_formatter(lambda value, _: f"{value:.{digits}f}")
    bar.set_label(words, fontsize=style.TEXT)


def _colours(name: str) -> Colormap:
    """Colour map without its darkest fifth, in which marks and lines would drown."""
    whole = colormaps[name]
    low, high = (0.0, 0.82) if name.endswith("_r") else (0.18, 1.0)
    return ListedColormap(whole(np.linspace(low, high, 256)), name=f"{name} without its dark end")


def call_out(ax: Axes, worst: Worst, box: Bounds, scale: Scale) -> None:
    """Mark the worst point and write its value outside the nearest edge of the panel."""
    x, y = worst.at
    per = scale.per_metre
    offset, ha, va = _way_out(x, y, box)
    ax.plot(
        [y * per],
        [x * per],
        marker="o",
        markersize=10,
        markerfacecolor="none",
        markeredgecolor=style.ALARM,
        markeredgewidth=2.4,
        linestyle="none",
        zorder=10,
        clip_on=False,
        gid="worst point",
    )
    ax.annotate(
        worst.text,
        xy=(y * per, x * per),
        xytext=offset,
        textcoords="offset points",
        ha=ha,
        va=va,
        fontsize=13,
        **style.CALL_OUT,
        arrowprops={"arrowstyle": "-", "color": style.ALARM, "linewidth": 1.6, "shrinkB": 5},
    )


def _way_out(x: float, y: float, box: Bounds) -> tuple[tuple[float, float], str, str]:
    """Offset in points of a call-out from its point, away from the panel, and its alignment."""
    distances = {"front": box.front - x, "rear": x - box.rear, "left": box.left - y, "right": y - box.right}
    side = min(distances, key=lambda key: distances[key])
    if distances[side] > 0.3 * box.length:
        return (34.0, 34.0), "left", "bottom"
    inward = 1.0 if y > 0.5 * (box.left + box.right) else -1.0
    return {
        "front": ((24.0 * inward, 24.0), "left" if inward > 0 else "right", "bottom"),
        "rear": ((24.0 * inward, -24.0), "left" if inward > 0 else "right", "top"),
        "left": ((22.0, -18.0), "left", "top"),
        "right": ((-22.0, -18.0), "right", "top"),
    }[side]
