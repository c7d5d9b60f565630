"""Natural frequencies over what may shake the panel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, NullLocator
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from splitterfem.analysis.excitations import NEAR, closeness, design_speeds, excitations
from splitterfem.analysis.modes import Modes
from splitterfem.output import style
from splitterfem.output.picture import new_picture, write_title

__all__ = ["plot_excitations"]

Array = NDArray[np.float64]

BAND, FRINGE = "#7f9fb8", "#dfe8ee"
"""A range, and what is near it: quiet blues, light enough for the lines over them."""
HEIGHT = 0.62
"""Of a bar, over the distance of two."""
WIDTH = 8.2
"""Inches of a figure."""
TICKS = [factor * 10.0**power for power in range(-1, 5) for factor in (1.0, 2.0, 5.0)]


def plot_excitations(
    modes: Modes,
    speeds: Sequence[float] | None = None,
    ax: Axes | None = None,
    *,
    unit: Literal["km/h", "mph"] = "km/h",
    title: str | None = None,
) -> Axes:
    """Draw natural frequencies as lines over bars of what may shake the panel, on a logarithmic axis of Hz.

    A dot marks each frequency that lies in a bar, a ring one that is within 20 % of it.

    Parameters
    ----------
    modes : Modes
    speeds : sequence of float, optional
        Over rumble kerbs, in m/s; those of the design's load cases when left out.
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"km/h", "mph"}
        In which speeds are written.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.

    Returns
    -------
    Axes
    """
    design = modes.model.design
    table = excitations(design_speeds(design) if speeds is None else speeds, unit=unit)
    axes = new_picture(WIDTH, 1.7 + 0.36 * len(table)) if ax is None else ax
    shown = modes.frequencies[modes.frequencies > 0.0]
    _draw_bars(axes, table)
    _set_axis(axes, table, shown)
    _draw_lines(axes, modes.frequencies, table)
    _draw_key(axes)
    if title is None:
        write_title(axes, design, design.name, "What may shake it, and its natural frequencies")
    else:
        write_title(axes, design, title, "")
    return axes


def _draw_bars(ax: Axes, table: pd.DataFrame) -> None:
    for row, (what, low, high) in enumerate(
        zip(table["what"], table["from_Hz"], table["to_Hz"], strict=True)
    ):
        near_low, near_high = low * (1.0 - NEAR), high * (1.0 + NEAR)
        ax.barh(row, near_high - near_low, left=near_low, height=HEIGHT, color=FRINGE, zorder=1)
        (bar,) = ax.barh(row, high - low, left=low, height=HEIGHT, color=BAND, zorder=2)
        bar.set_gid(f"range {what}")
    names = [
        f"{what}\n{low:.0f}-{high:.0f} Hz"
        for what, low, high in zip(table["what"], table["from_Hz"], table["to_Hz"], strict=True)
    ]
    ax.set_yticks(range(len(table)), names)
    for label in ax.get_yticklabels():
        label.set_fontsize(style.TEXT)
        label.set_color(style.INK)


def _set_axis(ax: Axes, table: pd.DataFrame, frequencies: Array) -> None:
    """Set a logarithmic axis with plain numbers that holds everything."""
    lowest = min(table["from_Hz"].min() * (1.0 - NEAR), frequencies.min(initial=np.inf))
    highest = max(table["to_Hz"].max() * (1.0 + NEAR), frequencies.max(initial=0.0))
    ax.set_xscale("log")
    ax.set_xlim(0.85 * lowest, 1.18 * highest)
    ax.xaxis.set_major_locator(FixedLocator(TICKS))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    ax.set_xlabel("Hz (logarithmic)", fontsize=style.TEXT, color=style.INK, loc="left")
    ax.set_ylim(len(table) - 0.45, -1.55)
    ax.tick_params(axis="x", labelsize=style.TEXT, colors=style.QUIET)
    ax.tick_params(axis="y", length=0)
    for side, spine in ax.spines.items():
        spine.set_visible(side == "bottom")
        spine.set_color(style.QUIET)


def _draw_lines(ax: Axes, frequencies: Array, table: pd.DataFrame) -> None:
    """Draw a line for each frequency with its number and value above, and a mark where it meets a bar."""
    known = [(number, float(f)) for number, f in enumerate(frequencies, start=1) if f > 0.0]
    room = _room(ax)
    crowded = room * len(known) > 1.0
    shares = _apart(_shares(ax, np.array([f for _, f in known])), min(room, 1.0 / max(len(known), 1)))
    for (number, frequency), share in zip(known, shares, strict=True):
        ax.plot(
            [frequency, frequency], [-0.6, len(table) - 0.45], color=style.INK, linewidth=1.3, zorder=3,
            gid=f"mode {number}",
        )  # fmt: skip
        at = _frequency(ax, share)
        ax.plot([at, frequency], [-0.88, -0.6], color=style.INK, linewidth=0.8, zorder=3, clip_on=False)
        words = f"{number}" if crowded else f"{number}\n{frequency:.0f}"
        ax.text(
            at, -0.95, words, ha="center", va="bottom", fontsize=style.TEXT,
            fontweight="bold", linespacing=1.05, color=style.INK, gid=f"label {number}",
        )  # fmt: skip
        for row, (low, high) in enumerate(zip(table["from_Hz"], table["to_Hz"], strict=True)):
            how = closeness(frequency, low, high)
            if how:
                face = style.ALARM if how == "in" else style.PAPER
                ax.plot(
                    [frequency], [row], "o", markersize=7.0, markerfacecolor=face, markeredgewidth=1.6,
                    markeredgecolor=style.ALARM, zorder=4, gid=f"{how} {number}",
                )  # fmt: skip
    ax.text(
        0.0, -0.95, "mode" if crowded else "mode\nHz ", transform=ax.get_yaxis_transform(), ha="right", va="bottom",
        fontsize=style.TEXT, linespacing=1.05, color=style.QUIET,
    )  # fmt: skip


def _draw_key(ax: Axes) -> None:
    """Explain the marks below the axis."""
    looks: dict[str, dict[str, Any]] = {
        "in the range": {"markerfacecolor": style.ALARM},
        f"within {100.0 * NEAR:.0f} % of it": {"markerfacecolor": style.PAPER},
    }
    marks = [
        Line2D([], [], marker="o", markersize=7.0, markeredgecolor=style.ALARM, linestyle="none", **look)
        for look in looks.values()
    ]
    figure = ax.get_figure(root=True)
    assert figure is not None
    below = ax.transAxes + ScaledTranslation(0.0, -0.22, figure.dpi_scale_trans)
    ax.legend(
        marks, list(looks), loc="upper right", bbox_to_anchor=(1.0, 0.0), bbox_transform=below, ncols=2,
        frameon=False, fontsize=style.SMALL, borderaxespad=0.0, handletextpad=0.2, columnspacing=1.2,
    )  # fmt: skip


LABEL = 0.34
"""Room of a label in inches."""


def _shares(ax: Axes, frequencies: Array) -> Array:
    """Places on the axis as shares of its width."""
    low, high = np.log(ax.get_xlim())
    return np.asarray((np.log(frequencies) - low) / (high - low))


def _frequency(ax: Axes, share: float) -> float:
    low, high = np.log(ax.get_xlim())
    return float(np.exp(low + share * (high - low)))


def _room(ax: Axes) -> float:
    """Room of a label as a share of the width of the axes; before layout an estimate."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    return LABEL / float(ax.get_position().width * figure.get_figwidth())


def _apart(shares: Array, room: float) -> Array:
    """Move labels apart as little as may be: groups that touch are spread about their middle, but not past the end."""
    groups = [[float(share)] for share in shares]
    middle = [min(float(share), 1.0 - 0.5 * room) for share in shares]
    merged = True
    while merged:
        merged = False
        for i in range(len(groups) - 1):
            reach = 0.5 * room * (len(groups[i]) + len(groups[i + 1]))
            if middle[i + 1] - middle[i] < reach - 1e-12:
                groups[i] += groups.pop(i + 1)
                middle.pop(i + 1)
                middle[i] = min(float(np.mean(groups[i])), 1.0 - 0.5 * room * len(groups[i]))
                merged = True
                break
    return np.array(
        [
            centre + room * (k - 0.5 * (len(group) - 1))
            for group, centre in zip(groups, middle, strict=True)
            for k in range(len(group))
        ]
    )
