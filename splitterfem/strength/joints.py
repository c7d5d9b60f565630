"""Joints between a rib and the panel: shear flow, fasteners at a pitch, glue, and partial composite action."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Basis, Resistance, joined, weakest

WOOD_BOND_LIMIT = 1.0e6
"""Characteristic stress in shear or peel at which the veneer under a bond is taken to fail, Pa (indicative)."""


def shear_flow(shear: float, *, EQ: float, EI: float) -> float:
    """Shear flow in a joint, ``V (E Q) / (E I)`` of the transformed section, N/m.

    Parameters
    ----------
    shear : float
        Shear force, N.
    EQ : float
        First moment of everything beyond the joint about the neutral axis, times its modulus, N m.
    EI : float
        Bending stiffness of the whole section, N m2.
    """
    positive("Joint", EQ=EQ, EI=EI)
    return abs(shear) * EQ / EI


def fastener_load(flow: float, *, pitch: float, rows: int = 1) -> float:
    """Load of a fastener, shear flow times pitch over the number of rows, N.

    Parameters
    ----------
    flow : float
        N/m.
    pitch : float
        Between fasteners along a row, m.
    rows : int
        Side by side.
    """
    positive("Joint", pitch=pitch, rows=rows)
    return abs(flow) * pitch / rows


def bond_stress(flow: float, *, width: float) -> float:
    """Mean shear stress of a bond, shear flow over its width, Pa.

    Near the ends and where the rib stops it is higher, and peel comes on top.

    Parameters
    ----------
    flow : float
        N/m.
    width : float
        Bonded, m.
    """
    positive("Bond", width=width)
    return abs(flow) / width


def bond_strength(
    shear_strength: float, *, factor: float, on_wood: bool, basis: Basis = "user"
) -> Resistance:
    """Shear strength of a bond over a factor, on plywood no more than the veneer stands, Pa.

    Parameters
    ----------
    shear_strength : float
        Of the adhesive in a lap joint of metal, Pa.
    factor : float
        Of safety: 2 with fasteners as a back-up, 3 without (common practice, no source).
    on_wood : bool
        One side is plywood.
    basis : str
        How well the adhesive's strength is known.
    """
    positive("Bond", shear_strength=shear_strength, factor=factor)
    wood = on_wood and shear_strength > WOOD_BOND_LIMIT
    value = WOOD_BOND_LIMIT if wood else shear_strength
    source = "strength of veneer in shear and peel, about 1 MPa" if wood else "strength of the adhesive"
    found = Resistance(
        "shear of the bond, veneer governs" if wood else "shear of the bond",
        value,
        "Pa",
        source,
        weakest(basis, "indicative") if wood else basis,
        joined("mean stress, peaks and peel at the ends not in it"),
    )
    return found.divided(factor, "factor of safety")


@dataclass(frozen=True)
class PartialComposite:
    """Two parts that bend together over a joint that slips.

    Attributes
    ----------
    gamma : float
        Share of the joint's action, 0 loose to 1 rigid.
    EI : float
        Effective bending stiffness, N m2.
    first, second : float
        Distances of the parts' centroids from the effective neutral axis, m.
    flow_per_shear : float
        Shear flow in the joint per shear force, 1/m.
    """

    gamma: float
    EI: float
    first: float
    second: float
    flow_per_shear: float


def partial_composite(
    *, EA: tuple[float, float], EI: tuple[float, float], distance: float, stiffness: float, length: float
) -> PartialComposite:
    """Gamma method for two parts, EN 1995-1-1 annex B.

    ``gamma = 1 / (1 + pi^2 E A_1 / (k l^2))`` with the joint's stiffness per length k, then
    ``EI = sum E I_i + gamma EA_1 a_1^2 + EA_2 a_2^2``.

    Parameters
    ----------
    EA : tuple of float
        Axial stiffness of the part that slips (rib) and of the other (panel), N.
    EI : tuple of float
        Their own bending stiffness, N m2.
    distance : float
        Between their centroids, m.
    stiffness : float
        Of the joint per length, N/m2: slip modulus over pitch, or ``G b / t`` of a bond.
    length : float
        Span between simple supports; twice that of a cantilever, m.
    """
    positive("Joint", EA_rib=EA[0], EA_panel=EA[1], EI_rib=EI[0], EI_panel=EI[1])
    positive("Joint", distance=distance, stiffness=stiffness, length=length)
    gamma = 1.0 / (1.0 + math.pi**2 * EA[0] / (stiffness * length**2))
    slipping = gamma * EA[0]
    second = slipping * distance / (slipping + EA[1])
    first = distance - second
    total = EI[0] + EI[1] + slipping * first**2 + EA[1] * second**2
    return PartialComposite(gamma, total, first, second, slipping * first / total)


def bond_stiffness(G: float, *, width: float, thickness: float) -> float:
    """Stiffness of a bond per length, ``G b / t``, N/m2.

    Parameters
    ----------
    G : float
        Shear modulus of the adhesive, Pa.
    width, thickness : float
        Of the bond, m.
    """
    positive("Bond", G=G, width=width, thickness=thickness)
    return G * width / thickness
