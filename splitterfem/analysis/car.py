"""What the car feels of the air on panel and tunnels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from splitterfem.aero.axles import axle_loads, edge_drag
from splitterfem.design import LoadCase, Splitter
from splitterfem.model import CaseLoad, clearance_datum
from splitterfem.model.air import case_q
from splitterfem.model.loads import acting

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
        Loads added to the axles in N, positive down; nan when the wheelbase is not known, or when pressure and suction
        cancel so that their centre is not.
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

    The drag is that of the blunt front edge over the panel's whole width, in the air of each case that acts and in the
    middle of the edge's thickness; it is zero where no air acts.
    """
    parts = [(tunnel.force.force, (tunnel.force.x, tunnel.force.y)) for tunnel in load.tunnels]
    if load.air is not None:
        parts.append((load.air.downforce, load.air.centre))
    parts = [(force, centre) for force, centre in parts if force]
    total = math.fsum(force for force, _ in parts)
    gross = math.fsum(abs(force) for force, _ in parts)
    centre = (math.nan, math.nan)
    if abs(total) > 1e-9 * gross:
        x, y = (math.fsum(force * place[i] for force, place in parts) / total for i in (0, 1))
        centre = (x, y)
    drag = _drag(splitter, case) if parts else 0.0
    front, rear = _axles(splitter, case, parts, drag)
    track = splitter.car.track
    left = NOT_KNOWN if track is None else 0.5 + centre[1] / float(track)
    return CarForces(total, centre, _band(load, total), drag, front, rear, left)


def _extent(splitter: Splitter) -> tuple[float, float, float, float]:
    """Front, rear, right and left of the panel, m."""
    rear, right, front, left = splitter.panel.outline.polygon().bounds
    return front, rear, right, left


def _drag(splitter: Splitter, case: LoadCase) -> float:
    """Drag of the panel's front edge in N, in the air of a case and of those that it combines."""
    _, _, right, left = _extent(splitter)
    ramps = any(cutout.tunnel is not None for cutout in splitter.panel.cutouts)
    q = math.fsum(
        factor * float(part.factor) * case_q(part)
        for part, factor in acting(splitter, case)
        if part.pressure is not None or (ramps and not part.combines)
    )
    return edge_drag(q, thickness=float(splitter.panel.sheet.thickness), width=left - right)


def _band(load: CaseLoad, total: float) -> tuple[float, float, float] | None:
    if load.air is None or load.air.band is None:
        return None
    rest = total - load.air.downforce
    low, typical, high = (force + rest for force in load.air.band)
    return low, typical, high


def _axles(
    splitter: Splitter, case: LoadCase, parts: list[tuple[float, tuple[float, float]]], drag: float
) -> tuple[float, float]:
    """Sum up what each force and the drag add to front and rear axle, N."""
    if splitter.car.wheelbase is None:
        return NOT_KNOWN, NOT_KNOWN
    wheelbase = float(splitter.car.wheelbase)
    front_edge = _extent(splitter)[0]
    height = float(clearance_datum(splitter, case)(np.array(front_edge)))
    middle = height + 0.5 * float(splitter.panel.sheet.thickness)
    each = [axle_loads(force, centre, wheelbase=wheelbase) for force, centre in parts]
    each.append(axle_loads(0.0, (0.0, 0.0), wheelbase=wheelbase, drag=drag, drag_height=middle))
    return math.fsum(load.front for load in each), math.fsum(load.rear for load in each)
