"""Rounded corners between straight curves of a loop."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from splitterfem.curves import Arc, Curve, Line, in_mm
from splitterfem.errors import DesignError

_NOTHING = 1e-9


def filleted(loop: Sequence[Curve], radii: Sequence[float]) -> list[Curve]:
    """Round corners of a closed loop by arcs tangent to both sides.

    Parameters
    ----------
    loop : sequence of curves
        Closed, in order (m).
    radii : sequence of float
        Radius at the end of each curve (m); 0 leaves the corner as it is.

    Returns
    -------
    list of curves
        With the straight sides shortened. The cut along a side is ``r tan(turn / 2)``.

    Raises
    ------
    DesignError
        A corner that is not between two lines, or a radius that does not fit its sides.
    """
    count = len(loop)
    cuts = [_cut(loop[i], loop[(i + 1) % count], radii[i]) for i in range(count)]
    result: list[Curve] = []
    for i, curve in enumerate(loop):
        before = cuts[i - 1]
        if isinstance(curve, Line) and (cuts[i] or before):
            room = curve.length - cuts[i] - before
            if room < -_NOTHING:
                raise DesignError(
                    f"the rounding does not fit the side from {in_mm(curve.start)} to {in_mm(curve.end)} mm, "
                    f"which is {1e3 * curve.length:.6g} mm long and would need "
                    f"{1e3 * (cuts[i] + before):.6g} mm; give smaller radii"
                )
            if room > _NOTHING:
                first, last = curve.at([before / curve.length, 1.0 - cuts[i] / curve.length])
                result.append(Line(_pair(first), _pair(last)))
        else:
            result.append(curve)
        if cuts[i]:
            result.append(_arc(curve, loop[(i + 1) % count], radii[i], cuts[i]))
    return result


def _cut(before: Curve, after: Curve, radius: float) -> float:
    """Return the length that rounding takes off each side (m)."""
    if not radius:
        return 0.0
    if not (isinstance(before, Line) and isinstance(after, Line)):
        raise DesignError(
            f"the corner at {in_mm(before.end)} mm joins a curve and cannot be rounded; "
            "round only corners between two straight edges, or draw the arc"
        )
    turn = abs(_turn(before, after))
    if turn > math.pi - 1e-6:
        raise DesignError(f"the outline turns back on itself at {in_mm(before.end)} mm; move a corner")
    cut = radius * math.tan(0.5 * turn)
    return cut if cut > _NOTHING else 0.0


def _turn(before: Curve, after: Curve) -> float:
    """Return the angle from one line to the next (rad), positive to the left."""
    (ax, ay), (bx, by) = _direction(before), _direction(after)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _direction(curve: Curve) -> np.ndarray:
    return np.subtract(curve.end, curve.start) / math.dist(curve.start, curve.end)


def _arc(before: Curve, after: Curve, radius: float, cut: float) -> Arc:
    """Return the arc of a rounded corner."""
    corner, into, out = np.array(before.end), _direction(before), _direction(after)
    half = 0.5 * abs(_turn(before, after))
    inward = (out - into) / np.linalg.norm(out - into)
    middle = corner + inward * radius * (1.0 / math.cos(half) - 1.0)
    return Arc(_pair(corner - cut * into), _pair(middle), _pair(corner + cut * out))


def _pair(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
