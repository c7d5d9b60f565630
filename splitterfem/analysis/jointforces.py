"""Shear flow in the joints between ribs and panel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid

from splitterfem.analysis.fields import CHORD_REACH
from splitterfem.analysis.ribforces import INSIDE, corner_distances, course, on_both_sides, rib_forces
from splitterfem.design import Adhesive, Bond, Fasteners
from splitterfem.fem.recover import displacements
from splitterfem.fem.response import Response
from splitterfem.model import Model, ModelRib

Array = NDArray[np.float64]


@dataclass(frozen=True)
class JointForces:
    """Slip and shear flow at ``n`` stations along a rib, from end to end.

    Attributes
    ----------
    s : ndarray, shape (n,)
        Distance along the rib line in m.
    xy : ndarray, shape (2, n)
        Stations in m.
    slip : ndarray, shape (n,)
        Motion of the rib's foot along the rib less that of the panel's face, in m.
    flow : ndarray, shape (n,)
        Shear force of the joint per length of rib in N/m; integrated from an end it is the rib's axial force.
        Stiffness times slip, or for an ideal bond the mean over a section height of the change of axial force.
    """

    s: Array
    xy: Array
    slip: Array
    flow: Array

    @property
    def worst(self) -> int:
        """Station of the largest flow."""
        return int(np.argmax(np.abs(self.flow)))

    def over(self, length: float) -> tuple[float, int]:
        """Largest force in N on any stretch of a length in m, and the station nearest to its middle.

        The force of a fastener is that of the stretch of its pitch, however much the flow varies along it.
        """
        whole = np.concatenate([[0.0], cumulative_trapezoid(self.flow, self.s)])
        window = min(length, float(self.s[-1] - self.s[0]))
        starts = np.unique(np.append(self.s[self.s <= self.s[-1] - window], self.s[-1] - window))
        force = np.abs(np.interp(starts + window, self.s, whole) - np.interp(starts, self.s, whole))
        k = int(np.argmax(force))
        middle = starts[k] + 0.5 * window
        return float(force[k]), int(np.argmin(np.abs(self.s - middle)))


def joint_forces(model: Model, rib: ModelRib, response: Response) -> JointForces:
    """Evaluate the slip of a rib's joint and its shear flow.

    The flow of an ideal bond is singular at the rib's ends in theory, so there it is the mean over one section
    height: what builds up the axial force that the rib has one height from its end.
    """
    if rib.operators.field is None:
        return _bonded(model, rib, response)
    return _slipping(model, rib, response)


def _bonded(model: Model, rib: ModelRib, response: Response) -> JointForces:
    along = rib_forces(model, rib, response.x, extra=response.extra, large=response.large)
    length, window = rib.length, float(along.s[0])
    ends = np.array([0.0, length])
    s = np.concatenate([[INSIDE * length], along.s, [(1.0 - INSIDE) * length]])
    axial = np.concatenate([[0.0], along.axial, [0.0]])
    low, high = np.clip(s - 0.5 * window, *ends), np.clip(s + 0.5 * window, *ends)
    change = np.interp(high, s, axial) - np.interp(low, s, axial)
    flow = change / (high - low)
    return JointForces(s, course(rib.parts.points, s)[0], np.zeros(len(s)), flow)


def _slipping(model: Model, rib: ModelRib, response: Response) -> JointForces:
    field, joint = rib.operators.field, rib.parts.slip
    assert field is not None
    assert joint is not None
    middles = 0.5 * (field.knots[1:] + field.knots[:-1])
    s = on_both_sides(np.concatenate([field.knots, middles]), corner_distances(rib))
    xy, tangent = course(rib.parts.points, s)
    elements = model.locator.find(xy, reach=CHORD_REACH)
    moved = displacements(model.panel, response.x, elements, xy)
    face = np.sum(tangent * (moved[:, :2] - joint.face * moved[:, 3:5]).T, axis=0)
    slip = field.at(s, response.extra)[0] - face
    return JointForces(s, xy, slip, joint.stiffness * slip)


def joint_table(model: Model, response: Response) -> pd.DataFrame:
    """Largest shear flow of every joint that holds.

    Columns: rib, joint (bond, adhesive, screws, rivets, bolts), slip_mm, flow_N_per_mm, shear_MPa (of an adhesive
    at its peak, of an ideal bond the mean over a section height and the foot's width, else nan), fastener_N (largest
    force of one fastener, else nan), x_mm and y_mm (where).
    """
    rows = []
    for rib in model.ribs:
        if rib.unbonded:
            continue  # its joint is lost
        joint, forces = rib.design.joint, joint_forces(model, rib, response)
        i = forces.worst
        shear = fastener = np.nan
        if isinstance(joint, Adhesive | Bond):
            shear = 1e-6 * abs(forces.flow[i]) / adhesive_width(rib)
        elif isinstance(joint, Fasteners):
            stretch, i = forces.over(float(joint.pitch))
            fastener = stretch / joint.rows
        rows.append(
            {
                "rib": rib.name,
                "joint": joint.kind,
                "slip_mm": 1e3 * float(np.abs(forces.slip).max()),
                "flow_N_per_mm": 1e-3 * float(np.abs(forces.flow).max()),
                "shear_MPa": shear,
                "fastener_N": fastener,
                "x_mm": 1e3 * forces.xy[0, i],
                "y_mm": 1e3 * forces.xy[1, i],
            }
        )
    columns = ["rib", "joint", "slip_mm", "flow_N_per_mm", "shear_MPa", "fastener_N", "x_mm", "y_mm"]
    return pd.DataFrame(rows, columns=columns)


def adhesive_width(rib: ModelRib) -> float:
    """Width of a rib's adhesive in m: its own, or that of the foot."""
    width = rib.design.joint.width if isinstance(rib.design.joint, Adhesive) else None
    return float(rib.design.foot_width if width is None else width)
