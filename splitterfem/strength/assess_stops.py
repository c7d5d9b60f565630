"""Utilisation of the panel at stops in a solved load case: its face under their pads, and the sheet around them.

What a stop is made of and fixed to is not judged: a design does not describe it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from splitterfem.analysis import Solution
from splitterfem.design import Pad, Stop
from splitterfem.errors import DesignError
from splitterfem.materials import Layup
from splitterfem.strength.assess_fixings import pushed_through, washer_diameter
from splitterfem.strength.assess_sheet import Board
from splitterfem.strength.assess_supports import acting_on
from splitterfem.strength.metal import sheet_pull_through
from splitterfem.strength.pads import pad_bearing
from splitterfem.strength.row import Check, Resistance, joined
from splitterfem.strength.timber import face_compression

LEFT_OUT = "pressure even over the pad; a blow is not in it"


def stop_rows(solution: Solution) -> list[Check]:
    """Judge the panel at every stop, touched or not: bearing, planar shear and punching in wood, punching in metal."""
    checks, board = [], Board(solution)
    under = _wood_under if board.wood else _metal_under
    for acting, part in acting_on(solution, "stop"):
        assert isinstance(part, Stop)
        push = float(acting.force[2])
        checks += acting.checks(push, "panel under the pad", partial(under, board, part.pad))
    return checks


def _wood_under(board: Board, pad: Pad) -> list[Resistance]:
    f_c90 = face_compression()
    bearing = board.panel_factors.design(pad_bearing(pad.area, f_c90=f_c90.value, basis=f_c90.basis))
    around = pushed_through(board, washer_diameter(pad))
    named = [replace(limit, mode=limit.mode.replace("washer", "pad")) for limit in around]
    return [replace(limit, note=joined(limit.note, LEFT_OUT)) for limit in (bearing, *named)]


def _metal_under(board: Board, pad: Pad) -> list[Resistance]:
    sheet = board.solution.model.design.panel.sheet.resolved
    if isinstance(sheet, Layup):
        raise DesignError(
            f"the sheet '{sheet.name}' is a layup: a test tells what its faces and its core bear under a pad."
        )
    punched = sheet_pull_through(
        washer_diameter(pad), thickness=board.thickness, ultimate_strength=board.ultimate
    )
    return [replace(punched, mode="punching through the sheet", note=joined(punched.note, LEFT_OUT))]
