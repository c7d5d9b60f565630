"""Tunnels behind cut-outs, as plain data."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, model_validator

from splitterfem.design._record import Record, refuse
from splitterfem.units import Dimensionless, Force, PositiveLength, Quantity

EDGES = ("front", "rear", "left", "right")

_Share = Annotated[float, Quantity("number", above=0.0)]
_PositiveSpeed = Annotated[float, Quantity("speed", above=0.0)]


def _edges(value: object) -> object:
    """Turn ``"front"`` or ``["front", "rear"]`` into a tuple in the order of `EDGES`."""
    names = [value] if isinstance(value, str) else list(value) if isinstance(value, (list, tuple)) else []
    if not names or any(name not in EDGES for name in names) or len(set(names)) < len(names):
        refuse(
            'fastened names edges of the opening once each; write some of "front", "rear", "left", "right"'
        )
    return tuple(edge for edge in EDGES if edge in names)


class Tunnel(Record):
    """The ramp behind an opening, and where its downforce goes.

    Its suction is estimated from its shape (an effectiveness on the ideal recovery), or given as a measured force.

    Parameters
    ----------
    rise : length
        Height of its roof over the panel's lower face at its rear end.
    length : length, optional
        From the front rim of the opening aft; that of the opening when left out.
    exit_cp : number
        Pressure coefficient at its rear end: -0.15 to -0.3 is usual.
    recovery : number
        Share of the ideal pressure recovery, 0.5 to 0.8 (from memory).
    above_cp : number
        Pressure coefficient on top of the ramp.
    carried_by : {"rim", "chassis"}
        Whether it hangs on the rim of the opening, to which its load then returns, or on the car.
    fastened : edges
        Parts of the rim that it is fastened to: some of "front", "rear", "left", "right".
    force : force, optional
        Measured downforce, in place of the estimate.
    force_speed : speed, optional
        At which it was measured; needed with `force`.
    """

    rise: PositiveLength
    length: PositiveLength | None = None
    exit_cp: Dimensionless = -0.2
    recovery: _Share = 0.65
    above_cp: Dimensionless = 0.0
    carried_by: Literal["rim", "chassis"] = "rim"
    fastened: Annotated[tuple[str, ...], BeforeValidator(_edges, json_schema_input_type=str | list[str])] = (
        EDGES
    )
    force: Force | None = None
    force_speed: _PositiveSpeed | None = None

    @model_validator(mode="after")
    def _makes_sense(self) -> Self:
        if not self.recovery <= 1.0:
            refuse(f"recovery is {self.recovery:g}; write a share of the ideal one, up to 1")
        if self.exit_cp >= 1.0 or self.above_cp > 1.0:
            refuse("a pressure coefficient of a tunnel is above 1, which air cannot reach; write less")
        if (self.force is None) != (self.force_speed is None):
            refuse("force and force_speed belong together; write both or neither")
        return self
