"""Strain rows of ribs on a mesh: lines, foot layers, torsion cells and joints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution, Extra
from splitterfem.fem.linerows import LineRows
from splitterfem.fem.locate import Locator, Samples
from splitterfem.fem.panel import Panel, PointRows
from splitterfem.fem.ribs import BeamLine, FootLayer, RibParts, TorsionCell
from splitterfem.fem.ribsamples import COVERAGE, check_covered, line_samples, moved, strip_samples
from splitterfem.fem.slip import SlipField, bend_changes, slip_field

Array = NDArray[np.float64]

LINK = 2e-6
"""Length of rib that gives way as much as the link at a bend, over that of the rib: ten bends cost a few 1e-5 of its
axial stiffness, and round-off in the link stays at 1e-9 of the loads."""


@dataclass(frozen=True)
class RibOperators:
    """A rib on a mesh.

    Attributes
    ----------
    lines, layers, cells, joint : tuple of Contribution
        In the order of the rib's parts; ``joint`` has one row, the slip, and at bends the links between pieces.
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


def rib_operators(
    panel: Panel,
    locator: Locator,
    parts: RibParts,
    *,
    first_extra: int = 0,
    cells: SlipField | None = None,
) -> RibOperators:
    """Strain rows of a rib's lines, layers and cells, and of its joint when that slips.

    Parameters
    ----------
    panel : Panel
    locator : Locator
    parts : RibParts
    first_extra : int
        Number of the first extra unknown that is free.
    cells : SlipField, optional
        Cells of its own displacement, in place of those that its length and joint ask for.

    Raises
    ------
    DesignError
        If part of the rib or its foot is not on the panel.
    """
    name = f"rib {parts.name}"
    field = None
    joint: tuple[Contribution, ...] = ()
    if parts.slip is not None:
        field = cells or slip_field(parts.points, first_extra, stiffness=parts.slip.stiffness, EA=parts.EA)
        joint = (joint_contribution(panel, locator, parts, field, name=name),)
        if len(field.bends):
            joint += (bend_contribution(panel, locator, parts, field),)
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

    With slip the rib stretches with its own displacement at the foot instead of the panel's.  That is one number at
    each station, so the slopes that stretch it are those of the rib's own line too: then a bowed rib can be turned.

    Raises
    ------
    DesignError
        If part of the line is not on the panel.
    """
    samples = line_samples(locator, line.points, rib.points, name, field)
    here = panel.at(samples.elements, samples.xy)
    rows = LineRows(here, samples)
    bending = rows.bending()
    if field is None or rib.slip is None:
        extra, axial = None, rows.stretch(line.z)
    else:
        extra = field.rows(samples.s, value=np.zeros(4), slope=np.array([1.0, 0.0, 0.0, 0.0]))
        axial = (rib.slip.face - line.z) * bending
    return Contribution(
        samples=samples,
        rows=np.stack([axial, bending, rows.twist(), rows.transverse_shear()], axis=1),
        stiffness=np.array([line.EA, line.EI, line.GJ, line.GAs]),
        extra=extra,
        motion=_motion(here, line.z),
        mass=line.mass,
        z=line.z,
        stretch=((0, 0),),
        tilt=None if field is None else moved(locator, samples, rib.points),
    )


def layer_contribution(panel: Panel, locator: Locator, layer: FootLayer, *, name: str) -> Contribution:
    """Strain rows of a foot layer: stretch along the rib and in-plane shear; its own bending goes with a line.

    Raises
    ------
    DesignError
        If part of the foot hangs over an edge of the panel.
    """
    samples = strip_samples(locator, layer.points, layer.width)
    length = float(np.hypot(*np.diff(layer.points, axis=0).T).sum())
    check_covered(samples.measure, length * layer.width, f"the foot of {name}")
    here = panel.at(samples.elements, samples.xy)
    rows = LineRows(here, samples)
    return Contribution(
        samples=samples,
        rows=np.stack([rows.stretch(layer.z), rows.shear(layer.z)], axis=1),
        stiffness=np.array([layer.E * layer.thickness, layer.G * layer.thickness]),
        motion=_motion(here, layer.z),
        mass=layer.mass,
        z=layer.z,
        stretch=((0, 0), (0, 1)),
    )


def cell_contribution(
    panel: Panel, locator: Locator, cell: TorsionCell, rib: RibParts, *, name: str
) -> Contribution:
    """Strain row of a torsion cell: the sum of the shear strains of its walls but the foot, per width of the foot."""
    samples = line_samples(locator, cell.points, rib.points, name)
    rows = LineRows(panel.at(samples.elements, samples.xy), samples)
    # counted as shear of the foot, which is what slopes add to when the panel tilts far
    row = rows.shear(cell.z) - 2.0 * cell.area / cell.foot * rows.twist()
    return Contribution(
        samples=samples,
        rows=row[:, None],
        stiffness=np.array([cell.stiffness * cell.foot**2]),
        stretch=((0, 1),),
    )


def joint_contribution(
    panel: Panel, locator: Locator, rib: RibParts, field: SlipField, *, name: str
) -> Contribution:
    """Slip row of a joint: the rib's own displacement at the foot less that of the panel's face.

    A rib with two feet slips on the line between them: its own displacement is one number at each station, so rows
    under either foot would hold the rib against turning in the plane of the panel.
    """
    if rib.slip is None:
        raise ValueError("a rib without slip has no joint rows")
    samples = line_samples(locator, rib.points, rib.points, name, field)
    rows = panel.displacement_rows(samples.elements, samples.xy)
    tx, ty = samples.direction[:, :, None]
    face = tx * (rows[:, 0] - rib.slip.face * rows[:, 3]) + ty * (rows[:, 1] - rib.slip.face * rows[:, 4])
    return Contribution(
        samples=samples,
        rows=-face[:, None],
        stiffness=np.array([rib.slip.stiffness]),
        extra=field.rows(samples.s, value=np.ones(1), slope=np.zeros(1)),
    )


def bend_contribution(panel: Panel, locator: Locator, rib: RibParts, field: SlipField) -> Contribution:
    """Links that hold the straight pieces of a rib together where it bends and its joint slips, one sample each.

    A link measures ``U(after) - U(before) - u_face . (t_after - t_before)``, the jump of the slip: nothing in a rigid
    motion, nor as a bowed panel turns.  Its force is the rib's axial force; times the change of direction it goes to
    the panel.  That force is not in the joint's flow along the rib.
    """
    if rib.slip is None:
        raise ValueError("a rib without slip has no links at its bends")
    xy, change = rib.points[1:-1].T, bend_changes(rib.points)
    elements = locator.find(xy, reach=COVERAGE * float(field.knots[-1]))
    rows = panel.displacement_rows(elements, xy)
    face = rows[:, :2] - rib.slip.face * rows[:, 3:5]
    count = len(field.bends)
    weights = np.full(count, 1.0 / (LINK * field.knots[-1]))
    return Contribution(
        samples=Samples(elements, xy, weights, field.knots[field.bends], np.zeros((2, count))),
        rows=-np.einsum("nc,nck->nk", change, face)[:, None],
        stiffness=np.array([rib.EA]),
        extra=Extra(field.sides, np.tile([[[-1.0, 1.0]]], (count, 1, 1))),
    )


def along(strains: Array, samples: Samples, first: int) -> Array:
    """Component along the line of the symmetric tensor whose rows start at ``first`` (shear engineering)."""
    tx, ty = samples.direction[:, :, None]
    return np.asarray(
        tx * tx * strains[:, first] + ty * ty * strains[:, first + 1] + tx * ty * strains[:, first + 2]
    )


def motion_rows(panel: Panel, samples: Samples, z: float) -> Array:
    """Rows (n, 3, 30) of the displacement (x, y, z) at height ``z`` above the mid-surface."""
    return _motion(panel.at(samples.elements, samples.xy), z)


def _motion(here: PointRows, z: float) -> Array:
    rows = here.displacements
    motion = rows[:, :3].copy()
    motion[:, :2] -= z * rows[:, 3:5]
    return motion
