"""Load vectors of a load case: air, forces, weight and inertia."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem import curves, design
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.combine import parts_of
from splitterfem.fem.loads import patch_load, resultant, surface_load
from splitterfem.fem.reference import quadrature
from splitterfem.fem.restraint import pad_samples
from splitterfem.model.airload import AirLoad, combined
from splitterfem.model.assembly import Model
from splitterfem.model.pads import PAD_CHORD, pad_polygon
from splitterfem.model.tunnels import TunnelLoad, rim_vectors

Array = NDArray[np.float64]

LINEAR = 2
"""Degree of the quadrature for a load that is the same everywhere: exact for quadratic unknowns."""

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""


@dataclass(frozen=True)
class CaseLoad:
    """Load vector of a case and what it is made of.

    Attributes
    ----------
    vector : ndarray, shape (n_dofs,)
    resultants : dict of str to ndarray, shape (6,)
        Force (N) and moment about the origin (N m) of each part: air, weight and inertia, each force.
    air : AirLoad or None
        What the pressure map does to the panel.
    tunnels : tuple of TunnelLoad
        What the air does to the ramps behind its openings.
    """

    vector: Array
    resultants: dict[str, Array]
    air: AirLoad | None
    tunnels: tuple[TunnelLoad, ...] = ()


def case_load(model: Model, case: LoadCase) -> CaseLoad:
    """Assemble the load vector of a case and of those that it combines.

    Raises
    ------
    DesignError
        If a force lies off the panel, the pressure map covers none of it, or a combined case is not there.
    FileError
        If the file of a pressure map cannot be read.
    """
    vectors: dict[str, Array] = {}
    airs: list[tuple[float, AirLoad]] = []
    tunnels: list[TunnelLoad] = []
    felt = acceleration_felt(case)
    for part, factor in acting(model.design, case):
        mark = "" if part is case else f" of '{part.name}'"
        if part.pressure is not None:
            vector, air = model.air.panel(model, part)
            vectors[f"air{mark}"] = factor * vector
            airs.append((factor, air))
        if part.pressure is not None or not part.combines:
            loads = [load.scaled(factor) for load in model.air.tunnels(model.design, part)]
            vectors |= {f"{name}{mark}": v for name, v in rim_vectors(model, loads).items()}
            tunnels += loads
        for number, force in enumerate(part.forces, start=1):
            vectors[f"force {number}{mark}"] = factor * float(part.factor) * _force(model, force, number)
    for part, factor in parts_of(case, model.design):
        felt = felt - factor * np.asarray(part.acceleration, dtype=float)
    vectors["weight and inertia"] = _inertia(model, felt)
    total = np.sum(list(vectors.values()), axis=0)
    sums = {name: resultant(model.panel, vector) for name, vector in vectors.items()}
    return CaseLoad(total, sums, combined(airs), tuple(tunnels))


def following(model: Model, load: CaseLoad, added: Array, notes: tuple[str, ...] = ()) -> CaseLoad:
    """Load of a case with the air that follows the sag.

    Parameters
    ----------
    model : Model
    load : CaseLoad
        At rest.
    added : ndarray, shape (n_dofs,)
        What the sag adds to its vector.
    notes : tuple of str
        What to know about that.
    """
    if load.air is None:
        return load
    sums = resultant(model.panel, added)
    force = load.air.downforce - sums[2]
    # a lift F_z at (x, y) has the moments M_x = y F_z and M_y = -x F_z
    still = np.nan_to_num(np.asarray(load.air.centre)) * load.air.downforce
    moved = still + np.array([sums[4], -sums[3]])
    ratio = force / load.air.downforce if load.air.downforce else 1.0
    band = load.air.band
    air = replace(
        load.air,
        downforce=force,
        centre=tuple(moved / force) if force else (float("nan"), float("nan")),
        band=None if band is None else (ratio * band[0], ratio * band[1], ratio * band[2]),
        notes=(*load.air.notes, *notes),
    )
    resultants = {**load.resultants, "air that follows the sag": sums}
    return replace(load, vector=load.vector + added, resultants=resultants, air=air)


def acting(splitter: Splitter, case: LoadCase) -> list[tuple[LoadCase, float]]:
    """Return a case and those that it combines, each with the factor on its pressure and forces besides its own."""
    own = float(case.factor)
    return [(case, 1.0), *((part, own * factor) for part, factor in parts_of(case, splitter))]


def acceleration_felt(case: LoadCase) -> Array:
    """Field of acceleration (3,) that the parts feel, in m/s2: gravity less the car's own acceleration."""
    weight = np.array([0.0, 0.0, -GRAVITY if case.gravity else 0.0])
    return np.asarray(weight - np.asarray(case.acceleration, dtype=float))


def _inertia(model: Model, acceleration: Array) -> Array:
    space = model.panel.space
    n = space.n_elements * len(quadrature(LINEAR)[1])
    mass = np.repeat(model.sheet.mass_per_area, n // space.n_elements)
    traction = acceleration[:, None] * mass
    vector = surface_load(model.panel, traction, LINEAR)
    for rib in model.ribs:
        for part in rib.operators.contributions:
            vector = vector + part.inertia_load(model.panel, acceleration)
    return np.asarray(vector)


def _force(model: Model, force: design.PointForce | design.PatchForce, number: int) -> Array:
    if isinstance(force, design.PointForce):
        polygon = pad_polygon(force.pad, force.at)
        total = np.asarray(force.force, dtype=float)
    else:
        loop = force.area_shape.outline().loop()
        polygon = curves.polygon(loop, PAD_CHORD * curves.length(loop) / 6.0)
        total = (
            np.array([0.0, 0.0, -float(force.pressure or 0.0) * abs(curves.area(loop))])
            if force.force is None
            else np.asarray(force.force, dtype=float)
        )
    samples = pad_samples(model.locator, polygon, name=f"force {number}")
    return patch_load(model.panel, samples, total)
