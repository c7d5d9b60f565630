"""How far load cases use the strength of a splitter: one table for all of them, and the loss of one part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.analysis.loss import lose_one
from splitterfem.output.case_words import handling_names
from splitterfem.strength.assess import utilisation_of
from splitterfem.strength.row import COLUMNS

DISTANCE = "mm"
"""Unit of the rows of a utilisation table that compare a distance with the one that is needed."""


def weakest(table: pd.DataFrame) -> pd.Series | None:
    """Row of the weakest link in a utilisation table, worst first; None when nothing is judged.

    A distance that has to be kept, such as that of a bolt from an edge, is used by no load: it is the weakest link
    only where it is too short, or where there is nothing else.
    """
    known = table[table["ratio"].notna()]
    counts = known[(known["unit"] != DISTANCE) | (known["ratio"] > 1.0)]
    rows = counts if len(counts) else known
    return rows.iloc[0] if len(rows) else None


def worst_ratio(solution: Solution) -> float | None:
    """Utilisation of the weakest link of a solution; None when nothing can be judged."""
    row = weakest(utilisation_of(solution))
    return None if row is None else float(row["ratio"])


def most_loaded(solution: Solution) -> tuple[str, float]:
    """Support with the largest force on the panel, and its size in N; a dash without supports."""
    forces = solution.supports
    if forces.empty:
        return "-", 0.0
    sizes = np.linalg.norm(forces[["fx_N", "fy_N", "fz_N"]].to_numpy(dtype=float), axis=1)
    most = int(np.argmax(sizes))
    return str(forces["support"].iloc[most]), float(sizes[most])


@dataclass(frozen=True, eq=False)
class Judged:
    """Utilisations of load cases of one splitter.

    Attributes
    ----------
    solutions : tuple of Solution
        At least one.
    """

    solutions: tuple[Solution, ...]

    @cached_property
    def rows(self) -> pd.DataFrame:
        """Rows of all load cases, worst first: number (of the case, from 1), case, then the table's own columns."""
        tables = [
            utilisation_of(solution).assign(number=number, case=solution.case.name)
            for number, solution in enumerate(self.solutions, start=1)
        ]
        table = pd.concat([t for t in tables if len(t)] or tables, ignore_index=True)
        table = table.sort_values("ratio", ascending=False, na_position="last", kind="stable")
        return table[["number", "case", *COLUMNS]].reset_index(drop=True)

    @cached_property
    def worst(self) -> pd.DataFrame:
        """Every part and mode in the load case that uses it most, worst first; what has no ratio is left out."""
        judged = self.rows[self.rows["ratio"].notna()]
        return judged.drop_duplicates(["part", "kind", "mode"]).reset_index(drop=True)

    @cached_property
    def unjudged(self) -> pd.DataFrame:
        """Every part and mode that could not be judged in some load case, in the one that demands most of it."""
        rows = self.rows[self.rows["ratio"].isna()]
        rows = rows.sort_values("demand", ascending=False, kind="stable").drop_duplicates(
            ["part", "mode", "note"]
        )
        return rows.sort_index().reset_index(drop=True)

    @cached_property
    def overloaded(self) -> int:
        """How many parts and modes are used beyond what is allowed."""
        return int((self.worst["ratio"] > 1.0).sum())

    @cached_property
    def governing(self) -> int:
        """Index of the load case with the largest utilisation, or with the largest sag if nothing can be judged.

        Distances that have to be kept are much the same in all load cases and have no say. Handling has none either
        as long as there is another case: a part may fail at any time, but a kerb is not hit in that very moment.
        """
        if len(self._by_load):
            return int(self._by_load["number"].iloc[0]) - 1
        return max(self._may_govern, key=lambda index: self.solutions[index].max_sag)

    @cached_property
    def _may_govern(self) -> list[int]:
        """Indices of the load cases that are no handling; of all when there is nothing else."""
        handling = handling_names(self.solutions[0].model.design)
        found = [i for i, solution in enumerate(self.solutions) if solution.case.name not in handling]
        return found or list(range(len(self.solutions)))

    @cached_property
    def _by_load(self) -> pd.DataFrame:
        """Rows of these load cases that are used by a load, worst first."""
        rows = self.rows[self.rows["ratio"].notna() & (self.rows["unit"] != DISTANCE)]
        return rows[rows["number"].isin([index + 1 for index in self._may_govern])]

    def lose_one(self) -> Losses:
        """Lose one part after the other in the governing load case."""
        solution = self.solutions[self.governing]
        table = lose_one(solution.model, solution.case, judge=worst_ratio)
        return Losses(self.governing + 1, solution, table, by_strength=len(self._by_load) > 0)


@dataclass(frozen=True, eq=False)
class Losses:
    """What becomes of a load case when one part is lost.

    Attributes
    ----------
    number : int
        Of the load case among those that were solved, from 1.
    whole : Solution
        The load case with nothing lost.
    table : pandas.DataFrame
        As `splitterfem.analysis.loss.lose_one` makes it, with ``worst_ratio``.
    by_strength : bool
        Whether the load case was chosen by its utilisation, and not by its sag because nothing could be judged.
    """

    number: int
    whole: Solution
    table: pd.DataFrame
    by_strength: bool

    @property
    def case(self) -> str:
        """Name of the load case."""
        return self.whole.case.name

    @property
    def named(self) -> pd.DataFrame:
        """The table with the name of the load case in its first column."""
        return pd.concat([pd.Series(self.case, self.table.index, name="case", dtype=str), self.table], axis=1)

    @cached_property
    def held(self) -> pd.Series[bool]:
        """Whether the rest is in equilibrium without touching the ground, row by row."""
        return self.table["outcome"] == "held"

    @cached_property
    def bad(self) -> pd.Series[bool]:
        """Whether a loss ends badly: not held, on the ground, or with something else overloaded."""
        return ~self.held | (self.table["worst_ratio"] > 1.0)


def judged(solutions: Sequence[Solution]) -> Judged:
    """Judge load cases of one splitter together.

    Parameters
    ----------
    solutions : sequence of Solution
        At least one.
    """
    return Judged(tuple(solutions))
