"""Pads: the areas over which fixings and pushes act."""

from __future__ import annotations

import math
from typing import Any, Literal, Self

from pydantic import GetJsonSchemaHandler, model_serializer, model_validator
from pydantic_core import core_schema

from splitterfem import curves
from splitterfem.design._record import Record, refuse
from splitterfem.units import Angle, PositiveLength, words


class Pad(Record):
    """The area over which a fixing or a push acts: a washer, the foot of a bracket, a hand.

    A length alone means a round pad of that diameter.

    Parameters
    ----------
    shape : {"round", "rectangle"}
        Round, or a rectangle.
    diameter : length
        Of a round pad.
    length, width : length
        Of a rectangle, along and across its own direction.
    angle : angle
        From x (forward) towards y (left) to the direction of the length.
    """

    shape: Literal["round", "rectangle"] = "round"
    diameter: PositiveLength | None = None
    length: PositiveLength | None = None
    width: PositiveLength | None = None
    angle: Angle = 0.0

    @model_validator(mode="before")
    @classmethod
    def _from_diameter(cls, data: Any) -> Any:
        return data if isinstance(data, (dict, Pad)) else {"diameter": data}

    @model_validator(mode="after")
    def _has_its_sizes(self) -> Self:
        wanted = {"diameter"} if self.shape == "round" else {"length", "width"}
        sizes = ("diameter", "length", "width")
        given = {size for size in sizes if getattr(self, size) is not None}
        if given != wanted:
            refuse(
                f"a {self.shape} pad has {' and '.join(s for s in sizes if s in wanted)}, not "
                f"{' and '.join(s for s in sizes if s in given) or 'no size'}; "
                'write for example "40 mm" or {shape = "rectangle", length = "60 mm", width = "30 mm"}'
            )
        return self

    @model_serializer(mode="wrap", when_used="json")
    def _short(self, handler: Any) -> Any:
        return words(self.diameter, "length") if self.diameter is not None else handler(self)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe both forms: a diameter, or a table."""
        table = handler.resolve_ref_schema(handler(schema))
        return {
            "anyOf": [
                {"type": "string", "description": "diameter of a round pad", "examples": ["40 mm"]},
                table,
            ]
        }

    @property
    def area(self) -> float:
        """Its area (m²)."""
        if self.diameter is not None:
            return 0.25 * math.pi * self.diameter**2
        return float(self.length or 0.0) * float(self.width or 0.0)

    def loop(self, at: tuple[float, float]) -> curves.Loop:
        """Return its edge (m) when its centre is at a point."""
        if self.diameter is not None:
            return curves.circle((float(at[0]), float(at[1])), 0.5 * self.diameter)
        half = 0.5 * float(self.length or 0.0), 0.5 * float(self.width or 0.0)
        c, s = math.cos(self.angle), math.sin(self.angle)
        signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        corners = [(a * half[0], b * half[1]) for a, b in signs]
        return curves.polyline([(at[0] + c * a - s * b, at[1] + s * a + c * b) for a, b in corners])

    def mirrored(self) -> Pad:
        """Return its mirror image about y = 0."""
        return self.with_(angle=-self.angle) if self.angle else self
