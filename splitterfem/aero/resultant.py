"""Total force and centre of pressure of a pressure map over a plan-view area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero.overlap import Area, Sampling, check, quadrature
from splitterfem.aero.pressure_map import PressureField, SourceField

__all__ = ["Resultant", "quadrature", "resultant"]

FloatArray = NDArray[np.float64]

CANCELS = 1e-9
"""Share of the gross force below which suction and pressure count as balanced: no centre of pressure."""


@dataclass(frozen=True)
class Resultant:
    """What a pressure map adds up to.

    Parameters
    ----------
    force : float
        Downforce, positive downwards, N.
    x, y : float
        Centre of pressure, m; nan where suction and pressure cancel.
    area : float
        m2.
    extrapolated : float
        Share of the area on which nothing was measured, 0 to 1.
    moments : tuple of float
        Integral of the pressure times x and times y, N m.
    """

    force: float
    x: float
    y: float
    area: float
    extrapolated: float
    moments: tuple[float, float] = (float("nan"), float("nan"))


def resultant(field: PressureField, region: Area, *, spacing: float | None = None) -> Resultant:
    """Integrate a pressure map over a plan-view area.

    Without a spacing a map from a file is integrated over its own cells, cut along the edge of the area: its own
    integral, exact to rounding. With a spacing, and for any other map, the area is cut into squares, and into
    triangles along its edge, each with a six-point rule of degree four: polynomial fields up to degree three
    come out exactly, with their centre of pressure.

    Parameters
    ----------
    field : PressureField
        Net pressure, Pa.
    region : shapely Polygon or MultiPolygon
        Area in m, holes left out.
    spacing : float, optional
        m.

    Raises
    ------
    DesignError
        If the region is empty or crosses itself, or the spacing asks for too many points.
    """
    if isinstance(field, SourceField) and spacing is None:
        check(region)
        samples = field.sampling(region)
        extrapolated = max(0.0, 1.0 - field.covered(region).area / region.area)
    else:
        points, weights = quadrature(region, spacing=spacing)
        samples = Sampling(points, weights, field.at(points[:, 0], points[:, 1]))
        extrapolated = float(weights @ field.extrapolated(points[:, 0], points[:, 1])) / float(weights.sum())
    return _added_up(samples, region.area, extrapolated if extrapolated > 1e-9 else 0.0)


def _added_up(samples: Sampling, area: float, extrapolated: float) -> Resultant:
    push = samples.weights * samples.values
    force, gross = float(push.sum()), float(np.abs(push).sum())
    balanced = abs(force) <= CANCELS * gross
    x, y = (float(moment) for moment in push @ samples.points)
    centre = (float("nan"), float("nan")) if balanced else (x / force, y / force)
    return Resultant(force, *centre, float(area), extrapolated, (x, y))
