"""Where the next rib helps most, and which way it lies, in plan view with the best places marked."""

from __future__ import annotations

from typing import Any, Unpack

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.patches import Patch, Polygon
from numpy.typing import NDArray

from splitterfem.analysis.gain import LENGTH, RibGain
from splitterfem.analysis.gain_places import RibPlace
from splitterfem.analysis.measures import Measure
from splitterfem.output import style
from splitterfem.output.colours import map_of
from splitterfem.output.fieldview import BAR
from splitterfem.output.gain_phrases import better, factor, gain_subject, unit_of
from splitterfem.output.planparts import covered, rib_area
from splitterfem.output.planpicture import Manner, PlanOptions, plan_of
from splitterfem.output.planview import page
from splitterfem.output.spots import Spot
from splitterfem.output.style import Scale
from splitterfem.units import convert

Array = NDArray[np.float64]

LEAST = 0.02
"""Gain over the largest below which no stroke is drawn: it would be all that is seen."""

MOST, PEAK = 0.97, 4.0
"""Share of the places, and how many times their largest gain the last step of the series is at most: gain on a check
of one place has a peak there beside which nothing else would be seen."""

LONG, THIN, THICK = 0.86, 0.7, 3.4
"""Length of a stroke over the spacing of places, and its widths in points."""

PALEST = 0.2
"""Where the part begins of the colour map that is used: its palest end would not be seen on paper."""

NEW: dict[str, Any] = {"facecolor": (0.76, 0.09, 0.36, 0.16), "edgecolor": style.ALARM, "linewidth": 1.8}
"""Look of a rib that could be laid."""


def plot_rib_gain(
    gain: RibGain,
    ax: Axes | None = None,
    *,
    count: int = 3,
    length: float = LENGTH,
    tried: bool = True,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw the best direction for a rib at each place as a stroke, the thicker and darker the more it helps.

    Strokes follow the series 1, 2, 5 of the gain to first order; places where a rib helps next to nothing have none.
    The best places for a straight rib of a length are outlined, with what the rib does there.

    Parameters
    ----------
    gain : RibGain
    ax : Axes, optional
        Where to draw; a new figure when left out.
    count : int
        Best places that are marked; none for zero.
    length : float
        Of the ribs there, in m.
    tried : bool
        Whether to solve with each of them there; otherwise what they do is estimated.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.  Gain is in
        mm per m with mm, in in per ft with in.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    DesignError
        If no rib of that length fits on the panel.
    UnitError
        Another unit.
    """
    manner = Manner(**options)
    scale, splitter = manner.scale, gain.model.design
    places = gain.best(count, length=length, tried=tried) if count else []
    entries: list[tuple[Artist, str]] = []
    if places:
        each = "a pair of ribs" if gain.mirror else "a rib"
        words = f"{each} {scale.say_size(length)} long{'' if tried else ' (estimated)'}"
        entries.append((Patch(**NEW), words))
    hint = "Strokes lie the way a rib helps most, the darker the more. Try the numbered ribs first."
    plan = plan_of(splitter, ax, manner, hint=hint, more=entries)
    spots = [
        Spot(number, place.at, _rib_words(place, gain.measure, scale))
        for number, place in enumerate(places, start=1)
    ]
    feet = [area for place in places for area in _feet(gain, place)]
    new = [shapely.Polygon(page(area, scale)) for area in feet]
    taken = shapely.union_all(
        [covered(splitter, gain.of.solution.case, scale, (np.nan, np.nan), plan.per_point), *new]
    )
    marked = plan.placed(spots, taken)
    _draw_strokes(plan.ax, gain, scale)
    plan.draw_parts()
    for number, area in enumerate(feet, start=1):
        plan.ax.add_patch(Polygon(page(area, scale), zorder=9, gid=f"new rib {number}", **NEW))
    plan.finish(gain_subject(gain, f"Gain of {'pairs of ribs' if gain.mirror else 'a rib'}"), spots=marked)
    return plan.ax


def _draw_strokes(ax: Axes, gain: RibGain, scale: Scale) -> None:
    """Draw a stroke at each place where a rib helps, with a bar of the series 1, 2, 5."""
    words, per = _rate(gain.measure, scale)
    values = per * gain.gain
    if values.max() <= 0.0:
        return
    most = min(float(values.max()), PEAK * float(np.quantile(values[values > 0.0], MOST)))
    levels = _series(LEAST * most, most)
    shown = np.flatnonzero(values >= levels[0])
    band = np.searchsorted(levels, values[shown], side="right") - 1
    shades = map_of(style.GAIN_COLOURS)(np.linspace(PALEST, 1.0, len(levels)))
    widths = np.linspace(THIN, THICK, len(levels))
    half = (
        0.5 * LONG * gain.spacing * np.array([np.cos(gain.direction[shown]), np.sin(gain.direction[shown])])
    )
    middle = np.array([gain.x[shown], gain.y[shown]])
    ends = np.stack([(middle - half).T, (middle + half).T], axis=1)
    order = np.argsort(values[shown], kind="stable")
    strokes = LineCollection(
        [page(pair, scale) for pair in ends[order]],
        colors=shades[band[order]],
        linewidths=widths[band[order]],
        capstyle="round",
        zorder=2,
        gid="strokes",
    )
    ax.add_collection(strokes, autolim=False)
    figure = ax.get_figure(root=True)
    assert figure is not None
    edges = [*levels, 2.0 * levels[-1]]
    colours = ScalarMappable(BoundaryNorm(edges, len(levels)), ListedColormap(shades))
    bar = figure.colorbar(colours, ax=ax, shrink=BAR, aspect=22, pad=0.02, spacing="uniform")
    bar.set_ticks(list(levels), labels=[f"{level:g}" for level in levels])
    bar.ax.tick_params(labelsize=style.SMALL)
    bar.ax.minorticks_off()
    bar.set_label(words, fontsize=style.TEXT)


def _series(low: float, high: float) -> Array:
    """Numbers of the series 1, 2, 5 from the first above `low` to the last not above `high`, at least one."""
    powers = np.arange(np.floor(np.log10(low)) - 1, np.ceil(np.log10(high)) + 1)
    series = np.concatenate([np.array([1.0, 2.0, 5.0]) * 10.0**power for power in powers])
    return np.asarray(series[(series >= low * (1.0 - 1e-9)) & (series <= high * (1.0 + 1e-9))])


def _rate(measure: Measure, scale: Scale) -> tuple[str, float]:
    """Words for the gain per length of rib, and its factor from SI."""
    long = "m" if scale.unit == "mm" else "ft"
    per = 1.0 / convert(1.0, long, dimension="length")
    words = f"{unit_of(measure, scale)} per {long} of rib".lstrip()
    return f"gain to first order ({words})", per * factor(measure, scale)


def _feet(gain: RibGain, place: RibPlace) -> list[Array]:
    """Corners (n, 2) in m of the foot of a rib, and of its other half."""
    rib = gain.rib.with_(points=place.points, mirror=gain.mirror)
    return [rib_area(half) for half in rib.sides()]


def _rib_words(place: RibPlace, measure: Measure, scale: Scale) -> str:
    if place.measure is None:
        return f"about {better(place.whole, measure, scale)}"
    return better(place.improvement(measure), measure, scale)
