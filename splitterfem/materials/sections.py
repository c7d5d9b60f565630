"""Sections of ribs: rectangular tube, angle and flat bar, as plain validated data."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from splitterfem.materials._record import Record, refuse
from splitterfem.materials.section_properties import (
    SectionProperties,
    angle_properties,
    flat_properties,
    tube_properties,
)
from splitterfem.units import PositiveLength


class TubeSection(Record):
    """Rectangular tube that stands on the panel with one wall.

    Parameters
    ----------
    width : length
        Outside, along the panel.
    height : length
        Outside, away from the panel.
    wall : length
        Less than half of the smaller side.
    """

    shape: Literal["tube"] = "tube"
    width: PositiveLength
    height: PositiveLength
    wall: PositiveLength

    @model_validator(mode="after")
    def _wall_fits(self) -> TubeSection:
        side = min(self.width, self.height)
        if self.wall >= side / 2:
            refuse(
                f"The tube {mm(self.width)} x {mm(self.height)} mm has a wall of {mm(self.wall)} mm, which "
                f"leaves no hollow; give a wall under {mm(side / 2)} mm, or a section of shape 'flat'."
            )
        return self

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return tube_properties(self.width, self.height, self.wall)


class AngleSection(Record):
    """Angle that lies on the panel with one leg, centred on the rib line.

    Parameters
    ----------
    foot : length
        Leg on the panel, corner included.
    upright : length
        Leg away from the panel, corner included.
    wall : length
        Less than either leg.
    flip : bool
        False: the upright leg stands at the left edge, seen in the direction of the rib; True: right.
    """

    shape: Literal["angle"] = "angle"
    foot: PositiveLength
    upright: PositiveLength
    wall: PositiveLength
    flip: bool = False

    @model_validator(mode="after")
    def _wall_fits(self) -> AngleSection:
        leg = min(self.foot, self.upright)
        if self.wall >= leg:
            refuse(
                f"The angle {mm(self.foot)} x {mm(self.upright)} mm has a wall of {mm(self.wall)} mm, as "
                f"thick as a leg is long; give a wall under {mm(leg)} mm, or a section of shape 'flat'."
            )
        return self

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return angle_properties(self.foot, self.upright, self.wall, flip=self.flip)


class FlatSection(Record):
    """Solid rectangular bar that lies on the panel.

    Parameters
    ----------
    width : length
        Along the panel.
    height : length
        Away from the panel.
    """

    shape: Literal["flat"] = "flat"
    width: PositiveLength
    height: PositiveLength

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return flat_properties(self.width, self.height)


Section = Annotated[TubeSection | AngleSection | FlatSection, Field(discriminator="shape")]
"""One of the shapes, told apart by its field ``shape``."""


def mm(length: float) -> str:
    """Write a length in m as millimetres, without trailing zeros."""
    return f"{1000 * length:.6g}"
