"""Load vectors of a load case: air, forces, weight and inertia."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem import aero, curves, design
from splitterfem.aero import PressureField, dynamic_pressure, read_taps
from splitterfem.design import LoadCase, Splitter
from splitterfem.errors import DesignError
from splitterfem.fem.loads import patch_load, resultant, surface_load, surface_points
from splitterfem.fem.reference import quadrature
from splitterfem.fem.restraint import pad_samples
from splitterfem.model.assembly import Model
from splitterfem.model.pads import PAD_CHORD, pad_polygon

Array = NDArray[np.float64]

LINEAR = 2
"""Degree of the quadrature for a load that is the same everywhere: exact for quadratic unknowns."""

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""


@dataclass(frozen=True)
class AirLoad:
    """What the air does to the panel.

    Attributes
    ----------
    downforce : float
        Total of the net pressure over the panel in N, positive down.
    centre : tuple of float
        Centre of pressure (x, y) in m; nan when the downforce is zero.
    covered : float
        Share of the panel's area on which pressure was measured rather than extrapolated.
    dynamic_pressure : float
        In Pa.
    """

    downforce: float
    centre: tuple[float, float]
    covered: float
    dynamic_pressure: float


@dataclass(frozen=True)
class CaseLoad:
    """Load vector of a case and what it is made of.

    Attributes
    ----------
    vector : ndarray, shape (n_dofs,)
    resultants : dict of str to ndarray, shape (6,)
        Force (N) and moment about the origin (N m) of each part: air, weight and inertia, each force.
    air : AirLoad or None
    """

    vector: Array
    resultants: dict[str, Array]
    air: AirLoad | None


def case_load(model: Model, case: LoadCase) -> CaseLoad:
    """Assemble the load vector of a case.

    Raises
    ------
    DesignError
        If a force lies off the panel or the pressure map covers none of it.
    FileError
        If the file of a pressure map cannot be read.
    """
    vectors: dict[str, Array] = {}
    air = None
    if case.pressure is not None:
        vectors["air"], air = _air(model, case)
    vectors["weight and inertia"] = _inertia(model, acceleration_felt(case))
    for number, force in enumerate(case.forces, start=1):
        vectors[f"force {number}"] = float(case.factor) * _force(model, force, number)
    total = np.sum(list(vectors.values()), axis=0)
    sums = {name: resultant(model.panel, vector) for name, vector in vectors.items()}
    return CaseLoad(total, sums, air)


def acceleration_felt(case: LoadCase) -> Array:
    """Field of acceleration (3,) that the parts feel, in m/s2: gravity less the car's own acceleration."""
    weight = np.array([0.0, 0.0, -GRAVITY if case.gravity else 0.0])
    return np.asarray(weight - np.asarray(case.acceleration, dtype=float))


def pressure_field(splitter: Splitter, case: LoadCase) -> PressureField:
    """Net pressure of a case in Pa, its load factor included.

    Raises
    ------
    DesignError
        If the case has no pressure map, or a map of coefficients has no speed.
    FileError
        If the file of taps cannot be read.
    """
    pressure = case.pressure
    if pressure is None:
        raise DesignError(f"Load case '{case.name}' has no pressure map: give it one.")
    q = dynamic_pressure(float(case.speed), density=float(case.air_density))
    factor = float(case.factor)
    if isinstance(pressure, design.UniformMap):
        if pressure.cp is not None:
            return aero.UniformMap(factor * q * float(pressure.cp))
        return aero.UniformMap(factor * float(pressure.pressure or 0.0))
    if isinstance(pressure, design.FunctionMap):
        scale = factor * (q if pressure.quantity == "cp" else 1.0)
        return aero.FunctionMap(pressure.function).scaled(scale)
    return _tap_field(splitter, pressure, case, q).scaled(factor * float(pressure.scale))


def _tap_field(splitter: Splitter, pressure: design.TapMap, case: LoadCase, q: float) -> aero.TapMap:
    path = splitter.path(pressure.file)
    taps = read_taps(path, length_unit=pressure.length_unit, pressure_unit=pressure.pressure_unit or "Pa")
    if taps.kind != pressure.quantity:
        raise DesignError(
            f"Load case '{case.name}' calls the taps of {taps.name} a {pressure.quantity}, but the file's column is "
            f'a {taps.kind}: set quantity to "{taps.kind}".'
        )
    if taps.kind == "cp":
        return taps.map(q)
    reference = dynamic_pressure(float(pressure.reference_speed or 0.0), density=float(case.air_density))
    return taps.map(q, q_reference=reference)


def _air(model: Model, case: LoadCase) -> tuple[Array, AirLoad]:
    field = pressure_field(model.design, case)
    xy, area = surface_points(model.panel)
    pressure = field.at(xy[0], xy[1])
    traction = np.vstack([np.zeros((2, len(area))), -pressure])
    vector = surface_load(model.panel, traction)
    measured = ~field.extrapolated(xy[0], xy[1])
    covered = float(area[measured].sum() / area.sum())
    if covered == 0.0:
        raise DesignError(
            f"The pressure map of load case '{case.name}' covers none of the panel: check the unit and the axes of "
            "its positions (x forward of the front axle, y to the left)."
        )
    force = float(pressure @ area)
    scale = float(np.abs(pressure) @ area)
    centre = (xy @ (pressure * area)) / force if abs(force) > 1e-9 * scale else np.full(2, np.nan)
    q = dynamic_pressure(float(case.speed), density=float(case.air_density))
    return vector, AirLoad(force, (float(centre[0]), float(centre[1])), covered, q)


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


def clearance_datum(splitter: Splitter, case: LoadCase) -> Callable[[Array], Array]:
    """Return the static gap in m between the ground and the panel's lower face as a function of x in m."""
    car = splitter.car
    height = float(car.ride_height if case.ride_height is None else case.ride_height)
    slope = float(np.tan(car.rake if case.rake is None else case.rake))
    return lambda x: height - slope * np.asarray(x, dtype=float)
