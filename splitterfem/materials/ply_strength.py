"""Strengths of a whole sheet from those of its plies: the ply that reaches its own strength first governs."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from splitterfem.materials.laminate import laminate, ply_shear_stresses, ply_stresses
from splitterfem.materials.ply import Ply
from splitterfem.materials.sheet import SheetStrength

FloatArray = NDArray[np.float64]
_Pairs = tuple[tuple[float | None, float | None], ...]
_Limits = Callable[[SheetStrength], _Pairs]

_NOTHING = 1e-9


def strength_by_plies(plies: Sequence[Ply]) -> SheetStrength | None:
    """Nominal strengths of a sheet, loaded along or across its x axis alone, from linear layer theory.

    The sheet bends, stretches or shears without restraint across; the stress in every ply is held against that
    ply's own strength, and the first to reach it ends the matter. A ply without a figure for a stress never
    governs it. Nominal stresses are those of handbooks: ``N / t``, ``6 M / t^2`` and ``1.5 Q / t``. For birch
    plywood this is the rule behind the strengths of the Handbook of Finnish Plywood.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom face to the top face.

    Returns
    -------
    SheetStrength or None
        Its level is the least of the plies'; None when no ply has strengths.
    """
    strengths = [ply.material.strength for ply in plies]
    levels = {s.level for s in strengths if s is not None}
    if not levels:
        return None
    p, t = laminate(plies), sum(float(ply.thickness) for ply in plies)
    compliance = np.linalg.inv(np.block([[p.A, -p.B], [-p.B, p.D]]))
    found: dict[str, float] = {}
    for axis, way in enumerate(("along", "across")):
        stretched = _stresses(plies, compliance[:, axis] * t)
        bent = _stresses(plies, compliance[:, 3 + axis] * t**2 / 6)
        sheared = ply_shear_stresses(plies, np.eye(2)[axis] * t / 1.5)
        found[f"tension_{way}"] = _least(stretched, strengths, _direct)
        found[f"compression_{way}"] = _least(-stretched, strengths, _direct)
        found[f"bending_{way}"] = _least(bent, strengths, _bending)
        found[f"planar_shear_{way}"] = _least(sheared, strengths, _planar)
    found["panel_shear"] = _least(_stresses(plies, compliance[:, 2] * t), strengths, _direct)
    level = next(name for name in ("typical", "characteristic", "minimum") if name in levels)
    known = {name: value for name, value in found.items() if np.isfinite(value)}
    return SheetStrength.model_validate({"level": level, **known})


def _stresses(plies: Sequence[Ply], strains: FloatArray) -> FloatArray:
    """Stresses (n, 2, 3) at the faces of the plies in their own axes."""
    return ply_stresses(plies, strains[:3], strains[3:])


def _least(stress: FloatArray, strengths: Sequence[SheetStrength | None], limits: _Limits) -> float:
    """Nominal stress of a unit load at which the first ply reaches its strength; infinite if none is known."""
    size = float(np.abs(stress).max())
    least = np.inf
    for row, strength in zip(stress, strengths, strict=True):
        if strength is None:
            continue
        for column, (pulled, pushed) in enumerate(limits(strength)):
            for limit, value in ((pulled, row[:, column].max()), (pushed, -row[:, column].min())):
                if limit is not None and value > _NOTHING * size:
                    least = min(least, float(limit) / float(value))
    return least


def _direct(s: SheetStrength) -> _Pairs:
    """Limits of stress along, across and in shear in the plane, for each sign."""
    metal = s.yield_strength
    shear = s.panel_shear if metal is None or s.panel_shear is not None else metal / np.sqrt(3)
    return (
        (_first(s.tension_along, metal), _first(s.compression_along, metal)),
        (_first(s.tension_across, metal), _first(s.compression_across, metal)),
        (shear, shear),
    )


def _bending(s: SheetStrength) -> _Pairs:
    """As `_direct`, with the strength in bending where there is one."""
    along, across, shear = _direct(s)
    return (
        (_first(s.bending_along, along[0]), _first(s.bending_along, along[1])),
        (_first(s.bending_across, across[0]), _first(s.bending_across, across[1])),
        shear,
    )


def _planar(s: SheetStrength) -> _Pairs:
    """Limits of transverse shear along and across the ply."""
    return (s.planar_shear_along, s.planar_shear_along), (s.planar_shear_across, s.planar_shear_across)


def _first(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)
