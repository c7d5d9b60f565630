"""Distances that the drawing of a report writes beside it: from the front axle line and from the centre line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splitterfem.output.plannames import LONGEST_NAME
from splitterfem.output.planview import Bounds
from splitterfem.output.report_places import NEAR, Built, length_words
from splitterfem.output.wording import Words

LONGEST_PAIR = 30
"""Letters of the names of what stands at one distance; the rest is left out."""


@dataclass(frozen=True)
class Mark:
    """A distance to be written beside a drawing.

    Attributes
    ----------
    x, y : float
        In m, the place to which its thin line runs.
    number : str
        The distance, without its unit.
    name : str
        Of what is there.
    """

    x: float
    y: float
    number: str
    name: str


def sides_of(parts: Sequence[Built]) -> tuple[list[Built], list[Built]]:
    """Parts that are dimensioned on the left, and those of the right half without a twin there."""
    left = [part for part in parts if max(y for _, y in part.points) > NEAR or _middle(part)]
    known = {_key(part, 1.0) for part in left}
    right = [part for part in parts if part not in left and _key(part, -1.0) not in known]
    return left, right


def _middle(part: Built) -> bool:
    return all(abs(y) <= NEAR for _, y in part.points)


def _key(part: Built, sign: float) -> tuple[object, ...]:
    """Tell a part from others by its kind and place; with -1 by that of its mirror image."""
    points = [(round(x, 6), round(sign * y, 6) + 0.0) for x, y in part.points]
    if part.area:
        return (part.kind, *(tuple(sorted(values)) for values in zip(*points, strict=True)))
    return (part.kind, *sorted(points))


def _label(part: Built) -> str:
    name = part.name.removesuffix(" left") if part.name != part.pair else part.name
    return _short(name, LONGEST_NAME)


def _short(name: str, longest: int) -> str:
    return name if len(name) <= longest else name[: longest - 1] + "\N{HORIZONTAL ELLIPSIS}"


def marks_along(
    parts: Sequence[Built], words: Words, box: Bounds | None = None, *, left: bool = True
) -> list[Mark]:
    """Distances from the front axle line, least first.

    Parameters
    ----------
    parts : sequence of Built
    words : Words
        Units.
    box : Bounds, optional
        Of the panel, whose edges are marked too.
    left : bool
        Whether the thin lines come from the left.
    """
    found = [mark for part in parts for mark in _lengthways(part, words, left=left)]
    if box is not None:
        middle = 0.5 * (box.left + box.right)
        found += [
            Mark(box.rear, box.left, length_words(box.rear, words), "rear edge"),
            Mark(box.front, middle, length_words(box.front, words), "front edge"),
        ]
    groups: dict[float, list[Mark]] = {}
    for mark in found:
        groups.setdefault(round(mark.x, 6), []).append(mark)
    return [
        _one(group, min(group, key=lambda mark: mark.y if left else -mark.y))
        for _, group in sorted(groups.items())
    ]


def _lengthways(part: Built, words: Words, *, left: bool) -> list[Mark]:
    """Distances from the axle line that place a part; a line runs to the end that it meets first."""
    meets = max if left else min
    edge = meets(y for _, y in part.points)
    found = []
    for x in sorted({round(x, 6) for x, _ in part.points}):
        y = edge if part.area else meets(y for px, y in part.points if abs(px - x) <= NEAR)
        found.append(Mark(x, y, length_words(x, words), _label(part)))
    return found


def marks_across(left: Sequence[Built], right: Sequence[Built], words: Words, box: Bounds) -> list[Mark]:
    """Distances from the centre line, from right to left.

    Parameters
    ----------
    left : sequence of Built
        Marked on the left half.
    right : sequence of Built
        Marked on the right half.
    words : Words
        Units.
    box : Bounds
        Of the panel, whose left edge is marked too.
    """
    widest = 0.5 * (box.rear + box.front)
    found = [Mark(widest, box.left, length_words(abs(box.left), words), "edge")]
    found += [mark for part in left for mark in _sideways(part, words) if mark.y >= -NEAR]
    found += [mark for part in right for mark in _sideways(part, words) if mark.y < NEAR]
    groups: dict[float, list[Mark]] = {}
    for mark in found:
        groups.setdefault(round(mark.y, 6), []).append(mark)
    return [_one(group, min(group, key=lambda mark: mark.x)) for _, group in sorted(groups.items())]


def _sideways(part: Built, words: Words) -> list[Mark]:
    """Distances from the centre line that place a part; a line from ahead runs to the end that it meets first."""
    ahead = max(x for x, _ in part.points)
    found = []
    for y in sorted({round(y, 6) for _, y in part.points}):
        x = ahead if part.area else max(x for x, py in part.points if abs(py - y) <= NEAR)
        found.append(Mark(x, y, length_words(abs(y), words), _label(part)))
    return found


def _one(group: Sequence[Mark], farthest: Mark) -> Mark:
    """Put marks at one distance together: one line to the farthest of them, and two names at most."""
    names = list(dict.fromkeys(mark.name for mark in group))
    name = ", ".join(names) if len(names) < 3 else f"{names[0]} and {len(names) - 1} more"
    return Mark(farthest.x, farthest.y, farthest.number, _short(name, LONGEST_PAIR))
