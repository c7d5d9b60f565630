"""Plywood from its veneers, for boards that no table lists.

The moduli of the table of birch plywood in the Handbook of Finnish Plywood follow within rounding from two
numbers: a veneer has 17 500 MPa along its grain and nothing across (peeling leaves checks in it), and a
sanded board of n veneers of 1.4 mm is ``1.4 n - 0.6`` mm thick, the two outer ones being sanded. Its strengths
follow within rounding from 70 MPa in bending, 75 MPa in tension, 52 MPa in compression and 2.5 MPa in rolling
shear in the veneer that governs (`strength_by_plies`), its planar shear moduli within rounding (0.4 %) from
121 MPa of rolling shear, with veneers along the shear force all but rigid; that of the board of 6.5 mm along
the face grain alone does not, which the rule puts at 199 and the table, as recalled, at 169 MPa.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, SerializerFunctionWrapHandler, field_serializer, model_validator

from splitterfem.errors import DesignError
from splitterfem.materials._record import Record, refuse
from splitterfem.materials.ply import MOST_PLIES, Ply, ply_by_name
from splitterfem.materials.ply_materials import VENEER, is_in_catalogue
from splitterfem.materials.sheet import SheetMaterial
from splitterfem.units import Angle, NonNegativeLength, PositiveLength


class Veneers(Record):
    """A plywood described by its veneers.

    Parameters
    ----------
    count : int
        Number of veneers, at least 3; odd, unless `directions` are given.
    thickness : length
        Of an inner veneer.
    sanding : length
        Taken off each outer veneer.
    directions : angles, optional
        Of the grain of each veneer, from the bottom face up; lengthwise and crosswise in turn when left out.
    angle : angle
        By which the whole board is turned within the layup, anticlockwise seen from above.
    material : SheetMaterial
        Of one veneer, by name or written out.
    """

    count: Annotated[int, Field(strict=True)]
    thickness: PositiveLength = 1.4e-3
    sanding: NonNegativeLength = 0.3e-3
    directions: tuple[Angle, ...] | None = None
    angle: Angle = 0.0
    material: Annotated[
        SheetMaterial, BeforeValidator(ply_by_name, json_schema_input_type=SheetMaterial | str)
    ] = VENEER

    @field_serializer("material", mode="wrap", when_used="json")
    def _name_or_record(self, material: SheetMaterial, write: SerializerFunctionWrapHandler) -> Any:
        return material.name if is_in_catalogue(material) else write(material)

    @model_validator(mode="after")
    def _can_be_glued(self) -> Veneers:
        try:
            self.plies()
        except DesignError as problem:
            refuse(str(problem))
        return self

    def plies(self) -> tuple[Ply, ...]:
        """Plies from the bottom face to the top face."""
        return veneer_layup(
            self.count,
            veneer=self.thickness,
            sanding=self.sanding,
            directions=self.directions,
            angle=self.angle,
            material=self.material,
        )

    def mirrored(self) -> Veneers:
        """Return the same with all angles of opposite sign."""
        given = {name: getattr(self, name) for name in self.model_fields_set}
        given["angle"] = -self.angle
        if self.directions is not None:
            given["directions"] = tuple(-way for way in self.directions)
        return Veneers(**given)


def veneer_layup(
    count: int,
    *,
    veneer: float = 1.4e-3,
    sanding: float = 0.3e-3,
    directions: Sequence[float] | None = None,
    angle: float = 0.0,
    material: SheetMaterial = VENEER,
) -> tuple[Ply, ...]:
    """Plies of a plywood, cross-banded with the face grain along x unless said.

    Parameters
    ----------
    count : int
        Number of veneers, at least 3; odd, unless ``directions`` are given.
    veneer : float
        Thickness of an inner veneer, m.
    sanding : float
        Taken off each outer veneer, m.
    directions : sequence of float, optional
        Of the grain of each veneer, from the bottom face up, rad; 0 and a right angle in turn when left out.
    angle : float
        Added to all of them, rad.
    material : SheetMaterial
        Of one veneer.

    Returns
    -------
    tuple of Ply
        From the bottom face to the top face.

    Raises
    ------
    DesignError
        If the count is even, below 3 or not a whole number, there are not as many directions as veneers, or
        sanding goes through the outer veneer.

    Examples
    --------
    >>> round(sum(ply.thickness for ply in veneer_layup(9)), 6)
    0.012
    """
    whole = isinstance(count, int) and 3 <= count <= MOST_PLIES
    if not whole or (directions is None and count % 2 == 0):
        raise DesignError(f"A plywood cannot have {count} veneers; give an odd whole number from 3 up.")
    if directions is not None and len(directions) != count:
        raise DesignError(
            f"The plywood has {count} veneers and {len(directions)} directions; give one for each veneer."
        )
    if not (0 <= sanding < veneer):
        raise DesignError(
            f"Sanding takes {1e3 * sanding:g} mm off an outer veneer of {1e3 * veneer:g} mm; "
            f"give a sanding from zero to less than the veneer."
        )
    ways = directions if directions is not None else [pi / 2 if i % 2 else 0.0 for i in range(count)]
    return tuple(
        Ply(
            material=material,
            thickness=veneer - (sanding if i in (0, count - 1) else 0.0),
            angle=way + angle,
        )
        for i, way in enumerate(ways)
    )
