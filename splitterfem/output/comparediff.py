"""Where designs that are compared differ: their sags point by point, and the picture of that."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.patches import Polygon
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from splitterfem import curves
from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.compare import Comparison
from splitterfem.output.comparegrid import Grid, plain_axes, plan_within, write_name
from splitterfem.output.contours import joined
from splitterfem.output.fieldview import Look, Worst, call_out, draw_bar, draw_contours
from splitterfem.output.labels import units_per_point
from splitterfem.output.planparts import covered, draw_ribs, draw_supports
from splitterfem.output.planpicture import to_page
from splitterfem.output.planview import CHORD, Bounds, draw_outline, page
from splitterfem.output.pressureview import outline_path
from splitterfem.output.style import Scale

Mask = NDArray[np.bool_]

NONE = 1e-3
"""Difference over the largest sag below which there is none to speak of."""


def difference(first: Solution, other: Solution) -> tuple[Field, Mask]:
    """How much more one solution sags than another, in m, at the points of the finer mesh.

    Points off the other panel have the difference from its nearest point, so that a picture can be cut along the edge
    of what both have in common; triangles without any point in common are left out.

    Returns
    -------
    Field
    ndarray of bool, shape (n,)
        Whether a point lies on both panels.
    """
    finer, coarser = sorted((first, other), key=lambda one: -one.model.panel.space.n_elements)
    own = joined(finer.sag)
    found = coarser.sag_at(own.x, own.y)
    both: Mask = np.isfinite(found)
    if not both.all():
        near = joined(coarser.sag)
        _, index = cKDTree(np.column_stack([near.x, near.y])).query(np.column_stack([own.x, own.y])[~both])
        found[~both] = near.values[index]
    values = own.values - found if finer is other else found - own.values
    if both.any():
        values = np.clip(values, values[both].min(), values[both].max())
    return Field(own.x, own.y, own.triangles[both[own.triangles].any(axis=1)], values), both


def draw_differences(axes: Axes, comparison: Comparison, grid: Grid, box: Bounds, scale: Scale) -> None:
    """Draw what changed from the first design to each other one, all on one scale."""
    first, *others = comparison.solutions
    found = [difference(first, other) for other in others]
    size = max(solution.max_sag for solution in comparison.solutions)
    known = [field.values[both] for field, both in found if both.any()]
    every = np.concatenate([*known, np.zeros(1)]) * scale.per_metre
    levels = style.contour_levels(every)
    look = Look("", style.SIGNED, float(levels[1] - levels[0]), (float(every.min()), float(every.max())))
    drawn: list[ContourSet] = []
    for index, (other, (field, both)) in enumerate(zip(others, found, strict=True)):
        inner = plan_within(axes, grid.place(index, below=True), other.model.design, box, scale)
        title = f"{comparison.names[index + 1]} less {comparison.names[0]}"
        most = float(np.abs(field.values[both]).max(initial=0.0))
        if most > NONE * abs(size):
            drawn.append(_draw_difference(inner, (first, other), (field, both), look, box, scale))
            write_name(inner, title, "brown sags more, blue less")
        else:
            said = "no difference to speak of" if both.any() else "the panels have no place in common"
            write_name(inner, title, said)
        draw_outline(inner, other.model.design, scale)
        edge = curves.flatten(first.model.design.panel.outline.loop(), CHORD)
        look_of: dict[str, Any] = {"linestyle": (0, (1.0, 1.6)), "linewidth": 1.4, "edgecolor": style.INK}
        inner.add_patch(Polygon(page(edge, scale), fill=False, zorder=4.5, gid="first outline", **look_of))
        draw_ribs(inner, other.model.design, scale)
        draw_supports(inner, other.model.design, scale)
    if drawn:
        cax = plain_axes(axes, grid.bar(below=True))
        draw_bar([axes], drawn[0], levels, f"more sag ({scale.unit})", cax=cax)


def _draw_difference(
    ax: Axes,
    pair: tuple[Solution, Solution],
    found: tuple[Field, Mask],
    look: Look,
    box: Bounds,
    scale: Scale,
) -> ContourSet:
    """Draw one difference, cut along the edge of what both panels have in common, with its largest value."""
    (field, both), other = found, pair[1]
    panels = [one.model.design.panel.polygon(CHORD) for one in pair]
    common = shapely.intersection(*panels)
    off = shapely.difference(shapely.box(*shapely.buffer(common, box.margin).bounds), common)
    most = int(np.argmax(np.where(both, np.abs(field.values), -1.0)))
    at = (float(field.x[most]), float(field.y[most]))
    taken = covered(other.model.design, other.case, scale, at, units_per_point(ax))
    before = set(ax.collections)
    filled = draw_contours(ax, field, look, scale, shapely.union(taken, to_page(off, scale)))
    for collection in set(ax.collections) - before:
        collection.set_clip_path(outline_path(common, scale), transform=ax.transData)
    value = field.values[most]
    call_out(ax, Worst(at, f"{'+' if value > 0.0 else ''}{scale.say(float(value))}"), box, scale)
    return filled
