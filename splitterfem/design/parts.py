"""Parts on the panel, single or as a pair; ribs."""

from __future__ import annotations

import math
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from splitterfem import curves, materials
from splitterfem.design._kinds import BarChoice, Cost, bar_of
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.areas import flip
from splitterfem.design.joints import Adhesive, Bond, Fasteners, Joint
from splitterfem.design.outline import shift
from splitterfem.units import Point


class Part(Record):
    """A named part that may stand for a pair, left and right.

    Parameters
    ----------
    name : str
        Unique among the parts of a splitter.
    mirror : bool
        There is a second one, its mirror image about y = 0; the two are "<name> left" and "<name> right".
    cost : number, optional
        Of one, in the currency of the splitter; a pair costs twice as much.
    """

    name: Name
    mirror: Flag = False
    cost: Cost | None = None

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
            fields[field] = tuple(flip(p) for p in value) if _many(value) else flip(value)
        pad = getattr(self, "pad", None)
        return fields | ({"pad": pad.mirrored()} if pad is not None and pad.angle else {})


class Rib(Part):
    """A stiffener along a line on the panel.

    It lies on the panel from end to end: ribs that bridge a cut-out or reach past the edge are not offered;
    lay a doubler beside the opening or end the rib before it.

    Two ribs that cross on the same face cannot both run through, and stacking one on top of the other is
    not offered: one is cut ("notched") where it meets the foot of the other, or goes on the other face.

    Parameters
    ----------
    name : str
        Unique among the parts.
    points : points
        Two or more, the ends and the bends of its line.
    section : Section
        Tube, round tube, angle, tee, channel, hat, flat bar, or a polygon of its own.
    material : str or BarMaterial
        A name in the catalogue, or a material of one's own.
    side : {"above", "below"}
        Face of the panel that it sits on.
    flip : bool
        Turns an unsymmetric section about its line.
    joint : Joint
        How it is joined to the panel; an ideal bond when left out.
    crossing : {"through", "notched"}
        Where it meets another rib on its face: runs through, or is cut back to that rib's foot; what is left
        of it then is told by `splitterfem.design.crossing.pieces`.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one, in the currency of the splitter.
    """

    points: Annotated[tuple[Point, ...], Field(min_length=2, max_length=500)]
    section: materials.Section
    material: BarChoice
    side: Literal["below", "above"] = "above"
    flip: Flag = False
    joint: Joint = Bond()
    crossing: Literal["through", "notched"] = "through"

    points_at: ClassVar[tuple[str, ...]] = ("points",)

    @model_validator(mode="after")
    def _can_be_built(self) -> Self:
        for number, (a, b) in enumerate(zip(self.points, self.points[1:], strict=False), start=1):
            if math.dist(a, b) < 1e-4:
                refuse(f"points {number} and {number + 1} are both at {curves.in_mm(a)} mm; leave one out")
        self._refuse_joint_that_does_not_fit()
        return self

    def _refuse_joint_that_does_not_fit(self) -> None:
        """Refuse adhesive beside the foot, fasteners beside it, and a pitch longer than the rib."""
        joint, foot = self.joint, self.foot_width
        wide, what = 0.0, ""
        if isinstance(joint, Adhesive) and joint.width is not None:
            wide, what = joint.width, "a joint"
        elif isinstance(joint, Fasteners):
            wide, what = (
                joint.rows * joint.diameter,
                f"{joint.rows} row{'s' * (joint.rows > 1)} of {joint.kind}",
            )
        if wide > foot * (1.0 + 1e-9):
            refuse(
                f"has {what} {1e3 * wide:.6g} mm wide on a foot of {1e3 * foot:.6g} mm; make the joint narrower"
            )
        if isinstance(joint, Fasteners) and joint.pitch > self.length:
            refuse(
                f"has {joint.kind} at a pitch of {1e3 * joint.pitch:.6g} mm on a length of "
                f"{1e3 * self.length:.6g} mm; give a smaller pitch (a number without a unit is in metres)"
            )

    @property
    def resolved(self) -> materials.BarMaterial:
        """The material itself, looked up in the catalogue when given by name."""
        return bar_of(self.material)

    @property
    def foot_width(self) -> float:
        """Width of what lies on the panel (m)."""
        return float(self.section.foot_width)

    @property
    def length(self) -> float:
        """Length along its line (m)."""
        return math.fsum(math.dist(a, b) for a, b in zip(self.points, self.points[1:], strict=False))

    def _image(self) -> dict[str, object]:
        return super()._image() | {"flip": not self.flip}


def _many(value: Any) -> bool:
    return isinstance(value[0], tuple)
