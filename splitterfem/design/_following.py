"""How the pressure of a measured map follows the gap under the panel."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import model_validator

from splitterfem.design._record import Record, refuse
from splitterfem.units import Angle, PositiveLength, Quantity

HIGHEST_EXPONENT = 3.0
"""Largest exponent that is taken; judgement."""


class FollowsGap(Record):
    """Net pressure by the gap: ``dp = dp_ref (h_ref / h)^n``, with the static gap h_ref where the map was measured.

    The exponent n is the user's own: there is no source for it.  It is about 1 when suction is thought of as that of
    frictionless flow through a narrow gap; 0 switches the dependence off.  The whole net pressure is scaled, also the
    part of it that comes from above the panel.  No gap counts as less than 10 mm, where the flow chokes (judgement);
    the corner there is rounded over 8 to 12 mm.

    Parameters
    ----------
    gap_exponent : number
        n, from 0 to 3.  With it the pressure follows the sag in load cases with `sag_feedback`.
    map_ride_height : length, optional
        Ride height of the car when the map was measured; that of the case when left out.  The map is brought from
        this stand to that of the case in every load case, with `sag_feedback` or without; a measured total belongs to
        the map as measured.
    map_rake : angle, optional
        Rake of the car when the map was measured, nose down positive; that of the case when left out.
    """

    gap_exponent: Annotated[float, Quantity("number", least=0.0)] = 0.0
    map_ride_height: PositiveLength | None = None
    map_rake: Angle | None = None

    @model_validator(mode="after")
    def _exponent_with_stand(self) -> Self:
        if self.gap_exponent > HIGHEST_EXPONENT:
            refuse(
                f"has a gap_exponent of {self.gap_exponent:g}; write a number from 0 to {HIGHEST_EXPONENT:g}"
            )
        for name in ("map_ride_height", "map_rake"):
            if getattr(self, name) is not None and self.gap_exponent == 0.0:
                refuse(f"has a {name} without a gap_exponent above zero; write both or none")
        return self
