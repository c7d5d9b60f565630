"""Panel, ribs and restraints together: factorised once, solved for many loads."""

from __future__ import annotations

import time
from copy import copy

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import DesignError, MechanismError, nearest
from splitterfem.fem.answer_checks import absolute_product, energy_gap, refuse_wrong
from splitterfem.fem.contribution import Contribution, assemble
from splitterfem.fem.factor import Factor
from splitterfem.fem.panel import Panel
from splitterfem.fem.play import PlayLaw, PlayState
from splitterfem.fem.response import Response
from splitterfem.fem.restraint import Restraint
from splitterfem.fem.rigid import (
    NEGLIGIBLE,
    balanced,
    followed_motions,
    free_motions,
    mechanism_message,
    rigid_motions,
)
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]


class Structure:
    """Stiffness of panel, ribs and restraints, ready to be solved.

    A support can be taken away without a new factorisation, see :meth:`without`.

    Parameters
    ----------
    panel : Panel
    restraints : sequence of Restraint
    contributions : sequence of Contribution
        Ribs.
    n_extra : int
        Number of unknowns of the ribs' own; they follow the panel's in every vector here.
    fixed : ndarray of int, optional
        Unknowns held at zero, for textbook edges (see ``PanelSpace.dofs_of``).
    repeated : bool
        Whether this is a second structure on a mesh, and others follow: each takes of the last one's factors what has
        not changed.

    Raises
    ------
    MechanismError
        If the panel can move as a rigid body with every restraint acting.
    """

    def __init__(
        self,
        panel: Panel,
        restraints: tuple[Restraint, ...] = (),
        *,
        contributions: tuple[Contribution, ...] = (),
        n_extra: int = 0,
        fixed: Index | None = None,
        repeated: bool = False,
    ) -> None:
        self.panel = panel
        self.restraints = self._tied = restraints
        self._here = np.ones(len(restraints), dtype=bool)
        self.seconds: dict[str, float] = {}
        self.n_extra = n_extra
        n = panel.space.n_dofs + n_extra
        self.fixed = np.zeros(0, dtype=np.int64) if fixed is None else np.unique(fixed)
        self.free = np.setdiff1d(np.arange(n), self.fixed)
        rows = [restraint.row for restraint in restraints]
        stacked = sp.vstack(rows) if rows else sp.csr_array((0, panel.space.n_dofs))
        self.rows = sp.csr_array(sp.hstack([stacked, sp.csr_array((len(rows), n_extra))]))
        self.check_held(self._here, when="")
        start = time.perf_counter()
        self.matrix = assemble(panel, contributions, n_extra)
        self.seconds["assembly"] = time.perf_counter() - start
        self._motions = followed_motions(panel.space, self.matrix)
        law = PlayLaw(
            np.array([r.lower for r in restraints]),
            np.array([r.upper for r in restraints]),
            np.array([r.compliance for r in restraints]),
        )
        self.base = SupportedMatrix(
            self.matrix,
            self.rows,
            law,
            free=self.free,
            rigid=self.rigid_stretch(self.rows),
            motions=self._motions,
            by=self._refactored if repeated and not len(self.fixed) else None,
        )
        self.seconds |= self.base.seconds

    def _refactored(self, matrix: sp.csc_array, rows: sp.csr_array, stiffness: Array) -> Factor:
        space = self.panel.space
        return space.refactoring.factorise(
            matrix, rows, stiffness, n_extra=self.n_extra, substructures=lambda: space.substructures
        )

    def without(self, support: str) -> Structure:
        """Return the same structure with all restraints of one support lost, on the same factorised matrix.

        The tie of a lost restraint stays in the matrix and is undone exactly like every other, with bounds that no
        motion reaches: its force is zero.  Responses list the restraints that are left.

        Raises
        ------
        DesignError
            If there is no such support.
        MechanismError
            If the panel can move as a rigid body with every restraint that is left acting.
        """
        names = {restraint.support for restraint in self.restraints}
        if support not in names:
            known = nearest(support, names) if names else "there are none"
            raise DesignError(f"There is no support '{support}' that could be lost; {known}")
        here = self._here & np.array([restraint.support != support for restraint in self._tied])
        self.check_held(here, when="")
        rest = copy(self)
        rest._here = here
        rest.restraints = tuple(restraint for restraint, left in zip(self._tied, here, strict=True) if left)
        rest.base = self.base.with_law(self.base.play.law.without(~here))
        return rest

    def close_by(
        self, panel: Panel, restraints: tuple[Restraint, ...], contributions: tuple[Contribution, ...]
    ) -> Structure:
        """Return stiffness and restraints after a small change, of which nothing is factorised.

        Parameters
        ----------
        panel : Panel
            On the same mesh.
        restraints : tuple of Restraint
            As many as are left here, in their order.
        contributions : tuple of Contribution
            Ribs, with as many unknowns of their own.
        """
        other = copy(self)
        del other.base
        other.panel, other.restraints = panel, restraints
        other.matrix = assemble(panel, contributions, self.n_extra)
        other._motions = followed_motions(panel.space, other.matrix)
        return other

    @property
    def acting_rows(self) -> Index:
        """Numbers among ``rows`` of the restraints that are left, in their order, shape (m,)."""
        return np.flatnonzero(self._here).astype(np.int64)

    def rigid_stretch(self, rows: sp.csr_array) -> Array:
        """Motions that rows (m, n) measure under the rigid motions that the fixed unknowns leave, shape (m, k)."""
        motions = self._motions
        if len(self.fixed):
            _, values, vectors = np.linalg.svd(
                np.vstack([motions[self.fixed], np.zeros((6, 6))]), full_matrices=False
            )
            motions = motions @ vectors[values[:6] <= NEGLIGIBLE].T
        return np.asarray(rows @ motions)

    def internal(self, x: Array) -> Array:
        """Find the forces (n,) of panel and ribs under unknowns (n,); they do no work on rigid motions."""
        return balanced(self.matrix @ x, self._motions)

    def with_extra(self, panel_part: Array) -> Array:
        """Return vectors of the panel's unknowns with zeros for the ribs' own, which no support or load touches."""
        return np.concatenate([panel_part, np.zeros((self.n_extra, *panel_part.shape[1:]))])

    def check_held(self, acting: NDArray[np.bool_], *, when: str) -> None:
        """Refuse supports that let the panel move as a rigid body.

        Parameters
        ----------
        acting : ndarray of bool, shape (m,)
            Rows that act, those of lost restraints included.
        when : str
            In which situation, for the message.

        Raises
        ------
        MechanismError
            Naming the motion that is free, and what would stop it.
        """
        space = self.panel.space
        rows = self.rows[np.flatnonzero(acting), : space.n_dofs]
        if len(self.fixed):
            count = len(self.fixed)
            pick = sp.csr_array((np.ones(count), (np.arange(count), self.fixed)), shape=(count, space.n_dofs))
            rows = sp.vstack([rows, pick])
        free = free_motions(space, sp.csr_array(rows))
        if free:
            raise MechanismError(mechanism_message(free, when=when))

    def refuse_loose(self, state: PlayState) -> None:
        """Refuse a state in which nothing holds the panel.

        Raises
        ------
        MechanismError
            Saying whether the load lifts it off its supports or leaves it floating among them.
        """
        if state.held:
            return
        why = "because the load lifts it off its supports"
        if not np.any(state.way):
            why = "because the load leaves it floating in the play of its supports"
        self.check_held(state.side[: self.base.rows.shape[0]] != 0, when=f" under this load, {why}")

    def solve(self, load: Array) -> Response:
        """Solve for a load vector (n_dofs,) in N (N m for rotations).

        Raises
        ------
        MechanismError
            If the supports that touch under this load do not hold the panel.
        SolveError
            If the answer fails its own residual or equilibrium test.
        """
        start = time.perf_counter()
        load = self.with_extra(load)
        x, state = self.base.solve(load)
        self.refuse_loose(state)
        x, state = self.base.polished(load, x, state)
        force = state.force
        reaction, internal = self.rows.T @ force, self.internal(x)
        response = Response(
            x=x[: self.panel.space.n_dofs],
            extra=x[self.panel.space.n_dofs :],
            motion=(self.rows @ x)[self._here],
            force=force[self._here],
            side=state.side[self._here],
            residual=self.residual(load, x, reaction, internal),
            play_residual=state.residual,
            imbalance=self.imbalance(load, x, reaction, internal),
            energy_gap=energy_gap(load, x, reaction, internal),
            correction=state.correction,
            steps=state.steps,
            seconds=time.perf_counter() - start,
        )
        self.check(response)
        return response

    def residual(self, load: Array, x: Array, reaction: Array, internal: Array) -> float:
        """Out-of-balance nodal forces over the absolute ones, all of shape (n,): normwise backward error.

        What `internal` takes away is among them: of a sound stiffness it is rounding.
        """
        raw = self.matrix @ x
        taken = raw - balanced(raw, self._motions)
        out = (load - internal - taken - reaction)[self.free]
        scale = float(np.linalg.norm(absolute_product(self.matrix, x) + np.abs(load) + np.abs(reaction)))
        return float(np.linalg.norm(out)) / max(scale, 1e-300)

    def imbalance(
        self, load: Array, x: Array, reaction: Array, internal: Array, *, large: bool = False
    ) -> float:
        """Largest of the six sums of loads and reactions, dimensionless, from vectors of shape (n,).

        Parameters
        ----------
        load, x, reaction, internal : ndarray, shape (n,)
            Loads, unknowns, forces on the restraints, and what the stiffness answers to the unknowns.
        large : bool
            Whether moments are taken about places of the deflected panel, as von Karman's strains demand.
        """
        space = self.panel.space
        held = np.zeros_like(load)
        held[self.fixed] = (internal - load + reaction)[self.fixed]
        x_nodes, y_nodes = space.node_points
        size = float(np.hypot(np.ptp(x_nodes), np.ptp(y_nodes)))
        height = x[2 : space.n_dofs : 5] if large else None
        motions = rigid_motions(space, height=height) / np.array([1.0, 1.0, 1.0, size, size, size])
        sums = motions.T @ (load - reaction + held)[: space.n_dofs]
        forces = load[: space.n_dofs].reshape(-1, 5)[:, :3]
        scale = max(float(np.abs(forces).sum()), float(np.abs(reaction).max(initial=0.0)), 1e-300)
        return float(np.abs(sums).max()) / scale

    def check(self, response: Response) -> None:
        """Refuse an answer that misses its own tests, see `refuse_wrong`."""
        refuse_wrong(response, slipping=self.n_extra > 0)
