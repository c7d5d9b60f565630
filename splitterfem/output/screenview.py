"""Pictures of a screening: sag against mass of all layouts, and screened against solved sag of the best."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splitterfem.layouts.screening import REACHES, Screening
from splitterfem.output import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def _axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=(7.2, 4.8), layout="constrained")[1]


def plot_sag_and_mass(screening: Screening, ax: Axes | None = None) -> Axes:
    """Draw worst sag against mass of all layouts, with the best as they were solved in full.

    Parameters
    ----------
    screening : Screening
    ax : Axes, optional
    """
    ax, table, best = _axes(ax), screening.table, screening.best
    for grounded, colour, label in (
        (False, "#4c78a8", "layouts, screened"),
        (True, style.QUIET, "layouts that would reach the ground"),
    ):
        some = table[(table["note"] == REACHES) == grounded]
        if len(some.dropna(subset="worst_sag_mm")):
            ax.scatter(
                some["mass_kg"],
                some["worst_sag_mm"],
                s=9,
                color=colour,
                alpha=0.45,
                linewidths=0,
                label=label,
            )
    if len(best):
        ax.scatter(
            best["mass_kg"],
            best["solved_mm"],
            s=54,
            facecolor="none",
            edgecolor=style.ALARM,
            linewidth=1.6,
            label=f"best {len(best)}, solved in full",
            zorder=5,
        )
        first = best.iloc[0]
        ax.annotate(
            f"layout {first['layout']}: {first['solved_mm']:.1f} mm",
            (first["mass_kg"], first["solved_mm"]),
            xytext=(0, -26),
            textcoords="offset points",
            ha="center",
            fontsize=style.TEXT,
            annotation_clip=False,
            color=style.ALARM,
            fontweight="bold",
        )
        low, high = ax.get_ylim()
        ax.set_ylim(low - 0.1 * (high - low), high)
    ax.set_xlabel("mass of panel and ribs, kg")
    ax.set_ylabel("worst sag, mm")
    ax.set_title(f"{len(table)} layouts in '{screening.library.case.name}'", parse_math=False)
    ax.legend(fontsize=style.SMALL, loc="best")
    ax.grid(alpha=0.25)
    return ax


def plot_screened_and_solved(screening: Screening, ax: Axes | None = None) -> Axes:
    """Draw the screened sag of the best layouts, with the estimate of its error, against the fully solved one.

    Parameters
    ----------
    screening : Screening
    ax : Axes, optional
    """
    ax, best = _axes(ax), screening.best
    solved, found = best["solved_mm"].to_numpy(dtype=float), best["screened_mm"].to_numpy(dtype=float)
    error = best["error_mm"].to_numpy(dtype=float)
    if len(best):
        ends = np.array([min(solved.min(), (found - error).min()), max(solved.max(), (found + error).max())])
        room = max(0.06 * float(np.ptp(ends)), 1e-3 * float(ends[1]))
        ends = ends + np.array([-room, room])
        ax.plot(ends, ends, color=style.QUIET, linewidth=1.0, label="screened = solved")
        ax.errorbar(
            solved,
            found,
            yerr=error,
            fmt="o",
            color=style.ALARM,
            ecolor=style.INK,
            elinewidth=1.0,
            capsize=3,
            markersize=5,
            label="best layouts, with the estimate of the error",
        )
        ax.set_xlim(*ends)
        ax.set_ylim(*ends)
        ax.set_aspect("equal")
        worst = 100.0 * float(np.max(np.abs(found - solved) / np.abs(solved)))
        ax.set_title(f"The best {len(best)}: screened within {worst:.2g} % of the full solve")
        ax.legend(fontsize=style.SMALL, loc="upper left")
    ax.set_xlabel("worst sag solved in full, mm")
    ax.set_ylabel("worst sag screened, mm")
    ax.grid(alpha=0.25)
    return ax
