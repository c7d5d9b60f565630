"""Where the limits of an envelope run in plan view, and how far their tolerance reaches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.analysis.envelope import EnvelopeCheck
from splitterfem.analysis.envelope_plan import FORWARD, REAR, WIDTH
from splitterfem.analysis.planform import slabs, tops
from splitterfem.design import Envelope, Splitter, WidthLimit
from splitterfem.output.planview import CHORD, Bounds, bounds
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

BEYOND = 0.03
"""Length of a limit line past the panel, as a share of the panel's width."""

_THIN = 1e-5
_FAR = 20.0
"""Larger than any panel, m."""


@dataclass(frozen=True)
class LimitLine:
    """A limit in plan view.

    Attributes
    ----------
    name : str
        Of the limit, with the side where there are two.
    points : ndarray, shape (n, 2)
        (x, y) in m.
    band : ndarray, shape (m, 2)
        Corners of the area within the tolerance, m.
    beyond : ndarray, shape (k, 2)
        Corners of an area past the limit, wider than any panel, m.
    limit : float
        Number that stands in the name, m.
    text : str
        Name with a gap ``{}`` for that number.
    label_at : tuple of float
        Where the name stands (m).
    offset : tuple of float
        Of the name from there, in points.
    rotation : float
        Of the name in degrees.
    ha, va : str
        Its alignment.
    """

    name: str
    points: Array
    band: Array
    beyond: Array
    limit: float
    text: str
    label_at: tuple[float, float]
    offset: tuple[float, float] = (0.0, 3.0)
    rotation: float = 0.0
    ha: str = "center"
    va: str = "bottom"

    def words(self, scale: Scale) -> str:
        """Write the name with its number."""
        return self.text.format(scale.say_size(self.limit))


def limit_lines(splitter: Splitter, checks: Sequence[EnvelopeCheck]) -> tuple[LimitLine, ...]:
    """Return the limits of a splitter's envelope that can be drawn in plan view.

    Parameters
    ----------
    splitter : Splitter
        With an envelope.
    checks : sequence of EnvelopeCheck
        Of the same splitter.
    """
    envelope = splitter.envelope
    assert envelope is not None
    box = bounds(splitter)
    lines = list[LimitLine]()
    if envelope.forward is not None:
        lines.append(_forward(envelope, box))
    found = [check for check in checks if check.rule.startswith(f"{WIDTH},")]
    for width, check in zip(envelope.widths, found, strict=True):
        lines += _alongside(envelope, width, box) if width.stations else _width(width, check, box)
    if envelope.rear is not None:
        lines.append(_rear(float(envelope.rear), float(envelope.tolerance), box))
    return tuple(lines)


def _forward(envelope: Envelope, box: Bounds) -> LimitLine:
    forward, tolerance = envelope.forward, float(envelope.tolerance)
    assert forward is not None
    assert envelope.bodywork is not None
    line = envelope.bodywork.line(CHORD)[:, ::-1]
    limit, more = float(forward.limit), BEYOND * box.width
    low, high = max(box.right - more, line[:, 0].min()), min(box.left + more, line[:, 0].max())
    near, middle, far = (
        _top_of(_ahead(line, distance, forward.measured), low, high)
        for distance in (limit - tolerance, limit, limit + tolerance)
    )
    how = {"straight ahead": "straight ahead of", "along the normal": "at right angles from"}
    label = 0.5 * (low + high) - 0.2 * (high - low)
    at = float(np.interp(label, middle[:, 0], middle[:, 1]))
    ahead = np.interp([label - 0.02, label + 0.02], middle[:, 0], middle[:, 1])
    return LimitLine(
        FORWARD,
        middle[:, ::-1],
        np.concatenate([near, far[::-1]])[:, ::-1],
        np.array([*middle[:, ::-1], (_FAR, middle[-1, 0]), (_FAR, middle[0, 0])]),
        limit,
        f"forward limit: {{}} {how[forward.measured]} the bodywork",
        (at, label),
        offset=(0.0, 4.0),
        rotation=-float(np.degrees(np.arctan2(ahead[1] - ahead[0], 0.04))),
    )


def _ahead(line: Array, distance: float, measured: str) -> Array:
    """Shift a line (abscissa y, height x) ahead, or return the rim of all that is no further from it."""
    if measured == "straight ahead":
        return np.asarray(line + np.array([0.0, distance]))
    rim = shapely.LineString(line).buffer(max(distance, _THIN), quad_segs=64, cap_style="flat")
    return np.asarray(shapely.get_coordinates(rim.exterior))


def _top_of(line: Array, low: float, high: float) -> Array:
    """Upper side of a line from one abscissa to another."""
    lower, upper = slabs(low, high, line)
    first, last = tops(line, lower, upper)
    points = np.stack([np.column_stack([lower, first]), np.column_stack([upper, last])], axis=1).reshape(
        -1, 2
    )
    # twice the same point but for round-off would let the drawing differ from one run to the next
    top: Array = np.round(points[np.isfinite(points[:, 1])], 7)
    new = np.any(np.diff(top, axis=0) != 0.0, axis=1)
    return np.concatenate([top[:1], top[1:][new]])


def _width(width: WidthLimit, check: EnvelopeCheck, box: Bounds) -> Iterator[LimitLine]:
    tolerance, more = check.tolerance, BEYOND * box.width
    rear, front = box.rear - more, box.front + more
    what = "tyre" if width.against == "tyre" else "widest bodywork"
    what += " + allowance" if width.allowance else ""
    for side, name in ((1.0, "left"), (-1.0, "right")):
        y, out, inn = (side * (check.limit + by) for by in (0.0, tolerance, -tolerance))
        yield LimitLine(
            f"{check.rule}, {name}",
            np.array([(rear, y), (front, y)]),
            np.array([(rear, inn), (front, inn), (front, out), (rear, out)]),
            np.array([(-_FAR, y), (_FAR, y), (_FAR, side * _FAR), (-_FAR, side * _FAR)]),
            check.limit,
            f"half width, {what}: {{}}",
            (front, y),
            offset=(-4.0 * side, 0.0),
            rotation=90.0,
            ha="right",
            va="bottom" if side > 0.0 else "top",
        )


def _alongside(envelope: Envelope, width: WidthLimit, box: Bounds) -> Iterator[LimitLine]:
    assert envelope.bodywork is not None
    assert width.stations is not None
    line, tolerance = envelope.bodywork.line(CHORD), float(envelope.tolerance)
    limit = float(width.allowance)
    low, high = max(width.stations[0], box.rear), min(width.stations[1], box.front)
    for side, name in ((1.0, "left"), (-1.0, "right")):
        edge = _top_of(line * np.array([1.0, side]), low, high)
        inn, middle, out = (
            (edge + np.array([0.0, by])) * np.array([1.0, side])
            for by in (limit - tolerance, limit, limit + tolerance)
        )
        yield LimitLine(
            f"{WIDTH}, {width.against}, {name}",
            middle,
            np.concatenate([inn, out[::-1]]),
            np.array([*middle, (middle[-1, 0], side * _FAR), (middle[0, 0], side * _FAR)]),
            limit,
            "{} outside the bodywork",
            (box.rear - 2.0 * BEYOND * box.width, float(middle[0, 1])),
            offset=(-4.0 * side, 0.0),
            rotation=90.0,
            ha="left",
            va="bottom" if side > 0.0 else "top",
        )


def _rear(limit: float, tolerance: float, box: Bounds) -> LimitLine:
    more = BEYOND * box.width
    right, left = box.right - more, box.left + more
    return LimitLine(
        REAR,
        np.array([(limit, right), (limit, left)]),
        np.array(
            [
                (limit - tolerance, right),
                (limit - tolerance, left),
                (limit + tolerance, left),
                (limit + tolerance, right),
            ]
        ),
        np.array([(limit, -_FAR), (limit, _FAR), (-_FAR, _FAR), (-_FAR, -_FAR)]),
        limit,
        "rear limit: none of the panel aft of x = {}",
        (limit, 0.5 * (right + left) - 0.28 * (left - right)),
        offset=(0.0, -3.0),
        va="top",
    )
