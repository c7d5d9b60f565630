"""How stiff the panel feels under a hand, in plan view, with the softest spots marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Unpack

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.contour import ContourSet
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from splitterfem.analysis.pushmap import AT_REST, PushMap
from splitterfem.output import style
from splitterfem.output.colours import map_of
from splitterfem.output.contactmarks import HALO
from splitterfem.output.fieldview import BAR, label_lines
from splitterfem.output.labels import units_per_point
from splitterfem.output.planparts import covered
from splitterfem.output.planpicture import Manner, PlanOptions, plan_of
from splitterfem.output.planview import page
from splitterfem.output.push_words import at_least_two, force_words, pad_words
from splitterfem.output.spots import Spot
from splitterfem.output.style import Scale
from splitterfem.output.wording import Words, words_for
from splitterfem.units import convert

Array = NDArray[np.float64]

CAP = 50.0
"""Stiffness over that of the softest spot above which all is drawn alike: nobody feels a difference there."""

STIFF = "#f7f5ef"
"""Whatever is stiffer than the cap: paler than any colour of the map, in grey too."""

PALEST = 0.9
"""Share of the map that is used; its palest end would look like what is stiffer than the cap."""

LIFTS: dict[str, Any] = {
    "facecolor": style.PAPER,
    "edgecolor": style.QUIET,
    "hatch": "....",
    "linewidth": 0.8,
}


def plot_push(
    pushes: PushMap,
    ax: Axes | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw the stiffness that a hand feels, as filled contours in plan view with the softest spots called out.

    Contours follow the series 1, 2, 5; from 50 times the softest all is one pale colour.  Where a push lifts the panel
    off its supports it is dotted.

    Parameters
    ----------
    pushes : PushMap
    ax : Axes, optional
        Where to draw; a new figure when left out.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.  Stiffness
        is in N/mm with mm, in lbf/in with in.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    UnitError
        Another unit.
    """
    manner = Manner(**options)
    scale, words = manner.scale, words_for("us" if manner.unit == "in" else "metric")
    splitter, levels = pushes.model.design, _levels(pushes, words)
    hint = "Dark gives most under a hand. The numbers mark the softest places, 1 the softest."
    plan = plan_of(splitter, ax, manner, hint=hint, more=_entries(pushes, levels, words))
    parts = [covered(splitter, AT_REST, scale, at, plan.per_point) for at in _places(pushes)]
    taken = shapely.union_all(parts)
    spots = plan.placed(_spots(pushes, words), taken)
    if len(levels):
        clear = shapely.union_all([taken, *plan.clear_of(spots)])
        _draw_contours(plan.ax, pushes, levels, clear, words, scale)
    _draw_lifts(plan.ax, pushes, scale)
    plan.draw_parts()
    plan.finish(_subject(pushes, words), spots=spots)
    return plan.ax


def _subject(pushes: PushMap, words: Words) -> str:
    force = force_words(pushes, words)
    pad = pad_words(pushes.pad, words)
    return f"Stiffness under a push of {force} on a {pad} pad, load case: {pushes.case}"


def _places(pushes: PushMap) -> list[tuple[float, float]]:
    """Places of the spots that are marked, or one off the panel when there are none."""
    return [at for _, at in pushes.softest()] or [(float("nan"), float("nan"))]


def _spots(pushes: PushMap, words: Words) -> list[Spot]:
    """Softest spots with what is written beside them."""
    found = []
    for number, (k, at) in enumerate(pushes.softest(), start=1):
        value = f"{at_least_two(convert(k, words.line_load))} {words.line_load}"
        found.append(Spot(number, at, f"softest: {value}" if number == 1 else value))
    return found


def _levels(pushes: PushMap, words: Words) -> Array:
    """Levels of the series 1, 2, 5 in the unit of people: from below the softest to the cap; none without any."""
    values = convert(1.0, words.line_load) * pushes.stiffness.values[~pushes.lifts]
    if not len(values):
        return np.zeros(0)
    low = float(values.min())
    high = min(float(values.max()), CAP * low)
    powers = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 2)
    series = np.array([factor * 10.0**power for power in powers for factor in (1.0, 2.0, 5.0)])
    first = int(np.searchsorted(series, low * (1.0 + 1e-9), side="right")) - 1
    last = int(np.searchsorted(series, high * (1.0 - 1e-9), side="left"))
    # a cap between two levels goes down to the lower one, unless nothing is stiffer than the upper
    last -= int(values.max() > series[last] and last - first > 1)
    return series[first : last + 1]


def _entries(pushes: PushMap, levels: Array, words: Words) -> list[tuple[Artist, str]]:
    """Return marks and words for what is stiffer than the cap, and for where a push lifts the panel."""
    entries: list[tuple[Artist, str]] = []
    if len(levels) and _beyond(pushes, levels, words):
        stiff = Patch(facecolor=STIFF, edgecolor=style.INK, linewidth=0.8)
        entries.append((stiff, f"stiffer than {levels[-1]:g} {words.line_load}"))
    if pushes.lifts.any():
        entries.append((Patch(**LIFTS), "push lifts the panel off its supports"))
    return entries


def _beyond(pushes: PushMap, levels: Array, words: Words) -> bool:
    return bool(np.nanmax(pushes.stiffness.values) * convert(1.0, words.line_load) > levels[-1])


def _draw_contours(
    ax: Axes, pushes: PushMap, levels: Array, taken: shapely.Geometry, words: Words, scale: Scale
) -> None:
    """Draw contours of the logarithm, which is smoother between points, with a bar of equal steps."""
    field, per = pushes.stiffness, scale.per_metre
    mesh = Triangulation(field.y * per, field.x * per, field.triangles, mask=_lifted(pushes))
    values = np.log10(convert(1.0, words.line_load) * field.values)
    steps, more = np.log10(levels), _beyond(pushes, levels, words)
    shades = map_of(style.PUSH_COLOURS)(np.linspace(0.0, PALEST, len(levels) - 1))
    colours = ListedColormap(shades, name="soft to stiff").with_extremes(over=STIFF)
    look: dict[str, Any] = {"levels": steps, "cmap": colours, "norm": BoundaryNorm(steps, len(shades))}
    filled = ax.tricontourf(mesh, values, extend="max" if more else "neither", zorder=2, **look)
    filled.set_gid("filled contours")
    lines = ax.tricontour(mesh, values, levels=steps, colors=style.INK, linewidths=0.6, alpha=0.7, zorder=2.5)
    label_lines(ax, lines, [f"{level:g}" for level in levels], taken)
    _draw_bar(ax, filled, levels, words, more=more)


def _draw_bar(ax: Axes, filled: ContourSet, levels: Array, words: Words, *, more: bool) -> None:
    figure = ax.get_figure(root=True)
    assert figure is not None
    bar = figure.colorbar(filled, ax=ax, shrink=BAR, aspect=22, pad=0.02, spacing="uniform", extendfrac=0.12)
    bar.set_ticks(np.log10(levels).tolist(), labels=[f"{level:g}" for level in levels])
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.ax.minorticks_off()
    bar.set_label(f"stiffness under the hand ({words.line_load})", fontsize=style.TEXT)
    look: dict[str, Any] = {"xycoords": "axes fraction", "fontsize": style.SMALL, "annotation_clip": False}
    bar.ax.annotate("soft", xy=(0.5, -0.02), ha="center", va="top", **look)
    if more:  # beside the pale end, where the next number would be
        bar.ax.annotate("stiffer", xy=(1.5, 1.05), ha="left", va="center", **look)
    else:
        bar.ax.annotate("stiff", xy=(0.5, 1.02), ha="center", va="bottom", **look)


def _lifted(pushes: PushMap) -> NDArray[np.bool_]:
    """Triangles (m,) with a corner at which a push lifts the panel."""
    return np.asarray(pushes.lifts[pushes.stiffness.triangles].any(axis=1))


def _draw_lifts(ax: Axes, pushes: PushMap, scale: Scale) -> None:
    """Dot the area on which a push lifts the panel off, and say so where there is room."""
    field, lifted = pushes.stiffness, _lifted(pushes)
    if not lifted.any():
        return
    corners = np.stack([field.x, field.y], axis=1)[field.triangles[lifted]]
    whole = shapely.union_all(shapely.polygons(corners))
    rings = shapely.get_rings(shapely.get_parts(whole))
    outline = Path.make_compound_path(
        *(Path(page(shapely.get_coordinates(r), scale), closed=True) for r in rings)
    )
    ax.add_patch(PathPatch(outline, zorder=2.8, gid="lifts", **LIFTS))
    for part in _roomy(shapely.get_parts(whole), scale, units_per_point(ax)):
        y, x = page([(part.x, part.y)], scale)[0]
        look: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": style.TEXT, "path_effects": HALO}
        ax.text(float(y), float(x), "push lifts\nthe panel", zorder=9.0, gid="lifts off", **look)


def _roomy(parts: Sequence[shapely.Polygon], scale: Scale, per_point: float) -> list[shapely.Point]:
    """Middles of the areas in which two words find room."""
    need = 2.8 * style.TEXT * per_point / scale.per_metre
    circles = [shapely.maximum_inscribed_circle(part) for part in parts]
    return [shapely.Point(circle.coords[0]) for circle in circles if circle.length >= need]
