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

from splitterfem.design._following import FollowsGap
from splitterfem.design._record import Record, refuse
from splitterfem.errors import DesignError, UnitError
from splitterfem.units import Dimensionless, Force, Pressure, Quantity, unit_name

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


_FILES = ("file", "lower_file")


class AirMap(Record):
    """What every pressure map is: something told apart by its `kind`."""

    kind: str

    @property
    def files(self) -> tuple[str, ...]:
        """Files that it names, relative to the folder of the design file."""
        return tuple(getattr(self, name) for name in _FILES if getattr(self, name, None) is not None)

    @property
    def by_speed(self) -> bool:
        """Whether its pressures follow the square of the case's speed: coefficients and those with a speed do."""
        coefficients = getattr(self, "quantity", "") == "cp" or getattr(self, "cp", None) is not None
        return coefficients or getattr(self, "reference_speed", None) is not None


class Adjusted(FollowsGap, AirMap):
    """How a map is brought to what is known of the car; the same for every kind.

    Parameters
    ----------
    scale : number
        On the values.
    total_force : force, optional
        Measured downforce of the whole panel, positive down: the map is scaled so that it has this total. In
        place of `scale`.
    total_speed : speed, optional
        At which the total was measured; the air is taken as dense as in the case. Not for a map of pressures
        without a speed, whose total is that of the case.
    left_right : number, optional
        Share of the total on the left half of the panel (y > 0), such as 0.6 in yaw or behind another car; as the
        map has it when left out. The map is multiplied by ``1 + c y / y_max``, with c such that the share is
        exact, and by a number that keeps the total. 60 to 40 is a usual allowance (common practice, no source).
    yaw_factor : number
        On everything, after the total: an allowance for yaw, crosswind and traffic, for which there are no data;
        0.8 and 1.2 are usual bounds (common practice, no source).
    uncertainty : number, optional
        Share by which the total may be off, such as 0.1; low and high totals are printed with it.
    gap_exponent, map_ride_height, map_rake
        How the pressure follows the gap; see `FollowsGap`.
    """

    scale: Dimensionless = 1.0
    total_force: Force | None = None
    total_speed: PositiveSpeed | None = None
    left_right: Annotated[float, Quantity("number", least=0.0)] | None = None
    yaw_factor: Annotated[float, Quantity("number", above=0.0)] = 1.0
    uncertainty: Annotated[float, Quantity("number", least=0.0)] | None = None

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {
        "scale": ("total_force", "total_speed"),
        "total_force": ("scale",),
    }

    @model_validator(mode="after")
    def _one_scale(self) -> Self:
        if self.total_force == 0.0:
            refuse("has a total_force of zero; leave the pressure map out instead")
        if self.total_force is not None and self.scale != 1.0:
            refuse("has scale and total_force; write exactly one of the two")
        if self.total_force is None and self.total_speed is not None:
            refuse("has a total_speed without a total_force; write both or none")
        if self.total_force is not None and self.by_speed != (self.total_speed is not None):
            if self.by_speed:
                refuse('has a total_force but no total_speed; write for example total_speed = "160 km/h"')
            refuse("has a total_speed although its pressures belong to no speed; drop it")
        if self.left_right is not None and self.left_right > 1.0:
            refuse(f"has a left_right of {self.left_right:g}; give the share of the left half, such as 0.6")
        return self


class Measured(AirMap):
    """Values in a file, with their units: what maps from files share.

    Parameters
    ----------
    file : str
        Relative to the folder of the design file.
    quantity : {"cp", "pressure"}
        Whether the values are pressure coefficients or pressures.
    length_unit : str
        Of places.
    pressure_unit : str, optional
        Of the values when they are pressures.
    reference_speed : speed, optional
        Of the air where pressures were measured or computed.
    """

    file: Annotated[str, Field(min_length=1, max_length=400)]
    quantity: Literal["cp", "pressure"]
    length_unit: Annotated[str, _unit_of("length")]
    pressure_unit: Annotated[str, _unit_of("pressure")] | None = None
    reference_speed: PositiveSpeed | None = None

    @field_validator(*_FILES, check_fields=False)
    @classmethod
    def _stays_in_folder(cls, path: str | None, info: ValidationInfo) -> str | None:
        if path is None:
            return None
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


class TapMap(Adjusted, Measured):
    """A map measured or computed at scattered points, in files of comma-separated values.

    The table has columns x, y and one of: a net value (cp or p); values of both faces (cp_upper and cp_lower),
    of which a tap may have one only; a value and a column side with the words upper and lower. Net is upper
    less lower; each face is interpolated between its own taps.

    Parameters
    ----------
    lower_file : str, optional
        Taps of the lower face, when `file` has those of the upper face only.
    **others
        See `Measured` and `Adjusted`.
    """

    kind: Literal["taps"] = "taps"
    lower_file: Annotated[str, Field(min_length=1, max_length=400)] | None = None


class GridMap(Adjusted, Measured):
    """A map on a regular grid, in a file of comma-separated values; bilinear between its stations.

    Either the first row has the y stations and the first column the x stations, or each row has x, y and a
    net value, in any order, and the rows make up a complete grid. Stations need not be evenly spaced.

    Parameters
    ----------
    **all
        See `Measured` and `Adjusted`.
    """

    kind: Literal["grid"] = "grid"


class MeshMap(Adjusted, Measured):
    """A map on a surface mesh with a field for its points or its cells, as flow solvers write it.

    The mesh has the axes of the car: x forward of the front axle, y to the left, z up. Its cells are triangles,
    quadrilaterals or polygons. Cell values are spread without loss, however coarse the cells.

    Parameters
    ----------
    field : str
        Name of the field in the file.
    values : {"net", "surface"}
        Whether each value is the net pressure at its place, or that of the air on the surface of a body: then
        cells that look up push down with p n_z on their area, those that look down push up.
    **others
        See `Measured`, with a file in VTU, VTK, Gmsh MSH or AVS UCD, and `Adjusted`.
    """

    kind: Literal["mesh"] = "mesh"
    field: Annotated[str, Field(min_length=1, max_length=200)]
    values: Literal["net", "surface"]


class UniformMap(Adjusted):
    """The same value all over the panel.

    Parameters
    ----------
    cp : number, optional
        Net pressure coefficient, positive down; exactly one of `cp` and `pressure`.
    pressure : pressure, optional
        Net pressure, positive down.
    **others
        See `Adjusted`.
    """

    kind: Literal["uniform"] = "uniform"
    cp: Dimensionless | None = None
    pressure: Pressure | None = None

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {
        **Adjusted.dropped_by,
        "cp": ("pressure",),
        "pressure": ("cp",),
    }

    @model_validator(mode="after")
    def _one_value(self) -> Self:
        if (self.cp is None) == (self.pressure is None):
            found = "neither cp nor pressure" if self.cp is None else "cp and pressure"
            refuse(f"has {found}; write exactly one of the two")
        return self


class FunctionMap(Adjusted):
    """A Python function of place; it cannot be written to a file.

    Parameters
    ----------
    function : callable
        Takes arrays x, y (m) and returns an array, positive down: coefficients, or pressures in Pa.
    quantity : {"cp", "pressure"}
        What it returns.
    **others
        See `Adjusted`.
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
