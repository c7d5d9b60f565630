"""What the panel's sheet offers its fixings: strengths, density, factors, and the distance to its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from splitterfem.analysis import Solution
from splitterfem.errors import DesignError
from splitterfem.materials import Layup, SheetStrength
from splitterfem.model.ribs import is_wood
from splitterfem.strength.assess_panel import board_factors, unjudged
from splitterfem.strength.edges import (
    METAL_SOURCE,
    EdgeDistance,
    edge_check,
    metal_rule,
    wood_rule,
    worst_distance,
)
from splitterfem.strength.edges import MODE as EDGE
from splitterfem.strength.fasteners import embedment, embedment_strength
from splitterfem.strength.metal import SCREW_FACTOR, sheet_bearing
from splitterfem.strength.row import Basis, Check, Resistance, joined
from splitterfem.strength.timber import TimberFactors, timber_factors


@dataclass(frozen=True, eq=False)
class Board:
    """The panel's sheet in a load case, as its fixings feel it.

    Attributes
    ----------
    solution : Solution
    """

    solution: Solution

    @property
    def thickness(self) -> float:
        """Of the panel, m."""
        return float(self.solution.model.design.panel.sheet.thickness)

    @property
    def wood(self) -> bool:
        """Whether it is plywood."""
        return is_wood(self.solution.model.design.panel.sheet)

    @property
    def strength(self) -> SheetStrength | None:
        """Strengths of the whole sheet; those of a layup follow from its plies. None where they are not known."""
        return self.solution.model.design.panel.sheet.resolved.strength

    @property
    def basis(self) -> Basis:
        """How well its strengths are known."""
        return self.solution.model.design.panel.sheet.resolved.basis

    @property
    def density(self) -> float:
        """Characteristic density of plywood, kg/m3.

        Raises
        ------
        DesignError
            If it is not known.
        """
        material = self.solution.model.design.panel.sheet.resolved
        if material.density_characteristic is None:
            raise DesignError(
                f"the sheet '{material.name}' has no characteristic density, by which fasteners in wood are judged; "
                "give one."
            )
        return float(material.density_characteristic)

    @property
    def ultimate(self) -> float:
        """Ultimate strength of a metal sheet, Pa.

        Raises
        ------
        DesignError
            If it is not known, or the sheet is a layup, whose inserts carry the fixings.
        """
        material = self.solution.model.design.panel.sheet.resolved
        if isinstance(material, Layup):
            raise DesignError(
                f"the sheet '{material.name}' is a layup: its inserts carry the fixings, and a test tells how much."
            )
        if material.strength is None or material.strength.ultimate_strength is None:
            raise DesignError(f"the sheet '{material.name}' has no ultimate strength; give one.")
        return float(material.strength.ultimate_strength)

    @property
    def connection(self) -> TimberFactors:
        """Factors on a connection in wood."""
        settings = self.solution.model.design.strength
        return timber_factors(settings.service_class, self.solution.case.duration, member="connection")

    @property
    def panel_factors(self) -> TimberFactors:
        """Factors on the board itself."""
        return board_factors(self.solution.model.design.strength, self.solution.case.duration)

    def design(self, characteristic: Resistance) -> Resistance:
        """Design value of a strength of the board: by its level, as for the panel itself."""
        settings = self.solution.model.design.strength
        if self.strength is not None and self.strength.level != "characteristic":
            return characteristic.divided(
                float(settings.metal_factor), "factor on a strength that is no 5 % value"
            )
        return self.panel_factors.design(characteristic)

    def shank(self, diameter: float, *, depth: float | None = None, edge: float | None = None) -> Resistance:
        """Bearing of a straight shank across the panel: embedment in wood, bearing in metal, N.

        Parameters
        ----------
        diameter : float
            m.
        depth : float, optional
            How deep it goes in, m; through when left out.
        edge : float, optional
            Distance to the nearest edge, m; two diameters or more when left out.

        Raises
        ------
        DesignError
            If the sheet has no data for it.
        """
        depth = self.thickness if depth is None else min(depth, self.thickness)
        if self.wood:
            f_h = embedment_strength(diameter, self.density)
            return self.connection.design(embedment(f_h, thickness=depth, diameter=diameter))
        distance = 2 * diameter if edge is None else edge
        found = sheet_bearing(diameter, edge=distance, thickness=depth, ultimate_strength=self.ultimate)
        return found.divided(SCREW_FACTOR, "factor on fasteners in metal")

    def distance(
        self, kind: str, diameter: float, places: ArrayLike, pushes: ArrayLike, *, both_ways: bool = False
    ) -> EdgeDistance:
        """Distance of fasteners to the edges of the panel, see `worst_distance`."""
        design = self.solution.model.design
        rule = wood_rule(kind, diameter)[0] if self.wood else metal_rule(diameter)
        polygon = design.panel.polygon(float(design.mesh.chord))
        return worst_distance(polygon, places, pushes, rule=rule, both_ways=both_ways)

    def distance_checks(
        self,
        kind: str,
        diameter: float,
        places: ArrayLike,
        pushes: ArrayLike,
        *,
        part: str,
        of: str,
        both_ways: bool = False,
        note: str = "",
    ) -> list[Check]:
        """Row of the distance of fasteners to the edges of the panel; none in a layup that is no plywood.

        Parameters
        ----------
        kind : str
            bolt, bolts, screws or rivets.
        diameter : float
            m.
        places, pushes : array_like, shape (n, 2)
            See `worst_distance`.
        part, of : str
            Name and kind of the part.
        both_ways : bool
            Each may push either way.
        note : str
            What to know beside it.
        """
        if not self.wood and isinstance(self.solution.model.design.panel.sheet.resolved, Layup):
            return []
        try:
            found = self.distance(kind, diameter, places, pushes, both_ways=both_ways)
        except DesignError as problem:
            return [unjudged(part, of, EDGE, str(problem), unit="m")]
        if self.wood:
            _, source, words = wood_rule(kind, diameter)
            basis: Basis = "practice" if kind == "rivets" else "published"
        else:
            source, words, basis = METAL_SOURCE, "", "memory"
        at = np.asarray(places, dtype=np.float64)[found.number]
        return [
            edge_check(found, part=part, kind=of, at=at, source=source, basis=basis, note=joined(words, note))
        ]
