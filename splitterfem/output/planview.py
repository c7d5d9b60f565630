"""Plan view of a splitter, seen from above with the direction of travel up the page.

The page's abscissa is y, which grows to the left, and its ordinate is x, which grows forward and up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.ticker import MultipleLocator
from numpy.typing import ArrayLike, NDArray

from splitterfem import curves
from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

CHORD = 0.2e-3
"""Distance in m between a drawn curve and its chords."""


@dataclass(frozen=True)
class Bounds:
    """Extent of the panel in m."""

    rear: float
    front: float
    right: float
    left: float

    @property
    def length(self) -> float:
        """Fore and aft."""
        return self.front - self.rear

    @property
    def width(self) -> float:
        """Side to side."""
        return self.left - self.right

    @property
    def margin(self) -> float:
        """Room around the panel in the picture."""
        return 0.1 * max(self.width, self.length)


def page(points: ArrayLike, scale: Scale) -> Array:
    """Turn points (n, 2) in m, x forward and y left, into points of the page."""
    return np.asarray(points, dtype=float).reshape(-1, 2)[:, ::-1] * scale.per_metre


def bounds(splitter: Splitter) -> Bounds:
    """Extent of the outline in m."""
    points = curves.flatten(splitter.panel.outline.loop(), CHORD)
    (rear, right), (front, left) = points.min(axis=0), points.max(axis=0)
    return Bounds(float(rear), float(front), float(right), float(left))


def draw_frame(ax: Axes, splitter: Splitter, scale: Scale) -> Bounds:
    """Set limits, equal scales, labels and ticks of a plan view."""
    box = bounds(splitter)
    per = scale.per_metre
    ax.set_aspect("equal")
    ax.set_xlim((box.left + box.margin) * per, (box.right - box.margin) * per)
    ax.set_ylim((box.rear - box.margin) * per, (box.front + box.margin) * per)
    ax.set_xlabel(f"y, to the left ({scale.unit})", fontsize=style.SMALL, color=style.QUIET)
    ax.set_ylabel(f"x, forward of the front axle ({scale.unit})", fontsize=style.SMALL, color=style.QUIET)
    step = style.round_step(max(box.width, box.length) * per, 5)
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MultipleLocator(step))
    ax.tick_params(labelsize=style.SMALL, colors=style.QUIET, width=0.6, length=3)
    for side, spine in ax.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(style.QUIET)
        spine.set_linewidth(0.6)
    return box


def draw_outline(ax: Axes, splitter: Splitter, scale: Scale, *, fill: str = "none") -> None:
    """Draw the outline and the openings, these white and hatched."""
    outline = page(curves.flatten(splitter.panel.outline.loop(), CHORD), scale)
    ax.add_artist(Polygon(outline, facecolor=fill, edgecolor="none", zorder=1))
    ax.add_artist(Polygon(outline, fill=False, edgecolor=style.INK, linewidth=1.6, zorder=4, gid="outline"))
    for name, loop in splitter.panel.holes():
        corners = page(curves.flatten(loop, CHORD), scale)
        ax.add_artist(
            Polygon(
                corners,
                facecolor=style.PAPER,
                edgecolor="#b5b5b5",
                hatch="///",
                linewidth=0.0,
                zorder=3,
                gid=f"cut-out {name}",
            )
        )
        ax.add_artist(Polygon(corners, fill=False, edgecolor=style.INK, linewidth=1.2, zorder=4))


def draw_surroundings(
    ax: Axes,
    box: Bounds,
    scale: Scale,
    *,
    shown: bool = True,
    travel_left: bool = True,
    scale_right: bool = True,
) -> None:
    """Draw the direction of travel and a scale bar, or close the picture in around the panel."""
    if shown:
        draw_travel(ax, box, scale, left=travel_left)
        draw_scale_bar(ax, box, scale, right=scale_right)
        return
    per, margin = scale.per_metre, 0.15 * box.margin
    ax.set_xlim((box.left + margin) * per, (box.right - margin) * per)
    ax.set_ylim((box.rear - margin) * per, (box.front + margin) * per)
    ax.set_axis_off()


def draw_travel(ax: Axes, box: Bounds, scale: Scale, *, left: bool = True) -> None:
    """Draw an arrow up the page beside the panel that says where the car goes."""
    per = scale.per_metre
    y = (box.left + 0.55 * box.margin if left else box.right - 0.55 * box.margin) * per
    x0, x1 = (box.front - 0.34 * box.length) * per, (box.front + 0.05 * box.length) * per
    ax.annotate(
        "",
        xy=(y, x1),
        xytext=(y, x0),
        arrowprops={"arrowstyle": "-|>", "color": style.INK, "linewidth": 1.6, "mutation_scale": 16},
        annotation_clip=False,
        gid="direction of travel",
    )
    ax.annotate(
        "direction of travel",
        xy=(y, x0),
        xytext=(0, -4),
        textcoords="offset points",
        rotation=90,
        ha="center",
        va="top",
        fontsize=style.SMALL,
        annotation_clip=False,
    )


def draw_scale_bar(ax: Axes, box: Bounds, scale: Scale, *, right: bool = True) -> None:
    """Draw a bar of a round length behind the panel's right, or left, rear corner."""
    per = scale.per_metre
    length = style.round_step(box.width * per, 6)
    low = box.right * per if right else box.left * per - length
    x = (box.rear - 0.62 * box.margin) * per
    tick = 0.08 * box.margin * per
    for ys, xs in (
        ([low, low + length], [x, x]),
        *(([y, y], [x - tick, x + tick]) for y in (low, low + length)),
    ):
        ax.plot(ys, xs, color=style.INK, linewidth=1.6, solid_capstyle="butt", clip_on=False, gid="scale bar")
    ax.annotate(
        f"{length:g} {scale.unit}",
        xy=(low + 0.5 * length, x),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=style.SMALL,
    )


def draw_dimensions(ax: Axes, box: Bounds, scale: Scale) -> None:
    """Draw the overall width and length as dimension lines."""
    per = scale.per_metre
    front, right = (box.front + 0.5 * box.margin) * per, (box.right - 0.5 * box.margin) * per
    left, rear = box.left * per, box.rear * per
    lines = (
        ((left, front), (box.right * per, front), box.width, 0.0, (0, 3), "center", "bottom"),
        ((right, rear), (right, box.front * per), box.length, 90.0, (4, 0), "left", "center"),
    )
    arrow = {
        "arrowstyle": "<|-|>",
        "color": style.QUIET,
        "linewidth": 0.8,
        "mutation_scale": 9,
        "shrinkA": 0,
        "shrinkB": 0,
    }
    for start, end, size, rotation, offset, ha, va in lines:
        ax.annotate("", xy=end, xytext=start, arrowprops=arrow, annotation_clip=False)
        ax.annotate(
            scale.say_size(size),
            xy=(0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])),
            xytext=offset,
            textcoords="offset points",
            rotation=rotation,
            ha=ha,
            va=va,
            fontsize=style.TEXT,
            annotation_clip=False,
        )
