"""Named areas of the panel, drawn as an outline, a rectangle or a circle."""

from __future__ import annotations

from typing import Any, ClassVar, Self

from pydantic import model_validator

from splitterfem import curves
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.outline import CHORD, Circle, Edge, Outline, Rectangle

SHAPES = ("outline", "rectangle", "circle")


class NamedArea(Record):
    """An area with a name.

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
        shape: tuple(other for other in SHAPES if other != shape) for shape in SHAPES
    }

    @model_validator(mode="wrap")
    @classmethod
    def _one_shape(cls, data: Any, handler: Any, info: Any) -> Any:
        if not isinstance(data, dict):
            return handler(data)
        found = [shape for shape in SHAPES if data.get(shape) is not None]
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

    def drawn(self) -> tuple[str, Outline | Rectangle | Circle]:
        """Return the field that its shape was given in, and the shape."""
        for field in ("rectangle", "circle"):
            shape = getattr(self, field)
            if shape is not None:
                return field, shape
        return "outline", self.outline

    def shifted(self, dx: float, dy: float) -> Self:
        """Return the area moved by ``dx``, ``dy`` (m)."""
        field, shape = self.drawn()
        return self.with_(**{field: shape.shifted(dx, dy)})

    def lateral(self) -> float:
        """Return the mean y of its edge (m)."""
        return float(curves.flatten(self.outline.loop(), CHORD)[:, 1].mean())


def mirrored(shape: Outline | Rectangle | Circle) -> Outline | Rectangle | Circle:
    """Return the mirror image of a shape about y = 0; an outline that is its own image is returned as is."""
    if isinstance(shape, Rectangle):
        return shape.with_(y=(0.0 - shape.y[1], 0.0 - shape.y[0]))
    if isinstance(shape, Circle):
        return shape.with_(centre=flip(shape.centre))
    if shape.mirror:
        return shape
    return shape.with_(start=flip(shape.start), edges=tuple(_edge(edge) for edge in shape.edges))


def _edge(edge: Edge) -> Edge:
    """Return the mirror image of an edge."""
    fields: dict[str, object] = {"to": flip(edge.to)}
    if edge.via is not None:
        fields["via"] = flip(edge.via)
    if edge.through is not None:
        fields["through"] = tuple(flip(point) for point in edge.through)
    return edge.with_(**fields)


def flip(point: tuple[float, ...]) -> tuple[float, ...]:
    """Return the mirror image of a point about y = 0 (m)."""
    return point[0], -point[1] if point[1] else point[1], *point[2:]
