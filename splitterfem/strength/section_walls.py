"""Flat walls of a rib's section: how wide and thick each is, along which edges it is held, and where it lies.

Sharp corners; the flat width is that between the faces of the neighbours. The edge conditions are the usual ones of
local buckling: a wall between two others, or between another and the panel, is held along both edges; the upright
of an angle, a tee or a channel on its web, and a flange, are outstands. A wall on the panel that is glued or
bonded is held by it all over; one under fasteners counts as free between them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from splitterfem.errors import DesignError
from splitterfem.materials import Section
from splitterfem.strength.walls import Edge


@dataclass(frozen=True)
class Wall:
    """A flat wall of a section.

    Attributes
    ----------
    name : str
        Such as "side wall".
    width, thickness : float
        m.
    edges : {"both", "one"}
        Along which it is held; an outstand is held along its lower edge.
    low, high : float
        Heights of its edges above the panel's face as shares of the section's height: 0 at the foot, 1 at the far
        side. Equal for a wall parallel to the panel.
    on_panel : bool
        It lies on the panel.
    """

    name: str
    width: float
    thickness: float
    edges: Edge
    low: float
    high: float
    on_panel: bool = False


def section_walls(section: Section) -> tuple[Wall, ...]:
    """Walls of a section that can buckle by themselves; a solid bar lying on the panel has its overhangs.

    Raises
    ------
    DesignError
        If the section is round, or drawn as a polygon, whose walls are not told apart.
    """
    make = _SHAPES.get(section.shape)
    if make is None:
        raise DesignError(
            f"the walls of a section of shape '{section.shape}' are not told apart; check them by hand."
        )
    return tuple(wall for wall in make(section) if wall.width > 0.0)


def _tube(s: Any) -> tuple[Wall, ...]:
    w, h, t = float(s.width), float(s.height), float(s.wall)
    return (
        Wall("far wall", w - 2 * t, t, "both", 1.0, 1.0),
        Wall("side wall", h - 2 * t, t, "both", t / h, 1.0 - t / h),
        Wall("foot", w - 2 * t, t, "both", 0.0, 0.0, on_panel=True),
    )


def _angle(s: Any) -> tuple[Wall, ...]:
    foot, up, t = float(s.foot), float(s.upright), float(s.wall)
    return (
        Wall("upright", up - t, t, "one", t / up, 1.0),
        Wall("foot", foot - t, t, "one", 0.0, 0.0, on_panel=True),
    )


def _tee(s: Any) -> tuple[Wall, ...]:
    foot, up, t = float(s.foot), float(s.upright), float(s.wall)
    return (
        Wall("upright", up - t, t, "one", t / up, 1.0),
        Wall("foot", 0.5 * (foot - t), t, "one", 0.0, 0.0, on_panel=True),
    )


def _channel(s: Any) -> tuple[Wall, ...]:
    web, flange, t = float(s.web), float(s.flange), float(s.wall)
    if s.foot == "web":
        return (
            Wall("flange", flange - t, t, "one", t / flange, 1.0),
            Wall("foot", web - 2 * t, t, "both", 0.0, 0.0, on_panel=True),
        )
    return (
        Wall("web", web - 2 * t, t, "both", t / web, 1.0 - t / web),
        Wall("far flange", flange - t, t, "one", 1.0, 1.0),
        Wall("foot", flange - t, t, "one", 0.0, 0.0, on_panel=True),
    )


def _hat(s: Any) -> tuple[Wall, ...]:
    w, h, flange, t = float(s.width), float(s.height), float(s.flange), float(s.wall)
    return (
        Wall("crown", w - 2 * t, t, "both", 1.0, 1.0),
        Wall("web", h - 2 * t, t, "both", t / h, 1.0 - t / h),
        Wall("foot", flange, t, "one", 0.0, 0.0, on_panel=True),
    )


def _flat(s: Any) -> tuple[Wall, ...]:
    """Bar on its edge: an outstand from the panel; on its flat: overhangs of a middle row of fasteners."""
    w, h = float(s.width), float(s.height)
    if h > w:
        return (Wall("upright bar", h, w, "one", 0.0, 1.0),)
    return (Wall("foot", 0.5 * w, h, "one", 0.0, 0.0, on_panel=True),)


_SHAPES: dict[str, Callable[[Any], tuple[Wall, ...]]] = {
    "tube": _tube,
    "angle": _angle,
    "tee": _tee,
    "channel": _channel,
    "hat": _hat,
    "flat": _flat,
}
