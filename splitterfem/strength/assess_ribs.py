"""Utilisation of ribs and of their joints in a solved load case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid

from splitterfem.analysis import Solution
from splitterfem.analysis.jointforces import JointForces, adhesive_width, joint_forces
from splitterfem.analysis.ribforces import RibForces, rib_forces
from splitterfem.design import Adhesive, Fasteners
from splitterfem.errors import DesignError
from splitterfem.materials import Layup, SheetStrength
from splitterfem.model import ModelRib
from splitterfem.model.ribs import is_wood
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.fasteners import embedment_strength, steel_to_timber_shear, yield_moment
from splitterfem.strength.hardware import blind_rivet
from splitterfem.strength.joints import bond_strength, bond_stress
from splitterfem.strength.metal import SCREW_FACTOR, rivet_resistances, sheet_bearing
from splitterfem.strength.ribs import fibre_strength, worst_along
from splitterfem.strength.row import Check, Resistance, joined, weakest
from splitterfem.strength.struts import rated
from splitterfem.strength.timber import timber_factors

Array = NDArray[np.float64]

PLAIN_STEEL = 400e6
"""Ultimate strength of a screw or bolt of which nothing is known, Pa: the lowest usual class (indicative)."""


def rib_checks(solution: Solution) -> list[Check]:
    """Stress of the extreme fibre of every rib against its yield strength over the factor on metal.

    The stress of each fibre is averaged over one section height along the rib, which beam theory does not resolve
    (common practice, no source).
    """
    settings = solution.model.design.strength
    checks = []
    for rib in solution.model.ribs:
        forces = rib_forces(solution.model, rib, solution.response.x, extra=solution.response.extra)
        stress = fibre_stress(rib, forces)
        material = rib.material
        if material.yield_strength is None:
            why = f"the material '{material.name}' has no yield strength"
            demand = float(settings.load_factor) * float(np.abs(stress).max())
            mode = "stress of the extreme fibre"
            checks.append(unjudged(rib.name, "rib", mode, why, demand=demand, unit="Pa"))
            continue
        limit = fibre_strength(
            float(material.yield_strength), factor=float(settings.metal_factor), basis=material.basis
        )
        limit = replace(limit, source=material.source)
        x, y = forces.xy
        checks.append(
            worst_along(stress, limit, part=rib.name, x=x, y=y, load_factor=float(settings.load_factor))
        )
    return checks


def fibre_stress(rib: ModelRib, forces: RibForces) -> Array:
    """Stress of the fibre that is stressed most, each averaged over a section height along the rib, Pa."""
    means = np.array([_mean_along(forces.s, fibre, rib.properties.height) for fibre in forces.fibres])
    worst = np.argmax(np.abs(means), axis=0)
    return np.asarray(means[worst, np.arange(means.shape[1])])


def _mean_along(s: Array, values: Array, length: float) -> Array:
    """Mean over a length about each station, over what there is of it at the ends."""
    whole = np.concatenate([[0.0], cumulative_trapezoid(values, s)])
    low, high = np.maximum(s - 0.5 * length, s[0]), np.minimum(s + 0.5 * length, s[-1])
    return np.asarray((np.interp(high, s, whole) - np.interp(low, s, whole)) / (high - low))


def joint_checks(solution: Solution) -> list[Check]:
    """Judge every joint that slips: peak shear of an adhesive, largest force of one fastener."""
    checks = []
    for rib in solution.model.ribs:
        joint = rib.design.joint
        if rib.operators.field is None:
            continue
        forces = joint_forces(solution.model, rib, solution.response)
        if isinstance(joint, Adhesive) and joint.strength is not None:
            checks.append(_adhesive(solution, rib, float(joint.strength), forces))
        elif isinstance(joint, Fasteners):
            checks += _fasteners(solution, rib, joint, forces)
    return checks


def _adhesive(solution: Solution, rib: ModelRib, strength: float, forces: JointForces) -> Check:
    settings, i = solution.model.design.strength, forces.worst
    limit = bond_strength(
        strength,
        factor=float(settings.adhesive_factor),
        on_wood=is_wood(solution.model.design.panel.sheet),
    )
    limit = replace(limit, note=joined("peak along the rib; peel not in it", limit.note.split("; ")[-1]))
    return limit.check(
        bond_stress(float(forces.flow[i]), width=adhesive_width(rib)),
        part=f"joint of {rib.name}",
        kind="joint",
        x=float(forces.xy[0, i]),
        y=float(forces.xy[1, i]),
        load_factor=float(settings.load_factor),
    )


def _fasteners(solution: Solution, rib: ModelRib, joint: Fasteners, forces: JointForces) -> list[Check]:
    stretch, i = forces.over(float(joint.pitch))
    force, part, load = (
        stretch / joint.rows,
        f"joint of {rib.name}",
        float(solution.model.design.strength.load_factor),
    )
    ways: list[Callable[[], list[Resistance]]]
    if joint.strength is not None:
        factor, rating = float(solution.model.design.strength.metal_factor), float(joint.strength)
        ways = [lambda: [rated(rating, what=f"shear of one of the {joint.kind}", factor=factor)]]
    else:
        ways = [lambda: _in_panel(solution, rib, joint), lambda: _of_metal(solution, rib, joint)]
    checks = []
    for way in ways:
        try:
            limits = way()
        except DesignError as problem:
            mode = f"shear of one of the {joint.kind}"
            checks.append(
                unjudged(part, "joint", mode, str(problem), demand=load * force, at=forces.xy[:, i])
            )
            continue
        x, y = float(forces.xy[0, i]), float(forces.xy[1, i])
        checks += [r.check(force, part=part, kind="joint", x=x, y=y, load_factor=load) for r in limits]
    return checks


def _in_panel(solution: Solution, rib: ModelRib, joint: Fasteners) -> list[Resistance]:
    """Fastener in the panel: the yield modes in wood, bearing in metal."""
    sheet, d = solution.model.design.panel.sheet, float(joint.diameter)
    thickness = float(sheet.thickness)
    if not is_wood(sheet):
        strength = sheet_strength(solution)
        ultimate = None if strength is None else strength.ultimate_strength
        if ultimate is None:
            raise DesignError(
                "the panel's sheet has no ultimate strength for bearing; give one, or a rating."
            )
        return [_bearing(d, thickness, float(ultimate), "panel")]
    factors = timber_factors(
        solution.model.design.strength.service_class, solution.case.duration, member="connection"
    )
    f_h = embedment_strength(d, panel_density(solution))
    depth = thickness if joint.penetration is None else min(float(joint.penetration), thickness)
    if joint.kind == "rivets":
        return [factors.design(embedment(f_h, depth, d))]
    shear = steel_to_timber_shear(
        f_h,
        thickness=depth,
        diameter=d,
        M_y=yield_moment(d, PLAIN_STEEL),
        plate=rib.properties.foot_thickness,
        fastener="screw" if joint.kind == "screws" else "bolt",
    )
    note = joined(shear.note, f"steel of {PLAIN_STEEL / 1e6:g} MPa assumed")
    return [factors.design(replace(shear, basis=weakest(shear.basis, "indicative"), note=note))]


def _of_metal(solution: Solution, rib: ModelRib, joint: Fasteners) -> list[Resistance]:
    """Bearing in the rib's foot, and the shear of a rivet of the table."""
    ultimate = rib.material.ultimate_strength
    found = []
    if ultimate is not None:
        foot = rib.properties.foot_thickness
        found.append(_bearing(float(joint.diameter), foot, float(ultimate), "rib"))
    if joint.kind == "rivets":
        found.append(rivet_resistances(blind_rivet(float(joint.diameter)), factor=SCREW_FACTOR)[0])
    return found


def _bearing(diameter: float, thickness: float, ultimate: float, where: str) -> Resistance:
    found = sheet_bearing(diameter, edge=2 * diameter, thickness=thickness, ultimate_strength=ultimate)
    found = replace(found, mode=f"bearing in the {where}", note="edge distance of two diameters or more")
    return found.divided(SCREW_FACTOR, "factor on fasteners in metal")


def embedment(f_h: float, thickness: float, diameter: float) -> Resistance:
    """Characteristic bearing of a shank that stays straight in wood, ``f_h t d``, N."""
    return Resistance(
        "embedment in the panel",
        f_h * thickness * diameter,
        "N",
        "EN 1995-1-1 8.2.3 (c) and 8.36",
        "published",
        "characteristic; the shank held straight at both faces",
    )


def sheet_strength(solution: Solution) -> SheetStrength | None:
    """Strengths of the panel's sheet; None of a layup or where they are not known."""
    material = solution.model.design.panel.sheet.resolved
    return None if isinstance(material, Layup) else material.strength


def panel_density(solution: Solution) -> float:
    """Characteristic density of the panel's board, kg/m3.

    Raises
    ------
    DesignError
        If it is not known.
    """
    material = solution.model.design.panel.sheet.resolved
    density = None if isinstance(material, Layup) else material.density_characteristic
    if density is None:
        raise DesignError(
            f"the sheet '{material.name}' has no characteristic density, by which fasteners in wood are judged; "
            "give one."
        )
    return float(density)
