"""SI values written for people in one of two systems of units."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from splitterfem.errors import UnitError, nearest
from splitterfem.output.style import LengthUnit
from splitterfem.strength.row import PEOPLE
from splitterfem.units import convert, say

if TYPE_CHECKING:
    from splitterfem.design import Splitter

System = Literal["metric", "us"]


@dataclass(frozen=True)
class Words:
    """Units for people and how many decimals they get.

    Attributes
    ----------
    system : {"metric", "us"}
    size, force, mass, moment, stress, speed, density, line_load, area : str
        Units.
    """

    system: System
    size: LengthUnit
    force: str
    mass: str
    moment: str
    stress: str
    speed: str
    density: str
    line_load: str
    area: str

    def number(self, value: float, unit: str, digits: int, *, dimension: str | None = None) -> str:
        """Write a value without its unit, never as a negative zero."""
        text = f"{convert(value, unit, dimension=dimension):.{digits}f}"
        return text.lstrip("-") if float(text) == 0.0 else text

    def sag(self, metres: float) -> str:
        """Write a sag or a gap, without its unit."""
        return self.number(metres, self.size, 1 if self.size == "mm" else 3)

    def place(self, at: tuple[float, float]) -> str:
        """Write a place x, y, without unit."""
        return ", ".join(self.number(c, self.size, 0 if self.size == "mm" else 1) for c in at)

    def with_unit(self, value: float, unit: str, digits: int | None = None) -> str:
        """Write a value with its unit."""
        return _typeset(say(value, unit, digits))

    def of_table(self, value: float, unit: str) -> str:
        """Write a demand or an allowable of a utilisation table with its unit, to three figures; - for nothing.

        Parameters
        ----------
        value : float
            In the unit of its row.
        unit : str
            As the table has it: N, MPa, N m, N/mm, mm, or - for a sum of ratios.
        """
        if unit == "-" or not math.isfinite(value):
            return "-"
        to = {
            "N": self.force,
            "MPa": self.stress,
            "N m": self.moment,
            "N/mm": self.line_load,
            "mm": self.size,
        }[unit]
        return _typeset(f"{three_figures(convert(value * _SI[unit], to))} {to}")


_SI = {unit: 1.0 / factor for factor, unit in PEOPLE.values()}
"""What the units of a utilisation table are in SI."""


def three_figures(value: float) -> str:
    """Write a number to three figures, with no more than three decimals.

    Examples
    --------
    >>> three_figures(7874.9), three_figures(14.507), three_figures(0.29671), three_figures(1e-9)
    ('7870', '14.5', '0.297', '0')
    """
    if abs(value) < 5e-4:
        return "0"
    places = 2 - math.floor(math.log10(abs(value)))
    return f"{round(value, places):.{min(max(places, 0), 3)}f}"


def ratio_words(ratio: float) -> str:
    """Write a utilisation to two decimals; what is above the limit never looks like the limit.

    Examples
    --------
    >>> ratio_words(0.2487), ratio_words(1.0), ratio_words(1.001), ratio_words(float("nan"))
    ('0.25', '1.00', '1.01', '-')
    """
    if math.isnan(ratio):
        return "-"
    return f"{max(ratio, 1.01) if ratio > 1.0 else ratio:.2f}"


def _typeset(text: str) -> str:
    for plain, typeset in ((" deg", "°"), ("^2", "²"), ("^3", "³"), ("*", " ")):
        text = text.replace(plain, typeset)
    return text


_SYSTEMS = {
    "metric": Words("metric", "mm", "N", "kg", "N*m", "MPa", "km/h", "kg/m^3", "N/mm", "m^2"),
    "us": Words("us", "in", "lbf", "lb", "lbf*ft", "psi", "mph", "lb/ft^3", "lbf/in", "ft^2"),
}


def invented_mark(design: Splitter) -> str:
    """Write what stands behind the name of a design that is made up; nothing behind others."""
    return " (invented data)" if design.invented else ""


def words_for(system: str) -> Words:
    """Units of a system by its name.

    Raises
    ------
    UnitError
        It is neither metric nor us.
    """
    if system not in _SYSTEMS:
        raise UnitError(f"'{system}' is not a system of units; {nearest(system, _SYSTEMS)}")
    return _SYSTEMS[system]
