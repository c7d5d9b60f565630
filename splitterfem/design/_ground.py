"""The panel as an area: whether it is sound, and whether something lies on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import shapely

from splitterfem import curves
from splitterfem.curves import in_mm
from splitterfem.design._finding import Finding
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.panel import Panel

TOUCH = 1e-6
"""Distance within which something on an edge still counts as on the panel, m."""

LARGEST = 10.0
SMALLEST = 0.02


@dataclass(frozen=True)
class Ground:
    """Areas of a sound panel (m).

    Attributes
    ----------
    whole : shapely.Polygon
        Inside the outline.
    holes : dict of str to shapely.Polygon
        Openings by name.
    net : shapely.Polygon
        Outline less openings.
    roomy : shapely.Polygon
        The same, wider by the touching distance.
    """

    whole: Any
    holes: dict[str, Any]
    net: Any
    roomy: Any

    def holds(self, shape: Any) -> bool:
        """Tell whether a shape lies on the panel."""
        return bool(self.roomy.covers(shape))

    def where_off(self, shape: Any) -> tuple[str, tuple[float, float]]:
        """Say what a shape that is not wholly on the panel runs over, and where (m)."""
        off = shapely.difference(shape, self.roomy)
        place = first_point(off)
        for name, hole in self.holes.items():
            if hole.intersects(off):
                return f"over the opening '{name}'", first_point(hole.intersection(off))
        return "past the edge of the panel", place


def close_pairs(shapes: list[Any], distance: float) -> Iterator[tuple[int, int]]:
    """Iterate over the pairs (i, j), i < j, of shapes that are no further apart than a distance (m)."""
    if len(shapes) > 1:
        tree = shapely.STRtree(shapes)
        for i, j in tree.query(shapes, predicate="dwithin", distance=distance).T:
            if i < j:
                yield int(i), int(j)


def first_point(shape: Any) -> tuple[float, float]:
    """Return a point of a shape: the first of a line, the middle of an area or one inside it (m)."""
    part = shape.geoms[0] if hasattr(shape, "geoms") else shape
    if part.geom_type == "LineString":
        point = shapely.Point(part.coords[0])
    else:
        point = part.centroid if part.contains(part.centroid) else part.representative_point()
    return round(float(point.x), 9) + 0.0, round(float(point.y), 9) + 0.0  # and no -0.0


def area_of(loop: curves.Loop, tolerance: float) -> tuple[Any, tuple[float, float] | None]:
    """Return the polygon of a loop and None, or None and the place where it crosses itself (m)."""
    corners = curves.flatten(loop, tolerance)
    if len(corners) < 3:
        return None, (float(corners[0, 0]), float(corners[0, 1]))
    shape = shapely.Polygon(corners)
    if shape.is_valid and shape.area > 0.0:
        return shape, None
    reason = shapely.is_valid_reason(shape)
    try:
        x, y = reason[reason.index("[") + 1 : reason.index("]")].split()[:2]
        return None, (float(x), float(y))
    except ValueError:
        return None, (float(corners[0, 0]), float(corners[0, 1]))


def survey(panel: Panel, tolerance: float, findings: list[Finding]) -> Ground | None:
    """Look at outline and openings; return the areas, or None when the panel is not sound.

    Parameters
    ----------
    panel : Panel
        What to look at.
    tolerance : float
        Between curves and their chords (m).
    findings : list of Finding
        What is found is added here.
    """
    if ("ground", tolerance) not in panel.kept:
        found: list[Finding] = []
        panel.kept["ground", tolerance] = _survey(panel, tolerance, found), tuple(found)
    ground, said = panel.kept["ground", tolerance]
    findings += said
    return cast("Ground | None", ground)


def _survey(panel: Panel, tolerance: float, findings: list[Finding]) -> Ground | None:
    whole = _sound(panel.outline.loop(), tolerance, "outline", "panel.outline", findings)
    if whole is None:
        return None
    holes = dict[str, Any]()
    for name, loop in panel.holes():
        hole = _sound(loop, tolerance, "cutout", f"panel.cutouts.{name}", findings)
        if hole is not None:
            holes[name] = hole
    findings += [*_size(whole), *_openings(whole, holes)]
    if findings:
        return None
    net = shapely.difference(whole, shapely.union_all(list(holes.values()))) if holes else whole
    return Ground(whole, holes, net, net.buffer(TOUCH, join_style="mitre"))


def _sound(loop: curves.Loop, tolerance: float, what: str, path: str, findings: list[Finding]) -> Any:
    """Return the polygon of a loop; None, and a finding, when it makes none."""
    try:
        shape, crossing = area_of(loop, tolerance)
        empty = len(curves.flatten(loop, tolerance)) < 3
    except DesignError as problem:
        too_fine = "larger tolerance" in str(problem)
        findings.append(Finding("curve", "error", "mesh.chord" if too_fine else path, None, str(problem)))
        return None
    if crossing is not None:
        text = f"crosses or touches itself at {in_mm(crossing)} mm; let edges meet only at their ends"
        if empty:
            text = f"encloses nothing at {in_mm(crossing)} mm; give it at least three corners, or an arc"
        findings.append(Finding(f"{what}-crosses", "error", path, crossing, text))
    return shape


def _size(whole: Any) -> Iterator[Finding]:
    """Find a panel of the size of a house or a coin, which a forgotten unit makes."""
    x0, y0, x1, y1 = whole.bounds
    for extent, axis in ((x1 - x0, "x"), (y1 - y0, "y")):
        if not SMALLEST <= extent <= LARGEST:
            text = (
                f"measures {1e3 * extent:.6g} mm along {axis}; give one between {1e3 * SMALLEST:g} mm and "
                f"{1e3 * LARGEST:g} mm (a number without a unit is in metres)"
            )
            yield Finding("panel-size", "error", "panel.outline", None, text)


def _openings(whole: Any, holes: dict[str, Any]) -> Iterator[Finding]:
    """Find openings outside the outline, over its edge, or over another."""
    for name, hole in holes.items():
        path = f"panel.cutouts.{name}"
        if not whole.intersects(hole):
            place = first_point(hole)
            text = f"lies outside the panel at {in_mm(place)} mm; move it inside the outline"
            yield Finding("cutout-outside", "error", path, place, text)
        elif not whole.covers(hole) or hole.distance(whole.exterior) < TOUCH:
            off = shapely.difference(hole, whole)
            place = first_point(
                off if not off.is_empty else shapely.intersection(hole, whole.exterior.buffer(TOUCH))
            )
            text = (
                f"runs over the edge of the panel at {in_mm(place)} mm; move it in, or draw it in the outline"
            )
            yield Finding("cutout-over-edge", "error", path, place, text)
    names = list(holes)
    for a, b in close_pairs(list(holes.values()), TOUCH):
        place = first_point(holes[names[a]].buffer(TOUCH).intersection(holes[names[b]]))
        text = f"overlaps the opening '{names[b]}' at {in_mm(place)} mm; move one, or draw one opening"
        yield Finding("cutouts-overlap", "error", f"panel.cutouts.{names[a]}", place, text)
