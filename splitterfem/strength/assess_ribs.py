"""Utilisation of ribs in a solved load case: stress of the extreme fibre, buckling of the compressed walls.

The stress of each fibre is averaged over one section height along the rib, which beam theory does not resolve
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid

from splitterfem.analysis import Solution
from splitterfem.analysis.ribforces import RibForces, rib_forces
from splitterfem.errors import DesignError
from splitterfem.model import ModelRib
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.assess_walls import buckling_of_walls
from splitterfem.strength.ribs import fibre_strength, worst_along
from splitterfem.strength.row import Check
from splitterfem.strength.walls import MODE as BUCKLING

Array = NDArray[np.float64]


def rib_checks(solution: Solution) -> list[Check]:
    """Judge every rib: its extreme fibre against yield over the factor on metal, and its compressed walls."""
    checks = []
    for rib in solution.model.ribs:
        response = solution.response
        forces = rib_forces(solution.model, rib, response.x, extra=response.extra, large=response.large)
        checks += checks_of_fibres(solution, rib, forces, mean_fibres(rib, forces))
    return checks


def checks_of_fibres(solution: Solution, rib: ModelRib, forces: RibForces, fibres: Array) -> list[Check]:
    """Judge a rib by the mean stresses (k, n) of its fibres in Pa; of the forces only their stations are read."""
    return [_extreme_fibre(solution, rib, forces, fibres), *_walls(solution, rib, forces, fibres)]


def _extreme_fibre(solution: Solution, rib: ModelRib, forces: RibForces, fibres: Array) -> Check:
    settings, material = solution.model.design.strength, rib.material
    worst = np.argmax(np.abs(fibres), axis=0)
    stress = fibres[worst, np.arange(fibres.shape[1])]
    load = float(settings.load_factor)
    if material.yield_strength is None:
        why = f"the material '{material.name}' has no yield strength"
        demand = load * float(np.abs(stress).max())
        return unjudged(rib.name, "rib", "stress of the extreme fibre", why, demand=demand, unit="Pa")
    limit = fibre_strength(
        float(material.yield_strength), factor=float(settings.metal_factor), basis=material.basis
    )
    limit = replace(limit, source=material.source)
    x, y = forces.xy
    return worst_along(stress, limit, part=rib.name, x=x, y=y, load_factor=load)


def _walls(solution: Solution, rib: ModelRib, forces: RibForces, fibres: Array) -> list[Check]:
    settings = solution.model.design.strength
    load = float(settings.load_factor)
    try:
        return buckling_of_walls(
            rib, forces, fibres, metal_factor=float(settings.metal_factor), load_factor=load
        )
    except DesignError as problem:
        pushed = load * max(0.0, -float(fibres.min()))
        return [unjudged(rib.name, "rib", BUCKLING, str(problem), demand=pushed, unit="Pa")]


def mean_fibres(rib: ModelRib, forces: RibForces) -> Array:
    """Stress of every fibre averaged over a section height along the rib, as `RibForces.fibres`, Pa."""
    return np.array([mean_along(forces.s, fibre, rib.properties.height) for fibre in forces.fibres])


def mean_along(s: Array, values: Array, length: float) -> Array:
    """Mean over a length about each station, over what there is of it at the ends."""
    whole = np.concatenate([[0.0], cumulative_trapezoid(values, s)])
    low, high = np.maximum(s - 0.5 * length, s[0]), np.minimum(s + 0.5 * length, s[-1])
    return np.asarray((np.interp(high, s, whole) - np.interp(low, s, whole)) / (high - low))
