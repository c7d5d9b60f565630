"""Places on the panel by words: its corners, the middle of its lip, the feet of its struts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
import shapely.ops

from splitterfem import curves
from splitterfem.design._ground import TOUCH
from splitterfem.design.pad import Pad
from splitterfem.errors import DesignError, nearest
from splitterfem.units import Point

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter

EDGE = 0.005
"""Distance that a pad keeps from the edge of the panel, m."""

PLACES = ("left corner", "right corner", "lip middle")


def place_of(
    splitter: Splitter, at: str | Point, pad: Pad, *, name: str = "handling"
) -> tuple[tuple[float, float], str]:
    """Find where a handling case acts, and the words for it.

    Parameters
    ----------
    splitter : Splitter
    at : str or point
        A word or the name of a strut, as near to which the pad lies as it can wholly on the panel; or a point in m.
    pad : Pad
        The area that it acts on; a rectangle has its sides along the axes.
    name : str
        Of the case, for messages.

    Raises
    ------
    DesignError
        If there is no such place, or no room for the pad.
    """
    polygon = splitter.panel.polygon(float(splitter.mesh.chord))
    if not isinstance(at, str):
        x, y = float(at[0]), float(at[1])
        area = curves.polygon(pad.loop((x, y)), 1e-3 * math.sqrt(pad.area))
        if not polygon.buffer(TOUCH, join_style="mitre").covers(area):
            raise DesignError(
                f"the handling case '{name}' acts at {curves.in_mm((x, y))} mm with an area of {_size(pad)}, which is "
                "not wholly on the panel; move it onto the panel or make it smaller"
            )
        return (x, y), f"at x {round(1e3 * x)} y {round(1e3 * y)} mm"
    wanted, word = _wanted(splitter, at, polygon, name)
    room = _room(polygon, pad)
    if room.is_empty:
        raise DesignError(
            f"the handling case '{name}' acts on an area of {_size(pad)}, for which the panel has no room; make it "
            "smaller or leave the case out"
        )
    found = shapely.ops.nearest_points(room, shapely.Point(wanted))[0]
    return (float(found.x), float(found.y)), word


def _size(pad: Pad) -> str:
    if pad.diameter is not None:
        return f"{1e3 * pad.diameter:.4g} mm across"
    return f"{1e3 * float(pad.length or 0.0):.4g} x {1e3 * float(pad.width or 0.0):.4g} mm"


def _room(polygon: Any, pad: Pad) -> Any:
    """Places of a pad's centre at which it is wholly on a polygon (m) and a little off its edge."""
    if pad.diameter is not None:
        return polygon.buffer(-(0.5 * float(pad.diameter) + EDGE))
    half = 0.5 * float(pad.length or 0.0) + EDGE, 0.5 * float(pad.width or 0.0) + EDGE
    frame = polygon.envelope.buffer(2.0 * max(half), join_style="mitre")
    off = shapely.difference(frame, polygon)
    for step in ((half[0], 0.0), (0.0, half[1])):
        off = _swept(off, np.array(step))
    return shapely.difference(polygon, off)


def _swept(area: Any, step: Any) -> Any:
    """Area (m) that an area passes over when it moves from ``-step`` to ``step``."""
    lines = shapely.get_parts(shapely.boundary(area))
    ends = [np.stack([line[:-1], line[1:]], axis=1) for line in map(shapely.get_coordinates, lines)]
    a, b = np.concatenate(ends).transpose(1, 0, 2)
    quads = shapely.polygons(np.stack([a - step, a + step, b + step, b - step], axis=1))
    return shapely.union_all([area, *quads[shapely.area(quads) > 0.0]])


def _wanted(splitter: Splitter, at: str, polygon: Any, name: str) -> tuple[tuple[float, float], str]:
    x0, y0, x1, y1 = polygon.bounds
    if at == "lip middle":
        return (x1, 0.5 * (y0 + y1)), at
    if at in PLACES:
        sign = 1.0 if at == "left corner" else -1.0
        corners = shapely.get_coordinates(polygon)
        # the corner is where the lip is foremost and outermost at once
        score = (corners[:, 0] - x0) / (x1 - x0) + sign * (corners[:, 1] - 0.5 * (y0 + y1)) / (y1 - y0)
        x, y = corners[int(score.argmax())]
        return (float(x), float(y)), at
    struts = {half.name: half for strut in splitter.struts for half in strut.sides()}
    if at in struts:
        x, y = struts[at].foot
        return (float(x), float(y)), f"under {at}"
    known = nearest(at, [*PLACES, *struts])
    raise DesignError(
        f"the handling case '{name}' acts at '{at}', which is neither a place nor a strut; {known}"
    )
