"""Gain of a rib along its line: the derivative of a measure by a share of the whole rib, parts where they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.gain_density import Directional, bent, changed_strains, directional, weighing
from splitterfem.analysis.sensitivity import Sensitivity
from splitterfem.design import Rib
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.recover import slopes
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import RibParts
from splitterfem.fem.stretch import added_strains
from splitterfem.fem.structure import Structure
from splitterfem.model import Model, ModelRib
from splitterfem.model.ribs import rib_parts

Array = NDArray[np.float64]
Parts = tuple[Contribution, ...]
"""What the parts of a rib add to the panel."""


def bonded_parts(model: Model, rib: Rib) -> RibParts:
    """Lines, foot layers and cells of a rib that is bonded, whatever its joint."""
    points = np.array(rib.points, dtype=float)
    return rib_parts(rib, points, float(model.sheet.base.thickness), name=rib.name, joint=None)


def laid(model: Model, rib: Rib) -> Parts:
    """Lay a bonded rib on the panel: what its parts add to it.

    Raises
    ------
    DesignError
        If part of it is not on the panel.
    """
    return rib_operators(model.panel, model.locator, bonded_parts(model, rib)).contributions


def line_gain(of: Sensitivity, rib: Parts) -> float:
    """Gain of a rib to first order, its own load included, in m or Hz."""
    total = 0.0
    for part in rib:
        here, there = part_strains(of, part)
        total += float(part.samples.weights @ ((here * there) @ part.stiffness))
    return total - taken_by_mass(of, rib)


def point_gains(of: Sensitivity, rib: RibParts, xy: Array) -> Directional:
    """Gain per metre of a thin rib at points (2, n) of the panel, in every direction, in m/m or Hz/m."""
    model = of.solution.model
    here, there = bent(model.panel, of.state, of.adjoint, model.locator.find(xy), xy, large=of.large)
    found = directional(rib, here, there).terms
    found[:, 0] -= weighing(rib, of.felt, of.square, here, there)
    return Directional(found)


def part_strains(of: Sensitivity, part: Contribution) -> tuple[Array, Array]:
    """Strain measures (n, m) of a part of a rib in the state, and their change in the adjoint."""
    panel, samples = of.solution.model.panel, part.samples
    here, there = (panel.gather(samples.elements, part.rows, x) for x in (of.state, of.adjoint))
    if of.large and part.stretch:
        count = len(part.stretch)
        own, change = (_tilts(of, part, x) for x in (of.state, of.adjoint))
        here[:, :count] += _picked(added_strains(own), part.stretch)
        there[:, :count] += _picked(changed_strains(own, change), part.stretch)
    return here, there


def taken_by_mass(of: Sensitivity, rib: Parts) -> float:
    """How much the mass of a rib takes away, in m or Hz: its weight at rest, its swing in a vibration."""
    panel, total = of.solution.model.panel, 0.0
    for part in rib:
        if part.motion is None or part.mass == 0.0:
            continue
        swing, moved = (panel.gather(part.samples.elements, part.motion, x) for x in (of.state, of.adjoint))
        taken = moved @ of.felt + of.square * np.sum(swing * moved, axis=1)
        total += part.mass * float(part.samples.weights @ taken)
    return total


def _tilts(of: Sensitivity, part: Contribution, x: Array) -> Array:
    """Slopes (n, 2) along and across a part."""
    samples = part.samples
    tilt = slopes(of.solution.model.panel, x, samples.elements, samples.xy)
    tx, ty = samples.direction
    return np.column_stack([tx * tilt[:, 0] + ty * tilt[:, 1], tx * tilt[:, 1] - ty * tilt[:, 0]])


def _picked(strains: Array, pairs: tuple[tuple[int, int], ...]) -> Array:
    """Of the strains along, across and in shear (n, 3) those that a part feels (n, k)."""
    place = {(0, 0): 0, (1, 1): 1, (0, 1): 2}
    return strains[:, [place[pair] for pair in pairs]]


def with_ribs(model: Model, ribs: Sequence[Rib]) -> Model:
    """Return a model with further ribs, bonded, on the same mesh and panel, of which only what changes is factorised.

    Raises
    ------
    DesignError
        If part of one is not on the panel.
    """
    placed = [_placed(model, rib) for rib in ribs]
    operators = (*model.ribs, *placed)
    structure = Structure(
        model.panel,
        model.structure.restraints,
        contributions=tuple(part for rib in operators for part in rib.operators.contributions),
        n_extra=model.structure.n_extra,
        repeated=True,
    )
    return replace(
        model, ribs=operators, structure=structure, seconds=structure.seconds, base=None, _spares={}
    )


def _placed(model: Model, rib: Rib) -> ModelRib:
    parts = bonded_parts(model, rib)
    side = 1 if rib.side == "above" else -1
    face = side * 0.5 * float(model.sheet.base.thickness)
    operators = rib_operators(model.panel, model.locator, parts)
    return ModelRib(rib.name, rib, rib.resolved, rib.section.properties(), parts, operators, side, face)
