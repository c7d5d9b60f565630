"""The bent shape of a solved panel in space, drawn from behind and above, its movement exaggerated."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from mpl_toolkits.mplot3d import Axes3D
from mpl_toolkits.mplot3d.art3d import Poly3DCollection
from mpl_toolkits.mplot3d.proj3d import proj_transform

from splitterfem.analysis import Solution
from splitterfem.output import style
from splitterfem.output.colours import map_of
from splitterfem.output.picture import TITLE, png_of, write_title
from splitterfem.output.planparts import mark_look
from splitterfem.output.range_words import subject
from splitterfem.output.shape import Shape, scale_words, shape_of
from splitterfem.output.style import LengthUnit, Scale, scale_of

__all__ = ["plot_shape"]

WIDTH, HEIGHT, SIDE = 9.0, 5.2, 7.8
"""Inches of a figure, and of the square that axes in space fill; it reaches over the figure, above and below."""

HEAD, FOOT, BESIDE = 0.62, 0.2, 0.9
"""Inches from the upper edge to the title, from the lower edge to the words, and room of words and call-out."""

ELEVATION, TURN = 26.0, 192.0
"""Degrees: the eye is behind, above and a little to the left, so that forward is up and left is left."""

PLAIN = "#b7bcc4"
GROUND: dict[str, Any] = {"facecolor": "#e8e4da", "edgecolor": style.QUIET, "linewidth": 0.8, "alpha": 0.6}


class Picture3D(Axes3D):  # type: ignore[misc]
    """Axes in space of a figure of their own; at the end of a cell a notebook shows the figure."""

    def _repr_png_(self) -> bytes:
        """Draw the figure as PNG; notebooks ask for it by this name."""
        return png_of(self)


def plot_shape(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    exaggeration: float | None = None,
    ground: bool | None = None,
    title: str | None = None,
) -> Axes:
    """Draw the bent panel in space with ribs and struts, coloured by its sag.

    Vertical movement, and with it the distance to the ground, is exaggerated; the factor and the true sag are written
    below.  Colours and their levels are those of `plot_sag`.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Axes in space (``projection="3d"``); a new figure when left out.
    unit : {"mm", "in"}
    exaggeration : float, optional
        A round number with which the movement is seen well when left out.
    ground : bool, optional
        Whether to draw the ground; where it would not lie far below the panel when left out.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.

    Returns
    -------
    Axes

    Raises
    ------
    DesignError
        If the exaggeration is not above zero.
    UnitError
        Another unit.
    """
    scale = scale_of(unit)
    shape = shape_of(solution, exaggeration=exaggeration, ground=ground)
    axes = _new_axes() if ax is None else cast(Axes3D, ax)
    axes.computed_zorder = False
    _draw_panel(axes, shape, solution, scale)
    _draw_parts(axes, shape, scale)
    _call_out(axes, shape, scale.say(solution.max_sag), scale)
    _set_frame(axes, shape, scale)
    design = solution.model.design
    if title is None:
        write_title(axes, design, design.name, subject(solution, "Bent shape"))
    else:
        write_title(axes, design, title, "")
    _write_scale(axes, scale_words(shape, solution, scale), own=ax is None)
    return cast(Axes, axes)


def _write_scale(ax: Axes3D, words: str, *, own: bool) -> None:
    """Write the true scale under the picture; on a figure of its own title and words stand at its edges."""
    look: dict[str, Any] = {"fontsize": style.TEXT, "color": style.INK, "gid": "true scale"}
    if not own:
        ax.text2D(0.03, 0.0, words, transform=ax.transAxes, va="top", **look)
        return
    where = ax.get_position(original=True)

    def share(height: float) -> float:
        return float((height / HEIGHT - where.y0) / where.height)

    left = (0.03 - where.x0) / where.width
    ax.text2D(left, share(FOOT), words, transform=ax.transAxes, va="bottom", **look)
    title = {"fontsize": TITLE, "color": style.INK, "parse_math": False}
    ax.set_title(ax.get_title(loc="left"), loc="left", y=share(HEIGHT - HEAD), pad=0.0, x=left, **title)


def _new_axes() -> Axes3D:
    figure = Figure(figsize=(WIDTH, HEIGHT))
    FigureCanvasAgg(figure)
    axes = Picture3D(figure)
    figure.add_axes(axes)
    axes.set_position((0.0, 0.5 * (1.0 - SIDE / HEIGHT), SIDE / WIDTH, SIDE / HEIGHT))
    return axes


def _draw_panel(ax: Axes3D, shape: Shape, solution: Solution, scale: Scale) -> None:
    """Draw the surface in colours that run between the levels of `plot_sag`, its edges, and the bar of colours."""
    levels = style.contour_levels(solution.sag.values * scale.per_metre)
    norm, colours = Normalize(float(levels[0]), float(levels[-1])), map_of(style.SAG_COLOURS)
    triangles = shape.sag.triangles
    mean = shape.sag.values[triangles].mean(axis=1) * scale.per_metre
    faces = colours(norm(mean))
    surface = Poly3DCollection(
        shape.points[triangles] * scale.per_metre, facecolors=faces, edgecolors=faces, linewidths=0.4, zorder=2,
        gid="panel",
    )  # fmt: skip
    surface.set_array(None)
    ax.add_collection3d(surface)
    for edge in shape.edges:
        ax.plot(*(edge * scale.per_metre).T, color=style.INK, linewidth=1.2, zorder=3)
    figure = ax.get_figure(root=True)
    assert figure is not None
    mapped = ScalarMappable(norm, colours)
    if isinstance(ax, Picture3D):
        bar = figure.colorbar(mapped, cax=figure.add_axes((0.905, 0.2, 0.018, 0.58)))
    else:
        bar = figure.colorbar(mapped, ax=ax, shrink=0.62, aspect=22, pad=0.06)
    digits = style.decimals(float(levels[1] - levels[0]))
    bar.set_ticks([float(level) for level in levels])
    bar.ax.yaxis.set_major_formatter(lambda value, _: style.number(value, digits))
    bar.ax.minorticks_off()
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.set_label(f"sag, down ({scale.unit})", fontsize=style.TEXT)


def _draw_parts(ax: Axes3D, shape: Shape, scale: Scale) -> None:
    per = scale.per_metre
    if shape.ground is not None:
        ax.add_collection3d(Poly3DCollection([shape.ground * per], zorder=0, gid="ground", **GROUND))
        ax.text(*(shape.ground[3] * per), "ground", fontsize=style.SMALL, color=style.QUIET, zorder=1)
    for name, faces in shape.ribs:
        under = faces[:, :, 2].mean() < shape.points[:, 2].mean() - 1e-9 and faces[:, :, 2].max() <= 0.0
        look: dict[str, Any] = {
            "facecolors": PLAIN,
            "edgecolors": PLAIN,
            "linewidths": 0.3,
            "zorder": 1.5 if under else 4,
        }
        ax.add_collection3d(Poly3DCollection(faces * per, shade=True, gid=f"rib {name}", **look))
    for name, ends in shape.struts:
        ax.plot(*(ends * per).T, color=style.INK, linewidth=2.2, zorder=6, gid=f"strut {name}")
        ax.plot(*(ends[:1] * per).T, zorder=6, **mark_look("strut"))
    for kind, name, at in shape.marks:
        look = mark_look(kind) if kind != "rear pocket" else {**mark_look("bolt"), "marker": "s"}
        ax.plot(*(at[None] * per).T, zorder=5, gid=f"{kind} {name}", **look)


def _call_out(ax: Axes3D, shape: Shape, words: str, scale: Scale) -> None:
    at = shape.worst * scale.per_metre
    ax.plot(
        *at[:, None], marker="o", markersize=10, markerfacecolor="none", markeredgecolor=style.ALARM,
        markeredgewidth=2.4, linestyle="none", zorder=10, gid="worst point",
    )  # fmt: skip
    low, high = shape.limits()
    beside = at + np.array([-0.03, 0.0, 0.0]) * (high[1] - low[1]) * scale.per_metre
    beside[2] -= 0.07 * (high[1] - low[1]) * scale.per_metre
    ax.plot(*np.array([at, beside]).T, color=style.ALARM, linewidth=1.6, zorder=10)
    look = {name: value for name, value in style.CALL_OUT.items() if name != "annotation_clip"}
    ax.text(*beside, words, fontsize=13, ha="center", va="top", **look)


def _fit(ax: Axes3D, shape: Shape, scale: Scale, sizes: tuple[float, ...]) -> None:
    """Zoom axes of a figure of their own so that all stands between title and words, as large as it can."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    parts = [
        shape.points,
        *(ends for _, ends in shape.struts),
        *(faces.reshape(-1, 3) for _, faces in shape.ribs),
    ]
    every = np.concatenate(parts if shape.ground is None else [*parts, shape.ground]) * scale.per_metre
    room = np.array([0.7 * WIDTH, HEIGHT - HEAD - FOOT - BESIDE])
    zoom = 1.0
    for _ in range(3):  # the eye is so near that the picture does not grow quite as the zoom does
        ax.set_box_aspect(sizes, zoom=zoom)
        ax.apply_aspect()
        seen = np.array(proj_transform(*every.T, ax.get_proj()))[:2].T
        inches = ax.transData.transform(seen) / figure.dpi
        low, high = inches.min(axis=0), inches.max(axis=0)
        zoom *= float(np.min(room / (high - low)))
    aim = np.array([0.455 * WIDTH, FOOT + 0.6 * BESIDE + 0.5 * room[1]])
    across, up = (aim - 0.5 * (low + high)) / np.array([WIDTH, HEIGHT])
    where = ax.get_position(original=True)
    ax.set_position((where.x0 + across, where.y0 + up, where.width, where.height))


def _set_frame(ax: Axes3D, shape: Shape, scale: Scale) -> None:
    """Set equal scales, the eye, the direction of travel, and a bar as high as a true amount of sag."""
    per = scale.per_metre
    low, high = shape.limits() * per
    room = 0.02 * (high[1] - low[1])
    ax.set(xlim=(low[0] - room, high[0] + room), ylim=(low[1] - room, high[1] + room), zlim=(low[2], high[2]))
    sizes = high - low + 2.0 * room * np.array([1.0, 1.0, 0.0])
    ax.set_box_aspect(tuple(sizes))
    ax.view_init(elev=ELEVATION, azim=TURN)
    ax.set_axis_off()
    if isinstance(ax, Picture3D):
        _fit(ax, shape, scale, tuple(sizes))
    side = high[1] + 3.0 * room
    middle, long = 0.5 * (low[0] + high[0]), 0.45 * (high[0] - low[0])
    ends = np.array([[middle - 0.5 * long, side, 0.0], [middle + 0.5 * long, side, 0.0]])
    ax.quiver(
        *ends[0], *(ends[1] - ends[0]), color=style.INK, linewidth=1.8, arrow_length_ratio=0.2, gid="travel"
    )
    ax.text(*ends[0], "direction of travel", fontsize=style.SMALL, ha="center", va="top")
    most = float(np.abs(shape.sag.values).max()) * per
    if most > 0.0:
        true = style.round_step(most, 1)
        tall = true * shape.exaggeration
        foot = np.array([low[0], low[1] - 2.0 * room, -tall])
        ax.plot(
            *np.array([foot, foot + np.array([0.0, 0.0, tall])]).T,
            color=style.INK,
            linewidth=3.0,
            gid="sag bar",
        )
        ax.text(foot[0], foot[1] - room, -0.5 * tall, f"{true:g} {scale.unit} of sag", fontsize=style.SMALL)
