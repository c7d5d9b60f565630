"""Sections made of rectangles, added up and split into foot and web lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from splitterfem.materials.section_properties import Cell, FootStrip, SectionProperties, WebLine

if TYPE_CHECKING:
    import shapely

    from splitterfem.materials.section_solver import SectionConstants


@dataclass(frozen=True)
class Rectangle:
    """A part of a section with sides along the axes; all in m, heights above the panel's face."""

    width: float
    height: float
    offset: float
    """Of its centre, to the left of the rib line."""
    level: float
    """Height of its centre above the panel's face."""

    @property
    def area(self) -> float:
        """In m2."""
        return self.width * self.height

    @property
    def I(self) -> float:  # noqa: E743
        """Second moment about its own axis parallel to the panel, m4."""
        return self.width * self.height**3 / 12

    @property
    def I_z(self) -> float:
        """Second moment about its own vertical axis, m4."""
        return self.height * self.width**3 / 12


@dataclass(frozen=True)
class Web:
    """A web and the rectangles beyond the foot whose force comes up through it."""

    offset: float
    width: float
    members: tuple[Rectangle, ...]


def assemble(
    *,
    feet: Sequence[Rectangle],
    webs: Sequence[Web],
    height: float,
    cell: Cell | None = None,
    constants: tuple[float, float] | None = None,
) -> SectionProperties:
    """Add up the rectangles of a section.

    Parameters
    ----------
    feet : sequence of Rectangle
        What lies on the panel, all of one thickness.
    webs : sequence of Web
        Equal shares of the torsion constant, the shear area and the feet's own second moment go to each.
    height : float
        Of the far fibre, m.
    cell : Cell, optional
        Of a section that is closed, by itself or by the panel.
    constants : tuple of float, optional
        Torsion constant (m4) and shear area (m2); found numerically when left out.

    Raises
    ------
    SolveError
        If torsion cannot be found.
    """
    parts = [*feet, *(member for web in webs for member in web.members)]
    area = sum(p.area for p in parts)
    z_c = sum(p.area * p.level for p in parts) / area
    y_c = sum(p.area * p.offset for p in parts) / area
    if constants is None:
        found = numerical(tuple(parts))
        constants = found.J, found.shear_area
    J, shear_area = constants
    share = 1 / len(webs)
    return SectionProperties(
        area=area,
        height=height,
        foot_width=sum(p.width for p in feet),
        foot_thickness=feet[0].height,
        z_c=z_c,
        y_c=y_c,
        I=sum(p.I + p.area * (p.level - z_c) ** 2 for p in parts),
        I_z=sum(p.I_z + p.area * (p.offset - y_c) ** 2 for p in parts),
        I_yz=sum(p.area * (p.level - z_c) * (p.offset - y_c) for p in parts),
        J=J,
        shear_area=shear_area,
        webs=tuple(
            _line(
                web,
                I_foot=share * sum(p.I for p in feet),
                J=share * (J - (cell.J if cell else 0.0)),
                shear_area=share * shear_area,
            )
            for web in webs
        ),
        feet=tuple(FootStrip(p.offset, p.width) for p in sorted(feet, key=lambda p: p.offset)),
        cell=cell,
    )


def _line(web: Web, *, I_foot: float, J: float, shear_area: float) -> WebLine:
    members = web.members
    area = sum(p.area for p in members)
    level = sum(p.area * p.level for p in members) / area if members else 0.0
    return WebLine(
        offset=web.offset,
        area=area,
        centroid_height=level,
        I=I_foot + sum(p.I + p.area * (p.level - level) ** 2 for p in members),
        J=J,
        shear_area=shear_area,
        width=web.width,
        centroid_offset=sum(p.area * p.offset for p in members) / area if members else web.offset,
    )


@lru_cache(maxsize=1024)
def numerical(parts: tuple[Rectangle, ...]) -> SectionConstants:
    """Torsion constant, shear area and hollows of rectangles that touch each other.

    Raises
    ------
    SolveError
        If torsion cannot be found.
    """
    from splitterfem.materials.section_solver import section_constants

    return section_constants(union(parts))


def union(parts: Sequence[Rectangle]) -> shapely.Polygon:
    """Polygon of rectangles that touch each other."""
    import shapely

    grid = 1e-9 * max(p.width for p in parts)  # closes what rounding opens between two rectangles
    boxes = [
        shapely.box(
            p.offset - p.width / 2, p.level - p.height / 2, p.offset + p.width / 2, p.level + p.height / 2
        )
        for p in parts
    ]
    return shapely.union_all(boxes, grid_size=grid)
