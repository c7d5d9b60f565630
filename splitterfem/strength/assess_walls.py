"""Local buckling of the walls of ribs in a solved load case.

The stress at both edges of a wall follows from those of the section's foot and far side, each averaged over one
section height along the rib; the wall and the station that are used most make the row.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.ribforces import RibForces
from splitterfem.design import Fasteners
from splitterfem.errors import DesignError
from splitterfem.model import ModelRib
from splitterfem.strength.row import Check, Resistance, joined, weakest
from splitterfem.strength.section_walls import Wall, section_walls
from splitterfem.strength.walls import WallState, reduction, round_wall_strength, wall_strength

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Worst:
    """The wall and the station that are used most: share of the yield strength that the stress needs."""

    use: float
    station: int
    stress: float
    wall: Wall
    state: WallState


def buckling_of_walls(
    rib: ModelRib, forces: RibForces, fibres: Array, *, metal_factor: float, load_factor: float
) -> list[Check]:
    """Judge the compressed walls of a rib; no row where nothing is compressed.

    Parameters
    ----------
    rib : ModelRib
    forces : RibForces
    fibres : ndarray, shape (2 k, n)
        Stress of the foot and of the far side under each of ``k`` lines, averaged along the rib, Pa.
    metal_factor : float
        On the strength.
    load_factor : float
        On the stress.

    Raises
    ------
    DesignError
        If the material has no yield strength, or the rule does not cover the section.
    """
    if not np.any(fibres < 0.0):
        return []
    material = rib.material
    if material.yield_strength is None:
        raise DesignError(f"the material '{material.name}' has no yield strength")
    if rib.design.section.shape == "round tube":
        return [_round(rib, forces, fibres, metal_factor, load_factor)]
    found = max(_candidates(rib, fibres), key=lambda one: one.use, default=None)
    if found is None:
        return []
    state = found.state
    limit = wall_strength(
        state.width,
        thickness=state.thickness,
        E=float(material.E),
        nu=float(material.nu),
        yield_strength=float(material.yield_strength),
        factor=metal_factor,
        edges=state.edges,
        ratio=state.ratio,
        peak=state.peak,
    )
    limit = replace(limit, note=joined(f"{found.wall.name}", limit.note))
    return [_check(limit, found.stress, rib, forces, found.station, load_factor)]


def _candidates(rib: ModelRib, fibres: Array) -> Iterator[_Worst]:
    """Find the worst station of every wall under every line."""
    fastened = isinstance(rib.design.joint, Fasteners)
    material = rib.material
    about = {"E": float(material.E), "nu": float(material.nu)}
    f_y = float(material.yield_strength or 0.0)
    walls = [wall for wall in section_walls(rib.design.section) if fastened or not wall.on_panel]
    for foot, far in zip(fibres[0::2], fibres[1::2], strict=True):
        for wall in walls:
            low, high = (foot + (far - foot) * share for share in (wall.low, wall.high))
            pushed = np.maximum(-np.minimum(low, high), 0.0)
            if not np.any(pushed > 0.0):
                continue
            states = [_state(wall, float(a), float(b)) for a, b in zip(low, high, strict=True)]
            shares = np.array([reduction(state, **about, yield_strength=f_y) for state in states])
            use = pushed / (shares * f_y)
            i = int(np.argmax(use))
            yield _Worst(float(use[i]), i, float(pushed[i]), wall, states[i])


def _state(wall: Wall, low: float, high: float) -> WallState:
    """Ratio of the stresses at both edges, and whether the free edge, the upper one, is pushed more."""
    least, other = min(low, high), max(low, high)
    ratio = 1.0 if least >= 0.0 else other / least
    return WallState(wall.width, wall.thickness, wall.edges, ratio, "free" if high <= low else "held")


def _round(rib: ModelRib, forces: RibForces, fibres: Array, metal_factor: float, load_factor: float) -> Check:
    worst = fibres.min(axis=0)
    i = int(np.argmin(worst))
    diameter, wall = (float(size) for size in rib.design.section.sizes)
    limit = round_wall_strength(
        diameter,
        thickness=wall,
        E=float(rib.material.E),
        yield_strength=float(rib.material.yield_strength or 0.0),
        factor=metal_factor,
    )
    return _check(limit, -float(worst[i]), rib, forces, i, load_factor)


def _check(
    limit: Resistance, stress: float, rib: ModelRib, forces: RibForces, i: int, load_factor: float
) -> Check:
    material = rib.material
    limit = replace(
        limit, source=f"{limit.source}; {material.source}", basis=weakest(limit.basis, material.basis)
    )
    x, y = float(forces.xy[0, i]), float(forces.xy[1, i])
    return limit.check(stress, part=rib.name, kind="rib", x=x, y=y, load_factor=load_factor)
