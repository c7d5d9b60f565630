"""Pictures of a screening: sag against mass of all layouts, and screened against solved sag of the best."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from splitterfem.layouts.screening import REACHES, Screening
from splitterfem.output import style
from splitterfem.output.picture import dress, name_axes, new_picture, ring_with_words, write_title
from splitterfem.output.wording import System, words_for
from splitterfem.units import convert

KINDS: dict[bool, dict[str, Any]] = {
    False: {"color": style.POINTS, "marker": "o", "label": "layouts, screened"},
    True: {"color": style.QUIET, "marker": "x", "label": "layouts that would reach the ground"},
}
"""How layouts look that would not, and that would, reach the ground."""


def plot_sag_and_mass(screening: Screening, ax: Axes | None = None, *, units: System = "metric") -> Axes:
    """Draw worst sag against mass of all layouts, with the best as they were solved in full.

    Parameters
    ----------
    screening : Screening
    ax : Axes, optional
        A new figure when left out.
    units : {"metric", "us"}

    Raises
    ------
    UnitError
        If there are no such units.
    """
    words = words_for(units)
    sag, mass = convert(1e-3, words.size), convert(1.0, words.mass)
    axes, table, best = new_picture(7.4, 5.0) if ax is None else ax, screening.table, screening.best
    for grounded, look in KINDS.items():
        some = table[(table["note"] == REACHES) == grounded].dropna(subset="worst_sag_mm")
        if len(some):
            axes.plot(
                mass * some["mass_kg"],
                sag * some["worst_sag_mm"],
                linestyle="none",
                markersize=3.5,
                alpha=0.6,
                **look,
            )
    axes.margins(0.06, 0.16)
    if len(best):
        axes.plot(
            mass * best["mass_kg"], sag * best["solved_mm"], "o", markersize=7.5, markerfacecolor="none", zorder=5,
            gid="solved", markeredgecolor=style.INK, markeredgewidth=1.4, label=f"best {len(best)}, solved in full",
        )  # fmt: skip
        first = best.iloc[0]
        said = words.with_unit(1e-3 * float(first["solved_mm"]), words.size, 1 if units == "metric" else 3)
        ring_with_words(
            axes,
            (mass * float(first["mass_kg"]), sag * float(first["solved_mm"])),
            f"layout {first['layout']}: {said}",
        )
    subject = f"{len(table)} layouts, each a dot, in load case: {screening.library.case.name}"
    _finish(axes, screening, subject, f"mass of panel and ribs, {words.mass}", f"worst sag, {words.size}")
    return axes


def plot_screened_and_solved(
    screening: Screening, ax: Axes | None = None, *, units: System = "metric"
) -> Axes:
    """Draw the screened sag of the best layouts, with the estimate of its error, against the fully solved one.

    Parameters
    ----------
    screening : Screening
    ax : Axes, optional
        A new figure when left out.
    units : {"metric", "us"}

    Raises
    ------
    UnitError
        If there are no such units.
    """
    words = words_for(units)
    sag = convert(1e-3, words.size)
    axes, best = new_picture(6.4, 5.6) if ax is None else ax, screening.best
    solved, found, error = (
        sag * best[name].to_numpy(dtype=float) for name in ("solved_mm", "screened_mm", "error_mm")
    )
    subject = "No layout was solved in full"
    if len(best):
        ends = np.array([min(solved.min(), (found - error).min()), max(solved.max(), (found + error).max())])
        room = max(0.06 * float(np.ptp(ends)), 1e-3 * float(ends[1]))
        ends = ends + np.array([-room, room])
        axes.plot(ends, ends, color=style.QUIET, linewidth=1.2, label="screened = solved")
        axes.errorbar(
            solved, found, yerr=error, fmt="o", color=style.POINTS, ecolor=style.INK, elinewidth=1.0, capsize=3,
            markersize=5, label="best layouts, with the estimate of the error",
        )  # fmt: skip
        axes.set(xlim=ends, ylim=ends, aspect="equal")
        worst = int(np.argmax(np.abs(found - solved) / np.abs(solved)))
        share = 100.0 * abs(found[worst] / solved[worst] - 1.0)
        said = f"layout {best['layout'].iloc[worst]}: {share:.2g} % off"
        ring_with_words(axes, (float(solved[worst]), float(found[worst])), said)
        subject = f"The best {len(best)}: screened within {share:.2g} % of the full solve"
    across, up = f"worst sag solved in full, {words.size}", f"worst sag screened, {words.size}"
    _finish(axes, screening, subject, across, up)
    return axes


def _finish(axes: Axes, screening: Screening, subject: str, across: str, up: str) -> None:
    name_axes(axes, across, up)
    dress(axes, grid="both")
    design = screening.library.model.design
    write_title(axes, design, design.name, subject)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(fontsize=style.SMALL, loc="best", frameon=False)
