"""Pictures of a splitter in plan view: what is built, how far it sags, and how near it comes to the ground.

Every function draws on the axes given, or on a figure of its own, and returns the axes. A figure of its own
belongs to nobody else: it is freed with its last reference, and ``ax.figure.savefig(...)`` saves it.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import Colormap
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.tri import Triangulation

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.design import Splitter
from splitterfem.errors import FileError
from splitterfem.output import files, style
from splitterfem.output.contours import joined
from splitterfem.output.planparts import draw_forces, draw_legend, draw_names, draw_ribs, draw_supports
from splitterfem.output.planview import (
    Bounds,
    bounds,
    draw_dimensions,
    draw_frame,
    draw_outline,
    draw_surroundings,
)
from splitterfem.output.style import LengthUnit, Scale, scale_of

__all__ = ["plot_clearance", "plot_design", "plot_sag", "save_picture"]

_KINDS = ("png", "svg", "pdf")
WIDTH = 9.0
"""Of a figure made here, inches."""


def plot_sag(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
) -> Axes:
    """Draw how far the panel sags, as filled contours in plan view with the largest sag called out.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of sag and of sizes.
    step : float, optional
        Sag between contour lines, in `unit`; a round one when left out.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive.
    """
    scale = scale_of(unit)
    worst = _Worst(solution.max_sag_at, scale.say(solution.max_sag))
    look = _Look("Sag", f"sag, down ({unit})", style.SAG_COLOURS, step, title, legend, frame)
    return _plot_field(solution, solution.sag, worst, look, scale, ax)


def plot_clearance(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    step: float | None = None,
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
) -> Axes:
    """Draw the gap between the panel's lower face and the ground, with the smallest gap called out.

    The smallest gap counts ribs under the panel; the contours are those of the panel alone.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of the gap and of sizes.
    step : float, optional
        Gap between contour lines, in `unit`; a round one when left out.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; a page that shows these once can leave
        them out elsewhere.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive.
    """
    scale = scale_of(unit)
    gap = solution.clearance
    text = scale.say(gap.least)
    if gap.under != "panel":
        text += f"\nunder {gap.under}"
    if gap.least <= 0.0:
        text += "\ntouches the ground"
    worst = _Worst(gap.at, text)
    look = _Look(
        "Clearance", f"gap to the ground ({unit})", style.CLEARANCE_COLOURS, step, title, legend, frame
    )
    return _plot_field(solution, gap.field, worst, look, scale, ax)


def plot_design(
    splitter: Splitter,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    title: str | None = None,
    legend: bool = True,
    names: bool = True,
) -> Axes:
    """Draw what is built in plan view: outline, openings, ribs and supports, with the overall sizes.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of sizes.
    title : str, optional
        In place of the name of the splitter; empty for none.
    legend : bool
        Whether to explain the marks of the parts.
    names : bool
        Whether to write the parts' names beside them.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit.
    """
    scale = scale_of(unit)
    axes = _new_axes(splitter, share=0.92, legend=legend) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    draw_outline(axes, splitter, scale, fill=style.SHEET)
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale)
    draw_surroundings(axes, box, scale)
    if legend:
        draw_legend(axes, splitter)
    draw_dimensions(axes, box, scale)
    if names:
        draw_names(axes, splitter, scale)
    _write_title(axes, splitter, splitter.name if title is None else title, "")
    return axes


def save_picture(ax: Axes, path: str | os.PathLike[str], *, dpi: float = 150.0) -> Path:
    """Save the figure of a picture; the file appears whole or not at all.

    Parameters
    ----------
    ax : Axes
        As the functions above return it.
    path : path
        Its ending says the kind: ``.png``, ``.svg`` or ``.pdf``. An existing file is replaced.
    dpi : float
        Pixels to the inch of a PNG.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        Another ending, or the file cannot be written.
    """
    place = Path(path)
    kind = place.suffix.lower().removeprefix(".")
    if kind not in _KINDS:
        raise FileError(
            f"A picture cannot be saved as '{place.name}'; let its name end in .png, .svg or .pdf."
        )
    with files.replaced(place) as temporary:
        ax.get_figure(root=True).savefig(temporary, format=kind, dpi=dpi)  # type: ignore[union-attr]
    return place


@dataclass(frozen=True)
class _Worst:
    at: tuple[float, float]
    text: str


@dataclass(frozen=True)
class _Look:
    what: str
    bar: str
    colours: str
    step: float | None
    title: str | None
    legend: bool
    frame: bool


def _plot_field(
    solution: Solution, field: Field, worst: _Worst, look: _Look, scale: Scale, ax: Axes | None
) -> Axes:
    splitter = solution.model.design
    axes = _new_axes(splitter, share=0.84, legend=look.legend) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    _draw_contours(axes, joined(field), worst, look, scale)
    draw_outline(axes, splitter, scale)
    draw_forces(axes, solution.case, scale)
    on_left = worst.at[1] > box.right + 0.5 * box.width and worst.at[0] > box.rear + 0.4 * box.length
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale)
    draw_surroundings(axes, box, scale, shown=look.frame, travel_left=not on_left)
    if look.legend:
        draw_legend(axes, splitter, solution.case)
    _call_out(axes, worst, box, scale)
    if look.title is None:
        _write_title(axes, splitter, splitter.name, f"{look.what} in load case: {solution.case.name}")
    else:
        _write_title(axes, splitter, look.title, "")
    return axes


def _new_axes(splitter: Splitter, *, share: float, legend: bool) -> Axes:
    """Axes on a figure that pyplot does not know, as high as the panel needs in its share of the width."""
    box = bounds(splitter)
    ratio = (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin)
    height = share * WIDTH * ratio + (1.6 if legend else 1.2)
    figure = Figure(figsize=(WIDTH, float(np.clip(height, 3.0, 14.0))), layout="constrained")
    FigureCanvasAgg(figure)
    return figure.add_subplot()


def _draw_contours(ax: Axes, field: Field, worst: _Worst, look: _Look, scale: Scale) -> None:
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
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    whole = colormaps[name]
    low, high = (0.0, 0.82) if name.endswith("_r") else (0.18, 1.0)
    return ListedColormap(whole(np.linspace(low, high, 256)), name=f"{name} without its dark end")


def _call_out(ax: Axes, worst: _Worst, box: Bounds, scale: Scale) -> None:
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


def _write_title(ax: Axes, splitter: Splitter, name: str, subject: str) -> None:
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
