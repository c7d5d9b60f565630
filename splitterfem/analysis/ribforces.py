"""Axial force, bending moment, shear and fibre stress along a rib."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.smoothing import SmoothCurve, smoothed
from splitterfem.errors import DesignError
from splitterfem.fem import recover
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.locate import Samples
from splitterfem.fem.ribrows import along
from splitterfem.fem.slip import distances
from splitterfem.model import Model, ModelRib

Array = NDArray[np.float64]

STATIONS_PER_METRE = 200
FEWEST_STATIONS = 21
INSIDE = 1e-9
"""Distance of stations from the ends and bends whose sides they stand for, over the rib's length."""
KNOTS = 2.0
"""Distance of the knots of the smoothing splines in section heights: forces over one height come out right."""


@dataclass(frozen=True)
class RibForces:
    """Forces at ``n`` stations along a rib, from one section height inside its ends, on both sides of each bend.

    Nearer to an end the bonded foot takes up its force over a length that beam theory does not resolve;
    the peak there belongs to the joint.

    Attributes
    ----------
    s : ndarray, shape (n,)
        Distance along the rib line in m.
    xy : ndarray, shape (2, n)
        Stations in m.
    axial : ndarray, shape (n,)
        Force in the section, tension positive, in N.
    moment : ndarray, shape (n,)
        About the section's centroid axis parallel to the panel, positive when it stretches the upper
        fibres, in N m.
    shear : ndarray, shape (n,)
        Shear force across the rib in N; vertical but for the axial force of a rib that tilts far.
    stress : ndarray, shape (n,)
        Axial stress in Pa of the fibre that is stressed most, tension positive.
    fibres : ndarray, shape (k, n)
        Axial stress in Pa of every fibre looked at: foot and far side under each web.
    """

    s: Array
    xy: Array
    axial: Array
    moment: Array
    shear: Array
    stress: Array
    fibres: Array


def rib_forces(
    model: Model, rib: ModelRib, x: Array, *, extra: Array | None = None, large: bool = False
) -> RibForces:
    """Evaluate a rib's forces from the panel's displacements and its own.

    The strain at height z is that of the panel's mid-surface under the web less z times the curvature
    along the rib, both smoothed over about a section height, which beam theory does not resolve anyway.  The
    two webs of a closed section are evaluated under each of them.  A rib whose joint slips stretches with its
    own displacement at the foot; one without a joint only bends about its own axis.

    Parameters
    ----------
    model : Model
    rib : ModelRib
    x : ndarray, shape (n_dofs,)
    extra : ndarray, shape (k,), optional
        Unknowns of the ribs' own, as in a response; a rib whose joint slips needs them.
    large : bool
        Whether slopes stretch panel and rib (von Karman), as a response says.

    Raises
    ------
    DesignError
        If `extra` is left out and the rib's joint slips.
    """
    s, xy = stations(rib)
    E = float(rib.material.E)
    fibres = rib.face + rib.side * np.array([0.0, rib.properties.height])
    axial, moment, shear = np.zeros(len(s)), np.zeros(len(s)), np.zeros(len(s))
    stresses = []
    for line, operator in zip(rib.parts.lines, rib.operators.lines, strict=True):
        strain, curvature, gamma = strain_curve(model, rib, operator.samples, x, large=large).at(s).T
        if rib.operators.field is not None:
            foot = _foot_strain(model, rib, operator, x, extra, large=large)
            strain = foot.at(s)[:, 0] + rib.face * curvature
        elif line.EA == 0.0 and line.EI > 0.0:
            strain = line.z * curvature  # a rib without a joint only bends about its own axis
        force = line.EA * (strain - line.z * curvature)
        axial += force
        moment += force * (line.z - rib.centroid_z) - line.EI * curvature
        shear += line.GAs * gamma
        stresses += [E * (strain - z * curvature) for z in fibres]
    for layer, operator in zip(rib.parts.layers, rib.operators.layers, strict=True):
        strain, curvature, _ = strain_curve(model, rib, operator.samples, x, large=large).at(s).T
        force = layer.E * layer.thickness * layer.width * (strain - layer.z * curvature)
        axial += force
        moment += force * (layer.z - rib.centroid_z)
    every = np.array(stresses)
    worst = every[np.argmax(np.abs(every), axis=0), np.arange(len(s))]
    return RibForces(s, xy, axial, moment, shear, worst, every)


def _foot_strain(
    model: Model, rib: ModelRib, line: Contribution, x: Array, extra: Array | None, *, large: bool
) -> SmoothCurve:
    """Smoothed strain at the foot of a rib whose joint slips, as one of its lines takes part in it.

    The rib's own displacement makes up for every wiggle of the curvature under the line, and of the slopes.  Their sum
    is smooth by itself, so all of them are smoothed at the same places and with the same weights.
    """
    field, samples = rib.operators.field, line.samples
    assert field is not None
    if extra is None:
        raise DesignError(f"Rib {rib.name} has a joint that slips: give the unknowns of the ribs' own.")
    strain = field.at(samples.s, extra)[1]
    if large:
        at = samples if line.tilt is None else line.tilt
        tilt = recover.slopes(model.panel, x, at.elements, at.xy)
        strain = strain + 0.5 * np.sum(at.direction.T * tilt, axis=1) ** 2
    return _smoothed(rib, samples, strain[:, None])


def stations(rib: ModelRib) -> tuple[Array, Array]:
    """Distances (n,) along a rib and their places (2, n), clear of its ends, in m.

    They are evenly spaced along each straight piece, from just after a bend to just before the next: forces jump there.
    """
    corners, points = corner_distances(rib), rib.parts.points
    inset = min(rib.properties.height, 0.25 * rib.length)
    pieces = [
        np.linspace(start, end, max(FEWEST_STATIONS, int(np.ceil((end - start) * STATIONS_PER_METRE)) + 1))
        for start, end in pairwise(corners.tolist())
    ]
    s = on_both_sides(np.concatenate(pieces), corners)
    s = s[(s >= inset) & (s <= corners[-1] - inset)]
    return s, np.array([np.interp(s, corners, points[:, axis]) for axis in (0, 1)])


def on_both_sides(s: Array, corners: Array) -> Array:
    """Distances along a rib in rising order, with both sides of each bend and the inner side of each end added.

    The ends and bends themselves, ``corners``, are left out.
    """
    air = INSIDE * corners[-1]
    return np.unique(np.concatenate([np.setdiff1d(s, corners), corners[:-1] + air, corners[1:] - air]))


def corner_distances(rib: ModelRib) -> Array:
    """Distances along a rib of its ends and bends, in m."""
    return distances(rib.parts.points)


def course(points: Array, s: Array) -> tuple[Array, Array]:
    """Places (2, n) and unit tangents (2, n) at distances along a polyline."""
    step = np.diff(points, axis=0)
    lengths = np.hypot(*step.T)
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    part = np.clip(np.searchsorted(starts, s, side="right") - 1, 0, len(lengths) - 1)
    tangent = step[part] / lengths[part, None]
    return np.asarray((points[part] + (s - starts[part])[:, None] * tangent).T), np.asarray(tangent.T)


def strain_curve(
    model: Model, rib: ModelRib, samples: Samples, x: Array, *, large: bool = False
) -> SmoothCurve:
    """Smoothed mid-surface strain, curvature and shear strain along a rib under one of its lines or layers."""
    strains = recover.strains(model.panel, x, samples.elements, samples.xy, large=large)[:, :, None]
    tx, ty = samples.direction
    shear = tx * strains[:, 6, 0] + ty * strains[:, 7, 0]
    values = np.column_stack([along(strains, samples, 0), along(strains, samples, 3), shear])
    return _smoothed(rib, samples, values)


def _smoothed(rib: ModelRib, samples: Samples, values: Array) -> SmoothCurve:
    """Values (n, k) at the samples of a line of a rib, smoothed along each straight piece."""
    return smoothed(
        samples.s,
        values,
        samples.weights,
        breaks=corner_distances(rib),
        spacing=KNOTS * rib.properties.height,
    )
