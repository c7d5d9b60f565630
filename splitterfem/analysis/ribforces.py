"""Axial force, bending moment, shear and fibre stress along a rib."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.fem.ribs import BeamLine, offset_polyline
from splitterfem.model import Model, ModelRib

Array = NDArray[np.float64]

STATIONS_PER_METRE = 200
FEWEST_STATIONS = 21


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
    along the rib.  The two webs of a closed section are evaluated under each of them.  A rib whose joint slips
    stretches with its own displacement at the foot; one without a joint only bends about its own axis.

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
    inset = min(rib.properties.height, 0.25 * rib.length)
    s, places = _stations(rib.parts.points, inset)
    E = float(rib.material.E)
    height = rib.properties.height
    fibres = rib.face + rib.side * np.array([0.0, height])
    axial, moment, shear = np.zeros(len(s)), np.zeros(len(s)), np.zeros(len(s))
    stresses = []
    for line in rib.parts.lines:
        offset = _offset_of(line.points, rib.parts.points)
        strain, curvature, gamma = _along(model, x, _stations(rib.parts.points, inset, offset)[1], places)
        strain = _own_strain(rib, line, s, extra, strain=strain, curvature=curvature)
        force = line.EA * (strain - line.z * curvature)
        axial += force
        moment += force * (line.z - rib.centroid_z) - line.EI * curvature
        shear += line.GAs * gamma
        stresses += [E * (strain - z * curvature) for z in fibres]
    for layer in rib.parts.layers:
        strain, curvature, _ = _along(model, x, places, places)
        force = layer.E * layer.thickness * layer.width * (strain - layer.z * curvature)
        axial += force
        moment += force * (layer.z - rib.centroid_z)
    every = np.array(stresses)
    worst = every[np.argmax(np.abs(every), axis=0), np.arange(len(s))]
    return RibForces(s, places.xy, axial, moment, shear, worst, every)


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


@dataclass(frozen=True)
class _Places:
    xy: Array
    direction: Array


def _stations(points: Array, inset: float, offset: float = 0.0) -> tuple[Array, _Places]:
    """Evenly spaced stations along a polyline, moved sideways by an offset, clear of its ends and bends."""
    step = np.diff(points, axis=0)
    lengths = np.hypot(*step.T)
    tangents = step / lengths[:, None]
    shifted = offset_polyline(points, offset)
    ends = np.cumsum(np.concatenate([[0.0], lengths]))
    xy, direction, s = [], [], []
    for i, length in enumerate(lengths):
        n = max(FEWEST_STATIONS, int(np.ceil(length * STATIONS_PER_METRE)) + 1)
        t = np.linspace(1e-6, 1.0 - 1e-6, n)
        along = ends[i] + length * t
        t = t[(along >= inset) & (along <= ends[-1] - inset)]
        xy.append(shifted[i][:, None] + np.outer(shifted[i + 1] - shifted[i], t))
        direction.append(np.repeat(tangents[i][:, None], len(t), axis=1))
        s.append(ends[i] + length * t)
    return np.concatenate(s), _Places(np.hstack(xy), np.hstack(direction))


def _offset_of(line: Array, rib: Array) -> float:
    """Signed distance of a web line from the rib line, to the left."""
    along = rib[1] - rib[0]
    away = line[0] - rib[0]
    return float(along[0] * away[1] - along[1] * away[0]) / float(np.hypot(*along))


def _along(model: Model, x: Array, at: _Places, stations: _Places) -> tuple[Array, Array, Array]:
    """Mid-surface strain, curvature and shear strain along the rib."""
    elements = model.locator.find(at.xy, reach=1e-4)
    strains = model.panel.gather(elements, model.panel.strain_rows(elements, at.xy), x)
    tx, ty = stations.direction
    strain = tx * tx * strains[:, 0] + ty * ty * strains[:, 1] + tx * ty * strains[:, 2]
    curvature = tx * tx * strains[:, 3] + ty * ty * strains[:, 4] + tx * ty * strains[:, 5]
    return strain, curvature, tx * strains[:, 6] + ty * strains[:, 7]
