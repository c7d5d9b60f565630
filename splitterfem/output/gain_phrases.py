"""What a rib or a strut gains, in a few words."""

from __future__ import annotations

from splitterfem.analysis.gain import RibGain
from splitterfem.analysis.gain_struts import StrutGain
from splitterfem.analysis.measures import Measure
from splitterfem.output.push_words import at_least_two
from splitterfem.output.style import Scale

SMALLEST = 1e-4
"""Of a gain in the unit of the picture, below which it is nothing."""


def gain_subject(gain: RibGain | StrutGain, what: str) -> str:
    """Say what is gained by what, in which load case."""
    return f"{what}, {gain.measure.name} in load case: {gain.case}"


def better(gain: float, measure: Measure, scale: Scale) -> str:
    """Say by how much a measure gets better, or worse."""
    much = amount(abs(gain), measure, scale)
    return "no change" if much.split()[0] == "0" else f"{much} {way(measure, worse=gain < 0.0)}"


def amount(value: float, measure: Measure, scale: Scale) -> str:
    """Write an amount of a measure with its unit, to two figures; a ratio has none."""
    number = value * factor(measure, scale)
    shown = at_least_two(number) if number >= SMALLEST else "0"
    return f"{shown} {unit_of(measure, scale)}".rstrip()


def unit_of(measure: Measure, scale: Scale) -> str:
    """Return the unit of a measure in a picture; empty for a ratio."""
    return {"length": scale.unit, "frequency": "Hz", "ratio": ""}[measure.kind]


def factor(measure: Measure, scale: Scale) -> float:
    """Return the factor from SI to the unit of a picture."""
    return scale.per_metre if measure.kind == "length" else 1.0


def way(measure: Measure, *, worse: bool = False) -> str:
    """Say which way a measure goes when it gets better, or worse."""
    more, less = ("higher", "lower") if measure.kind == "frequency" else ("more", "less")
    return more if measure.rising != worse else less
