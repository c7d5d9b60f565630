"""Pressure estimated from the gap under the panel, for a load case of a design."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from splitterfem import aero, curves
from splitterfem.aero import Band, GapMap, gap_laws, gap_maps, nose_zones
from splitterfem.aero.gap_grid import GapFunction
from splitterfem.aero.overlap import Area, quadrature
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import GapLawMap
from splitterfem.model.air import air_density, case_q
from splitterfem.model.clearance import clearance_datum

Array = NDArray[np.float64]

CHORD = 1e-4
"""Largest distance of the polygon of an opening from its true edge, m."""


def ground_gap(splitter: Splitter, case: LoadCase) -> GapFunction:
    """Return the static gap of a case in m as a function of x and y in m."""
    height = clearance_datum(splitter, case)
    return lambda x, y: height(x) + 0.0 * np.asarray(y)


def gap_estimates(splitter: Splitter, case: LoadCase, pressure: GapLawMap) -> Band[GapMap] | None:
    """Return low, typical and high estimate of a case's net pressure in Pa; None when the car stands still.

    Raises
    ------
    DesignError
        If the panel or a figure of the map cannot be used.
    """
    q = case_q(case)
    if q == 0.0:
        return None
    laws = gap_laws(
        **({} if pressure.exit_cp is None else {"exit_cp": Band(*map(float, pressure.exit_cp))}),
        **({} if pressure.relief is None else {"relief": Band(*map(float, pressure.relief))}),
        lip=pressure.lip,
        thickness=float(splitter.panel.sheet.thickness),
        outer_cp=float(pressure.outer_cp),
        with_fall=pressure.with_fall,
    )
    nose = pressure.nose
    upper = (
        None
        if nose is None
        else nose_zones(nose.points(), float(nose.height), under_cp=Band(*map(float, nose.under_cp)))
    )
    return gap_maps(
        splitter.panel.polygon(CHORD),
        ground_gap(splitter, case),
        q=q,
        laws=laws,
        upper=upper,
        tunnels=tunnels_of(splitter),
        density=air_density(case),
    )


def tunnels_of(splitter: Splitter) -> list[aero.Tunnel]:
    """Tunnels by the strips that feed them and the area of their exits."""
    found = []
    for cutout in splitter.panel.cutouts:
        if cutout.tunnel is None:
            continue
        for _, loop in cutout.sides():
            _, right, _, left = curves.polygon(loop, CHORD).bounds
            area = (left - right) * float(cutout.tunnel.rise)
            found.append(aero.Tunnel(right=right, left=left, exit_area=area))
    return found


def gap_field(estimates: Band[GapMap], pressure: GapLawMap) -> aero.FunctionMap:
    """Return the estimate that loads the panel, scaled as the map says."""
    chosen = estimates.of(pressure.band)
    return aero.FunctionMap(chosen.at).scaled(float(pressure.scale))


def gap_totals(estimates: Band[GapMap], pressure: GapLawMap, area: Area) -> tuple[float, float, float]:
    """Low, typical and high total of the net pressure over the panel in N, scaled as the map says.

    Where the panel is pushed up, the estimate that keeps the most of that makes the least downforce.
    """
    points, weights = quadrature(area)
    low, typical, high = (
        float(pressure.scale) * float(weights @ field.at(points[:, 0], points[:, 1]))
        for field in (estimates.low, estimates.typical, estimates.high)
    )
    return min(low, typical, high), typical, max(low, typical, high)
