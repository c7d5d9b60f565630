"""Flow through the gap between panel and road, strip by strip, with its exact linearisation.

Along a strip from the lip (s = 0) to the rear edge (s = L), with the speed u in units of the car's:

- continuity: ``u(s) = Q / h(s)``
- lost total pressure: ``dCp0/ds = -(cf / h) [u^2 + (u - 1) |u - 1|]``, panel wall and moving ground
- Bernoulli: ``Cp(s) = 1 - K_in u(0)^2 - loss(s) - u(s)^2``
- rear edge: ``Cp(L) + eta (u(L)^2 - u_e^2) = Cp_e`` with ``u_e = Q / h_e`` and the exit height ``h_e = h(L) +
  tunnel exit area / strip width``; with ``eta = 1`` this is ``Cp0(L) - u_e^2 = Cp_e``.

The last line determines Q. Without friction and with ``eta = 1``, ``u_e^2 = (1 - Cp_e) / (1 + K_in (h_e /
h_0)^2)``. A level panel with nothing behind it makes no suction of its own: exit pressure, rake, sag and tunnels
do.

Around it: the gap h is the given one, held above the choking gap, lifted as a whole where the strip is so low for
its length that a wing near the ground would gain nothing more, and narrowed by the boundary layer; the pressure is
bounded to -3 <= Cp <= 1 and then relieved towards the pressure at the open sides. Every cap is rounded so that the
derivative is continuous.

Sources
-------
Rozhdestvensky, K. V. (2000), Aerodynamics of a Lifting System in Extreme Ground Effect, Springer (leading order
governed by the local gap). Zerihan, J. & Zhang, X. (2000), J. Aircraft 37(6), and Zhang, X., Toet, W. & Zerihan, J.
(2006), Appl. Mech. Rev. 59 (where the force stops rising). Caps, bounds and the credit for tunnels are judgement.

Absolute figures are good to 40 to 50 % either way. No stall, no yaw.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from splitterfem.aero.gap_flags import GapFlags, find_flags
from splitterfem.aero.gap_law import GapLaw
from splitterfem.aero.gap_relief import FloatArray
from splitterfem.aero.gap_steps import (
    Exit,
    UsedGap,
    bounded,
    exit_height,
    flow_rate,
    running,
    running_weights,
    used_gap,
    wall_loss,
)
from splitterfem.errors import DesignError


@dataclass(frozen=True, eq=False)
class StripFlow:
    """Flow under the panel along strips.

    Parameters
    ----------
    law : GapLaw
        The figures it rests on.
    distance : ndarray, shape (n_strips, n_stations)
        From the lip, m.
    gap : ndarray, shape (n_strips, n_stations)
        Effective gap after choking, cap and boundary layer, m.
    flow_rate : ndarray, shape (n_strips,)
        Q per width and speed of the car, m.
    u : ndarray, shape (n_strips, n_stations)
        Speed per speed of the car; ``u gap = Q``.
    strip_cp : ndarray, shape (n_strips, n_stations)
        Pressure coefficient of the strip by itself, within its bounds.
    cp : ndarray, shape (n_strips, n_stations)
        The same after side relief and fall.
    flags : GapFlags
        Where the estimate leaves its ground.
    """

    law: GapLaw
    distance: FloatArray
    gap: FloatArray
    flow_rate: FloatArray
    u: FloatArray
    strip_cp: FloatArray
    cp: FloatArray
    flags: GapFlags
    _used: UsedGap
    _exit: Exit
    _kept: FloatArray
    _bound_slope: FloatArray

    @property
    def mean_cp(self) -> FloatArray:
        """Mean of ``cp`` along each strip (trapezium rule), shape (n_strips,)."""
        return np.asarray(np.sum(self._used.weights * self.cp, axis=1))

    def cp_by_gap(self) -> FloatArray:
        """Differentiate the pressure coefficient by the gap as given, 1/m, shape (n_strips, n, n).

        ``[k, i, j]`` is ``d cp[k, i] / d gap[k, j]``, through the flow rate (implicit function theorem), the caps
        and the fall included. Strips do not act on each other.
        """
        used, kept = self._used, self._kept[:, None, None]
        bare = self._bare_cp_by_gap() * self._bound_slope[:, :, None]
        lift = (used.shift_slope[:, None] * used.weights)[:, None, :]
        fall = (used.factor_slope[:, None] * used.weights)[:, None, :]
        by_gap = used.factor[:, None, None] * (bare + bare.sum(axis=2, keepdims=True) * lift)
        by_gap += (self.strip_cp - self.law.outer_cp)[:, :, None] * fall
        return np.asarray(kept * by_gap * used.choke_slope[:, None, :])

    def _bare_cp_by_gap(self) -> FloatArray:
        """Differentiate Bernoulli's pressure by the effective gap."""
        h, u, Q = self.gap, self.u, self.flow_rate
        K, cf, eta = self.law.entry_loss, self.law.friction, self.law.recovery
        lost, by_u = wall_loss(u)
        segments = np.diff(self.distance, axis=1)
        n = h.shape[1]
        i = np.arange(n)

        by_Q = -2.0 * u / h - running(cf * by_u / h**2, segments) - 2.0 * K * (u[:, :1] / h[:, :1])
        by_h = running_weights(segments) * (cf * (lost + by_u * u) / h**2)[:, None, :]
        by_h[:, i, i] += 2.0 * u**2 / h
        by_h[:, :, 0] += (2.0 * K * u[:, 0] ** 2 / h[:, 0])[:, None]

        uL, hL, exit_ = u[:, -1], h[:, -1], self._exit
        ue = Q / exit_.height
        closing_Q = by_Q[:, -1] + 2.0 * eta * (uL / hL - ue / exit_.height)
        closing_h = by_h[:, -1].copy()
        closing_h[:, -1] += 2.0 * eta * (ue**2 / exit_.height * exit_.slope - uL**2 / hL)
        Q_by_h = -closing_h / closing_Q[:, None]
        return np.asarray(by_h + by_Q[:, :, None] * Q_by_h[:, None, :])


def strip_flow(
    law: GapLaw,
    distance: ArrayLike,
    gap: ArrayLike,
    *,
    speed: float,
    relief: ArrayLike | None = None,
    tunnel_height: ArrayLike = 0.0,
) -> StripFlow:
    """Flow and pressure under the panel on fore-and-aft strips.

    Parameters
    ----------
    law : GapLaw
        The figures chosen.
    distance : array_like, shape (n_strips, n_stations)
        From the lip along each strip, starting at 0, m.
    gap : array_like, shape (n_strips, n_stations)
        Between panel and road, rake and sag included, m. Zero or less is taken as choked and flagged.
    speed : float
        Of the air, m/s; only the boundary layer asks for it.
    relief : array_like, shape (n_strips,), optional
        Share of the perturbation left on each strip; without, the law's own mean on all.
    tunnel_height : array_like, shape (n_strips,)
        Exit area that tunnels add behind each strip per width of the strip, m.

    Returns
    -------
    StripFlow
        With ``cp``, ``u``, ``flow_rate``, ``flags`` and ``cp_by_gap()``.

    Raises
    ------
    DesignError
        If arrays do not fit each other, are not finite, or distances do not increase from 0.
    SolveError
        If the flow rate is not found.

    Examples
    --------
    A gap of 60 mm at the lip and 80 mm at the rear edge, 0.7 m long, as a strip of its own:

    >>> law = GapLaw(entry_loss=0.1, relief=1.0, recovery=1.0, displacement=False, flat_below=0.0)
    >>> s = np.linspace(0.0, 0.7, 60)[None]
    >>> flow = strip_flow(law, s, 0.06 + 0.02 * s / 0.7, speed=50.0)
    >>> round(float(flow.mean_cp[0]), 2), round(float(flow.cp[0, 0]), 2)
    (-0.5, -0.9)
    """
    s, h = _checked(distance, gap)
    strips = len(s)
    kept = _per_strip("relief", law.relief if relief is None else relief, strips)
    extra = _per_strip("tunnel_height", tunnel_height, strips)
    if np.any(kept > 1.0):
        raise DesignError("The relief of a strip is above 1; give the share of the suction that is left.")

    used = used_gap(law, s, h, speed)
    exit_ = exit_height(used.gap[:, -1], extra)
    Q = flow_rate(law, s, used.gap, exit_.height)
    u = Q[:, None] / used.gap
    lost, _ = wall_loss(u)
    raw = 1.0 - law.entry_loss * u[:, :1] ** 2 - u**2
    raw -= running(law.friction * lost / used.gap, np.diff(s, axis=1))
    if law.lip_peak < 0.0:
        raw += law.lip_peak * np.maximum(1.0 - s / law.lip_reach, 0.0)
    held, slope = bounded(raw, law.lowest_cp)
    flags = find_flags(law, s, h, mean_ratio=used.mean_ratio, area_ratio=exit_.ratio, raw_cp=raw)
    cp = law.outer_cp + (kept * used.factor)[:, None] * (held - law.outer_cp)
    return StripFlow(law, s, used.gap, Q, u, held, cp, flags, used, exit_, kept, slope)


def lower_cp(
    law: GapLaw,
    distance: ArrayLike,
    gap: ArrayLike,
    *,
    speed: float,
    relief: ArrayLike | None = None,
    tunnel_height: ArrayLike = 0.0,
) -> FloatArray:
    """Pressure coefficient on the lower side alone; see :func:`strip_flow`."""
    return strip_flow(law, distance, gap, speed=speed, relief=relief, tunnel_height=tunnel_height).cp


def _checked(distance: ArrayLike, gap: ArrayLike) -> tuple[FloatArray, FloatArray]:
    s, h = np.asarray(distance, dtype=np.float64), np.asarray(gap, dtype=np.float64)
    if s.ndim != 2 or s.shape != h.shape or s.shape[1] < 3:
        raise DesignError(
            f"The strips have distances of shape {s.shape} and gaps of shape {h.shape}; "
            f"give both as (n_strips, n_stations) with three or more stations."
        )
    if not np.all(np.isfinite(h)):
        k, i = np.unravel_index(int(np.argmin(np.isfinite(h))), h.shape)
        raise DesignError(
            f"The gap of strip {k + 1} is not finite {1e3 * s[k, i]:.1f} mm behind the lip; give a number."
        )
    increasing = (s[:, 0] == 0.0) & np.all(np.diff(s, axis=1) > 0.0, axis=1) & np.isfinite(s[:, -1])
    if not increasing.all():
        raise DesignError(
            f"The distances of strip {int(np.argmin(increasing)) + 1} do not increase from 0 at the lip; "
            f"list them from the lip to the rear edge."
        )
    return s, h


def _per_strip(name: str, values: ArrayLike, strips: int) -> FloatArray:
    given = np.asarray(values, dtype=np.float64)
    if given.shape not in ((), (strips,)) or not (np.isfinite(given).all() and np.all(given >= 0.0)):
        raise DesignError(
            f"The field '{name}' has shape {given.shape}; give one number, zero or more, for each of {strips} "
            f"strips."
        )
    return np.broadcast_to(given, (strips,))
