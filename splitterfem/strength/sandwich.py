"""Wrinkling of the compressed faces of a sandwich.

A layup counts as a sandwich where plies that are soft beside the stiffest one lie between stiffer ones. Its faces
are all plies below and above the soft ones; each is judged by its mean stress in the direction in which it is
compressed most, with its own modulus in that direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.materials import Ply, laminate
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Resistance, weakest
from splitterfem.strength.utilisation import DesignFactors, Forces, PanelMode

FloatArray = NDArray[np.float64]

SOFT = 0.05
"""A ply is a core when its larger modulus in the plane is less than this share of that of the stiffest ply."""

NOT_KNOWN = "the core has no modulus across the faces"


def wrinkling(E_face: float, *, E_core: float, G_core: float, coefficient: float = 0.5) -> Resistance:
    """Compressive stress at which the face of a sandwich wrinkles, ``0.5 (E_f E_c G_c)^(1/3)``, Pa.

    Hoff & Mautner 1945, Journal of the Aeronautical Sciences 12, 285-297 (from memory); the coefficient of their
    theory is 0.91, that of practice 0.5.

    Parameters
    ----------
    E_face : float
        Of the face along the stress, Pa.
    E_core, G_core : float
        Of the core across the faces and in transverse shear, Pa.
    coefficient : float
        See above.
    """
    positive("Sandwich", E_face=E_face, E_core=E_core, G_core=G_core, coefficient=coefficient)
    value = coefficient * (E_face * E_core * G_core) ** (1 / 3)
    return Resistance(
        "wrinkling of the face", value, "Pa", "Hoff & Mautner 1945, from memory", "memory", "no factor in it"
    )


@dataclass(frozen=True, eq=False)
class Face:
    """One face of a sandwich and the core that holds it.

    Attributes
    ----------
    name : str
        "lower" or "upper".
    plies : tuple of Ply
    middle : float
        Height of its middle above the mid-surface of the sandwich, m.
    core : Ply
        The soft ply next to it.
    """

    name: str
    plies: tuple[Ply, ...]
    middle: float
    core: Ply

    @property
    def thickness(self) -> float:
        """Of its plies together, m."""
        return float(sum(ply.thickness for ply in self.plies))

    def stiffness(self) -> FloatArray:
        """Membrane stiffness (3, 3) in the axes of the layup, N/m.

        Raises
        ------
        DesignError
            If it gives way without resistance in some direction.
        """
        return laminate(self.plies).A


def sandwich_faces(plies: Sequence[Ply]) -> tuple[Face, ...]:
    """Both faces of a sandwich, the lower one first; none of any other layup.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom face to the top face.
    """
    moduli = [max(ply.material.moduli.E1, ply.material.moduli.E2) for ply in plies]
    limit = SOFT * max(moduli)
    soft = [k for k, E in enumerate(moduli) if limit > E]
    if not soft or soft[0] == 0 or soft[-1] == len(plies) - 1:
        return ()
    levels = np.concatenate([[0.0], np.cumsum([float(ply.thickness) for ply in plies])])
    levels -= 0.5 * levels[-1]
    first, last = soft[0], soft[-1]
    return (
        Face("lower", tuple(plies[:first]), float(levels[0] + levels[first]) / 2, plies[first]),
        Face("upper", tuple(plies[last + 1 :]), float(levels[last + 1] + levels[-1]) / 2, plies[last]),
    )


def wrinkling_modes(
    acting: Forces, plies: Sequence[Ply], *, factors: DesignFactors
) -> tuple[list[PanelMode], list[str]]:
    """Wrinkling of both faces of a sandwich, and what of it cannot be judged; nothing for other layups.

    The core's modulus across the faces is taken as that in its plane, and its smaller transverse shear modulus
    counts; the strength is divided by the factor on metal.

    Parameters
    ----------
    acting : Forces
        In the axes of the layup, load factor included.
    plies : sequence of Ply
        From the bottom face to the top face.
    factors : DesignFactors
        Of strength.
    """
    faces = sandwich_faces(plies)
    if not faces:
        return [], []
    stiffness = laminate(plies)
    whole = np.block([[stiffness.A, -stiffness.B], [-stiffness.B, stiffness.D]])
    strains = np.linalg.solve(whole, np.hstack([acting.N, acting.M]).T).T
    modes, unjudged = [], []
    for face in faces:
        core = face.core.material.moduli
        E_core, G_core = min(core.E1, core.E2), min(core.G13, core.G23)
        try:
            if E_core <= 0.0 or G_core <= 0.0:
                raise DesignError(NOT_KNOWN)
            A = face.stiffness()
        except DesignError as problem:
            unjudged.append(f"wrinkling of the {face.name} face: {problem}")
            continue
        stress = (strains[:, :3] - face.middle * strains[:, 3:]) @ A.T / face.thickness
        modes.append(_mode(face, stress, A, E_core=E_core, G_core=G_core, factor=factors.metal))
    return modes, unjudged


def _mode(
    face: Face, stress: FloatArray, A: FloatArray, *, E_core: float, G_core: float, factor: float
) -> PanelMode:
    """Mode of one face with mean stresses (n, 3); its allowable is that of the point where the ratio is largest."""
    size, angle = largest_compression(stress)
    E_face = modulus_along(np.asarray(np.linalg.inv(A) * face.thickness), angle)
    unit = wrinkling(1.0, E_core=E_core, G_core=G_core)
    limit = unit.value * np.cbrt(E_face) / factor
    ratio = size / limit
    i = int(np.argmax(ratio))
    materials = [face.core.material, *(ply.material for ply in face.plies)]
    return PanelMode(
        f"wrinkling of the {face.name} face",
        ratio,
        size,
        float(limit[i]),
        "Pa",
        f"{unit.source}; core: {face.core.material.source}",
        weakest(unit.basis, *(material.basis for material in materials)),
        f"face {E_face[i] / 1e9:.1f} GPa along the stress, core {E_core / 1e6:.0f} MPa (that in its plane) and "
        f"{G_core / 1e6:.0f} MPa in shear; divided by {factor:g} (factor on metal)",
    )


def largest_compression(stress: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Largest compression (n,), zero or more, and its direction (n,) in rad, of plane stresses (n, 3)."""
    x, y, s = stress.T
    middle, radius = 0.5 * (x + y), np.hypot(0.5 * (x - y), s)
    angle = 0.5 * np.arctan2(2.0 * s, x - y) + 0.5 * np.pi
    return np.maximum(radius - middle, 0.0), angle


def modulus_along(compliance: FloatArray, angle: FloatArray) -> FloatArray:
    """Young's modulus in directions (n,) in rad from a plane-stress compliance (3, 3), Pa (Reddy 2004, 2.4)."""
    c, s = np.cos(angle), np.sin(angle)
    a = compliance
    return np.asarray(
        1.0
        / (
            c**4 * a[0, 0]
            + s**4 * a[1, 1]
            + c**2 * s**2 * (2.0 * a[0, 1] + a[2, 2])
            + 2.0 * c**3 * s * a[0, 2]
            + 2.0 * c * s**3 * a[1, 2]
        )
    )
