"""A solved panel as a linear system of its own: unknowns, supports that act, shapes of eigenvectors."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field, sag_field
from splitterfem.analysis.solution import Solution
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.modes import supported
from splitterfem.model import Model

Array = NDArray[np.float64]


def unknowns(solution: Solution) -> Array:
    """Return all unknowns of a solution, those of the ribs' own behind the panel's."""
    return np.concatenate([solution.response.x, solution.response.extra])


def ribs_of(model: Model) -> tuple[Contribution, ...]:
    """Return what all ribs add to the panel."""
    return tuple(part for rib in model.ribs for part in rib.operators.contributions)


def held_stiffness(solution: Solution) -> sp.csc_array:
    """Return the stiffness (n, n) with the supports that act in a solution as springs, rigid ones very stiff."""
    structure = solution.model.structure
    acting = structure.acting_rows[np.flatnonzero(solution.response.side != 0)]
    rows, compliance = sp.csr_array(structure.rows[acting]), structure.base.play.law.compliance[acting]
    return supported(structure.matrix, rows, compliance)


def mode_shape(model: Model, vector: Array) -> Field:
    """Return the deflection of an eigenvector, its largest value 1 and downwards."""
    field = sag_field(model, vector[: model.panel.space.n_dofs])
    largest = field.values[np.argmax(np.abs(field.values))]
    return Field(field.x, field.y, field.triangles, field.values / largest)
