"""Which layouts are screened: given ones, or random ones that can be built."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from splitterfem.errors import DesignError, nearest
from splitterfem.layouts.candidates import Candidates

if TYPE_CHECKING:
    import pandas as pd

Layout = tuple[str, ...]

MOST_LAYOUTS = 1_000_000
"""Layouts of one screening."""

TRIES = 200
"""Random subsets that are drawn for each layout before it counts as not to be found."""


def read_layouts(candidates: Candidates, given: Iterable[Iterable[str | int]] | pd.DataFrame) -> list[Layout]:
    """Read layouts.

    Parameters
    ----------
    candidates : Candidates
    given : iterable of iterables of str or int, or DataFrame
        Names of candidates or their numbers from zero, ribs first; or a table with a column for each candidate that is
        true where the layout has it.

    Raises
    ------
    DesignError
        If a candidate is unknown or there twice, two exclude each other, or there are too many layouts.
    """
    rows: Iterable[Iterable[str | int]] = given if not hasattr(given, "columns") else _of_table(given)
    found = list[Layout]()
    for row in rows:
        if len(found) == MOST_LAYOUTS:
            raise DesignError(f"There are more than {MOST_LAYOUTS} layouts: screen them in several lots.")
        found.append(_layout(candidates, row, len(found)))
    if not found:
        raise DesignError("There is no layout to screen: give layouts, or count for random ones.")
    return found


def _of_table(table: Any) -> list[list[str]]:
    names, there = [str(column) for column in table.columns], table.to_numpy().astype(bool)
    return [[name for name, used in zip(names, row, strict=True) if used] for row in there]


def _layout(candidates: Candidates, row: Iterable[str | int], number: int) -> Layout:
    names = candidates.names
    layout = list[str]()
    for given in [row] if isinstance(row, str) else row:
        if isinstance(given, str):
            if given not in names:
                raise DesignError(
                    f"Layout {number} has no candidate '{given}' to take; {nearest(given, names)}"
                )
            layout.append(given)
        elif 0 <= given < len(names):
            layout.append(names[int(given)])
        else:
            raise DesignError(
                f"Layout {number} asks for candidate {given}: they are numbered from 0 to {len(names) - 1}."
            )
    if len(set(layout)) < len(layout):
        twice = next(name for name in layout if layout.count(name) > 1)
        raise DesignError(f"Layout {number} has '{twice}' twice: name it once.")
    pair = candidates.excluded(layout)
    if pair is not None:
        raise DesignError(
            f"Layout {number} has '{pair[0]}' and '{pair[1]}', which exclude each other: ribs that meet on one face "
            'need one of them with crossing = "notched", and of struts in one place there is one.'
        )
    return tuple(layout)


def random_layouts(
    candidates: Candidates, count: int, *, sizes: tuple[int, int] = (2, 5), seed: int = 0
) -> list[Layout]:
    """Draw layouts at random, each another, of candidates that can stand beside each other.

    Parameters
    ----------
    candidates : Candidates
    count : int
        Most of them; fewer when there are not so many.
    sizes : (int, int)
        Least and most candidates of a layout.
    seed : int

    Raises
    ------
    DesignError
        If the sizes fit no layout, or there are too many layouts.
    """
    names, (least, most) = candidates.names, sizes
    if not 1 <= least <= most or least > len(names):
        raise DesignError(
            f"Layouts of {least} to {most} candidates were asked for, of {len(names)} that there are: give sizes "
            f"from 1 to {len(names)}, the smaller first."
        )
    if not 1 <= count <= MOST_LAYOUTS:
        raise DesignError(f"{count} layouts were asked for: give a count from 1 to {MOST_LAYOUTS}.")
    rng, found, misses = np.random.default_rng(seed), dict[Layout, None](), 0
    while len(found) < count and misses < TRIES:
        size = int(rng.integers(least, min(most, len(names)) + 1))
        layout = _drawn(candidates, rng, size)
        misses = 0 if layout is not None and layout not in found else misses + 1
        if layout is not None:
            found[layout] = None
    if not found:
        raise DesignError(
            f"No layout of {least} candidates was found in which no two exclude each other: give smaller sizes, or "
            'ribs with crossing = "notched".'
        )
    return list(found)


def _drawn(candidates: Candidates, rng: np.random.Generator, size: int) -> Layout | None:
    """One random layout of a size, None when those drawn leave no room for so many."""
    chosen = list[int]()
    for number in rng.permutation(len(candidates.names)):
        name = candidates.names[number]
        if all(frozenset((name, candidates.names[other])) not in candidates.apart for other in chosen):
            chosen.append(int(number))
        if len(chosen) == size:
            return tuple(candidates.names[number] for number in sorted(chosen))
    return None


def listed(names: Sequence[str]) -> str:
    """Names as one reads them in a table."""
    return ", ".join(names) if names else "none"
