"""What acts on supports in a solved load case, and the utilisation of struts.

Ratings of makers are divided by the factor on metal: they are breaking loads as often as working loads.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.tables import per_support
from splitterfem.design import Part, Strut
from splitterfem.errors import DesignError
from splitterfem.model import ModelSupport
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.bars import BarSection, round_bar, round_tube
from splitterfem.strength.hardware import bolt_class, thread
from splitterfem.strength.row import Check, Resistance
from splitterfem.strength.struts import bar_tension, compression, rated, thread_tension

Array = NDArray[np.float64]
Kind = Literal["strut", "bolt", "pin", "rear pocket", "stop"]


@dataclass(frozen=True)
class Acting:
    """A support and what acts on it.

    Attributes
    ----------
    solution : Solution
    support : ModelSupport
    forces : ndarray, shape (m,)
        Of the panel on each restraint, N.
    """

    solution: Solution
    support: ModelSupport
    forces: Array

    @property
    def force(self) -> Array:
        """Force on the panel (x, y, z) in N."""
        return np.asarray(-(self.forces @ self.support.directions))

    @property
    def metal_factor(self) -> float:
        """Factor on metal of the design."""
        return float(self.solution.model.design.strength.metal_factor)

    @property
    def load_factor(self) -> float:
        """Load factor of the design."""
        return float(self.solution.model.design.strength.load_factor)

    def checks(
        self, demand: float, mode: str, make: Callable[[], list[Resistance]], *, unit: str = "N"
    ) -> list[Check]:
        """Set a demand against resistances, or say in one row why they are not known."""
        name, kind, at = self.support.name, self.support.kind, self.support.at
        try:
            limits = make()
        except DesignError as problem:
            load = self.load_factor * abs(demand)
            return [unjudged(name, kind, mode, str(problem), demand=load, unit=unit, at=at)]
        x, y, load = float(at[0]), float(at[1]), self.load_factor
        return [r.check(demand, part=name, kind=kind, x=x, y=y, load_factor=load) for r in limits]


def acting_on(solution: Solution, kind: Kind) -> list[tuple[Acting, Part]]:
    """Supports of a kind, what acts on them, and their parts of the design."""
    design = solution.model.design
    parts = (*design.struts, *design.bolts, *design.pins, *design.pockets, *design.stops)
    named = {half.name: half for part in parts for half in part.sides()}
    return [
        (Acting(solution, support, forces), named[support.name])
        for support, forces, _ in per_support(solution.model, solution.response)
        if support.kind == kind
    ]


def strut_rows(solution: Solution) -> list[Check]:
    """Judge every strut in the direction in which it acts: rods and tubes as bars, cables by their rating."""
    checks = []
    for acting, part in acting_on(solution, "strut"):
        assert isinstance(part, Strut)
        force = float(acting.forces[0])
        ways = _pulled(part, acting) if force >= 0 else _pushed(part, acting)
        for mode, way in ways:
            checks += acting.checks(force, mode, way)
    return checks


Ways = list[tuple[str, Callable[[], list[Resistance]]]]
"""Modes and what makes the resistance in each."""


def _pulled(part: Strut, acting: Acting) -> Ways:
    found, section = _ends(part, acting), _section(part)
    if part.form != "cable" and section is not None:
        found.append(("tension, yield of the bar", lambda: [_bar(part, section, acting.metal_factor)]))
    if part.thread is not None and part.strength_class is not None:
        name, strength_class = part.thread, part.strength_class
        found.append(
            (
                "tension of the thread",
                lambda: [
                    thread_tension(
                        thread(name).stress_area, ultimate_strength=bolt_class(strength_class).ultimate
                    )
                ],
            )
        )
    return found


def _pushed(part: Strut, acting: Acting) -> Ways:
    found, section = _ends(part, acting), _section(part)
    if section is not None:
        found.append(("buckling", lambda: [_column(part, section, acting.metal_factor)]))
    return found


def _bar(part: Strut, section: BarSection, factor: float) -> Resistance:
    return bar_tension(section, yield_strength=_yield(part)).divided(factor, "factor on yield")


def _column(part: Strut, section: BarSection, factor: float) -> Resistance:
    column = compression(section, length=part.length, E=float(part.modulus), yield_strength=_yield(part))
    return column.divided(factor, "factor on metal")


def _ends(part: Strut, acting: Acting) -> Ways:
    """Rating of the ends; of a cable that has a size, its only mode."""
    cable = part.form == "cable"
    what = "break of the cable or its ends" if cable else "end fitting"
    if part.end_rating is None:
        sized = part.section_area is not None
        return [(what, refuse("the cable has no rating; give end_rating."))] if cable and sized else []
    limit = rated(float(part.end_rating), what=what, factor=acting.metal_factor)
    return [(what, lambda: [limit])]


def refuse(sentence: str) -> Callable[[], list[Resistance]]:
    """Make a resistance that is not known, for a reason that goes into the row."""

    def make() -> list[Resistance]:
        raise DesignError(sentence)

    return make


def _section(part: Strut) -> BarSection | None:
    """Cross-section of a strut; None when only a stiffness is given."""
    if part.form == "tube":
        return round_tube(float(part.diameter or 0.0), float(part.wall or 0.0))
    area = part.section_area
    return None if area is None else round_bar(math.sqrt(4.0 * float(area) / math.pi))


def _yield(part: Strut) -> float:
    if part.yield_strength is None:
        raise DesignError(
            f"the yield strength of strut {part.name} is not known; give it a material that has one."
        )
    return float(part.yield_strength)
