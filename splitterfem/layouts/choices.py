"""A layout as one choice of all parameters of a study, and all combinations of their values."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any, Literal

from splitterfem.design import Splitter
from splitterfem.design.draft import Draft
from splitterfem.errors import DesignError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.ways import ByFunction, Presence


@dataclass(frozen=True, eq=False)
class Layout:
    """One choice of all parameters of a study.

    Attributes
    ----------
    base : Splitter
    parameters : tuple of Parameter
    cells : tuple
        A value for each parameter, as tables show it.
    """

    base: Splitter
    parameters: tuple[Parameter, ...]
    cells: tuple[Cell, ...]

    @cached_property
    def absent(self) -> frozenset[str]:
        """Names of the parts that are left out."""
        return frozenset(
            one.way.part
            for one, cell in zip(self.parameters, self.cells, strict=True)
            if isinstance(one.way, Presence) and cell is False
        )

    @property
    def key(self) -> tuple[Cell | Literal["-"], ...]:
        """Values by which two layouts are the same: those of parts that are left out do not count."""
        return tuple(
            "-" if one.way.idle(self.absent) else cell
            for one, cell in zip(self.parameters, self.cells, strict=True)
        )

    def design(self) -> Splitter:
        """Make the design, validated as a whole.

        Raises
        ------
        DesignError
            If it cannot be built.
        """
        draft = Draft(self.base)
        self._apply(draft)
        for name in sorted(self.absent):
            draft.remove(name)
        made = draft.design()
        for one, cell in zip(self.parameters, self.cells, strict=True):
            if isinstance(one.way, ByFunction):
                made = one.way.call(made, one.given(cell))
        if not isinstance(made, Splitter):
            raise DesignError(
                f"The function of a study gave {type(made).__name__} and not a splitter; let it return one."
            )
        return made

    def _apply(self, draft: Draft) -> None:
        """Make the changes; one that does not fit yet waits for the others."""
        waiting = [(one, one.given(cell)) for one, cell in zip(self.parameters, self.cells, strict=True)]
        while waiting:
            refused: list[tuple[Parameter, Any]] = []
            for one, given in waiting:
                try:
                    one.way.apply(draft, given, self.absent)
                except DesignError as problem:
                    refused.append((one, given))
                    reason = problem
            if len(refused) == len(waiting):
                raise reason
            waiting = refused


def grid(chosen: Sequence[Parameter], *, most: int) -> list[tuple[Cell, ...]]:
    """List all combinations of values; the last parameter changes fastest.

    Raises
    ------
    DesignError
        If there are more than `most`.
    """
    axes = [one.cells for one in chosen]
    count = math.prod(len(axis) for axis in axes)
    if count > most:
        raise DesignError(
            f"The grid has {count} layouts, more than {most}: give fewer values, or take a search."
        )
    return list(product(*axes))
