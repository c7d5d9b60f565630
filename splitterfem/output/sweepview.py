"""What becomes of a splitter over speed: sag, gap, downforce and utilisation, one below the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import blended_transform_factory
from numpy.typing import NDArray

from splitterfem.analysis.sweep import Sweep
from splitterfem.output import style
from splitterfem.output.picture import dress, new_picture, write_title
from splitterfem.output.speed_words import KMH, MM, headline, number
from splitterfem.output.sweepmarks import draw_marks, marks_of, say_beyond
from splitterfem.output.wording import System, Words, words_for
from splitterfem.units import convert

__all__ = ["plot_sweep"]

Array = NDArray[np.float64]

WIDTH = 8.2  # inches of a figure
HEAD, NAMES, FOOT, PANEL, SPACE, MARGIN = 0.78, 0.32, 0.42, 1.25, 0.34, 0.1
"""Inches: room of the title, of the names of upright lines, of the axis of speeds, height of a panel, room over each,
and round everything."""

LEFT, RIGHT, WIDER = 0.09, 0.80, 0.92
"""Where the panels begin and end, as shares of the width; behind them stands what the lines are, or just a figure."""

GROUND = style.NOT_THERE
"""What lies below ground, and speeds at which there is nothing."""

APART = 0.15
"""Least distance of two words beside a panel, as a share of its height."""


@dataclass(frozen=True)
class _Curve:
    """One line: figures of rows, what it is, and how it looks."""

    values: Array
    name: str
    rest: bool = False


@dataclass(frozen=True)
class _Panel:
    """One panel: its heading, its lines, and what they are of."""

    heading: str
    curves: tuple[_Curve, ...]
    kind: str


def plot_sweep(
    sweep: Sweep, ax: Axes | None = None, *, units: System = "metric", title: str | None = None
) -> Axes:
    """Draw largest sag, least gap to the ground, downforce and largest utilisation over speed.

    Full lines are with the pressure as the load case has it, broken ones with pressure that does not follow the sag.
    Upright lines are the case's own speed, the first ground touch and the divergence speeds, as far as they are known.

    Parameters
    ----------
    sweep : Sweep
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    units : {"metric", "us"}
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none, and no sentence below it.

    Returns
    -------
    Axes
        Those that hold all; ``child_axes`` are those of the panels, in order.
    """
    words = words_for(units)
    panels = _panels(sweep, words)
    axes = _new_axes(len(panels), title) if ax is None else ax
    axes.set_axis_off()
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    speeds = _column(sweep, "speed_kmh") * KMH
    shown = convert(1.0, words.speed) * speeds
    marks, beyond = marks_of(sweep, float(speeds[-1]), words)
    last = max([float(shown[-1]), *(at for at, *_ in marks)])
    span = last - float(shown[0]) or 1.0
    limits = (float(shown[0]) - 0.02 * span, last + 0.03 * span)
    for index, panel in enumerate(panels):
        inner = axes.inset_axes(_place(index, len(panels), RIGHT if sweep.follows else WIDER))
        inner.set_xlim(*limits)
        _draw_panel(inner, panel, shown, sweep, words)
        draw_marks(inner, marks, named=index == 0)
        _dress(inner, panel.heading, words, lowest=index == len(panels) - 1)
    say_beyond(inner, beyond)
    _write_head(axes, sweep, words, title)
    return axes


def _new_axes(count: int, title: str | None) -> Axes:
    """Make axes on a figure of their own, as high as the panels need."""
    head = HEAD - (0.45 if title == "" else 0.0)
    inner = _height(count)
    height = inner + head + FOOT + 2.0 * MARGIN
    axes = new_picture(WIDTH, height)
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.set_layout_engine("none")
    axes.set_position((MARGIN / WIDTH, (FOOT + MARGIN) / height, 1.0 - 2.0 * MARGIN / WIDTH, inner / height))
    return axes


def _height(count: int) -> float:
    """Height of so many panels in inches."""
    return count * (PANEL + SPACE) + NAMES


def _place(index: int, count: int, right: float) -> tuple[float, float, float, float]:
    """Left, bottom, width and height of a panel as shares of all."""
    whole = _height(count)
    return LEFT, (count - 1 - index) * (PANEL + SPACE) / whole, right - LEFT, PANEL / whole


def _column(sweep: Sweep, name: str) -> Array:
    return np.array([number(row, name) for row in sweep.rows])


def _panels(sweep: Sweep, words: Words) -> list[_Panel]:
    """Panels with figures in the units of people."""
    size, force = convert(MM, words.size), convert(1.0, words.force)

    def pair(name: str, rest: str, factor: float) -> tuple[_Curve, ...]:
        full = _Curve(
            factor * _column(sweep, name), "pressure follows\n        the sag" if sweep.follows else ""
        )
        if not sweep.follows:
            return (full,)
        return full, _Curve(factor * _column(sweep, rest), "it stays as at rest", rest=True)

    panels = [
        _Panel(f"Largest sag, {words.size}", pair("max_sag_mm", "sag_at_rest_mm", size), "sag"),
        _Panel(
            f"Least gap to the ground, {words.size}",
            (_Curve(size * _column(sweep, "min_clearance_mm"), ""),),
            "gap",
        ),
        _Panel(f"Downforce, {words.force}", pair("downforce_N", "downforce_at_rest_N", force), "downforce"),
    ]
    ratio = _column(sweep, "worst_ratio")
    if np.isfinite(ratio).any():
        panels.append(_Panel("Largest utilisation (1 is the limit)", (_Curve(ratio, ""),), "used"))
    return panels


def _draw_panel(ax: Axes, panel: _Panel, speeds: Array, sweep: Sweep, words: Words) -> None:
    full = panel.curves[0]
    for curve in panel.curves:
        look: dict[str, Any] = (
            {"color": style.QUIET, "linewidth": 1.3, "linestyle": (0, (4, 2))}
            if curve.rest
            else {"color": style.INK, "linewidth": 2.0, "marker": "o", "markersize": 4.0}
        )
        name = f"{panel.kind}{' at rest' if curve.rest else ''}"
        at, values = (speeds, curve.values) if curve.rest else _torn(speeds, curve.values, sweep, words)
        ax.plot(at, values, zorder=4, gid=name, **look)
    _set_range(ax, panel)
    _draw_bad(ax, panel, speeds, sweep)
    _draw_missing(ax, speeds, full.values)
    _name_curves(ax, panel, speeds, words)


def _torn(speeds: Array, values: Array, sweep: Sweep, words: Words) -> tuple[Array, Array]:
    """Tear a line where the equilibrium is lost: from there it is another one."""
    if sweep.touch is None or sweep.touch.outcome != "lost" or sweep.touch.speed is None:
        return speeds, values
    at = convert(sweep.touch.speed, words.speed)
    place = int(np.searchsorted(speeds, at))
    return np.insert(speeds, place, at), np.insert(values, place, np.nan)


def _set_range(ax: Axes, panel: _Panel) -> None:
    """Set the upright axis: from zero where zero means something."""
    values = np.concatenate([curve.values for curve in panel.curves])
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    if panel.kind == "used":
        high = max(high, 1.0)
    low, high = min(low, 0.0), max(high, 0.0)
    span = (high - low) or 1.0
    below = 0.14 if panel.kind == "gap" else 0.0
    ax.set_ylim(low - max(below, 0.06 if low < 0.0 else 0.0) * span, high + 0.12 * span)


def _draw_bad(ax: Axes, panel: _Panel, speeds: Array, sweep: Sweep) -> None:
    """Draw the ground, the limit of the utilisation, and what is beyond them."""
    values = panel.curves[0].values
    if panel.kind == "gap":
        ax.axhspan(ax.get_ylim()[0], 0.0, color=GROUND, zorder=1, gid="ground")
        ax.text(
            0.008,
            0.02,
            "ground",
            transform=ax.transAxes,
            fontsize=style.SMALL,
            color=style.QUIET,
            va="bottom",
        )
        bad = np.array([row["outcome"] == "touches the ground" for row in sweep.rows])
    elif panel.kind == "used":
        ax.axhline(1.0, color=style.ALARM, linewidth=1.3, zorder=2, gid="limit of use")
        bad = values > 1.0
    else:
        return
    ax.plot(speeds[bad], values[bad], "o", color=style.ALARM, markersize=5.5, zorder=5, gid="bad")


def _draw_missing(ax: Axes, speeds: Array, values: Array) -> None:
    """Shade speeds at which nothing was found."""
    missing = np.flatnonzero(~np.isfinite(values))
    middles = 0.5 * (speeds[1:] + speeds[:-1])
    edges = np.concatenate([[ax.get_xlim()[0]], middles, [ax.get_xlim()[1]]])
    for i in missing:
        ax.axvspan(edges[i], edges[i + 1], color=GROUND, linewidth=0.0, zorder=0.5, gid="nothing found")
    if len(missing):
        at = 0.5 * (edges[missing[0]] + edges[missing[-1] + 1])
        ax.text(
            at, 0.5, "no\nequilibrium", transform=blended_transform_factory(ax.transData, ax.transAxes),
            ha="center", va="center", fontsize=style.SMALL, color=style.INK, zorder=6,
        )  # fmt: skip


def _name_curves(ax: Axes, panel: _Panel, speeds: Array, words: Words) -> None:
    """Write at the right what each line is, with its last value, apart from each other."""
    digits = {"downforce": 0, "used": 2}.get(panel.kind, 1 if words.size == "mm" else 2)
    low, high = ax.get_ylim()
    ends = []
    for curve in panel.curves:
        known = np.flatnonzero(np.isfinite(curve.values))
        if len(known):
            value = float(curve.values[known[-1]])
            ends.append((curve, value, (value - low) / (high - low)))
    places = _apart([place for *_, place in ends])
    for (curve, value, _), place in zip(ends, places, strict=True):
        text = style.number(value, digits) + (f"  {curve.name}" if curve.name else "")
        ax.text(
            1.015, place, text, transform=ax.transAxes, va="center", fontsize=style.SMALL, linespacing=1.0,
            color=style.QUIET if curve.rest else style.INK, gid="end",
            fontweight="normal" if curve.rest else "bold",
        )  # fmt: skip


def _apart(places: Sequence[float]) -> list[float]:
    """Move two words apart when they would touch."""
    if len(places) < 2 or abs(places[0] - places[1]) >= 2.0 * APART:
        return list(places)
    middle = min(max(0.5 * (places[0] + places[1]), APART), 1.0 - APART)
    way = 1.0 if places[0] >= places[1] else -1.0
    return [middle + way * APART, middle - way * APART]


def _dress(ax: Axes, heading: str, words: Words, *, lowest: bool) -> None:
    """Set heading, ticks and frame of a panel."""
    ax.text(
        -0.115, 1.06, heading, transform=ax.transAxes, fontsize=style.TEXT, fontweight="bold", color=style.INK,
        gid="heading", va="bottom",
    )  # fmt: skip
    ax.yaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]))
    ax.xaxis.set_major_locator(MaxNLocator(8, integer=True, steps=[1, 2, 2.5, 5, 10]))
    dress(ax, grid="y")
    ax.tick_params(labelbottom=lowest)
    if lowest:
        ax.set_xlabel(f"speed of the car, {words.speed}", fontsize=style.TEXT, color=style.INK, loc="left")


def _write_head(ax: Axes, sweep: Sweep, words: Words, title: str | None) -> None:
    """Write the title, and below it in one sentence what comes of it."""
    if title == "":
        return
    design = sweep.model.design
    said, bad = headline(sweep, words)
    ax.annotate(
        said, (0.0, 1.0), xytext=(0.0, 8.0), textcoords="offset points", fontsize=10.5, fontweight="bold",
        color=style.ALARM if bad else style.INK, annotation_clip=False, gid="headline", parse_math=False,
    )  # fmt: skip
    if title is None:
        write_title(ax, design, design.name, f"Over speed in load case: {sweep.case}")
    else:
        write_title(ax, design, title, "")
    ax.set_title(
        ax.get_title(loc="left"), loc="left", fontsize=11, color=style.INK, parse_math=False, pad=26.0
    )
