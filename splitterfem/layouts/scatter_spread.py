"""How an input scatters: normal, lognormal, uniform or triangular, in words with units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from splitterfem.errors import DesignError, nearest
from splitterfem.units import quantity

Array = NDArray[np.float64]
Kind = Literal["normal", "lognormal", "uniform", "triangular"]
KINDS: dict[str, int] = {"normal": 2, "lognormal": 2, "uniform": 2, "triangular": 3}
"""Kinds, and how many figures each takes."""

EDGE = 1e-9
"""Share of the draws on each side that a table has no room for."""


@dataclass(frozen=True)
class Spread:
    """The distribution of one input, in the unit of its column.

    Attributes
    ----------
    kind : {"normal", "lognormal", "uniform", "triangular"}
    figures : tuple of float
        Mean and standard deviation; least and greatest; or least, likeliest and greatest.
    """

    kind: Kind
    figures: tuple[float, ...]

    def at(self, shares: Array) -> Array:
        """Values (n,) below which shares (n,) of the draws lie."""
        return np.asarray(self._law.ppf(np.clip(shares, EDGE, 1.0 - EDGE)), dtype=float)

    @property
    def ends(self) -> tuple[float, float]:
        """Between which all draws lie, for all purposes."""
        low, high = self.at(np.array([0.0, 1.0]))
        return float(low), float(high)

    @property
    def middle(self) -> float:
        """Mean."""
        return float(self._law.mean())

    @property
    def _law(self) -> Any:
        if self.kind == "normal":
            mean, deviation = self.figures
            return stats.norm(mean, deviation)
        if self.kind == "lognormal":
            mean, deviation = self.figures
            square = np.log1p((deviation / mean) ** 2)
            return stats.lognorm(np.sqrt(square), scale=mean * np.exp(-0.5 * square))
        if self.kind == "uniform":
            low, high = self.figures
            return stats.uniform(low, high - low)
        low, likely, high = self.figures
        return stats.triang((likely - low) / (high - low), low, high - low)

    def words(self, unit: str) -> str:
        """Write it for people."""
        said = [f"{figure:.4g}" for figure in self.figures]
        behind = f" {unit}" if unit else ""
        if self.kind in ("normal", "lognormal"):
            return f"{self.kind}, {said[0]} ± {said[1]}{behind} (1 s)"
        return f"{self.kind}, {' to '.join(said)}{behind}"


def spread_of(given: Any, *, now: float, dimension: str, per_unit: float, name: str) -> Spread:
    """Read a distribution.

    Parameters
    ----------
    given : str, tuple or Spread
        ``"10 %"`` or ``"0.3 mm"``: normal about what the design says, with this standard deviation.  ``"± 10 %"`` or
        ``"±0.5 mm"``: uniform within.  ``("normal", deviation)`` and ``("lognormal", deviation)`` about what the design
        says, or ``("normal", mean, deviation)``; ``("uniform", least, greatest)``; ``("triangular", least, likeliest,
        greatest)``.
    now : float
        What the design says, in SI units.
    dimension : str
        Kind of quantity.
    per_unit : float
        Unit of the column in SI.
    name : str
        Of the input, for messages.

    Raises
    ------
    DesignError, UnitError
        If it cannot be read, or nothing scatters.
    """
    if isinstance(given, Spread):
        return given
    if isinstance(given, str):
        within = given.strip().startswith(("±", "+-", "+/-"))
        size = _deviation(given.strip().lstrip("±+-/ "), now, dimension, name)
        pair = (now - size, now + size) if within else (now, size)
        return _checked("uniform" if within else "normal", pair, per_unit, name)
    if not isinstance(given, Sequence) or not given or not isinstance(given[0], str):
        raise DesignError(
            f'\'{name}\' is to scatter by {given!r:.60}; write for example "10 %", "±0.5 mm" or '
            '("lognormal", "10 %").'
        )
    kind, *rest = given
    if kind not in KINDS:
        raise DesignError(f"'{name}': there is no distribution '{kind}'; {nearest(str(kind), KINDS)}")
    if kind in ("normal", "lognormal"):
        if len(rest) == 1:
            return _checked(kind, (now, _deviation(rest[0], now, dimension, name)), per_unit, name)
        if len(rest) == 2:
            mean = _value(rest[0], now, dimension, name)
            return _checked(kind, (mean, _deviation(rest[1], mean, dimension, name)), per_unit, name)
    elif len(rest) == KINDS[kind]:
        return _checked(kind, tuple(_value(one, now, dimension, name) for one in rest), per_unit, name)
    raise DesignError(
        f"'{name}': {kind} has {len(rest)} figures and needs {KINDS[kind]}: "
        + (
            "mean and standard deviation."
            if KINDS[kind] == 2 and kind != "uniform"
            else "from least to greatest."
        )
    )


def _value(given: Any, now: float, dimension: str, name: str) -> float:
    """Read a value; a percentage is one of what the design says."""
    if isinstance(given, str) and given.strip().endswith("%"):
        return now * float(quantity(given, "number", name=name))
    return float(quantity(given, dimension, name=name))


def _deviation(given: Any, middle: float, dimension: str, name: str) -> float:
    return _value(given, abs(middle), dimension, name)


def _checked(kind: Any, figures: tuple[float, ...], per_unit: float, name: str) -> Spread:
    own = tuple(float(figure) / per_unit for figure in figures)
    if kind in ("normal", "lognormal"):
        if not own[1] > 0.0:
            raise DesignError(f"'{name}' does not scatter: give a standard deviation above zero.")
        if kind == "lognormal" and not own[0] > 0.0:
            raise DesignError(f"'{name}' is lognormal about {own[0]:g}; give a mean above zero.")
    elif not (own[0] < own[-1] and list(own) == sorted(own)):
        raise DesignError(f"'{name}' scatters from {own[0]:g} to {own[-1]:g}; give the least figure first.")
    return Spread(kind, own)
