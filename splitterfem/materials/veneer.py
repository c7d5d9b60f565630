"""Birch plywood from its veneers, for boards that no table lists.

The moduli of the table of birch plywood in the Handbook of Finnish Plywood follow within rounding from two
numbers: a veneer has 17 500 MPa along its grain and nothing across (peeling leaves checks in it), and a
sanded board of n veneers of 1.4 mm is ``1.4 n - 0.6`` mm thick, the two outer ones being sanded. Its planar
shear moduli follow within a few per cent from 118.5 MPa of rolling shear, with veneers along the shear
force all but rigid.
"""

from __future__ import annotations

from math import pi

from splitterfem.errors import DesignError
from splitterfem.materials.laminate import MOST_PLIES, Ply
from splitterfem.materials.sheet import SheetMaterial

VENEER = SheetMaterial(
    name="birch veneer",
    kind="orthotropic",
    E1=17_500e6,
    E2=0.0,
    nu12=0.0,
    G12=620e6,
    G13=100 * 118.5e6,  # "rigid" beside the rolling shear of the plies across
    G23=118.5e6,
    density=680.0,
    source="fitted to the table of birch plywood in the Handbook of Finnish Plywood (2002)",
    basis="memory",
    notes="For layups of peeled veneer only; a single veneer has no stiffness across.",
)
"""Peeled birch veneer, the layer behind the handbook's table."""


def veneer_layup(
    count: int,
    *,
    veneer: float = 1.4e-3,
    sanding: float = 0.3e-3,
    material: SheetMaterial = VENEER,
) -> tuple[Ply, ...]:
    """Plies of a cross-banded plywood, face grain along x.

    Parameters
    ----------
    count : int
        Number of veneers, odd, at least 3.
    veneer : float
        Thickness of an inner veneer, m.
    sanding : float
        Taken off each outer veneer, m.
    material : SheetMaterial
        Of one veneer.

    Returns
    -------
    tuple of Ply
        From the bottom face to the top face.

    Raises
    ------
    DesignError
        If the count is even, below 3 or not a whole number, or sanding goes through the outer veneer.

    Examples
    --------
    >>> round(sum(ply.thickness for ply in veneer_layup(9)), 6)
    0.012
    """
    if not isinstance(count, int) or count < 3 or count % 2 == 0 or count > MOST_PLIES:
        raise DesignError(f"A plywood cannot have {count} veneers; give an odd whole number from 3 up.")
    if not (0 <= sanding < veneer):
        raise DesignError(
            f"Sanding takes {1e3 * sanding:g} mm off an outer veneer of {1e3 * veneer:g} mm; "
            f"give a sanding from zero to less than the veneer."
        )
    return tuple(
        Ply(
            material=material,
            thickness=veneer - (sanding if i in (0, count - 1) else 0.0),
            angle=pi / 2 if i % 2 else 0.0,
        )
        for i in range(count)
    )
