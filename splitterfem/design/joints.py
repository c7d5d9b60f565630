"""How a rib is joined to the panel: an ideal bond, an adhesive, or fasteners at a pitch."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from splitterfem.design._kinds import PositiveForce
from splitterfem.design._record import Name, Record, refuse
from splitterfem.design._sentences import shown
from splitterfem.units import Modulus, PositiveLength, PositivePressure, Quantity, SpringRate

_MOST_ROWS = 20


def _rows(given: object) -> object:
    if isinstance(given, bool) or not isinstance(given, int) or not 1 <= given <= _MOST_ROWS:
        refuse(f"{shown(given)} is not a number of rows; write a whole number from 1 to {_MOST_ROWS}")
    return given


Rows = Annotated[int, BeforeValidator(_rows), Field(json_schema_extra={"minimum": 1, "maximum": _MOST_ROWS})]
"""Number of rows of fasteners side by side."""


class Bond(Record):
    """An ideal bond: the rib's foot and the panel's face move as one, and nothing is checked."""

    kind: Literal["bond"] = "bond"


class Adhesive(Record):
    """A layer of adhesive that gives way in shear by ``G b / t`` for each length of rib.

    Moduli differ a thousandfold between elastic and structural adhesives, and both fall with heat; data
    sheets give figures for metal on metal. On plywood the veneer under the bond fails first as a rule.

    Parameters
    ----------
    thickness : length
        Of the layer.
    shear_modulus : modulus
        Of the cured adhesive at the temperature of use.
    width : length, optional
        Of the layer across the rib; that of the rib's foot when left out.
    strength : pressure, optional
        In shear; when left out, the adhesive is not checked in shear.
    tensile_strength : pressure, optional
        Across the layer, by which peel at the rib's ends is judged; on plywood the veneer alone counts when it
        is left out.
    density : density, optional
        For its mass; not in the bill when left out.
    name : str, optional
        What it is called.
    """

    kind: Literal["adhesive"] = "adhesive"
    thickness: PositiveLength
    shear_modulus: Modulus
    width: PositiveLength | None = None
    strength: PositivePressure | None = None
    tensile_strength: PositivePressure | None = None
    density: Annotated[float, Quantity("density", above=0.0)] | None = None
    name: Name | None = None


class Fasteners(Record):
    """Screws, blind rivets or bolts at a pitch along the rib.

    Parameters
    ----------
    kind : {"screws", "rivets", "bolts"}
        What they are.
    diameter : length
        Of the shank; of a screw over its thread.
    pitch : length
        From one to the next along a row.
    rows : int
        Side by side across the foot.
    slip_modulus : spring rate, optional
        Of one fastener, in place of that of EN 1995-1-1 table 7.1.
    strength : force, optional
        Rating of one fastener in shear, in place of a computed one.
    penetration : length, optional
        How deep a screw's thread goes into the panel; the thickness of the panel when left out.
    """

    kind: Literal["screws", "rivets", "bolts"]
    diameter: PositiveLength
    pitch: PositiveLength
    rows: Rows = 1
    slip_modulus: SpringRate | None = None
    strength: PositiveForce | None = None
    penetration: PositiveLength | None = None

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.pitch <= self.diameter:
            refuse(
                f"a pitch of {1e3 * self.pitch:.6g} mm leaves nothing between {self.kind} of "
                f"{1e3 * self.diameter:.6g} mm; give the distance from one to the next along the rib"
            )
        if self.penetration is not None and self.kind != "screws":
            refuse(f"has a penetration, but {self.kind} go through the panel; leave penetration out")
        return self

    def in_row(self, length: float) -> int:
        """Return how many a length of rib (m) has in a row: its pitches, rounded up."""
        # a length of a whole number of pitches stays one, whatever rounding left of it
        return max(1, math.ceil(length / float(self.pitch) - 1e-6))

    def stations(self, length: float) -> tuple[float, ...]:
        """Return their distances (m) from one end of a length of rib (m).

        They are evenly spread, the first half a step from the end, so that each stands for one step, no longer than the
        pitch.
        """
        count = self.in_row(length)
        return tuple((k + 0.5) * length / count for k in range(count))


Joint = Annotated[Bond | Adhesive | Fasteners, Field(discriminator="kind")]
"""How a rib is joined to the panel, told apart by ``kind``."""
