"""Checks of plain numbers that formulas are fed with."""

from __future__ import annotations

import math

from splitterfem.errors import DesignError


def positive(what: str, /, **values: float) -> None:
    """Raise unless every value is finite and above zero.

    Parameters
    ----------
    what : str
        The thing that they belong to, for the sentence.
    **values : float
        By name.
    """
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise DesignError(f"{what}: {_words(name)} is {value:g}; give a number above zero in SI units.")


def not_negative(what: str, /, **values: float) -> None:
    """Raise unless every value is finite and zero or more."""
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0.0):
            raise DesignError(f"{what}: {_words(name)} is {value:g}; give zero or more in SI units.")


def larger(what: str, /, **pair: float) -> None:
    """Raise unless the first of two named values is larger than the second."""
    (big_name, big), (small_name, small) = pair.items()
    if not big > small:
        raise DesignError(
            f"{what}: {_words(big_name)} is {big:g} and {_words(small_name)} {small:g}; "
            f"the first must be the larger."
        )


def _words(name: str) -> str:
    return name.replace("_", " ")
