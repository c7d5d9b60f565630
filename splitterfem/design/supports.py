"""What holds the panel: struts, bolts, pins and rear pockets."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Self

from pydantic import BeforeValidator, model_validator

from splitterfem.design._record import Flag, refuse
from splitterfem.design.pad import Pad
from splitterfem.design.parts import Part
from splitterfem.units import (
    Angle,
    Force,
    Modulus,
    NonNegativeLength,
    Point,
    Point3,
    PositiveArea,
    PositiveLength,
    SpringRate,
)


class Strut(Part):
    """A bar from a bracket on the panel to the chassis.

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
    diameter, area : length, area
        Of its solid cross-section; exactly one of the two, unless `stiffness` is given.
    modulus : modulus
        Young's modulus, steel by default.
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
    pad : Pad
        Foot of its bracket.
    mirror : bool
        A pair, left and right.
    """

    foot: Point
    bracket_height: NonNegativeLength = 0.0
    head: Point3
    diameter: PositiveLength | None = None
    area: PositiveArea | None = None
    modulus: Modulus = 210e9
    end_stiffness: SpringRate | None = None
    stiffness: SpringRate | None = None
    tension_only: Flag = False
    slack: NonNegativeLength = 0.0
    preload: Force = 0.0
    pad: Pad = Pad(diameter=0.04)

    points_at: ClassVar[tuple[str, ...]] = ("foot", "head")
    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {"diameter": ("area",), "area": ("diameter",)}

    @model_validator(mode="after")
    def _has_one_size(self) -> Self:
        if self.diameter is not None and self.area is not None:
            refuse("has a diameter and an area; give one of the two")
        if self.stiffness is None and self.diameter is None and self.area is None:
            refuse("has no size; give its diameter, its area or its stiffness")
        if self.length < 1e-3:
            refuse("begins and ends in the same place; move its head away from its foot")
        return self

    @property
    def length(self) -> float:
        """From the top of the bracket to the head (m)."""
        return math.dist((*self.foot, self.bracket_height), self.head)

    @property
    def section_area(self) -> float | None:
        """Area of its cross-section (m²), from the diameter when that was given; None when unknown."""
        return self.area if self.diameter is None else 0.25 * math.pi * self.diameter**2


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
    mirror : bool
        A pair, left and right.
    """

    at: Point
    holds: Directions = "xyz"
    pad: Pad = Pad(diameter=0.025)

    points_at: ClassVar[tuple[str, ...]] = ("at",)


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
    pad : Pad
        Over which its force spreads.
    mirror : bool
        A pair, left and right.
    """

    at: Point
    holds: Directions = "xy"
    slot: Angle | None = None
    pad: Pad = Pad(diameter=0.025)

    points_at: ClassVar[tuple[str, ...]] = ("at",)

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
    mirror : bool
        A pair, left and right.
    """

    mouth: Point
    width: PositiveLength
    overlap: PositiveLength
    clearance_up: NonNegativeLength = 0.0
    clearance_down: NonNegativeLength = 0.0

    points_at: ClassVar[tuple[str, ...]] = ("mouth",)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y (m)."""
        (x, y), half = self.mouth, 0.5 * self.width
        return x - self.overlap, y - half, float(x), y + half
