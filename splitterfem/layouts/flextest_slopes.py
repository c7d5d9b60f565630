"""Deflections of a pushed panel and their exact derivatives by moduli, joints and supports.

With ``K u + R' f = load`` and ``R u = bound + c f`` at the restraints that act, the derivative by a parameter is that
of the same equations: ``K du + R' df = -dK u`` and ``R du - c df = dc f + dbound``.  What a gauge reads of it follows
from the panel's answer to a unit force at the gauge, so that no further system is solved for any push or parameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.design import Part, Stop, Strut
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.element import STIFFNESS_ORDER
from splitterfem.fem.panel import Panel, at_point
from splitterfem.fem.reference import N_OUTER, tables_at_quadrature
from splitterfem.fem.response import Response
from splitterfem.fem.space import strain_rows
from splitterfem.fem.structure import Structure
from splitterfem.layouts.flextest_parameters import Parameter, Place, halves
from splitterfem.layouts.flextest_sheet import sheet_slope
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

CHUNK = 4096
"""Elements that are integrated at once, to bound the memory."""


@dataclass(frozen=True, eq=False)
class _Change:
    """Derivative of the laws of the restraints (m,) by the logarithm of a parameter."""

    compliance: Array
    bound: Array


@one_blas_thread()
def gauge_slopes(
    model: Model, parameters: Sequence[Parameter], gauges: sp.csr_array, responses: Sequence[Response]
) -> Array:
    """Differentiate what gauges read by the logarithms of parameters.

    Parameters
    ----------
    model : Model
    parameters : sequence of Parameter
    gauges : csr_array, shape (g, n_dofs)
        What each gauge reads of the panel's unknowns.
    responses : sequence of Response
        Of the model, without ground or large deflection.

    Returns
    -------
    ndarray, shape (k, g, p)
        For each response, gauge and parameter.
    """
    structure = model.structure
    held, first = structure.base, structure.base.influence.shape[1]
    rows = sp.csr_array(sp.hstack([gauges, sp.csr_array((gauges.shape[0], structure.n_extra))]))
    answers = np.zeros(rows.shape[::-1])
    answers[held.free] = held.factor.solve(sp.csr_array(rows[:, held.free]).T.toarray())
    reach = rows @ held.influence
    found = np.zeros((len(responses), rows.shape[0], len(parameters)))
    states = np.column_stack([np.concatenate([r.x, r.extra]) for r in responses])
    for p, forces in enumerate(_forces(model, parameters, states)):
        change = _law_change(model, parameters[p], structure)
        for k, response in enumerate(responses):
            load, side = -forces[:, k], response.side
            given = np.where(side > 0, change.bound[0], change.bound[1])
            miss = np.where(side != 0, -(change.compliance * response.force + given), 0.0)
            motion, force = held.play.correct(side, held.influence.T @ load, miss)
            push = (held.ties * motion - force)[:first]
            found[k, :, p] = answers.T @ load + reach @ push
    return found


def _forces(model: Model, parameters: Sequence[Parameter], states: Array) -> list[Array]:
    """Return forces ``dK u`` (n, k) for each parameter."""
    n = model.panel.space.n_dofs
    found = [np.zeros_like(states) for _ in parameters]
    of_sheet = [p for p, parameter in enumerate(parameters) if parameter.of_sheet]
    if of_sheet:
        slopes = np.array([sheet_slope(model.design.panel.sheet, parameters[p].name) for p in of_sheet])
        for p, forces in zip(of_sheet, sheet_forces(model.panel, slopes, states[:n]), strict=True):
            found[p][:n] = forces
    for p, parameter in enumerate(parameters):
        names = {half.name for place in parameter.places for half in halves(model.design, place)}
        for rib in model.ribs:
            if parameter.places and parameter.places[0].parts == "ribs" and rib.design.name in names:
                found[p] += _joint_forces(model, rib.operators.joint[:1], states)
    return found


def sheet_forces(panel: Panel, slopes: Array, states: Array) -> Array:
    """Return the forces of a change of the sheet's stiffness on the unknowns.

    Parameters
    ----------
    panel : Panel
    slopes : ndarray, shape (p, 8, 8)
        Changes of the generalised stiffness, the same everywhere.
    states : ndarray, shape (n_dofs, k)

    Returns
    -------
    ndarray, shape (p, n_dofs, k)
    """
    space = panel.space
    tables, weights = tables_at_quadrature(STIFFNESS_ORDER)
    found = np.zeros((len(slopes), *states.shape))
    for start in range(0, space.n_elements, CHUNK):
        elements = np.arange(start, min(start + CHUNK, space.n_elements), dtype=np.int64)
        own = states[space.dofs[elements]]
        sums = np.zeros((len(slopes), *own.shape))
        scale = 2.0 * space.area[elements, None, None]
        for q, weight in enumerate(weights):
            rows = panel.slaved(elements, strain_rows(space, elements, at_point(tables, q, len(elements))))
            strain = np.matmul(rows, own)
            for p, slope in enumerate(slopes):
                sums[p] += np.matmul(rows.transpose(0, 2, 1), weight * scale * np.matmul(slope, strain))
        where = space.dofs[elements].ravel()
        gather = sp.csr_array(
            (np.ones(len(where)), (where, np.arange(len(where)))), shape=(len(states), len(where))
        )
        for p in range(len(slopes)):
            found[p] += gather @ sums[p].reshape(len(elements) * N_OUTER, -1)
    return found


def _joint_forces(model: Model, joint: Sequence[Contribution], states: Array) -> Array:
    """Return forces on all unknowns of the slip of a joint whose stiffness grows in proportion, shape (n, k)."""
    n = model.panel.space.n_dofs
    found = np.zeros_like(states)
    for part in joint:
        assert part.extra is not None
        dofs = model.panel.space.dofs[part.samples.elements]
        own = n + part.extra.dofs
        rows, extra = part.rows[:, 0], part.extra.rows[:, 0]
        count = len(rows)
        columns = np.concatenate([dofs, own], axis=1)
        values = np.concatenate([rows, extra], axis=1)
        starts = np.arange(0, columns.size + 1, columns.shape[1])
        slip = sp.csr_array((values.ravel(), columns.ravel(), starts), shape=(count, len(states)))
        flow = (part.samples.weights * part.stiffness[0])[:, None] * (slip @ states)
        found += slip.T @ flow
    return found


def _law_change(model: Model, parameter: Parameter, structure: Structure) -> _Change:
    """Return how compliances (m,) and bounds, upper and lower (2, m), change with the logarithm of a parameter."""
    count = len(structure.restraints)
    compliance, bound = np.zeros(count), np.zeros((2, count))
    owners = np.array([restraint.support for restraint in structure.restraints])
    for place in parameter.places:
        if place.parts == "ribs":
            continue
        for part in halves(model.design, place):
            mine = owners == part.name
            given, upper, lower = _part_change(place, part)
            compliance[mine] += given
            bound[0, mine] += upper
            bound[1, mine] += lower
    return _Change(compliance, bound)


def _part_change(place: Place, part: Part) -> tuple[float, float, float]:
    """Return how compliance, upper and lower bound of a part change with the logarithm of one of its fields."""
    value = float(getattr(part, place.field))
    if isinstance(part, Strut):
        # its bounds are those of a bar under its preload: slack less preload over stiffness
        return -1.0 / value, float(part.preload) / value, float(part.preload) / value
    if isinstance(part, Stop) and place.field == "stiffness":
        return -1.0 / value, 0.0, 0.0
    return (0.0, value, 0.0) if place.field.endswith("_up") else (0.0, 0.0, -value)
