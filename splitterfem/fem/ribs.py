"""Ribs: beams and bonded foot layers that share the panel's motion at a height above its mid-surface.

A rib is a set of lines and layers.  A layer is the foot wall that is bonded to the panel: it stretches
along the rib and shears in its plane, over the foot's true width.  A line carries what stands on the foot
(the webs and the far wall), as a Timoshenko beam.  Both follow the panel's displacement field: the
in-plane displacement at height z is (u, v) - z phi.  The beam's shear strain is the tangential part of
the panel's interpolated shear strain; a rib without shear stiffness would not converge, since its shear
force would have nowhere to go.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.locate import Locator, Samples, join
from splitterfem.fem.panel import Panel
from splitterfem.fem.slip import SlipField, slip_field

Array = NDArray[np.float64]
Index = NDArray[np.int64]

COVERAGE = 1e-6
"""Relative length or area of a rib that may lie off the panel: round-off, not design."""


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


@dataclass(frozen=True)
class RibOperators:
    """A rib on a mesh.

    Attributes
    ----------
    lines, layers, cells, joint : tuple of Contribution
        In the order of the rib's parts; ``joint`` has one row, the slip.
    field : SlipField or None
        The rib's own displacement along itself.
    """

    lines: tuple[Contribution, ...]
    layers: tuple[Contribution, ...]
    cells: tuple[Contribution, ...]
    joint: tuple[Contribution, ...]
    field: SlipField | None

    @property
    def contributions(self) -> tuple[Contribution, ...]:
        """All of them."""
        return (*self.lines, *self.layers, *self.cells, *self.joint)

    @property
    def n_extra(self) -> int:
        """Number of its extra unknowns."""
        return 0 if self.field is None else self.field.count


def rib_operators(panel: Panel, locator: Locator, parts: RibParts, *, first_extra: int = 0) -> RibOperators:
    """Strain rows of a rib's lines, layers and cells, and of its joint when that slips.

    Parameters
    ----------
    panel : Panel
    locator : Locator
    parts : RibParts
    first_extra : int
        Number of the first extra unknown that is free.

    Raises
    ------
    DesignError
        If part of the rib or its foot is not on the panel.
    """
    name = f"rib {parts.name}"
    field = None
    joint: tuple[Contribution, ...] = ()
    if parts.slip is not None:
        field = slip_field(parts.points, first_extra, stiffness=parts.slip.stiffness, EA=parts.EA)
        joint = (joint_contribution(panel, locator, parts, field, name=name),)
    return RibOperators(
        lines=tuple(line_contribution(panel, locator, line, parts, field, name=name) for line in parts.lines),
        layers=tuple(layer_contribution(panel, locator, layer, name=name) for layer in parts.layers),
        cells=tuple(cell_contribution(panel, locator, cell, parts, name=name) for cell in parts.cells),
        joint=joint,
        field=field,
    )


def line_contribution(
    panel: Panel, locator: Locator, line: BeamLine, rib: RibParts, field: SlipField | None, *, name: str
) -> Contribution:
    """Strain rows of a beam line: axial, bending, torsion and shear.

    With slip the rib stretches with its own displacement at the foot instead of the panel's.

    Raises
    ------
    DesignError
        If part of the line is not on the panel.
    """
    samples = _line_samples(locator, line.points, rib.points, name, field)
    strains = panel.strain_rows(samples.elements, samples.xy)
    bending = along(strains, samples, 3)
    if field is None or rib.slip is None:
        extra, axial = None, along(strains, samples, 0) - line.z * bending
    else:
        extra = field.rows(samples.s, value=np.zeros(4), slope=np.array([1.0, 0.0, 0.0, 0.0]))
        axial = (rib.slip.face - line.z) * bending
    tx, ty = samples.direction[:, :, None]
    shear = tx * strains[:, 6] + ty * strains[:, 7]
    return Contribution(
        samples=samples,
        rows=np.stack([axial, bending, _twist(panel, samples), shear], axis=1),
        stiffness=np.array([line.EA, line.EI, line.GJ, line.GAs]),
        extra=extra,
        motion=motion_rows(panel, samples, line.z),
        mass=line.mass,
        z=line.z,
    )


def layer_contribution(panel: Panel, locator: Locator, layer: FootLayer, *, name: str) -> Contribution:
    """Strain rows of a foot layer: stretch along the rib and in-plane shear; its own bending goes with a line.

    Raises
    ------
    DesignError
        If part of the foot hangs over an edge of the panel.
    """
    samples = _strip_samples(locator, layer.points, layer.width)
    length = float(np.hypot(*np.diff(layer.points, axis=0).T).sum())
    _check_covered(samples.measure, length * layer.width, f"the foot of {name}")
    strains = panel.strain_rows(samples.elements, samples.xy)
    stretch = along(strains, samples, 0) - layer.z * along(strains, samples, 3)
    shear = across(strains, samples, 0) - layer.z * across(strains, samples, 3)
    return Contribution(
        samples=samples,
        rows=np.stack([stretch, shear], axis=1),
        stiffness=np.array([layer.E * layer.thickness, layer.G * layer.thickness]),
        motion=motion_rows(panel, samples, layer.z),
        mass=layer.mass,
        z=layer.z,
    )


def cell_contribution(
    panel: Panel, locator: Locator, cell: TorsionCell, rib: RibParts, *, name: str
) -> Contribution:
    """Strain row of a torsion cell: the sum of the shear strains of its walls without the foot."""
    samples = _line_samples(locator, cell.points, rib.points, name)
    strains = panel.strain_rows(samples.elements, samples.xy)
    foot = across(strains, samples, 0) - cell.z * across(strains, samples, 3)
    row = 2.0 * cell.area * _twist(panel, samples) - cell.foot * foot
    return Contribution(
        samples=samples,
        rows=row[:, None],
        stiffness=np.array([cell.stiffness]),
    )


def joint_contribution(
    panel: Panel, locator: Locator, rib: RibParts, field: SlipField, *, name: str
) -> Contribution:
    """Slip row of a joint: the rib's own displacement at the foot less that of the panel's face."""
    if rib.slip is None:
        raise ValueError("a rib without slip has no joint rows")
    samples = _line_samples(locator, rib.points, rib.points, name, field)
    rows = panel.displacement_rows(samples.elements, samples.xy)
    tx, ty = samples.direction[:, :, None]
    face = tx * (rows[:, 0] - rib.slip.face * rows[:, 3]) + ty * (rows[:, 1] - rib.slip.face * rows[:, 4])
    return Contribution(
        samples=samples,
        rows=-face[:, None],
        stiffness=np.array([rib.slip.stiffness]),
        extra=field.rows(samples.s, value=np.ones(1), slope=np.zeros(1)),
    )


def along(strains: Array, samples: Samples, first: int) -> Array:
    """Component along the line of the symmetric tensor whose rows start at ``first`` (shear engineering)."""
    tx, ty = samples.direction[:, :, None]
    return np.asarray(
        tx * tx * strains[:, first] + ty * ty * strains[:, first + 1] + tx * ty * strains[:, first + 2]
    )


def across(strains: Array, samples: Samples, first: int) -> Array:
    """Engineering shear between the line and its left normal of the tensor whose rows start at ``first``."""
    tx, ty = samples.direction[:, :, None]
    both = 2.0 * tx * ty * (strains[:, first + 1] - strains[:, first])
    return np.asarray(both + (tx * tx - ty * ty) * strains[:, first + 2])


def _twist(panel: Panel, samples: Samples) -> Array:
    """Rate along the line of the rotation about it: derivative of the normal rotation's part across."""
    gradients = panel.gradient_rows(samples.elements, samples.xy)
    tx, ty = samples.direction[:, :, None]
    return np.asarray(
        -ty * (tx * gradients[:, 6] + ty * gradients[:, 7])
        + tx * (tx * gradients[:, 8] + ty * gradients[:, 9])
    )


def _line_samples(
    locator: Locator, points: Array, course: Array, name: str, field: SlipField | None = None
) -> Samples:
    """Samples along a line with ``s`` counted along the rib's own line."""
    stations = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(course, axis=0).T))])
    samples = locator.line(points, stations=stations, cuts=None if field is None else field.knots)
    _check_covered(samples.measure, float(np.hypot(*np.diff(points, axis=0).T).sum()), name)
    return samples


def motion_rows(panel: Panel, samples: Samples, z: float) -> Array:
    """Rows (n, 3, 30) of the displacement (x, y, z) at height ``z`` above the mid-surface."""
    rows = panel.displacement_rows(samples.elements, samples.xy)
    motion = rows[:, :3].copy()
    motion[:, :2] -= z * rows[:, 3:5]
    return motion


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


def _strip_samples(locator: Locator, points: Array, width: float) -> Samples:
    left, right = offset_polyline(points, 0.5 * width), offset_polyline(points, -0.5 * width)
    parts = []
    for i, (a, b) in enumerate(itertools.pairwise(points)):
        strip = shapely.Polygon([left[i], left[i + 1], right[i + 1], right[i]])
        found = locator.area(strip)
        tangent = (b - a) / np.hypot(*(b - a))
        direction = np.repeat(tangent[:, None], len(found.weights), axis=1)
        s = tangent @ (found.xy - a[:, None])
        parts.append(Samples(found.elements, found.xy, found.weights, s, direction))
    return join(parts)


def _check_covered(found: float, wanted: float, name: str) -> None:
    if found < wanted * (1.0 - COVERAGE):
        missing = 100.0 * (1.0 - found / wanted)
        raise DesignError(
            f"{name[:1].upper()}{name[1:]} lies {missing:.2g} % off the panel or over an opening: "
            "shorten it or move it inwards."
        )
