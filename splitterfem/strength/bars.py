"""Cross-sections of struts, their stiffness, and the pull of a leaning strut along the panel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import larger, positive


@dataclass(frozen=True)
class BarSection:
    """Cross-section of a strut.

    Attributes
    ----------
    area : float
        m2.
    second_moment : float
        Smallest, m4.
    half_depth : float
        From the centroid to the extreme fibre, m.
    """

    area: float
    second_moment: float
    half_depth: float

    def __post_init__(self) -> None:
        positive(
            "Section of a strut", area=self.area, second_moment=self.second_moment, half_depth=self.half_depth
        )

    @property
    def radius_of_gyration(self) -> float:
        """``sqrt(I / A)``, m."""
        return math.sqrt(self.second_moment / self.area)


def round_bar(diameter: float) -> BarSection:
    """Section of a solid round bar of a diameter in m."""
    positive("Round bar", diameter=diameter)
    return BarSection(0.25 * math.pi * diameter**2, math.pi * diameter**4 / 64, 0.5 * diameter)


def threaded_bar(stress_area: float) -> BarSection:
    """Section of a fully threaded rod: the round bar that has its stress area (m2)."""
    positive("Threaded rod", stress_area=stress_area)
    return round_bar(math.sqrt(4 * stress_area / math.pi))


def round_tube(outer: float, wall: float) -> BarSection:
    """Section of a round tube, outside diameter and wall in m."""
    positive("Round tube", outer_diameter=outer, wall=wall)
    larger("Round tube", outer_radius=0.5 * outer, wall=wall)
    inner = outer - 2 * wall
    return BarSection(
        0.25 * math.pi * (outer**2 - inner**2), math.pi * (outer**4 - inner**4) / 64, 0.5 * outer
    )


def axial_stiffness(section: BarSection, *, length: float, E: float, ends: Sequence[float] = ()) -> float:
    """Stiffness of a strut with its end fittings and brackets, N/m.

    ``1 / k = L / (E A) + sum of 1 / k_end``.

    Parameters
    ----------
    section : BarSection
    length : float
        m.
    E : float
        Young's modulus, Pa.
    ends : sequence of float
        Stiffness of each thing in series, N/m.
    """
    positive("Strut", length=length, E=E)
    for k in ends:
        positive("Strut", end_stiffness=k)
    return 1.0 / (length / (E * section.area) + sum(1.0 / k for k in ends))


def vertical_stiffness(stiffness: float, angle: float) -> float:
    """Stiffness against vertical motion of the foot, ``k sin^2 a`` for small motions, N/m.

    Parameters
    ----------
    stiffness : float
        Along the strut, N/m.
    angle : float
        From the panel's plane, rad.
    """
    positive("Strut", stiffness=stiffness)
    return stiffness * math.sin(angle) ** 2


def pull_along_panel(vertical: float, angle: float) -> tuple[float, float]:
    """Force along a strut and its part in the panel's plane for a vertical reaction.

    ``T = R / sin a`` and ``H = R / tan a``. A strut that leans forward from its foot pulls the panel out of a
    pocket at its rear edge, one that leans rearward pushes it in.

    Parameters
    ----------
    vertical : float
        N.
    angle : float
        From the panel's plane, rad, above 0 and at most pi / 2.

    Returns
    -------
    along, in_plane : float
        N.

    Raises
    ------
    DesignError
        If the strut lies in the plane of the panel.
    """
    if not 0.0 < angle <= 0.5 * math.pi:
        raise DesignError(
            f"The strut stands at {math.degrees(angle):g} degrees to the panel; give more than 0 and at most 90."
        )
    return vertical / math.sin(angle), vertical * math.cos(angle) / math.sin(angle)
