"""Load cases that combine others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splitterfem.design.cases import LoadCase
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter

SHORTEST_FIRST = ("instantaneous", "short", "medium", "long", "permanent")
"""Load-duration classes of EN 1995-1-1 table 2.1."""


def parts_of(case: LoadCase, splitter: Splitter) -> list[tuple[LoadCase, float]]:
    """Return the cases that a case combines, with their factors; those with a factor of zero do not act.

    Raises
    ------
    DesignError
        If one of them is not there, or is a combination itself.
    """
    found = [(splitter.case(part.case), float(part.factor)) for part in case.combines]
    for part, _ in found:
        if part.combines:
            raise DesignError(
                f"Load case '{case.name}' combines '{part.name}', which is a combination itself: name the cases that "
                "it combines."
            )
    return [(part, factor) for part, factor in found if factor]


def settled(case: LoadCase, splitter: Splitter) -> LoadCase:
    """Return a case with what it leaves to the cases that it combines.

    Ride height and rake are those of the case that stands lowest at the front axle, of several the one with its nose
    lowest; the speed is the highest, the duration the shortest one (EN 1995-1-1 3.1.3 (2)), and joints lost in any of
    them are lost.  Where one of them stands over ground, deflects far or has pressure that follows the sag, so does
    the combination.

    Raises
    ------
    DesignError
        If one of the cases is not there, or is a combination itself.
    """
    cases = [other for other, _ in parts_of(case, splitter)]
    if not cases:
        return case
    car, given = splitter.car, case.model_fields_set
    stands = [
        (
            float(car.ride_height if c.ride_height is None else c.ride_height),
            float(car.rake if c.rake is None else c.rake),
        )
        for c in cases
    ]
    height, rake = min(stands, key=lambda stand: (stand[0], -stand[1]))
    changes: dict[str, object] = {
        "unbonded": tuple(dict.fromkeys([*case.unbonded, *(n for c in cases for n in c.unbonded)]))
    }
    for name in ("ground", "large_deflection", "sag_feedback"):
        if name not in given:
            changes[name] = any(getattr(c, name) for c in cases)
    if case.ride_height is None:
        changes["ride_height"] = height
    if case.rake is None:
        changes["rake"] = rake
    if "duration" not in given:
        changes["duration"] = min((c.duration for c in cases), key=SHORTEST_FIRST.index)
    if case.speed == 0.0:
        changes["speed"] = max(float(c.speed) for c in cases)
    return case.with_(**changes)
