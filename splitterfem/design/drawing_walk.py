"""The entities of a drawing where they appear in plan, those in blocks included."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from splitterfem.design.drawing_frame import Notes, printable
from splitterfem.errors import nearest

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.math import Matrix44

MOST_ENTITIES = 20_000
"""Entities of a drawing, each as often as blocks repeat it."""

DEEPEST = 12
"""Blocks within blocks."""

DRAWN = ("LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE")
"""Types of entities that make edges."""


@dataclass(frozen=True)
class Placed:
    """An entity as it appears in plan.

    Parameters
    ----------
    entity : ezdxf entity
        As stored.
    matrix : Matrix44
        From the coordinates of its block to the car (m).
    layer : str
        On which it appears: that of the insertion for what lies on layer 0 of a block.
    """

    entity: Any
    matrix: Matrix44
    layer: str

    def __str__(self) -> str:
        handle = self.entity.dxf.get("handle")
        name = f"{self.entity.dxftype()}{f' {handle}' if handle else ''}"
        return f"{printable(name, 30)} on layer '{printable(self.layer)}'"


@dataclass
class _Walk:
    """The state of one walk through a drawing."""

    document: Document
    notes: Notes
    wanted: frozenset[str] | None
    visited: int = 0
    left_out: Counter[str] = field(default_factory=Counter)
    hidden: Counter[str] = field(default_factory=Counter)
    other_layers: dict[str, str] = field(default_factory=dict)

    def inside(self, content: Any, matrix: Matrix44, owner: str, path: tuple[str, ...]) -> Iterator[Placed]:
        """Iterate over the entities of a layout or block; ``path`` names the blocks around it."""
        for entity in content:
            self._count()
            own = str(entity.dxf.get("layer", "0"))
            layer = owner if path and own == "0" else own
            if entity.dxftype() == "INSERT":
                yield from self._inserted(entity, matrix, layer, path)
            elif entity.dxftype() not in DRAWN:
                self.left_out[printable(entity.dxftype(), 30)] += 1
            elif self._shows(entity, layer):
                yield Placed(entity, matrix, layer)

    def _count(self, more: int = 1) -> None:
        self.visited += more
        if self.visited > MOST_ENTITIES:
            raise self.notes.fault(
                f"there are more than {MOST_ENTITIES} entities, counted as often as blocks repeat them; save "
                "the outline and the openings in a file of their own"
            )

    def _shows(self, entity: Any, layer: str) -> bool:
        """Tell whether an entity belongs to the panel: visible, or on a layer that was asked for."""
        if self.wanted is not None:
            if layer.casefold() in self.wanted:
                return True
            self.other_layers[layer.casefold()] = layer
            return False
        if not self._is_hidden(layer) and not entity.dxf.get("invisible", 0):
            return True
        self.hidden[layer] += 1
        return False

    def _is_hidden(self, layer: str) -> bool:
        table = self.document.layers
        if layer.casefold() == "defpoints":  # a layer that is never plotted
            return True
        return layer in table and (table.get(layer).is_off() or table.get(layer).is_frozen())

    def _inserted(self, insert: Any, matrix: Matrix44, layer: str, path: tuple[str, ...]) -> Iterator[Placed]:
        """Iterate over what an insertion of a block shows, once for each row and column."""
        name = str(insert.dxf.get("name", ""))
        block = self.document.blocks.get(name)
        if block is None or block.block is None or block.block.is_xref:
            what = "reference to another drawing" if block is not None else "missing block"
            self.left_out[f"INSERT of '{printable(name, 30)}' ({what})"] += 1
            return
        key = name.casefold()
        if key in path:
            raise self.notes.fault(
                f"the block '{printable(name, 30)}' contains itself; save the drawing anew"
            )
        if len(path) >= DEEPEST:
            raise self.notes.fault(
                f"blocks are nested more than {DEEPEST} deep at '{printable(name, 30)}'; explode them in the "
                "drawing"
            )
        self._count(max(1, insert.dxf.get("row_count", 1)) * max(1, insert.dxf.get("column_count", 1)) - 1)
        for one in insert.multi_insert():
            yield from self.inside(block, one.matrix44() * matrix, layer, (*path, key))

    def tell(self) -> None:
        """Put what was left out into the report; refuse a layer that holds nothing."""
        if self.left_out:
            counts = ", ".join(f"{count} {kind}" for kind, count in sorted(self.left_out.items())[:20])
            self.notes.add(f"Left out, for they draw no edges: {counts}.")
        for layer, count in sorted(self.hidden.items())[:20]:
            what = "1 entity" if count == 1 else f"{count} entities"
            self.notes.add(f"Left out, for it cannot be seen: {what} on layer '{printable(layer)}'.")
        if self.other_layers:
            names = ", ".join(f"'{printable(name)}'" for name in sorted(self.other_layers.values())[:20])
            self.notes.add(f"Left out, for it was not asked for: everything on layer {names}.")


def placed_entities(
    document: Document, matrix: Matrix44, notes: Notes, *, layers: Sequence[str] | None
) -> list[Placed]:
    """Return the entities of the model space that draw edges.

    Text, dimensions, hatches and the like are left out and counted in the report, and so is what lies on a
    layer that is off or frozen. References to other drawings are never followed.

    Parameters
    ----------
    document : ezdxf.document.Drawing
        The drawing.
    matrix : Matrix44
        From the drawing to the car (m).
    notes : Notes
        Takes the report.
    layers : sequence of str, optional
        The only layers to read, also when they are hidden; all that can be seen by default.

    Raises
    ------
    FileError
        Too many entities, blocks nested too deeply or within themselves, or nothing on a layer.
    """
    wanted = None if layers is None else frozenset(layer.casefold() for layer in layers)
    walk = _Walk(document, notes, wanted)
    found = list(walk.inside(document.modelspace(), matrix, "0", ()))
    present = {one.layer.casefold() for one in found}
    for layer in layers or ():
        if layer.casefold() not in present:
            known = sorted({*(one.layer for one in found), *walk.other_layers.values()})
            hint = nearest(layer, map(printable, known[:100])) if known else "there are no edges at all"
            raise notes.fault(f"nothing is drawn on a layer '{printable(layer)}'; {hint}")
    walk.tell()
    if not found:
        raise notes.fault(
            "there is nothing that draws an edge; draw the outline in the model space with lines, arcs, "
            "polylines, circles, ellipses or splines on a layer that is on"
        )
    return found
