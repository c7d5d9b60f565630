"""Utilisation of bolts through the panel in a solved load case: the panel under and beside them, and their steel."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.design import Bolt, Pad
from splitterfem.strength.assess_sheet import Board
from splitterfem.strength.assess_supports import Acting, acting_on
from splitterfem.strength.hardware import bolt_class, thread
from splitterfem.strength.metal import bolt_shear, bolt_shear_and_tension, sheet_pull_through
from splitterfem.strength.row import Check, Resistance
from splitterfem.strength.struts import thread_tension
from splitterfem.strength.timber import face_compression
from splitterfem.strength.washers import panel_pull_through, planar_shear_ring, punching, washer_bearing


def bolt_rows(solution: Solution) -> list[Check]:
    """Judge every bolt whose diameter is given: panel under its washer, embedment, edges, and its steel."""
    checks, board = [], Board(solution)
    for acting, part in acting_on(solution, "bolt"):
        assert isinstance(part, Bolt)
        if part.diameter is None:
            continue
        up, along = abs(float(acting.force[2])), float(np.hypot(*acting.force[:2]))
        if "z" in part.holds:
            under = _wood_under if board.wood else _metal_under
            checks += acting.checks(up, "panel under the washer", partial(under, board, part))
        if set(part.holds) & {"x", "y"}:
            checks += beside(acting, board, float(part.diameter), along)
        if part.strength_class is not None:
            checks += _steel(acting, part, up=up, along=along)
    return checks


def beside(acting: Acting, board: Board, diameter: float, force: float) -> list[Check]:
    """Judge the panel beside a bolt or pin that is pushed along it: bearing, and the distance to the edges.

    Parameters
    ----------
    acting : Acting
    board : Board
    diameter : float
        m.
    force : float
        In the panel's plane, N.
    """
    place, push = acting.support.at[None, :2], acting.force[None, :2]

    def bearing() -> list[Resistance]:
        edge = None if board.wood else board.distance("bolt", diameter, place, push).actual
        return [board.shank(diameter, edge=edge)]

    name, kind = acting.support.name, acting.support.kind
    return [
        *acting.checks(force, f"bearing of the {kind}", bearing),
        *board.distance_checks("bolt", diameter, place, push, part=name, of=kind),
    ]


def washer_diameter(pad: Pad) -> float:
    """Diameter of a round washer, or of the circle that has the area of a rectangular one, m."""
    return float(pad.diameter) if pad.diameter is not None else math.sqrt(4.0 * pad.area / math.pi)


def _wood_under(board: Board, part: Bolt) -> list[Resistance]:
    thickness, outer = board.thickness, washer_diameter(part.pad)
    f_c90 = face_compression()
    bearing = washer_bearing(outer, hole=float(part.diameter or 0.0), f_c90=f_c90.value, basis=f_c90.basis)
    found = [
        board.connection.design(bearing),
        board.connection.design(panel_pull_through(outer, thickness=thickness)),
    ]
    return [*found, *pushed_through(board, outer)]


def pushed_through(board: Board, outer: float) -> list[Resistance]:
    """Plywood around a washer or pad that pushes on it: its first damage and its plug; none without strengths.

    Parameters
    ----------
    board : Board
    outer : float
        Diameter of the washer or pad, m.
    """
    found: list[Resistance] = []
    thickness, strength = board.thickness, board.strength
    if strength is None:
        return found
    planar = [v for v in (strength.planar_shear_along, strength.planar_shear_across) if v is not None]
    if planar:
        ring = planar_shear_ring(
            outer, thickness=thickness, planar_shear=float(min(planar)), basis=board.basis
        )
        found.append(board.design(ring))
    if strength.panel_shear is not None:
        plug = punching(outer, thickness=thickness, panel_shear=float(strength.panel_shear))
        found.append(board.design(plug))
    return found


def _metal_under(board: Board, part: Bolt) -> list[Resistance]:
    outer = washer_diameter(part.pad)
    return [sheet_pull_through(outer, thickness=board.thickness, ultimate_strength=board.ultimate)]


def _steel(acting: Acting, part: Bolt, *, up: float, along: float) -> list[Check]:
    """Steel of a bolt in shear, in tension and in both, with the stress area of the coarse metric thread."""

    def area() -> float:
        return thread(f"M{1e3 * float(part.diameter or 0.0):g}").stress_area

    name = part.strength_class or ""
    shear = acting.checks(along, "shear of the bolt", lambda: [bolt_shear(area(), bolt_class(name))])
    tension = acting.checks(
        up,
        "tension of the bolt",
        lambda: [thread_tension(area(), ultimate_strength=bolt_class(name).ultimate)],
    )
    known = not math.isnan(shear[0].ratio + tension[0].ratio)
    return [*shear, *tension, *([bolt_shear_and_tension(shear[0], tension[0])] if known else [])]
