"""Distances of fasteners to the edges of the panel, outline and openings alike, against the least ones.

An edge is loaded where the fastener pushes the panel towards it. The angle of the rules is that between the force
and the edge.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.fasteners import EdgeDistances, bolt_distances, nail_distances
from splitterfem.strength.row import Basis, Check

Array = NDArray[np.float64]
Rule = Callable[[float], EdgeDistances]
"""Least distances for an angle between force and edge in rad."""

MODE = "distance to the edge of the panel"

THIN_SCREW = 6e-3
"""Screws up to this diameter follow the rules of nails, thicker ones those of bolts (EN 1995-1-1 8.7.1), m."""

METAL_EDGE = 1.5
"""Least distance from the middle of a bolt, screw or rivet in metal to an edge, over its diameter."""

METAL_SOURCE = "Aluminum Design Manual, least edge distance of fasteners, from memory"

LOADED = 1e-6
"""Share of a force towards an edge from which the edge counts as loaded."""


@dataclass(frozen=True)
class EdgeDistance:
    """The place of a fastener that is nearest to an edge, measured by what is needed there.

    Attributes
    ----------
    number : int
        Of the fastener.
    needed, actual : float
        m.
    loaded : bool
        The edge is one towards which the fastener pushes.
    """

    number: int
    needed: float
    actual: float
    loaded: bool


def wood_rule(kind: str, diameter: float) -> tuple[Rule, str, str]:
    """Rule of EN 1995-1-1 for a kind of fastener in plywood, its source, and what to know beside it.

    Parameters
    ----------
    kind : str
        bolt, bolts, screws or rivets.
    diameter : float
        m.
    """
    if kind == "rivets" or (kind == "screws" and diameter <= THIN_SCREW + 1e-9):
        found = nail_distances(diameter, 0.0)
        note = "rivets by the rule of nails (common practice, no source)" if kind == "rivets" else ""
        return (lambda angle: nail_distances(diameter, angle)), found.source, note
    note = (
        "rule of edges; that of ends across the grain is made for solid wood and not for cross-banded plywood"
    )
    return (lambda angle: bolt_distances(diameter, angle)), bolt_distances(diameter, 0.0).source, note


def metal_rule(diameter: float) -> Rule:
    """Rule for fasteners in metal: ``1.5 d`` to every edge."""
    positive("Fastener", diameter=diameter)
    least = METAL_EDGE * diameter
    found = EdgeDistances(least, least, least, METAL_SOURCE)
    return lambda angle: found


def worst_distance(
    polygon: shapely.Polygon,
    places: ArrayLike,
    pushes: ArrayLike,
    *,
    rule: Rule,
    both_ways: bool = False,
) -> EdgeDistance:
    """Fastener whose distance to an edge is the smallest share of what is needed.

    Parameters
    ----------
    polygon : shapely.Polygon
        The panel in plan, m.
    places : array_like, shape (n, 2)
        Middles of the fasteners, m.
    pushes : array_like, shape (n, 2)
        Direction in which each pushes the panel, of any length; zero for none.
    rule : callable
        Least distances for an angle between force and edge.
    both_ways : bool
        Each may push either way along its direction.

    Raises
    ------
    DesignError
        If there is no fastener, or one does not lie on the panel.
    """
    at, push = np.asarray(places, dtype=np.float64), np.asarray(pushes, dtype=np.float64)
    if len(at) == 0:
        raise DesignError("No fastener has a distance to an edge; give at least one.")
    off = np.flatnonzero(~shapely.covers(polygon, shapely.points(at)))
    if len(off):
        x, y = 1e3 * at[off[0]]
        raise DesignError(f"a fastener at ({x:.1f}, {y:.1f}) mm lies off the panel; move it inwards.")
    starts, ends = _sides(polygon)
    found = [
        _nearest(number, at[number], push[number], starts=starts, ends=ends, rule=rule, both_ways=both_ways)
        for number in range(len(at))
    ]
    return max(found, key=lambda one: one.needed / one.actual)


def edge_check(
    found: EdgeDistance, *, part: str, kind: str, at: ArrayLike, source: str, basis: Basis, note: str
) -> Check:
    """Least distance to an edge against the actual one; no load enters.

    Parameters
    ----------
    found : EdgeDistance
    part, kind : str
        Of the part.
    at : array_like, shape (2,)
        Of the fastener, m.
    source, basis, note : str
        Of the rule.
    """
    x, y = (float(value) for value in np.asarray(at, dtype=np.float64)[:2])
    check = Check(
        part=part,
        kind=kind,
        x=x,
        y=y,
        mode=MODE,
        demand=found.needed,
        demand_unit="m",
        allowable=found.actual,
        ratio=found.needed / found.actual,
        basis=basis,
        source=source,
        note="loaded edge" if found.loaded else "edge without load",
    )
    return check if not note else replace(check, note=f"{check.note}; {note}")


def _sides(polygon: shapely.Polygon) -> tuple[Array, Array]:
    """Return the ends (m, 2) of all straight sides of a polygon and of its openings."""
    shapes = getattr(polygon, "geoms", [polygon])
    rings = [np.asarray(ring.coords)[:, :2] for one in shapes for ring in (one.exterior, *one.interiors)]
    starts, ends = np.vstack([ring[:-1] for ring in rings]), np.vstack([ring[1:] for ring in rings])
    real = np.any(starts != ends, axis=1)
    return starts[real], ends[real]


def _nearest(
    number: int, at: Array, push: Array, *, starts: Array, ends: Array, rule: Rule, both_ways: bool
) -> EdgeDistance:
    """Find the side of the panel that one fastener stands nearest to, measured by what it needs there."""
    along = ends - starts
    share = np.clip(np.sum((at - starts) * along, axis=1) / np.sum(along**2, axis=1), 0.0, 1.0)
    away = starts + share[:, None] * along - at
    distance = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-9)
    size = float(np.hypot(*push))
    towards = away @ push / distance / size if size > 0.0 else np.zeros(len(distance))
    if both_ways:
        towards = np.abs(towards)
    best = EdgeDistance(number, 1e-12, 1.0, loaded=False)
    for loaded, most in ((False, rule(0.0).unloaded_edge), (True, rule(0.5 * np.pi).loaded_edge)):
        which = np.flatnonzero((towards > LOADED) == loaded)
        for i in which[np.argsort(distance[which])]:
            if most / distance[i] <= best.needed / best.actual:
                break  # all others are farther off
            limits = rule(float(np.arcsin(min(1.0, max(0.0, towards[i])))))
            needed = limits.loaded_edge if loaded else limits.unloaded_edge
            if needed / distance[i] > best.needed / best.actual:
                best = EdgeDistance(number, needed, float(distance[i]), loaded)
    return best
