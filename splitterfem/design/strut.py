"""Struts: bars, tubes and cables from the panel up to the chassis."""

from __future__ import annotations

import math
from typing import ClassVar, Literal, Self

from pydantic import model_validator

from splitterfem import materials
from splitterfem.design._kinds import BarChoice, PositiveForce, bar_of
from splitterfem.design._record import Flag, Name, refuse
from splitterfem.design.pad import Pad
from splitterfem.design.parts import Part
from splitterfem.units import (
    Force,
    Modulus,
    NonNegativeLength,
    Point,
    Point3,
    PositiveArea,
    PositiveLength,
    SpringRate,
)

SAME_MODULUS = 0.1
"""Share by which the modulus of a strut may differ from that of its material and still be meant."""


class Strut(Part):
    """A bar, tube or cable from a bracket on the panel to the chassis.

    Of the hardware data what is not given is not checked.

    Parameters
    ----------
    name : str
        Unique among the parts.
    foot : point
        Where its bracket stands on the panel.
    bracket_height : length
        From the panel's mid-surface to the strut's lower end.
    head : point in space
        Its upper end at the chassis, z above the panel's mid-surface.
    form : {"rod", "tube", "cable"}
        Solid bar, round tube, or a cable, which carries tension only.
    diameter : length
        Outside. A rod or a cable gives exactly one of diameter and area, unless `stiffness` is given; a tube
        gives diameter and wall.
    wall : length
        Of a tube.
    area : area
        Of the solid cross-section; of a cable that of its metal.
    material : str or BarMaterial
        A name in the catalogue, or a material of one's own.
    modulus : modulus
        Young's modulus; that of the material when left out. A cable gives its own, as its maker states it for
        the area that is given: the strands straighten, so that it is far below that of the wire.
    end_stiffness : spring rate, optional
        Of both end fittings and brackets together, in series with the bar; rigid when left out.
    stiffness : spring rate, optional
        Along the strut, in place of E A / L; the end stiffness still acts in series.
    tension_only : bool
        It goes slack in compression, as a cable does.
    slack : length
        It may lengthen by this before it carries.
    preload : force
        In tension, positive.
    thread : str, optional
        Of its ends, such as "M8".
    strength_class : str, optional
        Of a threaded rod or of its end bolts, such as "8.8".
    end_rating : force, optional
        Load that the maker of its end fittings states; of a cable that of the cable with its ends.
    pad : Pad
        Foot of its bracket.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one with its ends, in the currency of the splitter.
    """

    foot: Point
    bracket_height: NonNegativeLength = 0.0
    head: Point3
    form: Literal["rod", "tube", "cable"] = "rod"
    diameter: PositiveLength | None = None
    wall: PositiveLength | None = None
    area: PositiveArea | None = None
    material: BarChoice = "mild steel"
    modulus: Modulus = 210e9
    end_stiffness: SpringRate | None = None
    stiffness: SpringRate | None = None
    tension_only: Flag = False
    slack: NonNegativeLength = 0.0
    preload: Force = 0.0
    thread: Name | None = None
    strength_class: Name | None = None
    end_rating: PositiveForce | None = None
    pad: Pad = Pad(diameter=0.04)

    points_at: ClassVar[tuple[str, ...]] = ("foot", "head")
    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {
        "diameter": ("area",),
        "area": ("diameter",),
        "form": ("wall",),
    }

    @model_validator(mode="after")
    def _has_one_size(self) -> Self:
        if self.diameter is not None and self.area is not None:
            refuse("has a diameter and an area; give one of the two")
        if self.form == "tube":
            self._refuse_wall_that_does_not_fit()
        elif self.wall is not None:
            refuse(f'has a wall but is a {self.form}; write form = "tube", or leave wall out')
        if self.stiffness is None and self.diameter is None and self.area is None:
            refuse("has no size; give its diameter, its area or its stiffness")
        if self.length < 1e-3:
            refuse("begins and ends in the same place; move its head away from its foot")
        return self

    @model_validator(mode="after")
    def _follows_from_form_and_material(self) -> Self:
        """Put in the modulus of the material, and that a cable cannot push, where nothing else is said."""
        given = self.model_fields_set
        if self.form == "cable":
            if "modulus" not in given and self.stiffness is None:
                refuse(
                    "is a cable without a modulus, and that of its wire is far too high; give the modulus or "
                    "the stiffness that its maker states"
                )
            if "tension_only" in given and not self.tension_only:
                refuse("is a cable, which cannot push; leave tension_only out")
            self.__dict__["tension_only"] = True
        if "modulus" not in given:
            self.__dict__["modulus"] = float(self.resolved.E)
        return self

    def _refuse_wall_that_does_not_fit(self) -> None:
        """Refuse a tube without diameter and wall, or without a hollow."""
        if self.diameter is None or self.wall is None:
            refuse("is a tube; give its diameter and its wall")
        if 2.0 * self.wall >= self.diameter:
            refuse(
                f"has a wall of {1e3 * self.wall:.6g} mm, which leaves no hollow in a diameter of "
                f"{1e3 * self.diameter:.6g} mm; give a thinner wall, or make it a rod"
            )

    @property
    def length(self) -> float:
        """From the top of the bracket to the head (m)."""
        return math.dist((*self.foot, self.bracket_height), self.head)

    @property
    def section_area(self) -> float | None:
        """Area of its cross-section (m²), from diameter and wall when those were given; None when unknown."""
        if self.diameter is None:
            return self.area
        bore = 0.0 if self.wall is None else self.diameter - 2.0 * self.wall
        return 0.25 * math.pi * (self.diameter**2 - bore**2)

    @property
    def resolved(self) -> materials.BarMaterial:
        """The material itself, looked up in the catalogue when given by name."""
        return bar_of(self.material)

    @property
    def modulus_fits_material(self) -> bool:
        """Whether the modulus is that of the material, give or take a tenth."""
        return abs(float(self.modulus) / float(self.resolved.E) - 1.0) <= SAME_MODULUS

    @property
    def yield_strength(self) -> float | None:
        """Yield strength of the material (Pa).

        None when it is not known: of a cable, of a material without one, and when only a modulus is given
        that is not that of the default material.
        """
        guessed = "material" not in self.model_fields_set and not self.modulus_fits_material
        return None if self.form == "cable" or guessed else self.resolved.yield_strength
