"""What open sides and the boundary layer take from the flow under a panel.

Sources
-------
Rozhdestvensky, K. V. (2000), Aerodynamics of a Lifting System in Extreme Ground Effect, Springer: as the gap
closes, the flow under a lifting surface becomes two-dimensional in plan view, ``div(h grad PHI) = 0``, with the
pressure of the surroundings on open edges. Widnall, S. E. & Barrows, T. M. (1970), J. Fluid Mech. 41, 769-792
(from memory). Schlichting, H., Boundary-Layer Theory (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]

AIR_VISCOSITY = 1.5e-5
"""Kinematic viscosity of air near 20 °C and sea level, m2/s."""

_TERMS = 400


def displacement_thickness(
    distance: ArrayLike, speed: float, *, viscosity: float = AIR_VISCOSITY
) -> FloatArray:
    """Displacement thickness of a turbulent boundary layer from the lip on, m.

    The 1/7-power law on a flat plate: ``delta = 0.37 x Re_x^(-1/5)`` and ``delta* = delta / 8`` (Schlichting,
    Boundary-Layer Theory; from memory).

    Parameters
    ----------
    distance : array_like
        From the lip along the flow, m, not negative.
    speed : float
        Of the air, m/s.
    viscosity : float
        Kinematic, m2/s.

    Raises
    ------
    DesignError
        If the speed or viscosity is not above zero, or a distance is negative.

    Examples
    --------
    >>> round(1e3 * float(displacement_thickness(0.7, 50.0)), 1)
    1.7
    """
    along = np.asarray(distance, dtype=np.float64)
    if not (np.isfinite(speed) and speed > 0.0 and viscosity > 0.0):
        raise DesignError(
            f"The boundary layer is asked for at {speed:g} m/s and a viscosity of {viscosity:g} m2/s; "
            f"give both above zero."
        )
    if not np.all(along >= 0.0):
        raise DesignError(
            "A distance from the lip is negative or not a number; give distances along the flow in m."
        )
    return np.asarray(0.37 / 8.0 * along**0.8 * (viscosity / speed) ** 0.2)


def relief_profile(mean: float, edges: ArrayLike) -> FloatArray:
    """Share of the suction left on strips across the width: most at the centre, none at an open side.

    ``r(eta) = 1 - cosh(kappa eta) / cosh(kappa)`` with ``eta`` from -1 to 1 over the width. It is the slowest
    mode of the linearised flow under a rectangle (phi = 0 at the lip and the sides), where ``kappa`` would be
    ``pi W / (4 L)``; here ``kappa`` is chosen so that the mean over the width, ``1 - tanh(kappa) / kappa``, is
    the one given. Each strip gets its own mean of ``r``, so that the mean over strips is exact.

    Parameters
    ----------
    mean : float
        Over the whole width, 0.001 to 1; 1 means no relief at all.
    edges : array_like, shape (n + 1,)
        Sides of the strips in order across the panel; the first and last are the panel's own (m, or any unit).

    Returns
    -------
    ndarray, shape (n,)
        From 0 to 1.

    Raises
    ------
    DesignError
        If the mean is out of range or the edges do not increase.
    """
    sides = np.asarray(edges, dtype=np.float64)
    if sides.ndim != 1 or len(sides) < 2 or not np.all(np.diff(sides) > 0.0):
        raise DesignError("The sides of the strips do not increase; list them in order across the panel.")
    if not 0.001 <= mean <= 1.0:
        raise DesignError(f"The side relief is {mean:g}; give a share from 0.001 to 1.")
    if mean > 1.0 - 1e-9:
        return np.ones(len(sides) - 1)
    kappa = brentq(lambda k: 1.0 - np.tanh(k) / k - mean, np.sqrt(3.0 * mean), 1.0 / (1.0 - mean), xtol=1e-15)
    eta = 2.0 * (sides - sides[0]) / (sides[-1] - sides[0]) - 1.0
    # sinh(kappa eta) / cosh(kappa), written so that a large kappa does not overflow.
    ratio = (np.exp(kappa * (eta - 1.0)) - np.exp(-kappa * (eta + 1.0))) / (1.0 + np.exp(-2.0 * kappa))
    return np.asarray(1.0 - np.diff(ratio) / (kappa * np.diff(eta)))


def rectangle_relief(width: float, length: float) -> tuple[float, float]:
    """Side relief of a rectangle with open sides, by linear theory.

    Force of the linearised two-dimensional flow ``div(h grad phi) = -U dh/dx`` (phi = 0 on lip and sides) per
    force of strips without sideways flow, as separated series. With ``k = (n - 1/2) pi / L`` and
    ``m = (2 n - 1) pi / W``, n = 1, 2, ...:

    - rake: ``sum (-1)^(n+1) 4 / (k L)^3 [1 - tanh(k W / 2) / (k W / 2)]``
    - exit: ``sum 8 / (m W)^2 tanh(m L) / (m L)``

    Parameters
    ----------
    width, length : float
        Across and along the flow, m.

    Returns
    -------
    rake, exit : float
        Relief of the suction that rake makes, and of the one that the exit pressure makes.

    Raises
    ------
    DesignError
        If a side is not above zero.

    Examples
    --------
    >>> rake, exit = rectangle_relief(1.6, 0.7)
    >>> round(rake, 2), round(exit, 2)
    (0.46, 0.55)
    """
    if not (0.0 < width < np.inf and 0.0 < length < np.inf):
        raise DesignError(f"The rectangle is {width:g} by {length:g} m; give both sides above zero.")
    n = np.arange(1, _TERMS + 1)
    k = (n - 0.5) * np.pi * width / (2.0 * length)
    m = (2 * n - 1) * np.pi * length / width
    rake = np.sum(-((-1.0) ** n) * 4.0 / ((n - 0.5) * np.pi) ** 3 * (1.0 - np.tanh(k) / k))
    leaving = np.sum(8.0 / ((2 * n - 1) * np.pi) ** 2 * np.tanh(m) / m)
    return float(rake), float(leaving)
