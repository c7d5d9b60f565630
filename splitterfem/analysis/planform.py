"""Distances between lines seen from above: how far one is ahead of another, or away from it.

Lines are points (n, 2) in m, closed ones with their first point repeated. Curves are taken as polygons within
`CHORD` of them; on polygons the largest distances are found without sampling, so that `ACCURACY` holds for what
comes out, however short the stretch on which a distance is largest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from splitterfem import curves

Array = NDArray[np.float64]

CHORD = 2e-6
"""Distance between curves and the polygons that stand for them, m."""

ACCURACY = 1e-5
"""What distances between curves are found within, m."""

_RESOLUTION = 1e-7
_TIE = 3e-7
_BLOCK = 400_000
_HALVINGS = 60


@dataclass(frozen=True)
class Reach:
    """A distance in m, the point (m) of the panel where it was found, and the point from which it is measured."""

    value: float
    at: tuple[float, float]
    since: tuple[float, float]


def closed_line(loop: curves.Loop) -> Array:
    """Return the points of a loop, the first repeated at the end."""
    corners = curves.flatten(loop, CHORD)
    return np.concatenate([corners, corners[:1]])


def steps_of(line: Array) -> Array:
    """Return the straight steps of a line, shape (n - 1, 2, 2)."""
    return np.stack([line[:-1], line[1:]], axis=1)


def tops(line: Array, lower: Array, upper: Array) -> tuple[Array, Array]:
    """Return the height of a line over slabs of the abscissa.

    Parameters
    ----------
    line : ndarray, shape (n, 2)
        Abscissa and height. It does not cross itself.
    lower, upper : ndarray, shape (k,)
        Ends of the slabs; no point of the line lies within one.

    Returns
    -------
    at_lower, at_upper : ndarray, shape (k,)
        Height of the highest step over each slab at its ends, seen from inside; -inf where there is none.
    """
    a, b = line[:-1], line[1:]
    slanted = a[:, 0] != b[:, 0]
    a, b = a[slanted], b[slanted]
    turned = (a[:, 0] > b[:, 0])[:, None]
    a, b = np.where(turned, b, a), np.where(turned, a, b)
    slope = (b[:, 1] - a[:, 1]) / (b[:, 0] - a[:, 0])
    ends = np.full((2, len(lower)), -np.inf)
    for part in _blocks(len(lower), len(a)):
        middle = 0.5 * (lower[part] + upper[part])[:, None]
        height = a[:, 1] + slope * (middle - a[:, 0])
        height[(middle < a[:, 0]) | (middle > b[:, 0])] = -np.inf
        best = np.argmax(height, axis=1)
        there = np.isfinite(height[np.arange(len(best)), best])
        for end, where in zip(ends, (lower[part], upper[part]), strict=True):
            found = a[best, 1] + slope[best] * (where - a[best, 0])
            end[part] = np.where(there, found, -np.inf)
    return ends[0], ends[1]


def slabs(low: float, high: float, *lines: Array) -> tuple[Array, Array]:
    """Cut the abscissa from low to high at every point of some lines; lower and upper ends of the slabs."""
    cuts = np.concatenate([line[:, 0] for line in lines])
    cuts = np.unique(np.concatenate([[low], cuts[(cuts > low) & (cuts < high)], [high]]))
    wide = np.diff(cuts) > 1e-12
    return cuts[:-1][wide], cuts[1:][wide]


def largest_lead(line: Array, behind: Array, low: float, high: float) -> Reach:
    """Find where a line is furthest above another at the same abscissa.

    Parameters
    ----------
    line, behind : ndarray, shape (n, 2)
        Abscissa and height; both span the abscissa from `low` to `high`.
    low, high : float
        Where to look.

    Returns
    -------
    Reach
        In abscissa and height; negative when the line is below the other everywhere. Of several places alike
        it is that of `first_of_ties`.
    """
    lower, upper = slabs(low, high, line, behind)
    heights, bases = tops(line, lower, upper), tops(behind, lower, upper)
    s = np.concatenate([lower, upper])
    h, base = np.concatenate(heights), np.concatenate(bases)
    i = first_of_ties(h - base, s)
    return Reach(float(h[i] - base[i]), pair((s[i], h[i])), pair((s[i], base[i])))


def first_of_ties(values: Array, y: Array) -> int:
    """Index of the largest value; of several alike (0.3 µm) one on the left, of these the nearest to y = 0."""
    ties = np.flatnonzero(values >= values.max() - _TIE)
    left = ties[y[ties] >= -_TIE]
    ties = left if len(left) else ties
    return int(ties[np.argmin(np.abs(y[ties]))])


def steps_above(line: Array, behind: Array, low: float, high: float) -> Array:
    """Return the steps (n, 2, 2) of the top of a line where it is above another; as `largest_lead` takes them."""
    lower, upper = slabs(low, high, line, behind)
    heights, bases = tops(line, lower, upper), tops(behind, lower, upper)
    first, last = heights[0] - bases[0], heights[1] - bases[1]
    some = np.maximum(first, last) > 0.0
    first, last = first[some], last[some]
    a = np.column_stack([lower, heights[0]])[some]
    b = np.column_stack([upper, heights[1]])[some]
    span = np.where(first == last, 1.0, first - last)
    root = np.clip(first / span, 0.0, 1.0)[:, None]
    crossing = a + root * (b - a)
    return np.stack(
        [np.where((first < 0.0)[:, None], crossing, a), np.where((last < 0.0)[:, None], crossing, b)], axis=1
    )


def largest_distance(steps: Array, others: Array) -> Reach:
    """Find the point of some straight steps that is furthest from all of some others.

    The largest distance of a step from one other, which is convex, is that of one of its ends. The least of these
    over all others bounds the distance of its points from them; steps whose bound is above what was found
    are halved until there are none.

    Parameters
    ----------
    steps, others : ndarray, shape (n, 2, 2)
        Ends (m).

    Returns
    -------
    Reach
        Within 0.1 µm for these steps, with the nearest point of the others.
    """
    found, places = [np.empty(0)], [np.empty((0, 2))]
    best = -np.inf
    for _ in range(_HALVINGS):
        bound = np.empty(len(steps))
        ends = np.empty((len(steps), 2))
        for part in _blocks(len(steps), len(others)):
            first, last = (_distances(steps[part, end], others) for end in (0, 1))
            ends[part] = np.column_stack([first.min(axis=1), last.min(axis=1)])
            bound[part] = np.maximum(first, last).min(axis=1)
        found.append(ends.ravel())
        places.append(steps.reshape(-1, 2))
        best = max(best, float(ends.max()))
        steps = steps[bound > best + _RESOLUTION]
        if not len(steps):
            break
        middle = steps.mean(axis=1)
        steps = np.concatenate(
            [np.stack([steps[:, 0], middle], axis=1), np.stack([middle, steps[:, 1]], axis=1)]
        )
    values, points = np.concatenate(found), np.concatenate(places)
    i = first_of_ties(values, points[:, 1])
    return Reach(float(values[i]), pair(points[i]), pair(nearest_on(points[i], others)))


def nearest_on(point: Array, steps: Array) -> Array:
    """Return the point of some straight steps that is nearest to a point (m)."""
    feet = _feet(point[None], steps)[0]
    return np.asarray(feet[np.argmin(np.hypot(*(feet - point).T))])


def least_distance(line: Array, other: Array) -> Reach:
    """Find the point of a line that is nearest to another."""
    a, b = shapely.LineString(line), shapely.LineString(other)
    near = shapely.get_coordinates(shapely.shortest_line(a, b))
    return Reach(float(shapely.distance(a, b)), pair(near[0]), pair(near[1]))


def _distances(points: Array, steps: Array) -> Array:
    """Distance of points (k, 2) from steps (m, 2, 2), shape (k, m)."""
    gap = _feet(points, steps) - points[:, None]
    return np.asarray(np.hypot(gap[..., 0], gap[..., 1]))


def _feet(points: Array, steps: Array) -> Array:
    """Nearest points to points (k, 2) on steps (m, 2, 2), shape (k, m, 2)."""
    a, along = steps[:, 0], steps[:, 1] - steps[:, 0]
    squared = np.maximum((along**2).sum(axis=1), 1e-300)
    share = np.clip(((points[:, None] - a) * along).sum(axis=2) / squared, 0.0, 1.0)
    return np.asarray(a + share[..., None] * along)


def _blocks(rows: int, columns: int) -> Iterator[slice]:
    """Cut rows into blocks whose tables have no more than some millions of cells."""
    size = max(1, _BLOCK // max(1, columns))
    return (slice(start, start + size) for start in range(0, rows, size))


def pair(point: ArrayLike) -> tuple[float, float]:
    """Return a point as two floats."""
    x, y = np.asarray(point, dtype=float)
    return float(x) + 0.0, float(y) + 0.0  # and no -0.0
