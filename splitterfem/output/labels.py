"""Where the numbers on contour lines stand: on their line, clear of edges, parts and one another."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.axes import Axes
from numpy.typing import NDArray

Array = NDArray[np.float64]

DIGIT = 0.62
"""Width of a figure over the size of its type."""

ROOMY = 3.0
"""A place this many times as far from everything as it must be is as good as one that is farther yet."""

BESIDE = 0.45
"""Distance of a label from lines of other levels over the size of its type: half the height of a figure, and a bit."""

APART = 1.3
"""The same of labels from each other."""

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
    """A text on a line: its middle and the chord under it in the units of the axes."""

    text: str
    x: float
    y: float
    chord: shapely.LineString

    @property
    def angle(self) -> float:
        """Direction of the chord in rad."""
        a, b = self.chord.coords
        return math.atan2(b[1] - a[1], b[0] - a[0])


def placed_labels(
    lines: Iterable[tuple[str, Array]], taken: shapely.Geometry, *, size: float, per_point: float
) -> list[Label]:
    """Choose one place on each line for its label, clear of lines of other levels; a line without room gets none.

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
    clear = 0.7 * size * per_point
    known = [(text, shapely.linestrings(corners)) for text, corners in lines]
    crowd = [(text, shapely.simplify(line, 0.5 * per_point)) for text, line in known]
    for text, line in known:
        half = (0.5 * DIGIT * size * len(text) + 1.5) * per_point
        if line.length < SHORTEST * 2.0 * half:
            continue
        stops = np.linspace(half, line.length - half, max(5, int(line.length / half)))
        chords = _chords(line, stops, half)
        room = np.asarray(shapely.distance(chords, taken), dtype=np.float64)
        others = shapely.geometrycollections([other for word, other in crowd if word != text])
        beside = np.nan_to_num(shapely.distance(chords, others), nan=np.inf)
        room = np.minimum(room, beside * (clear / (BESIDE * size * per_point)))
        for label in placed:
            apart = np.asarray(shapely.distance(chords, label.chord), dtype=np.float64)
            room = np.minimum(room, apart * (clear / (APART * size * per_point)))
        best = _roomiest(room, clear)
        if room[best] >= clear:
            middle = shapely.line_interpolate_point(line, stops[best])
            placed.append(Label(text, middle.x, middle.y, chords[best]))
    return placed


def _chords(line: shapely.LineString, stops: Array, half: float) -> NDArray[np.object_]:
    """Chords of a line under labels whose middles are at the stops."""
    ends = [
        shapely.get_coordinates(shapely.line_interpolate_point(line, s)) for s in (stops - half, stops + half)
    ]
    chords: NDArray[np.object_] = shapely.linestrings(np.stack(ends, axis=1))
    return chords


def _roomiest(room: Array, clear: float) -> int:
    """Index of the place with most room; among those with plenty the one nearest to the middle."""
    capped = np.minimum(room, ROOMY * clear)
    best = np.flatnonzero(capped >= capped.max() - 1e-9 * clear)
    return int(best[np.argmin(np.abs(best - 0.5 * (len(room) - 1)))])
