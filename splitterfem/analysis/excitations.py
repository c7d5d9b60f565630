"""What may shake a splitter, and which natural frequencies lie in or near it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import pandas as pd

from splitterfem.design import Splitter

PITCHES = (0.5, 1.0)
"""Usual distances between the ridges of a rumble kerb in m (common practice, no source)."""

SUSPENSION = {"wheel hop": (10.0, 15.0), "car bounce": (4.0, 7.0)}
"""Frequencies of the suspension in Hz (usual figures from memory)."""

NEAR = 0.2
"""A frequency that is off a range by no more than this share of its end is near it (judgement)."""

SPEED_UNITS = {"km/h": 3.6, "mph": 3600.0 / 1609.344}
"""How many of a unit one m/s is; a mile has 1609.344 m (NIST SP 811)."""

MOST_NAMED = 2
"""Excitations that are written out beside a frequency; of the others only the number is said."""


def excitations(speeds: Sequence[float], *, unit: Literal["km/h", "mph"] = "km/h") -> pd.DataFrame:
    """List what may shake a splitter, beside which natural frequencies are to be read.

    Parameters
    ----------
    speeds : sequence of float
        In m/s, over rumble kerbs.
    unit : {"km/h", "mph"}
        In which the speeds are written.

    Returns
    -------
    pandas.DataFrame
        Columns: what, from_Hz, to_Hz, basis.
    """
    rows = [
        {
            "what": f"rumble kerb at {SPEED_UNITS[unit] * speed:.0f} {unit}",
            "from_Hz": speed / PITCHES[1],
            "to_Hz": speed / PITCHES[0],
            "basis": f"ridges {PITCHES[0]:g} to {PITCHES[1]:g} m apart; common practice, no source",
        }
        for speed in speeds
    ]
    rows += [
        {"what": what, "from_Hz": low, "to_Hz": high, "basis": "usual figures, from memory"}
        for what, (low, high) in SUSPENSION.items()
    ]
    return pd.DataFrame(rows)


def design_speeds(splitter: Splitter) -> tuple[float, ...]:
    """Speeds of the load cases of a design in m/s, each once to the nearest km/h, the fastest first."""
    found = {round(3.6 * float(case.speed)): float(case.speed) for case in splitter.all_cases}
    return tuple(sorted((speed for rounded, speed in found.items() if rounded > 0), reverse=True))


def closeness(frequency: float, low: float, high: float) -> Literal["in", "near", ""]:
    """Tell whether a frequency lies in a range, near it by `NEAR`, or neither; all in Hz."""
    if low <= frequency <= high:
        return "in"
    return "near" if low * (1.0 - NEAR) <= frequency <= high * (1.0 + NEAR) else ""


def near_words(frequency: float, table: pd.DataFrame) -> str:
    """Say which excitations a frequency lies in or near; empty when there is none.

    Parameters
    ----------
    frequency : float
        In Hz.
    table : pandas.DataFrame
        As `excitations` makes it.

    Examples
    --------
    >>> near_words(60.0, excitations([210 / 3.6]))
    'in rumble kerb at 210 km/h, 58-117 Hz'
    >>> near_words(60.0, excitations([210 / 3.6, 160 / 3.6]))
    'in rumble kerb at 210 and 160 km/h, 44-117 Hz'
    >>> near_words(16.0, excitations([]))
    'near wheel hop, 10-15 Hz'
    """
    rows = [
        (closeness(frequency, low, high), str(what), float(low), float(high))
        for what, low, high in zip(table["what"], table["from_Hz"], table["to_Hz"], strict=True)
    ]
    inside = [_words(group) for group in _groups([row for row in rows if row[0] == "in"])]
    said = inside + [_words([row]) for row in rows if row[0] == "near"]
    more = len(said) - MOST_NAMED
    return "; ".join(said[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


_Row = tuple[str, str, float, float]
"""How near, what, and its range in Hz."""


def _groups(rows: list[_Row]) -> list[list[_Row]]:
    """Put together what differs by its speed alone; ranges that share a frequency join without a gap."""
    found: dict[str, list[_Row]] = {}
    for row in rows:
        found.setdefault(row[1].rpartition(" at ")[0] or row[1], []).append(row)
    return list(found.values())


def _words(group: list[_Row]) -> str:
    """Write the excitations of a group with their common range."""
    how, what = group[0][:2]
    if len(group) > 1:
        same, _, _ = what.rpartition(" at ")
        *numbers, (last, _, unit) = [name.rpartition(" at ")[2].partition(" ") for _, name, _, _ in group]
        listed = ", ".join(number for number, _, _ in numbers)
        what = f"{same} at {listed} and {last} {unit}"
    return f"{how} {what}, {min(row[2] for row in group):.0f}-{max(row[3] for row in group):.0f} Hz"
