"""Rear pocket: pressure of the panel on its lips, bending of a lip, and the overlap that motion uses up.

The overlap is never the only retention: a latch or pin must hold the panel in the pocket.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Basis, Check, Resistance, weakest

UNDER_LIP = "bearing of the panel under the lip"
"""Mode of the panel on which a lip bears."""

LEAST_OVERLAP = 0.025
"""Bearing that should be left when everything has moved its worst way, m (common practice, no source)."""

MOISTURE_MOVEMENT = 0.015
"""Movement of plywood in its plane over the change of moisture (both as fractions), 0.015 % for 1 % (memory)."""


def lip_line_load(force: float, width: float) -> float:
    """Load on a stretch of lip per width, N/m.

    Parameters
    ----------
    force : float
        Of the panel on the stretch, N.
    width : float
        Of the stretch, m.
    """
    positive("Lip", width=width)
    return abs(force) / width


def panel_under_lip(*, depth: float, f_c90: float, basis: Basis = "indicative") -> Resistance:
    """Bearing of the panel's face under a lip, ``f_c90`` times the contact depth, N/m.

    Parameters
    ----------
    depth : float
        Of the contact, fore and aft, m: an edge of a lip with radius r bears on about r, a flat lip on a part of
        the overlap that depends on the slope.
    f_c90 : float
        Characteristic strength across the faces, Pa.
    basis : str
        How well that is known.
    """
    positive("Lip", contact_depth=depth, f_c90=f_c90)
    value = f_c90 * depth
    return Resistance(
        UNDER_LIP,
        value,
        "N/m",
        "EN 1995-1-1 6.1.5 with k_c,90 = 1",
        basis,
        "characteristic",
    )


def lip_bending(*, thickness: float, arm: float, yield_strength: float, gamma: float = 1.0) -> Resistance:
    """First yield of a lip as a cantilever strip, ``f_y t^2 / (6 arm gamma)``, N/m.

    Parameters
    ----------
    thickness : float
        Of the lip, m.
    arm : float
        From the bend of the bracket to the line of force; at most the overlap, m.
    yield_strength : float
        Of the lip, Pa.
    gamma : float
        Factor on yield.
    """
    positive("Lip", thickness=thickness, arm=arm, yield_strength=yield_strength, gamma=gamma)
    value = yield_strength * thickness**2 / (6 * arm) / gamma
    source = "elastic bending of a cantilever strip"
    return Resistance("bending of the lip", value, "N/m", source, "published", f"factor {gamma:g} on yield")


@dataclass(frozen=True)
class Movement:
    """A motion of the panel's rear edge out of its pocket.

    Attributes
    ----------
    cause : str
        What moves it.
    value : float
        Out of the pocket positive, m.
    source, basis : str
        Where it comes from and how well it is known.
    """

    cause: str
    value: float
    source: str
    basis: Basis


def slope_shortening(drop: float, length: float) -> Movement:
    """Shortening in plan of a panel that slopes, ``d^2 / (2 L)``, m.

    Parameters
    ----------
    drop : float
        Of one end against the other, m.
    length : float
        Of the panel, m.
    """
    positive("Panel", length=length)
    return Movement("slope", drop**2 / (2 * length), "geometry, small slopes", "published")


def strut_arc(*, run: float, rise: float, drop: float) -> Movement:
    """Fore-and-aft motion of a strut's foot that drops on the circle round its head, m.

    Parameters
    ----------
    run : float
        Of the head ahead of the foot, m; negative when the strut leans rearward. A foot that drops swings
        towards the vertical under its head: a strut that leans forward pulls the panel out of the pocket.
    rise : float
        Of the head above the foot, m.
    drop : float
        Of the foot, m.

    Raises
    ------
    DesignError
        If the strut is too short to reach the dropped foot.
    """
    positive("Strut", rise=rise)
    left = run**2 + rise**2 - (rise + drop) ** 2
    if left < 0:
        raise DesignError(
            f"The strut's foot drops {1e3 * drop:g} mm, which its length does not allow; check the strut or the sag."
        )
    reach = math.copysign(math.sqrt(left), run)
    return Movement("strut arc", run - reach, "geometry", "published")


def moisture(length: float, change: float) -> Movement:
    """Shrinkage of a plywood panel that dries by a change of moisture content (0.10 for ten points), m."""
    positive("Panel", length=length)
    return Movement(
        "moisture", MOISTURE_MOVEMENT * change * length, "0.015 % for 1 % of moisture, from memory", "memory"
    )


def temperature(length: float, *, expansion: float, change: float) -> Movement:
    """Difference in expansion of two parts over a length, m.

    Parameters
    ----------
    length : float
        m.
    expansion : float
        Difference of the coefficients, 1/K: about 17e-6 of aluminium against plywood.
    change : float
        Of temperature, K.
    """
    positive("Panel", length=length)
    return Movement("temperature", expansion * change * length, "linear expansion", "published")


def overlap_check(overlap: float, movements: Sequence[Movement], *, part: str, x: float, y: float) -> Check:
    """Overlap that all movements together and the least bearing need, against the overlap there is.

    Movements into the pocket are not set off against those out of it.

    Parameters
    ----------
    overlap : float
        m.
    movements : sequence of Movement
        Slope, strut arc, moisture, temperature; tolerance and kerb throw as the user's own.
    part : str
        Name of the pocket.
    x, y : float
        Its place, m.

    Raises
    ------
    DesignError
        If the overlap is not above zero or a movement is not finite.
    """
    positive(f"Rear pocket {part}", overlap=overlap)
    for m in movements:
        if not math.isfinite(m.value):
            raise DesignError(
                f"The rear pocket {part}: movement by {m.cause} is {m.value:g}; give a length in m."
            )
    out = [m for m in movements if m.value > 0]
    need = LEAST_OVERLAP + sum(m.value for m in out)
    listed = ", ".join(f"{m.cause} {1e3 * m.value:.1f} mm" for m in out)
    return Check(
        part=part,
        kind="rear pocket",
        x=x,
        y=y,
        mode="overlap",
        demand=need,
        demand_unit="m",
        allowable=overlap,
        ratio=need / overlap,
        basis=weakest("practice", *(m.basis for m in out)),
        source="25 mm of bearing left: common practice, no source",
        note=f"needs 25 mm plus {listed}" if listed else "needs 25 mm",
    )
