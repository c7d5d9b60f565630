"""One layout after the other: build it, solve it, read its measures; what cannot be done is said in its row."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from splitterfem.analysis.solution import solve
from splitterfem.design import Splitter
from splitterfem.errors import SplitterError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.measures import Row, columns, design_row
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.reading import solved_row
from splitterfem.model import Model, build, written_out

LONGEST = 500
"""Characters of the reason why a layout was refused."""


@dataclass(frozen=True)
class Task:
    """A layout to solve.

    Attributes
    ----------
    number : int
        Of the layout, from 1.
    cells : tuple
        A value for each parameter.
    """

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Done:
    """A layout with its figures.

    Attributes
    ----------
    number : int
    cells : tuple
    row : mapping
        Measures by column; nan where there is none.
    refused : str
        Why it could not be built or solved; empty when it was.
    seconds : float
        That it took.
    """

    number: int
    cells: tuple[Cell, ...]
    row: Mapping[str, Any]
    refused: str = ""
    seconds: float = 0.0


class Bench:
    """Solves layouts of a plan, each by itself: no result depends on which layouts came before.

    Parameters
    ----------
    plan : Plan
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._base: Model | None = None
        self._meshed = meshed(plan.base)

    def model(self, design: Splitter) -> Model:
        """Model of a layout: on a mesh of its own, or on that of the base design where the plan says so.

        A layout whose mesh would be that of the base design anyway takes it over.

        Raises
        ------
        DesignError, MeshError, MechanismError
            If it cannot be built, meshed or held.
        """
        base = self.plan.base
        same_panel = design.panel == base.panel or _outlines(design) == _outlines(base)
        if not (same_panel and design.mesh == base.mesh) or (
            self.plan.fresh_mesh and meshed(design) != self._meshed
        ):
            return build(design)
        if self._base is None:
            self._base = build(base)
        return self._base.for_design(design)

    def done(self, task: Task) -> Done:
        """Solve a layout; what goes wrong becomes the reason in its row."""
        start = time.perf_counter()
        plan = self.plan
        row: Row = dict.fromkeys(columns(plan.measures, plan.cases), math.nan)
        refused = ""
        try:
            design = plan.layout(task.cells).design()
            row |= design_row(plan.measures, design)
            if any(one.scope != "design" for one in plan.measures):
                model = self.model(design)
                row |= solved_row(plan.measures, [solve(model, name) for name in plan.cases])
        except SplitterError as problem:
            refused = sentence(str(problem))
        except Exception as problem:  # one odd layout must not end a night's work
            refused = sentence(f"unexpected {type(problem).__name__}: {problem}")
        return Done(task.number, task.cells, row, refused, time.perf_counter() - start)


def meshed(design: Splitter) -> tuple[object, ...]:
    """Everything by which a design's mesh is made, besides outline and cut-outs."""
    return (
        design.mesh,
        tuple((rib.points, rib.section.properties().foot_width) for rib in written_out(design.ribs)),
        tuple(half.outline for half in written_out(design.doublers)),
        tuple((part.foot, part.pad) for part in written_out(design.struts)),
        tuple((part.at, part.pad) for part in written_out(design.bolts)),
        tuple((part.at, part.pad) for part in written_out(design.pins)),
        tuple((part.at, part.pad) for part in written_out(design.stops)),
        tuple(part.bounds for part in written_out(design.pockets)),
    )


def _outlines(design: Splitter) -> tuple[object, ...]:
    return design.panel.outline.loop(), design.panel.holes()


def sentence(text: str) -> str:
    """Write the text of an error on one line that is not too long."""
    line = "; ".join(part.strip() for part in text.splitlines() if part.strip()) or "no reason given"
    return line if len(line) <= LONGEST else line[: LONGEST - 3] + "..."


_kept = threading.local()


def bench_of(fingerprint: str, plan: Callable[[], Plan]) -> Bench:
    """Bench of a plan in this thread: the one that was used last, or a new one when that was of another plan."""
    known: tuple[str, Bench] | None = getattr(_kept, "bench", None)
    if known is None or known[0] != fingerprint:
        known = (fingerprint, Bench(plan()))
        _kept.bench = known
    return known[1]
