"""Figures of layouts on one mesh with their derivatives by parameters of a study."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property

from splitterfem.analysis.gradients import gradients
from splitterfem.analysis.measures import Which, measured, next_worst
from splitterfem.analysis.solution import Solution, solve
from splitterfem.errors import SplitterError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.measures import Asked, design_row
from splitterfem.layouts.solving import Bench, Done, sentence
from splitterfem.layouts.steps import Slopes, Step
from splitterfem.layouts.ways import AtPaths, Move
from splitterfem.model import Model
from splitterfem.strength.governing import worst_utilisation
from splitterfem.units import quantity

SHARE = 1e-4
"""Of a range: step of the differences by which masses are differentiated."""

RIVALS, RIVAL = 4, 0.8
"""Most places that are watched beside the worst one, and the share of its sag from which on they are."""

Piece = tuple[float, Slopes]


class OneMesh:
    """Layouts near one of a study, all on its mesh.

    Parameters
    ----------
    bench : Bench
    goal : Goal
        Of whose objectives and limits figures are wanted.
    start : Done
        Layout whose mesh it is.
    """

    def __init__(self, bench: Bench, goal: Goal, start: Done) -> None:
        self.plan, self.start, self._bench = bench.plan, start, bench
        asked = dict.fromkeys((*goal.objectives, *(one for one, _ in goal.limits)))
        self._cases = [one for one in asked if one.scope == "case"]
        self._of_design = [one for one in asked if one.scope == "design"]
        absent = self.plan.layout(start.cells).absent
        self.varied = tuple(
            place
            for place, one in enumerate(self.plan.parameters)
            if one.continuous and not one.way.idle(absent)
        )

    @cached_property
    def _model(self) -> Model:
        return self._bench.model(self.plan.layout(self.start.cells).design())

    def step(
        self,
        number: int,
        cells: tuple[Cell, ...],
        watched: Mapping[str, tuple[tuple[float, float], ...]] | None,
    ) -> Step:
        """Solve and differentiate a layout; what goes wrong is said in the step.

        Parameters
        ----------
        number : int
            Of the step.
        cells : tuple
        watched : mapping, optional
            Places that are watched as those of an earlier step; found anew when left out.
        """
        worst: dict[str, tuple[float, float]] = {}
        try:
            figures: dict[str, tuple[Piece, ...]] = {
                one.name: (self._of_mass(one, cells),) for one in self._of_design
            }
            if self._cases:
                model = self._model.for_design(self.plan.layout(cells).design())
                solutions = [solve(model, name) for name in self.plan.cases]
                if watched is None:
                    watched = {one.case.name: self._rivals(one) for one in solutions}
                pieces = [self._pieces(one, watched[one.case.name]) for one in solutions]
                for asked in self._cases:
                    figures[asked.name] = tuple(piece for found in pieces for piece in found[asked.name])
                if self._of_worst:
                    worst = {one.case.name: one.max_sag_at for one in solutions}
        except SplitterError as problem:
            return Step(number, self.start.number, cells, refused=sentence(str(problem)))
        except Exception as problem:  # one odd layout must not end a night's work
            said = sentence(f"unexpected {type(problem).__name__}: {problem}")
            return Step(number, self.start.number, cells, refused=said)
        if not all(math.isfinite(value) for found in figures.values() for value, _ in found):
            return Step(
                number, self.start.number, cells, refused="A figure of the search is not known there."
            )
        return Step(number, self.start.number, cells, figures, watched or {}, worst)

    @property
    def _of_worst(self) -> bool:
        return any(one.name == "worst sag" for one in self._cases)

    def _rivals(self, solution: Solution) -> tuple[tuple[float, float], ...]:
        """Places beside the worst that may become it; none when the worst sag is not asked for."""
        if not self._of_worst:
            return ()
        worst = measured(solution, "worst sag")
        _, *others = next_worst(solution, worst)
        near = [one.at for one in others if one.at is not None and one.value >= RIVAL * worst.value]
        return tuple(near[:RIVALS])

    def _pieces(
        self, solution: Solution, watched: Sequence[tuple[float, float]]
    ) -> dict[str, tuple[Piece, ...]]:
        """Values and derivatives of all measures of a load case, the worst sag's followed by those of its rivals."""
        measures: list[tuple[Asked, Which]] = []
        for one in self._cases:
            measures.append((one, one.name if one.at is None else one.at))
            if one.name == "worst sag":
                measures += [(one, at) for at in watched]
        wanted = [
            worst_utilisation(solution, one.name) if one.name == "worst utilisation" else which
            for one, which in measures
        ]
        names = [self._names(place) for place in self.varied]
        found = gradients(solution, wanted, by=[name for some in names for name in some])
        values, slopes = found.now / found.per_units, found.values / found.per_units
        rows, first = [], 0
        for place, some in zip(self.varied, names, strict=True):
            rows.append(slopes[first : first + len(some)].sum(axis=0) * self._range(place))
            first += len(some)
        pieces: dict[str, tuple[Piece, ...]] = {}
        for j, (one, _) in enumerate(measures):
            piece = float(values[j]), tuple(float(row[j]) for row in rows)
            pieces[one.name] = (*pieces.get(one.name, ()), piece)
        return pieces

    def _names(self, place: int) -> tuple[str, ...]:
        """Figures of a design that a parameter changes, as derivatives know them."""
        way = self.plan.parameters[place].way
        if isinstance(way, Move):
            return (f"{way.part} {way.axis}",)
        assert isinstance(way, AtPaths)
        return way.paths

    def _range(self, place: int) -> float:
        """Extent of a parameter in SI units."""
        one = self.plan.parameters[place]
        assert one.span is not None
        dimension = one.way.dimension(self.plan.base)
        ends = [one.given(end) for end in one.span]
        if dimension is not None:
            ends = [float(quantity(end, dimension, name=one.name)) for end in ends]
        return float(ends[1] - ends[0])

    def _of_mass(self, asked: Asked, cells: tuple[Cell, ...]) -> Piece:
        """Read a figure off the design, and differentiate it by differences within the ranges."""
        found = [self._of_cells(asked, cells)]
        for place in self.varied:
            span = self.plan.parameters[place].span
            assert span is not None
            here, by = float(cells[place]), SHARE * (span[1] - span[0])
            ends = max(here - by, span[0]), min(here + by, span[1])
            low, high = (self._of_cells(asked, (*cells[:place], end, *cells[place + 1 :])) for end in ends)
            found.append((high - low) / (ends[1] - ends[0]) * (span[1] - span[0]))
        return found[0], tuple(found[1:])

    def _of_cells(self, asked: Asked, cells: tuple[Cell, ...]) -> float:
        return float(design_row([asked], self.plan.layout(cells).design())[asked.column])
