"""SI values written for people in one of two systems of units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from splitterfem.errors import UnitError, nearest
from splitterfem.output.style import LengthUnit
from splitterfem.units import convert, say

System = Literal["metric", "us"]


@dataclass(frozen=True)
class Words:
    """Units for people and how many decimals they get.

    Attributes
    ----------
    system : {"metric", "us"}
    size, force, mass, moment, stress, speed, density : str
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
        text = say(value, unit, digits)
        for plain, typeset in ((" deg", "°"), ("^2", "²"), ("^3", "³"), ("*", " ")):
            text = text.replace(plain, typeset)
        return text


_SYSTEMS = {
    "metric": Words("metric", "mm", "N", "kg", "N*m", "MPa", "km/h", "kg/m^3"),
    "us": Words("us", "in", "lbf", "lb", "lbf*ft", "psi", "mph", "lb/ft^3"),
}


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
