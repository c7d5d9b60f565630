"""A flex test in pictures: measured against computed, and where on the panel the two differ."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from splitterfem.layouts.flextest import FlexTest
from splitterfem.layouts.flextest_words import figures
from splitterfem.output import style
from splitterfem.output.contactmarks import HALO
from splitterfem.output.picture import dress, new_picture, write_title
from splitterfem.output.planparts import draw_ribs
from splitterfem.output.planview import draw_frame, draw_outline, draw_surroundings, page
from splitterfem.output.style import LengthUnit, Scale, scale_of

Array = NDArray[np.float64]

WIDTH, HEAD, FOOT = 10.6, 0.95, 0.62
"""Inches: width of a figure, room of the title, room under the pictures."""

SQUARE, GAP, EDGE = 3.5, 0.55, 0.65
"""Inches: side of the left picture, room between the two, and at the left edge."""

ABOVE, BELOW = style.DOWN, style.UP
"""Where the panel gives more, and less, than computed; told apart by the way the marks point as well."""

SMALL_SHARE = 0.6
"""Share of the largest residual from which one is written beside its mark."""


def plot_flex_test(
    test: FlexTest, ax: Axes | None = None, *, unit: LengthUnit = "mm", title: str | None = None
) -> Axes:
    """Draw measured against computed deflections, and the largest residual of every gauge in plan view.

    Bars are twice the standard uncertainty either way: that of the reading where it is stated, else that of the
    residuals.  Pale rings are what the design computed before the fit.

    Parameters
    ----------
    test : FlexTest
    ax : Axes, optional
        Within which to draw; a new figure when left out.
    unit : {"mm", "in"}
    title : str, optional
        In place of the names of the splitter and of the file; empty for none.

    Returns
    -------
    Axes
        Those that hold both pictures, which are their ``child_axes``.

    Raises
    ------
    UnitError
        Another unit.
    """
    scale = scale_of(unit)
    height = SQUARE + HEAD + FOOT
    if ax is None:
        ax = new_picture(WIDTH, height)
        figure = ax.get_figure(root=True)
        assert figure is not None
        figure.set_layout_engine("none")
        ax.set_position((0.0, FOOT / height, 1.0, SQUARE / height))
    ax.set_axis_off()
    ax.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    left = ax.inset_axes((EDGE / WIDTH, 0.0, SQUARE / WIDTH, 1.0))
    start = (EDGE + SQUARE + GAP) / WIDTH
    right = ax.inset_axes((start, 0.0, 1.0 - start - 0.01, 1.0))
    _draw_fit(left, test, scale)
    _draw_map(right, test, scale)
    if title != "":
        design = test.splitter
        subject = f"Flex test {test.readings.name}, {len(test.readings)} readings"
        words = (design.name, subject) if title is None else (title, "")
        write_title(ax, design, *words, pad=32.0, x=0.02)
        ax.annotate(
            _headline(test), (0.02, 1.0), xytext=(0.0, 16.0), textcoords="offset points", fontsize=10.5,
            fontweight="bold", color=style.INK, annotation_clip=False, gid="headline", parse_math=False,
        )  # fmt: skip
    return ax


def _headline(test: FlexTest) -> str:
    """Write the fitted figures, as many as there is room for, and the spread that is left."""
    said = []
    for row in test.table.head(3).to_dict("records"):
        value, error = figures(float(row["value"]), float(row["standard_uncertainty"]))
        unit = "" if row["unit"] == "-" else f" {row['unit']}"
        said.append(f"{str(row['figure']).rsplit('.', 1)[-1].replace('_', ' ')} {value} ± {error}{unit}")
    more = "" if len(test.table) <= 3 else f", and {len(test.table) - 3} more"
    return ", ".join(said) + more


def _spread(test: FlexTest) -> Array:
    """Twice the standard uncertainty of every reading, in m."""
    u = test.readings.uncertainty
    return np.full(len(test.readings), 2.0 * test.deviation) if u is None else 2.0 * u


def _draw_fit(ax: Axes, test: FlexTest, scale: Scale) -> None:
    per, bad = scale.per_metre, test.estimate.suspicious
    measured, computed, before = (
        per * values for values in (test.readings.deflection, test.computed, test.start)
    )
    low = float(min(measured.min(), computed.min(), before.min(), 0.0))
    high = float(max(measured.max(), computed.max(), before.max(), 0.0))
    pad = 0.06 * (high - low)
    ends = (low - pad, high + pad)
    ax.plot(ends, ends, color=style.QUIET, linewidth=1.2, zorder=2, gid="measured as computed")
    pale: dict[str, Any] = {"marker": "o", "linestyle": "none", "markerfacecolor": "none", "markersize": 5.0}
    ax.plot(before, measured, **pale, markeredgecolor="#b9b4a8", zorder=3, gid="before")
    for which, colour, name in ((~bad, style.INK, "readings"), (bad, style.ALARM, "suspicious")):
        if which.any():
            ax.errorbar(
                computed[which], measured[which], yerr=per * _spread(test)[which], fmt="o", color=colour,
                markersize=4.5, elinewidth=1.2, capsize=2.0, zorder=4, gid=name,
            )  # fmt: skip
    ax.set(xlim=ends, ylim=ends)
    ax.set_aspect("equal")
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]))
    ax.set_xlabel(f"computed deflection, {scale.unit}", fontsize=style.TEXT, color=style.INK)
    ax.set_ylabel(f"measured deflection, {scale.unit}", fontsize=style.TEXT, color=style.INK)
    dress(ax)
    _explain(ax, test, bad=bool(bad.any()))


def _explain(ax: Axes, test: FlexTest, *, bad: bool) -> None:
    """Say what the marks are, in the empty corner."""
    stated = "stated" if test.readings.uncertainty is not None else "from the residuals"
    mark: dict[str, Any] = {"linestyle": "none", "marker": "o"}
    rows = [
        (Line2D([], [], color=style.INK, markersize=4.5, **mark), f"after the fit, ± 2 u ({stated})"),
        (
            Line2D([], [], markerfacecolor="none", markeredgecolor="#b9b4a8", markersize=5.0, **mark),
            "before the fit",
        ),
        (Line2D([], [], color=style.QUIET, linewidth=1.2), "measured = computed"),
    ]
    if bad:
        rows.insert(1, (Line2D([], [], color=style.ALARM, markersize=4.5, **mark), "looks wrong"))
    handles, labels = zip(*rows, strict=True)
    ax.legend(handles, labels, loc="upper left", fontsize=style.SMALL, frameon=False, handlelength=1.4)


def _draw_map(ax: Axes, test: FlexTest, scale: Scale) -> None:
    """Draw for each gauge its largest residual, as a triangle that points the way in which the panel errs."""
    splitter, per = test.splitter, scale.per_metre
    box = draw_frame(ax, splitter, scale)
    draw_outline(ax, splitter, scale, fill=style.SHEET)
    draw_ribs(ax, splitter, scale)
    draw_surroundings(ax, box, scale, shown=False)
    pushes = page(np.unique(test.readings.push, axis=0), scale)
    ax.plot(*pushes.T, "x", color=style.INK, markersize=8.0, markeredgewidth=1.8, zorder=8, gid="pushes")
    residual, bad = test.residuals_in_m, test.estimate.suspicious
    places, owner = np.unique(test.readings.read, axis=0, return_inverse=True)
    most = float(np.abs(residual[~bad]).max(initial=0.0)) or float(np.abs(residual).max()) or 1.0
    for number, at in enumerate(page(places, scale)):
        mine = np.flatnonzero(owner.ravel() == number)
        i = mine[np.argmax(np.abs(residual[mine]))]
        value, size = float(residual[i]), 4.0 + 8.0 * min(abs(float(residual[i])) / most, 1.5)
        colour = style.ALARM if bad[i] else ABOVE if value > 0.0 else BELOW
        ax.plot(
            *at, marker="v" if value > 0.0 else "^", markersize=size, markerfacecolor=colour,
            markeredgecolor=style.PAPER, linestyle="none", zorder=9, gid=f"gauge {number + 1}",
        )  # fmt: skip
        if abs(value) >= SMALL_SHARE * most:
            ax.annotate(
                f"{per * value:+.{2 if scale.unit == 'mm' else 4}f}", at, xytext=(0.0, 0.5 * size + 4.0),
                textcoords="offset points", ha="center", va="bottom", fontsize=style.SMALL, zorder=10,
                color=colour, path_effects=HALO, gid="residual",
            )  # fmt: skip
    _explain_map(ax, scale)


def _explain_map(ax: Axes, scale: Scale) -> None:
    mark: dict[str, Any] = {"linestyle": "none", "markersize": 8.0, "markeredgecolor": style.PAPER}
    rows = [
        (Line2D([], [], marker="v", markerfacecolor=ABOVE, **mark), "gives more than computed"),
        (Line2D([], [], marker="^", markerfacecolor=BELOW, **mark), "gives less than computed"),
        (
            Line2D(
                [], [], marker="x", color=style.INK, linestyle="none", markersize=7.0, markeredgewidth=1.8
            ),
            "push",
        ),
    ]
    handles, labels = zip(*rows, strict=True)
    ax.legend(
        handles, labels, loc="upper center", bbox_to_anchor=(0.5, -0.01), ncols=3, fontsize=style.SMALL,
        frameon=False, handlelength=1.2, columnspacing=1.2,
    )  # fmt: skip
    ax.set_title(
        f"Measured less computed, largest of each gauge, {scale.unit}; driving up the page", fontsize=style.TEXT,
        color=style.INK, fontweight="bold", pad=16.0,
    )  # fmt: skip
