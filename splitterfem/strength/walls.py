"""Local buckling of the flat walls of ribs in compression.

A wall is held along both edges (between two other walls, or between a wall and the panel) or along one (an
outstand). The stress across it may vary: the largest compression stands at one edge, ``ratio`` times that at the
other. Rules of EN 1999-1-1 for aluminium, of EN 1993-1-5 for other metals.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Resistance, joined

Edge = Literal["both", "one"]
Peak = Literal["free", "held"]

BUCKLING = {"both": 4.0, "one": 0.43}
"""Buckling factor of a long flat wall in even compression, held along both edges or along one."""

PLATE_SOURCE = "EN 1993-1-5 4.4 (Winter); Bryan 1891"
ALUMINIUM_SOURCE = "EN 1999-1-1 6.1.4 and 6.1.5, buckling class B, from memory"

ALUMINIUM = (60e9, 80e9)
"""Young's moduli between which a metal is taken to be an aluminium alloy, Pa."""

CLASS_B = {"both": (29.0, 198.0, 18.0), "one": (9.0, 20.0, 5.0)}
"""C1 and C2 of ``C1 / x - C2 / x^2``, and the x up to which a wall counts in full: aluminium of buckling class B
without welds (EN 1999-1-1 tables 6.2 and 6.3)."""

MODE = "buckling of the compressed wall"


@dataclass(frozen=True)
class WallState:
    """What decides how a wall buckles.

    Attributes
    ----------
    width, thickness : float
        Of the flat wall, m.
    edges : {"both", "one"}
        Along which it is held.
    ratio : float
        Stress at the other edge over the largest compression.
    peak : {"free", "held"}
        Edge of the largest compression, of a wall that is held along one.
    """

    width: float
    thickness: float
    edges: Edge = "both"
    ratio: float = 1.0
    peak: Peak = "free"


def buckling_factor(ratio: float = 1.0, edges: Edge = "both", peak: Peak = "free") -> float:
    """Buckling factor of a long flat wall whose stress varies across it (EN 1993-1-5 tables 4.1 and 4.2).

    Parameters
    ----------
    ratio : float
        Stress at the other edge over the largest compression, from -3 to 1 (below it counts as -3); 1 is even
        compression and gives 4.0 held along both edges, 0.43 along one.
    edges : {"both", "one"}
        Along which it is held.
    peak : {"free", "held"}
        Edge of the largest compression, of a wall that is held along one.
    """
    psi = max(-3.0, min(1.0, ratio))
    if edges == "both":
        if psi >= 0.0:
            return 8.2 / (1.05 + psi)
        return 7.81 - 6.29 * psi + 9.78 * psi**2 if psi > -1.0 else 5.98 * (1.0 - psi) ** 2
    if peak == "free":
        return 0.57 - 0.21 * psi + 0.07 * psi**2
    if psi >= 0.0:
        return 0.578 / (psi + 0.34)
    return 1.7 - 5.0 * psi + 17.1 * psi**2 if psi > -1.0 else 23.8


def plate_buckling_stress(
    width: float,
    *,
    thickness: float,
    E: float,
    nu: float,
    edges: Edge = "both",
    factor: float | None = None,
) -> float:
    """Elastic buckling stress of a flat wall, ``k pi^2 E / (12 (1 - nu^2)) (t / b)^2``, Pa.

    Parameters
    ----------
    width : float
        Flat width between the walls, or from wall to free edge, m.
    thickness : float
        m.
    E : float
        Pa.
    nu : float
        Poisson's ratio.
    edges : {"both", "one"}
        Along which it is held.
    factor : float, optional
        Buckling factor k; that of even compression when left out.
    """
    positive("Wall of the rib", width=width, thickness=thickness, E=E)
    k = BUCKLING[edges] if factor is None else factor
    return k * math.pi**2 * E / (12 * (1 - nu**2)) * (thickness / width) ** 2


def wall_reduction(slenderness: float, edges: Edge = "both", *, ratio: float = 1.0) -> float:
    """Effective over full width of a compressed wall (EN 1993-1-5 4.4).

    ``(s - 0.055 (3 + ratio)) / s^2`` above ``0.5 + sqrt(0.085 - 0.055 ratio)`` held along both edges,
    ``(s - 0.188) / s^2`` above 0.748 along one.

    Parameters
    ----------
    slenderness : float
        ``sqrt(f_y / sigma_cr)``.
    edges : {"both", "one"}
        Along which it is held.
    ratio : float
        Stress at the other edge over the largest compression; 1 is even compression.
    """
    positive("Wall of the rib", slenderness=slenderness)
    psi = max(-3.0, min(1.0, ratio))
    limit, offset = (0.5 + math.sqrt(0.085 - 0.055 * psi), 0.055 * (3.0 + psi))
    if edges == "one":
        limit, offset = 0.748, 0.188
    return 1.0 if slenderness <= limit else min(1.0, (slenderness - offset) / slenderness**2)


def aluminium_reduction(
    width: float,
    *,
    thickness: float,
    yield_strength: float,
    edges: Edge = "both",
    ratio: float = 1.0,
    peak: Peak = "free",
) -> float:
    """Effective over full thickness of a compressed wall of an aluminium alloy (EN 1999-1-1 6.1.4.3, 6.1.5).

    ``C1 / x - C2 / x^2`` with ``x = eta (b / t) sqrt(f_o / 250 MPa)`` and the constants of buckling class B; the
    whole wall counts up to x = 18 held along both edges, 5 along one. Where the stress falls from a held edge,
    ``eta = 0.70 + 0.30 ratio``, below -1 ``0.80 / (1 - ratio)``.

    Parameters
    ----------
    width, thickness, edges, ratio, peak
        See `buckling_factor` and `plate_buckling_stress`.
    yield_strength : float
        The 0.2 % proof strength f_o, Pa.
    """
    positive("Wall of the rib", width=width, thickness=thickness, yield_strength=yield_strength)
    eta = 1.0
    if edges == "both" or peak == "held":
        psi = min(1.0, ratio)
        eta = 0.70 + 0.30 * psi if psi >= -1.0 else 0.80 / (1.0 - psi)
    x = eta * width / thickness * math.sqrt(yield_strength / 250e6)
    c1, c2, limit = CLASS_B[edges]
    return 1.0 if x <= limit else c1 / x - c2 / x**2


def reduction(wall: WallState, *, E: float, nu: float, yield_strength: float) -> float:
    """Share of the yield strength that a compressed wall reaches.

    Aluminium (a modulus in `ALUMINIUM`): `aluminium_reduction`. Other metals: `wall_reduction` with the classical
    buckling stress, a rule for steel.
    """
    positive("Wall of the rib", yield_strength=yield_strength)
    width, thickness = wall.width, wall.thickness
    if is_aluminium(E):
        return aluminium_reduction(
            width,
            thickness=thickness,
            yield_strength=yield_strength,
            edges=wall.edges,
            ratio=wall.ratio,
            peak=wall.peak,
        )
    k = buckling_factor(wall.ratio, wall.edges, wall.peak)
    critical = plate_buckling_stress(width, thickness=thickness, E=E, nu=nu, factor=k)
    return wall_reduction(math.sqrt(yield_strength / critical), wall.edges, ratio=wall.ratio)


def is_aluminium(E: float) -> bool:
    """Whether a Young's modulus in Pa is that of an aluminium alloy."""
    return ALUMINIUM[0] <= E <= ALUMINIUM[1]


def wall_strength(
    width: float,
    *,
    thickness: float,
    E: float,
    nu: float,
    yield_strength: float,
    factor: float,
    edges: Edge = "both",
    ratio: float = 1.0,
    peak: Peak = "free",
) -> Resistance:
    """Largest compressive stress that a flat wall of a rib stands, Pa.

    Yield times `reduction`, over the factor; it is held against the stress of the unreduced section.

    Parameters
    ----------
    width, thickness, E, nu, edges
        See `plate_buckling_stress`.
    yield_strength : float
        Pa.
    factor : float
        Of safety.
    ratio, peak
        See `buckling_factor`.
    """
    wall = WallState(width, thickness, edges, ratio, peak)
    share = reduction(wall, E=E, nu=nu, yield_strength=yield_strength)
    k = buckling_factor(ratio, edges, peak)
    critical = plate_buckling_stress(width, thickness=thickness, E=E, nu=nu, edges=edges, factor=k)
    aluminium = is_aluminium(E)
    note = joined(
        f"b/t {width / thickness:.1f}, held along {'both edges' if edges == 'both' else 'one edge'}",
        f"elastic buckling at {critical / 1e6:.0f} MPa (k {k:.2f})",
        f"reduction {share:.2f}",
        "" if share < 1 else "stocky: yield governs",
    )
    found = Resistance(
        MODE,
        share * yield_strength,
        "Pa",
        ALUMINIUM_SOURCE if aluminium else PLATE_SOURCE,
        "memory" if aluminium else "published",
        note,
    )
    return found if factor == 1.0 else found.divided(factor, "factor on metal")


def round_wall_strength(
    diameter: float, *, thickness: float, E: float, yield_strength: float, factor: float
) -> Resistance:
    """Largest compressive stress of a round tube that does not buckle locally, Pa: yield over the factor.

    Holds up to ``d / t = 90 (235 MPa / f_y) (E / 210 GPa)`` (EN 1993-1-1 table 5.2, class 3, from memory; the
    modulus in it carries the rule for steel over to other metals).

    Raises
    ------
    DesignError
        If the tube is thinner than that, which the rule does not cover.
    """
    positive("Round tube", diameter=diameter, thickness=thickness, E=E, yield_strength=yield_strength)
    limit = 90.0 * (235e6 / yield_strength) * (E / 210e9)
    if diameter / thickness > limit:
        raise DesignError(
            f"the round tube has d/t {diameter / thickness:.0f}, and above {limit:.0f} it may buckle before it yields; "
            "give it a thicker wall."
        )
    found = Resistance(
        MODE,
        yield_strength,
        "Pa",
        "EN 1993-1-1 table 5.2, from memory",
        "memory",
        f"d/t {diameter / thickness:.1f} up to {limit:.0f}: yield governs",
    )
    return found if factor == 1.0 else found.divided(factor, "factor on metal")
