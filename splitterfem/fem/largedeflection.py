"""Large deflection: von Karman plate and ribs in their supports, by Newton's method.

Every step solves the tangent stiffness with the exact law of all supports, so that what touches is found anew in each.
A step is shortened until the out-of-balance forces fall, and a load that does not converge is put on in smaller parts.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.play import PlayState
from splitterfem.fem.stretch import Stretch, rib_stretch, sheet_stretch
from splitterfem.fem.structure import Structure
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]

TOLERANCE = 1e-9
"""Out-of-balance forces over the sum of absolute forces at which a load step is done."""

MOST_ITERATIONS = 25
SMALLEST_STEP = 1.0 / 256.0
SHORTEST, LONGEST, CLOSE = 0.01, 1.5, 0.05
"""Shares of a Newton step that are taken, and how near to one a share counts as the whole step."""


@dataclass(frozen=True)
class NewtonReport:
    """How a solution was found.

    Attributes
    ----------
    load_steps : int
        Parts in which the load was put on.
    residuals : tuple of tuple of float
        Relative out-of-balance forces after each iteration of each load step.
    """

    load_steps: int
    residuals: tuple[tuple[float, ...], ...]

    @property
    def iterations(self) -> int:
        """Newton iterations of all load steps."""
        return sum(len(step) for step in self.residuals)


@dataclass(frozen=True)
class LargeResponse:
    """Equilibrium of a panel that deflects far.

    Attributes
    ----------
    x : ndarray, shape (n,)
        Unknowns of the panel and of the ribs' own.
    force : ndarray, shape (m,)
        Force of the panel on each restraint in N.
    side : ndarray of int, shape (m,)
        0 where a restraint does not act, else the bound that it is at.
    residual : float
        Out-of-balance nodal forces over the sum of absolute ones.
    play_residual : float
        Violation of the restraints' laws, dimensionless.
    report : NewtonReport
    seconds : float
    """

    x: Array
    force: Array
    side: NDArray[np.int64]
    residual: float
    play_residual: float
    report: NewtonReport
    seconds: float


@dataclass
class LargeDeflection:
    """A structure whose panel and ribs stretch as they tilt.

    Parameters
    ----------
    structure : Structure
        Linear stiffness and supports.
    contributions : tuple of Contribution
        The ribs that are in it.
    """

    structure: Structure
    contributions: tuple[Contribution, ...] = ()
    stretches: tuple[Stretch, ...] = field(init=False)

    def __post_init__(self) -> None:
        panel = self.structure.panel
        ribs = (rib_stretch(panel, part) for part in self.contributions if part.stretch)
        self.stretches = (sheet_stretch(panel), *ribs)

    def internal(self, x: Array) -> Array:
        """Nodal forces (n,) of the unknowns ``x`` (n,)."""
        total = self.structure.matrix @ x
        for stretch in self.stretches:
            total = total + stretch.internal(x)
        return np.asarray(total)

    def energy(self, x: Array) -> float:
        """Strain energy in J."""
        linear = 0.5 * float(x @ (self.structure.matrix @ x))
        return linear + sum(stretch.energy(x) for stretch in self.stretches)

    def tangent(self, x: Array) -> sp.csc_array:
        """Tangent stiffness (n, n) at ``x``."""
        return self._with_blocks([(stretch, *stretch.tangent(x)) for stretch in self.stretches])

    def geometric(self, x: Array) -> sp.csc_array:
        """Stiffness (n, n) that the linear stresses of ``x`` add to slopes, for buckling and prestress."""
        values, rows, columns = list[Array](), list[Index](), list[Index]()
        for stretch in self.stretches:
            linear = np.einsum("nkd,nd->nk", stretch.force_rows, x[stretch.dofs])
            dofs = stretch.groups[2]
            _collect(values, rows, columns, stretch.geometric(linear), dofs, dofs)
        return _sparse(values, rows, columns, len(x))

    def _with_blocks(self, blocks: list[tuple[Stretch, Array, Array]]) -> sp.csc_array:
        values: list[Array] = []
        rows: list[Index] = []
        columns: list[Index] = []
        for stretch, mixed, own in blocks:
            _, dofs, slopes = stretch.groups
            _collect(values, rows, columns, mixed, dofs, slopes)
            _collect(values, rows, columns, mixed.transpose(0, 2, 1), slopes, dofs)
            _collect(values, rows, columns, own, slopes, slopes)
        n = self.structure.matrix.shape[0]
        return sp.csc_array(self.structure.matrix + _sparse(values, rows, columns, n))

    def solve(self, load: Array, *, start: Array | None = None) -> LargeResponse:
        """Find the equilibrium under a load that keeps its direction.

        Parameters
        ----------
        load : ndarray, shape (n_dofs,)
            In N (N m for rotations).
        start : ndarray, shape (n,), optional
            Unknowns to start from, such as those of a smaller load.

        Raises
        ------
        SolveError
            If no equilibrium is found, however small the parts in which the load is put on.
        """
        begun = time.perf_counter()
        base = self.structure.base
        whole = self.structure.with_extra(load)
        x = np.zeros_like(whole) if start is None else start.copy()
        reaction = np.zeros(base.rows.shape[0])
        done, step, history = 0.0, 1.0, list[tuple[float, ...]]()
        state = None
        while done < 1.0:
            share = min(1.0, done + step)
            found = self._newton(share * whole, x, reaction)
            if found is None:
                step *= 0.5
                if step < SMALLEST_STEP:
                    raise SolveError(
                        f"No equilibrium was found beyond {100 * done:.0f} % of the load: the panel snaps or buckles "
                        "there, or its supports let it go; look at the linear solution, and stiffen it."
                    )
                continue
            x, reaction, state, steps = found
            history.append(steps)
            done, step = share, 2.0 * step
        assert state is not None
        report = NewtonReport(len(history), tuple(history))
        seconds = time.perf_counter() - begun
        return LargeResponse(x, reaction, state.side, history[-1][-1], state.residual, report, seconds)

    def _newton(
        self, load: Array, x: Array, reaction: Array
    ) -> tuple[Array, Array, PlayState, tuple[float, ...]] | None:
        """Iterate from (x, reaction) to the equilibrium under a load; None when it does not come."""
        base = self.structure.base
        weight = 1.0 / np.sqrt(self.structure.matrix.diagonal())
        scale = self._size(load, weight)
        residuals: list[float] = []
        for _ in range(MOST_ITERATIONS):
            tangent = self.tangent(x)
            held = SupportedMatrix(
                tangent,
                base.rows,
                base.play.law,
                free=base.free,
                rigid=base.play.rigid,
                reference=base.reference,
            )
            wanted, state = held.solve(load - self.internal(x) + tangent @ x)
            share = self._share(load, x, wanted - x, reaction, state.force - reaction)
            x, reaction = x + share * (wanted - x), reaction + share * (state.force - reaction)
            left = self._out(load, x, reaction)
            residuals.append(self._size(left, weight) / scale)
            if not np.isfinite(residuals[-1]) or (len(residuals) > 3 and residuals[-1] > 1e3 * residuals[0]):
                return None
            if residuals[-1] <= TOLERANCE and share == 1.0:
                return x, reaction, state, tuple(residuals)
        return None

    def _share(self, load: Array, x: Array, step: Array, reaction: Array, change: Array) -> float:
        """Share of a step at which the energy is stationary along it.

        The work done along the step is a cubic of the share, as the energy is a quartic of the unknowns: four values
        give it exactly.
        """
        at = np.array([0.0, 0.5, 1.0, 1.5])
        work = [-float(step @ self._out(load, x + a * step, reaction + a * change)) for a in at]
        roots = np.roots(np.polyfit(at, work, 3))
        real = roots.real[(np.abs(roots.imag) < 1e-9) & (roots.real > SHORTEST) & (roots.real <= LONGEST)]
        share = float(real.min()) if len(real) else 1.0
        return 1.0 if abs(share - 1.0) < CLOSE else share

    def _out(self, load: Array, x: Array, reaction: Array) -> Array:
        out = load - self.internal(x) - self.structure.base.rows.T @ reaction
        return np.asarray(out)

    def _size(self, forces: Array, weight: Array) -> float:
        """Norm of nodal forces that does not mix newtons with newton metres: by the stiffness of each unknown."""
        free = self.structure.base.free
        return float(np.linalg.norm((weight * forces)[free]))


def _collect(
    values: list[Array], rows: list[Index], columns: list[Index], blocks: Array, at: Index, to: Index
) -> None:
    """Add blocks (g, a, b) in rows (g, a) and columns (g, b) to triplets."""
    values.append(blocks.ravel())
    rows.append(np.repeat(at, to.shape[1], axis=1).ravel())
    columns.append(np.tile(to, (1, at.shape[1])).ravel())


def _sparse(values: list[Array], rows: list[Index], columns: list[Index], n: int) -> sp.csc_array:
    triplets = [np.concatenate(part) for part in (values, rows, columns)]
    return sp.csc_array(sp.coo_array((triplets[0], (triplets[1], triplets[2])), shape=(n, n)))
