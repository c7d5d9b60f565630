"""The gap law as plain data: what is known of the car when no pressure was measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from splitterfem.design._record import Flag, Record, refuse
from splitterfem.design.pressure import AirMap, FunctionMap, GridMap, MeshMap, TapMap, UniformMap
from splitterfem.units import Dimensionless, Point, PositiveLength, Quantity

_Positive = Annotated[float, Quantity("number", above=0.0)]


def _three(value: object) -> object:
    """Turn one number into three that are the same."""
    return value if isinstance(value, (list, tuple)) else (value, value, value)


_RANGES = {"exit_cp": (-2.0, 0.9), "relief": (0.01, 1.0), "outer_cp": (-1.0, 0.9), "under_cp": (-3.0, 1.0)}
"""Within which the flow model holds, or air can be at all."""

HIGHEST_NOSE = 3.0
"""m."""


def _in_range(name: str, values: Iterable[float]) -> None:
    least, most = _RANGES[name]
    for value in values:
        if not least <= value <= most:
            refuse(f"{name} is {value:g}; write a number from {least:g} to {most:g}")


def _from_low_to_high(name: str, values: Sequence[float], *, sign: float, example: str) -> None:
    """Refuse three numbers whose first does not make the least downforce."""
    if any(sign * (b - a) < 0.0 for a, b in pairwise(values)):
        found = ", ".join(f"{value:g}" for value in values)
        refuse(f"{name} is [{found}]; write first what makes the least downforce, such as {example}")


Three = Annotated[
    tuple[Dimensionless, Dimensionless, Dimensionless],
    BeforeValidator(_three, json_schema_input_type=float | list[float]),
]
"""Low, typical and high, or one number for all."""


class Nose(Record):
    """The bodywork above the panel, ahead of which the air is held up.

    Parameters
    ----------
    line : points
        Where bodywork and panel meet in plan, from side to side; half of it with `mirror`.
    height : length
        Of the nose over the panel.
    under_cp : number or three
        Pressure coefficient on top of the part behind the line: what the bay under the bonnet has.
    mirror : bool
        The line is given for y >= 0 only.
    """

    line: Annotated[tuple[Point, ...], Field(min_length=1, max_length=200)]
    height: PositiveLength
    under_cp: Three = (0.0, 0.0, 0.0)
    mirror: Flag = False

    @model_validator(mode="after")
    def _goes_across(self) -> Self:
        if self.mirror and any(y < 0.0 for _, y in self.line):
            refuse(
                "line is that of the left side with mirror, where y is not negative; change the sign of its y"
            )
        ys = [y for _, y in self.points()]
        if len(ys) < 2 or any(b <= a for a, b in pairwise(ys)):
            refuse("line goes across the car: write its points from one side to the other, each further in y")
        _in_range("under_cp", self.under_cp)
        _from_low_to_high("under_cp", self.under_cp, sign=1.0, example="[-0.1, 0.0, 0.3]")
        if not self.height < HIGHEST_NOSE:
            refuse(f'height is {self.height:g} m; write that of the nose over the panel, such as "450 mm"')
        return self

    def points(self) -> list[tuple[float, float]]:
        """Return the points of the whole line from right to left, m."""
        given = (
            sorted(((float(x), float(y)) for x, y in self.line), key=lambda p: p[1])
            if self.mirror
            else [(float(x), float(y)) for x, y in self.line]
        )
        if not self.mirror:
            return given if given[0][1] <= given[-1][1] else given[::-1]
        return [*((x, -y) for x, y in reversed(given) if y > 0.0), *given]


class GapLawMap(AirMap):
    """An estimate from the gap under the panel: air that runs faster where it is narrower.

    Nothing is measured here, and the totals may be off by half: low, typical and high estimates come with it.

    Parameters
    ----------
    band : {"low", "typical", "high"}
        Which estimate loads the panel.
    exit_cp : three numbers or one
        Low, typical and high estimate by the pressure coefficient where the gap ends, the low one being the least
        negative; it matters more than the ride height.
    relief : three numbers or one
        Low, typical and high share of the suction that the open sides leave.
    lip : {"rounded", "sharp"}
        Rounded means a radius of at least half the thickness.
    outer_cp : number
        Pressure coefficient beside the panel.
    with_fall : bool
        Whether suction falls when the panel is lower than where it peaks; staying at the peak is the careful choice.
    nose : Nose, optional
        Bodywork above the panel; without it nothing acts on the upper side.
    scale : number
        On the result, such as a measured total over the computed one.
    """

    kind: Literal["gap law"] = "gap law"
    band: Literal["low", "typical", "high"] = "typical"
    exit_cp: Three | None = None
    relief: Three | None = None
    lip: Literal["rounded", "sharp"] = "rounded"
    outer_cp: Dimensionless = 0.0
    with_fall: Flag = False
    nose: Nose | None = None
    scale: _Positive = 1.0

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        _in_range("outer_cp", [self.outer_cp])
        if self.exit_cp is not None:
            _in_range("exit_cp", self.exit_cp)
            _from_low_to_high("exit_cp", self.exit_cp, sign=-1.0, example="[-0.1, -0.2, -0.3]")
        if self.relief is not None:
            _in_range("relief", self.relief)
            _from_low_to_high("relief", self.relief, sign=1.0, example="[0.55, 0.7, 0.85]")
        return self

    @property
    def by_speed(self) -> bool:
        """Whether its pressures follow the square of the speed: they do, all but the boundary layer."""
        return True


AdjustedMap = TapMap | GridMap | MeshMap | UniformMap | FunctionMap
"""Maps that are brought to a measured total and the like."""

PressureMap = Annotated[AdjustedMap | GapLawMap, Field(discriminator="kind")]
"""Air on the panel, told apart by ``kind``."""
