"""Ribs: beams and bonded foot layers that share the panel's motion at a height above its mid-surface.

A rib is a set of lines and layers.  A layer is the foot wall that is bonded to the panel: it stretches
along the rib and shears in its plane, over the foot's true width.  A line carries what stands on the foot
(the webs and the far wall), as a Timoshenko beam.  Both follow the panel's displacement field: the
in-plane displacement at height z is (u, v) - z phi.  The beam's shear strain is the tangential part of
the panel's interpolated shear strain; a rib without shear stiffness would not converge, since its shear
force would have nowhere to go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BeamLine:
    """A line of beam stiffness.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Its course in plan, in m.
    z : float
        Height of its centroid above the panel's mid-surface in m (negative below).
    EA, EI, GJ, GAs : float
        Axial (N), bending about the axis parallel to the panel (N m2), torsion (N m2), shear (N).
    mass : float
        Mass per length in kg/m.
    """

    points: Array
    z: float
    EA: float
    EI: float
    GJ: float
    GAs: float
    mass: float = 0.0


@dataclass(frozen=True)
class TorsionCell:
    """Shear flow round a hollow that the bonded foot closes (Bredt 1896).

    The shear strains round a cell add up to twice its area times the twist rate.  The foot's share is the
    panel's own strain at the foot, so the other walls take ``(2 A theta' - b gamma) / rest``: the foot is part
    of the tube and is not counted again beside it.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Line along which strains are taken, in m.
    z : float
        Height of the foot's mid-plane above the panel's mid-surface in m.
    area : float
        Enclosed by the walls' mid-lines in m2.
    foot : float
        Length of the foot's mid-line in m, negative for a rib below the panel.
    stiffness : float
        Shear modulus over the sum of length by thickness of the other walls, in Pa.
    """

    points: Array
    z: float
    area: float
    foot: float
    stiffness: float


@dataclass(frozen=True)
class FootLayer:
    """A thin layer under a rib, laminated to the panel, stiff along the rib and in in-plane shear.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Centre line in plan, in m.
    width, thickness : float
        In m.
    z : float
        Height of its mid-plane above the panel's mid-surface in m.
    E, G : float
        Young's and shear modulus in Pa.
    mass : float
        Mass per area in kg/m2.
    """

    points: Array
    width: float
    thickness: float
    z: float
    E: float
    G: float
    mass: float = 0.0


@dataclass(frozen=True)
class RibParts:
    """A rib as the panel feels it.

    Attributes
    ----------
    name : str
    points : ndarray, shape (n, 2)
        Rib line in plan, in m.
    lines : tuple of BeamLine
    layers : tuple of FootLayer
    cells : tuple of TorsionCell
    slip : SlipJoint or None
        How the foot may slide along the panel's face; None for an ideal bond.
    """

    name: str
    points: Array
    lines: tuple[BeamLine, ...]
    layers: tuple[FootLayer, ...]
    cells: tuple[TorsionCell, ...] = ()
    slip: SlipJoint | None = None

    @property
    def EA(self) -> float:
        """Axial stiffness of the lines in N."""
        return sum(line.EA for line in self.lines)


@dataclass(frozen=True)
class SlipJoint:
    """A joint that gives way along the rib.

    Attributes
    ----------
    stiffness : float
        Shear flow per slip in N/m2: G b / t of a glue line, slip modulus over pitch of fasteners.
    face : float
        Height of the panel's face under the foot, above the mid-surface, in m.
    """

    stiffness: float
    face: float


def offset_polyline(points: Array, distance: float) -> Array:
    """Parallel polyline at a distance to the left, with mitred corners; shape as ``points``."""
    if distance == 0.0:
        return points
    step = np.diff(points, axis=0)
    tangent = step / np.linalg.norm(step, axis=1, keepdims=True)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    before, after = np.vstack([normal[:1], normal]), np.vstack([normal, normal[-1:]])
    mitre = (before + after) / (1.0 + np.sum(before * after, axis=1, keepdims=True))
    return np.asarray(points + distance * mitre)
