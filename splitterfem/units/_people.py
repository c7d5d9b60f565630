"""SI values written for people: other units, rounded."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Literal

from splitterfem.errors import UnitError, nearest
from splitterfem.units._table import DIMENSIONS, factor, unit

_DIGITS = {
    "mm": 1, "cm": 2, "m": 3, "in": 2, "ft": 2, "thou": 0, "N": 0, "kN": 2, "lbf": 0, "kgf": 1,
    "km/h": 0, "mph": 0, "m/s": 1, "deg": 2, "Pa": 0, "kPa": 2, "MPa": 1, "GPa": 1, "psi": 0, "psf": 1,
    "kg": 2, "g": 2, "lb": 2, "Hz": 1, "N/mm": 0, "kN/mm": 2, "lbf/in": 0, "N*m": 1, "lbf*ft": 1, "%": 0,
}  # fmt: skip
_FOR_PEOPLE = {
    "length": ("mm", "in"),
    "angle": ("deg", "deg"),
    "speed": ("km/h", "mph"),
    "density": ("kg/m^3", "lb/ft^3"),
    "areal density": ("kg/m^2", "lb/ft^2"),
    "pressure": ("kPa", "psf"),
    "modulus": ("GPa", "ksi"),
    "force": ("N", "lbf"),
    "mass": ("kg", "lb"),
    "acceleration": ("g", "g"),
    "area": ("mm^2", "in^2"),
    "second moment": ("mm^4", "in^4"),
    "spring rate": ("N/mm", "lbf/in"),
    "moment": ("N*m", "lbf*ft"),
    "frequency": ("Hz", "Hz"),
    "time": ("s", "s"),
    "number": ("", ""),
}


def convert(value: float, to: str, *, dimension: str | None = None) -> float:
    """Return an SI value in another unit.

    Parameters
    ----------
    value : float
        SI units.
    to : str
        A unit such as ``"mm"`` or ``"lbf/in"``.
    dimension : str, optional
        Needed only where the unit alone leaves doubt ("g" is a mass unless this says "acceleration").

    Raises
    ------
    UnitError
        The unit is unknown or of another dimension.
    """
    try:
        if dimension is not None:
            return value / float(factor(to, dimension))
        powers = unit(to).powers
        return value / float(unit(to).size / _si_size(powers, to))
    except (KeyError, ValueError):
        known = [name for kind in DIMENSIONS.values() for name in kind.units if name]
        raise UnitError(f"'{to}' is not a unit to convert to; {nearest(to, known)}") from None


def _si_size(powers: tuple[tuple[str, Fraction], ...], to: str) -> Fraction:
    """Return the size of the SI unit with these powers of the root units."""
    for kind in DIMENSIONS.values():
        si = unit(kind.si)
        if si.powers == powers:
            return si.size
    raise ValueError(to)


def say(value: float, to: str, digits: int | None = None, *, dimension: str | None = None) -> str:
    """Write an SI value for people, rounded, with its unit.

    Parameters
    ----------
    value : float
        SI units.
    to : str
        Unit to show.
    digits : int, optional
        Decimals; by default what a workshop reads in that unit (mm: 1, in: 2, N: 0).

    Examples
    --------
    >>> say(0.012, "mm")
    '12.0 mm'
    >>> say(0.012, "in")
    '0.47 in'
    """
    if not math.isfinite(value):
        return "not known" if math.isnan(value) else ("unlimited" if value > 0 else "-unlimited")
    places = _DIGITS.get(to, 3) if digits is None else digits
    number = f"{convert(value, to, dimension=dimension):.{places}f}"
    if float(number) == 0.0:
        number = number.lstrip("-")
    return f"{number} {to}".strip()


def say_as(
    value: float, dimension: str, *, system: Literal["metric", "us"] = "metric", digits: int | None = None
) -> str:
    """Write an SI value for people in the usual unit of a system.

    Parameters
    ----------
    value : float
        SI units.
    dimension : str
        As in `quantity`.
    system : {"metric", "us"}
        System of units.
    digits : int, optional
        As in `say`.

    Examples
    --------
    >>> say_as(622.75, "force", system="us")
    '140 lbf'
    """
    if system not in ("metric", "us"):
        raise UnitError(f"'{system}' is not a system of units; write 'metric' or 'us'")
    to = _FOR_PEOPLE[dimension][system == "us"]
    return say(value, to, digits, dimension=dimension)
