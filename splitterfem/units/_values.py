"""Quantities as SI floats that may remember their words."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from numbers import Real
from typing import Any

from splitterfem.errors import UnitError, nearest
from splitterfem.units._table import DIMENSIONS, factor, is_unit_of, unit
from splitterfem.units._text import LONGEST, read, shown

_FEW = 7
"""Characters of a number that is good enough to write in the preferred unit."""


class Written(float):
    """A float in SI units that remembers the words in which it was written.

    Equality, hashing and arithmetic are those of the float; the result of arithmetic is a plain float.

    Attributes
    ----------
    words : str
        As found, so that a file survives a round trip unchanged.
    dimension : str
        Kind of quantity, a key such as "length".
    """

    __slots__ = ("dimension", "words")
    words: str
    dimension: str

    def __new__(cls, value: float, words: str, dimension: str) -> Written:
        """Make a float of ``value`` (SI) with its words."""
        made = super().__new__(cls, value)
        made.words = words
        made.dimension = dimension
        return made

    def __reduce__(self) -> tuple[type[Written], tuple[float, str, str]]:
        """Pickle and copy with the words."""
        return type(self), (float(self), self.words, self.dimension)


def quantity(given: object, dimension: str, *, name: str = "quantity") -> float:
    """Turn a text, a number or a pint quantity into an SI float.

    Parameters
    ----------
    given : str, number or pint quantity
        ``"12 mm"``, ``0.012`` (SI: m, N, Pa, kg, s, rad) or a quantity of any pint registry.
    dimension : str
        "length", "angle", "speed", "density", "areal density", "pressure", "modulus", "force", "mass",
        "acceleration", "area", "second moment", "spring rate", "moment", "frequency", "time" or "number".
    name : str
        What the quantity is called, for the sentence of an error.

    Returns
    -------
    float
        In SI units; a `Written` when a text was given.

    Raises
    ------
    UnitError
        One sentence: no unit, a unit of another dimension, a comma, an ambiguous unit, not finite.

    Examples
    --------
    >>> quantity("1/2 in", "length", name="thickness")
    0.0127
    """
    if dimension not in DIMENSIONS:
        raise UnitError(f"'{dimension}' is not a kind of quantity; {nearest(dimension, DIMENSIONS)}")
    try:
        return read_any(given, dimension)
    except UnitError as problem:
        raise UnitError(f"{name}: {problem}") from None


def read_any(given: object, dimension: str) -> float:
    """Do the work of `quantity`, with sentences that do not name the field."""
    kind = DIMENSIONS[dimension]
    if isinstance(given, Written):
        if DIMENSIONS[given.dimension].si != kind.si:
            raise UnitError(
                f"{shown(given.words)} is {DIMENSIONS[given.dimension].phrase}, not {kind.phrase}; "
                f'write for example "{kind.example}"'
            )
        return given
    if isinstance(given, str):
        return Written(_finite(read(given, dimension), given, dimension), given, dimension)
    if isinstance(given, (Real, Decimal)) and not isinstance(given, bool):
        return _finite(given, given, dimension)
    if hasattr(given, "magnitude") and hasattr(given, "dimensionality"):
        return _finite(_of_pint(given, dimension), given, dimension)
    raise UnitError(
        f"{shown(given)} ({type(given).__name__}) is not {kind.phrase}; "
        f'write a text such as "{kind.example}" or a number in SI units ({kind.si or "no unit"})'
    )


def _finite(value: Any, given: object, dimension: str) -> float:
    """Round to a float and refuse what is not finite."""
    try:
        rounded = float(value)
    except (OverflowError, ValueError):
        rounded = math.inf
    if not math.isfinite(rounded):
        raise UnitError(
            f'{shown(given)} is not a finite number; write for example "{DIMENSIONS[dimension].example}"'
        )
    return rounded


def _of_pint(given: Any, dimension: str) -> Any:
    """Convert a quantity of any pint registry to an SI magnitude."""
    kind = DIMENSIONS[dimension]
    try:
        root = given.to_root_units()
        powers = tuple(sorted((str(k), Fraction(v).limit_denominator(12)) for k, v in root.unit_items()))
        if powers != unit(kind.si).powers or getattr(root.magnitude, "ndim", 0) != 0:
            raise ValueError
        return root.magnitude / unit(kind.si).size if unit(kind.si).size != 1 else root.magnitude
    except Exception:
        raise UnitError(f'{shown(given)} is not {kind.phrase}; write for example "{kind.example}"') from None


def words(value: float, dimension: str) -> str:
    """Write an SI value for a file: its own words, or the shortest that read back as the same float.

    Parameters
    ----------
    value : float
        SI units, finite.
    dimension : str
        As in `quantity`.

    Returns
    -------
    str
        For example ``"12 mm"`` for 0.012 as a length.
    """
    if isinstance(value, Written):
        return value.words
    kind = DIMENSIONS[dimension]
    texts = []
    for expression in kind.units:
        try:
            number = repr(float(Fraction(value) / factor(expression, dimension))).removesuffix(".0")
        except OverflowError:
            continue
        text = f"{number} {expression}".strip()
        if expression != "%" and float(read(text, dimension)) == value:
            if len(number) <= _FEW:
                return text
            texts.append(text)
    return min(texts, key=len, default=f"{value!r} {kind.si}".strip())


def unit_name(text: str, dimension: str) -> str:
    """Return a unit as written, after checking that it is one of a dimension.

    Raises
    ------
    UnitError
        It is unknown or of another dimension; the nearest name is given.
    """
    plain = text.strip()
    if not is_unit_of(plain, dimension) or not plain or len(plain) > LONGEST:
        kind = DIMENSIONS[dimension]
        hint = nearest(plain[:LONGEST], [name for name in kind.units if name])
        raise UnitError(f"{shown(text)} is not a unit of {kind.phrase.split(' ', 1)[1]}; {hint}")
    return plain
