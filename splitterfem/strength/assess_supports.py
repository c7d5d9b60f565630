"""Utilisation of struts, bolts, pins and rear pockets in a solved load case.

Ratings of makers are divided by the factor on metal: they are breaking loads as often as working loads.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.tables import per_support
from splitterfem.design import Part, Pin, Strut
from splitterfem.errors import DesignError
from splitterfem.model import ModelSupport
from splitterfem.strength.assess_panel import unjudged
from splitterfem.strength.bars import BarSection, round_bar, round_tube
from splitterfem.strength.hardware import bolt_class, thread
from splitterfem.strength.pins import pin_moment, pin_shear
from splitterfem.strength.row import Check, Resistance
from splitterfem.strength.struts import bar_tension, compression, rated, strut_checks, thread_tension

Array = NDArray[np.float64]
Kind = Literal["strut", "bolt", "pin", "rear pocket"]


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

    def checks(self, demand: float, mode: str, make: Callable[[], list[Resistance]]) -> list[Check]:
        """Set a demand against resistances, or say in one row why they are not known."""
        name, kind, at = self.support.name, self.support.kind, self.support.at
        try:
            limits = make()
        except DesignError as problem:
            load = self.load_factor * abs(demand)
            return [unjudged(name, kind, mode, str(problem), demand=load, at=at)]
        x, y, load = float(at[0]), float(at[1]), self.load_factor
        return [r.check(demand, part=name, kind=kind, x=x, y=y, load_factor=load) for r in limits]


def acting_on(solution: Solution, kind: Kind) -> list[tuple[Acting, Part]]:
    """Supports of a kind, what acts on them, and their parts of the design."""
    design = solution.model.design
    parts = (*design.struts, *design.bolts, *design.pins, *design.pockets)
    named = {half.name: half for part in parts for half in part.sides()}
    return [
        (Acting(solution, support, forces), named[support.name])
        for support, forces, _ in per_support(solution.model, solution.response)
        if support.kind == kind
    ]


def strut_rows(solution: Solution) -> list[Check]:
    """Judge every strut in the direction in which it acts."""
    checks = []
    for acting, part in acting_on(solution, "strut"):
        assert isinstance(part, Strut)
        force = float(acting.forces[0])
        try:
            limits = _tension(part, acting) if force >= 0 else _compression(part, acting)
        except DesignError as problem:
            mode = "tension" if force >= 0 else "compression"
            checks += acting.checks(force, mode, _refuse(str(problem)))
            continue
        if limits:
            x, y = (float(value) for value in part.foot)
            checks += strut_checks(
                force,
                tension=limits,
                pushed=limits,
                part=part.name,
                x=x,
                y=y,
                load_factor=acting.load_factor,
            )
    return checks


def _refuse(sentence: str) -> Callable[[], list[Resistance]]:
    def make() -> list[Resistance]:
        raise DesignError(sentence)

    return make


def _tension(part: Strut, acting: Acting) -> list[Resistance]:
    found = _ends(part, acting)
    section = _section(part)
    if part.form != "cable" and section is not None:
        bar = bar_tension(section, yield_strength=_yield(part))
        found.append(bar.divided(acting.metal_factor, "factor on yield"))
    if part.thread is not None and part.strength_class is not None:
        ultimate = bolt_class(part.strength_class).ultimate
        found.append(thread_tension(thread(part.thread).stress_area, ultimate_strength=ultimate))
    return found


def _compression(part: Strut, acting: Acting) -> list[Resistance]:
    found = _ends(part, acting)
    section = _section(part)
    if section is not None:
        column = compression(section, length=part.length, E=float(part.modulus), yield_strength=_yield(part))
        found.append(column.divided(acting.metal_factor, "factor on metal"))
    return found


def _ends(part: Strut, acting: Acting) -> list[Resistance]:
    if part.end_rating is None:
        return []
    what = "break of the cable or its ends" if part.form == "cable" else "end fitting"
    return [rated(float(part.end_rating), what=what, factor=acting.metal_factor)]


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


def pin_rows(solution: Solution) -> list[Check]:
    """Judge every pin: a rating against its whole force, else its shear against that in the panel's plane."""
    checks = []
    for acting, part in acting_on(solution, "pin"):
        assert isinstance(part, Pin)
        force = acting.force
        if part.rating is not None:
            rating, factor = float(part.rating), acting.metal_factor
            limits = [rated(rating, what="rating of the pin", factor=factor)]
            checks += acting.checks(float(np.linalg.norm(force)), "rating of the pin", partial(list, limits))
        elif part.diameter is not None and part.shear_strength is not None:
            limits = [_pin_shear(part)]
            checks += acting.checks(float(np.hypot(*force[:2])), "shear of the pin", partial(list, limits))
        if part.lug_thickness is not None and part.clevis_thickness is not None and part.gap is not None:
            checks.append(_pin_bending(acting, part, float(np.hypot(*force[:2]))))
    return checks


def _pin_shear(part: Pin) -> Resistance:
    """Double shear in a clevis, single shear where none is described."""
    clevis = part.clevis_thickness is not None
    found = pin_shear(
        float(part.diameter or 0.0),
        shear_strength=float(part.shear_strength or 0.0),
        planes=2 if clevis else 1,
        basis="user",
    )
    return found if clevis else replace(found, note=f"{found.note}; no clevis given, one plane")


def _pin_bending(acting: Acting, part: Pin, force: float) -> Check:
    moment = pin_moment(
        force,
        middle=float(part.lug_thickness or 0.0),
        outer=float(part.clevis_thickness or 0.0),
        gap=float(part.gap or 0.0),
    )
    why = "no yield strength of the pin is given"
    demand = acting.load_factor * moment
    return unjudged(
        part.name, "pin", "bending of the pin", why, demand=demand, unit="N m", at=acting.support.at
    )
