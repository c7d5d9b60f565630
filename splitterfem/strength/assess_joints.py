"""Utilisation of the joints between ribs and panel in a solved load case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.jointforces import JointForces, adhesive_width, joint_forces
from splitterfem.analysis.ribforces import corner_distances
from splitterfem.design import Adhesive, Fasteners
from splitterfem.errors import DesignError
from splitterfem.model import ModelRib
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.assess_sheet import Board
from splitterfem.strength.fasteners import embedment_strength, steel_to_timber_shear, yield_moment
from splitterfem.strength.hardware import blind_rivet
from splitterfem.strength.joints import bond_strength, bond_stress
from splitterfem.strength.metal import SCREW_FACTOR, rivet_resistances, sheet_bearing
from splitterfem.strength.peel import CONFINED, SOURCE, peel_strength, peel_stress
from splitterfem.strength.row import Check, Resistance, joined, weakest
from splitterfem.strength.struts import rated

Array = NDArray[np.float64]

PLAIN_STEEL = 400e6
"""Ultimate strength of a screw or bolt of which nothing is known, Pa: the lowest usual class (indicative)."""

PEEL = "peel at the end of the rib"


@dataclass(frozen=True, eq=False)
class _Joint:
    """A joint that slips, and what acts in it."""

    solution: Solution
    rib: ModelRib
    forces: JointForces

    @property
    def part(self) -> str:
        return f"joint of {self.rib.name}"

    @property
    def load(self) -> float:
        return float(self.solution.model.design.strength.load_factor)

    @property
    def board(self) -> Board:
        return Board(self.solution)

    def checks(
        self, demand: float, mode: str, make: Callable[[], list[Resistance]], *, at: Array, unit: str = "N"
    ) -> list[Check]:
        """Set a demand against resistances, or say in one row why they are not known."""
        try:
            limits = make()
        except DesignError as problem:
            load = self.load * abs(demand)
            return [unjudged(self.part, "joint", mode, str(problem), demand=load, unit=unit, at=at)]
        x, y = float(at[0]), float(at[1])
        return [
            r.check(demand, part=self.part, kind="joint", x=x, y=y, load_factor=self.load) for r in limits
        ]


def joint_checks(solution: Solution) -> list[Check]:
    """Judge every joint that slips: shear and peel of an adhesive, the most loaded fastener and its edge distance."""
    checks = []
    for rib in solution.model.ribs:
        if rib.operators.field is None:
            continue
        forces = joint_forces(solution.model, rib, solution.response)
        checks += checks_of_flow(solution, rib, forces)
        if isinstance(rib.design.joint, Fasteners):
            checks += _edges(_Joint(solution, rib, forces), rib.design.joint)
    return checks


def checks_of_flow(solution: Solution, rib: ModelRib, forces: JointForces) -> list[Check]:
    """Judge a joint that slips by its shear flow: all checks but those of distances from edges."""
    joint, acting = rib.design.joint, _Joint(solution, rib, forces)
    checks = []
    if isinstance(joint, Adhesive):
        if joint.strength is not None:
            checks.append(_shear_of_bond(acting, float(joint.strength)))
        if joint.strength is not None or joint.tensile_strength is not None:
            checks += _peel(acting, joint)
    elif isinstance(joint, Fasteners):
        checks += _fasteners(acting, joint)
    return checks


def _shear_of_bond(acting: _Joint, strength: float) -> Check:
    settings, forces, i = acting.solution.model.design.strength, acting.forces, acting.forces.worst
    limit = bond_strength(strength, factor=float(settings.adhesive_factor), on_wood=acting.board.wood)
    limit = replace(
        limit, note=joined("peak along the rib; peel has its own row", limit.note.split("; ")[-1])
    )
    stress = bond_stress(float(forces.flow[i]), width=adhesive_width(acting.rib))
    return acting.checks(stress, limit.mode, lambda: [limit], at=forces.xy[:, i], unit="Pa")[0]


def _peel(acting: _Joint, joint: Adhesive) -> list[Check]:
    """Estimate of the peel at the worse end; of a pulled rib the flow is positive at its start, negative at its end."""
    rib, forces, width = acting.rib, acting.forces, adhesive_width(acting.rib)
    layer = CONFINED * float(joint.shear_modulus) * width / float(joint.thickness)
    ends = [
        peel_stress(
            float(flow) / width,
            arm=rib.properties.z_c,
            layer=layer,
            EI=float(rib.material.E) * rib.properties.I,
        )
        for flow in (forces.flow[0], -forces.flow[-1])
    ]
    worse = int(np.argmax(ends))
    factor = float(acting.solution.model.design.strength.adhesive_factor)

    def limit() -> list[Resistance]:
        tensile = None if joint.tensile_strength is None else float(joint.tensile_strength)
        found = peel_strength(tensile, factor=factor, on_wood=acting.board.wood)
        note = joined(
            "estimate from the shear at the rib's end, on a stiff panel; the rib's own bending at its end not in it",
            "fasten the ends besides",
            found.note,
        )
        basis = weakest(found.basis, "indicative")
        return [replace(found, source=f"{SOURCE}; {found.source}", basis=basis, note=note)]

    return acting.checks(ends[worse], PEEL, limit, at=forces.xy[:, (0, -1)[worse]], unit="Pa")


def _fasteners(acting: _Joint, joint: Fasteners) -> list[Check]:
    stretch, i = acting.forces.over(float(joint.pitch))
    ways: list[Callable[[], list[Resistance]]]
    if joint.strength is not None:
        factor = float(acting.solution.model.design.strength.metal_factor)
        rating = float(joint.strength)
        ways = [lambda: [rated(rating, what=f"shear of one of the {joint.kind}", factor=factor)]]
    else:
        ways = [lambda: [_in_panel(acting, joint)], lambda: _of_metal(acting.rib, joint)]
    mode, at = f"shear of one of the {joint.kind}", acting.forces.xy[:, i]
    return [check for way in ways for check in acting.checks(stretch / joint.rows, mode, way, at=at)]


def _in_panel(acting: _Joint, joint: Fasteners) -> Resistance:
    """Fastener in the panel: the yield modes in wood, bearing in metal."""
    board, d = acting.board, float(joint.diameter)
    if not board.wood:
        places, along = fastener_places(acting.rib, joint)
        edge = board.distance(joint.kind, d, places, along, both_ways=True).actual
        return replace(board.shank(d, edge=edge), mode="bearing in the panel")
    depth = board.thickness if joint.penetration is None else min(float(joint.penetration), board.thickness)
    if joint.kind == "rivets":
        return board.shank(d, depth=depth)
    shear = steel_to_timber_shear(
        embedment_strength(d, board.density),
        thickness=depth,
        diameter=d,
        M_y=yield_moment(d, PLAIN_STEEL),
        plate=acting.rib.properties.foot_thickness,
        fastener="screw" if joint.kind == "screws" else "bolt",
    )
    note = joined(shear.note, f"steel of {PLAIN_STEEL / 1e6:g} MPa assumed")
    shear = replace(shear, basis=weakest(shear.basis, "indicative"), note=note)
    return board.connection.design(shear)


def _of_metal(rib: ModelRib, joint: Fasteners) -> list[Resistance]:
    """Bearing in the rib's foot, and the shear of a rivet of the table."""
    d, ultimate = float(joint.diameter), rib.material.ultimate_strength
    found = []
    if ultimate is not None:
        foot = rib.properties.foot_thickness
        bearing = sheet_bearing(d, edge=2 * d, thickness=foot, ultimate_strength=float(ultimate))
        bearing = replace(
            bearing, mode="bearing in the rib", note="end distance in the rib of two diameters or more"
        )
        found.append(bearing.divided(SCREW_FACTOR, "factor on fasteners in metal"))
    if joint.kind == "rivets":
        found.append(rivet_resistances(blind_rivet(d), factor=SCREW_FACTOR)[0])
    return found


def _edges(acting: _Joint, joint: Fasteners) -> list[Check]:
    places, along = fastener_places(acting.rib, joint)
    return acting.board.distance_checks(
        joint.kind,
        float(joint.diameter),
        places,
        along,
        part=acting.part,
        of="joint",
        both_ways=True,
        note="the first fastener half a step from the rib's end, rows evenly over the foot",
    )


def fastener_places(rib: ModelRib, joint: Fasteners) -> tuple[Array, Array]:
    """Places of a rib's fasteners and the direction of the rib there, (n, 2) each, m.

    Along the rib they stand as on its template, see `Fasteners.stations`; rows are spread evenly over the foot, over
    both strips of a foot that has two.
    """
    corners, points = corner_distances(rib), rib.parts.points
    s = np.array(joint.stations(float(corners[-1])))
    part = np.clip(np.searchsorted(corners, s, side="right") - 1, 0, len(points) - 2)
    step = np.diff(points, axis=0)[part]
    along = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    middle = points[part] + (s - corners[part])[:, None] * along
    left = np.column_stack([-along[:, 1], along[:, 0]])
    feet = rib.properties.feet
    each = -(-joint.rows // len(feet))
    turn = -1.0 if rib.design.flip else 1.0
    offsets = [
        turn * (foot.offset + foot.width * ((k + 0.5) / each - 0.5)) for foot in feet for k in range(each)
    ]
    return np.vstack([middle + offset * left for offset in offsets]), np.tile(along, (len(offsets), 1))
