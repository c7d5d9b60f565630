"""Tables as comma-separated values: no cell is a formula, noise is 0, and the first row says what they are made of."""

from __future__ import annotations

import re

import pandas as pd

from splitterfem.output.origin import COLUMN

NOISE = 1e-9
"""Share of a column's largest value below which a figure is rounding."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_FIGURE = re.compile(r"[+-]|[+-]\s?\d[\d.,]*([eE][+-]?\d+)?( ?[A-Za-z°%\"'/]+)?")


def csv_text(table: pd.DataFrame, made_by: str | None = None) -> str:
    """Write a table as comma-separated values, six figures to a number; what is not known is empty.

    Parameters
    ----------
    table : pandas.DataFrame
    made_by : str, optional
        Put into the first row of a last column ``made_by``.
    """
    quiet = table.apply(_quiet)
    if made_by is not None and len(quiet):
        quiet = quiet.assign(**{COLUMN: [made_by, *[""] * (len(quiet) - 1)]})
    plain = harmless(quiet)
    return str(plain.to_csv(index=False, float_format="%.6g", lineterminator="\n"))


def _quiet(column: pd.Series) -> pd.Series:
    """Return a column with rounding noise and -0 written as 0."""
    if not pd.api.types.is_float_dtype(column):
        return column
    return column.where(~(column.abs() <= NOISE * column.abs().max()), 0.0)


def harmless(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose texts and headings no spreadsheet takes for formulas; see `safe_cell`."""
    changed = table.rename(columns=safe_cell)
    for place in range(changed.shape[1]):
        column = changed.iloc[:, place]
        if not pd.api.types.is_numeric_dtype(column):
            changed.isetitem(place, [safe_cell(value) for value in column])
    return changed


def safe_cell(value: object) -> object:
    """Put an apostrophe before a text that a spreadsheet would take for a formula; leave anything else alone.

    That is the advice of the Open Worldwide Application Security Project on injection through comma-separated values:
    texts that begin with ``=``, ``+``, ``-``, ``@``, a tab or a line end.  A signed figure with its unit, such as
    ``-30 mm``, is none, nor is a dash alone.

    Examples
    --------
    >>> from splitterfem.output.csv_text import safe_cell
    >>> safe_cell("=1+1"), safe_cell("-30 mm"), safe_cell("strut")
    ("'=1+1", '-30 mm', 'strut')
    """
    return f"'{value}" if isinstance(value, str) and _is_formula(value.lstrip("'")) else value


def _is_formula(text: str) -> bool:
    return text.startswith(_FORMULA) and not _FIGURE.fullmatch(text)


def without_mark(value: str) -> str:
    """Return a text as it was before `safe_cell`.

    Examples
    --------
    >>> from splitterfem.output.csv_text import without_mark
    >>> without_mark("'=1+1"), without_mark("'quoted'")
    ('=1+1', "'quoted'")
    """
    return value[1:] if value.startswith("'") and _is_formula(value.lstrip("'")) else value
