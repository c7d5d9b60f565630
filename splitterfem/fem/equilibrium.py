"""Equilibrium where forces are not proportional to loads: large deflection, loads that follow it, supports, ground.

Newton's method.  Every step solves the tangent stiffness with the exact law of all supports and of the ground, so that
what touches is found anew in each.  A load that follows the deflection enters the same step with its derivative: that
is neither symmetric nor sparse, so GMRES solves for it with the factorised tangent as preconditioner, on the supports
that act.  A step is taken as far as the out-of-balance forces do no more work along it, and a load that does not
converge is put on in smaller parts.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.answer_checks import energy_gap
from splitterfem.fem.feedback import EndlessFeedbackError, Slope, touching
from splitterfem.fem.follower import Follower
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.newtonstep import PARTS, no_equilibrium, share_of_step
from splitterfem.fem.places import Obstacle, Places
from splitterfem.fem.play import PlayState
from splitterfem.fem.response import NewtonReport, Response
from splitterfem.fem.structure import Structure
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]

TOLERANCE = 1e-9
"""Out-of-balance forces over the loads at which a load step is done."""

ROUNDED = 1e-15
"""Normwise backward error below which out-of-balance forces are nothing but rounding."""

MOST_ITERATIONS = 25
MOST_ROUNDS = 60
SMALLEST_STEP = 1.0 / 256.0


@dataclass
class Balance:
    """A structure with everything that makes it nonlinear.

    Parameters
    ----------
    structure : Structure
    load : ndarray, shape (n_dofs,)
        Load at rest in N (N m for rotations).
    large : LargeDeflection, optional
        Of the same structure, when slopes are to stretch it.
    follower : Follower, optional
        Load that the deflection adds.
    obstacle : Obstacle, optional
        The ground.
    watched : ndarray of int
        Places of the ground among the restraints: those to begin with, such as places that touch under a similar load,
        and more with every search.  The answer does not depend on the first ones.
    """

    structure: Structure
    load: Array
    large: LargeDeflection | None = None
    follower: Follower | None = None
    obstacle: Obstacle | None = None
    watched: Index = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    _whole: Array = field(init=False, repr=False)
    _held: SupportedMatrix = field(init=False, repr=False)
    _places: Places | None = field(init=False, repr=False)
    _loose: PlayState | None = field(init=False, default=None, repr=False)

    def __post_init__(self) -> None:
        self._whole = self.structure.with_extra(self.load)
        self._places = None if self.obstacle is None else Places(self.structure, self.obstacle)
        self._held = self._with_ground(self.structure.base)

    def solve(self, *, start: Array | None = None) -> Response:
        """Find the equilibrium.

        Parameters
        ----------
        start : ndarray, shape (n,), optional
            Unknowns to start from, those of the ribs' own behind the panel's; those of a smaller load, for example.

        Raises
        ------
        MechanismError
            If the supports that touch under this load do not hold the panel.
        SolveError
            If no equilibrium is found, however small the parts in which the load is put on, or the answer fails its
            own tests.
        """
        begun = time.perf_counter()
        x = np.zeros_like(self._whole) if start is None else start.copy()
        reaction = np.zeros(self.structure.base.rows.shape[0])
        done, step, history = 0.0, 1.0, list[tuple[float, ...]]()
        state: PlayState | None = None
        while done < 1.0:
            share = min(1.0, done + step)
            found = self._newton(share, x, reaction)
            if found is None:
                step *= 0.5
                if step < SMALLEST_STEP or self._proportional:
                    self._give_up(done)
                continue
            x, reaction, state, steps = found
            history.append(steps)
            done, step = share, 2.0 * step
        assert state is not None
        report = NewtonReport(len(history), tuple(history))
        response = self._response(x, reaction, state, report, begun)
        self.structure.check(response)
        return response

    @cached_property
    def _weight(self) -> Array:
        return np.asarray(1.0 / np.sqrt(self.structure.matrix.diagonal()))

    def stiffness_at(self, x: Array) -> SupportedMatrix:
        """Tangent stiffness at unknowns (n,) in its supports, those places of the ground included that are watched."""
        if self.large is None:
            return self._held
        base = self.structure.base
        held = SupportedMatrix(
            self.large.tangent(x),
            base.rows,
            base.play.law,
            free=base.free,
            rigid=base.play.rigid,
            reference=base.reference,
        )
        return self._with_ground(held)

    def _with_ground(self, held: SupportedMatrix) -> SupportedMatrix:
        """Return a matrix in its supports with the watched places of the ground among them."""
        if self._places is None or not len(self.watched):
            return held
        return self._places.watching(held, self.watched)

    def slope_at(self, x: Array, share: float = 1.0) -> Slope | None:
        """Return the derivative of the load by all unknowns (n,) at ``x``; None when the load does not follow."""
        if self.follower is None:
            return None
        n = self.structure.panel.space.n_dofs
        by_panel = self.follower.slope(x[:n])
        return lambda step: share * self.structure.with_extra(by_panel(step[:n]))

    @property
    def _proportional(self) -> bool:
        return self.large is None and self.follower is None

    def _loaded(self, x: Array, share: float) -> Array:
        if self.follower is None:
            return share * self._whole
        n = self.structure.panel.space.n_dofs
        return share * (self._whole + self.structure.with_extra(self.follower.load(x[:n])))

    def _internal(self, x: Array) -> Array:
        return np.asarray(self.structure.internal(x) if self.large is None else self.large.internal(x))

    def _newton(
        self, share: float, x: Array, reaction: Array
    ) -> tuple[Array, Array, PlayState, tuple[float, ...]] | None:
        """Iterate from (x, reaction) to the equilibrium under a share of the load; None when it does not come."""
        scale = 1.0 if self._proportional else self._size(share * self._whole)
        residuals: list[float] = []
        for _ in range(MOST_ITERATIONS):
            try:
                found = self._step(x, share)
            except EndlessFeedbackError:
                return None
            if found is None:
                return None
            wanted, state, held = found
            reaction = np.concatenate([reaction, np.zeros(len(state.force) - len(reaction))])
            part = self._share(held, share, (x, reaction), (wanted - x, state.force - reaction))
            x, reaction = x + part * (wanted - x), reaction + part * (state.force - reaction)
            if self._proportional:
                return x, reaction, state, ()
            out = self._out(held, share, x, reaction)
            residuals.append(self._size(out) / scale)
            if not np.isfinite(residuals[-1]) or (len(residuals) > 3 and residuals[-1] > 1e3 * residuals[0]):
                return None
            stuck = len(residuals) > 1 and residuals[-1] > 0.1 * residuals[-2]
            if part == 1.0 and (
                residuals[-1] <= TOLERANCE or (stuck and self._rounded(held, out, x, reaction))
            ):
                return x, reaction, state, tuple(residuals)
        return None

    def _step(self, x: Array, share: float) -> tuple[Array, PlayState, SupportedMatrix] | None:
        """Answer of the linearised problem with exact contact; None when nothing holds it."""
        held, slope = self.stiffness_at(x), self.slope_at(x, share)
        load = self._loaded(x, share) - self._internal(x) + held.internal(x)
        sides: NDArray[np.int64] | None = None
        tied = held.tied(load)
        for turn in range(MOST_ROUNDS):
            wanted, state = touching(held, load, slope, x, sides, tied)
            depth = self._depth(wanted)
            if self._proportional and state.held and not np.any(depth):
                wanted, state = held.polished(load, wanted, state)
                depth = self._depth(wanted)
            if not np.any(depth):
                self._loose = None if state.held else state
                return (wanted, state, held) if state.held or self._stays(state) else None
            assert self._places is not None
            more = self._places.worst(depth, turn)
            held = self._places.watching(held, more)
            self.watched = np.concatenate([self.watched, more])
            sides = np.concatenate([state.side, np.full(len(more), -1)])
            if self.large is None:
                self._held = held
        raise SolveError(
            f"Where the panel lies on the ground was not found in {MOST_ROUNDS} rounds: make mesh.size larger, or "
            "look at the clearances of the supports."
        )

    def _stays(self, state: PlayState) -> bool:
        """Whether a linear answer stands although the search left the panel loose: the supports that act hold it."""
        if self._proportional:
            self.structure.refuse_loose(state)
        return self._proportional

    def _depth(self, x: Array) -> Array:
        """Depths below ground of the places that are not watched yet, in m."""
        return np.zeros(0) if self._places is None else self._places.below(x, self.watched)

    def _share(
        self, held: SupportedMatrix, share: float, at: tuple[Array, Array], step: tuple[Array, Array]
    ) -> float:
        """Share of a step at which the out-of-balance forces do no more work along it.

        Without a load that follows, the work is a cubic of the share, as the energy is a quartic of the unknowns: four
        values give it exactly.
        """
        if self._proportional:
            return 1.0
        work = [
            -float(step[0] @ self._out(held, share, at[0] + part * step[0], at[1] + part * step[1]))
            for part in PARTS
        ]
        return share_of_step(np.array(work))

    def _out(self, held: SupportedMatrix, share: float, x: Array, reaction: Array) -> Array:
        """Out-of-balance nodal forces (n,)."""
        return np.asarray(self._loaded(x, share) - self._internal(x) - held.rows.T @ reaction)

    def _rounded(self, held: SupportedMatrix, out: Array, x: Array, reaction: Array) -> bool:
        """Whether out-of-balance forces are what rounding leaves of the forces that should cancel."""
        pushed = held.rows.T @ reaction
        return self.structure.residual(out + pushed, x, pushed, np.zeros_like(out)) <= ROUNDED

    def _size(self, forces: Array) -> float:
        """Norm of nodal forces that does not mix newtons with newton metres: by the stiffness of each unknown."""
        free = self.structure.base.free
        return float(np.linalg.norm((self._weight * forces)[free]))

    def _give_up(self, done: float) -> None:
        if self._loose is not None:
            self.structure.refuse_loose(self._loose)
        raise no_equilibrium(done, follows=self.follower is not None)

    def _response(
        self, x: Array, reaction: Array, state: PlayState, report: NewtonReport, begun: float
    ) -> Response:
        structure = self.structure
        sunk = 0.0 if self._places is None else self._places.sunk(x)
        n, count = structure.panel.space.n_dofs, structure.base.rows.shape[0]
        acting = structure.acting_rows
        load = self._loaded(x, 1.0)
        rows, places = structure.base.rows, 0 if self.obstacle is None else len(self.obstacle.lowest)
        held = rows.T @ reaction[:count]
        ground = np.zeros(places)
        if self.obstacle is not None and len(self.watched):
            ground[self.watched] = 0.0 - reaction[count:]
            held = held - self.obstacle.rows.T @ ground
        large, internal = self.large is not None, self._internal(x)
        return Response(
            x=x[:n],
            extra=x[n:],
            motion=(rows @ x)[acting],
            force=reaction[:count][acting],
            side=state.side[:count][acting],
            residual=structure.residual(load, x, held, internal=internal),
            play_residual=max(state.residual, sunk),
            imbalance=structure.imbalance(load, x, held, internal=internal, large=large),
            energy_gap=energy_gap(load, x, held, internal),
            correction=state.correction,
            steps=state.steps,
            seconds=time.perf_counter() - begun,
            large=large,
            ground=ground,
            added=None if self.follower is None else load[:n] - self._whole[:n],
            newton=None if self._proportional else report,
        )
