"""A field over the panel: filled and labelled contours, and the worst point called out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, ListedColormap
from matplotlib.patheffects import withStroke
from matplotlib.tri import Triangulation

from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.planview import Bounds
from splitterfem.output.style import Scale


@dataclass(frozen=True)
class Worst:
    """A place (x, y) in m and what to write there."""

    at: tuple[float, float]
    text: str


@dataclass(frozen=True)
class Look:
    """What a picture of a field is of and how it is drawn; `step` in the unit of the picture."""

    what: str
    bar: str
    colours: str
    step: float | None
    title: str | None
    legend: bool
    frame: bool


def draw_contours(ax: Axes, field: Field, worst: Worst, look: Look, scale: Scale) -> None:
    """Draw filled and labelled contours with a colour bar that has the same levels."""
    values = field.values * scale.per_metre
    levels = style.contour_levels(values, look.step)
    digits = style.decimals(float(levels[1] - levels[0]))
    mesh = Triangulation(field.y * scale.per_metre, field.x * scale.per_metre, field.triangles)
    filled = ax.tricontourf(mesh, values, levels=levels, cmap=_colours(look.colours), zorder=2)
    filled.set_gid("filled contours")
    lines = ax.tricontour(
        mesh, values, levels=levels, colors=style.INK, linewidths=0.6, alpha=0.7, zorder=2.5
    )
    labels = ax.clabel(lines, fmt=f"%.{digits}f", fontsize=style.SMALL, inline=True, inline_spacing=3)
    here = np.array(worst.at[::-1]) * scale.per_metre
    near = 0.04 * scale.per_metre * float(np.ptp(field.y))
    for label in labels:
        label.set_visible(bool(np.hypot(*(np.array(label.get_position()) - here)) > near))
        label.set_path_effects([withStroke(linewidth=2.5, foreground=style.PAPER)])
        label.set_color(style.INK)
    bar = ax.get_figure().colorbar(filled, ax=ax, shrink=0.72, aspect=22, pad=0.02)  # type: ignore[union-attr]
    bar.set_ticks([float(level) for level in levels[:: 1 + len(levels) // 12]])
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.ax.yaxis.set_major_formatter(lambda value, _: f"{value:.{digits}f}")
    bar.set_label(look.bar, fontsize=style.TEXT)


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
        fontweight="bold",
        color=style.ALARM,
        parse_math=False,
        zorder=11,
        annotation_clip=False,
        gid="call-out",
        bbox={
            "boxstyle": "round,pad=0.3",
            "facecolor": style.PAPER,
            "edgecolor": style.ALARM,
            "linewidth": 1.4,
        },
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
