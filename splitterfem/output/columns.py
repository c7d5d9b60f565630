"""Tables as lines for a terminal and as rows for JSON."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Collection, Sequence

import pandas as pd

WIDTH = 110
"""Characters of a line of sentences."""

LONGEST_RULE = 60
"""Dashes under a last column that stands to the left."""


def aligned(rows: Sequence[Sequence[str]], *, left: Collection[int] = (0,)) -> list[str]:
    """Rows as lines, a rule under the headings.

    Parameters
    ----------
    rows : sequence of sequence of str
        Headings first; all of the same length.
    left : collection of int
        Columns that stand to the left; the others stand to the right.
    """
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(
            cell.ljust(w) if i in left else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    if len(widths) - 1 in left:  # sentences may stand there
        widths[-1] = min(widths[-1], LONGEST_RULE)
    return [lines[0], "  ".join("-" * w for w in widths), *lines[1:]]


def wrapped(sentence: str, *, indent: str = "") -> list[str]:
    """Break a sentence into lines for a terminal, all but the first set in by two more places."""
    return textwrap.wrap(
        sentence,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def records(table: pd.DataFrame) -> list[dict[str, object]]:
    """Rows of a table, ready for JSON; what is not known or not finite is None."""
    known = table.astype(object).where(table.notna(), None)
    return [{str(name): _finite(value) for name, value in row.items()} for row in known.to_dict("records")]


def _finite(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value
