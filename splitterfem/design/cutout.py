"""Openings in the panel."""

from __future__ import annotations

from pydantic import ConfigDict

from splitterfem import curves
from splitterfem.design.areas import SHAPES, NamedArea
from splitterfem.design.tunnel import Tunnel


class CutOut(NamedArea):
    """An opening in the panel.

    Exactly one of `outline`, `rectangle` and `circle` is given; `outline` is there in any case afterwards.

    Parameters
    ----------
    name : str
        Unique among the parts.
    outline : Outline
        Its edge.
    rectangle : Rectangle, optional
        Short for an outline with four sides.
    circle : Circle, optional
        Short for a round outline.
    mirror : bool
        There is a second one, its mirror image about y = 0; the two are "<name> left" and "<name> right".
    tunnel : Tunnel, optional
        The ramp that starts at it, whose downforce comes back through its rim or goes to the car.
    """

    model_config = ConfigDict(
        json_schema_extra={"required": ["name"], "oneOf": [{"required": [shape]} for shape in SHAPES]}
    )

    tunnel: Tunnel | None = None

    def sides(self) -> tuple[tuple[str, curves.Loop], ...]:
        """Return name and loop of each opening: one, or the left and the right one of a mirrored pair."""
        loop = self.outline.loop()
        if not self.mirror:
            return ((self.name, loop),)
        here, there = ("left", "right") if self.lateral() >= 0.0 else ("right", "left")
        return ((f"{self.name} {here}", loop), (f"{self.name} {there}", curves.mirrored(loop)))
