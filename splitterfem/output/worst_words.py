"""The worst over all load cases as a table: of the panel, of every support, and of the parts that are used most."""

from __future__ import annotations

import math

import pandas as pd

from splitterfem.output.report_tables import Table, table_of
from splitterfem.output.wording import Words, ratio_words
from splitterfem.strength.cases import ON_GROUND

PARTS = 8
"""Parts whose utilisation is shown."""

USED = "largest utilisation"
"""Measure of the rows of `splitterfem.strength.cases.worst_of` that are ratios."""


def worst_table(worst: pd.DataFrame, names: list[str], words: Words) -> tuple[Table, str]:
    """Tabulate the worst of every measure with its load case, and say what is left out.

    Parameters
    ----------
    worst : pandas.DataFrame
        As `splitterfem.strength.cases.worst_of` makes it.
    names : list of str
        Of the load cases, in the order of their numbers.
    words : Words
        Units.
    """
    used = worst["measure"] == USED
    left = worst[used].iloc[PARTS:]
    shown = pd.concat([worst[~used], worst[used].iloc[:PARTS]])
    rows = [
        [
            str(row["measure"]),
            str(row["part"]) or ("panel, tunnels" if row["measure"] == "largest downforce" else "panel"),
            _value(row, words),
            str(names.index(str(row["case"])) + 1),
            str(row["case"]),
            _place(row, words),
        ]
        for _, row in shown.iterrows()
    ]
    over = [
        i
        for i, (_, row) in enumerate(shown.iterrows())
        if (row["measure"] == USED and row["value"] > 1.0)
        or (row["unit"] == "mm" and row["value"] <= 0.0)
        or row["measure"] == ON_GROUND
    ]
    table = table_of(
        ["worst", "of", "value", "", "in load case", f"at x, y\n{words.size}"], rows, alarms=over
    )
    if left.empty:
        return table, ""
    most = ratio_words(float(left["value"].iloc[0]))
    return table, f"{len(left)} more part{'s' if len(left) > 1 else ''}, none used to more than {most}."


def _value(row: pd.Series, words: Words) -> str:
    value, unit = float(row["value"]), str(row["unit"])
    if unit == "mm":
        return f"{words.sag(1e-3 * value)} {words.size}"
    return ratio_words(value) if unit == "-" else words.with_unit(value, words.force, 0)


def _place(row: pd.Series, words: Words) -> str:
    x, y = 1e-3 * float(row["x_mm"]), 1e-3 * float(row["y_mm"])
    return words.place((x, y)) if math.isfinite(x) and math.isfinite(y) else "-"
