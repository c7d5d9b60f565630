"""Parts on the panel, single or as a pair; ribs."""

from __future__ import annotations

import math
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import AfterValidator, Discriminator, Field, Tag, model_validator

from splitterfem import curves, materials
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.outline import shift
from splitterfem.design.panel import name_or_table
from splitterfem.errors import DesignError
from splitterfem.units import Point


class Part(Record):
    """A named part that may stand for a pair, left and right.

    Parameters
    ----------
    name : str
        Unique among the parts of a splitter.
    mirror : bool
        There is a second one, its mirror image about y = 0; the two are "<name> left" and "<name> right".
    """

    name: Name
    mirror: Flag = False

    points_at: ClassVar[tuple[str, ...]] = ()
    """Fields that hold points on the panel."""

    def lateral(self) -> float:
        """Return the mean y of the part (m)."""
        values = [getattr(self, field) for field in self.points_at]
        ys = [y for value in values for y in ([p[1] for p in value] if _many(value) else [value[1]])]
        return math.fsum(ys) / len(ys)

    def shifted(self, dx: float, dy: float) -> Self:
        """Return the part as a whole moved by ``dx``, ``dy`` (m)."""
        moved: dict[str, object] = {}
        for field in self.points_at:
            value = getattr(self, field)
            if _many(value):
                moved[field] = tuple(shift(point, dx, dy) for point in value)
            else:
                moved[field] = (*shift(value[:2], dx, dy), *value[2:])
        return self.with_(**moved)

    def sides(self) -> tuple[Self, ...]:
        """Return the part itself, or the left and the right one of a mirrored pair, each without mirror."""
        if not self.mirror:
            return (self,)
        here, there = ("left", "right") if self.lateral() >= 0.0 else ("right", "left")
        fields = {field: value for field, value in self.given().items() if field != "mirror"}
        near = type(self)(**(fields | {"name": f"{self.name} {here}"}))
        return near, near.with_(**self._image(), name=f"{self.name} {there}")

    def _image(self) -> dict[str, object]:
        """Return the fields that differ in the mirror image."""
        fields: dict[str, object] = {}
        for field in self.points_at:
            value = getattr(self, field)
            fields[field] = tuple(_flip(p) for p in value) if _many(value) else _flip(value)
        pad = getattr(self, "pad", None)
        return fields | ({"pad": pad.mirrored()} if pad is not None and pad.angle else {})


def _in_catalogue(name: str) -> str:
    try:
        materials.bar(name)
    except DesignError as problem:
        refuse(str(problem))
    return name


CatalogueName = Annotated[str, AfterValidator(_in_catalogue)]
"""Name of a bar material in the catalogue."""


class Rib(Part):
    """A stiffener along a line on the panel.

    Parameters
    ----------
    name : str
        Unique among the parts.
    points : points
        Two or more, the ends and the bends of its line.
    section : Section
        Tube, angle, flat bar.
    material : str or BarMaterial
        A name in the catalogue, or a material of one's own.
    side : {"above", "below"}
        Face of the panel that it sits on.
    flip : bool
        Turns an unsymmetric section about its line.
    mirror : bool
        A pair, left and right.
    """

    points: Annotated[tuple[Point, ...], Field(min_length=2, max_length=500)]
    section: materials.Section
    material: Annotated[
        Annotated[CatalogueName, Tag("<name>")] | Annotated[materials.BarMaterial, Tag("<table>")],
        Discriminator(name_or_table),
    ]
    side: Literal["below", "above"] = "above"
    flip: Flag = False

    points_at: ClassVar[tuple[str, ...]] = ("points",)

    @model_validator(mode="after")
    def _can_be_built(self) -> Self:
        for number, (a, b) in enumerate(zip(self.points, self.points[1:], strict=False), start=1):
            if math.dist(a, b) < 1e-4:
                refuse(f"points {number} and {number + 1} are both at {curves.in_mm(a)} mm; leave one out")
        return self

    @property
    def resolved(self) -> materials.BarMaterial:
        """The material itself, looked up in the catalogue when given by name."""
        return materials.bar(self.material) if isinstance(self.material, str) else self.material

    @property
    def length(self) -> float:
        """Length along its line (m)."""
        return math.fsum(math.dist(a, b) for a, b in zip(self.points, self.points[1:], strict=False))

    def _image(self) -> dict[str, object]:
        return super()._image() | {"flip": not self.flip}


def _many(value: Any) -> bool:
    return isinstance(value[0], tuple)


def _flip(point: tuple[float, ...]) -> tuple[float, ...]:
    return point[0], -point[1] if point[1] else point[1], *point[2:]
