"""Pressure of a measured map at another gap than that at which it was measured.

Net pressure at the gap h: ``dp = dp_ref (h_ref / h)^n``, with h_ref the static gap at the same place when the map was
measured and n given by the user.  Neither gap counts as less than the choking one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from splitterfem.aero import SourceField
from splitterfem.aero.gap_steps import CHOKE_BLEND, soft_floor
from splitterfem.aero.overlap import Area, Sampling, area_of, together
from splitterfem.aero.pressure_map import Marks
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.pressure import Adjusted
from splitterfem.errors import DesignError
from splitterfem.model.clearance import clearance_datum
from splitterfem.model.gaplaw import CHORD

Array = NDArray[np.float64]

CHOKED = 0.010
"""No gap counts as less than this, in m: that at which the flow of the gap law chokes; judgement."""

FAR = 0.6
"""Gap over that of the map below which, and above the inverse of which, the exponent is extrapolated far; judgement."""

BEND = 0.05
"""Change of the ratio's logarithm over which the sampling of a map takes it for a polynomial."""


def counted(gap: ArrayLike) -> tuple[Array, Array]:
    """Gap that counts for one in m, held above the choking gap with a rounded corner, and its derivative."""
    return soft_floor(np.asarray(gap, dtype=np.float64), CHOKED, CHOKE_BLEND)


@dataclass(frozen=True)
class GapRule:
    """How the pressure of a map follows the gap in a load case.

    Attributes
    ----------
    exponent : float
    static, measured : callable
        Static gap in m of the case, and that when the map was measured, as functions of x in m.
    moved : bool
        Whether these two differ by what the map says.
    """

    exponent: float
    static: Callable[[Array], Array]
    measured: Callable[[Array], Array]
    moved: bool

    def at_rest(self, x: ArrayLike) -> Array:
        """Pressure in the static gap of the case over that of the map at x in m."""
        at = np.asarray(x, dtype=np.float64)
        ratio = counted(self.measured(at))[0] / counted(self.static(at))[0]
        return np.asarray(ratio**self.exponent)

    def share(self, x: Array, w: Array | float = 0.0) -> Array:
        """Gap over that of the map at x in m with the panel deflected by w in m, up; both as they count."""
        return np.asarray(counted(self.static(x) + w)[0] / counted(self.measured(x))[0])


def gap_rule(splitter: Splitter, case: LoadCase, pressure: Adjusted) -> GapRule | None:
    """How the pressure of a case's map follows the gap; None when it does not.

    Raises
    ------
    DesignError
        If the panel would stand in the ground where the map was measured.
    """
    if pressure.gap_exponent == 0.0:
        return None
    stand = {"ride_height": pressure.map_ride_height, "rake": pressure.map_rake}
    given = {name: value for name, value in stand.items() if value is not None}
    static = clearance_datum(splitter, case)
    measured = clearance_datum(splitter, case.with_(**given)) if given else static
    if given:
        x0, _, x1, _ = splitter.panel.polygon(CHORD).bounds
        lowest = x0 if measured(np.array(x0)) < measured(np.array(x1)) else x1
        if measured(np.array(lowest)) <= 0.0:
            raise DesignError(
                f"Load case '{case.name}', pressure map: {' and '.join(f'map_{name}' for name in given)} would put "
                f"the panel into the ground at x = {1e3 * lowest:.1f} mm; check them."
            )
    return GapRule(float(pressure.gap_exponent), static, measured, bool(given))


@dataclass(frozen=True)
class MovedMap:
    """A map brought from the stand at which it was measured to that of a load case.

    Parameters
    ----------
    field : SourceField
        As measured, Pa.
    rule : GapRule
    """

    field: SourceField
    rule: GapRule

    def at(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Net pressure at points (m), Pa."""
        return np.asarray(self.field.at(x, y) * self.rule.at_rest(x))

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
        """Whether the points (m) lie where nothing was measured."""
        return self.field.extrapolated(x, y)

    def sampling(self, area: Area) -> Sampling:
        """Quadrature over an area (m): that of the map, on bands across the car where the ratio bends."""
        x0, y0, x1, y1 = area.bounds
        path = np.log(self.rule.at_rest(np.linspace(x0, x1, 100)))
        bands = 1 + int(np.abs(np.diff(path)).sum() / BEND)
        edges = np.linspace(x0, x1, bands + 1)
        pieces = [
            area_of(shapely.intersection(area, shapely.box(back, y0, front, y1)))
            for back, front in pairwise(edges)
        ]
        samples = together([self.field.sampling(piece) for piece in (pieces if bands > 1 else [area])])
        return samples.times(self.rule.at_rest(samples.points[:, 0]))

    def covered(self, area: Area) -> Area:
        """Part of an area (m) on which the map was measured."""
        return self.field.covered(area)

    def marks(self) -> Marks:
        """Places where single values were measured."""
        return self.field.marks()

    def scaled(self, factor: float) -> MovedMap:
        """Return the map times ``factor``."""
        return MovedMap(self.field.scaled(factor), self.rule)


def moved_words(splitter: Splitter, case: LoadCase) -> list[str]:
    """Say by how much a map was changed for the static stand of its load case; nothing when it was not."""
    pressure = case.pressure
    rule = gap_rule(splitter, case, pressure) if isinstance(pressure, Adjusted) else None
    if rule is None or not rule.moved:
        return []
    x0, _, x1, _ = splitter.panel.polygon(CHORD).bounds
    x = np.linspace(x0, x1, 100)
    ratio = rule.at_rest(x)
    low, high = f"{ratio.min():.2f}", f"{ratio.max():.2f}"
    span = low if low == high else f"{low} to {high}"
    words = [
        f"The pressure map of load case '{case.name}' was measured at another stand of the car: it is multiplied by "
        f"{span} for the gap in this case (gap_exponent {rule.exponent:g})."
    ]
    return words + far_words(case.name, x, np.full(100, np.nan), rule.share(x))


def far_words(case: str, x: Array, y: Array, share: Array) -> list[str]:
    """Say where gaps are so far from those of the map that the exponent is a long extrapolation.

    Parameters
    ----------
    case : str
        Name of the load case.
    x, y : ndarray, shape (n,)
        Places in m; y may be nan where only x matters.
    share : ndarray, shape (n,)
        Gap over that of the map.
    """
    found = []
    for i, off in ((int(share.argmin()), share.min() < FAR), (int(share.argmax()), share.max() > 1.0 / FAR)):
        if off:
            place = f"x {1e3 * x[i]:.0f} mm" + ("" if np.isnan(y[i]) else f", y {1e3 * y[i]:.0f} mm")
            found.append(
                f"The gap of load case '{case}' is {100.0 * share[i]:.0f} % of that of its pressure map at {place}: "
                f"outside {100.0 * FAR:.0f} to {100.0 / FAR:.0f} % (judgement) the gap_exponent is "
                "extrapolated far."
            )
    return found
