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
from splitterfem.fem.locate import Locator, Samples, join
from splitterfem.fem.panel import Panel

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
    """

    name: str
    points: Array
    lines: tuple[BeamLine, ...]
    layers: tuple[FootLayer, ...]
    cells: tuple[TorsionCell, ...] = ()


@dataclass(frozen=True)
class Contribution:
    """Rows of strain at sample points with the stiffness that they carry.

    Attributes
    ----------
    samples : Samples
    rows : ndarray, shape (n, m, 30)
        Strain measures from the element's unknowns.
    stiffness : ndarray, shape (m,)
        Stiffness of each measure per length (line) or area (layer).
    motion : ndarray, shape (n, 3, 30)
        Displacement (x, y, z) of the part's own centroid.
    mass : float
        Mass per length (kg/m) or area (kg/m2).
    z : float
        Height of the centroid above the panel's mid-surface in m.
    """

    samples: Samples
    rows: Array
    stiffness: Array
    motion: Array
    mass: float
    z: float

    def add_to(self, element_matrices: Array) -> None:
        """Add the stiffness to element matrices (nt, 30, 30) in place."""
        weighted = self.rows * (self.samples.weights[:, None, None] * self.stiffness[:, None])
        per_sample = np.matmul(self.rows.transpose(0, 2, 1), weighted)
        touched, owner = np.unique(self.samples.elements, return_inverse=True)
        order = np.argsort(owner, kind="stable")
        starts = np.searchsorted(owner[order], np.arange(len(touched)))
        element_matrices[touched] += np.add.reduceat(per_sample[order], starts, axis=0)

    def inertia_load(self, panel: Panel, acceleration: Array) -> Array:
        """Load vector of the part's mass in a field of acceleration (3,) in m/s2."""
        density = self.samples.weights * self.mass
        return panel.scatter(
            self.samples.elements, np.einsum("n,c,nck->nk", density, acceleration, self.motion)
        )


def rib_contributions(panel: Panel, locator: Locator, parts: RibParts) -> tuple[Contribution, ...]:
    """Contributions of a rib's lines, layers and cells, in this order.

    Raises
    ------
    DesignError
        If part of the rib or its foot is not on the panel.
    """
    name = f"rib {parts.name}"
    return (
        *(line_contribution(panel, locator, line, name=name) for line in parts.lines),
        *(layer_contribution(panel, locator, layer, name=name) for layer in parts.layers),
        *(cell_contribution(panel, locator, cell, name=name) for cell in parts.cells),
    )


def line_contribution(panel: Panel, locator: Locator, line: BeamLine, *, name: str) -> Contribution:
    """Strain rows of a beam line: axial, bending, torsion and shear.

    Raises
    ------
    DesignError
        If part of the line is not on the panel.
    """
    samples = _line_samples(locator, line.points, name)
    strains = panel.strain_rows(samples.elements, samples.xy)
    bending = along(strains, samples, 3)
    axial = along(strains, samples, 0) - line.z * bending
    tx, ty = samples.direction[:, :, None]
    shear = tx * strains[:, 6] + ty * strains[:, 7]
    return Contribution(
        samples=samples,
        rows=np.stack([axial, bending, _twist(panel, samples), shear], axis=1),
        stiffness=np.array([line.EA, line.EI, line.GJ, line.GAs]),
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


def cell_contribution(panel: Panel, locator: Locator, cell: TorsionCell, *, name: str) -> Contribution:
    """Strain row of a torsion cell: the sum of the shear strains of its walls without the foot."""
    samples = _line_samples(locator, cell.points, name)
    strains = panel.strain_rows(samples.elements, samples.xy)
    foot = across(strains, samples, 0) - cell.z * across(strains, samples, 3)
    row = 2.0 * cell.area * _twist(panel, samples) - cell.foot * foot
    return Contribution(
        samples=samples,
        rows=row[:, None],
        stiffness=np.array([cell.stiffness]),
        motion=motion_rows(panel, samples, cell.z),
        mass=0.0,
        z=cell.z,
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


def _line_samples(locator: Locator, points: Array, name: str) -> Samples:
    samples = locator.line(points)
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
