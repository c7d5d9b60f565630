"""Utilisation of bolts through the panel and of the lips of rear pockets in a solved load case."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.design import Bolt, Pad, RearPocket
from splitterfem.errors import DesignError
from splitterfem.model.ribs import is_wood
from splitterfem.strength.assess_panel import board_factors
from splitterfem.strength.assess_ribs import embedment, panel_density, sheet_strength
from splitterfem.strength.assess_supports import Acting, acting_on
from splitterfem.strength.fasteners import embedment_strength
from splitterfem.strength.hardware import bolt_class, thread
from splitterfem.strength.metal import (
    SCREW_FACTOR,
    bolt_shear,
    bolt_shear_and_tension,
    sheet_bearing,
    sheet_pull_through,
)
from splitterfem.strength.pocket import lip_bending, lip_line_load, panel_under_lip
from splitterfem.strength.row import Check, Resistance
from splitterfem.strength.struts import thread_tension
from splitterfem.strength.timber import TimberFactors, face_compression, timber_factors
from splitterfem.strength.washers import panel_pull_through, planar_shear_ring, punching, washer_bearing

LINES = 3
"""Lines across the overlap of a rear pocket on which it bears: mouth, middle and end."""


def bolt_rows(solution: Solution) -> list[Check]:
    """Judge every bolt whose diameter is given: panel under its washer, embedment, and its steel."""
    checks = []
    for acting, part in acting_on(solution, "bolt"):
        assert isinstance(part, Bolt)
        if part.diameter is None:
            continue
        up, along = abs(float(acting.force[2])), float(np.hypot(*acting.force[:2]))
        wood = is_wood(solution.model.design.panel.sheet)
        under, beside = (_wood_under, _wood_beside) if wood else (_metal_under, _metal_beside)
        if "z" in part.holds:
            checks += acting.checks(up, "panel under the washer", partial(under, solution, part))
        if set(part.holds) & {"x", "y"}:
            checks += acting.checks(along, "bearing of the bolt", partial(beside, solution, part))
        if part.strength_class is not None:
            checks += _steel(acting, part, up=up, along=along)
    return checks


def washer_diameter(pad: Pad) -> float:
    """Diameter of a round washer, or of the circle that has the area of a rectangular one, m."""
    return float(pad.diameter) if pad.diameter is not None else math.sqrt(4.0 * pad.area / math.pi)


def _connection(solution: Solution) -> TimberFactors:
    settings = solution.model.design.strength
    return timber_factors(settings.service_class, solution.case.duration, member="connection")


def _wood_under(solution: Solution, part: Bolt) -> list[Resistance]:
    design = solution.model.design
    thickness, outer = float(design.panel.sheet.thickness), washer_diameter(part.pad)
    joint, board = _connection(solution), board_factors(design.strength, solution.case.duration)
    f_c90 = face_compression()
    found = [
        joint.design(
            washer_bearing(outer, hole=float(part.diameter or 0.0), f_c90=f_c90.value, basis=f_c90.basis)
        ),
        joint.design(panel_pull_through(outer, thickness=thickness)),
    ]
    strength = sheet_strength(solution)
    if strength is None:
        return found
    planar = [v for v in (strength.planar_shear_along, strength.planar_shear_across) if v is not None]
    if planar:
        ring = planar_shear_ring(outer, thickness=thickness, planar_shear=float(min(planar)))
        found.append(board.design(ring))
    if strength.panel_shear is not None:
        plug = punching(outer, thickness=thickness, panel_shear=float(strength.panel_shear))
        found.append(board.design(plug))
    return found


def _wood_beside(solution: Solution, part: Bolt) -> list[Resistance]:
    d, thickness = float(part.diameter or 0.0), float(solution.model.design.panel.sheet.thickness)
    f_h = embedment_strength(d, panel_density(solution))
    return [_connection(solution).design(embedment(f_h, thickness, d))]


def _metal_under(solution: Solution, part: Bolt) -> list[Resistance]:
    thickness = float(solution.model.design.panel.sheet.thickness)
    return [
        sheet_pull_through(
            washer_diameter(part.pad), thickness=thickness, ultimate_strength=_ultimate(solution)
        )
    ]


def _metal_beside(solution: Solution, part: Bolt) -> list[Resistance]:
    d, thickness = float(part.diameter or 0.0), float(solution.model.design.panel.sheet.thickness)
    found = sheet_bearing(d, edge=2 * d, thickness=thickness, ultimate_strength=_ultimate(solution))
    found = replace(found, note="edge distance of two diameters or more")
    return [found.divided(SCREW_FACTOR, "factor on fasteners in metal")]


def _ultimate(solution: Solution) -> float:
    strength = sheet_strength(solution)
    if strength is None or strength.ultimate_strength is None:
        raise DesignError("the panel's sheet has no ultimate strength; give one.")
    return float(strength.ultimate_strength)


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


def pocket_rows(solution: Solution) -> list[Check]:
    """Judge every rear pocket: the panel's face under a lip, and a lip in bending."""
    checks = []
    for acting, part in acting_on(solution, "rear pocket"):
        assert isinstance(part, RearPocket)
        stretch = float(part.width) * LINES / len(acting.forces)
        if is_wood(solution.model.design.panel.sheet):
            checks.append(_under_lip(acting, part, stretch))
        if part.lip_thickness is not None:
            checks += _lip(acting, part, stretch)
    return checks


def _under_lip(acting: Acting, part: RearPocket, stretch: float) -> Check:
    """Largest line load of a stretch on a quarter of the overlap, the part of it that a line stands for."""
    i = int(np.argmax(np.abs(acting.forces)))
    f_c90 = face_compression()
    limit = panel_under_lip(depth=0.25 * float(part.overlap), f_c90=f_c90.value, basis=f_c90.basis)
    settings, case = acting.solution.model.design.strength, acting.solution.case
    limit = board_factors(settings, case.duration).design(
        replace(
            limit, note=f"{limit.note}; contact over a quarter of the overlap (common practice, no source)"
        )
    )
    return limit.check(
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
