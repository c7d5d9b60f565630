"""How measures of a splitter scatter, with the probability of what must not be, and which input that comes from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.scatter_results import Scatter
from splitterfem.layouts.scatter_statistics import Interval
from splitterfem.output import style
from splitterfem.output.picture import dress, new_picture, write_title
from splitterfem.output.readable import measure_name, readable, shortened
from splitterfem.output.studyunits import StudyUnits
from splitterfem.output.wording import System

Array = NDArray[np.float64]

WIDTH, ROW, SPACE, HEAD, FOOT = 10.6, 1.6, 0.95, 1.15, 0.5
"""Inches: width of a figure, height of a row, room between rows, room of the title and room under the last row."""

LEFT, MIDDLE, RIGHT = (0.035, 0.44), 0.635, 0.985
"""Ends of the histograms, and of the bars, as shares of the width; names of inputs stand between them."""

BARS = "#7f9fb8"
SECOND = "#cbd9e4"
"""Bars, and those that stand behind others; pale enough for the lines over them."""
LIMITS = {"least clearance": 0.0, "worst utilisation": 1.0}
"""Limits that are drawn, in the unit of the measure."""


def plot_scatter(
    scatter: Scatter,
    ax: Axes | None = None,
    *,
    measures: Sequence[str] | None = None,
    units: System | None = None,
    title: str | None = None,
) -> Axes:
    """Draw a histogram of each measure with its percentiles and limit, and beside it what it comes from.

    Upright lines are the percentiles 5, 50 and 95.  Bars on the right are coefficients of a regression of ranks, or
    Sobol indices, with two standard errors either way.

    Parameters
    ----------
    scatter : Scatter
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    measures : sequence of str, optional
        All that were asked when left out.
    units : {"metric", "us"}, optional
        Of all figures; those of the table when left out.
    title : str, optional
        In place of the names of the splitter and of the load cases; empty for none.

    Returns
    -------
    Axes
        Those that hold all; ``child_axes`` are a histogram and bars for each measure, in order.

    Raises
    ------
    DesignError
        If a measure was not asked or no draw has it.
    UnitError
        If there are no such units.
    """
    shown = StudyUnits(units)
    asked = [one.name for one in scatter.plan.measures] if measures is None else list(measures)
    chosen = [scatter.plan.measure(name) for name in asked]
    if not chosen:
        raise DesignError("No measure is to be drawn; name one.")
    rows = len(chosen)
    inner = rows * ROW + (rows - 1) * SPACE
    if ax is None:
        head = HEAD if title != "" else 0.35
        height = inner + head + FOOT
        ax = new_picture(WIDTH, height)
        figure = ax.get_figure(root=True)
        assert figure is not None
        figure.set_layout_engine("none")
        ax.set_position((0.0, FOOT / height, 1.0, inner / height))
    ax.set_axis_off()
    ax.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    for index, one in enumerate(chosen):
        bottom, high = (rows - 1 - index) * (ROW + SPACE) / inner, ROW / inner
        _draw_histogram(ax.inset_axes((LEFT[0], bottom, LEFT[1] - LEFT[0], high)), scatter, one, shown)
        _draw_influence(ax.inset_axes((MIDDLE, bottom, RIGHT - MIDDLE, high)), scatter, one)
    if title != "":
        design = scatter.plan.base
        subject = f"{len(scatter.sample)} draws, load case: {', '.join(scatter.plan.cases)}"
        words = (design.name, subject) if title is None else (title, "")
        write_title(ax, design, *words, pad=46.0, x=0.02)
    return ax


def share_words(found: Interval) -> str:
    """Write a probability with its interval, in per cent.

    Examples
    --------
    >>> share_words(Interval(0.0, 0.0, 0.0284)), share_words(Interval(0.25, 0.18, 0.334))
    ('0 % (95 %: below 2.8 %)', '25 % (95 %: 18 to 33 %)')
    """

    def per_cent(share: float) -> str:
        return f"{100.0 * share:.{1 if 0.0 < share < 0.0995 else 0}f}"

    if found.low <= 0.0:
        return f"{per_cent(found.value)} % (95 %: below {per_cent(found.high)} %)"
    return f"{per_cent(found.value)} % (95 %: {per_cent(found.low)} to {per_cent(found.high)} %)"


def _draw_histogram(ax: Axes, scatter: Scatter, one: Asked, units: StudyUnits) -> None:
    values = units.factor(one.unit) * scatter.figures(one.name)
    low, high = float(values.min()), float(values.max())
    same = _all_alike(values)
    if same:  # one bar, and not the dust of rounding
        middle = 0.5 * (low + high)
        low, high = middle - 0.02 * abs(middle) - 1e-6, middle + 0.02 * abs(middle) + 1e-6
    count = int(np.clip(2.0 * len(values) ** (1.0 / 3.0), 6, 40))
    ax.hist(values, bins=count, range=(low, high), color=BARS, edgecolor=style.PAPER, linewidth=0.6, zorder=2)
    top = ax.get_ylim()[1]
    limit = LIMITS.get(one.name)
    near = limit is not None and (low - 1.2 * (high - low) <= limit <= high + 1.2 * (high - low))
    ends = [low, high, *([limit] if near and limit is not None else [])]
    pad = 0.05 * (max(ends) - min(ends))
    ax.set_xlim(min(ends) - pad, max(ends) + pad)
    ax.set_ylim(0.0, 1.28 * top)
    for share in (0.05, 0.5, 0.95):
        at = units.shown(scatter.percentile(one.name, share).value, one.unit)
        ax.plot([at, at], [0.0, 1.04 * top], color=style.INK, linewidth=2.0 if share == 0.5 else 1.2,
                linestyle="-" if share == 0.5 else (0, (4, 2)), zorder=4,
                gid=f"percentile {100 * share:.0f}")  # fmt: skip
    if near and limit is not None:
        ax.axvline(limit, color=style.ALARM, linewidth=2.0, zorder=5, gid="limit")
        word = "ground" if one.name == "least clearance" else "limit"
        look: dict[str, Any] = {"fontsize": style.SMALL, "color": style.ALARM, "rotation": 90}
        ax.annotate(word, (limit, 1.2 * top), xytext=(3.0, 0.0), textcoords="offset points", va="top", **look)
    _name_percentiles(ax, scatter, one, units, top, same=same)
    name, unit = measure_name(one, units), units.unit(one.unit)
    heading = f"{name[0].upper()}{name[1:]}{f', {unit}' if unit else ''}"
    ax.set_title(heading, loc="left", fontsize=style.TEXT, fontweight="bold", pad=19.0)
    _say_probability(ax, scatter, one)
    ax.xaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 2.5, 5, 10]))
    ax.set_yticks([])
    dress(ax, sides=("bottom",))


def _all_alike(values: Array) -> bool:
    """Whether values differ by nothing to speak of."""
    size = float(np.abs(values).max())
    return bool(np.ptp(values) <= 1e-3 * max(size, 1e-9))


def _name_percentiles(
    ax: Axes, scatter: Scatter, one: Asked, units: StudyUnits, top: float, *, same: bool
) -> None:
    """Write the figures of the three lines over them, outwards; that in the middle alone when they fall together."""
    shares = ((0.05, "right"), (0.5, "center"), (0.95, "left"))
    for share, side in shares[1:2] if same else shares:
        at = units.shown(scatter.percentile(one.name, share).value, one.unit)
        text = style.number(at, _digits(units.unit(one.unit)))
        ax.annotate(
            f"{100 * share:.0f} %: {text}" if share != 0.5 else text, (at, 1.06 * top), ha=side, va="bottom",
            fontsize=style.SMALL, color=style.INK, fontweight="bold" if share == 0.5 else "normal",
            annotation_clip=False, gid="percentile",
        )  # fmt: skip


def _say_probability(ax: Axes, scatter: Scatter, one: Asked) -> None:
    said = {"least clearance": "touches the ground", "worst utilisation": "utilisation above 1"}.get(one.name)
    if said is None:
        return
    found = scatter.touches if one.name == "least clearance" else scatter.fails
    ax.annotate(
        f"{said}: {share_words(found)}", (0.0, 1.0), xycoords="axes fraction", xytext=(0.0, 5.0),
        textcoords="offset points", fontsize=style.TEXT, gid="probability", annotation_clip=False,
        color=style.ALARM if found.value > 0.0 else style.INK, va="bottom",
    )  # fmt: skip


def _digits(unit: str) -> int:
    return {"mm": 1, "Hz": 1, "N": 0, "in": 3, "lbf": 0}.get(unit, 2)


def _draw_influence(ax: Axes, scatter: Scatter, one: Asked) -> None:
    alike, said = _all_alike(scatter.figures(one.name)), "too few draws to tell\nwhat it comes from"
    try:
        found = None if alike else scatter.influence(one.name)
    except DesignError:
        found = None
    if found is None:
        said = "it hardly scatters" if alike else said
        ax.text(0.5, 0.5, said, ha="center", va="center", fontsize=style.TEXT, color=style.QUIET)
        ax.set_axis_off()
        return
    order = found.order[:8][::-1]
    places = np.arange(len(order), dtype=float)
    names = [scatter.plan.parameters[i].name for i in order]
    bars: dict[str, Any] = {"height": 0.62, "zorder": 2, "ecolor": style.INK}
    if found.total is not None and found.total_error is not None:
        ax.barh(places, found.total[order], xerr=2.0 * found.total_error[order], color=SECOND, **bars)
        ax.barh(places, found.first[order], color=BARS, height=0.3, zorder=3)
        heading, low, high = "What it comes from: alone (dark), with others", -0.05, 1.1
    else:
        ax.barh(places, found.first[order], xerr=2.0 * found.first_error[order], color=BARS, **bars)
        heading, low, high = "What it comes from (− falls, + rises with it)", -1.1, 1.1
    ax.axvline(0.0, color=style.QUIET, linewidth=1.0, zorder=1)
    ax.set_xlim(low, high)
    ax.set_yticks(places, labels=[shortened(readable(name)) for name in names], fontsize=style.SMALL)
    ax.set_title(heading, loc="left", fontsize=style.TEXT, fontweight="bold")
    ax.xaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    dress(ax, sides=("bottom",))
    ax.tick_params(axis="y", colors=style.INK, length=0.0)
