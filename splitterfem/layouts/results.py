"""What comes of a study: a table with one row for each layout, and any layout as a design again."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import pandas as pd

from splitterfem.design import Splitter
from splitterfem.errors import DesignError
from splitterfem.layouts.measures import columns
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.solving import Bench, Done
from splitterfem.layouts.steps import Step
from splitterfem.model import Model


@dataclass(frozen=True, eq=False)
class Study:
    """Many layouts of a splitter with their figures.

    Attributes
    ----------
    plan : Plan
        Base design, parameters, load cases and measures.
    layouts : tuple of Done
        Finished layouts by number.
    total : int
        Layouts that were wanted.
    finished : bool
        Whether none is missing; a study that was interrupted is not.
    file : Path or None
        From which it can be continued.
    steps : tuple of Step
        Layouts on the meshes of others that a search solved on the way; they are in no table.
    """

    plan: Plan
    layouts: tuple[Done, ...]
    total: int
    finished: bool = True
    file: Path | None = None
    steps: tuple[Step, ...] = field(default=(), kw_only=True)

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row for each layout, its number from 1 as the index.

        Columns: the parameters with their units; the measures with theirs, over several load cases the worst, and
        which one gives it ("... in"), and each ("<case>: ..."); words beside some of them; refused (why the layout
        could not be built or solved, empty when it was).  What is not known is nan.
        """
        plan = self.plan
        names = [one.column for one in plan.parameters]
        rows = [
            dict(zip(names, done.cells, strict=True)) | dict(done.row) | {"refused": done.refused}
            for done in self.layouts
        ]
        index = pd.Index([done.number for done in self.layouts], name="layout", dtype="int64")
        table = pd.DataFrame(rows, columns=plan.columns, index=index)
        for column in columns(plan.measures, plan.cases):
            if column in text_columns(plan):
                table[column] = [value if isinstance(value, str) else "" for value in table[column]]
            else:
                table[column] = table[column].astype(float)
        return table

    def done(self, layout: Any) -> Done:
        """Find a layout by its number, or by its row of the table.

        Raises
        ------
        DesignError
            If there is none.
        """
        number = layout.name if isinstance(layout, pd.Series) else layout
        for done in self.layouts:
            if done.number == number and not isinstance(number, bool):
                return done
        first, last = (self.layouts[0].number, self.layouts[-1].number) if self.layouts else (0, 0)
        known = f"known: {first} to {last}" if self.layouts else "there is none"
        raise DesignError(f"there is no layout {number!s:.40} in the study; {known}")

    def design(self, layout: Any) -> Splitter:
        """Make the design of a layout.

        Parameters
        ----------
        layout : int or row
            Its number in the table's index, or its row of the table.

        Raises
        ------
        DesignError
            If there is none, or it cannot be built.
        """
        return self.plan.layout(self.done(layout).cells).design()

    def model(self, layout: Any) -> Model:
        """Build the model of a layout on the mesh that its figures come from.

        Raises
        ------
        DesignError, MeshError, MechanismError
            If there is none, or it cannot be built, meshed or held.
        """
        return Bench(self.plan).model(self.design(layout))

    def save_design(self, layout: Any, path: str | Path) -> Path:
        """Write a layout as a design file; see :func:`splitterfem.save`.

        Raises
        ------
        DesignError, FileError
            If there is none, or it cannot be built or written.
        """
        from splitterfem.design import save

        save(self.design(layout), path)
        return Path(path)

    def value(self, done: Done, name: str) -> float:
        """Read a measure off a layout by its name or column; nan when it is not known."""
        found = done.row.get(self.plan.measure(name).column, math.nan)
        return float(found)

    def __repr__(self) -> str:
        """Write what was studied, and how far it is, on one line."""
        refused = sum(1 for done in self.layouts if done.refused)
        parts = [
            f"{len(self.layouts)} of {self.total} layouts",
            "finished" if self.finished else "unfinished",
        ]
        if refused:
            parts.append(f"{refused} refused")
        what = ", ".join(one.name for one in self.plan.parameters)
        return f"{self.plan.kind.capitalize()} of '{self.plan.base.name}' over {what}: {', '.join(parts)}"


def text_columns(plan: Plan) -> frozenset[str]:
    """Columns of measures that hold words."""
    found = {column for one in plan.measures for column in one.text_columns}
    if len(plan.cases) > 1:
        found |= {f"{one.name} in" for one in plan.measures if one.scope == "case"}
    return frozenset(found)
