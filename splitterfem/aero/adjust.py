"""Bringing a pressure map to what was measured on the car: its total, and how the sides share it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import box

from splitterfem.aero.combined import WeightedMap
from splitterfem.aero.overlap import Area, area_of
from splitterfem.aero.pressure_map import SourceField
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]

LEAST_TOTAL = 0.02
"""Share of the gross force that a map's total must have before it can be scaled to a measured total."""


def to_total(field: SourceField, area: Area, total: float) -> WeightedMap:
    """Scale a map to a total force.

    Parameters
    ----------
    field : SourceField
        Pa.
    area : shapely Polygon or MultiPolygon
        Of the panel, m.
    total : float
        Downforce that the map is to have over the area, N.

    Raises
    ------
    DesignError
        If the map's own total has the other sign, or is next to nothing because suction and pressure cancel.
    """
    samples = field.sampling(area)
    points, push = samples.points, samples.weights * samples.values
    found = float(push.sum())
    gross = float(samples.weights @ np.abs(field.at(points[:, 0], points[:, 1])))
    if abs(found) <= LEAST_TOTAL * gross:
        raise DesignError(
            f"its own total is {found:.3g} N, for suction and pressure cancel; such a map cannot be scaled to "
            f"{total:.4g} N, so leave total_force out"
        )
    if found * total <= 0.0:
        raise DesignError(
            f"its own total is {found:.4g} N and total_force is {total:.4g} N; check the signs (positive is down)"
        )
    return WeightedMap(field, total / found)


def to_share(field: SourceField, area: Area, left: float) -> WeightedMap:
    """Tilt a map from side to side so that the left half of an area carries a given share.

    The map is multiplied by ``(1 + c y / y_max) / n``: the smoothest factor that shifts load sideways. The
    number c gives the share exactly, and n keeps the total.

    Parameters
    ----------
    field : SourceField
        Pa.
    area : shapely Polygon or MultiPolygon
        Of the panel, m; its left half is where y > 0.
    left : float
        Share of the total, 0 to 1.

    Raises
    ------
    DesignError
        If the area has one half only, the total is zero, or the share would turn the pressure round
        somewhere (c outside -1 to 1); the possible shares are named.
    """
    x0, y0, x1, y1 = area.bounds
    reach = max(abs(y0), abs(y1))
    if y0 >= 0.0 or y1 <= 0.0:
        raise DesignError("the panel lies on one side of the centre plane only; leave left_right out")
    here, there = (
        _moments(field, area_of(shapely.intersection(area, half)), reach)
        for half in (box(x0, 0.0, x1, y1), box(x0, y0, x1, 0.0))
    )
    total, turn = here + there
    with np.errstate(divide="ignore", invalid="ignore"):
        c = (left * total - here[0]) / (here[1] - left * turn)
        low, high = np.sort([(here[0] + k * here[1]) / (total + k * turn) for k in (-1.0, 1.0)])
    if not (np.isfinite(c) and abs(c) <= 1.0 + 1e-9 and total != 0.0):
        raise DesignError(
            f"left_right = {left:g} would turn the pressure round on one side of this map; give a share from "
            f"{low:.2f} to {high:.2f}"
        )
    n = 1.0 + c * turn / total
    return WeightedMap(field, 1.0 / n, float(c / n / reach))


def _moments(field: SourceField, area: Area, reach: float) -> FloatArray:
    """Force of an area, and force weighted by y over the panel's half width."""
    samples = field.sampling(area)
    push = samples.weights * samples.values
    return np.array([push.sum(), push @ samples.points[:, 1] / reach])
