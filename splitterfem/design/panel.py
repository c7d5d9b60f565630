"""The panel: its outline, its cut-outs and the sheet it is cut from."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self

from pydantic import ConfigDict, Field, model_validator

from splitterfem import curves, materials
from splitterfem.design._kinds import Cost, SheetChoice
from splitterfem.design._record import Record, refuse
from splitterfem.design.cutout import CutOut
from splitterfem.design.drawing_record import PanelDrawing
from splitterfem.design.outline import CHORD, Outline
from splitterfem.units import Angle, PositiveLength

if TYPE_CHECKING:
    from shapely.geometry import Polygon


class Sheet(Record):
    """The sheet that the panel or a doubler is cut from.

    Parameters
    ----------
    material : str or SheetMaterial or Layup
        A name in the catalogue, or a material of one's own.
    thickness : length
        As measured.
    grain_angle : angle
        From x (forward) towards y (left) to the grain of the face.
    cost_per_area : number, optional
        Of a square metre as bought, in the currency of the splitter.
    """

    material: SheetChoice
    thickness: PositiveLength
    grain_angle: Angle = 0.0
    cost_per_area: Cost | None = None

    @model_validator(mode="after")
    def _thickness_is_that_of_plies(self) -> Self:
        material = self.resolved
        if isinstance(material, materials.Layup) and abs(material.thickness - self.thickness) > 1e-6:
            refuse(
                f"thickness is {1e3 * self.thickness:.6g} mm but the plies of '{material.name}' add up to "
                f"{1e3 * material.thickness:.6g} mm; write that"
            )
        return self

    @property
    def resolved(self) -> materials.SheetMaterial | materials.Layup:
        """The material itself, looked up in the catalogue when given by name."""
        return materials.sheet(self.material) if isinstance(self.material, str) else self.material


class Panel(Record):
    """A flat panel.

    Exactly one of `outline` and `drawing` is given; `outline` is there in any case afterwards.

    Parameters
    ----------
    outline : Outline
        Seen from above.
    drawing : PanelDrawing, optional
        The file that the outline and the openings are read from.
    cutouts : cut-outs
        Openings in it. Beside a drawing that has some, only when its ``openings`` is false.
    sheet : Sheet
        What it is cut from.
    """

    model_config = ConfigDict(
        json_schema_extra={
            "required": ["sheet"],
            "oneOf": [{"required": ["outline"]}, {"required": ["drawing"]}],
        }
    )

    outline: Outline
    drawing: PanelDrawing | None = None
    cutouts: Annotated[tuple[CutOut, ...], Field(max_length=200)] = ()
    sheet: Sheet

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {"outline": ("drawing",), "drawing": ("outline",)}

    @model_validator(mode="wrap")
    @classmethod
    def _drawn_once(cls, data: Any, handler: Any) -> Any:
        if not isinstance(data, dict) or data.get("drawing") is None:
            return handler(data)
        if data.get("outline") is not None:
            refuse("has outline and drawing; write exactly one of the two")
        # the drawing is read by its own class; what it holds is put in afterwards
        made = handler({**data, "outline": Outline.rectangle(0.0, 1.0, 0.0, 1.0)})
        drawing = made.drawing.drawing
        made.__dict__["outline"] = drawing.outline
        made.__pydantic_fields_set__.discard("outline")
        if drawing.cutouts and made.drawing.openings:
            if data.get("cutouts"):
                refuse(
                    f"has cutouts, and its drawing has openings too ({len(drawing.cutouts)}); write all of them "
                    "in one of the two places, or openings = false in the drawing"
                )
            made.__dict__["cutouts"] = drawing.cutouts
            made.__pydantic_fields_set__.discard("cutouts")
        return made

    def with_(self, **changes: object) -> Self:
        """Return the same panel with some fields changed, validated anew.

        A new outline takes the place of a drawing, whose openings stay. New cut-outs take the place of the
        openings of a drawing, whose outline stays.

        Raises
        ------
        DesignError
            An unknown field, or a value that does not fit.
        """
        if self.drawing is not None and "drawing" not in changes:
            if "outline" in changes:
                changes = {"cutouts": self.cutouts, **changes}
            elif "cutouts" in changes:
                changes = {"drawing": self.drawing.without_openings(), **changes}
        return super().with_(**changes)

    def holes(self) -> tuple[tuple[str, curves.Loop], ...]:
        """Return name and loop of every opening, mirrored pairs written out."""
        return tuple(side for cutout in self.cutouts for side in cutout.sides())

    def polygon(self, tolerance: float = CHORD) -> Polygon:
        """Return the outline less the openings (m), within ``tolerance`` (m) of the true curves.

        Raises
        ------
        DesignError
            A loop crosses itself.
        """
        found: Polygon | None = self.kept.get(("polygon", tolerance))
        if found is None:
            import shapely

            whole = self.outline.polygon(tolerance)
            holes = [curves.polygon(loop, tolerance) for _, loop in self.holes()]
            found = shapely.difference(whole, shapely.union_all(holes)) if holes else whole
            self.kept["polygon", tolerance] = found
        return found

    @cached_property
    def kept(self) -> dict[tuple[str, float], Any]:
        """What was found out about the shape, by what it is and within which tolerance (m).

        Designs that differ in their ribs share the panel, and need not look at it again.
        """
        return {}
