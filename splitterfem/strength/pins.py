"""Clevis pins, quick-release pins and lugs.

The clevis has two outer lugs of thickness a, the middle part is b thick, and c is the gap on each side.
Formulas of EN 1993-1-8 3.13 and table 3.10 (compared with a public copy of that page) and of the Aluminum
Design Manual (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from splitterfem.strength._inputs import larger, not_negative, positive
from splitterfem.strength.metal import sheet_bearing
from splitterfem.strength.row import Basis, Check, Resistance, weakest

PIN_SOURCE = "EN 1993-1-8 table 3.10"
LUG_SOURCE = "Aluminum Design Manual, chapters D and J, formula from memory"

RUPTURE_FACTOR = 1.95
"""Factor on the ultimate strength of a lug in tension, tear-out and bearing: allowable stress design of the Aluminum
Design Manual, building-type structures, from memory."""

State = Literal["ultimate", "service"]
"""``service``: the stricter rule for a pin that must come out again, at the loads of normal use."""

BEARING = {"ultimate": 1.5, "service": 0.6}
BENDING = {"ultimate": 1.5, "service": 0.8}


def pin_shear(
    diameter: float,
    *,
    shear_strength: float,
    planes: int = 2,
    gamma: float = 1.25,
    basis: Basis = "published",
) -> Resistance:
    """Shear of a pin over all its shear planes, ``planes A tau_u / gamma``, N.

    Parameters
    ----------
    diameter : float
        m; of a hollow or grooved pin use the maker's rating instead, with `splitterfem.strength.struts.rated`.
    shear_strength : float
        Ultimate, Pa; EN 1993-1-8 takes 0.6 of the ultimate strength in tension.
    planes : int
        2 in a clevis, 1 for a pin held at one side.
    gamma : float
        Partial factor gamma_M2.
    basis : str
        How well the shear strength is known.
    """
    positive("Pin", diameter=diameter, shear_strength=shear_strength, planes=planes, gamma=gamma)
    value = planes * 0.25 * math.pi * diameter**2 * shear_strength / gamma
    note = f"{planes} shear planes, gamma {gamma:g}"
    return Resistance("shear of the pin", value, "N", PIN_SOURCE, weakest("published", basis), note)


def pin_bearing(
    diameter: float, *, thickness: float, yield_strength: float, gamma: float = 1.0, state: State = "ultimate"
) -> Resistance:
    """Bearing of a pin in a plate, ``1.5 t d f_y / gamma`` (0.6 for a pin that must come out, in service), N.

    Parameters
    ----------
    diameter : float
        Of the pin, m.
    thickness : float
        Of the plate, or of both outer lugs together, m.
    yield_strength : float
        The lower one of pin and plate, Pa.
    gamma : float
        gamma_M0, or gamma_M6,ser in service.
    state : {"ultimate", "service"}
        Which rule.
    """
    positive("Pin", diameter=diameter, thickness=thickness, yield_strength=yield_strength, gamma=gamma)
    value = BEARING[state] * thickness * diameter * yield_strength / gamma
    return Resistance("bearing of the pin", value, "N", PIN_SOURCE, "published", _state_note(state))


def pin_moment(force: float, *, middle: float, outer: float, gap: float) -> float:
    """Bending moment of a pin in a clevis, ``F / 8 (b + 4 c + 2 a)`` (EN 1993-1-8 figure 3.11), N m.

    Parameters
    ----------
    force : float
        N.
    middle : float
        Thickness b of the part between the lugs, m.
    outer : float
        Thickness a of each outer lug, m.
    gap : float
        c, on each side, m. It is what bends thin pins: fill it with spacers.
    """
    positive("Clevis", middle=middle, outer=outer)
    not_negative("Clevis", gap=gap)
    return abs(force) / 8 * (middle + 4 * gap + 2 * outer)


def pin_bending(
    diameter: float, *, yield_strength: float, gamma: float = 1.0, state: State = "ultimate"
) -> Resistance:
    """Bending of a pin, ``1.5 W f_yp / gamma`` (0.8 for a pin that must come out, in service), N m."""
    positive("Pin", diameter=diameter, yield_strength=yield_strength, gamma=gamma)
    value = BENDING[state] * math.pi * diameter**3 / 32 * yield_strength / gamma
    return Resistance("bending of the pin", value, "N m", PIN_SOURCE, "published", _state_note(state))


def pin_shear_and_bending(
    moment: Check,
    shear: Check,
) -> Check:
    """Shear and bending of a pin together, ``(M / M_Rd)^2 + (F / F_v,Rd)^2 <= 1``.

    Parameters
    ----------
    moment, shear : Check
        Of the same pin in bending and in shear.

    Returns
    -------
    Check
        Without unit; the ratio is that sum.
    """
    total = moment.ratio**2 + shear.ratio**2
    return Check(
        part=moment.part,
        kind=moment.kind,
        x=moment.x,
        y=moment.y,
        mode="shear and bending of the pin",
        demand=total,
        demand_unit="-",
        allowable=1.0,
        ratio=total,
        basis=weakest(moment.basis, shear.basis),
        source=PIN_SOURCE,
        note="sum of the squares of both ratios",
    )


def pin_contact_stress(force: float, *, diameter: float, hole: float, thickness: float, E: float) -> float:
    """Contact stress of a pin in a wider hole, ``0.591 sqrt(E F (d0 - d) / (d^2 t))`` (EN 1993-1-8 3.15), Pa.

    To be kept under 2.5 f_y in service for a pin that must come out again.

    Parameters
    ----------
    force : float
        In service, N.
    diameter, hole : float
        Of the pin and of its hole, m.
    thickness : float
        Of the plate, m.
    E : float
        Young's modulus, Pa.
    """
    positive("Pin", diameter=diameter, thickness=thickness, E=E)
    not_negative("Pin", play_in_the_hole=hole - diameter)
    return 0.591 * math.sqrt(E * abs(force) * (hole - diameter) / (diameter**2 * thickness))


def lug_net_tension(*, width: float, hole: float, thickness: float, ultimate_strength: float) -> Resistance:
    """Tension of a lug beside its hole, ``(w - d) t F_tu``, N, without a factor.

    Parameters
    ----------
    width, hole, thickness : float
        m.
    ultimate_strength : float
        In tension, Pa.
    """
    positive("Lug", width=width, hole=hole, thickness=thickness, ultimate_strength=ultimate_strength)
    larger("Lug", width=width, hole=hole)
    value = (width - hole) * thickness * ultimate_strength
    return Resistance("net tension of the lug", value, "N", LUG_SOURCE, "memory", "no factor in it")


def lug_tear_out(
    *, end_distance: float, hole: float, thickness: float, ultimate_strength: float
) -> Resistance:
    """Tear-out of a lug ahead of its hole, ``2 (e - d / 2) t 0.6 F_tu``, N, without a factor.

    Parameters
    ----------
    end_distance : float
        From the middle of the hole to the end of the lug, m.
    hole, thickness : float
        m.
    ultimate_strength : float
        In tension, Pa.
    """
    positive(
        "Lug", end_distance=end_distance, hole=hole, thickness=thickness, ultimate_strength=ultimate_strength
    )
    larger("Lug", end_distance=end_distance, half_of_the_hole=0.5 * hole)
    value = 2 * (end_distance - 0.5 * hole) * thickness * 0.6 * ultimate_strength
    return Resistance("tear-out of the lug", value, "N", LUG_SOURCE, "memory", "no factor in it")


def lug_bearing(
    *, diameter: float, end_distance: float, thickness: float, ultimate_strength: float
) -> Resistance:
    """Bearing of a pin or bolt in aluminium, ``e t F_tu`` and at most ``2 d t F_tu``, N, without a factor.

    Parameters
    ----------
    diameter : float
        Of the pin or bolt, m.
    end_distance : float
        From its middle to the edge, in the direction of the force, m.
    thickness : float
        m.
    ultimate_strength : float
        In tension, Pa.
    """
    found = sheet_bearing(
        diameter, edge=end_distance, thickness=thickness, ultimate_strength=ultimate_strength
    )
    return replace(found, mode="bearing in the lug")


def _state_note(state: State) -> str:
    return "pin that must come out again, in service" if state == "service" else ""
