"""Doublers: patches of sheet glued on the panel."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict

from splitterfem import materials
from splitterfem.design.areas import SHAPES, NamedArea, mirrored
from splitterfem.design.panel import Sheet
from splitterfem.design.parts import Part


class Doubler(NamedArea, Part):
    """A patch of sheet glued on the panel, as under a fixing or beside an opening.

    It lies wholly on the panel and over no opening; doublers on one face do not overlap.

    Parameters
    ----------
    name : str
        Unique among the parts.
    outline : Outline
        Its edge; exactly one of `outline`, `rectangle` and `circle` is given.
    rectangle : Rectangle, optional
        Short for an outline with four sides.
    circle : Circle, optional
        Short for a round outline.
    sheet : Sheet
        What it is cut from.
    side : {"above", "below"}
        Face of the panel that it sits on.
    mirror : bool
        A pair, left and right. The grain of the second, and the plies of a layup, are the mirror image too.
    cost : number, optional
        Of one, in place of its area times the cost of its sheet.
    """

    sheet: Sheet
    side: Literal["below", "above"] = "above"

    model_config = ConfigDict(
        json_schema_extra={
            "required": ["name", "sheet"],
            "oneOf": [{"required": [shape]} for shape in SHAPES],
        }
    )

    def _image(self) -> dict[str, object]:
        field, shape = self.drawn()
        return {field: mirrored(shape), "sheet": _image_of_sheet(self.sheet)}


def _image_of_sheet(sheet: Sheet) -> Sheet:
    """Return a sheet as seen in a mirror along x: angles change their sign."""
    changed = dict[str, object]()
    if sheet.grain_angle:
        changed["grain_angle"] = -sheet.grain_angle
    layup = sheet.material
    if isinstance(layup, materials.Layup) and any(ply.angle for ply in layup.plies):
        changed["material"] = layup.mirrored()
    return sheet.with_(**changed) if changed else sheet
