"""Numbered spots in plan view with a few words each, written where they cover least."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from matplotlib.axes import Axes
from numpy.typing import NDArray

from splitterfem.output import style
from splitterfem.output.labels import units_per_point
from splitterfem.output.planview import Bounds, draw_scale_bar, draw_travel, page
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

LETTER = 0.62
"""Width of a bold letter over the size of its type."""

ROUND = np.radians(np.arange(0.0, 360.0, 30.0))
AWAY = (12.0, 20.0, 32.0, 48.0, 72.0)
"""Directions and distances in points in which words may lie from their spot."""

RADIUS = 7.5
"""Of the mark of a spot, in points."""


@dataclass(frozen=True)
class Spot:
    """A place that is marked.

    Attributes
    ----------
    number : int
        Written into the mark.
    at : tuple of float
        Place (x, y) in m.
    text : str
        Written beside it.
    mark, middle : tuple of float
        Where mark and words stand on the page.
    area : shapely Polygon
        What the words cover on the page.
    """

    number: int
    at: tuple[float, float]
    text: str
    mark: tuple[float, float] = (0.0, 0.0)
    middle: tuple[float, float] = (0.0, 0.0)
    area: shapely.Polygon = field(default_factory=shapely.Polygon)

    @property
    def size(self) -> float:
        """Of the type in points; the first spot is written larger."""
        return 13.0 if self.number == 1 else 10.0


def placed_spots(
    spots: Sequence[Spot], taken: shapely.Geometry, box: Bounds, scale: Scale, ax: Axes
) -> list[Spot]:
    """Choose where the words of each spot stand: off the panel if that is near, clear of parts and of one another.

    Parameters
    ----------
    spots : sequence of Spot
        The most important first.
    taken : shapely Geometry
        What words better keep clear of, on the page.
    box : Bounds
        Of the panel.
    scale : Scale
    ax : Axes
        With its limits set.
    """
    per_point = units_per_point(ax)
    ends = page([(box.rear, box.right), (box.front, box.left)], scale)
    sheet = shapely.box(*ends[0], *ends[1])
    (x0, x1), (y0, y1) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
    room = shapely.box(x0, y0, x1, y1)
    marks = page([spot.at for spot in spots], scale)
    discs = [shapely.Point(mark).buffer(RADIUS * per_point) for mark in marks]
    placed: list[Spot] = []
    for i, (spot, mark) in enumerate(zip(spots, marks, strict=True)):
        hard = [*(other.area for other in placed), *(disc for k, disc in enumerate(discs) if k != i)]
        lines = [shapely.LineString([other.mark, other.middle]) for other in placed]

        def cost(
            area: shapely.Polygon,
            hard: list[shapely.Geometry] = hard,
            lines: list[shapely.Geometry] = lines,
            mark: Array = mark,
        ) -> float:
            to_words = shapely.LineString([mark, area.centroid.coords[0]])
            crossed = 4.0 * sum(to_words.intersects(other) for other in (*hard, *lines))
            crossed += 4.0 * sum(area.intersects(other) for other in lines)
            covers = 20.0 * sum(area.intersection(other).area for other in hard) / area.area
            outside = 20.0 * area.difference(room).area / area.area
            on_sheet = area.intersection(sheet).area / area.area
            on_parts = area.intersection(taken).area / area.area
            far = area.centroid.distance(shapely.Point(mark)) / (100.0 * per_point)
            return float(crossed + covers + outside + on_sheet + on_parts + far)

        best = min(_areas(spot, mark, per_point), key=cost)
        middle = best.centroid
        placed.append(
            replace(spot, mark=(float(mark[0]), float(mark[1])), middle=(middle.x, middle.y), area=best)
        )
    return placed


def _areas(spot: Spot, mark: Array, per_point: float) -> Iterator[shapely.Polygon]:
    """Areas on the page that the words may cover."""
    half = 0.5 * np.array([LETTER * len(spot.text) + 0.8, 2.0]) * spot.size * per_point
    for away in AWAY:
        for angle in ROUND:
            direction = np.array([np.cos(angle), np.sin(angle)])
            # as far as the box itself reaches in this direction, and away from there
            reach = float(np.min(half / np.maximum(np.abs(direction), 1e-9)))
            middle = mark + direction * (reach + away * per_point)
            yield shapely.box(*(middle - half), *(middle + half))


def draw_spots(ax: Axes, spots: Sequence[Spot]) -> None:
    """Draw marks with their numbers, and the words beside them."""
    for spot in spots:
        ax.plot(
            *spot.mark,
            marker="o",
            markersize=2.0 * RADIUS,
            markerfacecolor=style.PAPER,
            markeredgecolor=style.ALARM,
            markeredgewidth=2.4,
            linestyle="none",
            zorder=10,
            clip_on=False,
            gid=f"spot {spot.number}",
        )
        ax.annotate(
            str(spot.number),
            xy=spot.mark,
            ha="center",
            va="center_baseline",
            fontsize=style.TEXT,
            fontweight="bold",
            color=style.ALARM,
            zorder=12,
            annotation_clip=False,
            gid=f"number {spot.number}",
        )
        look = {**style.CALL_OUT, "gid": f"call-out {spot.number}"}
        ax.annotate(
            spot.text,
            xy=spot.mark,
            xytext=spot.middle,
            textcoords="data",
            ha="center",
            va="center",
            fontsize=spot.size,
            **look,
            arrowprops={"arrowstyle": "-", "color": style.ALARM, "linewidth": 1.6, "shrinkB": RADIUS},
        )


def draw_beside(ax: Axes, spots: Sequence[Spot], box: Bounds, scale: Scale) -> None:
    """Draw direction of travel and scale bar where no words of spots stand."""
    words = shapely.union_all([spot.area for spot in spots])
    length = style.round_step(box.width * scale.per_metre, 6) / scale.per_metre
    beside = page([(box.front - 0.9 * box.length, box.left), (box.front, box.left + box.margin)], scale)
    draw_travel(ax, box, scale, left=not words.intersects(shapely.box(*beside[0], *beside[1])))
    starts = [box.right, 0.5 * (box.left + box.right - length), box.left - length]

    def hidden(start: float) -> float:
        under = page([(box.rear - box.margin, start), (box.rear, start + length)], scale)
        return float(words.intersection(shapely.box(*under[0], *under[1])).area)

    right = min(starts, key=hidden)
    draw_scale_bar(ax, Bounds(box.rear, box.front, right, right + box.width), scale)
