"""What holds the panel besides struts: bolts, pins and rear pockets.

Of their hardware data what is not given is not checked.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Self

from pydantic import BeforeValidator, model_validator

from splitterfem import materials
from splitterfem.design._kinds import BarChoice, PositiveForce, bar_of
from splitterfem.design._record import Name, refuse
from splitterfem.design.pad import Pad
from splitterfem.design.parts import Part
from splitterfem.units import Angle, NonNegativeLength, Point, PositiveLength, PositivePressure


def _directions(value: object) -> object:
    """Turn ``"xz"`` or ``["x", "z"]`` into ``"xz"`` in the order of the axes."""
    letters = list(value) if isinstance(value, (str, list, tuple, set, frozenset)) else [value]
    if not letters or any(letter not in ("x", "y", "z") for letter in letters):
        refuse('holds says which directions are held; write letters of x, y and z, such as "xyz" or "xy"')
    if len(set(letters)) < len(letters):
        refuse("holds names a direction twice; write each letter once")
    return "".join(sorted(str(letter) for letter in letters))


Directions = Annotated[str, BeforeValidator(_directions, json_schema_input_type=str | list[str])]
"""Letters of the axes, such as ``"xz"``."""


class Bolt(Part):
    """A bolt from the panel to the chassis.

    Parameters
    ----------
    name : str
        Unique among the parts.
    at : point
        Where it goes through the panel.
    holds : str
        Directions in which it holds, letters of x, y and z.
    pad : Pad
        Its washer.
    diameter : length, optional
        Nominal, of its thread.
    strength_class : str, optional
        Such as "8.8".
    washer_thickness : length, optional
        Of its washer.
    head_diameter : length, optional
        Of its head, or of its nut across the flats.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one with its washers and its nut, in the currency of the splitter.
    """

    at: Point
    holds: Directions = "xyz"
    pad: Pad = Pad(diameter=0.025)
    diameter: PositiveLength | None = None
    strength_class: Name | None = None
    washer_thickness: PositiveLength | None = None
    head_diameter: PositiveLength | None = None

    points_at: ClassVar[tuple[str, ...]] = ("at",)

    @model_validator(mode="after")
    def _head_and_washer_are_wider(self) -> Self:
        for what, width in (("head", self.head_diameter), ("pad", self.pad.diameter)):
            if self.diameter is not None and width is not None and width <= self.diameter:
                refuse(
                    f"has a {what} of {1e3 * width:.6g} mm, which a bolt of {1e3 * self.diameter:.6g} mm "
                    f"does not leave room for; give the outside diameter of the {what}"
                )
        return self


class Pin(Part):
    """A pin that locates the panel, in a hole or in a slot.

    Parameters
    ----------
    name : str
        Unique among the parts.
    at : point
        Where it goes through the panel.
    holds : str
        Directions in which it holds, letters of x, y and z.
    slot : angle, optional
        Direction in the plane in which it slides freely, from x (forward) towards y (left).
    slot_length : length, optional
        Of the slot from end to end, for the template; that the pin comes to an end of it is not modelled.
    pad : Pad
        Over which its force spreads.
    diameter : length, optional
        Of its shank.
    rating : force, optional
        Load that its maker states, in place of a computed one.
    lug_thickness : length, optional
        Of the lug in the middle of the clevis.
    gap : length, optional
        Between the lug and the clevis on each side.
    clevis_thickness : length, optional
        Of each of the two arms of the clevis.
    shear_strength : pressure, optional
        Ultimate, of its material.
    yield_strength : pressure, optional
        Of its material, in tension; by it the pin is judged in bending.
    hole : length, optional
        Diameter of the holes in lug and clevis; that of the pin when left out.
    lug_width, clevis_width : length, optional
        Of the lug, and of each arm of the clevis, across the force at the hole.
    lug_end, clevis_end : length, optional
        From the middle of the hole to the end of the lug, and of each arm of the clevis, along the force.
    lug_material, clevis_material : str or BarMaterial, optional
        A name in the catalogue, or a material of one's own.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one, in the currency of the splitter.
    """

    at: Point
    holds: Directions = "xy"
    slot: Angle | None = None
    slot_length: PositiveLength | None = None
    pad: Pad = Pad(diameter=0.025)
    diameter: PositiveLength | None = None
    rating: PositiveForce | None = None
    lug_thickness: PositiveLength | None = None
    gap: NonNegativeLength | None = None
    clevis_thickness: PositiveLength | None = None
    shear_strength: PositivePressure | None = None
    yield_strength: PositivePressure | None = None
    hole: PositiveLength | None = None
    lug_width: PositiveLength | None = None
    lug_end: PositiveLength | None = None
    lug_material: BarChoice | None = None
    clevis_width: PositiveLength | None = None
    clevis_end: PositiveLength | None = None
    clevis_material: BarChoice | None = None

    points_at: ClassVar[tuple[str, ...]] = ("at",)

    @model_validator(mode="after")
    def _slot_fits(self) -> Self:
        """Refuse the length of a slot that is not there, or shorter than the pin is wide."""
        if self.slot_length is None:
            return self
        if self.slot is None:
            refuse("has a slot_length but no slot; give the direction of the slot, or leave its length out")
        if self.diameter is not None and self.slot_length <= self.diameter * (1.0 + 1e-9):
            refuse(
                f"has a slot {1e3 * self.slot_length:.6g} mm long for a shank of {1e3 * self.diameter:.6g} mm; give "
                "its length from end to end"
            )
        return self

    @model_validator(mode="after")
    def _hole_fits(self) -> Self:
        """Refuse a hole narrower than the pin, and lugs that it leaves nothing of."""
        hole = self.hole_diameter
        if hole is None:
            return self
        if self.diameter is not None and hole < self.diameter * (1.0 - 1e-9):
            refuse(
                f"has a hole of {1e3 * hole:.6g} mm for a shank of {1e3 * self.diameter:.6g} mm; give the wider of "
                "the two to the hole"
            )
        least = {"lug_width": hole, "clevis_width": hole, "lug_end": hole / 2, "clevis_end": hole / 2}
        for field, smallest in least.items():
            size = getattr(self, field)
            if size is not None and size <= smallest:
                refuse(
                    f"has a {field} of {1e3 * size:.6g} mm, which a hole of {1e3 * hole:.6g} mm does not leave room "
                    "for; widths go across the whole lug, ends from the middle of the hole"
                )
        return self

    @property
    def lug_resolved(self) -> materials.BarMaterial | None:
        """The material of the lug, looked up in the catalogue when given by name; None when not given."""
        return None if self.lug_material is None else bar_of(self.lug_material)

    @property
    def clevis_resolved(self) -> materials.BarMaterial | None:
        """The material of the clevis, looked up in the catalogue when given by name; None when not given."""
        return None if self.clevis_material is None else bar_of(self.clevis_material)

    @property
    def hole_diameter(self) -> float | None:
        """Of the holes in lug and clevis (m): their own, or that of the pin; None when neither is known."""
        return self.diameter if self.hole is None else self.hole

    @model_validator(mode="after")
    def _slot_in_held_plane(self) -> Self:
        if self.slot is not None and not {"x", "y"} <= set(self.holds):
            refuse(f'has a slot but holds "{self.holds}"; a slot frees one direction of "xy", so hold both')
        return self

    def _image(self) -> dict[str, object]:
        return super()._image() | ({} if self.slot is None else {"slot": -self.slot})


class RearPocket(Part):
    """A bracket that the rear edge slides into, held up and down with some play.

    It covers x from ``mouth.x - overlap`` to ``mouth.x`` and y within half a width of ``mouth.y``.

    Parameters
    ----------
    name : str
        Unique among the parts.
    mouth : point
        Middle of its front edge, on the panel.
    width : length
        Along y.
    overlap : length
        How deep the panel sits in it.
    clearance_up, clearance_down : length
        Play above and below the panel.
    lip_thickness : length, optional
        Of the lip that holds the panel.
    lip_reach : length, optional
        From the bend at the root of the lip to its free edge, at least the overlap; the overlap when left
        out.
    lip_material : str or BarMaterial, optional
        A name in the catalogue, or a material of one's own.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one, in the currency of the splitter.
    """

    mouth: Point
    width: PositiveLength
    overlap: PositiveLength
    clearance_up: NonNegativeLength = 0.0
    clearance_down: NonNegativeLength = 0.0
    lip_thickness: PositiveLength | None = None
    lip_reach: PositiveLength | None = None
    lip_material: BarChoice | None = None

    points_at: ClassVar[tuple[str, ...]] = ("mouth",)

    @model_validator(mode="after")
    def _lip_reaches_over_overlap(self) -> Self:
        if self.lip_reach is not None and self.lip_reach < self.overlap * (1.0 - 1e-9):
            refuse(
                f"has an overlap of {1e3 * self.overlap:.6g} mm under a lip that reaches "
                f"{1e3 * self.lip_reach:.6g} mm; give a longer lip or less overlap"
            )
        return self

    @property
    def resolved(self) -> materials.BarMaterial | None:
        """The material of its lip, looked up in the catalogue when given by name; None when not given."""
        return None if self.lip_material is None else bar_of(self.lip_material)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y (m)."""
        (x, y), half = self.mouth, 0.5 * self.width
        return x - self.overlap, y - half, float(x), y + half
