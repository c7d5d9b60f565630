"""Types of pydantic fields that hold quantities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

from pydantic_core import PydanticCustomError, core_schema

from splitterfem.errors import UnitError
from splitterfem.units._table import DIMENSIONS
from splitterfem.units._text import LONGEST, shown
from splitterfem.units._values import Written, read_any, words

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler


_MOST = {"length": 1e3, "angle": 1e3, "speed": 1e4, "acceleration": 1e5}
"""What a field of a design can hold at most, in SI units; it keeps later arithmetic finite."""


_LEAST = 1e-12
"""Smallest value of a quantity that must be above zero, in SI units."""


@dataclass(frozen=True)
class Quantity:
    """Annotation that makes a float field of a pydantic model a quantity.

    In a model a field takes an SI number, a text with a unit, or a pint quantity. With the validation
    context ``{"file": True}`` a bare number is refused, because a file must name its units.

    Attributes
    ----------
    dimension : str
        As in `quantity`.
    least : float, optional
        Smallest allowed value, SI.
    above : float, optional
        The value must be larger than this, SI.
    """

    dimension: str
    least: float | None = None
    above: float | None = None

    def check(self, given: object, info: Any = None) -> float:
        """Read and check one value; raises a pydantic error with one sentence."""
        in_file = bool(info is not None and info.context and info.context.get("file"))
        kind = DIMENSIONS[self.dimension]
        bare = isinstance(given, (int, float)) and not isinstance(given, (bool, Written))
        if in_file and bare and self.dimension != "number":
            fail(f'{given} has no unit; write "{given} {kind.units[0]}"')
        try:
            value = read_any(given, self.dimension)
        except UnitError as problem:
            text = str(problem)
            fail(text.partition(" or a number in SI units")[0] if in_file else text)
        fault = self._fault(value)
        if fault:
            # the words of a plain number are only made here, for they need the unit registry
            fail(f"{shown(given) if isinstance(given, str) else words(value, self.dimension)} {fault}")
        return value

    def _fault(self, value: float) -> str:
        """Say what is wrong with the size of a value; empty when nothing is."""
        too_small = self.above is not None and 0.0 < value < _LEAST
        if too_small or abs(value) > _MOST.get(self.dimension, 1e18):
            return f'is out of all reason; write for example "{DIMENSIONS[self.dimension].example}"'
        if self.above is not None and not value > self.above:
            return f"is not above {self._limit(self.above)}"
        if self.least is not None and not value >= self.least:
            return f"is below {self._limit(self.least)}"
        return ""

    def _limit(self, value: float) -> str:
        return "zero" if value == 0.0 else words(value, self.dimension)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Validate by `check`; write words in JSON mode, the float itself in Python mode."""
        dimension = self.dimension

        def write(value: float) -> object:
            if dimension == "number" and not isinstance(value, Written):
                return float(value)
            return words(value, dimension)

        return core_schema.with_info_plain_validator_function(
            self.check,
            serialization=core_schema.plain_serializer_function_ser_schema(write, when_used="json"),
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the field as a text with a unit."""
        kind = DIMENSIONS[self.dimension]
        if self.dimension == "number":
            return {"type": ["number", "string"], "description": "a plain number or a percentage"}
        return {
            "type": "string",
            "maxLength": LONGEST,
            "description": f"{kind.phrase} with its unit",
            "examples": [kind.example],
        }


def fail(sentence: str) -> NoReturn:
    """Raise a pydantic error whose message is the sentence and nothing else."""
    raise PydanticCustomError("quantity", "{sentence}", {"sentence": sentence})


@dataclass(frozen=True)
class Coordinates:
    """Annotation of a point: turns arrays into tuples and says in one sentence what a point looks like."""

    length: int

    def check(self, given: object) -> object:
        """Return a tuple of the right length; raises a pydantic error with one sentence."""
        to_list = getattr(given, "tolist", None)
        row = to_list() if to_list is not None and not isinstance(given, str) else given
        if not isinstance(row, (list, tuple)) or len(row) != self.length:
            example = ", ".join(['"480 mm"', '"300 mm"', '"120 mm"'][: self.length])
            if isinstance(row, (list, tuple)):
                fail(f"a point has {self.length} coordinates, not {len(row)}; write [{example}]")
            fail(f"{shown(row)} is not a point; write [{example}]")
        return tuple(row)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Check the shape before each coordinate is read."""
        return core_schema.no_info_before_validator_function(self.check, handler(source))


Length = Annotated[float, Quantity("length")]
NonNegativeLength = Annotated[float, Quantity("length", least=0.0)]
PositiveLength = Annotated[float, Quantity("length", above=0.0)]
Angle = Annotated[float, Quantity("angle")]
Speed = Annotated[float, Quantity("speed", least=0.0)]
Density = Annotated[float, Quantity("density", above=0.0)]
ArealDensity = Annotated[float, Quantity("areal density", least=0.0)]
Pressure = Annotated[float, Quantity("pressure")]
PositivePressure = Annotated[float, Quantity("pressure", above=0.0)]
Modulus = Annotated[float, Quantity("modulus", above=0.0)]
Force = Annotated[float, Quantity("force")]
Mass = Annotated[float, Quantity("mass", least=0.0)]
Acceleration = Annotated[float, Quantity("acceleration")]
AreaQ = Annotated[float, Quantity("area", least=0.0)]
PositiveArea = Annotated[float, Quantity("area", above=0.0)]
SecondMoment = Annotated[float, Quantity("second moment")]
SpringRate = Annotated[float, Quantity("spring rate", above=0.0)]
Moment = Annotated[float, Quantity("moment")]
Frequency = Annotated[float, Quantity("frequency", least=0.0)]
Dimensionless = Annotated[float, Quantity("number")]
Point = Annotated[tuple[Length, Length], Coordinates(2)]
Point3 = Annotated[tuple[Length, Length, Length], Coordinates(3)]
