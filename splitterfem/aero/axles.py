"""What the car feels: how the panel's downforce and drag change the loads of its axles."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splitterfem.errors import DesignError

EDGE_DRAG = 0.9
"""Drag coefficient of a blunt front edge on its own frontal area: an estimate from memory for thick flat edges."""


@dataclass(frozen=True)
class AxleLoads:
    """Change of the axle loads.

    Attributes
    ----------
    front, rear : float
        Loads added to the axles in N, positive down; they add up to the downforce.
    left : float
        Share of the downforce that the left wheels carry when the track is as wide as given, else nan.
    """

    front: float
    rear: float
    left: float = math.nan


def axle_loads(
    downforce: float,
    centre: tuple[float, float],
    *,
    wheelbase: float,
    drag: float = 0.0,
    drag_height: float = 0.0,
    track: float | None = None,
) -> AxleLoads:
    """Find the loads that a force on the panel adds to the axles, by moments about either axle.

    ``front = F (L + x) / L - D h / L`` and ``rear = -F x / L + D h / L``, x ahead of the front axle: a force ahead of
    the axle loads it by more than itself and unloads the rear.

    Parameters
    ----------
    downforce : float
        F in N, positive down.
    centre : tuple of float
        Where it acts (x, y) in m: x ahead of the front axle, y to the left of the middle.
    wheelbase : float
        L in m.
    drag : float
        D in N, backwards.
    drag_height : float
        h of the drag over the ground, in m.
    track : float, optional
        Width between the front wheels' middles in m.

    Raises
    ------
    DesignError
        If the wheelbase or the track is not above zero.
    """
    for name, value in (("wheelbase", wheelbase), ("track", track)):
        if value is not None and not value > 0.0:
            raise DesignError(f"The {name} is {value:g} m; give one above zero.")
    if downforce == 0.0:
        return AxleLoads(-drag * drag_height / wheelbase, drag * drag_height / wheelbase)
    x, y = centre
    pitch = drag * drag_height / wheelbase
    left = math.nan if track is None else 0.5 + y / track
    return AxleLoads(downforce * (1.0 + x / wheelbase) - pitch, -downforce * x / wheelbase + pitch, left)


def edge_drag(q: float, *, thickness: float, width: float, coefficient: float = EDGE_DRAG) -> float:
    """Drag of the panel's front edge in N, an estimate: coefficient times q times frontal area.

    Parameters
    ----------
    q : float
        Dynamic pressure in Pa.
    thickness, width : float
        Of the edge in m.
    coefficient : float
        About 0.9 for a blunt edge and a tenth of that for a well rounded one (from memory, no measurement).
    """
    return coefficient * q * thickness * width
