"""Which pressure maps a report shows: each one once, however many load cases share it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase
from splitterfem.design.gap import GapLawMap
from splitterfem.model import AirLoad
from splitterfem.model.air import case_q
from splitterfem.output.air_words import blowing
from splitterfem.output.followed import WITH_SAG, FollowedPressure, followed_pressure

PRESSURE_KEY = (
    "Net pressure on the panel, positive down, with its total and its centre (cross in a ring); the tunnels are not in "
    "it. Dots are places that were measured; what is hatched was not, and takes the value at the map's edge."
)
"""How the pictures are to be read."""

Shown = tuple[str, LoadCase, AirLoad | None, FollowedPressure | None]
"""Title, load case whose map it is, its load where that case was solved by itself, and how it follows the sag."""


def distinct_maps(solutions: Sequence[Solution]) -> list[Shown]:
    """Load cases with pressure maps of their own, and the numbers of the others that have the same map.

    A measured map is the same at every speed; an estimate from the gap depends on how the car stands as well. A uniform
    pressure has nothing to show and is left out.  What follows the sag comes after these, case by case.
    """
    groups: dict[object, list[tuple[int, LoadCase, AirLoad | None]]] = {}
    for number, solution in enumerate(solutions, start=1):
        for part in blowing(solution):
            if part.pressure is not None and part.pressure.kind != "uniform":
                air = None if solution.case.combines else (solution.at_rest or solution).load.air
                groups.setdefault(_key(part), []).append((number, part, air))
    return [*(_shown(group) for group in groups.values()), *_followed(solutions)]


def _followed(solutions: Sequence[Solution]) -> Iterator[Shown]:
    """Pressures of load cases that follow the sag."""
    for number, solution in enumerate(solutions, start=1):
        pressure = followed_pressure(solution)
        if pressure is not None:
            case = solution.case
            yield f"{number}  {case.name}, {WITH_SAG}", case, solution.load.air, pressure


def _key(case: LoadCase) -> object:
    pressure = case.pressure
    if isinstance(pressure, GapLawMap):
        return pressure, case.ride_height, case.rake, case_q(case), float(case.factor)
    return pressure


def _shown(group: list[tuple[int, LoadCase, AirLoad | None]]) -> Shown:
    number, case, air = group[0]
    others = list(dict.fromkeys(str(n) for n, _, _ in group[1:] if n != number))
    also = f"; the same map in {', '.join(others)}" if others else ""
    return f"{number}  {case.name}{also}", case, air, None
