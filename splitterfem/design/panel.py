"""The panel: its outline, its cut-outs and the sheet it is cut from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self

from pydantic import AfterValidator, ConfigDict, Discriminator, Field, Tag, model_validator

from splitterfem import curves, materials
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.outline import CHORD, Circle, Outline, Rectangle
from splitterfem.errors import DesignError
from splitterfem.units import Angle, PositiveLength

if TYPE_CHECKING:
    from shapely.geometry import Polygon

_SHAPES = ("outline", "rectangle", "circle")


def name_or_table(value: object) -> str:
    """Tell a name in the catalogue from a material written out."""
    return "<name>" if isinstance(value, str) else "<table>"


def _in_catalogue(name: str) -> str:
    try:
        materials.sheet(name)
    except DesignError as problem:
        refuse(str(problem))
    return name


CatalogueName = Annotated[str, AfterValidator(_in_catalogue)]
"""Name of a sheet material in the catalogue."""


class Sheet(Record):
    """The sheet that the panel is cut from.

    Parameters
    ----------
    material : str or SheetMaterial or Layup
        A name in the catalogue, or a material of one's own.
    thickness : length
        As measured.
    grain_angle : angle
        From x (forward) towards y (left) to the grain of the face.
    """

    material: Annotated[
        Annotated[CatalogueName, Tag("<name>")] | Annotated[materials.Sheet, Tag("<table>")],
        Discriminator(name_or_table),
    ]
    thickness: PositiveLength
    grain_angle: Angle = 0.0

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


class CutOut(Record):
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

    name: Name
    outline: Outline
    rectangle: Rectangle | None = None
    circle: Circle | None = None
    mirror: Flag = False

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {
        shape: tuple(other for other in _SHAPES if other != shape) for shape in _SHAPES
    }
    model_config = ConfigDict(
        json_schema_extra={"required": ["name"], "oneOf": [{"required": [shape]} for shape in _SHAPES]}
    )

    @model_validator(mode="wrap")
    @classmethod
    def _one_shape(cls, data: Any, handler: Any, info: Any) -> Any:
        if not isinstance(data, dict):
            return handler(data)
        found = [shape for shape in _SHAPES if data.get(shape) is not None]
        if len(found) != 1:
            what = " and ".join(found) or "no shape"
            refuse(f"has {what}; write exactly one of outline, rectangle and circle")
        if found == ["outline"]:
            return handler(data)
        # the short form is validated by its own class; the long form is put in afterwards
        stand_in = Outline.rectangle(0.0, 1.0, 0.0, 1.0)
        made = handler({**data, "outline": stand_in})
        made.__dict__["outline"] = getattr(made, found[0]).outline()
        made.__pydantic_fields_set__.discard("outline")
        return made

    def shifted(self, dx: float, dy: float) -> CutOut:
        """Return the cut-out moved by ``dx``, ``dy`` (m)."""
        shape = next(name for name in ("rectangle", "circle", "outline") if getattr(self, name) is not None)
        return self.with_(**{shape: getattr(self, shape).shifted(dx, dy)})

    def sides(self) -> tuple[tuple[str, curves.Loop], ...]:
        """Return name and loop of each opening: one, or the left and the right one of a mirrored pair."""
        loop = self.outline.loop()
        if not self.mirror:
            return ((self.name, loop),)
        here, there = (
            ("left", "right") if curves.flatten(loop, CHORD)[:, 1].mean() >= 0.0 else ("right", "left")
        )
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
