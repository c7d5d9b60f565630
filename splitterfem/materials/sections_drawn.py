"""Sections of ribs drawn as a polygon."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from splitterfem.errors import DesignError
from splitterfem.materials._record import Record, refuse
from splitterfem.materials.section_outline import checked_polygon, contacts_of
from splitterfem.materials.section_polygon import polygon_properties
from splitterfem.materials.section_properties import SectionProperties
from splitterfem.units import Point

Corners = Annotated[tuple[Point, ...], Field(min_length=3, max_length=300)]


class PolygonSection(Record):
    """Any section, drawn as a polygon that stands on the panel, with or without a hollow.

    The sides at height 0 are its foot; the middle between the foot's outer edges is put on the rib line,
    wherever the offsets are counted from. A curve is drawn by short sides.

    Parameters
    ----------
    points : points
        Corners (offset to the left, height above the panel's face) in order, either way round.
    hole : points, optional
        Corners of a hollow, inside.

    Examples
    --------
    >>> trapezium = PolygonSection(points=((-0.02, 0), (0.02, 0), (0.01, 0.03), (-0.01, 0.03)))
    >>> round(trapezium.properties().area, 9)
    0.0009
    """

    shape: Literal["polygon"] = "polygon"
    points: Corners
    hole: Corners | None = None

    @model_validator(mode="after")
    def _stands(self) -> PolygonSection:
        try:
            checked_polygon(self.points, self.hole)
        except DesignError as problem:
            refuse(str(problem))
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Width and height over all, m."""
        offsets, heights = zip(*self.points, strict=True)
        return max(offsets) - min(offsets), max(heights)

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, all strips together, m."""
        return sum(b - a for a, b in contacts_of(np.array(self.points)))

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return polygon_properties(self.points, self.hole)
