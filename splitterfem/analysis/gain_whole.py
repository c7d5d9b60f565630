"""What a whole rib gains, about: a rib takes its own bend away, which the gain to first order knows nothing of.

A rib of stiffness C with strain rows B changes a linear answer by ``(B z) . (C^-1 + B H B')^-1 (B x)`` with the panel's
flexibility H (Woodbury 1950).  The forces in the rib are sought among few shapes, those that the strains of state and
adjoint make in it, each more towards one end or the other: so few that a handful of solves of the factorised panel are
enough.  As in every such choice of forces (Galerkin), the estimate is in most cases below the true figure.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.gain_line import operators_of, part_strains, taken_by_mass
from splitterfem.analysis.sensitivity import Sensitivity, Tangent
from splitterfem.design import Rib

Array = NDArray[np.float64]

SINGULAR = 1e-10
"""Share of the largest eigenvalue below which shapes of forces count as the same."""


def whole_gain(of: Sensitivity, tangent: Tangent, ribs: Sequence[Rib]) -> float:
    """Estimate what whole bonded ribs gain together, their own load included, in m or Hz.

    Parameters
    ----------
    of : Sensitivity
    tangent : Tangent
        Of the same solution.
    ribs : sequence of Rib

    Raises
    ------
    DesignError
        If part of a rib is not on the panel.
    """
    space = of.solution.model.panel.space
    parts = [_shapes(of, rib) for rib in ribs]
    loads = np.hstack([load for load, _ in parts])
    give = np.zeros((loads.shape[1], loads.shape[1]))
    first = 0
    for _, own in parts:
        here = slice(first, first + len(own))
        give[here, here] = own
        first += len(own)
    answers = [tangent.held.answer(tangent.side, of.solution.model.structure.with_extra(load)) for load in loads.T]
    give += loads.T @ np.column_stack(answers)[: space.n_dofs]
    state, adjoint = loads.T @ of.state, loads.T @ of.adjoint
    if of.square:
        # the first mode itself is not to give way: it is what is asked for (modal mass 1)
        give -= np.outer(state, state) / of.square
    size = np.sqrt(np.abs(give.diagonal()))
    size[size == 0.0] = 1.0
    forces = np.linalg.lstsq(give / np.outer(size, size), state / size, rcond=SINGULAR)[0] / size
    gain = float(adjoint @ forces) - sum(taken_by_mass(of, rib) for rib in ribs)
    if not of.square:
        return gain
    frequency = of.measure.value
    return float(np.sqrt(max(frequency**2 + 2.0 * frequency * gain, 0.0))) - frequency


def _shapes(of: Sensitivity, rib: Rib) -> tuple[Array, Array]:
    """Loads (n_dofs, q) on the panel of shapes of forces in a rib, and the rib's own give (q, q) under them."""
    panel = of.solution.model.panel
    contributions = operators_of(of.solution.model, rib).contributions
    fields = 1 if of.square else 2
    loads = np.zeros((panel.space.n_dofs, 2 * fields))
    give = np.zeros((2 * fields, 2 * fields))
    for part in contributions:
        samples = part.samples
        strains = np.stack(part_strains(of, part)[:fields], axis=-1)
        share = samples.s / rib.length
        ends = np.column_stack([1.0 - share, share])
        shapes = np.einsum("nmf,ne->nmfe", strains, ends).reshape(*strains.shape[:2], -1)
        forces = shapes * (samples.weights[:, None] * part.stiffness)[:, :, None]
        give += np.einsum("nmi,nmj->ij", shapes, forces)
        for i in range(loads.shape[1]):
            pushed = np.einsum("nm,nmk->nk", forces[:, :, i], part.rows)
            loads[:, i] += panel.scatter(samples.elements, pushed)
    return loads, give
