"""What is asked of a splitter besides its load cases: vibration, buckling, and what becomes of it over speed."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design._sentences import shown
from splitterfem.units import Point, Quantity

MOST_MODES = 50
"""Natural frequencies that can be asked for: above these nothing shakes a splitter."""

MOST_BUCKLING = 20
"""Load cases whose buckling factors can be asked for."""

STEPS = (2, 40)
"""Fewest and most speeds of a sweep."""

MOST_SWEEPS = 5


def _count(value: object) -> int:
    """Take a whole number of modes, and nothing that merely looks like one."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_MODES:
        refuse(f"{shown(value)} is not a count; write a whole number from 1 to {MOST_MODES}")
    return value


def _steps(value: object) -> int:
    """Take a whole number of speeds, and nothing that merely looks like one."""
    fewest, most = STEPS
    if isinstance(value, bool) or not isinstance(value, int) or not fewest <= value <= most:
        refuse(f"{shown(value)} is not a number of speeds; write a whole number from {fewest} to {most}")
    return value


_Count = Annotated[int, BeforeValidator(_count)]
_Steps = Annotated[int, BeforeValidator(_steps)]
_PositiveSpeed = Annotated[float, Quantity("speed", above=0.0)]
PositiveMass = Annotated[float, Quantity("mass", above=0.0)]


class AddedMass(Record):
    """Something heavy that is bolted to the panel and vibrates with it.

    Parameters
    ----------
    name : str
        What it is.
    at : point
        Where it sits.
    mass : mass
    """

    name: Name = "added mass"
    at: Point
    mass: PositiveMass


class Vibration(Record):
    """Natural frequencies that are wanted.

    Parameters
    ----------
    modes : int
        How many, the lowest first.
    case : str, optional
        Load case about which the panel vibrates; under its own weight when left out.
    prestress : bool
        Whether the stresses of the case stiffen or soften the panel.
    air_spring : bool
        Whether the pressure of the case follows the gap as the panel moves; asks for a case whose pressure does: by
        the gap law, or by the ``gap_exponent`` of a measured map.
    added : added masses
        What is bolted to the panel and vibrates with it.
    """

    modes: _Count = 6
    case: Name | None = None
    prestress: Flag = False
    air_spring: Flag = False
    added: Annotated[tuple[AddedMass, ...], Field(max_length=50)] = ()

    @model_validator(mode="after")
    def _has_air(self) -> Self:
        if self.air_spring and self.case is None:
            refuse("has air_spring but no case; name the load case whose air it is")
        return self


class SpeedSweep(Record):
    """One load case at several speeds that is wanted.

    Parameters
    ----------
    case : str
        Name of a load case whose pressures follow the speed.
    slowest, fastest : speed
        Of the car, the highest of the cases that it combines.
    steps : int
        Number of speeds, evenly spaced, both ends included.
    divergence : bool
        Whether to find the speed at which the panel first touches the ground as well, and the one at which the air
        overcomes it where the pressure can follow the sag.
    """

    case: Name
    slowest: _PositiveSpeed
    fastest: _PositiveSpeed
    steps: _Steps = 8
    divergence: Flag = True

    @model_validator(mode="after")
    def _rises(self) -> Self:
        if not self.slowest < self.fastest:
            ends = f"{_kmh(self.slowest)} to {_kmh(self.fastest)}"
            refuse(f"goes from {ends}; write a slowest speed that is below the fastest")
        return self

    @property
    def speeds(self) -> tuple[float, ...]:
        """Speeds in m/s, the slowest first."""
        span = float(self.fastest) - float(self.slowest)
        return tuple(float(self.slowest) + span * i / (self.steps - 1) for i in range(self.steps))


def _kmh(speed: float) -> str:
    return f"{3.6 * float(speed):.4g} km/h"


SpeedSweeps = Annotated[tuple[SpeedSweep, ...], Field(max_length=MOST_SWEEPS)]
"""Sweeps over speed that are wanted."""

BucklingCases = Annotated[tuple[Name, ...], Field(max_length=MOST_BUCKLING)]
"""Names of load cases whose buckling factors are wanted."""
