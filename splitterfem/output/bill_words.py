"""Bill of materials for people: totals in words, and the table of a report."""

from __future__ import annotations

import math
import re

import pandas as pd

from splitterfem.output.report_tables import Table, table_of
from splitterfem.output.wording import Words

TOTAL = "total"
"""Kind of the rows of sums."""


def parts_of(bill: pd.DataFrame) -> pd.DataFrame:
    """Rows of parts, without the sums."""
    return bill[bill["kind"] != TOTAL]


def mass_words(bill: pd.DataFrame, words: Words) -> str:
    """Say what everything of known mass weighs, kind by kind."""
    known = parts_of(bill).dropna(subset=["mass_kg"])
    kinds = [
        f"{kind} {words.number(float(mass), words.mass, 2)}"
        for kind, mass in known.groupby("kind", sort=False)["mass_kg"].sum().items()
    ]
    whole = float(bill.loc[bill["kind"] == TOTAL, "mass_kg"].iloc[0])
    return f"{words.with_unit(whole, words.mass, 2)} ({', '.join(kinds)})"


def cost_words(bill: pd.DataFrame) -> str:
    """Say what everything of known cost costs, each currency by itself, and of how many parts that is."""
    sums = bill[(bill["kind"] == TOTAL) & bill["cost"].notna()]
    if sums.empty:
        return "not known of any part"
    money = " and ".join(_money(row) for _, row in sums.iterrows())
    parts = parts_of(bill)
    return f"{money}, indicative, for {int(parts['cost'].notna().sum())} of {len(parts)} rows of the bill"


def left_out_words(bill: pd.DataFrame) -> str:
    """Say what the sums leave out."""
    return "; ".join(bill.attrs["left_out"])


def bill_table(bill: pd.DataFrame, words: Words) -> Table:
    """Tabulate parts and sums; the columns of costs only where a cost is known.

    Parameters
    ----------
    bill : pandas.DataFrame
        As `splitterfem.analysis.bill.bill_of_materials` makes it.
    words : Words
        Units.
    """
    priced = bool(bill["cost"].notna().any())
    rows = [_row(row, words, priced=priced) for _, row in bill.iterrows()]
    size, area = words.size, words.area.replace("^2", "²")
    headings = ["part", "material", "pieces", f"length\n{size}", f"area\n{area}", f"mass\n{words.mass}"]
    return table_of([*headings, *(["cost", "how the cost came about"] if priced else [])], rows)


def bill_notes(bill: pd.DataFrame) -> list[str]:
    """Say what a bill leaves out, and how far its costs can be trusted."""
    costs = "Costs are indicative and not converted."
    known = bool(bill["cost"].notna().any())
    return [f"Not in it: {left_out_words(bill)}.", costs if known else "No cost is known."]


def _row(row: pd.Series, words: Words, *, priced: bool) -> list[str]:
    metric = words.size == "mm"
    if row["kind"] == TOTAL:
        sums = ["together", "", "", "", "", _said(float(row["mass_kg"]), words.mass, 2, words).strip("-")]
        return sums + ([_money(row), str(row["cost_basis"]).partition(";")[0]] if priced else [])
    cells = [
        _part(row),
        _material(row, words),
        _said(float(row["count"]), "", 0, words),
        _said(1e-3 * float(row["length_mm"]), words.size, 0 if metric else 1, words),
        _said(float(row["area_m2"]), words.area, 3 if metric else 2, words),
        _said(float(row["mass_kg"]), words.mass, 2, words),
    ]
    return cells + ([_money(row), str(row["cost_basis"])] if priced else [])


def _part(row: pd.Series) -> str:
    """Name and kind, the kind only where the name does not tell."""
    name, kind = str(row["part"]), str(row["kind"])
    return name if set(kind.split()) & set(re.findall(r"\w+", name)) else f"{name} ({kind})"


def _material(row: pd.Series, words: Words) -> str:
    """Name of the material, and the volume of glue."""
    name, volume = str(row["material"]), float(row["volume_cm3"])
    if math.isnan(volume):
        return name or "-"
    glue = f"{volume:.1f} cm³" if words.size == "mm" else f"{volume / 2.54**3:.2f} in³"
    return f"{name}, {glue}"


def _said(value: float, unit: str, digits: int, words: Words) -> str:
    return "-" if math.isnan(value) else words.number(value, unit, digits)


def _money(row: pd.Series) -> str:
    cost = float(row["cost"])
    return "-" if math.isnan(cost) else f"{cost:.2f} {row['currency']}".strip()
