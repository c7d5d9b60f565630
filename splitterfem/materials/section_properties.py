"""Properties of a rib's section and its split into a bonded foot and lines under its webs.

The panel model carries a bonded rib in two parts. The *foot*, ``foot_width`` by ``foot_thickness``, is a
membrane at half its thickness above the panel's face: it acts along the rib and in in-plane shear and has
no bending or twisting stiffness of its own. Everything else is in the *web lines*: the area beyond the
foot, the second moment of all parts about their own line, the foot's own ``b t^3 / 12`` included, and the
torsion constant of the open walls. A closed section has a *cell* besides: the shear flow that runs round it,
through the foot as well, so that the foot's own shear is not counted again. So nothing is counted twice and
foot plus lines have exactly the area, the first moment and the second moment about the panel's face of the
true section.

A section that is open by itself, but closed by the panel between its two feet (a hat), has a cell whose
fourth wall is the panel: its ``foot_thickness`` is zero, which puts that wall at the panel's face, and its
own torsion constant is zero, for without the panel no flow runs round it.

Axes: y to the left of the rib line, seen in the direction of travel along it, from the middle between the
outer edges of the foot; z away from the panel, from its face. Sharp corners are assumed wherever a shape has
no radius of its own; the rounded ones of an extrusion take off 1 to 3 % of area.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True)
class FootStrip:
    """A part of the section that lies on the panel.

    Parameters
    ----------
    offset : float
        Of its middle, to the left of the rib line, m.
    width : float
        m.
    """

    offset: float
    width: float


@dataclass(frozen=True)
class WebLine:
    """The part of a section that acts as an eccentric beam under one of its webs.

    Parameters
    ----------
    offset : float
        Of the web, positive to the left of the rib line, m.
    area : float
        Beyond the foot, m2; may be zero.
    centroid_height : float
        Of that area above the panel's face, m.
    I : float
        Second moment about the axis parallel to the panel at ``centroid_height``, m4; the foot's own
        ``b t^3 / 12`` is shared among the lines.
    J : float
        Share of the torsion constant of the walls without a flow round the cell, m4.
    shear_area : float
        Share of the vertical shear area, m2.
    width : float
        Of the web where it stands on the foot, m.
    centroid_offset : float
        Of the line's area, positive to the left of the rib line, m. It differs from ``offset`` where a wall
        reaches out to one side; the line stays under the web, through which its force comes up.
    """

    offset: float
    area: float
    centroid_height: float
    I: float  # noqa: E741
    J: float
    shear_area: float
    width: float
    centroid_offset: float


@dataclass(frozen=True)
class Cell:
    """The hollow of a section that its foot or the panel closes: Bredt's shear flow round it.

    With a twist rate ``theta'`` and the shear strain ``gamma`` of the closing wall the flow in the other walls
    is ``q = G (2 A theta' - b gamma) / rest`` (Bredt 1896; Timoshenko & Goodier, Theory of Elasticity, section
    115: the sum of the shear strains round a cell is ``2 A theta'``).

    Parameters
    ----------
    area : float
        Enclosed by the walls' mid-lines, down to the foot's mid-plane or the panel's face, m2.
    foot : float
        Length of the closing wall's mid-line, m.
    rest : float
        Sum of length over thickness of the other walls.
    foot_thickness : float
        m; zero where the panel is the closing wall.
    """

    area: float
    foot: float
    rest: float
    foot_thickness: float

    @property
    def J(self) -> float:
        """Torsion constant without the panel, ``4 A^2 / sum(s / t)``, m4; zero if the panel closes the cell."""
        if self.foot_thickness == 0.0:
            return 0.0
        return 4 * self.area**2 / (self.rest + self.foot / self.foot_thickness)


@dataclass(frozen=True)
class SectionProperties:
    """Properties of a rib's section, standing on the face of the panel.

    Parameters
    ----------
    area : float
        m2.
    height : float
        From the panel's face to the far fibre, m.
    foot_width, foot_thickness : float
        What lies on the panel, all strips together, m.
    z_c : float
        Height of the centroid above the panel's face, m.
    y_c : float
        Sideways position of the centroid, positive to the left of the rib line, m.
    I : float
        Second moment about the axis through the centroid parallel to the panel, m4.
    I_z : float
        Second moment about the vertical axis through the centroid, m4.
    I_yz : float
        Product of inertia about the same two axes, ``integral (y - y_c) (z - z_c) dA``, m4; the mirrored rib
        has the opposite sign.
    J : float
        Torsion constant of the section by itself, m4.
    shear_area : float
        For vertical shear, shear correction included, with the section kept from bending sideways, as the
        panel keeps it; m2.
    webs : tuple of WebLine
        One or more lines that together with the foot membrane make up the section.
    feet : tuple of FootStrip
        What lies on the panel, from right to left; one strip at offset 0 for most shapes.
    cell : Cell, optional
        Of a section that is closed, by itself or by the panel.
    """

    area: float
    height: float
    foot_width: float
    foot_thickness: float
    z_c: float
    y_c: float
    I: float  # noqa: E741
    I_z: float
    I_yz: float
    J: float
    shear_area: float
    webs: tuple[WebLine, ...]
    feet: tuple[FootStrip, ...]
    cell: Cell | None = None

    @property
    def foot_area(self) -> float:
        """Area of the foot membrane, m2; its height above the panel's face is ``foot_thickness / 2``."""
        return self.foot_width * self.foot_thickness

    @property
    def span(self) -> float:
        """Width on the panel from the outer edge of the first foot strip to that of the last, m."""
        first, last = self.feet[0], self.feet[-1]
        return last.offset + last.width / 2 - (first.offset - first.width / 2)

    @property
    def I_min(self) -> float:
        """Smaller principal second moment, m4: the one that a free bar buckles about."""
        return (self.I + self.I_z) / 2 - hypot((self.I - self.I_z) / 2, self.I_yz)
