"""A panel's drawing in a file of its own, as the design names it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    Discriminator,
    Field,
    PrivateAttr,
    Tag,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)

from splitterfem.design._record import Flag, Record, refuse, told
from splitterfem.design.drawing_frame import Drawing
from splitterfem.design.pressure import inside_folder
from splitterfem.errors import DesignError, FileError, UnitError
from splitterfem.units import Length, NonNegativeLength, Point, unit_name

_OF_DXF = ("layer", "snap", "forward", "origin", "mirror")
_OF_TABLE = ("rear", "smooth", "datum", "backward")


def _unit(text: str) -> str:
    try:
        return unit_name(text, "length")
    except UnitError as problem:
        refuse(str(problem))


def _one_or_many(value: object) -> str:
    return "<name>" if isinstance(value, str) else "<list>"


LayerName = Annotated[str, Field(min_length=1, max_length=255)]

Layers = Annotated[
    Annotated[LayerName, Tag("<name>")]
    | Annotated[tuple[LayerName, ...], Field(min_length=1, max_length=50), Tag("<list>")],
    Discriminator(_one_or_many),
]
"""One layer, or several."""


class PanelDrawing(Record):
    """The file that a panel's outline and openings are read from: DXF, or a table of measured offsets.

    The file is read once, when the record is made; the design keeps the reference and not a copy of the
    edges. In a design file the path is relative to its folder and stays within it; in Python it is relative
    to the working directory.

    Parameters
    ----------
    file : str
        Its name ends in ``.dxf`` or ``.csv``.
    unit : str, optional
        Of its numbers, where the file names none.
    layer : str or list of str, optional
        The layers of a DXF file that are read; all that can be seen by default.
    snap : length
        Largest gap in a DXF file that is closed.
    forward : {"+x", "-x", "+y", "-y"}
        Direction in a DXF file in which the car drives.
    origin : point
        Of a DXF file, in its own axes, where the front axle line meets the centre plane.
    mirror : bool
        A DXF file shows one half; tables tell it by their numbers.
    rear : length, optional
        The x of a straight rear edge, for a table without one.
    smooth : bool
        Join the points of a table by smooth curves.
    datum : length
        The x of the line from which the offsets of a table were measured.
    backward : bool
        The offsets of a table were measured towards the rear.
    openings : bool
        Take the openings of the drawing; when false, the panel's own cut-outs take their place.
    """

    file: Annotated[str, Field(min_length=1, max_length=400)]
    unit: Annotated[str, AfterValidator(_unit)] | None = None
    layer: Layers | None = None
    snap: NonNegativeLength = 1e-4
    forward: Literal["+x", "-x", "+y", "-y"] = "+x"
    origin: Point = (0.0, 0.0)
    mirror: Flag = False
    rear: Length | None = None
    smooth: Flag = False
    datum: Length = 0.0
    backward: Flag = False
    openings: Flag = True

    _folder: Path | None = PrivateAttr(default=None)
    _drawing: Drawing | None = PrivateAttr(default=None)

    @field_validator("file")
    @classmethod
    def _stays_in_folder(cls, path: str, info: ValidationInfo) -> str:
        if not path.isprintable():
            refuse("the path of the file has characters that cannot be printed; rename the file")
        if info.context and info.context.get("file") and not inside_folder(path):
            refuse(
                f'"{path[:60]}" leaves the folder of the design file; write a path within it with forward '
                'slashes, such as "panel.dxf"'
            )
        if not path.casefold().endswith((".dxf", ".csv")):
            refuse(f'"{path[:60]}" is neither a .dxf nor a .csv file; name one of them')
        return path

    @model_validator(mode="after")
    def _can_be_read(self, info: ValidationInfo) -> Self:
        if self._drawing is not None:  # validated again as a part of something else
            return self
        kind, strange = (".csv", _OF_DXF) if self.is_table else (".dxf", _OF_TABLE)
        for field in strange:
            if field in self.model_fields_set:
                refuse(f"{field} does not belong to a {kind} file; leave it out")
        self._folder = (info.context or {}).get("folder")
        try:
            self._drawing = self._read()
        except (DesignError, FileError) as problem:
            refuse(str(problem))
        return self

    @property
    def is_table(self) -> bool:
        """Whether the file is a table of offsets."""
        return self.file.casefold().endswith(".csv")

    @property
    def drawing(self) -> Drawing:
        """What the file held when the record was made: outline, openings and report."""
        if self._drawing is None:
            raise DesignError(f"the drawing {self.file} was not read; make the record anew")
        return self._drawing

    def _read(self) -> Drawing:
        """Read the file.

        Raises
        ------
        DesignError
            The path leads out of the folder of the design file.
        FileError
            The file cannot be read or holds no panel.
        """
        from splitterfem.design.drawing import read_dxf, read_offsets

        place = Path(self.file)
        if self._folder is not None:
            place = (self._folder / self.file).resolve()
            if not place.is_relative_to(self._folder.resolve()):
                raise DesignError(
                    f"'{self.file}' leads out of the folder of the design file; copy the file into it"
                )
        names = _OF_TABLE if self.is_table else _OF_DXF
        options: dict[str, Any] = {name: getattr(self, name) for name in names} | {"unit": self.unit}
        return read_offsets(place, **options) if self.is_table else read_dxf(place, **options)

    def with_(self, **changes: object) -> Self:
        """Return the same reference with some fields changed; the file is read anew, in the same folder.

        Raises
        ------
        DesignError
            An unknown field, a value that does not fit, or a file that holds no panel.
        """
        fields = {**self.given(), **changes}
        try:
            return type(self).model_validate(fields, context={"folder": self._folder})
        except ValidationError as problem:
            raise DesignError(told(problem, type(self), fields)) from None

    def without_openings(self) -> Self:
        """Return the same reference for the outline alone; the file is not read again."""
        return self.model_copy(update={"openings": False})

    def __eq__(self, other: object) -> bool:
        """Compare by value; the folder does not count, and what was read is compared with the panel."""
        if not isinstance(other, PanelDrawing):
            return NotImplemented
        return all(getattr(self, field) == getattr(other, field) for field in type(self).model_fields)

    def __hash__(self) -> int:
        """Hash by value; the folder does not count."""
        return hash(tuple(getattr(self, field) for field in type(self).model_fields))
