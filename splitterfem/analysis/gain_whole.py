"""What a whole rib gains, about: a rib takes its own bend away, which the gain to first order knows nothing of.

A rib of stiffness C with strain rows B changes a linear answer by ``(B z) . (C^-1 + B H B')^-1 (B x)`` with the panel's
flexibility H (Woodbury 1950).  The forces in the rib are sought among few shapes: those that the strains of state and
adjoint make in it, of a vibration those of the first two modes, each towards one end or the other.  A handful of solves
of the factorised panel is enough for them.  With so few shapes a rib seems softer than it is, so that the estimate is
nearly always below the true figure, as a rule by a tenth to a half.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from splitterfem.analysis.gain_line import Parts, part_strains, taken_by_mass
from splitterfem.analysis.gain_springs import MODES, lifted
from splitterfem.analysis.gain_watch import Watched, watched
from splitterfem.analysis.sensitivity import Sensitivity, Tangent, lowest_modes, tangent_of
from splitterfem.fem.modes import Eigenpairs

Array = NDArray[np.float64]

SHAPES = 4
"""Shapes of forces: those of two strain fields, each at its whole at one end of the rib and gone at the other."""

SINGULAR = 1e-10
"""Share of the largest eigenvalue below which shapes of forces count as the same."""


@dataclass(frozen=True, eq=False)
class Known:
    """What is found once for all ribs.

    Attributes
    ----------
    tangent : Tangent
    places : Watched
        Places that may be the worst.
    modes : Eigenpairs or None
        Natural vibrations, for the first frequency.
    """

    tangent: Tangent
    places: Watched
    modes: Eigenpairs | None


def known_of(of: Sensitivity) -> Known:
    """Find what :func:`whole_gain` needs besides the ribs."""
    tangent = tangent_of(of)
    modes = lowest_modes(of.solution, MODES)[0] if of.square else None
    return Known(tangent, watched(of, tangent), modes)


def whole_gain(of: Sensitivity, known: Known, ribs: Sequence[Parts]) -> float:
    """Estimate what whole bonded ribs gain together, their own load included, in m or Hz.

    Parameters
    ----------
    of : Sensitivity
    known : Known
        Of the same measure.
    ribs : sequence of tuples of Contribution
        Parts of each.
    """
    model, tangent, modes = of.solution.model, known.tangent, known.modes
    parts = [_shapes(of, rib, modes) for rib in ribs]
    loads = np.hstack([load for load, _ in parts])
    size = np.linalg.norm(loads, axis=0)
    size[size == 0.0] = 1.0
    loads = loads / size
    give = block_diag(*(own for _, own in parts)) / np.outer(size, size)
    answers, _ = tangent.answers(model.structure.with_extra(loads))
    give += loads.T @ answers[: model.panel.space.n_dofs]
    taken = sum(taken_by_mass(of, rib) for rib in ribs)
    if modes is not None:
        swing = loads.T @ modes.shapes[: len(loads)]
        square = lifted(modes.values, swing[None], give[None])[0]
        return float(np.sqrt(square)) / (2.0 * np.pi) - of.measure.value - taken
    forces = np.linalg.lstsq(give, loads.T @ of.state, rcond=SINGULAR)[0]
    return float(known.places.gain(known.places.adjoints.T @ (loads @ forces))) - taken


def _shapes(of: Sensitivity, rib: Parts, modes: Eigenpairs | None) -> tuple[Array, Array]:
    """Find the loads (n_dofs, q) on the panel of shapes of forces in a rib, and its own give (q, q) under them."""
    panel = of.solution.model.panel
    length = max(float(part.samples.s.max()) for part in rib)
    loads, give = np.zeros((panel.space.n_dofs, SHAPES)), np.zeros((SHAPES, SHAPES))
    for part in rib:
        samples = part.samples
        fields = part_strains(of, part)
        if modes is not None:
            second = modes.shapes[: panel.space.n_dofs, 1]
            fields = fields[0], panel.gather(samples.elements, part.rows, second)
        strains = np.stack(fields, axis=-1)
        share = samples.s / length
        ends = np.column_stack([1.0 - share, share])
        shapes = np.einsum("nmf,ne->nmfe", strains, ends).reshape(*strains.shape[:2], -1)
        forces = shapes * (samples.weights[:, None] * part.stiffness)[:, :, None]
        give += np.einsum("nmi,nmj->ij", shapes, forces)
        for i in range(SHAPES):
            pushed = np.einsum("nm,nmk->nk", forces[:, :, i], part.rows)
            loads[:, i] += panel.scatter(samples.elements, pushed)
    return loads, give
