"""What the car feels of the air on panel and tunnels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from splitterfem.aero.axles import axle_loads, edge_drag
from splitterfem.design import LoadCase, Splitter
from splitterfem.model import CaseLoad, clearance_datum
from splitterfem.model.air import case_q

NOT_KNOWN = math.nan


@dataclass(frozen=True)
class CarForces:
    """Force of the air on a car through its splitter, in one load case.

    Attributes
    ----------
    downforce : float
        Of panel and tunnels in N, positive down.
    centre : tuple of float
        Where it acts (x, y) in m; nan without a downforce.
    band : tuple of float or None
        Low, typical and high estimate of the downforce in N; None for a measured map whose uncertainty is not given.
    drag : float
        Of the panel's front edge in N, an estimate for a blunt edge.
    front, rear : float
        Loads added to the axles in N, positive down; nan when the wheelbase is not known.
    left : float
        Share of the downforce on the left wheels; nan when the track is not known.
    """

    downforce: float
    centre: tuple[float, float]
    band: tuple[float, float, float] | None
    drag: float
    front: float
    rear: float
    left: float


def car_forces(splitter: Splitter, case: LoadCase, load: CaseLoad) -> CarForces:
    """Add up the air on panel and tunnels, and turn it into changes of the axle loads.

    The drag is that of the blunt front edge over the panel's whole width and is zero where no air acts.
    """
    acting = [(tunnel.force.force, (tunnel.force.x, tunnel.force.y)) for tunnel in load.tunnels]
    if load.air is not None:
        acting.append((load.air.downforce, load.air.centre))
    acting = [(force, centre) for force, centre in acting if force]
    total = math.fsum(force for force, _ in acting)
    gross = math.fsum(abs(force) for force, _ in acting)
    centre = (math.nan, math.nan)
    if abs(total) > 1e-9 * gross:
        x, y = (math.fsum(force * place[i] for force, place in acting) / total for i in (0, 1))
        centre = (x, y)
    front, _, right, left = _extent(splitter)
    drag = 0.0
    if acting:
        thickness = float(splitter.panel.sheet.thickness)
        drag = edge_drag(float(case.factor) * case_q(case), thickness=thickness, width=left - right)
    return CarForces(
        total, centre, _band(load, total), drag, *_axles(splitter, case, total, centre, drag, front)
    )


def _extent(splitter: Splitter) -> tuple[float, float, float, float]:
    """Front, rear, right and left of the panel, m."""
    rear, right, front, left = splitter.panel.outline.polygon().bounds
    return front, rear, right, left


def _band(load: CaseLoad, total: float) -> tuple[float, float, float] | None:
    if load.air is None or load.air.band is None:
        return None
    rest = total - load.air.downforce
    low, typical, high = (force + rest for force in load.air.band)
    return low, typical, high


def _axles(
    splitter: Splitter,
    case: LoadCase,
    total: float,
    centre: tuple[float, float],
    drag: float,
    front: float,
) -> tuple[float, float, float]:
    car = splitter.car
    if car.wheelbase is None or not math.isfinite(centre[0]):
        return NOT_KNOWN, NOT_KNOWN, NOT_KNOWN
    height = float(clearance_datum(splitter, case)(np.array(front)))
    track = None if car.track is None else float(car.track)
    loads = axle_loads(
        total, centre, wheelbase=float(car.wheelbase), drag=drag, drag_height=height, track=track
    )
    return loads.front, loads.rear, loads.left
