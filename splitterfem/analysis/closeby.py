"""A solved load case and designs close by: what is out of balance at the same unknowns, and how these follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.linearised import unknowns
from splitterfem.analysis.parameters import Parameter
from splitterfem.analysis.sensitivity import Tangent, linearised
from splitterfem.analysis.solution import Solution
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.model import CaseLoad, Model, case_load
from splitterfem.model.nearby import close_by

if TYPE_CHECKING:
    from splitterfem.analysis.gradients import Figure

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Point:
    """A solution and its tangent.

    Attributes
    ----------
    solution : Solution
    tangent : Tangent
        Supports, and behind them the places of the ground that touch.
    touching : ndarray of int, shape (g,)
        Numbers of these places.
    forces : ndarray, shape (m,)
        On all restraints of the tangent.
    """

    solution: Solution
    tangent: Tangent
    touching: Index
    forces: Array

    def out(self, model: Model, load: CaseLoad) -> Array:
        """Find forces out of balance (n,), and behind them misses (m,) of the bounds that act, in a model close by."""
        x, structure, side = unknowns(self.solution), model.structure, self.tangent.side
        inner = structure.internal(x)
        if self.solution.response.large:
            inner = LargeDeflection(structure, model.rib_parts).internal(x)
        rows, bound, give = self.restraints(model)
        out = inner + rows.T @ self.forces - structure.with_extra(load.vector)
        return np.concatenate([out, np.where(side != 0, rows @ x - bound - give * self.forces, 0.0)])

    def restraints(self, model: Model) -> tuple[sp.csr_array, Array, Array]:
        """Return rows (m, n), the bounds (m,) that act, and compliances (m,) of a model close by."""
        old, held, side = self.solution.model.structure, self.tangent.held, self.tangent.side
        n, count = held.rows.shape[1], len(side) - len(self.touching)
        extra = sp.csr_array((1, old.n_extra))
        rows = [sp.csr_array(held.rows[[number]]) for number in range(count)]
        bound, give = np.zeros(len(side)), np.zeros(len(side))
        for number, restraint in zip(old.acting_rows, model.structure.restraints, strict=True):
            rows[number] = sp.csr_array(sp.hstack([restraint.row, extra]))
            if side[number]:
                bound[number] = restraint.upper if side[number] > 0 else restraint.lower
            give[number] = restraint.compliance
        if len(self.touching):
            obstacle = model.ground.obstacle(model, self.solution.case)
            rows.append(sp.csr_array(obstacle.rows[self.touching]))
            bound[count:] = obstacle.lowest[self.touching]
        return sp.csr_array(sp.vstack(rows)) if rows else sp.csr_array((0, n)), bound, give

    def followed(self, change: Array) -> tuple[Array, Array]:
        """Change of the unknowns (n,) and forces (m,) that undoes forces out of balance and misses of bounds."""
        n = len(change) - len(self.tangent.side)
        x, force = self.tangent.answers(-change[:n, None], miss=change[n:, None])
        return x[:, 0], force[:, 0]


def point_at(solution: Solution) -> Point:
    """Linearise a solution."""
    tangent, response = linearised(solution), solution.response
    touching = np.flatnonzero(response.ground > 0.0).astype(np.int64)
    forces = np.zeros(len(tangent.side))
    forces[solution.model.structure.acting_rows] = response.force
    if len(touching):
        forces[-len(touching) :] = -response.ground[touching]
    return Point(solution, tangent, touching, forces)


@dataclass(frozen=True, eq=False)
class Near:
    """Models close by in which one parameter is a little different, each made once."""

    point: Point
    what: Parameter
    _made: dict[float, tuple[Model, CaseLoad]] = field(default_factory=dict)

    def out(self, by: float) -> Array:
        """Find what is out of balance, see :meth:`Point.out`, with the parameter larger by a little."""
        return self.point.out(*self._model(by))

    def read(self, figures: Sequence[Figure], by: float, way: tuple[Array, Array] | None) -> Array:
        """Figures (j,) with the parameter larger by a little; those that are followed, along a change with it."""
        model, load = self._model(by)
        still = replace(self.point.solution, model=model, load=load)
        along = still if way is None else self._along(still, by, way)
        return np.array([one.read(along if one.followed else still) for one in figures])

    def _along(self, still: Solution, by: float, way: tuple[Array, Array]) -> Solution:
        response, structure = still.response, self.point.solution.model.structure
        x = unknowns(still) + by * way[0]
        forces = self.point.forces + by * way[1]
        rows, _, _ = self.point.restraints(still.model)
        ground = response.ground.copy()
        if len(self.point.touching):
            ground[self.point.touching] = -forces[-len(self.point.touching) :]
        n = len(response.x)
        acting = structure.acting_rows
        moved = replace(
            response, x=x[:n], extra=x[n:], force=forces[acting], motion=(rows @ x)[acting], ground=ground
        )
        return replace(still, response=moved)

    def _model(self, by: float) -> tuple[Model, CaseLoad]:
        if by not in self._made:
            solution = self.point.solution
            model = close_by(solution.model, self.what.changed(solution.model.design, by))
            self._made[by] = model, case_load(model, solution.case)
        return self._made[by]
