"""A panel's matrix factorised part by part, so that what changes in one part costs the parts above it alone.

Each part's own unknowns are eliminated by Cholesky's method, and what is left goes to the part above it: substructuring
(Przemieniecki, AIAA Journal 1 (1963) 138-147), in the order of nested dissection the multifrontal method (Duff & Reid,
ACM Trans. Math. Softw. 9 (1983) 302-325).  Unknowns of the ribs' own and the forces of ties belong to no part: they are
carried to the top, where they are found together with what is left there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg.blas import dsyrk
from scipy.linalg.lapack import dpotrf, dtrtri

from splitterfem.errors import SolveError
from splitterfem.fem.carried import Carried, Top
from splitterfem.fem.dissection import Dissection, Part, runs
from splitterfem.fem.eliminated import Eliminated
from splitterfem.fem.factor import SINGULAR, Forward, SuperLUFactor, asked_for
from splitterfem.fem.ties import tied
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Index = NDArray[np.int64]

LARGEST = 50_000
"""Unknowns up to which factors are made part by part: 120 MB are kept of 20 000."""

MOST_CARRIED = 300
"""Unknowns that are carried to the top: those of ribs that slip, and forces of ties."""


@dataclass(frozen=True)
class Front:
    """A part whose own unknowns are eliminated.

    Attributes
    ----------
    inverse : ndarray, shape (p, p)
        Inverse of the Cholesky factor of its own unknowns.
    reach : ndarray, shape (q, p)
        What they take from later unknowns.
    update : ndarray, shape (q, q)
        What is left for these, lower half.
    later : ndarray of int, shape (q,)
        Places of these; carried unknowns have the last places.
    carried : ndarray of int
        Numbers of carried unknowns among these, rising.
    """

    inverse: Array
    reach: Array
    update: Array
    later: Index
    carried: Index


def _union(numbers: list[Index]) -> Index:
    """All numbers of some lists, rising."""
    some = [one for one in numbers if len(one)]
    return np.unique(np.concatenate(some)) if some else np.zeros(0, dtype=np.int64)


def _shifted(places: slice, by: int) -> slice:
    return slice(places.start + by, places.stop + by)


class SubstructuredFactor:
    """Factors of a panel's matrix with ties, part by part.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
        Of the panel's unknowns and, behind them, the ribs' own; zeros of the panel's pattern are stored.
    rows : csr_array, shape (m, n)
        Motions that are tied.
    stiffness : ndarray, shape (m,)
        Of the ties, N/m; none may be zero.
    dissection : Dissection
    like : SubstructuredFactor, optional
        Of a matrix on the same mesh: parts in which nothing is changed are taken from it.

    Attributes
    ----------
    made : int
        Parts that were made for this matrix.

    Raises
    ------
    SolveError
        If the matrix is not positive definite.
    """

    def __init__(
        self,
        matrix: sp.csc_array,
        rows: sp.csr_array,
        stiffness: Array,
        dissection: Dissection,
        *,
        like: SubstructuredFactor | None = None,
    ) -> None:
        self._tied = (matrix, rows, stiffness)
        self._dissection = dissection
        self._carried = Carried(matrix, rows, stiffness, dissection.order)
        n, ends = len(dissection.order), matrix.indptr
        inside = matrix.indices[: ends[n]] < n
        self._entries = matrix.data[: ends[n]] if inside.all() else matrix.data[: ends[n]][inside]
        parts = dissection.parts
        stale = np.ones(len(parts), dtype=bool) if like is None else self._changed(like)
        for number, part in enumerate(parts):
            stale[number] |= any(stale[list(part.below)])
        self.made = int(stale.sum())
        self._scratch = np.zeros(0)
        self._fronts: list[Front] = []
        with one_blas_thread():
            for number, part in enumerate(parts[:-1]):
                old = None if like is None or stale[number] else like._fronts[number]
                self._fronts.append(self._front(part) if old is None else old)
            self._top = Top(self._top_matrix(), len(stiffness))
        del self._scratch

    def _changed(self, like: SubstructuredFactor) -> NDArray[np.bool_]:
        """Whether something of a part's own is not what it is in other factors."""
        dissection = self._dissection
        changed = np.zeros(len(dissection.parts), dtype=bool)
        owners = dissection.owner[np.flatnonzero(self._entries != like._entries)]
        changed[owners[owners >= 0]] = True
        return changed | self._carry_changes(like)

    def _carry_changes(self, like: SubstructuredFactor) -> NDArray[np.bool_]:
        """Whether what a part's own unknowns have to do with carried ones is not what it is in other factors."""
        mine, other, parts = self._carried, like._carried, self._dissection.parts
        if mine.same_places(other):
            columns = mine.columns(mine.block.data != other.block.data)
            ends = np.array([part.last for part in parts])
            changed = np.zeros(len(parts), dtype=bool)
            changed[np.searchsorted(ends, columns, side="right")] = True
            return changed
        same = len(mine) == len(other) and mine.n_own == other.n_own
        met = ((mine.met_by(part), other.met_by(part)) for part in parts)
        return np.array(
            [
                len(now[0]) + len(before[0]) > 0
                and not (same and all(np.array_equal(a, b) for a, b in zip(now, before, strict=True)))
                for now, before in met
            ]
        )

    def _assembled(self, part: Part) -> tuple[Array, Index]:
        """Assemble a part's own unknowns and later ones, (p + q, p + q), and list the carried ones among these."""
        met, columns, values = self._carried.met_by(part)
        below = [self._fronts[number] for number in part.below]
        carried = _union([met, *(front.carried for front in below)])
        if part is self._dissection.parts[-1]:
            carried = np.arange(len(self._carried))
        first = part.last - part.first + len(part.others)
        size = first + len(carried)
        whole = self._zeros(size)
        whole[part.rows, part.columns] = self._entries[part.entries]
        if len(met):
            whole[first + np.searchsorted(carried, met), columns] = values
        for front, onto in zip(below, part.onto, strict=True):
            pairs = list(onto)
            if len(front.carried):
                gap = len(front.later) - len(front.carried)
                more = runs(np.searchsorted(carried, front.carried))
                pairs += [(_shifted(a, gap), _shifted(b, first)) for a, b in more]
            for i, (here, there) in enumerate(pairs):
                for side, beside in pairs[: i + 1]:
                    whole[there, beside] += front.update[here, side]
        return whole, carried

    def _zeros(self, size: int) -> Array:
        """Zeros (size, size) in memory that the next part uses again: fresh memory costs more than the sums in it."""
        if len(self._scratch) < size * size:
            self._scratch = np.empty(size * size)
        zeros = self._scratch[: size * size].reshape(size, size, order="F")
        zeros[:] = 0.0
        return zeros

    def _front(self, part: Part) -> Front:
        """Eliminate a part's own unknowns."""
        whole, carried = self._assembled(part)
        own = part.last - part.first
        lower, wrong = dpotrf(whole[:own, :own], lower=1, clean=1)
        if wrong:
            raise SolveError(SINGULAR)
        inverse = dtrtri(lower, lower=1)[0] if own else lower
        reach = (inverse @ whole[own:, :own].T).T
        update = np.array(whole[own:, own:], order="F")
        if own:
            update = dsyrk(-1.0, reach, beta=1.0, c=update, lower=1, overwrite_c=1)
        later = np.concatenate([part.others, len(self._dissection.order) + carried])
        return Front(inverse, reach, update, later, carried)

    def _top_matrix(self) -> Array:
        """Matrix of the last part's own unknowns and all carried ones, both halves."""
        part = self._dissection.parts[-1]
        whole, _ = self._assembled(part)
        own = part.last - part.first
        whole[own:, own:] += self._carried.corner
        return np.asarray(np.tril(whole) + np.tril(whole, -1).T)

    def solve(self, rhs: Array, *, overwrite: bool = False) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides."""
        return self._back(self._forward(rhs.reshape(len(rhs), -1))).reshape(rhs.shape)

    def eliminated(self, rhs: Array) -> Eliminated:
        """Go up to the top with a right-hand side (n,), where the ties' motions under it are found."""
        return Eliminated(self._forward(rhs[:, None]), self._carried.give, self._top, self._back)

    def _forward(self, columns: Array) -> Array:
        """Go up to the top with right-hand sides (n, k): what is left of them, carried unknowns last."""
        n, carried = len(self._dissection.order), len(self._carried)
        found = np.zeros((n + carried, columns.shape[1]))
        found[:n] = columns[:n][self._dissection.order]
        found[n : n + self._carried.n_own] = columns[n:]
        for part, front in zip(self._dissection.parts[:-1], self._fronts, strict=True):
            own = front.inverse @ found[part.first : part.last]
            found[part.first : part.last] = own
            found[front.later] -= front.reach @ own
        return found

    def flexibility(self) -> Array:
        """Motions of the ties (m, m) under unit forces on them, found at the top alone."""
        give = np.diag(self._carried.give)
        pushed = np.vstack([np.zeros((self._top.size - len(give), len(give))), give])
        motion = give @ (self._top.solve(pushed)[-len(give) :] + np.eye(len(give)))
        return np.asarray(0.5 * (motion + motion.T))

    def influence(self) -> Array:
        """Unknowns (n, m) under unit forces on the ties' rows."""
        n, carried = len(self._dissection.order), len(self._carried)
        found = np.zeros((n + carried, carried - self._carried.n_own))
        ties = np.arange(found.shape[1])
        # What a unit force does to the panel, the same strain of the tie does.
        found[n + self._carried.n_own + ties, ties] = self._carried.give
        return self._back(found)

    def _back(self, found: Array) -> Array:
        """Solve at the top and go back down to the smallest parts, in place; unknowns (n, k) in their own order."""
        parts, n = self._dissection.parts, len(self._dissection.order)
        found[parts[-1].first :] = self._top.solve(found[parts[-1].first :])
        for part, front in zip(reversed(parts[:-1]), reversed(self._fronts), strict=True):
            own = found[part.first : part.last]
            own[:] = front.inverse.T @ (own - front.reach.T @ found[front.later])
        whole = np.empty((n + self._carried.n_own, found.shape[1]), order="F")
        whole[self._dissection.order] = found[:n]
        whole[n:] = found[n : n + self._carried.n_own]
        return whole

    @cached_property
    def lower(self) -> Forward:
        """Lower half of the factors of the whole matrix, made at the first call and kept."""
        return SuperLUFactor(tied(*self._tied)).lower


class Substructures:
    """Matrices on one mesh, factorised part by part: each takes from the last one what is the same.

    Parameters
    ----------
    dissection : Dissection
        Of the mesh.
    """

    def __init__(self, dissection: Dissection) -> None:
        self.dissection = dissection
        self._last: SubstructuredFactor | None = None

    def factorise(self, matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array) -> SubstructuredFactor:
        """Factorise a matrix with ties, see `SubstructuredFactor`."""
        made = SubstructuredFactor(matrix, rows, stiffness, self.dissection, like=self._last)
        self._last = made
        return made


def pays(unknowns: int, carried: int) -> bool:
    """Whether to factorise part by part: what is kept of large meshes fills the memory, and many ties the top.

    Never where the environment names a library, which then factorises the whole.
    """
    return unknowns <= LARGEST and 0 < carried <= MOST_CARRIED and not asked_for()
