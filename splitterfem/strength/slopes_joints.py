"""Derivative of a check of a rib's joint by the unknowns of panel and ribs.

A check depends on the flow in the joint at few stations, and the flow on the slip there: on the rib's own displacement
and on that of the panel's face.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import CHORD_REACH
from splitterfem.analysis.jointforces import JointForces, joint_forces
from splitterfem.analysis.ribforces import course
from splitterfem.model import ModelRib
from splitterfem.strength.assess_joints import checks_of_flow
from splitterfem.strength.differences import differences
from splitterfem.strength.row import Check

Array = NDArray[np.float64]

JOINT = "joint of "


PLACES, APART, LEAST = 4, 0.1, 0.3
"""Most stretches of a joint that are looked at, their distance over the rib's length, and the share of the worst ratio
below which a stretch does not matter."""


def by_joint(solution: Solution, check: Check) -> list[tuple[Check, Array]]:
    """Differentiate a check of a joint that slips by all unknowns (n,), at its worst stretch and at others.

    Parameters
    ----------
    solution : Solution
    check : Check
        One of :func:`splitterfem.strength.assess_joints.joint_checks`, but for distances from edges.

    Returns
    -------
    list of (Check, ndarray)
        The worst stretch first, which stays where it is; then the same check of others, what acts on those before left
        out.
    """
    model = solution.model
    rib = next(rib for rib in model.ribs if rib.name == check.part.removeprefix(JOINT))
    forces = joint_forces(model, rib, solution.response)

    def ratio(flow: Array) -> float:
        found = checks_of_flow(solution, rib, replace(forces, flow=flow))
        return max(one.ratio for one in found if one.mode == check.mode)

    found, flow = list[tuple[Check, Array]](), forces.flow.copy()
    while len(found) < PLACES and (used := ratio(flow)) >= LEAST * check.ratio:
        slope = differences(ratio, flow)
        around = forces.s[np.flatnonzero(slope)]
        if not len(around):
            break
        x, y = forces.xy[:, int(np.argmax(np.abs(slope)))]
        there = replace(check, ratio=used, x=float(x), y=float(y)) if found else check
        found.append((there, _by_flow(solution, rib, forces, slope)))
        apart = APART * rib.length
        flow[(forces.s > around.min() - apart) & (forces.s < around.max() + apart)] = 0.0
    return found


def _by_flow(solution: Solution, rib: ModelRib, forces: JointForces, by_flow: Array) -> Array:
    """Turn derivatives (m,) by the flow at the stations into those by all unknowns."""
    model, field, joint = solution.model, rib.operators.field, rib.parts.slip
    assert field is not None
    assert joint is not None
    by_slip = joint.stiffness * by_flow
    panel, n = model.panel, model.panel.space.n_dofs
    found = np.zeros(model.structure.matrix.shape[0])
    dofs, functions, _ = field.functions(forces.s)
    np.add.at(found, n + dofs, by_slip[:, None] * functions)
    xy, tangent = course(rib.parts.points, forces.s)
    elements = model.locator.find(xy, reach=CHORD_REACH)
    rows = panel.displacement_rows(elements, xy)
    face = np.einsum("cn,nck->nk", tangent, rows[:, :2] - joint.face * rows[:, 3:5])
    found[:n] -= panel.scatter(elements, by_slip[:, None] * face)
    return found
