"""The kinds of quantity, their units, and exact conversion factors taken from pint.

Only single unit names of letters reach the registry; products and powers are put together here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import pint


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: how it is named, its SI unit, and the units that people use for it.

    Attributes
    ----------
    phrase : str
        With its article, for sentences: "a length".
    si : str
        SI unit in the grammar of this module.
    example : str
        A sensible quantity, for sentences that say what would be right.
    units : tuple of str
        Usual units; the first is preferred when a plain float is written to a file.
    """

    phrase: str
    si: str
    example: str
    units: tuple[str, ...]


_PRESSURES = ("Pa", "hPa", "kPa", "MPa", "GPa", "N/mm^2", "psi", "psf", "ksi", "Mpsi", "bar", "mbar", "inH2O")

DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension("a length", "m", "12 mm", ("mm", "m", "in", "ft", "cm", "thou", "um")),
    "angle": Dimension("an angle", "rad", "0.5 deg", ("deg", "rad", "mrad", "arcmin")),
    "speed": Dimension("a speed", "m/s", "210 km/h", ("km/h", "m/s", "mph", "kph", "ft/s", "knot")),
    "density": Dimension("a density", "kg/m^3", "680 kg/m^3", ("kg/m^3", "g/cm^3", "lb/ft^3", "pcf")),
    "areal density": Dimension(
        "a mass per area", "kg/m^2", "300 g/m^2", ("g/m^2", "kg/m^2", "gsm", "oz/yd^2", "lb/ft^2")
    ),
    "pressure": Dimension("a pressure", "Pa", "2 kPa", _PRESSURES),
    "modulus": Dimension("a modulus", "Pa", "10 GPa", ("GPa", "MPa", "Pa", "psi", "ksi", "Mpsi", "N/mm^2")),
    "force": Dimension("a force", "N", "600 N", ("N", "kN", "lbf", "kgf", "ozf", "kip")),
    "mass": Dimension("a mass", "kg", "5 kg", ("kg", "g", "lb", "oz", "t")),
    "acceleration": Dimension("an acceleration", "m/s^2", "1.5 g", ("m/s^2", "g", "ft/s^2")),
    "area": Dimension("an area", "m^2", "120 mm^2", ("mm^2", "cm^2", "m^2", "in^2", "ft^2")),
    "second moment": Dimension(
        "a second moment of area", "m^4", "5000 mm^4", ("mm^4", "cm^4", "m^4", "in^4")
    ),
    "spring rate": Dimension(
        "a spring rate", "N/m", "2 kN/mm", ("N/mm", "kN/mm", "N/m", "kN/m", "lbf/in", "kgf/mm")
    ),
    "moment": Dimension("a moment", "N*m", "20 N*m", ("N*m", "N*mm", "kN*m", "lbf*ft", "lbf*in")),
    "frequency": Dimension("a frequency", "Hz", "30 Hz", ("Hz", "kHz")),
    "time": Dimension("a time", "s", "2 s", ("s", "ms", "min", "h")),
    "number": Dimension("a plain number", "", "0.8", ("", "%")),
}

_FACTOR = r"(?:(?:in|mm)H2O|[A-Za-z_µ%]+)(?:\^[+-]?[0-9]|[0-9])?"
EXPRESSION = re.compile(rf"{_FACTOR}(?: *[*/] *{_FACTOR})*")
_PARTS = re.compile(r"([*/]?) *((?:in|mm)H2O|[A-Za-z_µ%]+)(?:\^?([+-]?[0-9]))?")
MARKS = {"'": "ft", '"': "in", "%": "percent", "inH2O": "inch_of_water", "mmH2O": "millimetre_of_water"}


class Unit(NamedTuple):
    """Size of a unit in root units, and the powers of those root units."""

    size: Fraction
    powers: tuple[tuple[str, Fraction], ...]


@cache
def registry() -> pint.UnitRegistry:
    """Return the unit registry, made on first use because that takes a fifth of a second."""
    import pint

    made: pint.UnitRegistry = pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)
    for definition in (
        "psf = lbf / ft ** 2",
        "pcf = lb / ft ** 3",
        "gsm = gram / meter ** 2",
        "millimetre_of_water = kgf / meter ** 2",  # conventional, NIST SP 811
        "inch_of_water = 25.4 * millimetre_of_water",
    ):
        made.define(definition)
    return made


@lru_cache(maxsize=256)
def _named(name: str) -> Unit:
    """Look one unit name up; raises KeyError when there is no such unit."""
    made = registry()
    try:
        size, root = made.get_root_units(MARKS.get(name, name))
        powers = dict(made.Quantity(1, root).unit_items())
    except Exception as problem:  # the registry raises many kinds for names that it does not know
        raise KeyError(name) from problem
    return Unit(Fraction(size), tuple(sorted((str(k), Fraction(v)) for k, v in powers.items())))


@lru_cache(maxsize=256)
def unit(expression: str) -> Unit:
    """Return size and powers of a unit expression such as ``kg/m^3``.

    Parameters
    ----------
    expression : str
        Names joined by ``*`` and ``/``, each with an optional one-digit power; empty for a plain number.

    Raises
    ------
    KeyError
        With the name that is not a unit, or the expression when it is not one.
    """
    size, powers = Fraction(1), dict[str, Fraction]()
    if expression and not EXPRESSION.fullmatch(expression):
        raise KeyError(expression)
    for sign, name, power in _PARTS.findall(expression):
        times = int(power or 1) * (-1 if sign == "/" else 1)
        part = _named(name)
        size *= part.size**times
        for root, root_power in part.powers:
            powers[root] = powers.get(root, Fraction(0)) + root_power * times
    return Unit(size, tuple(sorted((k, v) for k, v in powers.items() if v)))


def factor(expression: str, dimension: str) -> Fraction:
    """Return how many SI units one unit of ``expression`` is.

    Raises
    ------
    KeyError
        The expression is not a unit.
    ValueError
        It is a unit of another dimension.
    """
    wanted = unit(DIMENSIONS[dimension].si)
    if dimension == "acceleration" and expression == "g":
        expression = "standard_gravity"
    found = unit(expression)
    if found.powers != wanted.powers:
        raise ValueError(expression)
    return found.size / wanted.size


def is_unit_of(expression: str, dimension: str) -> bool:
    """Tell whether an expression is a unit of a dimension."""
    try:
        factor(expression, dimension)
    except (KeyError, ValueError):
        return False
    return True
