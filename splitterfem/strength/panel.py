"""Stress resultants of the panel against its strengths: handbook boards, metal and layered sheets.

Which formulas apply follows from the strengths that a material has. A yield strength: von Mises stress at both
faces against yield over the factor. Strengths in bending, tension, compression along and across a grain: sums of
ratios in the axes of the grain, each against its design value (characteristic strengths times k_mod over gamma_M,
others over the factor). A stress without a strength to hold against it is named in ``unjudged``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.errors import DesignError
from splitterfem.materials import Layup, SheetMaterial, SheetStrength
from splitterfem.strength._inputs import positive
from splitterfem.strength.layers import layered_modes
from splitterfem.strength.row import Basis
from splitterfem.strength.utilisation import (
    DesignFactors,
    Forces,
    PanelMode,
    PanelUtilisation,
    faces,
    forces,
    von_mises,
)

FloatArray = NDArray[np.float64]

BENDING_SOURCE = "EN 1995-1-1 6.2.3, linear sum"
SHEAR_NOTE = "face stress of twisting added to the mean stress in the plane"


@dataclass(frozen=True)
class _Allowables:
    """Design values of a sheet with a grain.

    Attributes
    ----------
    strength : SheetStrength
    factor : float
        Design value over strength.
    source, basis : str
        Of the strengths.
    """

    strength: SheetStrength
    factor: float
    source: str
    basis: Basis

    def of(self, name: str) -> float | None:
        """Design value of a named strength, Pa; None when it is not known."""
        value = getattr(self.strength, name)
        return None if value is None else self.factor * float(value)


def panel_utilisation(
    N: ArrayLike,
    M: ArrayLike,
    Q: ArrayLike,
    *,
    sheet: SheetMaterial | Layup,
    thickness: float,
    grain_angle: float,
    factors: DesignFactors,
) -> PanelUtilisation:
    """Utilisations of a panel from its stress resultants.

    Parameters
    ----------
    N : array_like, shape (n, 3)
        Membrane forces x, y, xy, N/m.
    M : array_like, shape (n, 3)
        Moments x, y, xy, positive where they stretch the lower face, N m/m.
    Q : array_like, shape (n, 2)
        Shear forces xz, yz, N/m.
    sheet : SheetMaterial or Layup
        With strengths; those of a layup are its plies'.
    thickness : float
        Of the panel, m.
    grain_angle : float
        From the panel's x axis to direction 1, anticlockwise seen from above, rad.
    factors : DesignFactors
        Of strength and load.

    Returns
    -------
    PanelUtilisation

    Raises
    ------
    DesignError
        If the arrays do not fit, or nothing of the sheet can be judged.
    """
    acting = forces(N, M, Q, load=factors.load).turned(grain_angle)
    if isinstance(sheet, Layup):
        if abs(thickness - sheet.thickness) > 1e-6:
            raise DesignError(
                f"The layup '{sheet.name}' is {1e3 * sheet.thickness:.6g} mm thick by its plies, but the panel "
                f"{1e3 * thickness:.6g} mm; give the panel the thickness of its layup."
            )
        found = PanelUtilisation(*layered_modes(acting, sheet.plies, factors=factors))
    else:
        found = _of_sheet(acting, sheet, thickness, factors)
    if not found.modes:
        raise DesignError(f"The sheet '{sheet.name}' has no strength to judge it by; give its strengths.")
    return found


def handbook_utilisation(
    acting: Forces, *, strength: SheetStrength, thickness: float, factor: float, source: str, basis: Basis
) -> PanelUtilisation:
    """Utilisations of a board with whole-section strengths along and across its grain.

    Along and across: ``|6 M / t^2| / f_m + |N / t| / f_t or f_c``; in the plane
    ``(|N_12| / t + |6 M_12| / t^2) / f_v``; out of the plane ``1.5 |Q| / (t f_r)`` for each direction.

    Parameters
    ----------
    acting : Forces
        In the axes of the grain, load factor included.
    strength : SheetStrength
    thickness : float
        m.
    factor : float
        Design value over strength.
    source, basis : str
        Of the strengths.
    """
    positive("Panel", thickness=thickness, strength_factor=factor)
    allow = _Allowables(strength, factor, source, basis)
    modes: list[PanelMode] = []
    unjudged: list[str] = []
    for axis, way in enumerate(("along", "across")):
        _add(_bending(acting, allow, axis=axis, way=way, thickness=thickness), modes, unjudged)
        _add(_planar_shear(acting, allow, axis=axis, way=way, thickness=thickness), modes, unjudged)
    _add(_panel_shear(acting, allow, thickness=thickness), modes, unjudged)
    return PanelUtilisation(tuple(modes), tuple(unjudged))


def metal_utilisation(
    acting: Forces, *, yield_strength: float, thickness: float, factor: float, source: str, basis: Basis
) -> PanelUtilisation:
    """Von Mises stress at the worse face of a homogeneous sheet against yield over a factor.

    Parameters
    ----------
    acting : Forces
        Load factor included.
    yield_strength : float
        Pa.
    thickness : float
        m.
    factor : float
        On yield.
    source, basis : str
        Of the yield strength.
    """
    positive("Panel", yield_strength=yield_strength, factor_on_yield=factor)
    stress = von_mises(faces(acting, thickness)).max(axis=1)
    allowable = yield_strength / factor
    note = f"yield over {factor:g}; transverse shear left out"
    mode = PanelMode(
        "von Mises stress at a face", stress / allowable, stress, allowable, "Pa", source, basis, note
    )
    return PanelUtilisation((mode,))


def _of_sheet(
    acting: Forces, sheet: SheetMaterial, thickness: float, factors: DesignFactors
) -> PanelUtilisation:
    strength = sheet.strength
    if strength is None:
        return PanelUtilisation(())
    if strength.yield_strength is not None:
        return metal_utilisation(
            acting,
            yield_strength=float(strength.yield_strength),
            thickness=thickness,
            factor=factors.metal,
            source=sheet.source,
            basis=sheet.basis,
        )
    return handbook_utilisation(
        acting,
        strength=strength,
        thickness=thickness,
        factor=grain_factor(strength, factors),
        source=sheet.source,
        basis=sheet.basis,
    )


def grain_factor(strength: SheetStrength, factors: DesignFactors) -> float:
    """Design value over strength: k_mod / gamma_M of characteristic strengths, 1 / factor of all others."""
    return factors.timber.factor if strength.level == "characteristic" else 1.0 / factors.metal


def _bending(
    acting: Forces, allow: _Allowables, *, axis: int, way: str, thickness: float
) -> PanelMode | str | None:
    """Bending and tension or compression along one direction of the grain."""
    membrane = acting.N[:, axis] / thickness
    edge = np.abs(6 * acting.M[:, axis] / thickness**2)
    mode = f"bending and axial force {way} the grain"
    ratio = np.zeros(len(edge))
    for stress, name in (
        (edge, f"bending_{way}"),
        (np.maximum(membrane, 0.0), f"tension_{way}"),
        (np.maximum(-membrane, 0.0), f"compression_{way}"),
    ):
        limit = allow.of(name)
        if limit is not None:
            ratio += stress / limit
        elif np.any(stress > 0):
            return f"{mode}: no {name.replace('_', ' ')} strength"
    f_m = allow.of(f"bending_{way}")
    note = "" if f_m is None else f"edge stress at most {f_m / 1e6:.1f} MPa in pure bending"
    return PanelMode(mode, ratio, ratio, 1.0, "-", f"{BENDING_SOURCE}; {allow.source}", allow.basis, note)


def _planar_shear(
    acting: Forces, allow: _Allowables, *, axis: int, way: str, thickness: float
) -> PanelMode | str | None:
    """Transverse shear for a span along one direction of the grain."""
    stress = 1.5 * np.abs(acting.Q[:, axis]) / thickness
    limit = allow.of(f"planar_shear_{way}")
    mode = f"planar (rolling) shear, span {way} the grain"
    if limit is None:
        return mode if np.any(stress > 0) else None
    note = "largest stress 1.5 Q / t"
    return PanelMode(mode, stress / limit, stress, limit, "Pa", allow.source, allow.basis, note)


def _panel_shear(acting: Forces, allow: _Allowables, *, thickness: float) -> PanelMode | str | None:
    """Shear in the plane."""
    stress = np.abs(acting.N[:, 2]) / thickness + np.abs(6 * acting.M[:, 2]) / thickness**2
    limit = allow.of("panel_shear")
    mode = "panel shear"
    if limit is None:
        return mode if np.any(stress > 0) else None
    return PanelMode(mode, stress / limit, stress, limit, "Pa", allow.source, allow.basis, SHEAR_NOTE)


def _add(found: PanelMode | str | None, modes: list[PanelMode], unjudged: list[str]) -> None:
    if isinstance(found, PanelMode):
        modes.append(found)
    elif found is not None:
        unjudged.append(found)
