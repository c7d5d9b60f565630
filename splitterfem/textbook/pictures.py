"""Pictures of benchmarks: differences from what is published, and how errors fall with the mesh."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from splitterfem.output import style
from splitterfem.output.picture import new_picture
from splitterfem.output.studyview import LINES
from splitterfem.textbook.formulations import OWN
from splitterfem.textbook.joints import annex_b, under_a_sine

AGAINST = {
    "unknowns": ("unknowns", "unknowns of the linear system"),
    "time": ("cpu_ms", "CPU time of assembly and solution (ms)"),
}
"""Column and words of what errors are drawn over."""

COLOURS, _, MARKERS = zip(*LINES, strict=True)
LEAST = 1e-4
"""Differences below this, in per cent, are drawn here: on a logarithmic axis zero has no place."""


def plot_differences(rows: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Draw how far each benchmark is from the published value, with what is allowed.

    Parameters
    ----------
    rows : DataFrame
        From :func:`splitterfem.textbook.table`.
    ax : Axes, optional
        Where to draw; a new figure when left out.

    Returns
    -------
    Axes
    """
    axes = new_picture(8.5, 0.8 + 0.21 * len(rows)) if ax is None else ax
    heights = np.arange(len(rows))[::-1]
    found = np.maximum(np.abs(rows["difference_percent"].to_numpy(dtype=float)), LEAST)
    allowed = rows["allowed_percent"].to_numpy(dtype=float)
    axes.barh(
        heights, allowed, left=0.0, height=0.7, color=style.GRID, zorder=1, label="allowed by the tests"
    )
    for number, subject in enumerate(dict.fromkeys(rows["subject"])):
        chosen = (rows["subject"] == subject).to_numpy()
        axes.plot(
            found[chosen],
            heights[chosen],
            MARKERS[number % len(MARKERS)],
            color=COLOURS[number % len(COLOURS)],
            markersize=5.0,
            zorder=3,
            label=subject,
            gid=subject,
        )
    axes.set_xscale("log")
    axes.set_xlim(0.7 * LEAST, 2.0 * float(allowed.max()))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_ylim(-0.7, len(rows) - 0.3)
    axes.set_yticks(heights, labels=list(rows["what"]), fontsize=style.SMALL)
    axes.set_xlabel("difference from the published value (%)", fontsize=style.TEXT)
    axes.set_title("Benchmarks: difference from published values", loc="left", fontsize=11, color=style.INK)
    axes.grid(axis="x", color=style.FAINT, linewidth=0.5, zorder=0)
    axes.legend(fontsize=style.SMALL, loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False)
    return axes


def plot_orders(rows: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Draw the error in the energy norm over the number of divisions, for each thickness, with the slope of theory.

    Parameters
    ----------
    rows : DataFrame
        From :func:`splitterfem.textbook.orders`.
    ax : Axes, optional
        Where to draw; a new figure when left out.

    Returns
    -------
    Axes
    """
    axes = new_picture(7.5, 4.2) if ax is None else ax
    for number, (thickness, group) in enumerate(rows.groupby("thickness", sort=False)):
        axes.loglog(
            group["cells"],
            100.0 * group["energy_error"],
            f"{MARKERS[number % len(MARKERS)]}-",
            color=COLOURS[number % len(COLOURS)],
            markersize=9.0 - 1.5 * number,
            linewidth=1.4,
            label=f"thickness 1/{1.0 / float(str(thickness)):.0f} of the side",
            gid=f"thickness {thickness:g}",
        )
    cells = np.array(sorted(set(rows["cells"])), dtype=float)
    worst = 130.0 * float(rows["energy_error"].max())
    axes.loglog(
        cells, worst * (cells[0] / cells) ** 2, "--", color=style.QUIET, label="second order", gid="theory"
    )
    axes.set_xticks(cells, labels=[f"{number:.0f}" for number in cells])
    axes.minorticks_off()
    low, high = axes.get_ylim()
    ticks = [factor * 10.0**power for power in range(-5, 3) for factor in (1.0, 2.0, 5.0)]
    shown = [tick for tick in ticks if low <= tick <= high]
    axes.set_yticks(shown, labels=[f"{tick:g}" for tick in shown])
    axes.set_xlabel("divisions of each side", fontsize=style.TEXT)
    axes.set_ylabel("error in the energy norm (%)", fontsize=style.TEXT)
    axes.set_title(
        "Errors fall as theory has it, whatever the thickness", loc="left", fontsize=11, color=style.INK
    )
    axes.legend(fontsize=style.SMALL, frameon=False)
    return axes


def plot_slip(ax: Axes | None = None) -> Axes:
    """Draw the sag of a T on a joint from loose to rigid under a sine load, by EN 1995-1-1 annex B and as computed.

    Parameters
    ----------
    ax : Axes, optional
        Where to draw; a new figure when left out.

    Returns
    -------
    Axes
    """
    axes = new_picture(7.5, 3.8) if ax is None else ax
    line, points = np.logspace(4.5, 10.0, 80), np.logspace(5.0, 10.0, 11)
    by_code = [1e3 * annex_b(float(k)) for k in line]
    computed = [1e3 * under_a_sine(float(k)) for k in points]
    axes.semilogx(
        line / 1e6, by_code, color=style.INK, linewidth=1.4, label="EN 1995-1-1 annex B", gid="annex B"
    )
    look: dict[str, Any] = {"linestyle": "none", "color": COLOURS[1], "markersize": 6.5}
    axes.semilogx(points / 1e6, computed, marker="o", label="this library", gid="computed", **look)
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("stiffness of the joint (N/mm per mm of rib)", fontsize=style.TEXT)
    axes.set_ylabel("sag (mm)", fontsize=style.TEXT)
    axes.set_title(
        "T on a joint that slips, load of half a sine wave", loc="left", fontsize=11, color=style.INK
    )
    axes.legend(fontsize=style.SMALL, frameon=False)
    return axes


def plot_formulations(
    rows: pd.DataFrame, ax: Axes | None = None, *, against: Literal["unknowns", "time"] = "unknowns"
) -> Axes:
    """Draw the error of formulations of plates over their unknowns, or over their time.

    Parameters
    ----------
    rows : DataFrame
        From :func:`splitterfem.textbook.formulations`.
    ax : Axes, optional
        Where to draw; a new figure when left out.
    against : {"unknowns", "time"}

    Returns
    -------
    Axes
    """
    axes = new_picture(7.5, 4.2) if ax is None else ax
    column, label = AGAINST[against]
    for number, (name, group) in enumerate(rows.groupby("formulation", sort=False)):
        own = name == OWN
        axes.loglog(
            group[column],
            np.maximum(group["error_percent"].abs(), LEAST),
            f"{MARKERS[number % len(MARKERS)]}{'-' if own else '--'}",
            color=COLOURS[number % len(COLOURS)],
            linewidth=2.4 if own else 1.2,
            markersize=6.5 if own else 4.5,
            zorder=4 if own else 3,
            label=",\n".join(str(name).rsplit(", ", 1)),
            gid=str(name),
        )
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.grid(color=style.GRID, linewidth=0.5, zorder=0)
    axes.set_xlabel(label, fontsize=style.TEXT)
    axes.set_ylabel("error of the deflection (%)", fontsize=style.TEXT)
    what = str(rows["problem"].iloc[0])
    axes.set_title(f"Beside other formulations: {what}", loc="left", fontsize=11, color=style.INK)
    axes.legend(fontsize=style.SMALL, frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return axes
