"""Ribs: stress of the extreme fibre. Buckling of their walls is in `splitterfem.strength.walls`."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Basis, Check, Resistance


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
