"""Many layouts of ribs on one panel, by the force method: from one factorisation to a small dense system each.

A rib of stiffness ``K_r`` on a panel of flexibility H pushes on it with ``-K_r x``.  With motions ``U`` that strain it
by one unit of energy each, ``U' K_r U = 1``, it can pass on the forces ``P = K_r U``, and a layout's unknowns are how
much of each it does: ``(1 + P' H P) c = P' H f``, after which ``x = H (f - P c)`` (Woodbury 1950).  With all motions of
all ribs that is exact.  With few it is the force method with few shapes of stress, which makes ribs a little too soft
(principle of least complementary energy), so that the shapes decide: they are those strains that a rib has when it is
on the panel alone and meets the load case, what the supports push, and the forces that every other rib would pass on.

Those strains are found in two steps: a guess with few of them, at first polynomials along the rib, whose influence is
solved for on the whole panel, and an exact solve of the panel and the rib on a patch around it, for what elements, ends
and crossings do to them (one step of Schwarz' alternating method; Toselli & Widlund, Domain Decomposition Methods,
2005, chapter 1; from memory).  Of the strains under random combinations of all that the rib may meet the largest
singular vectors are kept (Halko, Martinsson & Tropp, SIAM Rev. 53 (2011) 217-288; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import factorise
from splitterfem.fem.stiffener import Stiffener
from splitterfem.fem.structure import Structure
from splitterfem.fem.ties import BLOCK, submatrix, tied

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PASSED = 16
"""Fields by which each rib is felt by the others when their shapes are sought."""

GENERATIONS = 2
"""Times that shapes are sought, the second time with those of the first as the guess."""

TRAINED = 3
"""Random combinations of what a rib meets, over the number of shapes that are kept."""

RINGS = 3
"""Rows of elements around a rib that its patch has."""

SEED = 20110604
"""Of the random combinations, so that the same library comes out each time."""

DEPENDENT = 1e-10
"""Singular values below this share of the largest are those of strains that the others contain."""


@dataclass(frozen=True, eq=False)
class Met:
    """What the ribs of a library meet besides one another, as motions of the bare panel in the restraints that act.

    Attributes
    ----------
    load : ndarray, shape (n,)
        Under the load case.
    pushes : ndarray, shape (n, m)
        Under a unit force on each restraint.
    weights : ndarray, shape (n, r)
        Under the load of each rib's own mass.
    size : float
        Force in N of which the restraints' changes are, about.
    """

    load: Array
    pushes: Array
    weights: Array
    size: float


class Influence:
    """Flexibility of a bare panel in those of its restraints that act under the load case.

    Parameters
    ----------
    structure : Structure
        Its own ribs, if any, are part of the panel.
    acting : ndarray of bool, shape (m,)
        Restraints that are tied; together they hold the panel.

    Attributes
    ----------
    n : int
        Number of the panel's unknowns.
    ties : ndarray, shape (m,)
        Stiffness with which each restraint is tied, N/m; zero for those that do not act.
    """

    def __init__(self, structure: Structure, acting: NDArray[np.bool_]) -> None:
        base = structure.base
        self.n, self.ties = structure.panel.space.n_dofs, np.where(acting, base.reference, 0.0)
        matrix, self._free = tied(base.matrix, base.rows, self.ties), structure.free
        self._factor = factorise(submatrix(matrix, self._free))
        self._tied = sp.csr_array(matrix)
        self._pattern = sp.csr_array(self._tied[: self.n][:, : self.n] != 0).astype(np.float32)

    def of(self, dofs: Index, forces: Array) -> Array:
        """Motions (n, k) of the panel under forces (t, k) on some of its unknowns (t,)."""
        found = np.empty((self.n, forces.shape[1]))
        whole = np.zeros((self._tied.shape[0], min(BLOCK, forces.shape[1])))
        for first in range(0, forces.shape[1], BLOCK):
            block = forces[:, first : first + BLOCK]
            whole[dofs, : block.shape[1]] = block
            answer = self._factor.solve(whole[self._free, : block.shape[1]])
            moved = np.zeros((len(whole), block.shape[1]))
            moved[self._free] = answer
            found[:, first : first + block.shape[1]] = moved[: self.n]
        return found

    def under(self, loads: Array) -> Array:
        """Motions (n, k) of the panel under loads (n, k)."""
        return self.of(np.arange(self.n, dtype=np.int64), loads)

    def patch(self, rib: Stiffener) -> tuple[Index, sp.csc_array]:
        """Unknowns (p,) around a rib, and the stiffness of panel and rib on them with all others held."""
        near = np.zeros(self.n, dtype=bool)
        near[rib.dofs] = True
        for _ in range(RINGS):
            near = (self._pattern @ near.astype(np.float32)) > 0.0
        near[np.setdiff1d(np.arange(self.n), self._free)] = False
        dofs = np.flatnonzero(near).astype(np.int64)
        place = np.searchsorted(dofs, rib.dofs)
        t = len(rib.dofs)
        own = (rib.matrix.ravel(), (np.repeat(place, t), np.tile(place, t)))
        added = sp.coo_array(own, shape=(len(dofs), len(dofs)))
        return dofs, sp.csc_array(self._tied[dofs][:, dofs] + added)


@dataclass(frozen=True, eq=False)
class Guess:
    """A rib's answer with a few strains alone.

    Attributes
    ----------
    forces : ndarray, shape (t, q)
        That it passes on by each of them.
    give : ndarray, shape (q, q)
        ``1 + F`` among them.
    answer : ndarray, shape (t, q)
        Motions of the panel under the rib by each.
    """

    forces: Array
    give: Array
    answer: Array

    def amounts(self, met: Array) -> Array:
        """How much (q, k) of each strain there is when the panel under the rib would move by ``met`` (t, k)."""
        return np.asarray(np.linalg.solve(self.give, self.forces.T @ met))


def shapes_of(
    influence: Influence,
    ribs: Sequence[Stiffener],
    met: Met,
    *,
    count: Sequence[int],
    together: NDArray[np.bool_],
) -> list[Array]:
    """Find motions (t, k) of each rib, each with an energy of one half, by which its strains are sought.

    Parameters
    ----------
    influence : Influence
    ribs : sequence of Stiffener
    met : Met
    count : sequence of int
        Most of them for each rib.
    together : ndarray of bool, shape (r, r)
        Which ribs may be on the panel at once.
    """
    motions = [_smooth(rib) for rib in ribs]
    passed = np.zeros((influence.n, 0))
    owners = np.zeros(0, dtype=np.int64)
    rng = np.random.default_rng(SEED)
    for _ in range(GENERATIONS):
        guesses, fields = [], []
        for number, (rib, shapes) in enumerate(zip(ribs, motions, strict=True)):
            guess, answer = _guessed(influence, rib, shapes)
            felt = np.hstack([_meets(rib, met, number), passed[rib.dofs][:, together[number][owners]]])
            left, size, _ = np.linalg.svd(guess.amounts(felt), full_matrices=False)
            guesses.append(guess)
            fields.append(answer @ (left[:, :PASSED] * size[:PASSED]))
        passed = np.hstack(fields)
        owners = np.repeat(np.arange(len(ribs)), [field.shape[1] for field in fields])
        for number, (rib, guess, most) in enumerate(zip(ribs, guesses, count, strict=True)):
            sources = np.hstack([_meets(rib, met, number), passed[rib.dofs][:, together[number][owners]]])
            mixed = sources @ rng.standard_normal((sources.shape[1], TRAINED * most))
            sources = np.hstack([sources[:, :1], mixed / np.sqrt(TRAINED * most)])
            motions[number] = _largest(rib, _alone(influence, rib, guess, sources), most)
    return motions


def _smooth(rib: Stiffener) -> Array:
    """Motions (t, q) that strain a rib smoothly, each with an energy of one half."""
    strain = rib.guess.T @ rib.matrix @ rib.guess
    scale = 1.0 / np.sqrt(np.maximum(strain.diagonal(), 1e-300))
    values, vectors = np.linalg.eigh(scale[:, None] * strain * scale)
    kept = values > 1e-9 * values[-1]
    return np.asarray(rib.guess @ (scale[:, None] * vectors[:, kept] / np.sqrt(values[kept])))


def _guessed(influence: Influence, rib: Stiffener, motions: Array) -> tuple[Guess, Array]:
    """Rib with a few strains alone, and the motions (n, q) of the panel by each of them."""
    forces = rib.matrix @ motions
    answer = influence.of(rib.dofs, forces)
    under = answer[rib.dofs]
    return Guess(forces, np.eye(forces.shape[1]) + forces.T @ under, under), answer


def _meets(rib: Stiffener, met: Met, number: int) -> Array:
    """Motions (t, 1 + m) that load and supports would give the panel under a rib, by their size."""
    load = met.load + met.weights[:, number]
    return np.column_stack([load[rib.dofs], met.size * met.pushes[rib.dofs]])


def _alone(influence: Influence, rib: Stiffener, guess: Guess, met: Array) -> Array:
    """Motions (t, k) under a rib that is alone on the panel, which without it would move by ``met`` (t, k)."""
    amounts = guess.amounts(met)
    moved = met - guess.answer @ amounts
    dofs, matrix = influence.patch(rib)
    place = np.searchsorted(dofs, rib.dofs)
    left = np.zeros((len(dofs), met.shape[1]))
    left[place] = guess.forces @ amounts - rib.matrix @ moved
    return np.asarray(moved + factorise(matrix).solve(left)[place])


def _largest(rib: Stiffener, motions: Array, most: int) -> Array:
    """Find combinations (t, k) of motions (t, j) with most of their strain energy, each with an energy of one half."""
    strain = motions.T @ (rib.matrix @ motions)
    values, vectors = np.linalg.eigh(0.5 * (strain + strain.T))
    kept = np.flatnonzero(values > DEPENDENT * values[-1])[::-1][:most]
    return np.asarray(motions @ (vectors[:, kept] / np.sqrt(values[kept])))
