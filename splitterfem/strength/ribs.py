"""Ribs: stress of the extreme fibre and local buckling of flat walls in compression."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Basis, Check, Resistance, joined

Edge = Literal["both", "one"]

BUCKLING = {"both": 4.0, "one": 0.43}
"""Buckling factor of a long flat wall in even compression, held along both edges or along one."""

PLATE_SOURCE = "EN 1993-1-5 4.4 (Winter); Bryan 1891"


def fibre_strength(yield_strength: float, *, factor: float, basis: Basis) -> Resistance:
    """Yield strength of a rib over a factor, Pa.

    Parameters
    ----------
    yield_strength : float
        Pa.
    factor : float
        Of safety on yield: 1.5 for air at top speed (common practice, no source).
    basis : str
        How well the yield strength is known.
    """
    positive("Rib", yield_strength=yield_strength, factor=factor)
    found = Resistance(
        "stress of the extreme fibre", yield_strength, "Pa", "yield strength of the rib", basis
    )
    return found if factor == 1.0 else found.divided(factor, "factor on yield")


def plate_buckling_stress(
    width: float, *, thickness: float, E: float, nu: float, edges: Edge = "both"
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
    """
    positive("Wall of the rib", width=width, thickness=thickness, E=E)
    return BUCKLING[edges] * math.pi**2 * E / (12 * (1 - nu**2)) * (thickness / width) ** 2


def wall_reduction(slenderness: float, edges: Edge = "both") -> float:
    """Effective over full width of a compressed wall (EN 1993-1-5 4.4, even compression).

    ``(s - 0.22) / s^2`` above 0.673 held along both edges, ``(s - 0.188) / s^2`` above 0.748 along one.

    Parameters
    ----------
    slenderness : float
        ``sqrt(f_y / sigma_cr)``.
    edges : {"both", "one"}
        Along which it is held.
    """
    positive("Wall of the rib", slenderness=slenderness)
    limit, offset = (0.673, 0.22) if edges == "both" else (0.748, 0.188)
    return 1.0 if slenderness <= limit else min(1.0, (slenderness - offset) / slenderness**2)


def wall_strength(
    width: float,
    *,
    thickness: float,
    E: float,
    nu: float,
    yield_strength: float,
    factor: float,
    edges: Edge = "both",
) -> Resistance:
    """Mean compressive stress that a flat wall of a rib stands, Pa.

    Yield times the reduction of `wall_reduction`, a rule for steel applied to the metal at hand, over the factor.

    Parameters
    ----------
    width, thickness, E, nu, edges
        See `plate_buckling_stress`.
    yield_strength : float
        Pa.
    factor : float
        Of safety.
    """
    positive("Wall of the rib", yield_strength=yield_strength, factor=factor)
    critical = plate_buckling_stress(width, thickness=thickness, E=E, nu=nu, edges=edges)
    slender = math.sqrt(yield_strength / critical)
    reduction = wall_reduction(slender, edges)
    stocky = "" if reduction < 1 else "stocky: yield governs"
    note = joined(f"slenderness {slender:.2f}, reduction {reduction:.2f}", stocky)
    found = Resistance(
        "local buckling of the wall", reduction * yield_strength, "Pa", PLATE_SOURCE, "published", note
    )
    return found if factor == 1.0 else found.divided(factor, "factor")


def worst_along(
    stress: ArrayLike,
    resistance: Resistance,
    *,
    part: str,
    x: ArrayLike,
    y: ArrayLike,
    load_factor: float = 1.0,
    only_compression: bool = False,
) -> Check:
    """Check of the station along a rib where the stress is largest.

    Parameters
    ----------
    stress : array_like, shape (n,)
        Tension positive, Pa.
    resistance : Resistance
        In Pa.
    part : str
        Name of the rib.
    x, y : array_like, shape (n,)
        Stations, m.
    load_factor : float
        Multiplies the stress.
    only_compression : bool
        Leave tension out, as for buckling.

    Raises
    ------
    DesignError
        If there is no station or a stress is not finite.
    """
    values = np.asarray(stress, dtype=np.float64)
    if values.size == 0 or not np.all(np.isfinite(values)):
        raise DesignError(
            f"The rib {part} has no stress or one that is not finite; give one for each station."
        )
    acting = np.maximum(-values, 0.0) if only_compression else np.abs(values)
    i = int(np.argmax(acting))
    place = (float(np.asarray(x, dtype=np.float64)[i]), float(np.asarray(y, dtype=np.float64)[i]))
    return resistance.check(
        float(acting[i]), part=part, kind="rib", x=place[0], y=place[1], load_factor=load_factor
    )
