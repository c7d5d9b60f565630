"""Values of parameters as people give them, and as tables show them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np
from pydantic import BaseModel

from splitterfem.design._record import plain
from splitterfem.errors import DesignError, UnitError
from splitterfem.units import convert, quantity, unit_name, words

Cell = str | float | int | bool
"""A value as tables show it: a number in the unit of its column, a label, or a truth value."""

MOST = 10_000
"""Values of one parameter."""

_UNIT = re.compile(r"[A-Za-zµ%][A-Za-zµ%0-9^*/ ]*$")


def span_of(values: tuple[Any, ...], dimension: str | None) -> tuple[float, float, int | None, str]:
    """Read a range ``(from, to)`` or ``(from, to, steps)``.

    Returns
    -------
    low, high : float
        In the unit.
    steps : int or None
    unit : str

    Raises
    ------
    DesignError, UnitError
        If it is none.
    """
    if len(values) not in (2, 3):
        raise DesignError(
            f"the tuple {values!r:.80} is no range: write (from, to) or (from, to, steps), or a list of values"
        )
    steps = values[2] if len(values) == 3 else None
    if steps is not None and (isinstance(steps, bool) or not isinstance(steps, (int, np.integer))):
        raise DesignError(f"{steps!r:.40} is not a number of steps; write a whole number such as 5")
    if steps is not None and not 2 <= steps <= MOST:
        raise DesignError(
            f"a range of {steps} values was asked for; give 2 to {MOST}, or a list of one value"
        )
    if dimension is None:
        if not all(isinstance(end, (int, float)) and not isinstance(end, bool) for end in values[:2]):
            raise DesignError("only quantities and numbers have ranges; give a list of values")
        low, high, unit = float(values[0]), float(values[1]), ""
    else:
        unit = unit_of(values[:2], dimension)
        low, high = (_in_unit(end, dimension, unit) for end in values[:2])
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise DesignError(
            f"the range from {low:g} to {high:g} {unit} does not rise; give the lower end first"
        )
    return low, high, None if steps is None else int(steps), unit


def listed(
    values: Any, dimension: str | None, *, free: bool = False
) -> tuple[str, tuple[tuple[Cell, Any], ...]]:
    """Read a list of values, or a mapping of labels to values.

    Parameters
    ----------
    values : list, mapping or array
    dimension : str or None
        Kind of quantity of the values.
    free : bool
        Whether values may be anything, as a function takes them.

    Returns
    -------
    unit : str
    choices : tuple of (cell, given)
        What tables show, and what goes into the design, as plain data.

    Raises
    ------
    DesignError, UnitError
        If there are none, or one cannot be shown.
    """
    pairs: tuple[tuple[Cell, Any], ...]
    unit = ""
    if isinstance(values, Mapping):
        pairs = tuple((str(label), value if free else plain_value(value)) for label, value in values.items())
    else:
        given = values.tolist() if isinstance(values, np.ndarray) else values
        if not isinstance(given, (list, tuple, range)):
            raise DesignError(
                f"its values are {values!r:.60}; give a list of values, a range (from, to, steps), or a mapping of "
                "labels"
            )
        items = list(given)
        if dimension is not None and all(_scalar(item) for item in items):
            unit = unit_of(items, dimension)
            pairs = tuple((_in_unit(item, dimension, unit), _written(item, dimension)) for item in items)
        else:
            pairs = tuple((_label(item), item if free else plain_value(item)) for item in items)
    if not 1 <= len(pairs) <= MOST:
        raise DesignError(f"it has {len(pairs)} values; give 1 to {MOST}")
    cells = [(isinstance(cell, bool), cell) for cell, _ in pairs]
    twice = [cell for cell in cells if cells.count(cell) > 1] if len(pairs) < 500 else []
    if twice:
        raise DesignError(f"it has the value {twice[0][1]!r} twice; leave one out")
    return unit, pairs


def unit_of(values: Any, dimension: str) -> str:
    """Find the unit in which tables show values: that of the first text that has one, else the usual one."""
    for value in values:
        if not isinstance(value, str):
            continue
        found = _UNIT.search(value.strip())
        if found:
            try:
                return unit_name(found.group(), dimension)
            except UnitError:
                continue
        if value.strip().endswith(('"', "'")):
            return "in"
    text = words(1.0, dimension)
    return "mm" if dimension == "length" else text.lstrip("0123456789.e+- ")


def _in_unit(value: Any, dimension: str, unit: str) -> float:
    si = quantity(value, dimension, name="a value")
    return float(f"{convert(float(si), unit, dimension=dimension) if unit else float(si):.12g}")


def _written(value: Any, dimension: str) -> Any:
    """Write a quantity so that it goes into files: texts as they are, numbers in SI."""
    return value if isinstance(value, str) else float(quantity(value, dimension, name="a value"))


def _scalar(item: Any) -> bool:
    return not isinstance(item, (bool, Mapping, list, tuple, BaseModel)) and item is not None


def _label(item: Any) -> Cell:
    if isinstance(item, np.generic):
        item = item.item()
    if isinstance(item, (str, bool, int, float)):
        return item
    if isinstance(item, (list, tuple)) and item and all(_scalar(one) for one in item):
        return ", ".join(str(one) for one in item)
    raise DesignError(
        f"{item!r:.60} cannot stand in a table: give a mapping with a label for each value, such as "
        '{"1 in tube": ...}'
    )


def plain_value(value: Any) -> Any:
    """Turn what goes into a design into plain data.

    Raises
    ------
    DesignError
        If it holds something that a file cannot.
    """
    if isinstance(value, np.generic):
        return value.item()
    if value is None or isinstance(value, (str, bool, int, float)):
        return value
    if isinstance(value, BaseModel):
        return plain(value)
    if isinstance(value, Mapping):
        return {str(key): plain_value(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_value(inner) for inner in value]
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        return f"{value.magnitude!r} {value.units:~C}"
    raise DesignError(f"{value!r:.60} cannot be put into a design file; give texts, numbers and tables")


def as_text(cell: Cell, unit: str = "") -> str:
    """Write a value for people, with its unit."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.6g} {unit}".strip()
    return f"{cell} {unit}".strip()
