"""Derivative of a check of a rib by the unknowns of panel and ribs.

A check depends on the mean stresses of the rib's fibres at its worst station.  These are means over a section height
of smoothed strains and curvatures under the rib's lines, which depend on the unknowns by the rows of the elements
there; smoothing is linear, so that it is known from what it makes of unit values.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.ribforces import KNOTS, RibForces, corner_distances, rib_forces
from splitterfem.analysis.smoothing import smoothed
from splitterfem.fem import recover
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.locate import Samples
from splitterfem.model import ModelRib
from splitterfem.strength.assess_ribs import checks_of_fibres, mean_along, mean_fibres
from splitterfem.strength.differences import differences
from splitterfem.strength.row import Check
from splitterfem.strength.slopes_sheet import by_slopes, by_strains

Array = NDArray[np.float64]


PLACES, APART, LEAST = 4, 0.1, 0.3
"""Most stations of a rib that are looked at, their distance over its length, and the share of the worst ratio below
which a station does not matter."""


def by_rib(solution: Solution, check: Check, *, places: int = PLACES) -> list[tuple[Check, Array]]:
    """Differentiate a check of a rib by all unknowns (n,), at its worst station and at others.

    Parameters
    ----------
    solution : Solution
    check : Check
        One of :func:`splitterfem.strength.assess_ribs.rib_checks`.
    places : int
        Most stations; one for the worst alone.

    Returns
    -------
    list of (Check, ndarray)
        The worst station first, which stays where it is; then the same check at others.
    """
    model, response = solution.model, solution.response
    rib = next(rib for rib in model.ribs if rib.name == check.part)
    forces = rib_forces(model, rib, response.x, extra=response.extra, large=response.large)
    fibres, found = mean_fibres(rib, forces), list[tuple[Check, Array]]()
    ratios = np.array([_ratio(solution, rib, forces, i, fibres[:, i], check) for i in range(len(forces.s))])
    curves = [_smoothing(rib, line.samples, forces.s) for line in rib.operators.lines]
    left = ratios >= LEAST * ratios.max()
    while len(found) < places and left.any():
        station = int(np.flatnonzero(left)[np.argmax(ratios[left])])
        x, y = (float(value) for value in forces.xy[:, station])
        there = replace(check, ratio=float(ratios[station]), x=x, y=y) if found else check
        by_mean = differences(
            partial(_ratio, solution, rib, forces, station, check=check), fibres[:, station]
        )
        found.append((there, _at_station(solution, rib, curves, _window(rib, forces, station, by_mean))))
        left &= np.abs(forces.s - forces.s[station]) > APART * rib.length
    return found


def _window(rib: ModelRib, forces: RibForces, station: int, by_mean: Array) -> Array:
    """Turn derivatives (k,) by the mean stresses of the fibres at a station into those (k, n) by all stresses."""
    height = rib.properties.height
    return np.outer(by_mean, [mean_along(forces.s, unit, height)[station] for unit in np.eye(len(forces.s))])


def _at_station(solution: Solution, rib: ModelRib, curves: list[Array], by_fibres: Array) -> Array:
    """Turn derivatives (k, n) by the stresses of the fibres into those by all unknowns."""
    model = solution.model
    found = model.structure.with_extra(np.zeros(model.panel.space.n_dofs))
    for number, curve in enumerate(curves):
        found += _by_line(solution, rib, number, curve, by_fibres[2 * number : 2 * number + 2])
    return found


def _ratio(
    solution: Solution, rib: ModelRib, forces: RibForces, station: int, stress: Array, check: Check
) -> float:
    """Ratio of a check with mean stresses (k,) of the fibres at one station."""
    here = replace(forces, s=forces.s[[station]], xy=forces.xy[:, [station]])
    found = checks_of_fibres(solution, rib, here, stress[:, None])
    return max((one.ratio for one in found if one.mode == check.mode), default=0.0)


def _by_line(solution: Solution, rib: ModelRib, number: int, smoothing: Array, by_fibres: Array) -> Array:
    """Turn derivatives (2, n) by the stresses of the fibres under one line into those by all unknowns."""
    model, part, line = solution.model, rib.parts.lines[number], rib.operators.lines[number]
    samples = line.samples
    heights = rib.face + rib.side * np.array([0.0, rib.properties.height])
    by_strain = float(rib.material.E) * by_fibres.sum(axis=0)
    by_curvature = -float(rib.material.E) * (heights @ by_fibres)
    found = np.zeros(model.structure.matrix.shape[0])
    if rib.operators.field is not None:
        by_curvature = by_curvature + rib.face * by_strain
        found += _by_foot(solution, rib, line, by_strain @ smoothing)
        by_strain = np.zeros(len(by_strain))
    elif part.EA == 0.0 and part.EI > 0.0:
        by_curvature = by_curvature + part.z * by_strain
        by_strain = np.zeros(len(by_strain))
    tx, ty = samples.direction
    along = np.column_stack([tx * tx, ty * ty, tx * ty])
    by = np.zeros((len(samples.s), 8))
    by[:, 0:3] = (by_strain @ smoothing)[:, None] * along
    by[:, 3:6] = (by_curvature @ smoothing)[:, None] * along
    found[: model.panel.space.n_dofs] += by_strains(solution, samples.elements, samples.xy, by)
    return found


def _smoothing(rib: ModelRib, samples: Samples, s: Array) -> Array:
    """Values (n, m) at distances along a rib after smoothing unit values at each of m samples."""
    curve = smoothed(
        samples.s,
        np.eye(len(samples.s)),
        samples.weights,
        breaks=corner_distances(rib),
        spacing=KNOTS * rib.properties.height,
    )
    return curve.at(s)


def _by_foot(solution: Solution, rib: ModelRib, line: Contribution, by: Array) -> Array:
    """Turn derivatives (m,) by the strain at the foot of a rib that slips into those by all unknowns."""
    model, field, samples = solution.model, rib.operators.field, line.samples
    assert field is not None
    n = model.panel.space.n_dofs
    found = np.zeros(model.structure.matrix.shape[0])
    dofs, _, slopes = field.functions(samples.s)
    np.add.at(found, n + dofs, by[:, None] * slopes)
    if solution.response.large:
        at = samples if line.tilt is None else line.tilt
        tilt = recover.slopes(model.panel, solution.response.x, at.elements, at.xy)
        turned = by * np.sum(at.direction.T * tilt, axis=1)
        found[:n] += by_slopes(solution, at.elements, at.xy, turned[:, None] * at.direction.T)
    return found
