"""Pressure maps as plain data: where the air's pressure on the panel comes from.

Positive net pressure pushes down. Reading and interpolation are not here.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    AfterValidator,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_serializer,
    field_validator,
    model_validator,
)

from splitterfem.design._record import Record, refuse
from splitterfem.errors import DesignError, UnitError
from splitterfem.units import Dimensionless, Pressure, Quantity, unit_name

PositiveSpeed = Annotated[float, Quantity("speed", above=0.0)]


def _unit_of(dimension: str) -> AfterValidator:
    def check(text: str) -> str:
        try:
            return unit_name(text, dimension)
        except UnitError as problem:
            refuse(str(problem))

    return AfterValidator(check)


def inside_folder(path: str) -> bool:
    """Tell whether a path as written is relative and stays below the folder that it is relative to."""
    windows = PureWindowsPath(path)
    parts = (*PurePosixPath(path).parts, *windows.parts)
    rooted = PurePosixPath(path).is_absolute() or windows.drive or windows.root or path.startswith("~")
    return not rooted and ".." not in parts and "\\" not in path


class TapMap(Record):
    """A map measured or computed at scattered points, in a file of comma-separated values.

    Parameters
    ----------
    file : str
        With columns x, y and one value; relative to the folder of the design file.
    quantity : {"cp", "pressure"}
        Whether the value is a pressure coefficient or a pressure.
    length_unit : str
        Of x and y.
    pressure_unit : str, optional
        Of the value when it is a pressure.
    reference_speed : speed, optional
        At which a pressure was measured.
    scale : number
        On the value.
    """

    kind: Literal["taps"] = "taps"
    file: Annotated[str, Field(min_length=1, max_length=400)]
    quantity: Literal["cp", "pressure"]
    length_unit: Annotated[str, _unit_of("length")]
    pressure_unit: Annotated[str, _unit_of("pressure")] | None = None
    reference_speed: PositiveSpeed | None = None
    scale: Dimensionless = 1.0

    @field_validator("file")
    @classmethod
    def _stays_in_folder(cls, path: str, info: ValidationInfo) -> str:
        if not path.isprintable():
            refuse("the path of the file has characters that cannot be printed; rename the file")
        if info.context and info.context.get("file") and not inside_folder(path):
            refuse(
                f'"{path[:60]}" leaves the folder of the design file; write a path within it with forward '
                'slashes, such as "taps.csv"'
            )
        return path

    @model_validator(mode="after")
    def _units_fit_quantity(self) -> Self:
        pressure = self.quantity == "pressure"
        for field, example in (("pressure_unit", '"Pa"'), ("reference_speed", '"160 km/h"')):
            there = getattr(self, field) is not None
            if pressure and not there:
                refuse(f"gives a pressure but no {field}; write for example {field} = {example}")
            if there and not pressure:
                refuse(
                    f'gives a {field} although its quantity is "cp"; drop it, or set quantity to "pressure"'
                )
        return self


class UniformMap(Record):
    """The same value all over the panel.

    Parameters
    ----------
    cp : number, optional
        Net pressure coefficient, positive down; exactly one of `cp` and `pressure`.
    pressure : pressure, optional
        Net pressure, positive down.
    """

    kind: Literal["uniform"] = "uniform"
    cp: Dimensionless | None = None
    pressure: Pressure | None = None

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {"cp": ("pressure",), "pressure": ("cp",)}

    @model_validator(mode="after")
    def _one_value(self) -> Self:
        if (self.cp is None) == (self.pressure is None):
            found = "neither cp nor pressure" if self.cp is None else "cp and pressure"
            refuse(f"has {found}; write exactly one of the two")
        return self


class FunctionMap(Record):
    """A Python function of place; it cannot be written to a file.

    Parameters
    ----------
    function : callable
        Takes arrays x, y (m) and returns an array, positive down: coefficients, or pressures in Pa.
    quantity : {"cp", "pressure"}
        What it returns.
    """

    kind: Literal["function"] = "function"
    function: Annotated[Callable[..., Any], WithJsonSchema({"not": {}, "description": "Python only"})]
    quantity: Literal["cp", "pressure"] = "cp"

    @field_validator("function", mode="before")
    @classmethod
    def _only_in_python(cls, given: object, info: ValidationInfo) -> object:
        if info.context and info.context.get("file"):
            refuse("a file cannot hold a function; write the map as taps")
        if not callable(given):
            refuse(f"{given!r:.40} is not a function of x and y; give one that takes two arrays")
        return given

    @field_serializer("function", when_used="json")
    def _not_in_a_file(self, function: object) -> str:
        raise DesignError(
            "a pressure map given as a Python function cannot be written to a file; "
            "write its values to a file of taps and name that"
        )


PressureMap = Annotated[TapMap | UniformMap | FunctionMap, Field(discriminator="kind")]
"""Air on the panel, told apart by ``kind``."""
