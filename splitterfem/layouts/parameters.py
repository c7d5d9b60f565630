"""What a study may change, and to what: parameters and their values."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from splitterfem.design import Splitter
from splitterfem.errors import DesignError, SplitterError, nearest
from splitterfem.layouts.cells import Cell, listed, span_of
from splitterfem.layouts.ways import ByFunction, Presence, Way, way_from, way_of

CLOSE = 1e-9
"""Relative difference up to which two numbers of a table are the same."""


@dataclass(frozen=True, eq=False)
class Parameter:
    """Something that a study changes, with the values that it may have.

    Attributes
    ----------
    name : str
    way : AtPaths, Move, Presence or ByFunction
        How it changes a design.
    unit : str
        Of its values in tables; empty when they are no quantities.
    choices : tuple of (cell, given)
        What tables show, and what is put into a design; empty for a range.
    span : tuple of float or None
        Ends of a range in `unit`.
    steps : int or None
        Values of a range, both ends included; None when it is continuous.
    """

    name: str
    way: Way
    unit: str = ""
    choices: tuple[tuple[Cell, Any], ...] = ()
    span: tuple[float, float] | None = None
    steps: int | None = None

    @property
    def column(self) -> str:
        """Its column in tables, with the unit."""
        return f"{self.name} {self.unit}".strip()

    @property
    def cells(self) -> tuple[Cell, ...]:
        """All its values as tables show them.

        Raises
        ------
        DesignError
            If it is a range without steps.
        """
        if self.span is None:
            return tuple(cell for cell, _ in self.choices)
        if self.steps is None:
            raise DesignError(
                f"'{self.name}' is a range without steps: give the number of values as well, such as "
                f'("{self.span[0]:g} {self.unit}", "{self.span[1]:g} {self.unit}", 5).'
            )
        return tuple(self.cell_at(float(value)) for value in np.linspace(*self.span, self.steps))

    @property
    def continuous(self) -> bool:
        """Whether any value of a range will do."""
        return self.span is not None and self.steps is None

    @property
    def numeric(self) -> bool:
        """Whether all values are numbers."""
        return self.span is not None or all(
            isinstance(cell, (int, float)) and not isinstance(cell, bool) for cell, _ in self.choices
        )

    def cell_at(self, value: float) -> float:
        """Round a number within the range to a millionth of it, as tables show it."""
        assert self.span is not None
        low, high = self.span
        places = 6 - math.floor(math.log10(high - low))
        return min(max(round(value, places), low), high)

    def given(self, cell: Cell) -> Any:
        """Find what to put into a design for a value as a table shows it.

        Raises
        ------
        DesignError
            If it is none of the values.
        """
        if self.span is not None:
            return self._in_span(cell)
        for known, given in self.choices:
            if _same(known, cell):
                return given
        raise DesignError(
            f"'{self.name}' cannot be {cell!r}; {nearest(str(cell), (str(k) for k, _ in self.choices))}"
        )

    def _in_span(self, cell: Cell) -> Any:
        assert self.span is not None
        number = isinstance(cell, (int, float)) and not isinstance(cell, bool)
        slack = CLOSE * max(abs(end) for end in self.span)
        if not number or not self.span[0] - slack <= cell <= self.span[1] + slack:  # type: ignore[operator]
            raise DesignError(
                f"'{self.name}' cannot be {cell!r}: give a number from {self.span[0]:g} to {self.span[1]:g} "
                f"{self.unit}."
            )
        return f"{float(cell)!r} {self.unit}".strip() if self.unit else float(cell)

    def spec(self) -> dict[str, object]:
        """Write as plain data, for files and other processes.

        Raises
        ------
        DesignError
            If it changes the design by a Python function.
        """
        found: dict[str, object] = {"name": self.name, **self.way.spec(), "unit": self.unit}
        if self.span is not None:
            return found | {"from": self.span[0], "to": self.span[1], "steps": self.steps}
        return found | {"choices": [[cell, given] for cell, given in self.choices]}

    @staticmethod
    def from_spec(spec: Mapping[str, Any]) -> Parameter:
        """Read from plain data."""
        way, name, unit = way_from(spec), str(spec["name"]), str(spec["unit"])
        if "from" in spec:
            return Parameter(name, way, unit, span=(spec["from"], spec["to"]), steps=spec["steps"])
        return Parameter(name, way, unit, choices=tuple((cell, given) for cell, given in spec["choices"]))


def parameter(base: Splitter, key: Any, values: Any = None, *, name: str | None = None) -> Parameter:
    """Say what may change, and to what.

    Parameters
    ----------
    base : Splitter
        What is changed; the kind and the unit of the values come from it.
    key : str, tuple or callable
        See :func:`splitterfem.layouts.ways.way_of`.
    values : tuple, list, mapping or array
        A tuple ``(from, to)`` is a range, ``(from, to, steps)`` that many values of it; a list has the values
        themselves; a mapping gives each value a label.  Left out for a part that is there or not.
    name : str, optional
        Of the parameter in tables.

    Raises
    ------
    DesignError
        If the place or a value is none, or there are no values.
    """
    way = key.way if isinstance(key, Parameter) else way_of(key)
    label = name or way.name
    try:
        dimension = way.dimension(base)
        if isinstance(way, Presence):
            return Parameter(label, way, choices=_presence(values))
        if isinstance(values, tuple) and not isinstance(way, ByFunction):
            low, high, steps, unit = span_of(values, dimension)
            return Parameter(label, way, unit, span=(low, high), steps=steps)
        unit, choices = listed(values, dimension, free=isinstance(way, ByFunction))
    except SplitterError as problem:
        raise DesignError(f"Study parameter '{label}': {problem}") from None
    return Parameter(label, way, unit, choices=choices)


def parameters(base: Splitter, changes: Mapping[Any, Any] | Iterable[Parameter]) -> tuple[Parameter, ...]:
    """Read all that a study changes.

    Parameters
    ----------
    base : Splitter
    changes : mapping, or parameters
        Values by what they change, see `parameter`; or parameters that are made already.

    Raises
    ------
    DesignError
        If there are none, or two have one name.
    """
    if isinstance(changes, Mapping):
        found = tuple(parameter(base, key, values) for key, values in changes.items())
    else:
        found = tuple(changes)
    for one in found:
        if not isinstance(one, Parameter):
            raise DesignError(
                f"A study is to change {one!r:.60}; give a mapping of places and values, or parameters."
            )
    if not found:
        raise DesignError("A study needs something that it changes; give at least one parameter.")
    columns = [one.column for one in found]
    for column in columns:
        if columns.count(column) > 1:
            raise DesignError(
                f"Two parameters of a study are called '{column}'; give each a name of its own."
            )
    return found


def _presence(values: Any) -> tuple[tuple[Cell, Any], ...]:
    chosen = [True, False] if values is None else list(values)
    if not chosen or any(not isinstance(value, bool) for value in chosen):
        raise DesignError("a part is there or not: give [True, False], or leave the values out")
    return tuple((value, value) for value in dict.fromkeys(chosen))


def _same(a: Cell, b: Cell) -> bool:
    if isinstance(a, (bool, np.bool_)) or isinstance(b, (bool, np.bool_)):
        return isinstance(a, (bool, np.bool_)) and isinstance(b, (bool, np.bool_)) and bool(a) == bool(b)
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return math.isclose(a, b, rel_tol=CLOSE, abs_tol=1e-12)
    return a == b
