"""Moduli of a sheet that a flex test can find: their values, the sheet with others, and the stiffness's derivatives."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import Sheet
from splitterfem.errors import DesignError
from splitterfem.fem.panel import generalised_stiffness
from splitterfem.materials import Layup, SheetMaterial
from splitterfem.materials.stiffness import shear_rotation, strain_rotation
from splitterfem.model.sheets import sheet_stiffness

Array = NDArray[np.float64]

SHEET: Mapping[str, str] = {
    "sheet": "modulus in bending along the grain, all other moduli in proportion",
    "E along": "modulus in bending along the face grain, that in tension in proportion",
    "E across": "modulus in bending across the face grain, that in tension in proportion",
    "shear modulus": "modulus of shear in the plane",
    "planar shear": "modulus of planar shear along the grain, that across in proportion",
}
"""Names of what can be fitted of the sheet, and what they are."""

_FIELDS = {
    "E along": ("E1", "E1_bending"),
    "E across": ("E2", "E2_bending"),
    "shear modulus": ("G12",),
    "planar shear": ("G13", "G23"),
}


def sheet_modulus(sheet: Sheet, name: str) -> float:
    """Modulus in Pa of a sheet by a name of `SHEET`.

    Raises
    ------
    DesignError
        If the sheet has no such modulus of its own, or it is zero.
    """
    material = sheet.resolved
    if name == "sheet":
        if isinstance(material, Layup):
            return material.stiffness().bending_moduli[0]
        return float(material.moduli.E1_bending)
    if isinstance(material, Layup) or material.kind == "isotropic":
        what = "a layup" if isinstance(material, Layup) else "isotropic"
        raise DesignError(
            f"The sheet '{material.name}' is {what}, so '{name}' is no modulus of its own: fit 'sheet', one factor on "
            "all moduli."
        )
    moduli = material.moduli
    values = (moduli.E1_bending, moduli.E2_bending, moduli.G12, moduli.G13)
    value = dict(zip(_FIELDS, values, strict=True))[name]
    if not value > 0.0:
        raise DesignError(f"'{name}' of the sheet '{material.name}' is zero, so that no factor changes it.")
    return float(value)


def changed_sheet(sheet: Sheet, factors: Mapping[str, float], *, source: str) -> SheetMaterial | Layup:
    """Return the material of a sheet with moduli times factors.

    Parameters
    ----------
    sheet : Sheet
    factors : mapping of str to float
        By names of `SHEET`.
    source : str
        Where they come from.

    Raises
    ------
    DesignError
        If no sheet has such moduli.
    """
    material = sheet.resolved
    said = ", ".join(f"{name} times {factor:.4g}" for name, factor in factors.items())
    told = {
        "name": _fitted_name(material.name),
        "source": source,
        "basis": "user",
        "notes": f"{said}, of {material.name}. {material.notes}".strip(),
    }
    if isinstance(material, Layup):
        factor = factors["sheet"]
        plies = tuple(
            ply.model_copy(update={"material": ply.material.scaled(factor)}) for ply in material.plies
        )
        given = {name: getattr(material, name) for name in material.model_fields_set - {"veneers"}}
        return Layup(**{**given, "plies": plies, **told})
    changed: dict[str, object] = {}
    for name, factor in factors.items():
        fields = (
            [field for group in _FIELDS.values() for field in group] if name == "sheet" else _FIELDS[name]
        )
        for field in fields:
            value = getattr(material, field)
            if value is not None:
                changed[field] = factor * float(value)
    given = {field: getattr(material, field) for field in material.model_fields_set}
    return SheetMaterial(**{**given, **changed, **told, "modulus_advice": None})


def _fitted_name(name: str) -> str:
    end = ", fitted"
    return name if name.endswith(end) else f"{name[: 80 - len(end)]}{end}"


def sheet_slope(sheet: Sheet, name: str) -> Array:
    """Differentiate the generalised stiffness (8, 8) of a sheet, in the panel's axes, by the logarithm of a modulus.

    With the compliance ``[[1/E1, -nu/E1], [-nu/E1, 1/E2]]`` of the plane-stress stiffness Q, ``dQ = -Q dS Q``.
    """
    if name == "sheet":
        return generalised_stiffness(sheet_stiffness(sheet))
    material = sheet.resolved
    assert isinstance(material, SheetMaterial)
    t, m = float(sheet.thickness), material.moduli
    none = np.zeros((3, 3))
    shear = material.shear_factor * t * np.diag([m.G13, m.G23])
    if name == "planar shear":
        return _turned(none, none, shear, float(sheet.grain_angle))
    pairs = ((m.E1, m.E2), (m.E1_bending, m.E2_bending))
    tension, bending = (_plane_slope(name, E1, E2, m.nu12, m.G12) for E1, E2 in pairs)
    return _turned(t * tension, t**3 / 12.0 * bending, np.zeros((2, 2)), float(sheet.grain_angle))


def _plane_slope(name: str, E1: float, E2: float, nu12: float, G12: float) -> Array:
    compliance = np.array([[1 / E1, -nu12 / E1, 0.0], [-nu12 / E1, 1 / E2, 0.0], [0.0, 0.0, 1 / G12]])
    change = {
        "E along": -np.array([[1 / E1, -nu12 / E1, 0.0], [-nu12 / E1, 0.0, 0.0], [0.0, 0.0, 0.0]]),
        "E across": -np.diag([0.0, 1 / E2, 0.0]),
        "shear modulus": -np.diag([0.0, 0.0, 1 / G12]),
    }[name]
    Q = np.linalg.inv(compliance)
    return np.asarray(-Q @ change @ Q)


def _turned(A: Array, D: Array, S: Array, angle: float) -> Array:
    """Put derivatives in the sheet's axes into the panel's."""
    R, r = strain_rotation(angle), shear_rotation(angle)
    found = np.zeros((8, 8))
    found[:3, :3], found[3:6, 3:6], found[6:, 6:] = R.T @ A @ R, R.T @ D @ R, r.T @ S @ r
    return found
