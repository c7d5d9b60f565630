"""Peel of an adhesive at the end of a rib.

The shear flow acts at the rib's foot and not at its centroid, which turns the end of the rib on the layer of
adhesive as on an elastic bed. A rib whose end is pulled lifts off there; one that is pushed presses on the panel,
and lifts a little further in.
"""

from __future__ import annotations

import math

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import not_negative, positive
from splitterfem.strength.joints import WOOD_BOND_LIMIT
from splitterfem.strength.row import Basis, Resistance, weakest

SOURCE = "Roberts 1989, The Structural Engineer 67, 229-233 (beam end on an elastic bed)"

CONFINED = 6.0
"""Modulus of a thin layer across its faces over its shear modulus, ``2 (1 - nu) / (1 - 2 nu)`` with nu 0.4: the
faces keep it from contracting sideways. Peel goes with its fourth root."""

FURTHER_IN = math.exp(-0.75 * math.pi) * math.sqrt(0.5)
"""Peel further in over the pressure at an end that presses: the trough of ``exp(-u) cos u``."""


def bed_length(layer: float, EI: float) -> float:
    """Length ``(4 E I / k)^(1/4)`` over which the end of a rib settles on its adhesive, m.

    Parameters
    ----------
    layer : float
        Stiffness of the adhesive across the layer for each length of rib, ``E_a b / t_a``, N/m2.
    EI : float
        Bending stiffness of the rib about its own axis, N m2.
    """
    positive("Adhesive", stiffness_across_the_layer=layer, EI=EI)
    return math.sqrt(math.sqrt(4.0 * EI / layer))


def peel_stress(shear: float, *, arm: float, layer: float, EI: float) -> float:
    """Peel stress at the end of a rib from the shear stress there, ``2 tau e / l``, Pa.

    For a flat strip, ``e = t / 2``, it is Roberts's ``tau t (k / 4 E I)^(1/4)``. Shear that falls off within the
    length l makes less peel; the rib's own end moment and shear force, which a stiff rib has besides, are not in it.

    Parameters
    ----------
    shear : float
        Shear stress of the adhesive at the end, positive where it pulls the rib, Pa.
    arm : float
        From the bonded face to the rib's centroid, m.
    layer, EI : float
        See `bed_length`.

    Returns
    -------
    float
        Tension across the layer; of an end that is pushed that further in, see `FURTHER_IN`.
    """
    not_negative("Rib", arm=arm)
    end = 2.0 * shear * arm / bed_length(layer, EI)
    return end if end >= 0.0 else -FURTHER_IN * end


def peel_strength(
    tensile_strength: float | None, *, factor: float, on_wood: bool, basis: Basis = "user"
) -> Resistance:
    """Strength of a bond across its layer over a factor, on plywood no more than the veneer stands, Pa.

    Parameters
    ----------
    tensile_strength : float or None
        Of the adhesive, as in a butt joint of metal; on plywood the veneer alone counts when it is not known.
    factor : float
        Of safety.
    on_wood : bool
        One side is plywood.
    basis : str
        How well the adhesive's strength is known.

    Raises
    ------
    DesignError
        If it is not known and neither side is wood.
    """
    if tensile_strength is None and not on_wood:
        raise DesignError("the adhesive's strength in tension is not known; give tensile_strength.")
    known = math.inf if tensile_strength is None else tensile_strength
    wood = on_wood and known > WOOD_BOND_LIMIT
    value = WOOD_BOND_LIMIT if wood else known
    found = Resistance(
        "peel at the end of the rib, veneer governs" if wood else "peel at the end of the rib",
        value,
        "Pa",
        "strength of veneer in shear and peel, about 1 MPa"
        if wood
        else "strength of the adhesive in tension",
        weakest(basis, "indicative") if wood else basis,
    )
    return found.divided(factor, "factor of safety")
