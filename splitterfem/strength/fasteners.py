"""Bolts through plywood with steel or aluminium against one face: shear, slip and distances (EN 1995-1-1).

The formulas are those of the standard, compared with public transcriptions of it; the standard itself was not
at hand. In the formulas lengths are in mm, strengths in N/mm2 and densities in kg/m3, as in the standard; all
arguments and results here are in SI units. All strengths are characteristic: multiply by k_mod and divide by
gamma_M of a connection, with `splitterfem.strength.timber.TimberFactors.design`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from splitterfem.errors import DesignError
from splitterfem.materials.slip import Fastener
from splitterfem.strength._inputs import not_negative, positive
from splitterfem.strength.row import Resistance, joined

MM = 1e-3
MPA = 1e6

EC5 = "EN 1995-1-1"

ROPE = {"bolt": 0.25, "screw": 1.0, "dowel": 0.0, "nail": 0.15, "nail, predrilled": 0.15}
"""Largest share of the rope effect, over the yield part of the resistance (EN 1995-1-1 8.2.2)."""


def embedment_strength(diameter: float, density: float) -> float:
    """Embedment of a bolt in plywood, ``0.11 (1 - 0.01 d) rho_k`` at any angle to the grain (8.36), Pa.

    Parameters
    ----------
    diameter : float
        Of the bolt, m.
    density : float
        Characteristic, kg/m3.

    Raises
    ------
    DesignError
        If the bolt is thicker than 30 mm.
    """
    positive("Bolt in plywood", diameter=diameter, density=density)
    d = diameter / MM
    if d > 30:
        raise DesignError(f"The bolt is {d:g} mm thick; the embedment formula ends at 30 mm.")
    return 0.11 * (1 - 0.01 * d) * density * MPA


def yield_moment(diameter: float, ultimate_strength: float) -> float:
    """Yield moment of a bolt, ``0.3 f_u d^2.6`` (8.30), N m.

    Parameters
    ----------
    diameter : float
        m.
    ultimate_strength : float
        Pa.
    """
    positive("Bolt", diameter=diameter, ultimate_strength=ultimate_strength)
    return 0.3 * (ultimate_strength / MPA) * math.pow(diameter / MM, 2.6) * MM


@dataclass(frozen=True)
class YieldMode:
    """One way in which a fastener between wood and a metal plate gives way.

    Attributes
    ----------
    name : str
        Where the wood crushes and the fastener bends.
    value : float
        Without the rope effect, N.
    rope : bool
        Whether the rope effect adds to it.
    """

    name: str
    value: float
    rope: bool


def thick_plate_modes(
    f_h: float, *, thickness: float, diameter: float, M_y: float
) -> tuple[YieldMode, YieldMode, YieldMode]:
    """Modes with a plate of at least a bolt diameter (8.10 c to e).

    ``f_h t d`` with the bolt straight; ``f_h t d (sqrt(2 + 4 M_y / (f_h d t^2)) - 1)`` with a hinge at the plate;
    ``2.3 sqrt(M_y f_h d)`` with a second hinge in the wood.

    Parameters
    ----------
    f_h : float
        Embedment strength, Pa.
    thickness : float
        Of the wood, m.
    diameter : float
        Of the bolt, m.
    M_y : float
        Its yield moment, N m.
    """
    positive("Bolt in wood", f_h=f_h, thickness=thickness, diameter=diameter, M_y=M_y)
    base = f_h * thickness * diameter
    bent = base * (math.sqrt(2 + 4 * M_y / (f_h * diameter * thickness**2)) - 1)
    return (
        YieldMode("embedment", base, rope=False),
        YieldMode("one hinge", bent, rope=True),
        YieldMode("two hinges", 2.3 * math.sqrt(M_y * f_h * diameter), rope=True),
    )


def thin_plate_modes(
    f_h: float, *, thickness: float, diameter: float, M_y: float
) -> tuple[YieldMode, YieldMode]:
    """Modes with a plate of at most half a bolt diameter (8.9): ``0.4 f_h t d`` and ``1.15 sqrt(2 M_y f_h d)``.

    Parameters are those of `thick_plate_modes`.
    """
    positive("Bolt in wood", f_h=f_h, thickness=thickness, diameter=diameter, M_y=M_y)
    return (
        YieldMode("rotation", 0.4 * f_h * thickness * diameter, rope=False),
        YieldMode("one hinge", 1.15 * math.sqrt(2 * M_y * f_h * diameter), rope=True),
    )


def steel_to_timber_shear(
    f_h: float,
    *,
    thickness: float,
    diameter: float,
    M_y: float,
    plate: float,
    axial: float = 0.0,
    fastener: Fastener = "bolt",
) -> Resistance:
    """Characteristic shear of one fastener between wood and one metal plate (EN 1995-1-1 8.2.3), N.

    A quarter of the axial resistance is added to the modes with a hinge, up to the share of `ROPE`. Between a
    thin and a thick plate the values are interpolated.

    Parameters
    ----------
    f_h : float
        Embedment strength, Pa.
    thickness : float
        Of the wood, m.
    diameter : float
        Of the fastener, m.
    M_y : float
        Its yield moment, N m.
    plate : float
        Thickness of the metal plate, m; the fastener must sit tight in it (hole at most 0.1 d wider).
    axial : float
        Characteristic axial resistance: washer bearing, withdrawal or thread, the least, N.
    fastener : str
        Kind of fastener.

    Raises
    ------
    DesignError
        If the kind is unknown or a number is not above zero.
    """
    positive("Fastener", plate=plate)
    not_negative("Fastener", axial_resistance=axial)
    if fastener not in ROPE:
        raise DesignError(f"There is no fastener '{fastener}'; known: {', '.join(ROPE)}.")
    about = {"thickness": thickness, "diameter": diameter, "M_y": M_y}
    thin = _governing(thin_plate_modes(f_h, **about), axial, ROPE[fastener])
    thick = _governing(thick_plate_modes(f_h, **about), axial, ROPE[fastener])
    share = min(1.0, max(0.0, 2.0 * plate / diameter - 1.0))
    value = (1 - share) * thin.value + share * thick.value
    name = thick.name if share > 0 else thin.name
    plate_note = {0.0: "thin plate", 1.0: "thick plate"}.get(share, "between thin and thick plate")
    note = joined("characteristic, single shear", plate_note)
    return Resistance(
        f"shear of the {fastener} in wood, {name}", value, "N", f"{EC5} 8.2.3", "published", note
    )


def embedment(f_h: float, *, thickness: float, diameter: float) -> Resistance:
    """Characteristic bearing of a shank that stays straight in wood, ``f_h t d``, N.

    Parameters
    ----------
    f_h : float
        Embedment strength, Pa.
    thickness : float
        Of the wood, m.
    diameter : float
        Of the fastener, m.
    """
    positive("Fastener in wood", f_h=f_h, thickness=thickness, diameter=diameter)
    return Resistance(
        "embedment in the panel",
        f_h * thickness * diameter,
        "N",
        f"{EC5} 8.2.3 (c) and 8.36",
        "published",
        "characteristic; the shank held straight at both faces",
    )


def _governing(modes: tuple[YieldMode, ...], axial: float, share: float) -> YieldMode:
    """Return the least mode, rope effect included."""
    total = [replace(m, value=m.value + m.rope * min(0.25 * axial, share * m.value)) for m in modes]
    return min(total, key=lambda m: m.value)


@dataclass(frozen=True)
class EdgeDistances:
    """Least distances of a fastener in a panel, m.

    Attributes
    ----------
    loaded_edge, unloaded_edge : float
        From an edge beside the grain, towards which the force points or not.
    loaded_end : float
        From an end across the grain, towards which the force points; nan where the rule has none.
    source : str
        Where they come from.
    """

    loaded_edge: float
    unloaded_edge: float
    loaded_end: float
    source: str


def bolt_distances(diameter: float, angle: float) -> EdgeDistances:
    """Least distances of a bolt (EN 1995-1-1 table 8.4).

    Parameters
    ----------
    diameter : float
        m.
    angle : float
        Of the force to the grain, which for an edge beside the grain is that to the edge, rad; pi / 2 is the worst.
    """
    positive("Bolt", diameter=diameter)
    return EdgeDistances(
        loaded_edge=max(2 + 2 * abs(math.sin(angle)), 3.0) * diameter,
        unloaded_edge=3 * diameter,
        loaded_end=max(7 * diameter, 80 * MM),
        source=f"{EC5} table 8.4",
    )


def nail_distances(diameter: float, angle: float) -> EdgeDistances:
    """Least distances of a nail or thin screw in plywood (EN 1995-1-1 8.3.1.3): ``(3 + 4 sin a) d`` and ``3 d``.

    Parameters
    ----------
    diameter : float
        m.
    angle : float
        Of the force to the edge, rad.
    """
    positive("Nail", diameter=diameter)
    return EdgeDistances(
        loaded_edge=(3 + 4 * abs(math.sin(angle))) * diameter,
        unloaded_edge=3 * diameter,
        loaded_end=math.nan,
        source=f"{EC5} 8.3.1.3",
    )
