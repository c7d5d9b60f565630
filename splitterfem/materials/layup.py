"""Sheets made of plies: sandwiches, plywood from its veneers, anything glued from layers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, Strict, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from splitterfem.errors import DesignError
from splitterfem.materials._record import Cost, Sourced, refuse
from splitterfem.materials.laminate import coupling, laminate
from splitterfem.materials.ply import MOST_PLIES, Ply, turned_back
from splitterfem.materials.ply_materials import VENEER
from splitterfem.materials.ply_strength import strength_by_plies
from splitterfem.materials.sheet import SheetMaterial, SheetStrength
from splitterfem.materials.stiffness import PlateStiffness
from splitterfem.materials.veneer import Veneers

BALANCED = 1e-6
"""Coupling of stretch and bending, over what the stiffnesses would allow, that still counts as symmetric."""

_STAND_IN = (Ply(material=VENEER, thickness=1e-3),)


class Layup(Sourced):
    """A sheet made of plies, such as a sandwich, or a plywood described by its veneers.

    Exactly one of `plies` and `veneers` is given; `plies` is there in any case afterwards.

    Parameters
    ----------
    kind : {"layup"}
        Tells it from a `SheetMaterial`.
    plies : tuple of Ply
        From the bottom face to the top face.
    veneers : Veneers, optional
        Short for the plies of a plywood.
    unsymmetric : bool
        True says that the plies are meant to be unsymmetric about the middle.
    cost_per_area : number, optional
        Price of a square metre, in the currency of the splitter; that of the catalogue is in euro.
    cost_basis : str
        Where the price comes from.

    Raises
    ------
    DesignError
        With one sentence for each fault.

    Examples
    --------
    In a design file a sandwich and a plywood of 9 veneers read::

        [panel.sheet.material]
        kind = "layup"
        name = "our carbon panel"
        plies = [
            { material = "carbon fabric", thickness = "0.5 mm", angle = "45 deg" },
            { material = "PVC foam 80", thickness = "12 mm" },
            { material = "carbon fabric", thickness = "0.5 mm", angle = "45 deg" },
        ]

        [panel.sheet.material]
        kind = "layup"
        name = "birch, 9 veneers"
        veneers = { count = 9, thickness = "1.4 mm", sanding = "0.3 mm" }
    """

    model_config = ConfigDict(
        json_schema_extra={
            "required": ["name"],
            "oneOf": [{"required": ["plies"]}, {"required": ["veneers"]}],
        }
    )

    kind: Literal["layup"] = "layup"
    plies: Annotated[tuple[Ply, ...], Field(min_length=1, max_length=MOST_PLIES)]
    veneers: Veneers | None = None
    unsymmetric: Annotated[bool, Strict()] = False
    cost_per_area: Cost | None = None
    cost_basis: str = ""

    @model_validator(mode="wrap")
    @classmethod
    def _plies_or_veneers(cls, data: Any, handler: ModelWrapValidatorHandler[Layup]) -> Layup:
        if not isinstance(data, dict) or data.get("veneers") is None:
            if isinstance(data, dict) and data.get("plies") is None:
                refuse("has neither plies nor veneers; give one of them")
            return handler(data)._balanced()
        # the plies that follow from the veneers are put in after the veneers have been validated
        made = handler({**data, "plies": _STAND_IN})
        assert made.veneers is not None
        plies = made.veneers.plies()
        if data.get("plies") is not None and handler({**data, "veneers": None}).plies != plies:
            refuse(f"'{made.name}' has plies and veneers, which differ; leave one of them out")
        made.__dict__["plies"] = plies
        made.__pydantic_fields_set__.discard("plies")
        return made._balanced()

    def _balanced(self) -> Layup:
        """Refuse a layup that bends when it is pulled, unless it is meant to."""
        if not self.unsymmetric and coupling(self.plies) > BALANCED:
            refuse(
                f"The plies of '{self.name}' are not symmetric about the middle, so the sheet warps with heat and "
                "moisture and bends when it is pulled; mirror them, or write unsymmetric = true"
            )
        return self

    @property
    def thickness(self) -> float:
        """Sum of the plies, m."""
        return float(sum(ply.thickness for ply in self.plies))

    @property
    def mass_per_area(self) -> float:
        """Of the plies, kg/m2; glue is not counted."""
        return float(sum(ply.material.density * ply.thickness for ply in self.plies))

    @property
    def density_characteristic(self) -> float | None:
        """Mean over the plies of the density that 5 % fall below, kg/m3; None when one of them has none."""
        found = [ply.material.density_characteristic for ply in self.plies]
        known = [density * ply.thickness for density, ply in zip(found, self.plies, strict=True) if density]
        return sum(known) / self.thickness if len(known) == len(found) else None

    @property
    def strength(self) -> SheetStrength | None:
        """Nominal strengths along and across the layup's x axis, see `strength_by_plies`."""
        return strength_by_plies(self.plies)

    def price_per_area(self, thickness: float | None = None) -> float | None:
        """Price of a square metre, None when it is not known; the thickness is that of the plies."""
        return self.cost_per_area

    def mirrored(self) -> Layup:
        """Return the layup as seen in a mirror along x: angles change their sign."""
        given = {name: getattr(self, name) for name in self.model_fields_set}
        if self.veneers is None:
            return Layup(**{**given, "plies": tuple(turned_back(ply) for ply in self.plies)})
        return Layup(**{**given, "veneers": self.veneers.mirrored()})

    def stiffness(self, thickness: float | None = None, grain_angle: float = 0.0) -> PlateStiffness:
        """Stiffness of the layup, turned to ``grain_angle`` (rad).

        Parameters
        ----------
        thickness : float, optional
            Only to be compared with the plies, m.
        grain_angle : float
            From the panel's x axis to the layup's, anticlockwise seen from above, rad.

        Raises
        ------
        DesignError
            If a thickness is given that is not that of the plies.
        """
        total = self.thickness
        if thickness is not None and abs(thickness - total) > 1e-6:
            raise DesignError(
                f"The layup '{self.name}' is {1e3 * total:.6g} mm thick by its plies, but a thickness of "
                f"{1e3 * thickness:.6g} mm is asked for; leave the thickness out or change the plies."
            )
        return laminate(self.plies).rotated(grain_angle)


Sheet = Annotated[SheetMaterial | Layup, Field(discriminator="kind")]
"""What a panel can be made of, told apart by ``kind``."""
