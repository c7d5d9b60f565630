"""Stops: what is fixed to the car and touches the panel only after it has moved by a gap."""

from __future__ import annotations

from typing import ClassVar, Self

from pydantic import model_validator

from splitterfem.design._record import refuse
from splitterfem.design.pad import Pad
from splitterfem.design.parts import Part
from splitterfem.units import NonNegativeLength, Point, SpringRate


class Stop(Part):
    """A rubber buffer, a bracket, a chassis rail or a skid block, fixed to the car above or below the panel.

    The panel touches it after moving up or down by a gap, counted from where it lies without any load. It pushes
    straight back, up or down: it neither pulls nor holds the panel in its plane.

    Parameters
    ----------
    name : str
        Unique among the parts.
    at : point
        Where the panel touches it, the middle of its pad.
    pad : Pad
        The area that touches.
    gap_up : length, optional
        How far the panel moves up there before it touches; nothing is above it when left out.
    gap_down : length, optional
        How far it moves down before it touches; nothing is below it when left out. One of the two is given.
    stiffness : spring rate, optional
        Up and down, that of what carries it included; rigid when left out.
    mirror : bool
        A pair, left and right.
    cost : number, optional
        Of one, in the currency of the splitter.
    """

    at: Point
    pad: Pad = Pad(diameter=0.025)
    gap_up: NonNegativeLength | None = None
    gap_down: NonNegativeLength | None = None
    stiffness: SpringRate | None = None

    points_at: ClassVar[tuple[str, ...]] = ("at",)

    @model_validator(mode="after")
    def _is_above_or_below(self) -> Self:
        if self.gap_up is None and self.gap_down is None:
            refuse(
                "has neither gap_up nor gap_down; give how far the panel moves before it touches, such as "
                'gap_up = "3 mm"'
            )
        return self
