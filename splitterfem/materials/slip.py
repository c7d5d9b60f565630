"""Slip moduli of fasteners in wood (EN 1995-1-1 section 7.1): how much a joint gives way under load."""

from __future__ import annotations

import math
from typing import Literal

from splitterfem.errors import DesignError, nearest

Fastener = Literal["bolt", "screw", "dowel", "nail", "nail, predrilled"]
FASTENERS: tuple[Fastener, ...] = ("bolt", "screw", "dowel", "nail", "nail, predrilled")


def _positive(what: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise DesignError(
            f"The {what} of a fastener's joint is {value:g}; give a number above zero in SI units."
        )


def slip_modulus(
    diameter: float, density: float, *, fastener: Fastener = "bolt", metal_side: bool = False
) -> float:
    """Slip modulus K_ser of one fastener in one shear plane (EN 1995-1-1 table 7.1), N/m.

    ``rho_m^1.5 d / 23``; nails that are not predrilled ``rho_m^1.5 d^0.8 / 30``; doubled when one side is metal.
    The play of a bolt in its hole comes on top, as a slip of its own. For strength take `ultimate_slip_modulus`.

    Parameters
    ----------
    diameter : float
        m.
    density : float
        Mean, kg/m3; of two woods `joint_density`.
    fastener : str
        Kind of fastener.
    metal_side : bool
        The other side is steel or aluminium.

    Examples
    --------
    >>> round(1e-6 * slip_modulus(6e-3, 680.0), 1)
    4.6
    """
    _positive("diameter", diameter)
    _positive("density", density)
    if fastener not in FASTENERS:
        raise DesignError(f"There is no fastener '{fastener}'; {nearest(fastener, FASTENERS)}.")
    d = 1e3 * diameter
    size = math.pow(d, 0.8) / 30 if fastener == "nail" else d / 23
    per_mm = math.pow(density, 1.5) * size
    return 1e3 * per_mm * (2.0 if metal_side else 1.0)


def joint_density(first: float, second: float) -> float:
    """Mean density of a joint of two woods, ``sqrt(rho_1 rho_2)`` (7.1), kg/m3."""
    _positive("density", first)
    _positive("density", second)
    return math.sqrt(first * second)


def ultimate_slip_modulus(K_ser: float) -> float:
    """Slip modulus for strength, ``K_u = 2/3 K_ser`` (EN 1995-1-1 2.1), N/m."""
    _positive("slip modulus", K_ser)
    return 2.0 * K_ser / 3.0
