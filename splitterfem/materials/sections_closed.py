"""Sections of ribs that are closed or solid: rectangular and round tube, flat bar."""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from splitterfem.materials._record import Record, refuse
from splitterfem.materials.section_properties import SectionProperties
from splitterfem.materials.section_shapes import (
    LINE_OF_CONTACT,
    flat_properties,
    round_tube_properties,
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

    @property
    def sizes(self) -> tuple[float, ...]:
        """Width, height and wall, m."""
        return self.width, self.height, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return self.width

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return tube_properties(self.width, self.height, self.wall)


class RoundTubeSection(Record):
    """Round tube that lies on the panel along a line, or in a saddle.

    Parameters
    ----------
    diameter : length
        Outside.
    wall : length
        Less than half of the diameter.
    saddle : length, optional
        Width of the block or of the fillet of glue that holds it, up to the diameter. Without one a quarter of
        the diameter counts as its foot, over which the gap under the tube is thinner than a line of glue.
    """

    shape: Literal["round tube"] = "round tube"
    diameter: PositiveLength
    wall: PositiveLength
    saddle: PositiveLength | None = None

    @model_validator(mode="after")
    def _fits(self) -> RoundTubeSection:
        if self.wall >= self.diameter / 2:
            refuse(
                f"The round tube of {mm(self.diameter)} mm has a wall of {mm(self.wall)} mm, which leaves no "
                f"hollow; give a wall under {mm(self.diameter / 2)} mm."
            )
        if self.saddle is not None and self.saddle > self.diameter:
            refuse(
                f"The saddle is {mm(self.saddle)} mm wide under a round tube of {mm(self.diameter)} mm; give the "
                "width in which it holds the tube, at most its diameter."
            )
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Diameter and wall, m."""
        return self.diameter, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return LINE_OF_CONTACT * self.diameter if self.saddle is None else self.saddle

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return round_tube_properties(self.diameter, self.wall, self.saddle)


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

    @property
    def sizes(self) -> tuple[float, ...]:
        """Width and height, m."""
        return self.width, self.height

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return self.width

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return flat_properties(self.width, self.height)


def mm(length: float) -> str:
    """Write a length in m as millimetres, without trailing zeros."""
    return f"{1000 * length:.6g}"
