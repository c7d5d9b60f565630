"""Pads of supports and forces as areas in plan, and mirrored pairs written out."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import shapely
import shapely.affinity

from splitterfem import curves
from splitterfem.design import Pad, Part

P = TypeVar("P", bound=Part)

PAD_CHORD = 0.01
"""Largest distance of a round pad's polygon from its circle, over the radius."""


def written_out(parts: tuple[P, ...]) -> tuple[P, ...]:
    """Parts with every mirrored pair as two."""
    return tuple(side for part in parts for side in part.sides())


def pad_radius(pad: Pad) -> float:
    """Radius of the circle around a pad in m."""
    if pad.diameter is not None:
        return 0.5 * float(pad.diameter)
    return 0.5 * float(np.hypot(pad.length or 0.0, pad.width or 0.0))


def pad_polygon(pad: Pad, at: tuple[float, float]) -> shapely.Polygon:
    """Area of a pad in plan, centred at a point in m, blown up to its true area where it is round."""
    polygon = curves.polygon(pad.loop(at), PAD_CHORD * pad_radius(pad))
    grow = float(np.sqrt(pad.area / polygon.area))
    return shapely.affinity.scale(polygon, grow, grow, origin=at)
