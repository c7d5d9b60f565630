"""The lists of parts of a splitter: changing one of them, and counting what is in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splitterfem.design._pairs import counted, half_names, swapped
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.cutout import CutOut
    from splitterfem.design.parts import Part
    from splitterfem.design.splitter import Splitter

PART_LISTS = ("doublers", "ribs", "struts", "bolts", "pins", "pockets", "stops")
"""Fields of a splitter that are lists of parts."""


def put(splitter: Splitter, name: str, new: Part | CutOut | None) -> dict[str, object]:
    """Return the field of a splitter that changes when a part or None takes the place of the one of this name.

    Raises
    ------
    DesignError
        If there is no such part.
    """
    if any(cutout.name == name for cutout in splitter.panel.cutouts):
        cutouts = swapped(splitter.panel.cutouts, name, new)
        return {"panel": splitter.panel.with_(cutouts=cutouts)}
    for field in PART_LISTS:
        parts = getattr(splitter, field)
        split = tuple(
            half for part in parts for half in (part.sides() if name in half_names(part) else (part,))
        )
        if any(part.name == name for part in split):
            return {field: swapped(split, name, new)}
    raise DesignError(f"there is no part '{name}'")


def one_line(splitter: Splitter) -> str:
    """Write a line that says what a splitter is made of."""
    x0, y0, x1, y1 = splitter.panel.outline.polygon(splitter.mesh.chord).bounds
    sheet = splitter.panel.sheet
    material = sheet.material if isinstance(sheet.material, str) else sheet.material.name
    counts = {"cut-outs": splitter.panel.holes()} | {
        field: [half for part in getattr(splitter, field) for half in part.sides()] for field in PART_LISTS
    }
    parts = [counted(len(items), what) for what, items in counts.items() if items]
    size = f"{1e3 * (x1 - x0):.0f} x {1e3 * (y1 - y0):.0f} mm"
    return (
        f"Splitter '{splitter.name}': {size}, {1e3 * sheet.thickness:.4g} mm {material}; "
        f"{', '.join([*parts, counted(len(splitter.all_cases), 'load cases')])}"
    )
