"""Section properties of ribs and the split of a section into a bonded foot and lines under its webs.

The panel model carries a bonded rib in two parts. The *foot*, ``foot_width`` by ``foot_thickness``, is a
membrane at half its thickness above the panel's face: it acts along the rib and in in-plane shear and has
no bending or twisting stiffness of its own. Everything else is in the *web lines*: the area beyond the
foot, the second moment of all parts about their own line, the foot's own ``b t^3 / 12`` included, and the
torsion constant of the open walls. A closed section has a *cell* besides: the shear flow that runs round it,
through the foot as well, so that the foot's own shear is not counted again. So nothing is counted twice and
foot plus lines have exactly the area, the first moment and the second moment about the panel's face of the
true section.

Sharp corners are assumed everywhere; the rounded ones of an extrusion take off 1 to 3 % of area.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, tanh


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
class WebLine:
    """The part of a section that acts as an eccentric beam under one of its webs.

    Parameters
    ----------
    offset : float
        Sideways from the rib line, positive to the left of the direction of travel along the rib, m.
    area : float
        Beyond the foot, m2; may be zero.
    centroid_height : float
        Of that area above the panel's face, m.
    I : float
        Second moment about the axis parallel to the panel at ``centroid_height``, m4; the foot's own
        ``b t^3 / 12`` is shared among the lines.
    J : float
        Share of the torsion constant of the walls as an open section, ``sum s t^3 / 3``, m4.
    shear_area : float
        Share of the vertical shear area, m2.
    width : float
        Of the web where it stands on the foot, m.
    """

    offset: float
    area: float
    centroid_height: float
    I: float  # noqa: E741
    J: float
    shear_area: float
    width: float


@dataclass(frozen=True)
class Cell:
    """The hollow of a closed section, closed by its foot: Bredt's shear flow round it.

    With a twist rate ``theta'`` and the foot's shear strain ``gamma`` the flow in the other walls is
    ``q = G (2 A theta' - b gamma) / rest`` (Bredt 1896; Timoshenko & Goodier, Theory of Elasticity, section 115:
    the sum of the shear strains round a cell is ``2 A theta'``).

    Parameters
    ----------
    area : float
        Enclosed by the walls' mid-lines, m2.
    foot : float
        Length of the foot's mid-line, m.
    rest : float
        Sum of length over thickness of the other walls.
    foot_thickness : float
        m.
    """

    area: float
    foot: float
    rest: float
    foot_thickness: float

    @property
    def J(self) -> float:
        """Torsion constant of the cell when nothing else holds the foot, ``4 A^2 / sum(s / t)``, m4."""
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
        The bonded wall, m.
    z_c : float
        Height of the centroid above the panel's face, m.
    y_c : float
        Sideways position of the centroid, positive to the left of the rib line, m.
    I : float
        Second moment about the axis through the centroid parallel to the panel, m4.
    I_z : float
        Second moment about the vertical axis through the centroid, m4.
    J : float
        Torsion constant, m4.
    shear_area : float
        For vertical shear, shear correction included, m2.
    webs : tuple of WebLine
        One or two lines that together with the foot membrane make up the section.
    cell : Cell, optional
        Of a closed section.
    """

    area: float
    height: float
    foot_width: float
    foot_thickness: float
    z_c: float
    y_c: float
    I: float  # noqa: E741
    I_z: float
    J: float
    shear_area: float
    webs: tuple[WebLine, ...]
    cell: Cell | None = None

    @property
    def foot_area(self) -> float:
        """Area of the foot membrane, m2; its height above the panel's face is ``foot_thickness / 2``."""
        return self.foot_width * self.foot_thickness

    @property
    def I_min(self) -> float:
        """Smaller of ``I`` and ``I_z``, m4."""
        return min(self.I, self.I_z)


def tube_properties(width: float, height: float, wall: float) -> SectionProperties:
    """Rectangular tube of uniform wall, one wall on the panel.

    Two lines, under the two side walls, share what is beyond the foot.

    Parameters
    ----------
    width : float
        Along the panel, outside, m.
    height : float
        Outside, m.
    wall : float
        m, less than half of the smaller side.
    """
    foot = Rectangle(width, wall, 0.0, wall / 2)
    far = Rectangle(width, wall, 0.0, height - wall / 2)
    half = (width - wall) / 2
    sides = [Rectangle(wall, height - 2 * wall, sign * half, height / 2) for sign in (1.0, -1.0)]
    rest = Rectangle(width / 2, wall, 0.0, height - wall / 2)  # half of the far wall for each line
    b, h = width - wall, height - wall
    cell = Cell(area=b * h, foot=b, rest=(b + 2 * h) / wall, foot_thickness=wall)
    return _assemble(
        foot=foot,
        parts=(foot, far, *sides),
        lines=tuple((side.offset, wall, (side, rest)) for side in sides),
        height=height,
        J=tube_torsion(width, height, wall),
        cell=cell,
        shear_area=tube_shear_area(width, height, wall),
    )


def angle_properties(foot: float, upright: float, wall: float, *, flip: bool = False) -> SectionProperties:
    """Angle with one leg on the panel, centred on the rib line, and the other upright at its left edge.

    Parameters
    ----------
    foot : float
        Length of the leg on the panel, corner included, m.
    upright : float
        Length of the upright leg, corner included, m.
    wall : float
        m.
    flip : bool
        Stand the upright leg at the right edge.
    """
    leg = Rectangle(foot, wall, 0.0, wall / 2)
    offset = (foot - wall) / 2 * (-1.0 if flip else 1.0)
    web = Rectangle(wall, upright - wall, offset, (upright + wall) / 2)
    return _assemble(
        foot=leg,
        parts=(leg, web),
        lines=((offset, wall, (web,)),),
        height=upright,
        J=(leg.width + web.height) * wall**3 / 3,
        shear_area=angle_shear_area(foot, upright, wall),
    )


def flat_properties(width: float, height: float) -> SectionProperties:
    """Solid bar lying on the panel: all of it is foot, its own bending and torsion in one line."""
    bar = Rectangle(width, height, 0.0, height / 2)
    return _assemble(
        foot=bar,
        parts=(bar,),
        lines=((0.0, width, ()),),
        height=height,
        J=rectangle_torsion(width, height),
        shear_area=5 / 6 * bar.area,
    )


def tube_torsion(width: float, height: float, wall: float) -> float:
    """Torsion constant of a rectangular tube, m4.

    Bredt's closed flow plus the open part, ``4 A_m^2 t / s + s t^3 / 3`` with the area ``A_m`` and the
    perimeter ``s`` of the wall's mid-line (the form of EN 10219-2 annex B, here with sharp corners; the
    form is quoted from memory).
    """
    b, h = width - wall, height - wall
    perimeter = 2 * (b + h)
    return 4 * (b * h) ** 2 * wall / perimeter + perimeter * wall**3 / 3


def tube_shear_area(width: float, height: float, wall: float) -> float:
    """Vertical shear area of a rectangular tube, m2.

    Energy of the thin-walled shear flow, ``I^2 / integral(S^2 / t ds)``. It equals the factor of Cowper,
    G. R. (1966), The shear coefficient in Timoshenko's beam theory, Journal of Applied Mechanics 33,
    335-340, for a thin-walled box at Poisson's ratio 0.
    """
    b, h = width - wall, height - wall
    inertia = wall * h**3 / 6 + b * wall * h**2 / 2
    flanges = wall * h**2 * b**3 / 24
    webs = 2 * wall * ((h * b / 4) ** 2 * h + (h * b / 4) * h**3 / 6 + h**5 / 120)
    return inertia**2 / (flanges + webs)


def angle_shear_area(foot: float, upright: float, wall: float) -> float:
    """Vertical shear area of an angle that the panel keeps from bending sideways, m2.

    Energy of the thin-walled shear flow, ``I^2 / integral(S^2 / t ds)``, on the walls' mid-lines.
    """
    b, length = foot, upright - wall / 2
    top = length * (length / 2 + b) / (length + b)  # centroid below the far end of the upright leg
    below = length - top
    inertia = wall * (length**3 / 12 + length * (top - length / 2) ** 2 + b * below**2)
    leg = wall * below**2 * b**3 / 3
    web = wall * (top**2 * length**3 / 3 - top * length**4 / 4 + length**5 / 20)
    return inertia**2 / (leg + web)


def rectangle_torsion(width: float, height: float) -> float:
    """Torsion constant of a solid rectangle, m4.

    Series of Timoshenko & Goodier, Theory of Elasticity, 3rd ed., section 109:
    ``a b^3 [1/3 - 64 b / (pi^5 a) sum tanh(n pi a / 2b) / n^5]``, n odd, a the longer side.
    """
    long, short = max(width, height), min(width, height)
    series = sum(tanh(n * pi * long / (2 * short)) / n**5 for n in range(1, 40, 2))
    return long * short**3 * (1 / 3 - 64 / pi**5 * short / long * series)


def _assemble(
    *,
    foot: Rectangle,
    parts: tuple[Rectangle, ...],
    lines: tuple[tuple[float, float, tuple[Rectangle, ...]], ...],
    height: float,
    J: float,
    shear_area: float,
    cell: Cell | None = None,
) -> SectionProperties:
    """Add up the parts; ``lines`` are (offset, web width, parts beyond the foot)."""
    J_open = J if cell is None else J - cell.J
    area = sum(p.area for p in parts)
    z_c = sum(p.area * p.level for p in parts) / area
    y_c = sum(p.area * p.offset for p in parts) / area
    share = 1 / len(lines)
    return SectionProperties(
        area=area,
        height=height,
        foot_width=foot.width,
        foot_thickness=foot.height,
        z_c=z_c,
        y_c=y_c,
        I=sum(p.I + p.area * (p.level - z_c) ** 2 for p in parts),
        I_z=sum(p.I_z + p.area * (p.offset - y_c) ** 2 for p in parts),
        J=J,
        shear_area=shear_area,
        webs=tuple(
            _line(
                offset, width, members, I_foot=share * foot.I, J=share * J_open, shear_area=share * shear_area
            )
            for offset, width, members in lines
        ),
        cell=cell,
    )


def _line(
    offset: float,
    width: float,
    members: tuple[Rectangle, ...],
    *,
    I_foot: float,
    J: float,
    shear_area: float,
) -> WebLine:
    area = sum(p.area for p in members)
    level = sum(p.area * p.level for p in members) / area if members else 0.0
    return WebLine(
        offset=offset,
        area=area,
        centroid_height=level,
        I=I_foot + sum(p.I + p.area * (p.level - level) ** 2 for p in members),
        J=J,
        shear_area=shear_area,
        width=width,
    )
