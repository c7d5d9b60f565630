"""Stresses of the plies of a layered sheet against the strengths of their materials.

Plies are judged in their own axes, in the faces that bound them. Where a ply has a bending strength (a veneer),
the stresses that N and M cause are each held against their own strength and summed; else the sum of both is held
against tension or compression. A metal ply is judged by von Mises. Transverse shear is that of equilibrium.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.materials import (
    Ply,
    SheetMaterial,
    SheetStrength,
    laminate,
    ply_shear_stresses,
    ply_stresses,
)
from splitterfem.strength.sandwich import wrinkling_modes
from splitterfem.strength.utilisation import DesignFactors, Forces, PanelMode, von_mises

FloatArray = NDArray[np.float64]

ROUNDING = 1e-9
"""Stresses below this share of the largest are what rounding leaves of zero."""


@dataclass(frozen=True, eq=False)
class _PlyState:
    """Stresses of one ply at n points, Pa: from N and from M at both faces (n, 2, 3), transverse (n, 3, 2)."""

    label: str
    material: SheetMaterial
    membrane: FloatArray
    bending: FloatArray
    shear: FloatArray
    size: float

    def matters(self, stress: FloatArray) -> bool:
        return bool(np.any(np.abs(stress) > ROUNDING * self.size))


def layered_modes(
    acting: Forces, plies: Sequence[Ply], *, factors: DesignFactors
) -> tuple[tuple[PanelMode, ...], tuple[str, ...]]:
    """Modes of a layered sheet, those of like plies gathered, and the modes that cannot be judged.

    Parameters
    ----------
    acting : Forces
        In the axes of the layup, load factor included.
    plies : sequence of Ply
        From the bottom face to the top face.
    factors : DesignFactors
        Of strength.

    Returns
    -------
    modes : tuple of PanelMode
        One for each material and mode, the ratio that of its worst ply at each point; of a sandwich also the
        wrinkling of its faces.
    unjudged : tuple of str
        Modes of plies with a stress and no strength.
    """
    found: dict[str, PanelMode] = {}
    unjudged: dict[str, None] = {}
    for state in _states(acting, plies):
        for mode in _modes_of(state, factors):
            if isinstance(mode, str):
                unjudged[mode] = None
            else:
                found[mode.mode] = _worse(found.get(mode.mode), mode)
    wrinkled, unknown = wrinkling_modes(acting, plies, factors=factors)
    found.update({mode.mode: mode for mode in wrinkled})
    unjudged.update(dict.fromkeys(unknown))
    return tuple(found.values()), tuple(unjudged)


def _states(acting: Forces, plies: Sequence[Ply]) -> list[_PlyState]:
    """Stresses of every ply from N alone, from M alone and from Q."""
    stiffness = laminate(plies)
    whole = np.block([[stiffness.A, -stiffness.B], [-stiffness.B, stiffness.D]])
    zero = np.zeros_like(acting.N)
    parts = []
    for N, M in ((acting.N, zero), (zero, acting.M)):
        strains = np.linalg.solve(whole, np.hstack([N, M]).T).T
        parts.append(ply_stresses(plies, strains[:, :3], strains[:, 3:]))
    shear = ply_shear_stresses(plies, acting.Q)
    size = max(float(np.abs(a).max()) for a in (*parts, shear))
    return [
        _PlyState(
            f"{ply.material.name}",
            ply.material,
            parts[0][:, k],
            parts[1][:, k],
            shear[:, k],
            size or math.inf,
        )
        for k, ply in enumerate(plies)
    ]


def _modes_of(state: _PlyState, factors: DesignFactors) -> list[PanelMode | str]:
    strength = state.material.strength or SheetStrength()
    if strength.yield_strength is not None:
        stress = von_mises(state.membrane + state.bending).max(axis=1)
        limit = float(strength.yield_strength) / factors.metal
        modes: list[PanelMode | str] = [
            _mode(state, "von Mises stress", stress, limit=limit, note=f"yield over {factors.metal:g}")
        ]
        return modes + _shear_modes(state, strength, 1 / factors.metal)
    wood = strength.level == "characteristic"
    factor = factors.timber.factor if wood else 1 / factors.metal
    modes = []
    for axis, way in enumerate(("along", "across")):
        modes += _direct(state, strength, axis=axis, way=way, factor=factor)
    in_plane = np.abs(state.membrane[..., 2] + state.bending[..., 2]).max(axis=1)
    modes += _held(state, "shear in the plane", in_plane, limit=strength.panel_shear, factor=factor)
    return modes + _shear_modes(state, strength, factor)


def _direct(
    state: _PlyState, strength: SheetStrength, *, axis: int, way: str, factor: float
) -> list[PanelMode | str]:
    """Tension, compression and bending along one direction of a ply."""
    membrane, bending = state.membrane[..., axis], state.bending[..., axis]
    name = f"{state.label}: stress {way} the ply"
    limits = {kind: getattr(strength, f"{kind}_{way}") for kind in ("tension", "compression", "bending")}
    if limits["bending"] is None:
        membrane, bending = membrane + bending, np.zeros_like(membrane)
    parts = {
        "tension": np.maximum(membrane, 0.0),
        "compression": np.minimum(membrane, 0.0),
        "bending": bending,
    }
    missing = [kind for kind in parts if limits[kind] is None and state.matters(parts[kind])]
    if missing:
        return [f"{name}, no {missing[0]} strength"]
    if all(limit is None for limit in limits.values()):
        return []
    signed = sum(
        (part / (factor * float(limits[kind])) for kind, part in parts.items() if limits[kind] is not None),
        start=np.zeros_like(membrane),
    )
    ratio = np.abs(signed).max(axis=1)
    source, basis = state.material.source, state.material.basis
    return [
        PanelMode(name, ratio, ratio, 1.0, "-", source, basis, "sum of ratios at the worse face of the ply")
    ]


def _shear_modes(state: _PlyState, strength: SheetStrength, factor: float) -> list[PanelMode | str]:
    """Transverse shear along and across a ply, or of both together where it has one strength for all."""
    along, across = np.abs(state.shear[..., 0]).max(axis=1), np.abs(state.shear[..., 1]).max(axis=1)
    if strength.planar_shear_along is None and strength.planar_shear_across is None:
        total = np.hypot(state.shear[..., 0], state.shear[..., 1]).max(axis=1)
        yielding = strength.yield_strength
        limit = strength.shear_ultimate if yielding is None else float(yielding) / math.sqrt(3)
        return _held(state, "transverse shear", total, limit=limit, factor=factor)
    return [
        *_held(
            state, "transverse shear along the ply", along, limit=strength.planar_shear_along, factor=factor
        ),
        *_held(
            state,
            "transverse (rolling) shear across the ply",
            across,
            limit=strength.planar_shear_across,
            factor=factor,
        ),
    ]


def _held(
    state: _PlyState, what: str, stress: FloatArray, *, limit: float | None, factor: float
) -> list[PanelMode | str]:
    if limit is None:
        return [f"{state.label}: {what}"] if state.matters(stress) else []
    return [_mode(state, what, stress, limit=factor * float(limit), note="")]


def _mode(state: _PlyState, what: str, stress: FloatArray, *, limit: float, note: str) -> PanelMode:
    source, basis = state.material.source, state.material.basis
    return PanelMode(f"{state.label}: {what}", stress / limit, stress, limit, "Pa", source, basis, note)


def _worse(old: PanelMode | None, new: PanelMode) -> PanelMode:
    """Gather the same mode of two plies of one material: the worse one at each point."""
    if old is None:
        return new
    worse = new.ratio > old.ratio
    return PanelMode(
        new.mode,
        np.where(worse, new.ratio, old.ratio),
        np.where(worse, new.demand, old.demand),
        new.allowable,
        new.unit,
        new.source,
        new.basis,
        new.note,
    )
