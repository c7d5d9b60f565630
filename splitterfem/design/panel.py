"""The panel: its outline, its cut-outs and the sheet it is cut from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Self

from pydantic import ConfigDict, Field, model_validator

from splitterfem import curves, materials
from splitterfem.design._kinds import Cost, SheetChoice
from splitterfem.design._record import Record, refuse
from splitterfem.design.areas import SHAPES, NamedArea
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


class CutOut(NamedArea):
    """An opening in the panel.

    Exactly one of `outline`, `rectangle` and `circle` is given; `outline` is there in any case afterwards.

    Parameters
    ----------
    name : str
        Unique among the parts.
    outline : Outline
        Its edge.
    rectangle : Rectangle, optional
        Short for an outline with four sides.
    circle : Circle, optional
        Short for a round outline.
    mirror : bool
        There is a second one, its mirror image about y = 0; the two are "<name> left" and "<name> right".
    """

    model_config = ConfigDict(
        json_schema_extra={"required": ["name"], "oneOf": [{"required": [shape]} for shape in SHAPES]}
    )

    def sides(self) -> tuple[tuple[str, curves.Loop], ...]:
        """Return name and loop of each opening: one, or the left and the right one of a mirrored pair."""
        loop = self.outline.loop()
        if not self.mirror:
            return ((self.name, loop),)
        here, there = ("left", "right") if self.lateral() >= 0.0 else ("right", "left")
        return ((f"{self.name} {here}", loop), (f"{self.name} {there}", curves.mirrored(loop)))


class Panel(Record):
    """A flat panel.

    Parameters
    ----------
    outline : Outline
        Seen from above.
    cutouts : cut-outs
        Openings in it.
    sheet : Sheet
        What it is cut from.
    """

    outline: Outline
    cutouts: Annotated[tuple[CutOut, ...], Field(max_length=200)] = ()
    sheet: Sheet

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
        import shapely

        whole = self.outline.polygon(tolerance)
        holes = [curves.polygon(loop, tolerance) for _, loop in self.holes()]
        return shapely.difference(whole, shapely.union_all(holes)) if holes else whole
