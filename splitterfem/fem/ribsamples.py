"""Samples of the lines and feet of ribs on a mesh, all of which have to lie on the panel."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.fem.locate import Locator, Samples, join
from splitterfem.fem.ribs import offset_polyline
from splitterfem.fem.slip import SlipField, distances

Array = NDArray[np.float64]

COVERAGE = 1e-6
"""Relative length or area of a rib that may lie off the panel: round-off, not design."""


def line_samples(
    locator: Locator, points: Array, course: Array, name: str, field: SlipField | None = None
) -> Samples:
    """Sample a line with ``s`` counted along the rib's own line.

    Where the rib has a displacement of its own, the lengths are those along its own line as well, whose ends on either
    side of a bend are not mitred: so the forces of all lines add up to what the joint passes.
    """
    stations, lengths = distances(course), distances(points)
    samples = locator.line(points, stations=stations, cuts=None if field is None else field.knots)
    check_covered(samples.measure, float(lengths[-1]), name)
    if field is None:
        return samples
    piece = np.clip(np.searchsorted(stations, samples.s, side="right") - 1, 0, len(stations) - 2)
    share = np.diff(stations)[piece] / np.diff(lengths)[piece]
    return replace(samples, weights=samples.weights * share)


def moved(locator: Locator, samples: Samples, points: Array) -> Samples:
    """Return the samples of a line moved onto another of the same stations."""
    stations = distances(points)
    xy = np.array([np.interp(samples.s, stations, points[:, axis]) for axis in (0, 1)])
    return replace(samples, elements=locator.find(xy), xy=xy)


def strip_samples(locator: Locator, points: Array, width: float) -> Samples:
    """Sample a strip of a width (m) about a polyline (n, 2), with ``s`` counted along the polyline."""
    left, right = offset_polyline(points, 0.5 * width), offset_polyline(points, -0.5 * width)
    parts, start = [], 0.0
    for i, (a, b) in enumerate(itertools.pairwise(points)):
        strip = shapely.Polygon([left[i], left[i + 1], right[i + 1], right[i]])
        found = locator.area(strip)
        length = np.hypot(*(b - a))
        tangent = (b - a) / length
        direction = np.repeat(tangent[:, None], len(found.weights), axis=1)
        # mitred corners reach past the ends of the centre line
        s = start + np.clip(tangent @ (found.xy - a[:, None]), 0.0, length)
        start += length
        parts.append(Samples(found.elements, found.xy, found.weights, s, direction))
    return join(parts)


def check_covered(found: float, wanted: float, name: str) -> None:
    """Refuse what was found shorter or smaller than it should be.

    Raises
    ------
    DesignError
        If part of it is not on the panel.
    """
    if found < wanted * (1.0 - COVERAGE):
        missing = 100.0 * (1.0 - found / wanted)
        raise DesignError(
            f"{name[:1].upper()}{name[1:]} lies {missing:.2g} % off the panel or over an opening: "
            "shorten it or move it inwards."
        )
