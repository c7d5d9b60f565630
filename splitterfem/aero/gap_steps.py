"""Steps of the gap flow: rounded caps, the gap that the flow sees, the exit, and the flow rate.

Arrays of shape (n_strips, n_stations) run from the lip to the rear edge; see :mod:`splitterfem.aero.gap_flow` for
the equations and their sources.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splitterfem.aero.gap_flags import LARGEST_AREA_RATIO
from splitterfem.aero.gap_law import GapLaw
from splitterfem.aero.gap_relief import FloatArray, displacement_thickness
from splitterfem.errors import DesignError, SolveError

CHOKE_BLEND = 0.002
"""Half the range of gaps over which choking sets in, m."""

CAP_BLEND = 0.01
"""Half the range of gap per length over which the cap on the suction sets in."""

FALL_SPAN = 0.03
"""Gap per length below the cap within which the measured fall happens (Zhang, Toet & Zerihan 2006)."""

AREA_BLEND = 0.1
"""Half the range of area ratios over which the credit for tunnels ends."""

LOWEST_BLEND, HIGHEST_BLEND = 0.25, 0.02
"""Half the ranges of the pressure coefficient over which its bounds set in."""

_ROUNDS = 60
_CLOSE = 1e-9  # a Newton step this small, relative to Q, leaves an error of its square


@dataclass(frozen=True, eq=False)
class UsedGap:
    """The gap that the flow sees, and how it follows the given one.

    ``d gap_i / d given_j = (delta_ij + shift_slope weights_j) choke_slope_j`` on each strip, and ``d factor / d
    given_j = factor_slope weights_j choke_slope_j``.
    """

    gap: FloatArray
    weights: FloatArray
    choke_slope: FloatArray
    mean_ratio: FloatArray
    shift_slope: FloatArray
    factor: FloatArray
    factor_slope: FloatArray


@dataclass(frozen=True, eq=False)
class Exit:
    """Height of the exit with tunnels, its derivative to the gap at the rear edge, and the ratio of areas."""

    height: FloatArray
    slope: FloatArray
    ratio: FloatArray


def soft_floor(
    value: FloatArray, floor: FloatArray | float, blend: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """``max(value, floor)`` with the corner rounded by a parabola over ``floor ± blend``; and its derivative.

    It is never below the plain maximum, and above it by ``blend / 4`` at the corner.
    """
    over = np.clip((value - floor) / blend, -1.0, 1.0)
    rounded = np.maximum(value, floor) + 0.25 * blend * (1.0 - np.abs(over)) ** 2
    return np.asarray(rounded), np.asarray(0.5 * (1.0 + over))


def lengths_of(distance: FloatArray) -> FloatArray:
    """Length that each station stands for in the trapezium rule, m."""
    lengths = np.zeros_like(distance)
    segments = 0.5 * np.diff(distance, axis=1)
    lengths[:, :-1] += segments
    lengths[:, 1:] += segments
    return lengths


def used_gap(law: GapLaw, distance: FloatArray, gap: FloatArray, speed: float) -> UsedGap:
    """Hold the gap above choking, lift low strips to the cap, take the boundary layer off.

    The cap acts on the mean gap of a strip: below ``flat_below`` lengths the whole strip is lifted to it, shape and
    all, so that lowering the panel brings nothing more while droop and rake still do.

    Raises
    ------
    DesignError
        If the boundary layer would fill half the choking gap.
    """
    length = distance[:, -1]
    weights = lengths_of(distance) / length[:, None]
    open_, choke_slope = soft_floor(gap, law.choke_gap, CHOKE_BLEND)
    mean = np.sum(weights * open_, axis=1)
    shift = shift_slope = factor_slope = np.zeros_like(mean)
    factor = np.ones_like(mean)
    if law.flat_below > 0.0:
        lifted, slope = soft_floor(mean, law.flat_below * length, CAP_BLEND * length)
        shift, shift_slope = lifted - mean, slope - 1.0
        t = np.minimum(shift / (FALL_SPAN * length), 1.0)
        factor = 1.0 - law.fall * t**2 * (3.0 - 2.0 * t)
        factor_slope = -law.fall * 6.0 * t * (1.0 - t) * shift_slope / (FALL_SPAN * length)
    used = open_ + shift[:, None]
    if law.displacement:
        layer = displacement_thickness(distance, speed)
        if layer.max() > 0.5 * law.choke_gap:
            raise DesignError(
                f"The boundary layer under the panel takes {1e3 * layer.max():.1f} mm of the gap at {speed:g} m/s, "
                f"which the gap law cannot carry; raise the speed or set 'displacement' to false."
            )
        used = used - layer
    return UsedGap(used, weights, choke_slope, mean / length, shift_slope, factor, factor_slope)


def exit_height(rear_gap: FloatArray, tunnel_height: FloatArray) -> Exit:
    """Rear gap and tunnels together, credited up to about twice the gap."""
    ratio = 1.0 + tunnel_height / rear_gap
    held, held_slope = soft_floor(-ratio, -LARGEST_AREA_RATIO - AREA_BLEND, AREA_BLEND)
    return Exit(-rear_gap * held, -held - held_slope * tunnel_height / rear_gap, ratio)


def wall_loss(u: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Friction of panel and moving ground, ``u^2 + (u - 1) |u - 1|``, and its derivative."""
    return u**2 + (u - 1.0) * np.abs(u - 1.0), 2.0 * u + 2.0 * np.abs(u - 1.0)


def flow_rate(law: GapLaw, distance: FloatArray, gap: FloatArray, exit_: FloatArray) -> FloatArray:
    """Flow rate at which the pressure at the exit is the law's, shape (n_strips,).

    The excess ``G(Q)`` of losses and speed heads over what is available rises with Q and is convex, and the start
    lies above the root (the wall loss is never below -1). Newton's method therefore comes down to the only root
    without a bracket and cannot overshoot.

    Raises
    ------
    SolveError
        If it does not settle, or the excess left is above rounding.
    """
    eta = law.recovery
    rough = law.friction * lengths_of(distance) / gap
    heads = law.entry_loss / gap[:, 0] ** 2 + (1.0 - eta) / gap[:, -1] ** 2 + eta / exit_**2
    available = 1.0 - law.exit_cp
    Q = np.sqrt((available + rough.sum(axis=1)) / heads)
    for _ in range(_ROUNDS):
        lost, by_u = wall_loss(Q[:, None] / gap)
        excess = heads * Q**2 + np.sum(rough * lost, axis=1) - available
        step = excess / (2.0 * heads * Q + np.sum(rough * by_u / gap, axis=1))
        Q = Q - step
        if np.all(np.abs(step) <= _CLOSE * Q):
            return np.asarray(Q)
    worst = int(np.argmax(np.abs(step) / Q))
    raise SolveError(
        f"The flow under strip {worst + 1} was not found in {_ROUNDS} rounds; check the gap along that strip."
    )


def bounded(cp: FloatArray, lowest: float) -> tuple[FloatArray, FloatArray]:
    """Pressure coefficient held between its lowest and 1, corners rounded inwards; and its derivative."""
    above, slope = soft_floor(cp, lowest, LOWEST_BLEND)
    below, other = soft_floor(-above, -1.0, HIGHEST_BLEND)
    return -below, slope * other


def running(density: FloatArray, segments: FloatArray) -> FloatArray:
    """Integral from the lip to each station by the trapezium rule."""
    total = np.zeros_like(density)
    np.cumsum(0.5 * (density[:, 1:] + density[:, :-1]) * segments, axis=1, out=total[:, 1:])
    return total


def running_weights(segments: FloatArray) -> FloatArray:
    """Weights of :func:`running`, shape (n_strips, n, n): ``running = weights @ density``."""
    strips, n = segments.shape[0], segments.shape[1] + 1
    before, after = np.zeros((strips, n)), np.zeros((strips, n))
    before[:, 1:], after[:, :-1] = 0.5 * segments, 0.5 * segments
    lower = np.tri(n, k=0)
    return np.asarray(lower * before[:, None, :] + np.tri(n, k=-1) * after[:, None, :])
