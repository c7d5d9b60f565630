"""Pressure on the upper side of a panel: the stagnation zone ahead of an upright nose.

Air that meets the nose is stopped on the panel ahead of it, as in the corner of a forward-facing step. The level
(+0.5 to +0.8 at the foot on the centreline, gone within about one step height ahead and towards the outer
corners) is from memory; only the bound of +1 is exact for incompressible flow.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.aero.gap_law import Band, BandName
from splitterfem.aero.gap_relief import FloatArray
from splitterfem.errors import DesignError

FOOT_CP = Band(0.5, 0.65, 0.8)
"""Pressure coefficient at the foot of the nose on its centreline; from memory."""

FULLNESS = Band(3.0, 4.0, 6.0)
"""Exponent n of the fall towards the outer corners, ``1 - |eta|^n``; judgement."""


@runtime_checkable
class UpperSide(Protocol):
    """What the estimate asks of the upper side."""

    def cp(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Pressure coefficient at points (m), of their common shape."""


@dataclass(frozen=True, eq=False)
class NoseZone:
    """Stagnation ahead of the bodywork line, under-bonnet pressure behind it, nothing beside it.

    ``Cp = foot_cp (1 - |eta|^fullness) (1 - 3 t^2 + 2 t^3)`` ahead of the line, where ``t`` is the distance to the
    line in nose heights, up to 1, and ``eta`` runs from -1 to 1 between the ends of the line. An estimate: the
    shape is a smooth curve between the levels at the foot and one nose height ahead, not a solution of the flow.

    Parameters
    ----------
    line : array_like, shape (n, 2)
        Bodywork line across the panel, points x, y in m, with y increasing or decreasing throughout.
    height : float
        Of the nose above the panel, m.
    under_cp : float
        Pressure coefficient above the part behind the line; -0.1 to +0.3 has been quoted, from memory.
    foot_cp : float
        Pressure coefficient at the foot on the centreline, 0 to 1.
    fullness : float
        Exponent of the fall towards the corners, 1 or more.

    Raises
    ------
    DesignError
        If the line has fewer than two points or turns back across the panel, or a figure is out of range.
    """

    line: NDArray[np.float64]
    height: float
    under_cp: float = 0.0
    foot_cp: float = FOOT_CP.typical
    fullness: float = FULLNESS.typical

    def __post_init__(self) -> None:
        line = np.array(self.line, dtype=np.float64)
        if line.ndim != 2 or line.shape[1] != 2 or len(line) < 2 or not np.isfinite(line).all():
            raise DesignError(
                f"The bodywork line has shape {line.shape}; give two or more finite points x, y in m."
            )
        if line[0, 1] > line[-1, 1]:
            line = line[::-1].copy()
        steps = np.diff(line[:, 1])
        if not np.all(steps > 0.0):
            x, y = 1e3 * line[int(np.argmin(steps)) + 1]
            raise DesignError(
                f"The bodywork line turns back at x = {x:.1f}, y = {y:.1f} mm; let y increase from point to point."
            )
        if not 0.0 < self.height < 3.0:
            raise DesignError(f"The nose is {self.height:g} m high; give a height above 0 and below 3 m.")
        for name, least, most in (("under_cp", -3.0, 1.0), ("foot_cp", 0.0, 1.0), ("fullness", 1.0, 50.0)):
            value = getattr(self, name)
            if not least <= value <= most:
                raise DesignError(
                    f"The field '{name}' of the nose is {value:g}; give a number from {least:g} to {most:g}."
                )
        line.setflags(write=False)
        object.__setattr__(self, "line", line)

    def cp(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Pressure coefficient on the upper side at points (m)."""
        X, Y = (np.asarray(c, dtype=np.float64) for c in np.broadcast_arrays(x, y))
        right, left = self.line[[0, -1], 1]
        foot = np.interp(Y, self.line[:, 1], self.line[:, 0])
        t = np.minimum(self._away(X, Y) / self.height, 1.0)
        eta = np.clip((2.0 * Y - left - right) / (left - right), -1.0, 1.0)
        stagnant = self.foot_cp * (1.0 - np.abs(eta) ** self.fullness) * (1.0 - 3.0 * t**2 + 2.0 * t**3)
        across = (right <= Y) & (left >= Y)
        return np.where(across, np.where(foot <= X, stagnant, self.under_cp), 0.0)

    def _away(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Shortest distance of points to the line, m."""
        nearest = np.full(x.shape, np.inf)
        for start, end in pairwise(self.line):
            dx, dy = end - start
            share = np.clip(((x - start[0]) * dx + (y - start[1]) * dy) / (dx**2 + dy**2), 0.0, 1.0)
            nearest = np.minimum(nearest, np.hypot(x - start[0] - share * dx, y - start[1] - share * dy))
        return nearest


def nose_zones(line: ArrayLike, height: float, *, under_cp: float | Band[float] = 0.0) -> Band[UpperSide]:
    """Low, typical and high estimate of the pressure on the upper side.

    Parameters
    ----------
    line : array_like, shape (n, 2)
        Bodywork line, x, y in m.
    height : float
        Of the nose above the panel, m.
    under_cp : float or Band of float
        Pressure coefficient above the part behind the line.

    Raises
    ------
    DesignError
        As :class:`NoseZone`.
    """
    under = under_cp if isinstance(under_cp, Band) else Band.same(under_cp)
    points = np.asarray(line, dtype=np.float64)

    def zone(name: BandName) -> UpperSide:
        return NoseZone(points, height, under.of(name), FOOT_CP.of(name), FULLNESS.of(name))

    return Band(zone("low"), zone("typical"), zone("high"))
