"""One layer of a sheet."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, SerializerFunctionWrapHandler, field_serializer

from splitterfem.errors import DesignError
from splitterfem.materials._record import Record, refuse
from splitterfem.materials.ply_materials import is_in_catalogue, ply_material
from splitterfem.materials.sheet import SheetMaterial
from splitterfem.units import Angle, PositiveLength

MOST_PLIES = 500


def ply_by_name(given: Any) -> Any:
    """Look a material up that is given by its name."""
    if not isinstance(given, str):
        return given
    try:
        return ply_material(given)
    except DesignError as problem:
        refuse(str(problem))


class Ply(Record):
    """One layer of a layup.

    Parameters
    ----------
    material : SheetMaterial
        Its moduli in tension count. A name of the catalogue, such as ``"birch veneer"`` or ``"PVC foam 80"``,
        stands for the whole record, in Python and in a file.
    thickness : length
        Of the layer.
    angle : angle
        From the layup's x axis to direction 1, anticlockwise seen from above.
    """

    material: Annotated[
        SheetMaterial, BeforeValidator(ply_by_name, json_schema_input_type=SheetMaterial | str)
    ]
    thickness: PositiveLength
    angle: Angle = 0.0

    @field_serializer("material", mode="wrap", when_used="json")
    def _name_or_record(self, material: SheetMaterial, write: SerializerFunctionWrapHandler) -> Any:
        return material.name if is_in_catalogue(material) else write(material)


def turned_back(ply: Ply) -> Ply:
    """Return a ply with the opposite angle."""
    return ply.model_copy(update={"angle": -ply.angle}) if ply.angle else ply
