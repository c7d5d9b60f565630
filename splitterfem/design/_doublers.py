"""Findings on doublers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from splitterfem.curves import in_mm
from splitterfem.design import crossing
from splitterfem.design._finding import Finding
from splitterfem.design._ground import Ground, area_of, close_pairs, first_point
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.doublers import Doubler
    from splitterfem.design.splitter import Splitter

_OVERLAP = 1e-9


def doublers(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find doublers that cross themselves, that are not wholly on the panel, and that overlap."""
    sound: list[tuple[Doubler, Doubler, Any]] = []
    for pair in splitter.doublers:
        for half in pair.sides():
            shape = _area(half, float(splitter.mesh.chord))
            if isinstance(shape, Finding):
                yield shape
            elif not ground.holds(shape):
                what, place = ground.where_off(shape)
                text = f"lies {what} at {in_mm(place)} mm; move it, or cut it back to the edge there"
                yield Finding("doubler-off-panel", "error", f"doublers.{pair.name}", place, text)
            else:
                sound.append((pair, half, shape))
                yield from _under_ribs(splitter, half, shape, f"doublers.{pair.name}")
    for a, b in close_pairs([shape for *_, shape in sound], 0.0):
        (pair, one, first), (image, other, second) = sound[a], sound[b]
        shared = first.intersection(second)
        if one.side != other.side or shared.area <= _OVERLAP:
            continue
        place = first_point(shared)
        mend = "keep it clear of the centre plane, or leave mirror out" if pair is image else "move one"
        text = f"overlaps the doubler '{other.name}' at {in_mm(place)} mm; {mend}"
        yield Finding("doublers-overlap", "error", f"doublers.{pair.name}", place, text)


def _under_ribs(splitter: Splitter, doubler: Doubler, shape: Any, path: str) -> Iterator[Finding]:
    """Find ribs on the face of a doubler that run over it."""
    for rib in (half for pair in splitter.ribs if pair.side == doubler.side for half in pair.sides()):
        shared = shape.intersection(crossing.strip(rib, rib.foot_width))
        if shared.area > _OVERLAP:
            place = first_point(shared)
            text = (
                f"lies under the rib '{rib.name}' on the same face at {in_mm(place)} mm and cannot be solved; put one "
                "of them on the other face, or end the doubler beside the rib"
            )
            yield Finding("doubler-under-rib", "warning", path, place, text)


def _area(doubler: Doubler, tolerance: float) -> Any:
    """Return the polygon of a doubler, or what is wrong with its outline."""
    path = f"doublers.{doubler.name}"
    try:
        shape, place = area_of(doubler.outline.loop(), tolerance)
    except DesignError as problem:
        return Finding("curve", "error", "mesh.chord", None, str(problem))
    if place is None:
        return shape
    text = f"crosses or touches itself at {in_mm(place)} mm; let edges meet only at their ends"
    return Finding("doubler-crosses", "error", path, place, text)
