"""Where the numbers on contour lines stand: on their line, clear of edges, parts and one another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.axes import Axes
from numpy.typing import NDArray

Array = NDArray[np.float64]

DIGIT = 0.62
"""Width of a figure over the size of its type."""

ROOMY = 2.5
"""A place this many times as far from everything as it must be is as good as one that is farther yet."""

SHORTEST = 2.0
"""Lines shorter than this many labels stay without one."""


def units_per_point(ax: Axes) -> float:
    """Length in the units of the axes that a typographic point covers; before layout an estimate."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    box = ax.get_position()
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    across = abs(x1 - x0) / (box.width * figure.get_figwidth())
    up = abs(y1 - y0) / (box.height * figure.get_figheight())
    return float(max(across, up)) / 72.0


@dataclass(frozen=True)
class Label:
    """A text on a line: its middle in the units of the axes, and the line's direction there in rad."""

    text: str
    x: float
    y: float
    angle: float
    half: float
    """Half of its length in the units of the axes."""


def placed_labels(
    lines: Iterable[tuple[str, Array]], taken: shapely.Geometry, *, size: float, per_point: float
) -> list[Label]:
    """Choose one place on each line for its label; a line without room gets none.

    Parameters
    ----------
    lines : iterable of (str, ndarray of shape (n, 2))
        Text of the label, and the corners of the line.
    taken : shapely Geometry
        What labels keep clear of, in the units of the corners.
    size : float
        Size of the type in points.
    per_point : float
        Length in the units of the corners that a point covers.

    Returns
    -------
    list of Label
    """
    placed: list[Label] = []
    for text, corners in lines:
        half = (0.5 * DIGIT * size * len(text) + 1.5) * per_point
        along = shapely.linestrings(corners)
        if along.length < SHORTEST * 2.0 * half:
            continue
        stops = np.linspace(0.0, along.length, max(5, int(along.length / half)) + 2)[1:-1]
        places = shapely.get_coordinates(shapely.line_interpolate_point(along, stops))
        room = _room(places, taken, placed)
        best = _roomiest(room, half)
        if room[best] >= half:
            x, y = places[best]
            placed.append(Label(text, float(x), float(y), _direction(along, float(stops[best]), half), half))
    return placed


def _direction(line: shapely.LineString, stop: float, half: float) -> float:
    """Direction in rad of the chord under a label whose middle is at `stop` along a line."""
    a, b = shapely.get_coordinates(shapely.line_interpolate_point(line, [max(stop - half, 0.0), stop + half]))
    return float(np.arctan2(*(b - a)[::-1]))


def _room(places: Array, taken: shapely.Geometry, placed: Sequence[Label]) -> Array:
    """Distance of each place from everything that is taken and from the labels that stand already."""
    room = np.asarray(shapely.distance(shapely.points(places), taken), dtype=np.float64)
    for label in placed:
        room = np.minimum(room, np.hypot(places[:, 0] - label.x, places[:, 1] - label.y) - label.half)
    return room


def _roomiest(room: Array, half: float) -> int:
    """Index of the place with most room; among those with plenty the one nearest to the middle."""
    capped = np.minimum(room, ROOMY * half)
    best = np.flatnonzero(capped >= capped.max() - 1e-9 * half)
    return int(best[np.argmin(np.abs(best - 0.5 * (len(room) - 1)))])
