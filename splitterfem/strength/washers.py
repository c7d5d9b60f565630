"""Axial forces of bolts and screws into the face of a plywood panel: washers, heads, punching.

Results are characteristic: apply k_mod and gamma_M of a connection. A washer in tension squeezes the face under
it, may push out a plug, and bends the panel around it; the last one is in `splitterfem.strength.pads`.
"""

from __future__ import annotations

import math

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import larger, not_negative, positive
from splitterfem.strength.hardware import Washer
from splitterfem.strength.row import Basis, Resistance, joined

MM = 1e-3
EC5 = "EN 1995-1-1"
PULL_SOURCE = f"{EC5} 8.7.2"
PANEL_PULL_SOURCE = "approvals of wood screws in panels, from memory"
THIN_PANEL_CAP = 400.0
"""Largest head pull-through that screw approvals grant in panels under 12 mm, N (from memory)."""


def washer_bearing(outer: float, *, hole: float, f_c90: float, basis: Basis = "indicative") -> Resistance:
    """Bearing of a washer on wood, ``3 f_c90 A`` (EN 1995-1-1 8.5.2), N.

    Parameters
    ----------
    outer : float
        Outside diameter of the washer, m.
    hole : float
        Diameter of the larger hole, that of the wood or of the washer, m.
    f_c90 : float
        Characteristic strength across the faces, Pa: about 8 MPa for hardwood plywood
        (`splitterfem.strength.timber.face_compression`), not the handbook's value in the plane of the board.
    basis : str
        How well that strength is known.
    """
    positive("Washer", outside_diameter=outer, f_c90=f_c90)
    not_negative("Washer", hole=hole)
    larger("Washer", outside_diameter=outer, hole=hole)
    value = 3 * f_c90 * 0.25 * math.pi * (outer**2 - hole**2)
    return Resistance("bearing under the washer", value, "N", f"{EC5} 8.5.2", basis, "characteristic")


def plate_bearing(
    thickness: float, *, diameter: float, hole: float, f_c90: float, basis: Basis = "indicative"
) -> Resistance:
    """Bearing under a bolt on a steel plate: that of a washer of diameter ``min(12 t, 4 d)`` (8.5.2), N.

    Parameters
    ----------
    thickness : float
        Of the plate, m.
    diameter : float
        Of the bolt, m.
    hole : float
        In the wood, m.
    f_c90 : float
        See `washer_bearing`, Pa.
    basis : str
        How well that strength is known.
    """
    positive("Steel plate", thickness=thickness, bolt_diameter=diameter)
    return washer_bearing(min(12 * thickness, 4 * diameter), hole=hole, f_c90=f_c90, basis=basis)


def washer_fits_timber(washer: Washer, diameter: float) -> bool:
    """Whether a washer has the diameter (3 d) and thickness (0.3 d) that EN 1995-1-1 10.4.3 asks for (memory)."""
    positive("Bolt", diameter=diameter)
    return washer.outer >= 3 * diameter - 1e-9 and washer.thickness >= 0.3 * diameter - 1e-9


def punching(
    diameter: float, *, thickness: float, panel_shear: float, basis: Basis = "practice"
) -> Resistance:
    """Plug pushed out of the panel around a washer, ``pi d t f_v``, N.

    It takes the panel shear strength all around. `planar_shear_ring` is the stricter limit at which the cross
    veneers start to roll; between the two a plywood gives way step by step.

    Parameters
    ----------
    diameter : float
        Of the washer, m.
    thickness : float
        Of the panel, m.
    panel_shear : float
        Characteristic, Pa.
    basis : str
        How well that is known.
    """
    positive("Punching", diameter=diameter, thickness=thickness, panel_shear=panel_shear)
    value = math.pi * diameter * thickness * panel_shear
    return Resistance(
        "punching through the panel",
        value,
        "N",
        "common practice, no source",
        basis,
        "characteristic; upper estimate",
    )


def planar_shear_ring(
    diameter: float, *, thickness: float, planar_shear: float, basis: Basis = "memory"
) -> Resistance:
    """Force at which planar (rolling) shear is reached around a washer, ``pi d t f_r / 1.5``, N.

    From the shear force ``F / (pi d)`` per width around the washer and the largest stress ``1.5 Q / t``.

    Parameters
    ----------
    diameter : float
        Of the washer, m.
    thickness : float
        Of the panel, m.
    planar_shear : float
        Characteristic, the smaller one of both directions, Pa.
    basis : str
        How well that is known.
    """
    positive("Planar shear", diameter=diameter, thickness=thickness, planar_shear=planar_shear)
    value = math.pi * diameter * thickness * planar_shear / 1.5
    source = "equilibrium of the ring; strength of the board's handbook"
    return Resistance(
        "planar shear around the washer", value, "N", source, basis, "characteristic; first damage"
    )


def head_pull_through(
    head: float, *, f_head: float, density_ratio: float = 1.0, count: int = 1, basis: Basis = "memory"
) -> Resistance:
    """Pull-through of heads or washers, ``n^0.9 f_head d_h^2 (rho_k / rho_a)^0.8`` (8.40), N.

    Parameters
    ----------
    head : float
        Diameter of the head or washer, m.
    f_head : float
        Characteristic parameter, Pa; see `panel_pull_through` for panels.
    density_ratio : float
        Characteristic density over the one that the parameter belongs to.
    count : int
        Of screws that act together.
    basis : str
        How well the parameter is known.
    """
    positive("Head", diameter=head, f_head=f_head, density_ratio=density_ratio, count=count)
    value = count**0.9 * f_head * head**2 * density_ratio**0.8
    note = joined("characteristic", f"{count} together" if count > 1 else "")
    return Resistance("pull-through of the head", value, "N", PULL_SOURCE, basis, note)


def panel_pull_through(head: float, *, thickness: float, count: int = 1) -> Resistance:
    """Pull-through in a panel with the parameters of screw approvals, from memory, N.

    8 MPa for panels of 12 to 20 mm, 10 MPa above; under 12 mm 8 MPa and at most 0.4 kN for each screw.

    Parameters
    ----------
    head : float
        Diameter of the head or washer, m.
    thickness : float
        Of the panel, m.
    count : int
        Of screws that act together.
    """
    positive("Panel", thickness=thickness)
    f_head = 10e6 if thickness > 20 * MM + 1e-9 else 8e6
    found = head_pull_through(head, f_head=f_head, count=count)
    value, note = found.value, found.note
    if thickness < 12 * MM - 1e-9:
        value = min(value, count**0.9 * THIN_PANEL_CAP)
        note = joined(note, "panel under 12 mm: at most 0.4 kN each")
    return Resistance(found.mode, value, "N", f"{PULL_SOURCE}; {PANEL_PULL_SOURCE}", "memory", note)


def screw_withdrawal(
    diameter: float,
    *,
    length: float,
    density: float,
    angle: float = 0.5 * math.pi,
    count: int = 1,
    divisor: float = 1.5,
) -> Resistance:
    """Withdrawal of wood screws from the face of a panel (EN 1995-1-1 8.38 to 8.40, A1:2008), N.

    ``f_ax = 0.52 d^-0.5 l^-0.1 rho_k^0.8`` and
    ``n^0.9 f_ax d l min(d / 8, 1) / (1.2 cos^2 a + sin^2 a)``, for screws of 6 to 12 mm.

    The formula is made for solid wood; tests on plywood fell below such a prediction (Ahn, Pang & Oh 2021,
    Journal of the Korean Wood Science and Technology 49), hence the divisor.

    Parameters
    ----------
    diameter : float
        Outside diameter of the thread, m.
    length : float
        Of the thread in the wood, m.
    density : float
        Characteristic, kg/m3.
    angle : float
        Of the screw to the grain, rad: pi / 2 through a face.
    count : int
        Of screws that act together.
    divisor : float
        Applied because the wood is plywood; 1 gives the formula itself.

    Raises
    ------
    DesignError
        If the angle is below 30 degrees or a number is not above zero.
    """
    positive("Screw", diameter=diameter, length=length, density=density, count=count, divisor=divisor)
    if not math.radians(30) - 1e-9 <= angle <= 0.5 * math.pi + 1e-9:
        raise DesignError(
            f"The screw stands at {math.degrees(angle):g} degrees to the grain; the formula holds from 30 to 90."
        )
    d, ell = diameter / MM, length / MM
    f_ax = 0.52 * d**-0.5 * ell**-0.1 * density**0.8
    turn = 1.2 * math.cos(angle) ** 2 + math.sin(angle) ** 2
    value = count**0.9 * f_ax * d * ell * min(d / 8, 1.0) / turn
    outside = not 6 - 1e-9 <= d <= 12 + 1e-9
    note = joined("characteristic", "outside 6 to 12 mm, test it" if outside else "")
    basis: Basis = "indicative" if outside else "published"
    found = Resistance("withdrawal of the screw", value, "N", f"{EC5} 8.7.2", basis, note)
    return found if divisor == 1.0 else found.divided(divisor, "plywood, tests below the formula")
