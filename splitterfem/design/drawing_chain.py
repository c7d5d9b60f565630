"""Loose curves chained into closed loops, their ends joined where they nearly meet."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.curves import Arc, Curve, Line, Loop, Point
from splitterfem.design.drawing_frame import Notes
from splitterfem.design.drawing_place import Piece, backwards, moved
from splitterfem.errors import DesignError

TOGETHER = 1e-6
"""Ends that are no further apart are one point in different rounding, m."""

_SAME_CURVE = 1e-5
_MOST_TOLD = 12


@dataclass(frozen=True)
class Chain:
    """Curves that follow each other, closed unless they end on the centre plane.

    Parameters
    ----------
    curves : tuple of Line, Arc or Spline
        In order (m, car's axes).
    layer : str
        Of the first of them in the file.
    open : bool
        Both ends lie on y = 0, and the mirror image closes the loop.
    circle : (point, float), optional
        Centre and radius (m) when it is a whole circle.
    """

    curves: Loop
    layer: str
    open: bool = False
    circle: tuple[Point, float] | None = None


def chained(pieces: Sequence[Piece], notes: Notes, *, snap: float, half: bool) -> list[Chain]:
    """Chain curves into closed loops.

    Ends within 1 µm of each other are one point. Of the ends that are left over, two within ``snap`` are
    joined, and the report says where: a straight line gives way to an arc or a spline, otherwise both move
    to the middle.

    Parameters
    ----------
    pieces : sequence of Piece
        In any order and direction.
    notes : Notes
        Takes the report.
    snap : float
        Largest gap that is closed, m.
    half : bool
        Chains may end on y = 0; straight lines along it are the centre line and are left out.

    Returns
    -------
    list of Chain

    Raises
    ------
    FileError
        A loop is open, or more than two ends meet; the place is named as it is in the drawing.
    """
    pieces = _without_centre_line(pieces, notes, snap) if half else list(pieces)
    pieces = _without_doubles(pieces, notes)
    if not pieces:
        raise notes.fault("nothing is left that could be an outline; draw it with lines, arcs and polylines")
    ends = np.array([point for piece in pieces for point in (piece.start, piece.end)])
    mates = _meeting(ends, notes)
    settled = _on_plane(ends, mates, notes, snap) if half else frozenset[int]()
    _snap(ends, mates, settled, notes, snap)
    _refuse_open(ends, mates, settled, notes, snap)
    fitted = _pinned(pieces, ends, mates, settled)
    return _traced(fitted, mates, notes)


def _without_centre_line(pieces: Sequence[Piece], notes: Notes, snap: float) -> list[Piece]:
    """Drop straight lines along y = 0 and cut the pieces that they belong to."""
    found: list[Piece] = []
    dropped = 0
    for piece in pieces:
        run: list[Curve] = []
        for curve in (*piece.curves, None):
            along = isinstance(curve, Line) and max(abs(curve.start[1]), abs(curve.end[1])) <= snap
            if curve is not None and not along:
                run.append(curve)
            elif run:
                whole = len(run) == len(piece.curves)
                found.append(piece if whole else dataclasses.replace(piece, curves=tuple(run), circle=None))
                run = []
            dropped += along
    if dropped:
        what = "1 straight line" if dropped == 1 else f"{dropped} straight lines"
        notes.add(f"Left out, for it is the centre line of a half drawing: {what} along y = 0 of the car.")
    return found


def _without_doubles(pieces: Sequence[Piece], notes: Notes) -> list[Piece]:
    """Drop open pieces that lie on top of another one."""
    from scipy.spatial import cKDTree

    keys = np.array([_key(piece) for piece in pieces]).reshape(-1, 7)
    if len(keys) < 2:
        return list(pieces)
    again = {int(max(pair)) for pair in cKDTree(keys).query_pairs(_SAME_CURVE)}
    again = {i for i in again if math.dist(pieces[i].start, pieces[i].end) > TOGETHER}
    for i in sorted(again)[:_MOST_TOLD]:
        notes.add(f"Drawn twice and taken once: {pieces[i].what} at {notes.frame.say(pieces[i].start)}.")
    if len(again) > _MOST_TOLD:
        notes.add(f"Drawn twice and taken once: {len(again) - _MOST_TOLD} more.")
    return [piece for i, piece in enumerate(pieces) if i not in again]


def _key(piece: Piece) -> list[float]:
    """Return numbers that do not change when a piece is run backwards (m)."""
    (x, y), (u, v) = piece.start, piece.end
    lengths = np.array([curve.length for curve in piece.curves])
    middle = lengths @ np.concatenate([curve.at(0.5) for curve in piece.curves]) / lengths.sum()
    return [0.5 * (x + u), 0.5 * (y + v), abs(x - u), abs(y - v), *middle, float(lengths.sum())]


def _meeting(ends: NDArray[np.float64], notes: Notes) -> dict[int, int]:
    """Pair the ends that are at the same point."""
    mates: dict[int, int] = {}
    for a, b in _near(ends, TOGETHER):
        if a in mates or b in mates:
            raise _crowded(ends[a], notes)
        mates[a], mates[b] = b, a
    return mates


def _near(points: NDArray[np.float64], distance: float) -> list[tuple[int, int]]:
    """Pairs of points within a distance, the nearest first."""
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(distance) if len(points) > 1 else set()
    return sorted(((int(a), int(b)) for a, b in pairs), key=lambda ab: (math.dist(*points[list(ab)]), ab))


def _crowded(place: Sequence[float], notes: Notes) -> Exception:
    return notes.fault(
        f"three or more ends of lines meet at {notes.frame.say(place)}, and a loop has two at each corner; "
        "delete what does not belong to the edge there, or name the layer of the panel"
    )


def _on_plane(ends: NDArray[np.float64], mates: dict[int, int], notes: Notes, snap: float) -> frozenset[int]:
    """Move free ends that are near y = 0 onto it; return them."""
    settled = [i for i in range(len(ends)) if i not in mates and abs(ends[i, 1]) <= snap]
    for i in settled:
        if abs(ends[i, 1]) > TOGETHER:
            notes.add(
                f"The end at {notes.frame.say(ends[i])} was {notes.frame.length(abs(ends[i, 1]))} off the centre "
                "plane and was moved onto it."
            )
        ends[i, 1] = 0.0
    return frozenset(settled)


def _snap(
    ends: NDArray[np.float64], mates: dict[int, int], settled: frozenset[int], notes: Notes, snap: float
) -> None:
    """Pair the free ends that nearly meet."""
    free = [i for i in range(len(ends)) if i not in mates and i not in settled]
    gaps: list[tuple[float, int]] = []
    for m, n in _near(ends[free], snap):
        a, b = free[m], free[n]
        if a in mates or b in mates:
            raise _crowded(ends[a], notes)
        mates[a], mates[b] = b, a
        gaps.append((math.dist(ends[a], ends[b]), a))
    gaps.sort(reverse=True)
    for gap, a in gaps[:_MOST_TOLD]:
        notes.add(
            f"Two ends at {notes.frame.say(ends[a])} were {notes.frame.length(gap)} apart and were joined."
        )
    if len(gaps) > _MOST_TOLD:
        most = notes.frame.length(gaps[_MOST_TOLD][0])
        notes.add(f"{len(gaps) - _MOST_TOLD} more pairs of ends were at most {most} apart and were joined.")


def _refuse_open(
    ends: NDArray[np.float64], mates: dict[int, int], settled: frozenset[int], notes: Notes, snap: float
) -> None:
    """Refuse ends that meet nothing."""
    free = [i for i in range(len(ends)) if i not in mates and i not in settled]
    if not free:
        return
    gaps = np.array([[math.dist(ends[i], ends[j]) if i != j else math.inf for j in free] for i in free[:50]])
    i, j = np.unravel_index(int(np.argmin(gaps)), gaps.shape)
    here, there = ends[free[i]], ends[free[j]]
    say, length = notes.frame.say, notes.frame.length
    others = f" ({len(free)} ends are open)" if len(free) > 2 else ""
    raise notes.fault(
        f"a loop is open by {length(float(gaps[i, j]))} between {say(here)} and {say(there)}{others}; close the "
        f"gap in the drawing, name the layer of the panel, or raise snap above {length(snap)}"
        + (", or name the origin, for the centre plane of a half drawing is y = 0" if settled else "")
    )


def _pinned(
    pieces: Sequence[Piece], ends: NDArray[np.float64], mates: dict[int, int], settled: frozenset[int]
) -> list[Piece]:
    """Move the ends of pieces to where they are joined."""
    kinds = [curve for piece in pieces for curve in (piece.curves[0], piece.curves[-1])]
    found = []
    for i, piece in enumerate(pieces):
        start, end = (
            (float(ends[k, 0]), float(ends[k, 1])) if k in settled else _joint(k, mates[k], ends, kinds)
            for k in (2 * i, 2 * i + 1)
        )
        loop = list(piece.curves)
        if start != loop[0].start:
            loop[0] = moved(loop[0], start=start)
        if end != loop[-1].end:
            loop[-1] = moved(loop[-1], end=end)
        found.append(dataclasses.replace(piece, curves=tuple(loop)))
    return found


def _joint(a: int, b: int, ends: NDArray[np.float64], kinds: Sequence[Curve]) -> Point:
    """Return where two ends are joined: a line gives way, otherwise both meet in the middle."""
    a, b = min(a, b), max(a, b)  # the same point from both sides, to the last bit
    p, q = ends[a], ends[b]
    if math.dist(p, q) <= TOGETHER or isinstance(kinds[b], Line) > isinstance(kinds[a], Line):
        point = p
    elif isinstance(kinds[a], Line) > isinstance(kinds[b], Line):
        point = q
    else:
        point = 0.5 * (p + q)
    return float(point[0]), float(point[1])


def _traced(pieces: Sequence[Piece], mates: dict[int, int], notes: Notes) -> list[Chain]:
    """Run through the pieces from mate to mate; open chains first, from one of their ends."""
    left = set(range(len(pieces)))
    loose = [end for end in range(2 * len(pieces)) if end not in mates]
    chains = []
    for first in (*loose, *range(0, 2 * len(pieces), 2)):
        if first // 2 not in left:
            continue
        members, end = list[int](), first
        while end // 2 in left:
            left.remove(end // 2)
            members.append(end)
            end = mates.get(end ^ 1, end)
        chains.append(_chain(pieces, members, is_open=first not in mates, notes=notes))
    return chains


def _chain(pieces: Sequence[Piece], members: Sequence[int], *, is_open: bool, notes: Notes) -> Chain:
    """Put the pieces of a chain behind each other; a member is the end at which it is entered."""
    loop: list[Curve] = []
    for end in members:
        run = pieces[end // 2].curves
        loop += run if end % 2 == 0 else backwards(run)
    layer = pieces[min(end // 2 for end in members)].layer
    if is_open:
        return Chain(tuple(loop), layer, open=True)
    try:
        closed = curves.joined(loop)
    except DesignError as problem:
        raise notes.fault(f"a loop on layer '{layer}' cannot be closed: {problem}") from None
    exact = pieces[members[0] // 2].circle if len(members) == 1 else None
    return Chain(closed, layer, circle=exact or _circle(closed))


def _circle(loop: Loop) -> tuple[Point, float] | None:
    """Return centre and radius of a loop of arcs that make one circle, or nothing."""
    arcs = [curve for curve in loop if isinstance(curve, Arc)]
    if len(arcs) < len(loop) or abs(abs(math.fsum(arc.sweep for arc in arcs)) - math.tau) > 1e-6:
        return None
    centres = np.array([(*arc.centre, arc.radius) for arc in arcs])
    if np.ptp(centres, axis=0).max() > TOGETHER:
        return None
    x, y, radius = centres.mean(axis=0)
    return (float(x), float(y)), float(radius)
