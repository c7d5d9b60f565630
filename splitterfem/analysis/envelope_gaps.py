"""Gaps to the ground and test forces against the limits of an envelope."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.analysis.envelope_rows import EnvelopeCheck, at_least, at_most
from splitterfem.analysis.planform import closed_line, first_of_ties, pair
from splitterfem.analysis.solution import Solution, solve
from splitterfem.curves import in_mm
from splitterfem.design import DeflectionLimit, Envelope, LoadCase, PointForce, Splitter
from splitterfem.errors import DesignError
from splitterfem.model import clearance_datum

Array = NDArray[np.float64]

CLEARANCE = "clearance"
"""Begins the names of all clearance limits."""
STANDING = f"{CLEARANCE}, standing"
LYING = "lies on the ground"
"""Noted where the ground takes part in what was found."""


def gap_checks(
    splitter: Splitter, envelope: Envelope, solutions: Mapping[str, Solution]
) -> Iterator[EnvelopeCheck]:
    """Compare gaps and deflections with each limit that is given; solutions go by the names of their cases.

    Raises
    ------
    DesignError
        If a limit names a load case that does not exist, or a deflection is asked for off the panel.
    """
    limits, tolerance = envelope.clearance, float(envelope.tolerance)
    if limits is not None and limits.static is not None:
        yield _standing(splitter, float(limits.static), tolerance)
    for name, least in loaded_limits(splitter, envelope, solutions).items():
        yield _under_load(name, least, solutions.get(name), tolerance)
    for deflection in envelope.deflections:
        yield _deflection(splitter, deflection, solutions, tolerance)


def loaded_limits(
    splitter: Splitter, envelope: Envelope, solutions: Mapping[str, Solution]
) -> dict[str, float]:
    """Return the smallest gap of every load case that has a limit, its own or the common one (m).

    Raises
    ------
    DesignError
        If a limit names a load case that does not exist.
    """
    limits = envelope.clearance
    if limits is None:
        return {}
    own = {limit.case: float(limit.least) for limit in limits.cases}
    for name in own.keys() - solutions.keys():
        splitter.case(name)
    if limits.loaded is None:
        return own
    names = dict.fromkeys([*(case.name for case in splitter.all_cases), *solutions])
    if not names:
        raise DesignError(
            "The envelope has a clearance under load, but the splitter has no load case; add one, or leave "
            "loaded out."
        )
    return {name: float(limits.loaded) for name in names} | own


def _standing(splitter: Splitter, limit: float, tolerance: float) -> EnvelopeCheck:
    datum = clearance_datum(splitter, LoadCase(name="standing"))
    gaps = [(datum(line[:, 0]) - drop, line, what) for what, line, drop in _low_parts(splitter)]
    least, line, what = min(gaps, key=lambda part: float(part[0].min()))
    i = first_of_ties(-least, line[:, 1])
    return at_least(
        STANDING,
        "smallest gap from the ground to the panel or to ribs and doublers below it, by ride height and rake of "
        "the car at rest; bolt heads and skids do not count",
        limit=limit,
        found=float(least[i]),
        tolerance=tolerance,
        at=pair(line[i]),
        note="" if what == "panel" else f"under {what}",
    )


def _low_parts(splitter: Splitter) -> Iterator[tuple[str, Array, float]]:
    """Name, edge (m) and depth below the panel's lower face (m) of what may come lowest."""
    yield "panel", closed_line(splitter.panel.outline.loop()), 0.0
    for doubler in splitter.doublers:
        for patch in doubler.sides() if doubler.side == "below" else ():
            yield patch.name, closed_line(patch.outline.loop()), float(patch.sheet.thickness)
    for rib in splitter.ribs:
        for half in rib.sides() if rib.side == "below" else ():
            properties = half.section.properties()
            line = shapely.LineString(half.points)
            foot = line.buffer(0.5 * properties.span, cap_style="flat", join_style="mitre")
            yield half.name, shapely.get_coordinates(foot.exterior), properties.height


def _under_load(name: str, limit: float, solution: Solution | None, tolerance: float) -> EnvelopeCheck:
    rule = f"{CLEARANCE}, {name}"
    how = "smallest gap from the ground to the panel or to ribs below it, less the sag of the load case"
    if solution is None:
        return at_least(
            rule,
            how,
            limit=limit,
            found=math.nan,
            tolerance=tolerance,
            note=f"load case '{name}' is not solved",
        )
    gap = solution.clearance
    return at_least(
        rule,
        how,
        limit=limit,
        found=gap.least,
        tolerance=tolerance,
        at=gap.at,
        note="; ".join([*([] if gap.under == "panel" else [f"under {gap.under}"]), *_lying(solution)]),
    )


def _lying(solution: Solution) -> list[str]:
    """Say that the ground carries part of a load case: without it there would be less gap, and more movement."""
    return [LYING] if solution.ground.touches else []


def _deflection(
    splitter: Splitter, limit: DeflectionLimit, solutions: Mapping[str, Solution], tolerance: float
) -> EnvelopeCheck:
    solution = solutions.get(limit.case)
    case = splitter.case(limit.case) if solution is None else solution.case
    at = _gauge(limit, case)
    force = sum(math.hypot(*force.force) for force in case.forces if force.force is not None)
    loads = f"{abs(float(case.factor)) * force:.0f} N" if force else "the pressure"
    return at_most(
        f"deflection, {limit.case}",
        f"movement up or down at x = {1e3 * at[0]:.1f} mm, y = {1e3 * at[1]:.1f} mm when {loads} of the load case "
        "is put on, without what weight and air do",
        limit=float(limit.most),
        found=math.nan if solution is None else abs(_moved(solution, at)),
        tolerance=tolerance if limit.tolerance is None else float(limit.tolerance),
        at=at,
        note=f"load case '{limit.case}' is not solved" if solution is None else "; ".join(_lying(solution)),
    )


def _gauge(limit: DeflectionLimit, case: LoadCase) -> tuple[float, float]:
    """Where the movement is measured (m)."""
    if not case.forces:
        raise DesignError(
            f"The deflection limit names load case '{case.name}', which has no force; give the case the force of "
            "the test."
        )
    if limit.at is not None:
        return float(limit.at[0]), float(limit.at[1])
    points = [force.at for force in case.forces if isinstance(force, PointForce)]
    if len(points) != 1:
        raise DesignError(
            f"The deflection limit for load case '{case.name}' has no point to measure at, and the case has "
            f"{len(points)} point forces; write at."
        )
    return float(points[0][0]), float(points[0][1])


def _moved(solution: Solution, at: tuple[float, float]) -> float:
    """Sag at a point less that without the forces of the case (m)."""
    sag = float(solution.sag_at(*at))
    if math.isnan(sag):
        raise DesignError(
            f"The deflection at {in_mm(at)} mm is asked for off the panel; move the point onto it."
        )
    bare = solution.case.with_(forces=())
    if bare.pressure is None and not bare.gravity and not any(bare.acceleration):
        return sag
    return sag - float(solve(solution.model, bare).sag_at(*at))
