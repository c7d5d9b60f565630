"""Refinement of a good layout by derivatives on its mesh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from splitterfem.layouts.cells import Cell
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.merit import merit
from splitterfem.layouts.running import Run
from splitterfem.layouts.slopes import OneMesh
from splitterfem.layouts.solving import Bench, Done, Task, meshed
from splitterfem.layouts.steps import Step

Array = NDArray[np.float64]

AROUND = 0.25
"""Share of each range that a layout may go either way on its mesh, which is fine only where parts stood at first."""

ROUNDS = 3
"""Meshes on which the refinement of one layout goes on."""

GAIN = 1e-3
"""Least gain on one mesh, over the extent of the objectives, for which another one is made."""

MOST, ITERATIONS, CLOSE = 25, 15, 1e-7
"""Steps on one mesh, iterations there, and change of the merit at which these end."""

MARGIN = 1e-4
"""Share by which limits are kept to more strictly, so that the rounding of values does not miss them."""


NEAR = 1.0 / 16.0
"""Distance over the panel's diagonal up to which a place that is watched stands for another one."""

Place = tuple[float, float]


class _Ended(Exception):  # noqa: N818
    """The iteration cannot or need not go on: no error, but a way out of an optimiser."""


def descended(run: Run, bench: Bench, goal: Goal, start: Done, scales: Sequence[float]) -> bool:
    """Go on from a layout by sequential quadratic programming, and add where that leads to the run.

    The method is SLSQP of SciPy (Kraft, DFVLR-FB 88-28, 1988; from memory), with derivatives by the adjoint method on
    the mesh of the layout it begins with.  The end point is solved in full, on a mesh of its own where the plan says
    so; when that gained something, the same goes on from there on its mesh.  Objectives that are the worst of several
    load cases or places are bounded from above by a variable that is made less, which leaves everything smooth.

    Returns
    -------
    bool
        Whether there were derivatives; without, nothing was done.
    """
    here = start
    for number in range(ROUNDS):
        slope = _Slope(run, OneMesh(bench, goal, here), goal, scales)
        if not slope.mesh.varied:
            return True
        first = slope.at(slope.shares(here.cells))
        if first.refused:
            return number > 0
        best = slope.best()
        end = _solved(run, best.cells)
        if end.refused or not _worth_more(run, goal, here, end, scales, edge=slope.at_edge(best)):
            return True
        here = end
    return True


def _solved(run: Run, cells: tuple[Cell, ...]) -> Done:
    """Solve a layout in full, unless it is there already."""
    layout = run.plan.layout
    for done in run.done.values():
        if layout(done.cells).key == layout(cells).key:
            return done
    return run.solve([Task(max(run.done) + 1, cells)])[0]


def _worth_more(run: Run, goal: Goal, one: Done, other: Done, scales: Sequence[float], *, edge: bool) -> bool:
    """Tell whether to go on from the end point `other` of the steps from `one`.

    That is so if it gained something and its mesh is another one or does not reach farther, or if it misses a limit on
    its own mesh.
    """
    layout = run.plan.layout
    another = run.plan.fresh_mesh and meshed(layout(one.cells).design()) != meshed(
        layout(other.cells).design()
    )
    if not goal.kept(other):
        return another
    gained = merit(goal, one, scales) - merit(goal, other, scales)
    return gained >= GAIN and (edge or another)


class _Again(Exception):  # noqa: N818
    """The worst sag has come up where nothing was watched: the optimiser has to begin again, knowing of it."""


class _Slope:
    """Merit and limits around a layout, for an optimiser that varies shares of ranges."""

    def __init__(self, run: Run, mesh: OneMesh, goal: Goal, scales: Sequence[float]) -> None:
        self.run, self.mesh, self.goal, self.scales = run, mesh, goal, scales
        self.steps: dict[tuple[Cell, ...], Step] = {}
        self.n, self.tried = len(mesh.varied), 0
        self.begin = self.shares(mesh.start.cells)
        self.around = AROUND if run.plan.fresh_mesh else 1.0
        self.watched: dict[str, tuple[Place, ...]] | None = None

    def shares(self, cells: tuple[Cell, ...]) -> Array:
        """Where values lie in their ranges (n,), from 0 to 1."""
        spans = [self.run.plan.parameters[place].span or (0.0, 1.0) for place in self.mesh.varied]
        found = [float(cells[place]) for place in self.mesh.varied]
        return np.array(
            [(value - low) / (high - low) for value, (low, high) in zip(found, spans, strict=True)]
        )

    def cells(self, shares: Array) -> tuple[Cell, ...]:
        """Values of a layout (n,) as tables show them."""
        found = list(self.mesh.start.cells)
        for place, share in zip(self.mesh.varied, shares, strict=True):
            one = self.run.plan.parameters[place]
            low, high = one.span or (0.0, 1.0)
            found[place] = one.cell_at(low + float(share) * (high - low))
        return tuple(found)

    def at(self, shares: Array) -> Step:
        """Figures with their derivatives; each layout is solved once."""
        cells, start = self.cells(shares), self.mesh.start.number
        known = self.steps.get(cells)
        if known is None or (self.watched is not None and known.watched != self.watched):
            watched = self.watched
            known = self.run.step(start, cells, lambda number: self.mesh.step(number, cells, watched))
            self.steps[cells] = known
            self.tried += 1
        if self.watched is None and not known.refused:
            self.watched = dict(known.watched)
        return known

    def best(self) -> Step:
        """Find the best layout on this mesh."""
        here, begun = self.at(self.begin), True
        while begun:
            begun = False
            with suppress(_Ended):  # the best of the steps so far is then what it found
                try:
                    self._optimised(self.shares(here.cells))
                except _Again:
                    begun = True
            known = [step for step in self.steps.values() if not step.refused]
            here = min(known, key=self._rank)
        return here

    def _optimised(self, shares: Array) -> None:
        """Run the optimiser from a layout (n,); what it tries is in the steps."""
        first = self._solved(shares)
        many = [len(first.figures[one.name]) > 1 for one in self.goal.objectives]
        extra = [self._cost(one, first) for one, several in zip(self._scaled(), many, strict=True) if several]
        box = [(max(u - self.around, 0.0), min(u + self.around, 1.0)) for u in self.begin]
        minimize(
            lambda v: self._merit(v, many)[0],
            np.concatenate([shares, extra]),
            jac=lambda v: self._merit(v, many)[1],
            bounds=[*box, *[(None, None)] * len(extra)],
            constraints={
                "type": "ineq",
                "fun": lambda v: self._kept(v, many)[0],
                "jac": lambda v: self._kept(v, many)[1],
            },
            method="SLSQP",
            options={"maxiter": ITERATIONS, "ftol": CLOSE},
        )

    def at_edge(self, step: Step) -> bool:
        """Tell whether a step is as far away as it may be on this mesh, and not at the end of the range."""
        shares = self.shares(step.cells)
        far = np.abs(shares - self.begin) > self.around - 1e-4
        return bool((far & (shares > 1e-4) & (shares < 1.0 - 1e-4)).any())

    def _solved(self, v: Array) -> Step:
        """Figures where the optimiser asks for them."""
        known = self.steps.get(self.cells(v[: self.n]))
        if self.tried >= MOST and (known is None or known.watched != self.watched):
            raise _Ended
        step = self.at(v[: self.n])
        if step.refused:
            raise _Ended
        if self._watch(step):
            raise _Again
        return step

    def _watch(self, step: Step) -> bool:
        """Watch where the worst sag is in a step, and was at first, if nothing near these places is; tell whether."""
        assert self.watched is not None
        first, before = self.steps[self.mesh.start.cells], self.watched
        for case, at in step.worst.items():
            if self._near(at, (first.worst[case],)):
                continue
            for place in (at, first.worst[case]):
                if not self._near(place, self.watched[case]):
                    self.watched = {**self.watched, case: (*self.watched[case], place)}
        return self.watched != before

    def _near(self, at: Place, places: Sequence[Place]) -> bool:
        x0, y0, x1, y1 = self.run.plan.base.panel.polygon(1e-3).bounds
        reach = NEAR * math.hypot(x1 - x0, y1 - y0)
        return any(math.dist(at, place) <= reach for place in places)

    def _scaled(self) -> list[tuple[Asked, float]]:
        return list(zip(self.goal.objectives, self.scales, strict=True))

    def _cost(self, one: tuple[Asked, float], step: Step) -> float:
        """Find an objective over its extent, the worst of its load cases and places."""
        return max(float(value[0]) for value in _pieces(one[0], one[1], step))

    def _rank(self, step: Step) -> tuple[float, float, int]:
        """Order steps: those within the limits by their merit, before the others by how much they miss."""
        missed = [
            (piece[0] - _sign(one) * limit) / (abs(limit) or 1.0)
            for one, limit in self._limits()
            for piece in _pieces(one, 1.0, step)
        ]
        most = max(missed, default=0.0)
        return (
            max(most - 0.5 * MARGIN, 0.0),
            sum(self._cost(one, step) for one in self._scaled()),
            step.number,
        )

    def _limits(self) -> list[tuple[Asked, float]]:
        """Limits, a little stricter than they are."""
        return [(one, limit - _sign(one) * MARGIN * abs(limit)) for one, limit in self.goal.limits]

    def _merit(self, v: Array, many: Sequence[bool]) -> tuple[float, Array]:
        """Sum of the objectives, with its derivative."""
        step, slot, slope, total = self._solved(v), self.n, np.zeros(len(v)), 0.0
        for one, several in zip(self._scaled(), many, strict=True):
            if several:
                total += float(v[slot])
                slope[slot] = 1.0
                slot += 1
            else:
                ((value, by),) = _pieces(*one, step)
                total += value
                slope[: self.n] += by
        return total, slope

    def _kept(self, v: Array, many: Sequence[bool]) -> tuple[Array, Array]:
        """Find what must not be negative, with its derivatives: bounds above objectives, limits above figures."""
        step, slot = self._solved(v), self.n
        values, slopes = [], []
        for one, several in zip(self._scaled(), many, strict=True):
            if several:
                for value, by in _pieces(*one, step):
                    row = np.zeros(len(v))
                    row[: self.n], row[slot] = -by, 1.0
                    values.append(float(v[slot]) - value)
                    slopes.append(row)
                slot += 1
        for asked, limit in self._limits():
            for value, by in _pieces(asked, abs(limit) or 1.0, step):
                row = np.zeros(len(v))
                row[: self.n] = -by
                values.append(_sign(asked) * limit / (abs(limit) or 1.0) - value)
                slopes.append(row)
        return np.array(values), np.array(slopes).reshape(len(values), len(v))


def _sign(one: Asked) -> float:
    return 1.0 if one.better == "low" else -1.0


def _pieces(one: Asked, scale: float, step: Step) -> list[tuple[float, Array]]:
    """Values of a figure over a scale with their derivatives (n,), signs such that less is better."""
    factor = _sign(one) / scale
    return [(factor * value, factor * np.array(slopes)) for value, slopes in step.figures[one.name]]
