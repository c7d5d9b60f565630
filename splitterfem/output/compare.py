"""Designs side by side: their figures in one load case, and what changed from the first to the others."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.analysis.bill import bill_of_materials
from splitterfem.analysis.measures import measured
from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.judged import most_loaded, weakest
from splitterfem.output.wording import System, Words, words_for
from splitterfem.strength.assess import utilisation_of
from splitterfem.units import convert

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

SAME = 1e-9
"""Relative difference up to which two figures are the same: what is beyond comes of no rounding."""


@dataclass(frozen=True)
class Figure:
    """A figure by which designs are compared.

    Attributes
    ----------
    name : str
    kind : {"size", "force", "mass", "cost", ""}
        Of its unit; empty for a plain number.
    read : callable
        Reads it off a solution, in SI units; nan where there is none.
    """

    name: str
    kind: str
    read: Callable[[Solution], float]

    def unit(self, words: Words, currency: str) -> str:
        """Return its unit; "-" for a plain number."""
        known = {"size": words.size, "force": words.force, "mass": words.mass, "cost": currency or "-"}
        return known.get(self.kind, "-")

    def digits(self, words: Words) -> int:
        """Decimals that people want of it."""
        return {"size": 2 if words.size == "mm" else 3, "force": 0, "mass": 2, "cost": 2}.get(self.kind, 2)


def _downforce(solution: Solution) -> float:
    return math.nan if solution.load.air is None else solution.downforce


def _utilisation(solution: Solution) -> float:
    row = weakest(utilisation_of(solution))
    return math.nan if row is None else float(row["ratio"])


def _cost(solution: Solution) -> float:
    total, _ = cost_of(solution.model.design)
    return total


FIGURES = (
    Figure("largest sag", "size", lambda solution: solution.max_sag),
    Figure("mean sag", "size", lambda solution: measured(solution, "mean sag").value),
    Figure("least gap to the ground", "size", lambda solution: solution.min_clearance),
    Figure("downforce", "force", _downforce),
    Figure("largest force on a support", "force", lambda solution: most_loaded(solution)[1]),
    Figure("largest utilisation", "", _utilisation),
    Figure("mass of panel and ribs", "mass", lambda solution: solution.mass),
    Figure("cost as far as known", "cost", _cost),
)
"""What designs are compared by, in the order of the table."""


def cost_of(design: Splitter) -> tuple[float, str]:
    """Cost of a design as far as it is known, and its currency; nan where there is none or there are several."""
    bill = bill_of_materials(design)
    total = bill[bill["kind"] == "total"]
    priced = bill[(bill["kind"] != "total") & bill["cost"].notna()]
    if len(total) != 1 or priced.empty:
        return math.nan, ""
    return float(total["cost"].iloc[0]), str(total["currency"].iloc[0])


@dataclass(frozen=True, eq=False)
class Comparison:
    """Solutions of two designs or more, side by side; changes are those from the first.

    Attributes
    ----------
    solutions : tuple of Solution
        At least two.
    names : tuple of str
        Of the designs, all different.
    """

    solutions: tuple[Solution, ...]
    names: tuple[str, ...]

    @cached_property
    def values(self) -> tuple[tuple[Figure, tuple[float, ...]], ...]:
        """Figures that at least one design has, in SI units, with those of each design; nan where it has none."""
        found = ((figure, tuple(figure.read(solution) for solution in self.solutions)) for figure in FIGURES)
        return tuple((figure, row) for figure, row in found if np.isfinite(row).any() and self._fits(figure))

    def _fits(self, figure: Figure) -> bool:
        """Whether figures can be compared: costs only in one currency."""
        return figure.kind != "cost" or len(self._currencies) == 1

    @cached_property
    def _currencies(self) -> frozenset[str]:
        found = [cost_of(solution.model.design) for solution in self.solutions]
        return frozenset(currency for cost, currency in found if math.isfinite(cost))

    @cached_property
    def table(self) -> pd.DataFrame:
        """Figures in mm, N and kg; see `table_in`."""
        return self.table_in("metric")

    def table_in(self, units: System) -> pd.DataFrame:
        """Return the figures in the units of people.

        Parameters
        ----------
        units : {"metric", "us"}

        Returns
        -------
        pandas.DataFrame
            A row for each figure, named so.  Columns: unit; one for each design; ``change`` and ``change_percent`` of
            two designs, of more ``change of NAME`` and ``change_percent of NAME`` for all but the first, each less
            the first one's.  nan where there is no such figure.

        Raises
        ------
        UnitError
            Another system of units.
        """
        import pandas as pd

        words, currency = words_for(units), "".join(self._currencies)
        rows: list[dict[str, Any]] = []
        for figure, found in self.values:
            unit = figure.unit(words, currency)
            plain = figure.kind in ("", "cost")
            shown = [value if plain or math.isnan(value) else convert(value, unit) for value in found]
            row: dict[str, Any] = {"unit": unit, **dict(zip(self.names, shown, strict=True))}
            for name, value in zip(self.names[1:], shown[1:], strict=True):
                tail = "" if len(self.names) == 2 else f" of {name}"
                change = _difference(value, shown[0])
                row[f"change{tail}"] = change
                row[f"change_percent{tail}"] = 100.0 * change / abs(shown[0]) if shown[0] else math.nan
            rows.append(row)
        index = pd.Index([figure.name for figure, _ in self.values], name="figure")
        return pd.DataFrame(rows, index=index)

    @property
    def case(self) -> str:
        """Name of the load case; of several, where solutions of different ones are compared."""
        return " / ".join(dict.fromkeys(solution.case.name for solution in self.solutions))

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What to know beside the figures, in sentences."""
        first = self.solutions[0]
        found = []
        for name, other in zip(self.names[1:], self.solutions[1:], strict=True):
            if other.case.name != first.case.name:
                found.append(
                    f"'{name}' is solved for '{other.case.name}', '{self.names[0]}' for '{first.case.name}': the load "
                    "cases differ, not only the designs."
                )
            elif other.case != first.case:
                found.append(f"The load case of '{name}' is not the same as that of '{self.names[0]}'.")
            if other.model.design.car != first.model.design.car:
                found.append(f"'{name}' stands on another car, or differently, than '{self.names[0]}'.")
        for name, solution in zip(self.names, self.solutions, strict=True):
            if solution.linear_range is not None and not solution.linear_range.within:
                found.append(f"'{name}' is outside the range of a linear solution.")
        return tuple(found)

    def text(self, units: System = "metric") -> str:
        """Write the figures as a table for a terminal, with what uses each design most.

        Parameters
        ----------
        units : {"metric", "us"}
        """
        lines = [f"Load case: {self.case}", "", *aligned(self.rows(units))]
        for name, solution in zip(self.names, self.solutions, strict=True):
            row = weakest(utilisation_of(solution))
            if row is not None:
                lines += ["", *wrapped(f"Used most in '{name}': {row['part']}, {row['mode']}.")]
        lines += [line for note in self.notes for line in ("", *wrapped(note))]
        return "\n".join(lines)

    def rows(self, units: System = "metric") -> list[list[str]]:
        """Headings and rows of the table as people read it: figure with unit, each design, each change."""
        words, table = words_for(units), self.table_in(units)
        changes = [name for name in table.columns if str(name).startswith("change") and "percent" not in name]
        rows = [["", *self.names, *map(str, changes)]]
        for figure, _ in self.values:
            line: dict[Any, Any] = table.loc[figure.name].to_dict()
            digits = figure.digits(words)
            unit = str(line["unit"])
            name = figure.name if unit == "-" else f"{figure.name}, {unit}"
            shown = [_written(float(line[column]), digits) for column in self.names]
            first, *others = (round(float(line[column]), digits) for column in self.names)
            # of the figures as they are shown, so that the row adds up; the table has the unrounded ones
            rows.append([name, *shown, *(_signed(other - first, digits) for other in others)])
        return rows

    def summary(self) -> dict[str, object]:
        """Names, figures with their units, and notes, ready for JSON."""
        table = self.table.reset_index()
        return {
            "case": self.case,
            "designs": list(self.names),
            "figures": records(table),
            "notes": list(self.notes),
        }

    def plot(self, **options: Any) -> Axes:
        """Draw the sags on one scale with what changed; see `splitterfem.output.compareview.plot_comparison`."""
        from splitterfem.output.compareview import plot_comparison

        return plot_comparison(self, **options)

    def __repr__(self) -> str:
        """Write the table."""
        return self.text()

    def _repr_html_(self) -> str:
        """Write the table; notebooks ask for it by this name."""
        import html

        head, *body = self.rows()
        lines = ["".join(f"<th>{html.escape(cell)}</th>" for cell in head)]
        lines += ["".join(f"<td>{html.escape(cell)}</td>" for cell in row) for row in body]
        rows = "".join(f"<tr>{line}</tr>" for line in lines)
        notes = "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)
        return f"<table><caption>Load case: {html.escape(self.case)}</caption>{rows}</table>{notes}"


def _difference(value: float, first: float) -> float:
    change = value - first
    return 0.0 if abs(change) <= SAME * abs(first) else change


def _written(value: float, digits: int) -> str:
    return style.number(value, digits) if math.isfinite(value) else "-"


def _signed(value: float, digits: int) -> str:
    if not math.isfinite(value):
        return "-"
    text = style.number(value, digits)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def default_names(designs: Sequence[Splitter]) -> tuple[str, ...]:
    """Names of designs that were given none: their own where all differ, else before and after, or numbers."""
    own = tuple(design.name for design in designs)
    if len(set(own)) == len(own):
        return own
    if len(own) == 2:
        return ("before", "after")
    return tuple(f"design {number}" for number in range(1, len(own) + 1))
