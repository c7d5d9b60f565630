"""Marks of what a panel touches, in plan view: lips of rear pockets, stops, the ground."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
import shapely.ops
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.groundcontact import GroundPatch
from splitterfem.output import style
from splitterfem.output.contact_words import slack
from splitterfem.output.planparts import SLACK, halves, mark_look, rib_area
from splitterfem.output.planview import page
from splitterfem.output.style import Scale
from splitterfem.output.wording import words_for

Array = NDArray[np.float64]

LIPS = {"upper lip": "^", "lower lip": "v"}
"""Marks of the stretches of a pocket's lips that the panel pushes against."""

HALVES = {
    "above": Path([(-1, 1), (1, 1), (0, 0), (-1, 1)], closed=True),
    "below": Path([(-1, -1), (1, -1), (0, 0), (-1, -1)], closed=True),
}
"""Half of a stop's mark that is filled where the panel touches it."""

SMALLEST = 4.0
"""Radius in points of the smallest patch of ground that is drawn; smaller ones are drawn as large."""

HALO = [withStroke(linewidth=3.0, foreground=style.PAPER)]

GROUND_LOOK: dict[str, Any] = {
    "facecolor": (1.0, 1.0, 1.0, 0.75),
    "edgecolor": style.INK,
    "hatch": "\\\\\\\\\\\\",
    "linewidth": 1.6,
}


def draw_contacts(ax: Axes, solution: Solution, scale: Scale, per_point: float) -> None:
    """Mark closed lips, touched stops, and what lies on the ground with its force.

    Slack struts are up to :func:`splitterfem.output.planparts.draw_supports`.

    Parameters
    ----------
    ax : Axes
        Of a plan view.
    solution : Solution
    scale : Scale
    per_point : float
        Length on the page that a typographic point covers.
    """
    table = solution.contacts
    for touched, look in _looks().items():
        rows = table[(table["touches"] == touched) & (table["fz_N"] != 0.0)]
        if len(rows):
            at = page(1e-3 * rows[["x_mm", "y_mm"]].to_numpy(dtype=float), scale)
            ax.plot(*at.T, zorder=8.5, gid=f"touches {touched}", **look)
    for number, (patch, area) in enumerate(ground_areas(solution, scale, per_point), start=1):
        ax.add_artist(PathPatch(_path(area), zorder=6.5, gid=f"ground {number}", **GROUND_LOOK))
        _write_force(ax, patch, area, scale)


def _looks() -> dict[str, dict[str, Any]]:
    """How closed lips and touched stops are drawn, by what is touched."""
    lip: dict[str, Any] = {
        "markersize": 7.5,
        "markerfacecolor": style.INK,
        "markeredgecolor": style.PAPER,
        "markeredgewidth": 1.0,
        "linestyle": "none",
    }
    stop = mark_look("stop")
    return {name: lip | {"marker": marker} for name, marker in LIPS.items()} | {
        name: stop | {"marker": half, "markerfacecolor": style.INK} for name, half in HALVES.items()
    }


def _write_force(ax: Axes, patch: GroundPatch, area: shapely.Geometry, scale: Scale) -> None:
    """Write the force of the ground beside a patch, towards the middle of the panel."""
    words = words_for("us" if scale.unit == "in" else "metric")
    left, low, right, _ = area.bounds
    on_left = patch.at[1] > 0.0
    ax.annotate(
        words.with_unit(patch.force, words.force, 0),
        xy=(left if on_left else right, 0.5 * (low + area.bounds[3])),
        xytext=(6, 0) if on_left else (-6, 0),
        textcoords="offset points",
        ha="left" if on_left else "right",
        va="center",
        fontsize=style.TEXT,
        fontweight="bold",
        color=style.INK,
        zorder=9.0,
        annotation_clip=False,
        gid="ground force",
        path_effects=HALO,
    )


def ground_areas(
    solution: Solution, scale: Scale, per_point: float
) -> list[tuple[GroundPatch, shapely.Geometry]]:
    """Return what lies on the ground with its area on the page, widened where nobody would see it."""
    found = []
    for patch in solution.ground.patches:
        area = _under_panel(solution, patch) if patch.under == "panel" else _under_rib(solution, patch)
        shown = shapely.transform(area, lambda corners: page(corners, scale))
        least = SMALLEST * per_point
        if shown.area < math.pi * least**2:
            shown = shapely.union(shown, shapely.Point(page([patch.at], scale)[0]).buffer(least))
        found.append((patch, shown))
    return found


def _under_panel(solution: Solution, patch: GroundPatch) -> shapely.Geometry:
    space = solution.model.panel.space
    corners = space.points.T[space.triangles[:, patch.elements].T]
    return shapely.union_all(shapely.polygons(corners))


def _under_rib(solution: Solution, patch: GroundPatch) -> shapely.Geometry:
    """Stretches of a rib's foot that touch."""
    places, response = solution.model.ground, solution.response
    (rib,) = [rib for rib in halves(solution.model.design.ribs) if rib.name == patch.under]
    touching = np.flatnonzero((response.ground > 0.0) & (np.array(places.under) == patch.under))
    line = shapely.LineString(rib.points)
    middles = shapely.line_locate_point(line, shapely.points(places.x[touching], places.y[touching]))
    half = 0.5 * places.size[touching]
    reach = 0.5 * rib.section.properties().span
    pieces = [
        shapely.ops.substring(line, float(s - h), float(s + h)).buffer(reach, cap_style="flat")
        for s, h in zip(middles, half, strict=True)
    ]
    return shapely.intersection(shapely.union_all(pieces), shapely.Polygon(rib_area(rib)))


def _path(area: shapely.Geometry) -> Path:
    rings = shapely.get_rings(shapely.get_parts(area))
    return Path.make_compound_path(*(Path(shapely.get_coordinates(r), closed=True) for r in rings))


def contact_entries(solution: Solution) -> list[tuple[Artist, str]]:
    """Return a mark and a word for everything that touches or hangs slack in a load case.

    Parameters
    ----------
    solution : Solution
    """
    table = solution.contacts
    touched = set(table.loc[table["fz_N"] != 0.0, "touches"])
    words = {"upper lip": "pushes on upper lip", "lower lip": "rests on lower lip"}
    words |= {side: f"touches stop {side}" for side in HALVES}
    entries: list[tuple[Artist, str]] = []
    for name, look in _looks().items():
        if name in touched:
            mark: Any = Line2D([], [], **look)
            if name in HALVES:  # the whole mark of a stop with its half
                mark = (Line2D([], [], **mark_look("stop")), mark)
            entries.append((mark, words[name]))
    if slack(solution):
        entries.append((Line2D([], [], color=style.INK, **SLACK), "slack strut"))
    if solution.ground.touches:
        entries.append((Patch(**GROUND_LOOK), "lies on the ground"))
    return entries
