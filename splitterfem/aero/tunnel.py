"""Tunnels: ramps behind openings in the panel, and the downforce that they make.

The ramp is a diffuser. Its pressure follows from continuity along it, recovered with an effectiveness below one:
``Cp = Cp_exit - eta (1 - Cp_exit) ((A_exit / A)^2 - 1)``, the definition of a diffuser's effectiveness (F. M. White,
Fluid Mechanics, ch. 6, pressure recovery against the ideal one). It is an estimate: separation in the ramp, vortices
from its edges and the flow of the wheels are not in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from splitterfem.aero.overlap import Area, area_of
from splitterfem.aero.resultant import CANCELS, quadrature
from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]

MOST_RATIO = 2.0
"""Area ratio beyond which nothing is credited (common practice, no source)."""

LOWEST_CP = -3.0
"""Bound of the suction that is credited (judgement)."""

STEEP = np.deg2rad(12.0)
"""Short ramps steeper than this begin to separate (published tests of diffusers: smooth at 10, hysteresis at 15)."""


@dataclass(frozen=True)
class Ramp:
    """A ramp behind the front rim of an opening.

    Parameters
    ----------
    rise : float
        Height of its roof over the panel's lower face at its rear end, m.
    length : float
        From the front rim aft, m.
    exit_cp : float
        Pressure coefficient where it ends.
    recovery : float
        Effectiveness, 0 to 1.
    above_cp : float
        Pressure coefficient on its upper side.
    """

    rise: float
    length: float
    exit_cp: float = -0.2
    recovery: float = 0.65
    above_cp: float = 0.0

    def __post_init__(self) -> None:
        if not (self.rise > 0.0 and self.length > 0.0):
            raise DesignError(
                f"A tunnel's ramp rises {1e3 * self.rise:g} mm over {1e3 * self.length:g} mm; give both above zero."
            )
        if not 0.0 < self.recovery <= 1.0:
            raise DesignError(f"A tunnel's recovery is {self.recovery:g}; give a share between 0 and 1.")
        if self.exit_cp >= 1.0 or self.above_cp > 1.0:
            raise DesignError(
                "A tunnel's pressure coefficient is above 1, which still air cannot reach; give less."
            )

    @property
    def angle(self) -> float:
        """Of the ramp, rad."""
        return float(np.arctan2(self.rise, self.length))

    @property
    def steep(self) -> bool:
        """Whether flow may leave the ramp, so that the suction computed is too much."""
        return bool(self.angle > STEEP)

    def cp(self, s: FloatArray, gap: FloatArray, *, exit_gap: float | None = None) -> FloatArray:
        """Pressure coefficient under the ramp.

        Parameters
        ----------
        s : ndarray, shape (n,)
            Distance aft of the front rim, m.
        gap : ndarray, shape (n,)
            From the ground to the plane of the panel's lower face at that place, m, above zero.
        exit_gap : float, optional
            The same at the ramp's rear end; a panel without rake has the same gap there, which is taken when left out.
        """
        share = np.clip(s / self.length, 0.0, 1.0)
        leaving = (gap if exit_gap is None else exit_gap) + self.rise
        ratio = np.minimum(leaving / (gap + self.rise * share), MOST_RATIO)
        ideal = (1.0 - self.exit_cp) * (ratio**2 - 1.0)
        return np.maximum(self.exit_cp - self.recovery * ideal, LOWEST_CP)


@dataclass(frozen=True)
class TunnelForce:
    """Force of the air on a tunnel.

    Attributes
    ----------
    force : float
        N, positive down.
    x, y : float
        Where it acts, m.
    """

    force: float
    x: float
    y: float


def tunnel_force(
    ramp: Ramp, opening: Polygon, gap: Callable[[FloatArray], FloatArray], q: float, *, spacing: float = 0.005
) -> TunnelForce:
    """Force of the air on a ramp over its plan area: the opening, and what the ramp reaches behind it.

    Parameters
    ----------
    ramp : Ramp
    opening : shapely Polygon
        Edge of the opening in plan, x forward, m.
    gap : callable
        Gap from the ground to the panel's lower face in m as a function of x in m.
    q : float
        Dynamic pressure, Pa.
    spacing : float
        Of the quadrature, m.

    Raises
    ------
    DesignError
        If the panel's lower face is in the ground there.
    """
    region = ramp_area(ramp, opening)
    points, weights = quadrature(region, spacing=spacing)
    front = opening.bounds[2]
    height, at_exit = gap(points[:, 0]), float(gap(np.array(front - ramp.length)))
    if not (height.min() > 0.0 and at_exit + ramp.rise > 0.0):
        raise DesignError(
            f"The tunnel whose front rim is at x = {1e3 * front:.1f} mm stands in the ground: its gap goes down to "
            f"{1e3 * min(float(height.min()), at_exit):.1f} mm; give more ride height or less rake."
        )
    cp = ramp.cp(front - points[:, 0], height, exit_gap=at_exit)
    pushes = weights * q * (ramp.above_cp - cp)
    force = float(pushes.sum())
    if abs(force) <= CANCELS * float(np.abs(pushes).sum()):
        centre = region.centroid
        return TunnelForce(0.0, float(centre.x), float(centre.y))
    x, y = pushes @ points / force
    return TunnelForce(force, float(x), float(y))


def ramp_area(ramp: Ramp, opening: Polygon) -> Area:
    """Plan area of a ramp: the opening, cut off or carried on at its full width to the ramp's length."""
    back, right, front, left = opening.bounds
    end = front - ramp.length
    if end >= back - 1e-9:
        return area_of(shapely.intersection(opening, box(end, right, front, left)))
    return area_of(shapely.union(opening, box(end, right, 0.5 * (front + back), left)))
