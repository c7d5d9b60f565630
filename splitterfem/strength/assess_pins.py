"""Utilisation of pins in a solved load case: their shank, the lug and the clevis, or the panel's own hole.

A pin comes out again, so the stricter rules of EN 1993-1-8 for that hold besides those of failure. The force in the
panel's plane shears and bends it; a rating is held against the whole force.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.design import Pin
from splitterfem.errors import DesignError
from splitterfem.materials import BarMaterial
from splitterfem.strength.assess_fixings import beside
from splitterfem.strength.assess_sheet import Board
from splitterfem.strength.assess_supports import Acting, acting_on, refuse
from splitterfem.strength.pins import (
    RUPTURE_FACTOR,
    lug_bearing,
    lug_net_tension,
    lug_tear_out,
    pin_bearing,
    pin_bending,
    pin_moment,
    pin_shear,
    pin_shear_and_bending,
)
from splitterfem.strength.row import Check, Resistance, joined, least, weakest
from splitterfem.strength.struts import rated

FACTOR_WORDS = "factor on an ultimate strength, Aluminum Design Manual from memory"


def pin_rows(solution: Solution) -> list[Check]:
    """Judge every pin by what the design says of it; a pin without a size or a rating has no row."""
    checks, board = [], Board(solution)
    for acting, part in acting_on(solution, "pin"):
        assert isinstance(part, Pin)
        force = float(np.hypot(*acting.force[:2]))
        if part.rating is not None:
            checks += _rated(acting, part)
        else:
            checks += _shank(acting, part, force)
        for plate in _plates(part):
            checks += _plate(acting, part, plate, force)
        if part.diameter is not None and part.lug_thickness is None and set(part.holds) & {"x", "y"}:
            checks += beside(acting, board, float(part.diameter), force)
    return checks


def _rated(acting: Acting, part: Pin) -> list[Check]:
    """Hold the whole force against the maker's rating, which is for plates that touch."""
    total = float(np.linalg.norm(acting.force))
    limit = rated(float(part.rating or 0.0), what="rating of the pin", factor=acting.metal_factor)
    checks = acting.checks(total, limit.mode, lambda: [limit])
    if part.gap:
        moment = _moment(part, total)
        why = f"a rating holds for plates that touch; fill the gap of {1e3 * part.gap:.6g} mm with spacers."
        checks += acting.checks(moment, "bending of the pin", refuse(why), unit="N m")
    return checks


def _shank(acting: Acting, part: Pin, force: float) -> list[Check]:
    """Shear, bending and both together of a pin that has a diameter."""
    if part.diameter is None:
        return []
    shear = acting.checks(force, "shear of the pin", lambda: [_shear(part)])
    if part.lug_thickness is None or part.clevis_thickness is None:
        return shear
    bending = acting.checks(
        _moment(part, force), "bending of the pin", lambda: [_bending(part, acting)], unit="N m"
    )
    if np.isnan(shear[0].ratio + bending[0].ratio):
        return [*shear, *bending]
    return [*shear, *bending, pin_shear_and_bending(bending[0], shear[0])]


def _moment(part: Pin, force: float) -> float:
    if part.lug_thickness is None or part.clevis_thickness is None:
        return 0.0
    return pin_moment(
        force,
        middle=float(part.lug_thickness),
        outer=float(part.clevis_thickness),
        gap=float(part.gap or 0.0),
    )


def _shear(part: Pin) -> Resistance:
    """Double shear in a clevis, single shear where none is described."""
    if part.shear_strength is None:
        raise DesignError("the pin's shear strength is not known; give shear_strength, or a rating.")
    clevis = part.clevis_thickness is not None
    found = pin_shear(
        float(part.diameter or 0.0),
        shear_strength=float(part.shear_strength),
        planes=2 if clevis else 1,
        basis="user",
    )
    return found if clevis else replace(found, note=f"{found.note}; no clevis given, one plane")


def _bending(part: Pin, acting: Acting) -> Resistance:
    """Return the less of failure over the factor on metal and of what a pin may bear that comes out again."""
    if part.gap is None:
        raise DesignError("the gap between lug and clevis is not known; give gap, 0 mm where they touch.")
    if part.yield_strength is None:
        raise DesignError("the pin's yield strength is not known; give yield_strength.")
    d, f_y = float(part.diameter or 0.0), float(part.yield_strength)
    failure = pin_bending(d, yield_strength=f_y).divided(acting.metal_factor, "factor on metal")
    found = least([failure, pin_bending(d, yield_strength=f_y, state="service")])
    return replace(found, basis="user")


@dataclass(frozen=True)
class _Plate:
    """The lug, or both arms of the clevis together.

    Attributes
    ----------
    name : str
        "lug" or "clevis".
    thickness : float
        In all, m.
    width, end : float or None
        m.
    material : BarMaterial or None
    """

    name: str
    thickness: float
    width: float | None
    end: float | None
    material: BarMaterial | None

    @property
    def yield_strength(self) -> float:
        return self._of("yield_strength", "yield")

    @property
    def ultimate_strength(self) -> float:
        return self._of("ultimate_strength", "ultimate")

    def _of(self, field: str, word: str) -> float:
        value = getattr(self.material, field, None)
        if value is None:
            raise DesignError(
                f"the {self.name}'s {word} strength is not known; give {self.name}_material one that has it."
            )
        return float(value)


def _plates(part: Pin) -> list[_Plate]:
    """Lug and clevis, as far as they are described."""
    found = []
    if part.lug_thickness is not None:
        lug = _Plate("lug", float(part.lug_thickness), part.lug_width, part.lug_end, part.lug_resolved)
        found.append(lug)
    if part.clevis_thickness is not None:
        both = 2.0 * float(part.clevis_thickness)
        found.append(_Plate("clevis", both, part.clevis_width, part.clevis_end, part.clevis_resolved))
    return found


def _plate(acting: Acting, part: Pin, plate: _Plate, force: float) -> list[Check]:
    """Bearing, net tension and tear-out of a lug or clevis, those of which the sizes are given."""
    ways: list[tuple[str, Callable[[], Resistance]]] = []
    hole = part.hole_diameter
    if part.diameter is not None:
        ways.append((f"bearing in the {plate.name}", lambda: _bearing(acting, part, plate)))
    if plate.width is not None and hole is not None:
        ways.append((f"net tension of the {plate.name}", lambda: _net_tension(plate, float(hole))))
    if plate.end is not None and hole is not None:
        ways.append((f"tear-out of the {plate.name}", lambda: _tear_out(plate, float(hole))))

    def named(mode: str, way: Callable[[], Resistance]) -> Callable[[], list[Resistance]]:
        def make() -> list[Resistance]:
            found = way()
            assert plate.material is not None
            source = f"{found.source}; {plate.material.source}"
            basis = weakest(found.basis, plate.material.basis)
            return [replace(found, mode=mode, source=source, basis=basis)]

        return make

    return [check for mode, way in ways for check in acting.checks(force, mode, named(mode, way))]


def _bearing(acting: Acting, part: Pin, plate: _Plate) -> Resistance:
    """Return the least of failure, of a pin that comes out again, and of a plate of known ultimate strength."""
    d, f_y = float(part.diameter or 0.0), plate.yield_strength
    note = "the pin's own yield strength not given"
    if part.yield_strength is not None:
        f_y, note = min(f_y, float(part.yield_strength)), ""
    ways = [
        pin_bearing(d, thickness=plate.thickness, yield_strength=f_y).divided(
            acting.metal_factor, "factor on metal"
        ),
        pin_bearing(d, thickness=plate.thickness, yield_strength=f_y, state="service"),
    ]
    if plate.end is not None and getattr(plate.material, "ultimate_strength", None) is not None:
        torn = lug_bearing(
            diameter=d,
            end_distance=float(plate.end),
            thickness=plate.thickness,
            ultimate_strength=plate.ultimate_strength,
        )
        ways.append(torn.divided(RUPTURE_FACTOR, FACTOR_WORDS))
    found = least(ways)
    return replace(found, note=joined(found.note, note))


def _net_tension(plate: _Plate, hole: float) -> Resistance:
    found = lug_net_tension(
        width=float(plate.width or 0.0),
        hole=hole,
        thickness=plate.thickness,
        ultimate_strength=plate.ultimate_strength,
    )
    return found.divided(RUPTURE_FACTOR, FACTOR_WORDS)


def _tear_out(plate: _Plate, hole: float) -> Resistance:
    found = lug_tear_out(
        end_distance=float(plate.end or 0.0),
        hole=hole,
        thickness=plate.thickness,
        ultimate_strength=plate.ultimate_strength,
    )
    return found.divided(RUPTURE_FACTOR, FACTOR_WORDS)
