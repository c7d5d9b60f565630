"""What a search found: one objective against the other, and how one objective got better."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.layouts.finds import Found, not_beaten
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.solving import Done
from splitterfem.output import style
from splitterfem.output.colours import HOW_MUCH, map_of
from splitterfem.output.picture import dress, name_axes, new_picture, ring_with_words, write_title
from splitterfem.output.readable import AS_TABLES, measure_label, measure_name
from splitterfem.output.studyunits import StudyUnits
from splitterfem.output.wording import System

Array = NDArray[np.float64]

COLOURS = map_of(f"{HOW_MUCH}_r")
"""Of a third objective or the cost; dark is much."""


def plot_found(
    found: Found, ax: Axes | None = None, *, units: System | None = None, title: str | None = None
) -> Axes:
    """Draw all layouts of a search: two objectives against each other, or one objective over the search.

    For two objectives or more, the first is drawn to the right and the second upwards, and the line is the front: no
    layout within the limits beats one on it in both.  Colours are a third objective, or the cost where it was asked.
    The numbers are those of the layouts in ``best``.  Grey crosses miss a limit; refused layouts are left out.

    Parameters
    ----------
    found : Found
    ax : Axes, optional
        A new figure when left out.
    units : {"metric", "us"}, optional
        Of all figures; those of the table when left out.
    title : str, optional
        In place of the splitter's name; empty for none.

    Raises
    ------
    DesignError
        If no layout was solved.
    UnitError
        If there are no such units.
    """
    system = StudyUnits(units)
    shown = [done for done in found.layouts if not done.refused]
    if not shown:
        raise DesignError("The search has no solved layout: there is nothing to draw.")
    axes = new_picture(7.4, 5.0) if ax is None else ax
    if len(found.goal.objectives) == 1:
        _progress(axes, found, shown, system)
    else:
        _front(axes, found, shown, system)
    dress(axes, grid="both")
    if title != "":
        write_title(
            axes, found.plan.base, found.plan.base.name if title is None else title, _subject(found, system)
        )
    return axes


def _subject(found: Found, units: StudyUnits) -> str:
    kept = sum(1 for done in found.layouts if found.goal.kept(done))
    parts = [f"{len(found.layouts)} layouts, {kept} within limits"]
    refused = sum(1 for done in found.layouts if done.refused)
    parts += [f"{refused} refused"] if refused else []
    if found.goal.limits:
        parts[-1] += ":\n" + ", ".join(_limit(one, limit, units) for one, limit in found.goal.limits)
    return "; ".join(parts + ([] if found.finished else ["unfinished"]))


def _limit(one: Asked, limit: float, units: StudyUnits) -> str:
    side = "at most" if one.better == "low" else "at least"
    shown = f"{units.shown(limit, one.unit):.4g} {units.unit(one.unit)}"
    return f"{measure_name(one, units)} {side} {shown}".strip()


def _figures(units: StudyUnits, layouts: list[Done], one: Asked) -> Array:
    factor = units.factor(one.unit)
    return np.array([factor * float(done.row.get(one.column, math.nan)) for done in layouts])


def _front(axes: Axes, found: Found, shown: list[Done], units: StudyUnits) -> None:
    across, up = found.goal.objectives[:2]
    kept = [done for done in shown if found.goal.kept(done)]
    missed = [done for done in shown if not found.goal.kept(done)]
    if missed:
        axes.plot(
            _figures(units, missed, across), _figures(units, missed, up), "x", color=style.FAINT,
            markersize=5, zorder=2, label="misses a limit",
        )  # fmt: skip
    front = not_beaten(found.goal, kept)
    if len(found.goal.objectives) == 2 and front:
        axes.step(
            _figures(units, front, across), _figures(units, front, up),
            where="post" if across.better == "low" else "pre", color=style.INK, linewidth=1.2, zorder=3, label="front",
        )  # fmt: skip
    colour = _colour_of(found)
    if kept and colour is not None:
        values = _figures(units, kept, colour)
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        scale = Normalize(low, high if high > low else low + 1.0)
        axes.scatter(
            _figures(units, kept, across), _figures(units, kept, up), c=values, cmap=COLOURS, norm=scale, s=30,
            zorder=4, edgecolors=style.INK, linewidths=0.4, label="within limits",
        )  # fmt: skip
        figure = axes.get_figure(root=True)
        if figure is not None:
            bar = figure.colorbar(ScalarMappable(scale, COLOURS), ax=axes, pad=0.02)
            bar.set_label(measure_label(colour, units), fontsize=style.TEXT)
            bar.ax.tick_params(labelsize=style.SMALL)
    elif kept:
        axes.plot(
            _figures(units, kept, across), _figures(units, kept, up), "o", color=style.POINTS, markersize=5, zorder=4,
            label="within limits",
        )  # fmt: skip
    axes.margins(0.08)
    _look_at(axes, kept, across, up, units)
    _number(axes, found, across, up, units)
    name_axes(axes, measure_label(across, units), measure_label(up, units))
    axes.legend(loc="best", fontsize=style.SMALL, frameon=False)


def _look_at(axes: Axes, kept: list[Done], across: Asked, up: Asked, units: StudyUnits) -> None:
    """Show what keeps the limits, and of the rest what is not far off."""
    for one, set_limits, known in (
        (across, axes.set_xlim, axes.get_xlim()),
        (up, axes.set_ylim, axes.get_ylim()),
    ):
        values = _figures(units, kept, one)
        if len(values) and np.ptp(values) > 0.0:
            low, high, room = float(values.min()), float(values.max()), 0.35 * float(np.ptp(values))
            floor = min(0.0, known[0]) if low < 0.0 else -0.04 * high  # no room below nothing
            set_limits(max(known[0], low - room, floor), min(known[1], high + room))


def _colour_of(found: Found) -> Asked | None:
    """Find what the colours are: the third objective, or the cost, where it is known."""
    for one in (*found.goal.objectives[2:3], *(m for m in found.plan.measures if m.name == "cost")):
        if (
            one not in found.goal.objectives[:2]
            and np.isfinite(_figures(AS_TABLES, list(found.layouts), one)).any()
        ):
            return one
    return None


def _number(axes: Axes, found: Found, across: Asked, up: Asked, units: StudyUnits) -> None:
    """Write the numbers of the best layouts and what each was chosen for."""
    for number, reason in found.best["chosen for"].items():
        done = found.done(number)
        x, y = (units.shown(float(done.row[one.column]), one.unit) for one in (across, up))
        ring_with_words(axes, (x, y), f"{number}: {reason}")


def _progress(axes: Axes, found: Found, shown: list[Done], units: StudyUnits) -> None:
    """Draw one objective of each layout in the order of the search, and the best so far."""
    one = found.goal.objectives[0]
    for kept, look in (
        (False, {"marker": "x", "color": style.FAINT}),
        (True, {"marker": "o", "color": style.POINTS}),
    ):
        some = [done for done in shown if found.goal.kept(done) is kept]
        if some:
            label = "within limits" if kept else "misses a limit"
            axes.plot(
                [done.number for done in some], _figures(units, some, one), linewidth=0, markersize=5, zorder=3,
                label=label, **look,  # type: ignore[arg-type]
            )  # fmt: skip
    best = [done for done in shown if found.goal.kept(done)]
    if best:
        values = _figures(units, best, one)
        lowest = np.minimum.accumulate(values) if one.better == "low" else np.maximum.accumulate(values)
        axes.step(
            [done.number for done in best], lowest, where="post", color=style.INK, linewidth=1.4, zorder=4,
            label="best so far",
        )  # fmt: skip
        top = found.done(int(found.best.index[0]))
        value = float(top.row[one.column])
        axes.margins(0.06, 0.18)
        point = (top.number, units.shown(value, one.unit))
        ring_with_words(axes, point, f"{top.number}: {units.figure(value, one.unit)}")
    name_axes(axes, "layout, in the order of the search", measure_label(one, units))
    axes.legend(loc="best", fontsize=style.SMALL, frameon=False)
