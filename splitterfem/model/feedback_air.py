"""Air of one load case that follows the sag: by the exponent of a measured map, or by the gap law.

Both answer with pressures alone: what a deflection, up, adds to the net pressure at rest, and its derivative.  At no
deflection they add exactly nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero import GapMap, SourceField, dynamic_pressure
from splitterfem.aero.gap_flow import StripFlow, strip_flow
from splitterfem.model.feedback_ratio import CHOKED, GapRule, counted, far_words

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wind:
    """Air that blows in a load case.

    Attributes
    ----------
    case : str
        Name of the load case.
    car : float
        Speed of the car in m/s.
    head : float
        Head wind in m/s.
    density : float
        In kg/m3.
    """

    case: str
    car: float
    head: float
    density: float

    @property
    def speed(self) -> float:
        """Speed of the air in m/s."""
        return self.car + self.head

    @property
    def q(self) -> float:
        """Dynamic pressure in Pa."""
        return dynamic_pressure(self.car, density=self.density, head_wind=self.head)


@dataclass(frozen=True, eq=False)
class MapAir:
    """Net pressure of a measured map, at the quadrature points of the panel.

    Attributes
    ----------
    wind : Wind
    factor : float
        On the map besides the load factor of its own case.
    field : SourceField
        Net pressure at rest in Pa, load factor of its case included.
    rule : GapRule or None
        How it follows the gap; None when it does not.
    by_speed : bool
        Whether it goes with the dynamic pressure.
    push : ndarray, shape (n,)
        Net pressure at rest at the points in Pa, all factors included.
    gap : ndarray, shape (n,)
        Static gap at the points in m.
    """

    wind: Wind
    factor: float
    field: SourceField
    rule: GapRule | None
    by_speed: bool
    push: Array
    gap: Array

    def added(self, w: Array) -> Array:
        """Net pressure in Pa that deflections (n,) in m add, shape (n,)."""
        if self.rule is None:
            return np.zeros_like(w)
        ratio = counted(self.gap)[0] / counted(self.gap + w)[0]
        return np.asarray(self.push * (ratio**self.rule.exponent - 1.0))

    def added_slope(self, w: Array) -> Array:
        """Differentiate :meth:`added` at each point by its own deflection, Pa/m, shape (n,)."""
        if self.rule is None:
            return np.zeros_like(w)
        gap, slope = counted(self.gap + w)
        n = self.rule.exponent
        return np.asarray(-n * self.push * (counted(self.gap)[0] / gap) ** n * slope / gap)

    def pressure(self, xy: Array, w: Array) -> Array:
        """Net pressure in Pa at points (2, m) in m with deflections (m,) in m, all factors included."""
        at_rest = self.factor * self.field.at(*xy)
        if self.rule is None:
            return at_rest
        gap = self.rule.static(xy[0])
        return np.asarray(at_rest * (counted(gap)[0] / counted(gap + w)[0]) ** self.rule.exponent)

    def notes(self, xy: Array, w: Array) -> list[str]:
        """Sentences on how far the answer can be trusted, from deflections (m,) at points (2, m)."""
        case = self.wind.case
        if self.rule is None:
            return [
                f"The pressure of load case '{case}' is that at rest: its map has no gap_exponent, so it does not "
                "follow the sag."
            ]
        gap = self.rule.static(xy[0]) + w
        i = int(gap.argmin())
        found = []
        if gap[i] < CHOKED:
            found.append(
                f"The gap of load case '{case}' falls to {1e3 * gap[i]:.1f} mm at x {1e3 * xy[0, i]:.0f} mm, "
                f"y {1e3 * xy[1, i]:.0f} mm: its pressure is that at {1e3 * CHOKED:.0f} mm wherever the gap is less."
            )
        return found + far_words(case, xy[0], xy[1], self.rule.share(xy[0], w))

    def blown(self, wind: Wind) -> MapAir:
        """Return the same in another wind."""
        change = wind.q / self.wind.q if self.by_speed else 1.0
        return replace(self, wind=wind, field=self.field.scaled(change), push=change * self.push)


@dataclass(frozen=True, eq=False)
class GapAir:
    """Net pressure of the gap law, at the stations of its strips.

    Attributes
    ----------
    wind : Wind
    factor : float
        On the net pressure, all factors included.
    rest : GapMap
        Estimate at rest that loads the panel.
    gap : ndarray, shape (n_strips, n_stations)
        Static gap in m.
    tunnels : ndarray, shape (n_strips,)
        Exit area of tunnels behind each strip over its width, m.
    """

    wind: Wind
    factor: float
    rest: GapMap
    gap: Array
    tunnels: Array

    def flow(self, w: Array) -> StripFlow:
        """Flow with deflections (n_strips * n_stations,) in m."""
        assert self.rest.flow is not None
        law, grid = self.rest.flow.law, self.rest.grid
        return strip_flow(
            law,
            grid.distance,
            self.gap + w.reshape(self.gap.shape),
            speed=float(np.sqrt(2.0 * self.wind.q / self.wind.density)),
            relief=grid.relief(law.relief),
            tunnel_height=self.tunnels,
        )

    def added(self, w: Array) -> Array:
        """Net pressure in Pa that deflections (n,) in m add, shape (n,)."""
        return np.asarray(-self._push * (self.flow(w).cp - self.rest.lower).ravel())

    def added_slope(self, w: Array) -> Callable[[Array], Array]:
        """Differentiate :meth:`added`: the result takes changes of the deflections (n,) in m to changes in Pa (n,)."""
        by_gap = -self._push * self.flow(w).cp_by_gap()
        return lambda dw: np.matmul(by_gap, dw.reshape(*self.gap.shape, 1)).ravel()

    def pressure(self, xy: Array, w: Array) -> Array:
        """Net pressure in Pa at points (2, m) in m with deflections (n,) of the stations, all factors included."""
        field = replace(self.rest, lower=self.flow(w).cp)
        return np.asarray(self.factor * field.at(*xy))

    def notes(self, w: Array) -> list[str]:
        """Sentences on how far the answer can be trusted with deflections (n,) of the stations."""
        return [
            f"Gap law of load case '{self.wind.case}' at this sag: {flag}"
            for flag in self.flow(w).flags.sentences()
        ]

    def blown(self, wind: Wind) -> GapAir:
        """Return the same in another wind, boundary layer included."""
        other = replace(self, wind=wind)
        flow = other.flow(np.zeros(self.gap.size))
        return replace(other, rest=replace(self.rest, lower=flow.cp, flow=flow, q=wind.q))

    @property
    def _push(self) -> float:
        """Net pressure of a pressure coefficient of one, Pa."""
        return self.factor * self.rest.factor * self.rest.q
