"""Handling and accidents: kerbs, hands, feet, lifting and transport, as load cases with usual magnitudes.

All magnitudes are common practice without a source and every one can be changed. None of them covers a crash, and
lifting the car by the panel is not offered at all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from splitterfem.design._kinds import Note, PositiveForce
from splitterfem.design._places import place_of
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.cases import LoadCase, PointForce
from splitterfem.design.pad import Pad
from splitterfem.errors import DesignError
from splitterfem.units import Acceleration, Point, PositiveLength, Quantity

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter

BASIS = "common practice, no source"
"""What stands behind every magnitude here."""

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2 (CGPM 1901)."""

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


def _short_enough(name: str) -> str:
    if len(name) > LONGEST:
        raise DesignError(
            f"the handling case '{name}' has a name of {len(name)} characters; give it one of its own, of at most "
            f"{LONGEST} with what is added"
        )
    return name
