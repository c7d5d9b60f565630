"""A field over the panel: filled and labelled contours, and the worst point called out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.patheffects import withStroke
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.colours import SIGNED, map_of
from splitterfem.output.labels import placed_labels, units_per_point
from splitterfem.output.planview import Bounds
from splitterfem.output.style import Scale

BAR = 0.72
"""Length of the colour bar over the height of the picture."""

HALO = [withStroke(linewidth=4.4, foreground=style.PAPER)]
"""Round marks that stand on the dark end of a map."""


@dataclass(frozen=True)
class Worst:
    """A place (x, y) in m and what to write there."""

    at: tuple[float, float]
    text: str


@dataclass(frozen=True)
class Look:
    """How a field is drawn.

    Attributes
    ----------
    bar : str
        Words at the colour bar; without them there is none.
    colours : str
        Name of the map, see `splitterfem.output.colours.map_of`; the signed one has zero in its middle.
    step : float, optional
        Between contour lines, in the unit of the picture.
    span : two floats, optional
        That the colours hold in any case, in the unit of the picture.
    """

    bar: str
    colours: str
    step: float | None = None
    span: tuple[float, float] | None = None


def draw_contours(
    ax: Axes, field: Field, look: Look, scale: Scale, taken: shapely.Geometry, *, bar: bool = True
) -> ContourSet:
    """Draw filled contours with a colour bar that has the same levels, and labels clear of what is taken.

    Below zero the lines of a field with a sign are broken, for both of its ends are dark in grey.
    """
    values = field.values * scale.per_metre
    levels = style.contour_levels(values, look.step, look.span)
    digits = style.decimals(float(levels[1] - levels[0]))
    mesh = Triangulation(field.y * scale.per_metre, field.x * scale.per_metre, field.triangles)
    most = float(np.abs(levels).max())
    ends = {"vmin": -most, "vmax": most} if look.colours == SIGNED else {}
    filled = ax.tricontourf(mesh, values, levels=levels, cmap=map_of(look.colours), zorder=2, **ends)
    filled.set_gid("filled contours")
    broken = {"linestyles": ["--" if level < 0.0 else "-" for level in levels]} if ends else {}
    lines = ax.tricontour(
        mesh, values, levels=levels, colors=style.INK, linewidths=0.6, alpha=0.7, zorder=2.5, **broken
    )
    label_lines(ax, lines, [style.number(level, digits) for level in levels], taken)
    if look.bar and bar:
        draw_bar([ax], filled, levels, look.bar)
    return filled


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


def draw_bar(
    axes: Sequence[Axes],
    filled: ContourSet,
    levels: NDArray[np.float64],
    words: str,
    *,
    cax: Axes | None = None,
) -> None:
    """Draw the colour bar of one picture or of several that share it, with as many numbers as there is room for.

    Parameters
    ----------
    axes : sequence of Axes
    filled : ContourSet
    levels : ndarray, shape (n,)
    words : str
    cax : Axes, optional
        Where to draw; beside the pictures when left out.
    """
    figure = axes[0].get_figure(root=True)
    assert figure is not None
    digits = style.decimals(float(levels[1] - levels[0]))
    if cax is None:
        bar = figure.colorbar(
            filled, ax=axes[0] if len(axes) == 1 else list(axes), shrink=BAR, aspect=22, pad=0.02
        )
        points = 72.0 * BAR * axes[0].get_position().height * figure.get_figheight()
    else:
        bar = figure.colorbar(filled, cax=cax)
        points = 72.0 * cax.get_position().height * figure.get_figheight()
    most = int(np.clip(points / (1.6 * style.SMALL), 3, 12))
    stride = 1 + (len(levels) - 1) // most
    counts = np.rint(levels / (levels[1] - levels[0])).astype(int)
    bar.set_ticks([float(level) for level in levels[counts % stride == 0]])
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.ax.yaxis.set_major_formatter(lambda value, _: style.number(value, digits))
    bar.set_label(words, fontsize=style.TEXT)


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
        path_effects=HALO,
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
