"""Utilisation of rear pockets in a solved load case: the panel under a lip, the lip, and the overlap."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import displacements_at
from splitterfem.design import Part, RearPocket, Strut
from splitterfem.errors import DesignError
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.assess_sheet import Board
from splitterfem.strength.assess_supports import Acting, acting_on
from splitterfem.strength.pocket import (
    Movement,
    lip_bending,
    lip_line_load,
    overlap_check,
    panel_under_lip,
    slope_shortening,
    strut_arc,
)
from splitterfem.strength.row import Check, Resistance, joined
from splitterfem.strength.timber import face_compression

Array = NDArray[np.float64]

LINES = 3
"""Lines across the overlap of a rear pocket on which it bears: mouth, middle and end."""

STATIONS = 81
"""Places at which the panel's motion is looked at along a line."""

LEFT_OUT = "moisture, heat, tolerances and a kerb's throw not in it"


def pocket_rows(solution: Solution) -> list[Check]:
    """Judge every rear pocket: the panel's face under a lip, a lip in bending, and the overlap that is used up."""
    checks, board = [], Board(solution)
    held = _holders(solution)
    for acting, part in acting_on(solution, "rear pocket"):
        assert isinstance(part, RearPocket)
        stretch = float(part.width) * LINES / len(acting.forces)
        if board.wood:
            checks.append(_under_lip(acting, board, part, stretch))
        if part.lip_thickness is not None:
            checks += _lip(acting, part, stretch)
        checks.append(_overlap(acting, part, held))
    return checks


def _under_lip(acting: Acting, board: Board, part: RearPocket, stretch: float) -> Check:
    """Largest line load of a stretch on a quarter of the overlap, the part of it that a line stands for."""
    i = int(np.argmax(np.abs(acting.forces)))
    f_c90 = face_compression()
    limit = panel_under_lip(depth=0.25 * float(part.overlap), f_c90=f_c90.value, basis=f_c90.basis)
    note = joined(limit.note, "contact over a quarter of the overlap (common practice, no source)")
    return board.panel_factors.design(replace(limit, note=note)).check(
        lip_line_load(float(acting.forces[i]), stretch),
        part=part.name,
        kind="rear pocket",
        x=float(acting.support.places[i, 0]),
        y=float(acting.support.places[i, 1]),
        load_factor=acting.load_factor,
    )


def _lip(acting: Acting, part: RearPocket, stretch: float) -> list[Check]:
    """Bending of both lips at their bend: moment of all lines, as the force at the mouth that has the same."""
    reach = float(part.overlap if part.lip_reach is None else part.lip_reach)
    front = float(part.mouth[0])
    arms = np.maximum(reach - (front - acting.support.places[:, 0]), 0.0)
    moments = [
        (np.where(acting.forces * side > 0, np.abs(acting.forces), 0.0) * arms).reshape(LINES, -1).sum(axis=0)
        for side in (1.0, -1.0)
    ]
    line_load = lip_line_load(float(np.max(moments)) / reach, stretch)

    def limit() -> list[Resistance]:
        material = part.resolved
        if material is None or material.yield_strength is None:
            raise DesignError("the lip has no material with a yield strength; give lip_material.")
        found = lip_bending(
            thickness=float(part.lip_thickness or 0.0),
            arm=reach,
            yield_strength=float(material.yield_strength),
            gamma=acting.metal_factor,
        )
        return [replace(found, source=f"{found.source}; {material.source}", basis=material.basis)]

    return acting.checks(line_load, "bending of the lip", limit)


@dataclass(frozen=True, eq=False)
class _Holders:
    """What keeps the panel from sliding forward: x of pins and bolts that hold it there, and struts."""

    fixed: tuple[float, ...]
    struts: tuple[tuple[Acting, Part], ...]

    def reach(self, start: float) -> float | None:
        """Return the x of the fixing nearest to ``start``, else of the farthest strut's foot; None without any."""
        if self.fixed:
            return min(self.fixed, key=lambda x: abs(x - start))
        feet = [float(part.foot[0]) for _, part in self.struts if isinstance(part, Strut)]
        return max(feet, default=None)


def _holders(solution: Solution) -> _Holders:
    fixings = [*acting_on(solution, "bolt"), *acting_on(solution, "pin")]
    fixed = [
        float(acting.support.at[0])
        for acting, _ in fixings
        if np.any(np.abs(acting.support.directions[:, 0]) > 0.5)
    ]
    return _Holders(tuple(fixed), tuple(acting_on(solution, "strut")))


def _overlap(acting: Acting, part: RearPocket, holders: _Holders) -> Check:
    """Overlap that the motion of this case uses up: slide of the panel, its slope, the arc of its struts."""
    x, y = (float(value) for value in acting.support.at[:2])
    moves = [_slide(acting, part)]
    try:
        moves += _slope(acting, part, holders)
        if not holders.fixed:
            moves += _arcs(acting, holders)
    except DesignError as problem:
        return unjudged(part.name, "rear pocket", "overlap", str(problem), unit="m", at=acting.support.at)
    found = overlap_check(float(part.overlap), moves, part=part.name, x=x, y=y)
    loose = (
        "" if holders.fixed else "no pin or bolt keeps it from sliding out: the overlap is no latch, fit one"
    )
    return replace(found, note=joined(found.note, LEFT_OUT, loose))


def _slide(acting: Acting, part: RearPocket) -> Movement:
    """Motion of the panel's edge forward, out of the pocket; the tangent of a strut's arc is in it."""
    width = float(part.width)
    y = float(part.mouth[1]) + width * np.linspace(-0.5, 0.5, 11)
    x = np.full(len(y), float(part.mouth[0]) - 0.5 * float(part.overlap))
    forward = _moved(acting, x, y)[:, 0]
    return Movement("slide", acting.load_factor * float(np.nanmax(forward)), "the solved case", "published")


def _slope(acting: Acting, part: RearPocket, holders: _Holders) -> list[Movement]:
    """Shortening in plan, piece by piece, from the end of the panel in the pocket to what holds it fore and aft."""
    start = float(part.mouth[0]) - float(part.overlap)
    end = holders.reach(start)
    if end is None:
        return []
    x = np.linspace(start, end, STATIONS)
    w = _moved(acting, x, np.full(len(x), float(part.mouth[1])))[:, 2]
    on = np.isfinite(w)
    drops, lengths = acting.load_factor * np.diff(w[on]), np.abs(np.diff(x[on]))
    pieces = [
        slope_shortening(float(drop), float(length)).value
        for drop, length in zip(drops, lengths, strict=True)
        if length > 0.0
    ]
    return [replace(slope_shortening(0.0, 1.0), value=float(sum(pieces)))]


def _arcs(acting: Acting, holders: _Holders) -> list[Movement]:
    """Return what the arc of a strut adds to the slide, which has its tangent already."""
    found = []
    for held, part in holders.struts:
        assert isinstance(part, Strut)
        foot = np.asarray(part.foot, dtype=float)
        drop = -acting.load_factor * float(_moved(acting, foot[:1], foot[1:])[0, 2])
        run, rise = float(part.head[0]) - foot[0], float(part.head[2]) - float(part.bracket_height)
        if abs(run) < 1e-9 or not np.any(held.forces):
            continue  # an upright strut turns with the panel, a slack one does not lead it
        arc = strut_arc(run=run, rise=rise, drop=drop)
        found.append(replace(arc, value=arc.value - drop * rise / run))
    return [max(found, key=lambda one: one.value)] if found else []


def _moved(acting: Acting, x: Array, y: Array) -> Array:
    """Displacements (u, v, w, turns) of the panel at places, (n, 5); nan off the panel."""
    solution = acting.solution
    return displacements_at(solution.model, solution.response.x, np.vstack([x, y]))
