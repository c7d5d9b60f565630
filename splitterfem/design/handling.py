"""Handling and accidents: kerbs, hands, feet, lifting and transport, as load cases with usual magnitudes.

All magnitudes are common practice without a source and every one can be changed. None of them covers a crash, and
lifting the car by the panel is not offered at all.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self

import numpy as np
import shapely
import shapely.ops
from pydantic import Field, model_validator

from splitterfem import curves
from splitterfem.design._ground import TOUCH
from splitterfem.design._kinds import Note, PositiveForce
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.cases import LoadCase, PointForce
from splitterfem.design.pad import Pad
from splitterfem.errors import DesignError, nearest
from splitterfem.units import Acceleration, Point, PositiveLength, Quantity

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter

BASIS = "common practice, no source"
"""What stands behind every magnitude here."""

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""

EDGE = 0.005
"""Distance that a pad keeps from the edge of the panel, m."""

PLACES = ("left corner", "right corner", "lip middle")

LONGEST = 60
"""Characters that the name of a load case can have."""

NonNegativeForce = Annotated[float, Quantity("force", least=0.0)]
PositiveAcceleration = Annotated[float, Quantity("acceleration", above=0.0)]
Impact = Annotated[float, Quantity("number", least=1.0)]


class _Handling(Record):
    """What all handling cases share.

    Parameters
    ----------
    name : str, optional
        Of the load case; made from kind and place when left out.
    note : str
        Where its magnitudes come from; handed on to the load case.
    """

    name: Name | None = None
    note: Note = BASIS

    usual_name: ClassVar[str] = ""

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return the load cases that it stands for."""
        raise NotImplementedError

    def _named(self, place: str = "") -> str:
        made = self.name or (f"{self.usual_name}, {place}" if place else self.usual_name)
        return _short_enough(made)

    def _pushed(
        self, splitter: Splitter, at: str | Point, force: tuple[float, float, float], pad: Pad, **more: Any
    ) -> tuple[LoadCase, ...]:
        """Return the load case of a force over a pad that lies wholly on the panel."""
        place, words = place_of(splitter, at, pad, name=self.name or self.usual_name)
        pushed = PointForce(at=place, force=force, pad=pad)
        return (LoadCase(name=self._named(words), note=self.note, forces=(pushed,), **more),)


class KerbStrike(_Handling):
    """A kerb that hits the panel from below and pushes it back.

    Parameters
    ----------
    name : str, optional
        Of the load case; made from kind and place when left out.
    at : "left corner", "right corner", "lip middle", name of a strut, or point
        Where; under a strut it is the foot of the strut.
    up : force
        1 to 2 kN is usual, common practice without a source.
    rearward : force
        1 to 3 kN is usual, common practice without a source.
    width : length
        Diameter of the area that is hit, 100 to 150 mm.
    """

    kind: Literal["kerb"] = "kerb"
    at: str | Point = "left corner"
    up: PositiveForce = 1500.0
    rearward: NonNegativeForce = 2000.0
    width: PositiveLength = 0.125

    usual_name: ClassVar[str] = "kerb strike"

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return one case."""
        force = (-float(self.rearward), 0.0, float(self.up))
        return self._pushed(splitter, self.at, force, Pad(diameter=self.width), duration="instantaneous")


class Standing(_Handling):
    """A person who stands on the panel; refused unless it is declared.

    Parameters
    ----------
    name : str, optional
        Of the load case.
    declared : bool
        True says that the panel is meant to carry a person; nothing else makes this case.
    at : "left corner", "right corner", "lip middle", name of a strut, or point
        Where the foot is.
    weight : force
        0.9 to 1.0 kN.
    impact : number
        Factor for stepping on it, 1.5 to 2, common practice without a source.
    """

    kind: Literal["standing"] = "standing"
    declared: Flag = False
    at: str | Point = "lip middle"
    weight: PositiveForce = 950.0
    impact: Impact = 1.75

    usual_name: ClassVar[str] = "person standing"

    @model_validator(mode="after")
    def _declared(self) -> Self:
        if not self.declared:
            refuse(
                "standing on the panel is not taken for granted; write declared = true if it is meant to carry a "
                "person, or leave the case out"
            )
        return self

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return one case, on a foot of 250 by 100 mm that stands along the lip, where it bends the panel most."""
        foot = Pad(shape="rectangle", length=0.1, width=0.25)
        return self._pushed(splitter, self.at, (0.0, 0.0, -float(self.weight) * float(self.impact)), foot)


class Lifting(_Handling):
    """One end of the panel lifted by a strap or hands while it hangs in its supports.

    Parameters
    ----------
    name : str, optional
        Of the load case.
    at : "left corner", "right corner", "lip middle", name of a strut, or point
        Where the strap pulls.
    force : force
        0.5 to 1 kN, common practice without a source.
    width : length
        Diameter of the area under the strap.
    """

    kind: Literal["lifting"] = "lifting"
    at: str | Point = "left corner"
    force: PositiveForce = 750.0
    width: PositiveLength = 0.1

    usual_name: ClassVar[str] = "lifting by one end"

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return one case."""
        return self._pushed(splitter, self.at, (0.0, 0.0, float(self.force)), Pad(diameter=self.width))


class Shaking(_Handling):
    """The panel's own mass in an acceleration, both ways: transport, rough ground, a stop.

    Parameters
    ----------
    name : str, optional
        Of the load cases; "up" and "down", or "forward" and "rearward", is added.
    direction : {"vertical", "lengthwise"}
        Of the acceleration; a lengthwise one acts besides the weight.
    acceleration : acceleration
        A vertical one is in place of gravity, so that 3 g are 3 g in all, up and down.  Transport 3 g, vertical
        service 3 to 5 g, retention 10 g: common practice, no source.
    """

    kind: Literal["shaking"] = "shaking"
    direction: Literal["vertical", "lengthwise"] = "vertical"
    acceleration: PositiveAcceleration = 3.0 * GRAVITY

    usual_name: ClassVar[str] = "shaking"

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return two cases."""
        a = float(self.acceleration)
        axis = 2 if self.direction == "vertical" else 0
        words = ("up", "down") if axis == 2 else ("forward", "rearward")
        name = self.name or f"{self.usual_name}, {a / GRAVITY:.3g} g"
        made = []
        for word, sign in zip(words, (1.0, -1.0), strict=True):
            field: list[Acceleration] = [0.0, 0.0, 0.0]
            field[axis] = -sign * a  # what the car does; the panel is thrown the other way
            case = LoadCase(
                name=_short_enough(f"{name} {word}"),
                note=self.note,
                gravity=axis == 0,
                acceleration=tuple(field),
                duration="instantaneous",
            )
            made.append(case)
        return tuple(made)


class Gravel(_Handling):
    """A run through gravel or grass, which scoops the lip back and up; that the panel is lost is accepted.

    What is asked is which part goes first: pins and struts before the chassis.

    Parameters
    ----------
    name : str, optional
        Of the load case.
    at : "left corner", "right corner", "lip middle", name of a strut, or point
        Where.
    force : force
        Rearward, and as much upward: resultants of 2 to 4 kN, common practice without a source.
    width : length
        Diameter of the area that it acts on.
    """

    kind: Literal["gravel"] = "gravel"
    at: str | Point = "lip middle"
    force: PositiveForce = 2100.0
    width: PositiveLength = 0.15

    usual_name: ClassVar[str] = "gravel"

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return one case."""
        force = (-float(self.force), 0.0, float(self.force))
        return self._pushed(splitter, self.at, force, Pad(diameter=self.width), duration="instantaneous")


class PushTest(_Handling):
    """A push by hand, to be measured on the car and compared.

    Parameters
    ----------
    name : str, optional
        Of the load case.
    at : "left corner", "right corner", "lip middle", name of a strut, or point
        Where.
    force : force
        Down; 200 to 400 N is usual.
    width : length
        Diameter of the area under the hand.
    """

    kind: Literal["push"] = "push"
    at: str | Point = "lip middle"
    force: PositiveForce = 300.0
    width: PositiveLength = 0.08

    usual_name: ClassVar[str] = "push test"

    def load_cases(self, splitter: Splitter) -> tuple[LoadCase, ...]:
        """Return one case, without weight: what the dial moves by."""
        force = (0.0, 0.0, -float(self.force))
        return self._pushed(splitter, self.at, force, Pad(diameter=self.width), gravity=False)


Handling = Annotated[
    KerbStrike | Standing | Lifting | Shaking | Gravel | PushTest, Field(discriminator="kind")
]
"""A handling case, told apart by ``kind``."""


def usual_handling(splitter: Splitter) -> tuple[Any, ...]:
    """Return the handling cases that are looked at as a rule, with their usual magnitudes (common practice, no source).

    A kerb at the left corner and under the first strut, lifting by a corner, transport and service shaking, gravel
    and a push by hand. A person on the panel is not among them: declare that yourself.

    Parameters
    ----------
    splitter : Splitter
        Its first strut is the one that a kerb hits.
    """
    kerbs = [KerbStrike()]
    if splitter.struts:
        first = splitter.struts[0].sides()[0].name
        kerbs.append(KerbStrike(at=first))
    return (
        *kerbs,
        Lifting(),
        Shaking(name="transport, 3 g"),
        Shaking(name="rough ground, 4 g", acceleration=4.0 * GRAVITY),
        Gravel(),
        PushTest(),
    )


def _short_enough(name: str) -> str:
    if len(name) > LONGEST:
        raise DesignError(
            f"the handling case '{name}' has a name of {len(name)} characters; give it one of its own, of at most "
            f"{LONGEST} with what is added"
        )
    return name


def place_of(
    splitter: Splitter, at: str | Point, pad: Pad, *, name: str = "handling"
) -> tuple[tuple[float, float], str]:
    """Find where a handling case acts, and the words for it.

    Parameters
    ----------
    splitter : Splitter
    at : str or point
        A word or the name of a strut, as near to which the pad lies as it can wholly on the panel; or a point in m.
    pad : Pad
        The area that it acts on; a rectangle has its sides along the axes.
    name : str
        Of the case, for messages.

    Raises
    ------
    DesignError
        If there is no such place, or no room for the pad.
    """
    polygon = splitter.panel.polygon(float(splitter.mesh.chord))
    if not isinstance(at, str):
        x, y = float(at[0]), float(at[1])
        area = curves.polygon(pad.loop((x, y)), 1e-3 * math.sqrt(pad.area))
        if not polygon.buffer(TOUCH, join_style="mitre").covers(area):
            raise DesignError(
                f"the handling case '{name}' acts at {curves.in_mm((x, y))} mm with an area of {_size(pad)}, which is "
                "not wholly on the panel; move it onto the panel or make it smaller"
            )
        return (x, y), f"at x {round(1e3 * x)} y {round(1e3 * y)} mm"
    wanted, word = _wanted(splitter, at, polygon, name)
    room = _room(polygon, pad)
    if room.is_empty:
        raise DesignError(
            f"the handling case '{name}' acts on an area of {_size(pad)}, for which the panel has no room; make it "
            "smaller or leave the case out"
        )
    found = shapely.ops.nearest_points(room, shapely.Point(wanted))[0]
    return (float(found.x), float(found.y)), word


def _size(pad: Pad) -> str:
    if pad.diameter is not None:
        return f"{1e3 * pad.diameter:.4g} mm across"
    return f"{1e3 * float(pad.length or 0.0):.4g} x {1e3 * float(pad.width or 0.0):.4g} mm"


def _room(polygon: Any, pad: Pad) -> Any:
    """Places of a pad's centre at which it is wholly on a polygon (m) and a little off its edge."""
    if pad.diameter is not None:
        return polygon.buffer(-(0.5 * float(pad.diameter) + EDGE))
    half = 0.5 * float(pad.length or 0.0) + EDGE, 0.5 * float(pad.width or 0.0) + EDGE
    frame = polygon.envelope.buffer(2.0 * max(half), join_style="mitre")
    off = shapely.difference(frame, polygon)
    for step in ((half[0], 0.0), (0.0, half[1])):
        off = _swept(off, np.array(step))
    return shapely.difference(polygon, off)


def _swept(area: Any, step: Any) -> Any:
    """Area (m) that an area passes over when it moves from ``-step`` to ``step``."""
    lines = shapely.get_parts(shapely.boundary(area))
    ends = [np.stack([line[:-1], line[1:]], axis=1) for line in map(shapely.get_coordinates, lines)]
    a, b = np.concatenate(ends).transpose(1, 0, 2)
    quads = shapely.polygons(np.stack([a - step, a + step, b + step, b - step], axis=1))
    return shapely.union_all([area, *quads[shapely.area(quads) > 0.0]])


def _wanted(splitter: Splitter, at: str, polygon: Any, name: str) -> tuple[tuple[float, float], str]:
    x0, y0, x1, y1 = polygon.bounds
    if at == "lip middle":
        return (x1, 0.5 * (y0 + y1)), at
    if at in PLACES:
        sign = 1.0 if at == "left corner" else -1.0
        corners = shapely.get_coordinates(polygon)
        # the corner is where the lip is foremost and outermost at once
        score = (corners[:, 0] - x0) / (x1 - x0) + sign * (corners[:, 1] - 0.5 * (y0 + y1)) / (y1 - y0)
        x, y = corners[int(score.argmax())]
        return (float(x), float(y)), at
    struts = {half.name: half for strut in splitter.struts for half in strut.sides()}
    if at in struts:
        x, y = struts[at].foot
        return (float(x), float(y)), f"under {at}"
    known = nearest(at, [*PLACES, *struts])
    raise DesignError(
        f"the handling case '{name}' acts at '{at}', which is neither a place nor a strut; {known}"
    )
