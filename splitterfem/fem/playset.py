"""Which restraints act in layout after layout of the same panel: the set found before is tried first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.play import PlayProblem
from splitterfem.fem.playbody import LOOSE, NEGLIGIBLE, RIGID_COMPLIANCE
from splitterfem.fem.playlaw import PlayLaw, Sides

Array = NDArray[np.float64]
Index = NDArray[np.int64]

MOST_SETS = 12
"""Sets that are tried one after the other before the search of :mod:`splitterfem.fem.play` takes over."""


class PlaySets:
    """Restraints of all layouts, with the law of each.

    Parameters
    ----------
    flexibility : ndarray, shape (m, m)
        Motions per unit force of the tied bare panel in m/N.
    reference, ties : ndarray, shape (m,)
        Stiffness that sets the scale of each restraint, and that with which it is tied, in N/m.
    law : PlayLaw
    rigid : ndarray, shape (m, k)
        Motions under the rigid motions that nothing else stops.
    start : ndarray of int, shape (m,)
        Sides with which the first search begins; later ones with those found before, on which no answer depends.
    """

    def __init__(
        self, flexibility: Array, reference: Array, ties: Array, law: PlayLaw, rigid: Array, start: Sides
    ) -> None:
        self._flexibility, self._reference, self._ties = flexibility, reference, ties
        self._law, self._rigid, self.start = law, rigid, start
        self._root = np.sqrt(reference)
        self._scaled = self._root[:, None] * flexibility * self._root
        self._tie = ties / reference
        self._lower, self._upper = law.lower * self._root, law.upper * self._root
        self._give = np.maximum(law.compliance * reference, RIGID_COMPLIANCE)
        self._two_way = law.two_way
        self._firm: dict[bytes, bool] = {}
        self._found: dict[bytes, Sides] = {}

    def rows(self, present: NDArray[np.bool_]) -> Index:
        """Numbers (p,) of the restraints that count in a layout: those that it has, and ties that are to be undone."""
        return np.flatnonzero(present | (self._ties > 0.0)).astype(np.int64)

    def solve(
        self, rows: Index, present: NDArray[np.bool_], motion: Array, pushed: Array
    ) -> tuple[Sides, Array, bool]:
        """Find which restraints act in a layout.

        Parameters
        ----------
        rows : ndarray of int, shape (p,)
            Restraints that count, see :meth:`rows`.
        present : ndarray of bool, shape (p,)
            Those of them that the layout has.
        motion : ndarray, shape (p,)
            That the load gives them when they are tied, ribs in place, in m.
        pushed : ndarray, shape (k, p)
            What the ribs take off their flexibility: its square.

        Returns
        -------
        sides : ndarray of int, shape (p,)
        push : ndarray, shape (p,)
            Forces on the panel in N that turn the tied panel's answer into that with the restraints' law.
        held : bool
            Whether the restraints hold the panel.

        Raises
        ------
        SolveError
            If no consistent set is found.
        """
        law = self._bounds(rows, present)
        root = self._root[rows]
        tied = self._scaled[np.ix_(rows, rows)] - (pushed * root).T @ (pushed * root)
        key = rows.tobytes() + present.tobytes()
        first = self._found.get(key, np.where(present, self.start[rows], 0))
        y0, side, seen = root * motion, first, set[bytes]()
        for _ in range(MOST_SETS):
            y, force = self._balance(rows, law, tied, y0, side)
            wanted = _wanted(law, side, y, force)
            if np.array_equal(wanted, side):
                if not self._is_firm(rows, side):
                    break
                self._found[key] = side
                return side, root * (self._tie[rows] * y - force), True
            if side.tobytes() in seen:
                break
            seen.add(side.tobytes())
            side = wanted
        return self._searched(rows, present, motion, pushed)

    def pushes(
        self, rows: Index, present: NDArray[np.bool_], motion: Array, pushed: Array, side: Sides
    ) -> Array:
        """Find forces on the panel (p,) as in :meth:`solve` when the given sides act."""
        root = self._root[rows]
        tied = self._scaled[np.ix_(rows, rows)] - (pushed * root).T @ (pushed * root)
        y, force = self._balance(rows, self._bounds(rows, present), tied, root * motion, side)
        return np.asarray(root * (self._tie[rows] * y - force))

    def _bounds(self, rows: Index, present: NDArray[np.bool_]) -> _Bounds:
        lower = np.where(present, self._lower[rows], -np.inf)
        return _Bounds(lower, np.where(present, self._upper[rows], np.inf), self._two_way[rows] & present)

    def _balance(self, rows: Index, law: _Bounds, tied: Array, y0: Array, side: Sides) -> tuple[Array, Array]:
        """Scaled motions and forces (p,) with a set acting: its forces and the motions of the others are unknown."""
        tie, acting = self._tie[rows], side != 0
        kept = np.flatnonzero(acting | (tie > 0.0))  # the motions of the others follow
        at, give = acting[kept], self._give[rows[kept]]
        bound = np.where(side > 0, law.upper, np.where(side < 0, law.lower, 0.0))[kept]
        inner = tied[:, kept][kept]
        loose = -inner * tie[kept]
        loose.flat[:: len(kept) + 1] += 1.0
        matrix = np.where(at, loose * give + inner, loose)
        unknown = np.linalg.solve(matrix, y0[kept] - loose @ bound)
        force, y = np.zeros(len(rows)), y0.copy()
        force[kept] = np.where(at, unknown, 0.0)
        held = np.where(at, bound + give * unknown, unknown)
        y += tied[:, kept] @ (tie[kept] * held - force[kept])
        y[kept] = held
        return y, force

    def _is_firm(self, rows: Index, side: Sides) -> bool:
        """Whether acting restraints alone hold the panel; remembered."""
        acting = rows[side != 0]
        key = acting.tobytes()
        if key not in self._firm:
            count = self._rigid.shape[1]
            padded = np.vstack([self._rigid[acting], np.zeros((count, count))])
            values = np.linalg.svd(padded, compute_uv=False)
            self._firm[key] = not count or bool(values[count - 1] > LOOSE)
        return self._firm[key]

    def _searched(
        self, rows: Index, present: NDArray[np.bool_], motion: Array, pushed: Array
    ) -> tuple[Sides, Array, bool]:
        law = PlayLaw(self._law.lower[rows], self._law.upper[rows], self._law.compliance[rows])
        flexibility = self._flexibility[np.ix_(rows, rows)] - pushed.T @ pushed
        ties = self._ties[rows]
        problem = PlayProblem(
            flexibility, self._reference[rows], law.without(~present), self._rigid[rows], ties=ties
        )
        state = problem.solve(motion, start=np.where(present, self.start[rows], 0))
        return state.side, ties * state.motion - state.force, state.held


@dataclass(frozen=True)
class _Bounds:
    """Scaled bounds (p,) of the restraints of one layout, and which of them have no play."""

    lower: Array
    upper: Array
    two_way: NDArray[np.bool_]


def _wanted(law: _Bounds, side: Sides, y: Array, force: Array) -> Sides:
    slack = NEGLIGIBLE * max(float(np.abs(y).max(initial=0.0)), float(np.abs(force).max(initial=0.0)))
    opened = side == 0
    wanted = np.where(side * force < -slack, 0, side)
    wanted[opened & (y > law.upper + slack)] = 1
    wanted[opened & (y < law.lower - slack)] = -1
    wanted[law.two_way] = 1
    return wanted
