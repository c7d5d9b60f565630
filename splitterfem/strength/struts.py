"""Struts: what rods, tubes and cables carry in tension and compression.

Forces are positive in tension. Compression is limited by Euler's load above the transition slenderness
``C_c = sqrt(2 pi^2 E / f_y)`` and by Johnson's parabola below it; both are ultimate loads without any factor.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import not_negative, positive
from splitterfem.strength.bars import BarSection
from splitterfem.strength.row import Resistance

COLUMN_SOURCE = (
    "Euler 1744 and J. B. Johnson's parabola as in Mott, Machine Elements in Mechanical Design, chapter 6"
)
SECANT_SOURCE = "secant formula, Timoshenko & Gere, Theory of Elastic Stability, section 1.13"


def bar_tension(section: BarSection, *, yield_strength: float, gamma_M0: float = 1.0) -> Resistance:
    """Yield of the plain bar, ``A f_y / gamma_M0`` (EN 1993-1-1 6.2.3), N."""
    positive("Strut", yield_strength=yield_strength, gamma_M0=gamma_M0)
    value = section.area * yield_strength / gamma_M0
    return Resistance(
        "tension, yield of the bar", value, "N", "EN 1993-1-1 6.2.3, formula from memory", "memory"
    )


def thread_tension(stress_area: float, *, ultimate_strength: float, gamma_M2: float = 1.25) -> Resistance:
    """Break of the thread, ``0.9 f_ub A_s / gamma_M2`` (EN 1993-1-8 table 3.4), N.

    Needs an engagement of at least one diameter in steel and two in aluminium (common practice, no source).

    Parameters
    ----------
    stress_area : float
        Tensile stress area, m2.
    ultimate_strength : float
        Of the bolt or rod, Pa.
    gamma_M2 : float
        Partial factor.
    """
    positive("Thread", stress_area=stress_area, ultimate_strength=ultimate_strength, gamma_M2=gamma_M2)
    value = 0.9 * ultimate_strength * stress_area / gamma_M2
    return Resistance(
        "tension of the thread", value, "N", "EN 1993-1-8 table 3.4, formula from memory", "memory"
    )


def rated(rating: float, *, what: str, factor: float, source: str = "the maker's rating") -> Resistance:
    """Rating of a part over a factor: end fitting, ball-lock pin, cable (breaking load), N.

    Parameters
    ----------
    rating : float
        Load that the maker states, N.
    what : str
        How it fails, such as "end fitting" or "break of the cable".
    factor : float
        Of safety: 1 for a rated working load, more for a breaking load.
    source : str
        Whose rating.
    """
    positive(what, rating=rating, factor=factor)
    plain = Resistance(what, rating, "N", source, "user")
    return plain if factor == 1.0 else plain.divided(factor, "factor on the rating")


def transition_slenderness(E: float, yield_strength: float) -> float:
    """Slenderness ``C_c = sqrt(2 pi^2 E / f_y)`` at which Euler's load is half the squash load."""
    positive("Strut", E=E, yield_strength=yield_strength)
    return math.sqrt(2 * math.pi**2 * E / yield_strength)


def compression(
    section: BarSection, *, length: float, E: float, yield_strength: float, length_factor: float = 1.0
) -> Resistance:
    """Buckling load of a strut, N, ultimate and without a factor.

    Euler's ``pi^2 E I / L^2`` where ``L / r`` exceeds ``C_c``, else Johnson's
    ``A f_y (1 - f_y (L / r)^2 / (4 pi^2 E))``.

    Parameters
    ----------
    section : BarSection
    length : float
        Between its joints, m.
    E, yield_strength : float
        Pa.
    length_factor : float
        Effective over real length: 1 between pins.
    """
    positive("Strut", length=length, length_factor=length_factor)
    slender = length_factor * length / section.radius_of_gyration
    limit = transition_slenderness(E, yield_strength)
    if slender > limit:
        value = math.pi**2 * E * section.area / slender**2
        mode = "buckling (Euler)"
    else:
        value = section.area * yield_strength * (1 - yield_strength * slender**2 / (4 * math.pi**2 * E))
        mode = "buckling (Johnson)"
    note = f"slenderness {slender:.0f}, transition at {limit:.0f}; no factor in it"
    return Resistance(mode, value, "N", COLUMN_SOURCE, "published", note)


def eccentric_stress(
    force: float,
    section: BarSection,
    *,
    length: float,
    E: float,
    eccentricity: float,
    length_factor: float = 1.0,
) -> float:
    """Largest compressive stress of a strut that is pushed off its axis, Pa.

    ``P / A (1 + e c / r^2 sec(L / 2r sqrt(P / E A)))``.

    Parameters
    ----------
    force : float
        Compression, positive, below Euler's load, N.
    section : BarSection
    length : float
        m.
    E : float
        Pa.
    eccentricity : float
        Of the line of force at both ends, m.
    length_factor : float
        Effective over real length.

    Raises
    ------
    DesignError
        If the force reaches Euler's load.
    """
    positive("Strut", length=length, E=E, length_factor=length_factor)
    not_negative("Strut", force=force, eccentricity=eccentricity)
    r = section.radius_of_gyration
    angle = 0.5 * length_factor * length / r * math.sqrt(force / (E * section.area))
    if angle >= 0.5 * math.pi:
        raise DesignError(
            f"The strut is pushed with {force:g} N, which is Euler's load or more; make it stiffer."
        )
    return force / section.area * (1 + eccentricity * section.half_depth / r**2 / math.cos(angle))


def eccentric_compression(
    section: BarSection,
    *,
    length: float,
    E: float,
    yield_strength: float,
    eccentricity: float,
    length_factor: float = 1.0,
) -> Resistance:
    """Load at which a strut that is pushed off its axis first yields, N, without a factor.

    Parameters are those of `eccentric_stress`; the eccentricity must be above zero.
    """
    positive("Strut", yield_strength=yield_strength, eccentricity=eccentricity)
    euler = math.pi**2 * E * section.second_moment / (length_factor * length) ** 2

    def excess(force: float) -> float:
        stress = eccentric_stress(
            force, section, length=length, E=E, eccentricity=eccentricity, length_factor=length_factor
        )
        return stress / yield_strength - 1.0

    top = min(euler * (1 - 1e-12), section.area * yield_strength)
    value = float(brentq(excess, 0.0, top, xtol=1e-9 * top))
    note = f"{1e3 * eccentricity:g} mm off the axis; no factor in it"
    return Resistance("yield in eccentric compression", value, "N", SECANT_SOURCE, "memory", note)
