"""Names of mirrored pairs and counts in words, for the splitter as a whole."""

from __future__ import annotations

from typing import Any

from splitterfem.design.cutout import CutOut
from splitterfem.design.parts import Part


def counted(number: int, plural: str) -> str:
    """Return a number with its noun, the plural given."""
    return f"{number} {plural.removesuffix('s') if number == 1 else plural}"


def half_names(part: Part | CutOut) -> tuple[str, ...]:
    """Return the names of both halves of a mirrored pair, nothing for a single part."""
    return (f"{part.name} left", f"{part.name} right") if part.mirror else ()


def swapped(parts: tuple[Any, ...], name: str, new: object) -> tuple[Any, ...]:
    """Return the parts with the one of a name replaced, or taken out for None."""
    changed = tuple(new if part.name == name else part for part in parts)
    return tuple(part for part in changed if part is not None)
