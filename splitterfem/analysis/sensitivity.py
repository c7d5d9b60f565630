"""How a measure changes with whatever is added to a solved panel: one adjoint solve.

With the out-of-balance forces ``r(x, p) = 0`` in equilibrium and a measure J(x), ``dJ/dp = -z . dr/dp`` where z solves
the transposed tangent for ``dJ/dx`` (the adjoint method of design sensitivities: Haug, Choi & Komkov, Design
Sensitivity Analysis of Structural Systems, 1986; from memory).  The same supports, and the same places of the ground,
go on acting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.balance import balance_of
from splitterfem.analysis.linearised import held_stiffness, ribs_of
from splitterfem.analysis.measures import (
    Asked,
    Measure,
    OwnMeasure,
    Slopes,
    caution,
    fall,
    measured,
)
from splitterfem.analysis.modes import LOWEST, sheet_mass
from splitterfem.analysis.solution import Solution
from splitterfem.design.combine import parts_of
from splitterfem.fem.feedback import Slope, fed_back
from splitterfem.fem.mass import mass_matrix
from splitterfem.fem.modes import Eigenpairs, vibration
from splitterfem.fem.places import Places
from splitterfem.fem.supported import SupportedMatrix
from splitterfem.fem.ties import BLOCK
from splitterfem.model.feedback_adjoint import transposed_slope
from splitterfem.model.loads import acceleration_felt

Array = NDArray[np.float64]
Sides = NDArray[np.int64]

NEIGHBOUR = 0.02
"""Distance of the second natural frequency, over the first, within which the two are taken for neighbours."""


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """A measure of a solved panel and what it takes to differentiate it by anything.

    Attributes
    ----------
    solution : Solution
    measure : Measure
    state : ndarray, shape (n_dofs,)
        The panel's unknowns whose strains the added stiffness works on.
    adjoint : ndarray, shape (n_dofs,)
        The panel's unknowns under the derivative of what is to fall.
    large : bool
        Whether slopes stretch the panel in the state.
    felt : ndarray, shape (3,)
        Field of acceleration in m/s2 that the mass of what is added feels.
    square : float
        Square of the angular frequency with which that mass swings, 1/s2; zero at rest.
    forces, adjoint_forces : ndarray, shape (m,)
        Forces of state and adjoint on the restraints of the structure that are left, in their order.
    notes : tuple of str
        What the derivative covers and what it does not, in sentences.
    """

    solution: Solution
    measure: Measure
    state: Array
    adjoint: Array
    large: bool
    felt: Array
    square: float
    forces: Array
    adjoint_forces: Array
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Tangent:
    """Stiffness of a solved panel against small changes.

    Attributes
    ----------
    held : SupportedMatrix
        With supports, and the places of the ground that touch.
    side : ndarray of int, shape (m,)
        Which of these act.
    transposed : callable or None
        Transposed derivative of the air that follows the sag, on all unknowns.
    """

    held: SupportedMatrix
    side: Sides
    transposed: Slope | None

    def adjoint(self, gradients: Array, by_forces: Array | None = None) -> tuple[Array, Array]:
        """Unknowns (n, k) under derivatives (n, k) of measures, and forces (m, k) on the restraints.

        Measures that depend on the forces on the restraints as well have derivatives (m, k) by these: misses of the
        bounds, with the sign changed.
        """
        miss = None if by_forces is None else -by_forces
        if self.transposed is None:
            return self.answers(gradients, miss=miss)
        loads = gradients.copy()
        if miss is not None:
            for load, first in zip(loads.T, self.answers(np.zeros_like(loads), miss=miss)[0].T, strict=True):
                load += self.transposed(first)
        for load in loads.T:
            load += self.transposed(fed_back(self.held, self.side, self.transposed, load))
        return self.answers(loads, miss=miss)

    def answers(self, loads: Array, *, miss: Array | None = None) -> tuple[Array, Array]:
        """Change of the unknowns (n, k) and of the forces on the restraints (m, k) with changes of the load (n, k).

        The air, if it follows, stays as it is.  A miss (m, k) of the bounds that act, in m, is undone as well.
        """
        held, first = self.held, self.held.influence.shape[1]
        tied = np.hstack([held.tied_answer(block) for block in _blocks(loads)])
        missed = np.zeros((len(self.side), loads.shape[1])) if miss is None else miss
        pairs = [
            held.play.correct(self.side, motion, away)
            for motion, away in zip((held.rows @ tied).T, missed.T, strict=True)
        ]
        force = np.column_stack([force for _, force in pairs])
        push = held.ties[:, None] * np.column_stack([motion for motion, _ in pairs]) - force
        found = tied + held.influence @ push[:first]
        if len(push) > first:
            further = sp.csr_array(held.rows[first:]).T @ push[first:]
            found += np.hstack([held.tied_answer(block) for block in _blocks(further)])
        return found, force


def tangent_of(of: Sensitivity) -> Tangent:
    """Linearise what a measure was differentiated of: for vibrations the panel on its supports, no ground, no air."""
    if of.square == 0.0:
        return linearised(of.solution)
    structure = of.solution.model.structure
    side = np.zeros(structure.base.rows.shape[0], dtype=np.int64)
    side[structure.acting_rows] = of.solution.response.side
    return Tangent(structure.base, side, None)


def falling(solution: Solution, tangent: Tangent, slopes: list[Slopes]) -> tuple[Array, Array]:
    """Gather derivatives by the unknowns (n, k) and by the forces on all restraints of the tangent (m, k)."""
    response, acting = solution.response, solution.model.structure.acting_rows
    by_forces = np.zeros((len(tangent.side), len(slopes)))
    by_forces[acting] = np.column_stack([one.by_forces for one in slopes]) * (response.side != 0)[:, None]
    return np.column_stack([one.by_unknowns for one in slopes]), by_forces


def linearised(solution: Solution) -> Tangent:
    """Linearise a solution: supports and ground that act go on acting."""
    model, response = solution.model, solution.response
    structure, n = model.structure, model.panel.space.n_dofs
    balance = balance_of(model, solution.case, solution.load, solution.follower)
    held = balance.stiffness_at(np.concatenate([response.x, response.extra]))
    side = np.zeros(structure.base.rows.shape[0], dtype=np.int64)
    side[structure.acting_rows] = response.side
    touching = np.flatnonzero(response.ground > 0.0).astype(np.int64)
    if balance.obstacle is not None and len(touching):
        held = Places(structure, balance.obstacle).watching(held, touching)
        side = np.concatenate([side, np.full(len(touching), -1, dtype=np.int64)])
    if solution.follower is None:
        return Tangent(held, side, None)
    by_panel = transposed_slope(solution.follower, response.x)
    return Tangent(held, side, lambda v: structure.with_extra(by_panel(v[:n])))


def sensitivity(solution: Solution, which: Asked) -> Sensitivity:
    """Differentiate a measure of a solved load case.

    Parameters
    ----------
    solution : Solution
    which : str, (x, y) or OwnMeasure
        See :func:`splitterfem.analysis.measures.measured`.

    Raises
    ------
    DesignError
        As that.
    SolveError
        If the air gives the sag back whole, or the modes do not converge.
    """
    if isinstance(which, str) and which == "first frequency":
        return _of_frequency(solution)
    model, response, tangent = solution.model, solution.response, linearised(solution)
    slopes = which.slopes(solution) if isinstance(which, OwnMeasure) else _slopes(solution, which)
    z, force = (found[:, 0] for found in tangent.adjoint(*falling(solution, tangent, [slopes])))
    felt = acceleration_felt(solution.case)
    for part, factor in parts_of(solution.case, model.design):
        felt = felt - factor * np.asarray(part.acceleration, dtype=float)
    return Sensitivity(
        solution=solution,
        measure=slopes.measure,
        state=response.x,
        adjoint=z[: model.panel.space.n_dofs],
        large=response.large,
        felt=felt,
        square=0.0,
        forces=response.force,
        adjoint_forces=force[model.structure.acting_rows],
        notes=slopes.notes,
    )


def _slopes(solution: Solution, which: Asked) -> Slopes:
    measure = measured(solution, which)
    falling = solution.model.structure.with_extra(fall(solution, measure))
    return Slopes(measure, falling, np.zeros(len(solution.response.force)), caution(solution, measure))


def lowest_modes(solution: Solution, count: int) -> tuple[Eigenpairs, sp.csc_array]:
    """Lowest natural vibrations about a load case as for its natural frequencies, and the mass matrix."""
    model = solution.model
    mass = mass_matrix(model.panel, sheet_mass(model), ribs_of(model), n_extra=model.structure.n_extra)
    found = vibration(held_stiffness(solution), mass, model.structure.free, count, shift=LOWEST)
    return found, mass


def _of_frequency(solution: Solution) -> Sensitivity:
    """Differentiate the first natural frequency.

    With ``K v = omega^2 M v`` and a modal mass of one, ``d(omega^2) = v . (dK - omega^2 dM) v`` (Fox & Kapoor, AIAA J.
    6 (1968) 2426-2429; from memory); the frequency is ``omega / (2 pi)``.
    """
    model = solution.model
    found, mass = lowest_modes(solution, 2)
    square, second = (float(value) for value in found.values[:2])
    frequency = float(np.sqrt(square)) / (2.0 * np.pi)
    shape = found.shapes[:, 0]
    forces = _pulled(solution, square * (mass @ shape) - model.structure.matrix @ shape)
    panel, share = shape[: model.panel.space.n_dofs], 1.0 / (8.0 * np.pi**2 * frequency)
    notes: tuple[str, ...] = ("Struts and fixings have no mass of their own.",)
    if np.sqrt(second / square) < 1.0 + NEIGHBOUR:
        notes += (
            f"The second natural frequency, {np.sqrt(second) / (2.0 * np.pi):.1f} Hz, is next to the first, "
            f"{frequency:.1f} Hz: where the second is the lower one with the rib, the gain is less.",
        )
    return Sensitivity(
        solution=solution,
        measure=Measure("first frequency", "frequency", frequency, rising=True),
        state=panel,
        adjoint=share * panel,
        large=False,
        felt=np.zeros(3),
        square=square,
        forces=forces,
        adjoint_forces=share * forces,
        notes=notes,
    )


def _pulled(solution: Solution, load: Array) -> Array:
    """Find the forces (k,) on the restraints that are left, of which those that act balance a load (n,)."""
    structure, side = solution.model.structure, solution.response.side
    acting = np.flatnonzero(side != 0)
    rows = sp.csr_array(structure.rows[structure.acting_rows[acting]])
    forces = np.zeros(len(side))
    forces[acting] = np.linalg.lstsq((rows @ rows.T).toarray(), rows @ load, rcond=None)[0]
    return forces


def _blocks(loads: Array) -> list[Array]:
    """Cut loads into blocks that stay in the cache when they are solved for."""
    return [loads[:, first : first + BLOCK] for first in range(0, loads.shape[1], BLOCK)]
