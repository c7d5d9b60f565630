"""Units in which pictures of a study write its figures."""

from __future__ import annotations

from dataclasses import dataclass

from splitterfem.output.wording import System, words_for
from splitterfem.units import convert

_PAIRS = (
    ("mm", "in"), ("m", "ft"), ("N", "lbf"), ("kg", "lb"), ("MPa", "psi"), ("GPa", "ksi"), ("kPa", "psf"),
    ("km/h", "mph"), ("N/mm", "lbf/in"), ("kN/mm", "lbf/in"), ("N*m", "lbf*ft"), ("kg/m^3", "lb/ft^3"),
    ("kg/m^2", "lb/ft^2"), ("mm^2", "in^2"), ("cm", "in"), ("m/s", "mph"), ("Pa", "psf"), ("kN", "lbf"),
)  # fmt: skip
"""A unit of tables and that in its place in the other system; of several the first is that for people."""

_TO: dict[System, dict[str, str]] = {
    "us": dict(_PAIRS),
    "metric": {us: metric for metric, us in reversed(_PAIRS)} | {"thou": "mm"},
}

INCHES = 3
"""Decimals of figures in inches below ten."""


@dataclass(frozen=True)
class StudyUnits:
    """Units of a picture.

    Attributes
    ----------
    system : {"metric", "us"} or None
        All figures in one system; None for the units that the tables of the study have.

    Raises
    ------
    UnitError
        If there is no such system.

    Examples
    --------
    >>> us = StudyUnits("us")
    >>> us.unit("mm"), us.figure(5.8, "mm"), us.figure(9.81, "kg"), us.figure(31.0, "Hz")
    ('in', '0.228 in', '21.6 lb', '31.0 Hz')
    """

    system: System | None = None

    def __post_init__(self) -> None:
        """Refuse systems that there are not."""
        if self.system is not None:
            words_for(self.system)

    def unit(self, unit: str) -> str:
        """Return the unit in which figures of a unit of tables are written."""
        return unit if self.system is None else _TO[self.system].get(unit, unit)

    def factor(self, unit: str) -> float:
        """Return what turns figures of a unit of tables into those of the picture."""
        shown = self.unit(unit)
        return 1.0 if shown == unit else convert(1.0 / convert(1.0, unit), shown)

    def shown(self, value: float, unit: str) -> float:
        """Turn a figure of a unit of tables into that of the picture."""
        return self.factor(unit) * value

    def number(self, value: float, unit: str) -> str:
        """Write a figure of a unit of tables without its unit, with as many places as it takes."""
        shown = self.shown(value, unit)
        if self.unit(unit) == "in" and 0.0 < abs(shown) < 10.0:
            return f"{shown:.{INCHES}f}"
        return _places(shown)

    def figure(self, value: float, unit: str) -> str:
        """Write a figure of a unit of tables with its unit."""
        return f"{self.number(value, unit)} {self.unit(unit)}".strip()


def _places(value: float) -> str:
    if value == 0.0:
        return "0"
    if abs(value) < 1e-3:
        return f"{value:.1e}"
    places = 2 if abs(value) < 10.0 else (1 if abs(value) < 1000.0 else 0)
    return f"{value:.{places if abs(value) >= 0.1 else 3}f}"
