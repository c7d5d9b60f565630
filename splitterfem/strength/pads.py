"""The panel at a small pad: local bending, and bearing of its face."""

from __future__ import annotations

import math

from splitterfem.strength._inputs import larger, positive
from splitterfem.strength.row import Basis, Resistance

SOURCE = "Westergaard 1926 and Roark's Formulas for Stress and Strain, circular plate, table 11.2"


def equivalent_radius(radius: float, thickness: float) -> float:
    """Radius that stands for a small pad: itself from half a thickness up, else ``sqrt(1.6 r^2 + t^2) - 0.675 t``, m.

    Parameters
    ----------
    radius : float
        Of the pad, m.
    thickness : float
        Of the panel, m.
    """
    positive("Pad", radius=radius, thickness=thickness)
    if radius >= 0.5 * thickness:
        return radius
    return math.sqrt(1.6 * radius**2 + thickness**2) - 0.675 * thickness


def pad_bending_moment(force: float, *, radius: float, thickness: float, support: float, nu: float) -> float:
    """Largest bending moment per width under a pad, ``P / (4 pi) ((1 + nu) ln(a / r') + 1)``, N m/m.

    For a round isotropic plate on a simple support; a hand check beside the panel model.

    Parameters
    ----------
    force : float
        N.
    radius : float
        Of the pad, m.
    thickness : float
        Of the panel, m.
    support : float
        Radius a at which the panel is held, m.
    nu : float
        Poisson's ratio: 0.1 or less for plywood.
    """
    r = equivalent_radius(radius, thickness)
    larger("Pad", support_radius=support, pad_radius=radius)
    return abs(force) / (4 * math.pi) * ((1 + nu) * math.log(support / r) + 1)


def pad_bending_stress(force: float, *, radius: float, thickness: float, support: float, nu: float) -> float:
    """Edge stress ``6 M / t^2`` of `pad_bending_moment`, Pa."""
    moment = pad_bending_moment(force, radius=radius, thickness=thickness, support=support, nu=nu)
    return 6 * moment / thickness**2


def pad_bearing(area: float, *, f_c90: float, basis: Basis = "indicative") -> Resistance:
    """Bearing of a wooden panel's face under a pad that pushes on it, ``f_c90 A``, N.

    The wood around the pad helps, and EN 1995-1-1 8.5.2 grants a bolt's washer three times as much; that is not
    counted here.

    Parameters
    ----------
    area : float
        Of the pad, m2.
    f_c90 : float
        Characteristic strength across the faces, Pa: `splitterfem.strength.timber.face_compression`.
    basis : str
        How well that is known.
    """
    positive("Pad", area=area, f_c90=f_c90)
    source = "EN 1995-1-1 6.1.5 with k_c,90 = 1"
    return Resistance(
        "bearing of the panel under the pad", f_c90 * area, "N", source, basis, "characteristic"
    )
