"""Axial force, bending moment, shear and fibre stress along a rib."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.smoothing import SmoothCurve, smoothed
from splitterfem.errors import DesignError
from splitterfem.fem.locate import Samples
from splitterfem.fem.ribrows import along
from splitterfem.fem.ribs import BeamLine
from splitterfem.model import Model, ModelRib

Array = NDArray[np.float64]

STATIONS_PER_METRE = 200
FEWEST_STATIONS = 21
KNOTS = 2.0
"""Distance of the knots of the smoothing splines in section heights: forces over one height come out right."""


@dataclass(frozen=True)
class RibForces:
    """Forces at ``n`` stations along a rib, from one section height inside its ends.

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
        Vertical shear force in N.
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


def rib_forces(model: Model, rib: ModelRib, x: Array, *, extra: Array | None = None) -> RibForces:
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

    Raises
    ------
    DesignError
        If they are left out and the rib's joint slips.
    """
    s, xy = stations(rib)
    E = float(rib.material.E)
    fibres = rib.face + rib.side * np.array([0.0, rib.properties.height])
    axial, moment, shear = np.zeros(len(s)), np.zeros(len(s)), np.zeros(len(s))
    stresses = []
    for line, operator in zip(rib.parts.lines, rib.operators.lines, strict=True):
        strain, curvature, gamma = strain_curve(model, rib, operator.samples, x).at(s).T
        strain = _own_strain(rib, line, s, extra, strain=strain, curvature=curvature)
        force = line.EA * (strain - line.z * curvature)
        axial += force
        moment += force * (line.z - rib.centroid_z) - line.EI * curvature
        shear += line.GAs * gamma
        stresses += [E * (strain - z * curvature) for z in fibres]
    for layer, operator in zip(rib.parts.layers, rib.operators.layers, strict=True):
        strain, curvature, _ = strain_curve(model, rib, operator.samples, x).at(s).T
        force = layer.E * layer.thickness * layer.width * (strain - layer.z * curvature)
        axial += force
        moment += force * (layer.z - rib.centroid_z)
    every = np.array(stresses)
    worst = every[np.argmax(np.abs(every), axis=0), np.arange(len(s))]
    return RibForces(s, xy, axial, moment, shear, worst, every)


def _own_strain(
    rib: ModelRib, line: BeamLine, s: Array, extra: Array | None, *, strain: Array, curvature: Array
) -> Array:
    """Strain of the rib carried on to the panel's mid-surface, from which ``z`` times the curvature is taken."""
    field = rib.operators.field
    if field is not None:
        if extra is None:
            raise DesignError(f"Rib {rib.name} has a joint that slips: give the unknowns of the ribs' own.")
        return np.asarray(field.at(s, extra)[1] + rib.face * curvature)
    loose = line.EA == 0.0 and line.EI > 0.0
    return line.z * curvature if loose else strain


def stations(rib: ModelRib) -> tuple[Array, Array]:
    """Evenly spaced distances (n,) along a rib and their places (2, n), clear of its ends, in m."""
    corners, points = corner_distances(rib), rib.parts.points
    inset = min(rib.properties.height, 0.25 * rib.length)
    pieces = [
        np.linspace(start, end, max(FEWEST_STATIONS, int(np.ceil((end - start) * STATIONS_PER_METRE)) + 1))
        for start, end in pairwise(corners.tolist())
    ]
    s = np.unique(np.concatenate(pieces))
    s = s[(s >= inset) & (s <= corners[-1] - inset)]
    return s, np.array([np.interp(s, corners, points[:, axis]) for axis in (0, 1)])


def corner_distances(rib: ModelRib) -> Array:
    """Distances along a rib of its ends and bends, in m."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(rib.parts.points, axis=0).T))])


def strain_curve(model: Model, rib: ModelRib, samples: Samples, x: Array) -> SmoothCurve:
    """Smoothed mid-surface strain, curvature and shear strain along a rib under one of its lines or layers."""
    rows = model.panel.strain_rows(samples.elements, samples.xy)
    strains = model.panel.gather(samples.elements, rows, x)[:, :, None]
    tx, ty = samples.direction
    shear = tx * strains[:, 6, 0] + ty * strains[:, 7, 0]
    values = np.column_stack([along(strains, samples, 0), along(strains, samples, 3), shear])
    return smoothed(
        samples.s,
        values,
        samples.weights,
        breaks=corner_distances(rib),
        spacing=KNOTS * rib.properties.height,
    )
