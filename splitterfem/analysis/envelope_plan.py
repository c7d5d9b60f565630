"""The panel in plan view against the limits of an envelope."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.corners import sharpest_corner
from splitterfem.analysis.envelope_rows import NOWHERE, EnvelopeCheck, Place, at_least, at_most
from splitterfem.analysis.planform import (
    ACCURACY,
    CHORD,
    Reach,
    closed_line,
    first_of_ties,
    largest_distance,
    largest_lead,
    least_distance,
    pair,
    steps_above,
    steps_of,
)
from splitterfem.curves import in_mm
from splitterfem.design import Envelope, Splitter, WidthLimit
from splitterfem.errors import DesignError

Array = NDArray[np.float64]

FORWARD, REAR, SYMMETRY = "forward", "rear", "symmetry"
WIDTH = "width"
"""Begins the names of all width limits."""

_SPAN = 1e-6


def plan_checks(splitter: Splitter, envelope: Envelope) -> Iterator[EnvelopeCheck]:
    """Compare the outline and the openings with each limit in plan view that is given.

    Raises
    ------
    DesignError
        If the line of the bodywork ends before the panel does.
    """
    outline = closed_line(splitter.panel.outline.loop())
    if envelope.forward is not None:
        yield _forward(outline, envelope)
    for width in envelope.widths:
        yield _width(outline, width, envelope)
    if envelope.rear is not None:
        yield _rear(outline, float(envelope.rear), float(envelope.tolerance))
    if envelope.symmetry is not None:
        yield _symmetry(splitter, outline, float(envelope.symmetry), float(envelope.tolerance))
    yield from _radii(splitter, envelope)


def bodywork_line(envelope: Envelope) -> Array:
    """Return the line of the bodywork as points (n, 2) within `CHORD` of it (m)."""
    assert envelope.bodywork is not None  # an envelope with a limit that needs it has one
    return np.asarray(envelope.bodywork.line(CHORD))


def _forward(outline: Array, envelope: Envelope) -> EnvelopeCheck:
    limit = envelope.forward
    assert limit is not None
    line = bodywork_line(envelope)
    (low, high), (right, left) = _extent(outline[:, 1]), _extent(line[:, 1])
    for end, short in ((high, left < high - _SPAN), (low, right > low + _SPAN)):
        if short:
            raise DesignError(
                f"The line of the bodywork runs from y = {1e3 * right:.1f} mm to y = {1e3 * left:.1f} mm and the "
                f"panel reaches y = {1e3 * end:.1f} mm; carry the line on to the side at least as far."
            )
    if limit.measured == "straight ahead":
        how = "front edge of the panel ahead of the bodywork at the same y, seen from above; largest over the width"
        reach = largest_lead(outline[:, ::-1], line[:, ::-1], low, high)
    else:
        how = "front edge of the panel ahead of the bodywork, at right angles to its line, seen from above; largest"
        reach = _along_normal(outline[:, ::-1], line[:, ::-1], low, high)
    return at_most(
        FORWARD,
        how,
        limit=float(limit.limit),
        found=reach.value,
        tolerance=float(envelope.tolerance),
        at=_turned(reach.at),
        since=_turned(reach.since),
        note="" if reach.value > 0.0 else "the panel stays behind the bodywork",
    )


def _along_normal(outline: Array, line: Array, low: float, high: float) -> Reach:
    """Largest distance of the outline's top from a line that it is above; abscissa y, height x."""
    ahead = steps_above(outline, line, low, high)
    if not len(ahead):
        floor = np.array([[low, -np.inf], [high, -np.inf]])
        floor[:, 1] = outline[:, 1].min() - 1.0
        near = least_distance(steps_above(outline, floor, low, high).reshape(-1, 2), line)
        return Reach(-near.value, near.at, near.since)
    reach = largest_distance(ahead, steps_of(line))
    for end, along in ((line[0], line[1] - line[0]), (line[-1], line[-2] - line[-1])):
        gap = np.subtract(reach.at, end)
        if math.dist(reach.since, end) < ACCURACY and gap @ along < -ACCURACY * math.hypot(*along):
            raise DesignError(
                f"The line of the bodywork ends at {in_mm(end[::-1])} mm, before the normal that meets the front "
                f"edge of the panel at {in_mm(reach.at[::-1])} mm; carry the line on."
            )
    return reach


def _width(outline: Array, width: WidthLimit, envelope: Envelope) -> EnvelopeCheck:
    tolerance, allowance = float(envelope.tolerance), float(width.allowance)
    rule = f"{WIDTH}, {width.against}"
    if width.stations is not None:
        reach, side = _alongside(outline, bodywork_line(envelope), width.stations)
        return at_most(
            rule,
            "edge of the panel outside the bodywork at the same x, seen from above, "
            f"x = {1e3 * width.stations[0]:.1f} mm to {1e3 * width.stations[1]:.1f} mm, worse side",
            limit=allowance,
            found=reach.value,
            tolerance=tolerance,
            at=(reach.at[0], side * reach.at[1]),
            since=(reach.since[0], side * reach.since[1]),
        )
    half = (
        float(np.abs(bodywork_line(envelope)[:, 1]).max())
        if width.half_width is None
        else float(width.half_width)
    )
    what = {
        "tyre": "outer walls of the tyres at wheel centre height, wheels straight",
        "widest bodywork": "bodywork at its widest",
    }[width.against]
    more = f" plus {1e3 * allowance:.1f} mm" if allowance else ""
    reaches = np.abs(outline[:, 1])
    i = first_of_ties(reaches, outline[:, 1])
    at = pair(outline[i])
    return at_most(
        rule,
        f"half width of the panel from y = 0 against that of the {what}{more}; worse side",
        limit=half + allowance,
        found=float(reaches[i]),
        tolerance=tolerance,
        at=at,
        since=(at[0], 0.0),
    )


def _alongside(outline: Array, line: Array, stations: tuple[float, float]) -> tuple[Reach, float]:
    """Largest reach of the panel beyond the bodywork at the same x, and the side: 1 left, -1 right."""
    rear, front = _extent(outline[:, 0])
    low, high = max(rear, stations[0]), min(front, stations[1])
    if low >= high:
        raise DesignError(
            f"The width is measured from x = {1e3 * stations[0]:.1f} mm to x = {1e3 * stations[1]:.1f} mm, and the "
            f"panel lies from x = {1e3 * rear:.1f} mm to x = {1e3 * front:.1f} mm; give stations that meet it."
        )
    reaches = []
    for side in (1.0, -1.0):
        half = line[side * line[:, 1] >= -_SPAN]
        first, last = _extent(half[:, 0]) if len(half) else (math.inf, -math.inf)
        if first > low + _SPAN or last < high - _SPAN:
            name, short = ("left" if side > 0.0 else "right"), (low if first > low + _SPAN else high)
            raise DesignError(
                f"The line of the bodywork does not reach x = {1e3 * short:.1f} mm on the {name} side, where "
                "the width is measured; carry the line on, or give stations within it."
            )
        sign = np.array([1.0, side])
        reaches.append((largest_lead(outline * sign, line * sign, low, high), side))
    return max(reaches, key=lambda found: round(found[0].value, 6))


def _rear(outline: Array, limit: float, tolerance: float) -> EnvelopeCheck:
    i = first_of_ties(-outline[:, 0], outline[:, 1])
    at = pair(outline[i])
    return at_least(
        REAR,
        f"rear-most point of the panel; none further aft than x = {1e3 * limit:.1f} mm, x forward, front axle at zero",
        limit=limit,
        found=at[0],
        tolerance=tolerance,
        at=at,
        since=(limit, at[1]),
    )


def _symmetry(splitter: Splitter, outline: Array, limit: float, tolerance: float) -> EnvelopeCheck:
    edges = [steps_of(outline)]
    holes = [steps_of(closed_line(loop)) for _, loop in splitter.panel.holes()]
    if holes:
        edges.append(np.concatenate(holes))
    reaches = [largest_distance(steps, steps * np.array([1.0, -1.0])) for steps in edges]
    worst = max(reaches, key=lambda reach: reach.value)
    same = worst.value <= ACCURACY
    where = "symmetric as drawn" if same else "" if worst is reaches[0] else "at an opening"
    return at_most(
        SYMMETRY,
        "outline from its mirror image about y = 0, and openings from theirs, seen from above; largest distance",
        limit=limit,
        found=worst.value,
        tolerance=tolerance,
        at=NOWHERE if same else worst.at,
        since=NOWHERE if same else worst.since,
        note=where,
    )


def _radii(splitter: Splitter, envelope: Envelope) -> Iterator[EnvelopeCheck]:
    corner, edge, tolerance = envelope.corner_radius, envelope.edge_radius, float(envelope.tolerance)
    if corner is not None:
        aft = -math.inf if corner.ahead_of is None else float(corner.ahead_of)
        radius, at = sharpest_corner(splitter.panel.outline.loop(), aft)
        part = "" if corner.ahead_of is None else f" ahead of x = {1e3 * aft:.1f} mm"
        yield at_least(
            "corner radius",
            f"smallest radius of an outward corner of the outline{part}, seen from above; openings do not count",
            limit=float(corner.least),
            found=radius,
            tolerance=tolerance if corner.tolerance is None else float(corner.tolerance),
            at=at,
            note=_corner_note(radius),
        )
    if edge is not None:
        yield at_least(
            "edge radius",
            "radius of the edge of the sheet in section, as given; it is not in the model",
            limit=float(edge.least),
            found=math.nan if edge.built is None else float(edge.built),
            tolerance=tolerance if edge.tolerance is None else float(edge.tolerance),
            note="give built, the radius that the edge gets"
            if edge.built is None
            else "as given, not computed",
        )


def _corner_note(radius: float) -> str:
    if math.isinf(radius):
        return "there is no outward corner there"
    return "a sharp corner" if radius == 0.0 else ""


def _extent(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _turned(place: Place) -> Place:
    return place[1], place[0]
