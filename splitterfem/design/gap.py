"""The gap law as plain data: what is known of the car when no pressure was measured."""

from __future__ import annotations

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
        ys = [y for _, y in self.points()]
        if len(ys) < 2 or any(b <= a for a, b in pairwise(ys)):
            refuse("line goes across the car: write its points from one side to the other, each further in y")
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
        Low, typical and high pressure coefficient where the gap ends; it matters more than the ride height.
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

    @property
    def by_speed(self) -> bool:
        """Whether its pressures follow the square of the speed: they do, all but the boundary layer."""
        return True


AdjustedMap = TapMap | GridMap | MeshMap | UniformMap | FunctionMap
"""Maps that are brought to a measured total and the like."""

PressureMap = Annotated[AdjustedMap | GapLawMap, Field(discriminator="kind")]
"""Air on the panel, told apart by ``kind``."""
