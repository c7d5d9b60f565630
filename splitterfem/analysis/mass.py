"""Mass and centre of gravity of panel and ribs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splitterfem.model import Model


@dataclass(frozen=True)
class MassProperties:
    """Mass of the parts.

    Attributes
    ----------
    mass : float
        Panel, doublers and ribs in kg.
    centre : tuple of float
        Centre of gravity (x, y, z) in m; z from the panel's mid-surface.
    panel : float
        With its doublers, in kg.
    ribs : dict of str to float
        In kg.
    """

    mass: float
    centre: tuple[float, float, float]
    panel: float
    ribs: dict[str, float]


def mass_properties(model: Model) -> MassProperties:
    """Mass of panel and ribs as meshed."""
    space = model.panel.space
    masses = model.sheet.mass_per_area * space.area
    panel = float(masses.sum())
    first = np.array([*(masses @ space.centroids), 0.0])
    ribs: dict[str, float] = {}
    for rib in model.ribs:
        ribs[rib.name] = 0.0
        for part in rib.operators.contributions:
            weights = part.samples.weights * part.mass
            ribs[rib.name] += float(weights.sum())
            first += np.array([*(part.samples.xy @ weights), part.z * weights.sum()])
    mass = panel + sum(ribs.values())
    centre = first / mass
    return MassProperties(mass, (float(centre[0]), float(centre[1]), float(centre[2])), panel, ribs)
