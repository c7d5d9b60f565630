"""Bolts, screws and blind rivets in metal: aluminium sheet, the walls of tubes, and the bolt itself.

Bolts after EN 1993-1-8 table 3.4, screws and bearing after the Aluminum Design Manual (ADM), all from memory
but where the docstring says what it was compared with. Strengths of screws and rivets carry no factor: the ADM
divides them by 3.0 in allowable stress design, with `Resistance.divided`.
"""

from __future__ import annotations

import math

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import larger, positive
from splitterfem.strength.hardware import BlindRivet, BoltClass
from splitterfem.strength.row import Check, Resistance, joined, weakest

INCH = 0.0254
SCREW_FACTOR = 3.0
"""Factor of the ADM on screws in allowable stress design."""

EC3 = "EN 1993-1-8 table 3.4, formula from memory"
ADM = "Aluminum Design Manual, screwed connections"

THIN_WALL, STEP_WALL, THICK_WALL = 1.0e-3, 0.08 * INCH, 0.125 * INCH
"""Walls between which the pull-out formula of screws holds, and where its factor steps up, m."""


def bolt_shear(stress_area: float, bolt: BoltClass, *, planes: int = 1, gamma_M2: float = 1.25) -> Resistance:
    """Shear of a bolt through its thread, ``planes alpha_v f_ub A_s / gamma_M2``, N.

    Parameters
    ----------
    stress_area : float
        m2.
    bolt : BoltClass
    planes : int
        Shear planes.
    gamma_M2 : float
        Partial factor.
    """
    positive("Bolt", stress_area=stress_area, planes=planes, gamma_M2=gamma_M2)
    value = planes * bolt.alpha_v * bolt.ultimate * stress_area / gamma_M2
    note = f"class {bolt.name}, thread in the shear plane"
    return Resistance("shear of the bolt", value, "N", EC3, weakest("memory", bolt.basis), note)


def bolt_shear_and_tension(shear: Check, tension: Check) -> Check:
    """Shear and tension of a bolt together, ``F_v / F_v,Rd + F_t / (1.4 F_t,Rd) <= 1``.

    Parameters
    ----------
    shear, tension : Check
        Of the same bolt; the tension is checked on its own as well.
    """
    total = shear.ratio + tension.ratio / 1.4
    return Check(
        part=shear.part,
        kind=shear.kind,
        x=shear.x,
        y=shear.y,
        mode="shear and tension of the bolt",
        demand=total,
        demand_unit="-",
        allowable=1.0,
        ratio=total,
        basis=weakest(shear.basis, tension.basis),
        source=EC3,
        note="shear ratio plus tension ratio over 1.4",
    )


def sheet_bearing(diameter: float, *, edge: float, thickness: float, ultimate_strength: float) -> Resistance:
    """Bearing of a bolt, rivet or screw in aluminium, ``e t F_tu`` and at most ``2 d t F_tu``, N, without a factor.

    Parameters
    ----------
    diameter : float
        Of the fastener, m.
    edge : float
        From its middle to the edge, in the direction of the force, m.
    thickness : float
        Of the sheet or wall, m.
    ultimate_strength : float
        In tension, Pa.
    """
    positive(
        "Bearing", diameter=diameter, edge=edge, thickness=thickness, ultimate_strength=ultimate_strength
    )
    value = min(edge, 2 * diameter) * thickness * ultimate_strength
    note = joined("no factor in it", "edge nearer than two diameters" if edge < 2 * diameter else "")
    return Resistance("bearing in the metal", value, "N", f"{ADM}, from memory", "memory", note)


def sheet_pull_through(
    head: float, *, thickness: float, ultimate_strength: float, gamma_M2: float = 1.25
) -> Resistance:
    """Head or washer of a bolt through a sheet, ``0.6 pi d_m t f_u / gamma_M2``, N.

    Parameters
    ----------
    head : float
        Mean diameter of head, nut or washer, m.
    thickness : float
        Of the sheet, m.
    ultimate_strength : float
        Of the sheet, Pa.
    gamma_M2 : float
        Partial factor.
    """
    positive("Sheet", head=head, thickness=thickness, ultimate_strength=ultimate_strength, gamma_M2=gamma_M2)
    value = 0.6 * math.pi * head * thickness * ultimate_strength / gamma_M2
    return Resistance("bolt head through the sheet", value, "N", EC3, "memory")


def screw_pull_out(diameter: float, *, wall: float, yield_strength: float) -> Resistance:
    """Screw pulled out of the thread in a wall, ``K_s D t F_ty`` with K_s 1.01 below 2.0 mm and 1.20 above, N.

    Formula and steps reproduce a published table of a curtain-wall designer (AAMA TIR-A9, 6063-T6, walls of 1 to
    2.5 mm) within 1 %. Self-drilled holes in thin walls tested lower (300 lbf against 420 lbf for a No. 10
    screw in 1.6 mm of 6061-T6): drill the hole. Walls above 3.2 mm count as 3.2 mm.

    Parameters
    ----------
    diameter : float
        Outside diameter of the thread, m.
    wall : float
        Depth of full thread, m.
    yield_strength : float
        Of the wall in tension, Pa. With the ultimate strength in its place, as some quote the formula, the load
        comes out too high by the ratio of the two.

    Raises
    ------
    DesignError
        If the wall is under 1 mm.
    """
    positive("Screw", diameter=diameter, wall=wall, yield_strength=yield_strength)
    if wall < THIN_WALL - 1e-9:
        raise DesignError(
            f"The wall is {1e3 * wall:g} mm thick; a screw needs 1 mm or more, so use a blind nut or a backing plate."
        )
    factor = 1.01 if wall < STEP_WALL else 1.20
    value = factor * diameter * min(wall, THICK_WALL) * yield_strength
    deep = "wall counted as 3.2 mm" if wall > THICK_WALL else ""
    note = joined("no factor in it", deep)
    return Resistance("pull-out of the screw", value, "N", f"{ADM}; AAMA TIR-A9", "memory", note)


def screw_pull_over(head: float, *, thickness: float, yield_strength: float, hole: float) -> Resistance:
    """Head of a screw pulled through a sheet, ``(1 + 1.7 t / D_ws) D_ws t F_ty``, N, without a factor.

    Reproduces a screw maker's table that was computed by the ADM of 2015 (three sizes, three thicknesses, three
    alloys) within its last digit.

    Parameters
    ----------
    head : float
        Diameter of the head or of its washer, m.
    thickness : float
        Of the sheet under the head, m.
    yield_strength : float
        Of the sheet, Pa.
    hole : float
        In the sheet, m; it must be smaller than the head.
    """
    positive("Screw head", diameter=head, thickness=thickness, yield_strength=yield_strength, hole=hole)
    larger("Screw head", diameter=head, hole=hole)
    value = (1 + 1.7 * thickness / head) * head * thickness * yield_strength
    return Resistance(
        "screw head through the sheet", value, "N", f"{ADM} (2015)", "memory", "no factor in it"
    )


def screw_tilting(diameter: float, *, wall: float, ultimate_strength: float) -> Resistance:
    """Screw that tilts in the wall it is threaded into, ``4.2 sqrt(t^3 D) F_tu``, N, without a factor.

    For a wall no thicker than the sheet under the head.

    Parameters
    ----------
    diameter : float
        m.
    wall : float
        That the screw is threaded into, m.
    ultimate_strength : float
        Of that wall, Pa.
    """
    positive("Screw", diameter=diameter, wall=wall, ultimate_strength=ultimate_strength)
    value = 4.2 * math.sqrt(wall**3 * diameter) * ultimate_strength
    return Resistance("tilting of the screw", value, "N", f"{ADM}, from memory", "memory", "no factor in it")


def rivet_resistances(rivet: BlindRivet, *, factor: float) -> tuple[Resistance, Resistance]:
    """Shear and tension of a blind rivet over a factor, N.

    Check the bearing of the sheets as well; on plywood put a backing washer behind the rivet and check
    `splitterfem.strength.washers.panel_pull_through`.

    Parameters
    ----------
    rivet : BlindRivet
    factor : float
        Of safety on the least loads of the standard; 3 is usual.
    """
    positive("Blind rivet", factor=factor)
    shear, tension = (
        Resistance(mode, load, "N", rivet.source, rivet.basis).divided(factor, "factor of safety")
        for mode, load in (("shear of the rivet", rivet.shear), ("tension of the rivet", rivet.tension))
    )
    return shear, tension
