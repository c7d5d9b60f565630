"""Ribs and supports in the plan view, to scale where they have a size, and the legend of their marks."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Any, TypeVar

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.path import Path
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Bolt, LoadCase, Pin, PointForce, Rib, Splitter, Stop, Strut
from splitterfem.design.parts import Part
from splitterfem.output import style
from splitterfem.output.planview import CHORD, page
from splitterfem.output.style import Scale

Array = NDArray[np.float64]
P = TypeVar("P", bound=Part)

TIP_TO_TIP = Path([(-1, 1), (1, 1), (-1, -1), (1, -1), (-1, 1)], closed=True)
"""Two triangles that touch with their tips."""

MARKERS = {"strut": "o", "bolt": "h", "pin": "D", "stop": TIP_TO_TIP}
MARKER_SIZE = 7.0

TAUT: dict[str, Any] = {"linestyle": "-", "linewidth": 2.4, "solid_capstyle": "round"}
SLACK: dict[str, Any] = {"linestyle": (0, (1.0, 1.3)), "linewidth": 1.8}
"""Lines of struts that carry, and of those that carry nothing."""

LETTER, MARK = 0.53, 4.4
"""Width of a letter of a legend, and of a mark with the room round it, over the size of the type."""
USUAL_WIDTH, USUAL_WORD = 7.9, 18
"""Inches that a legend has in a picture of usual width, and letters of an entry of which nothing is known yet."""

STRUT_LINE = 0.12
"""Length in m, in plan, of the line from a strut's foot towards its head, unless the head is nearer."""


def draw_ribs(ax: Axes, splitter: Splitter, scale: Scale) -> None:
    """Draw every rib as wide as its foot; dashed when it lies under the panel."""
    for rib in halves(splitter.ribs):
        ax.add_artist(
            Polygon(
                page(rib_area(rib), scale),
                zorder=5,
                gid=f"rib {rib.name}",
                **_rib_look(rib.side),
            )
        )


def rib_area(rib: Rib) -> Array:
    """Corners (n, 2) in m of the area that a rib's foot covers."""
    line = shapely.LineString(rib.points)
    width = rib.section.properties().span
    return np.asarray(line.buffer(0.5 * width, cap_style="flat", join_style="mitre").exterior.coords)


def _rib_look(side: str) -> dict[str, Any]:
    above = side == "above"
    return {
        "facecolor": (*_rgb(style.METAL), 0.55 if above else 0.25),
        "edgecolor": style.INK,
        "linewidth": 1.0,
        "linestyle": "-" if above else (0, (3, 2)),
    }


def _rgb(colour: str) -> tuple[float, float, float]:
    return tuple(int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))  # type: ignore[return-value]


def draw_supports(ax: Axes, splitter: Splitter, scale: Scale, *, slack: Collection[str] = ()) -> None:
    """Draw struts with a line towards their heads, bolts, pins and stops as marks, rear pockets to scale.

    Struts that are named in `slack` get a dotted line.
    """
    for pocket in halves(splitter.pockets):
        x0, y0, x1, y1 = pocket.bounds
        corners = page([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], scale)
        ax.add_artist(Polygon(corners, zorder=6, gid=f"rear pocket {pocket.name}", **_POCKET_LOOK))
    for strut in halves(splitter.struts):
        line = page([strut.foot, towards_head(strut)], scale)
        look = SLACK if strut.name in slack else TAUT
        ax.plot(*line.T, color=style.INK, zorder=7, gid=f"strut line {strut.name}", **look)
        _mark(ax, page([strut.foot], scale), "strut", strut.name)
    for kind, parts in at_points(splitter).items():
        for part in halves(parts):
            if isinstance(part, Pin) and part.slot is not None:
                along = 0.02 * np.array([math.cos(part.slot), math.sin(part.slot)])
                ends = page([np.asarray(part.at) - along, np.asarray(part.at) + along], scale)
                ax.plot(*ends.T, color=style.INK, linewidth=1.4, zorder=7, gid=f"slot {part.name}")
            _mark(ax, page([part.at], scale), kind, part.name)


def at_points(splitter: Splitter) -> dict[str, tuple[Bolt | Pin | Stop, ...]]:
    """Supports that are drawn as a mark alone, by kind."""
    return {"bolt": splitter.bolts, "pin": splitter.pins, "stop": splitter.stops}


def draw_forces(ax: Axes, case: LoadCase, scale: Scale) -> None:
    """Draw the area on which each force of a load case acts, dashed, to scale."""
    for number, corners in enumerate(force_areas(case, scale), start=1):
        ax.add_artist(Polygon(corners, zorder=8, gid=f"force {number}", **_FORCE_LOOK))


def force_areas(case: LoadCase, scale: Scale) -> list[Array]:
    """Corners (n, 2) on the page of the area of each force."""
    loops = [
        force.pad.loop((float(force.at[0]), float(force.at[1])))
        if isinstance(force, PointForce)
        else force.area_shape.outline().loop()
        for force in case.forces
    ]
    return [page(curves.flatten(loop, CHORD), scale) for loop in loops]


def covered(
    splitter: Splitter, case: LoadCase, scale: Scale, worst: tuple[float, float], per_point: float
) -> shapely.Geometry:
    """Everything in the picture that numbers on contour lines keep clear of, on the page.

    Parameters
    ----------
    splitter : Splitter
    case : LoadCase
    scale : Scale
    worst : tuple of float
        Place (x, y) in m of the point that is called out.
    per_point : float
        Length on the page that a typographic point covers.
    """
    outline = shapely.LinearRing(page(curves.flatten(splitter.panel.outline.loop(), CHORD), scale))
    holes = [shapely.Polygon(page(curves.flatten(loop, CHORD), scale)) for _, loop in splitter.panel.holes()]
    ribs = [shapely.Polygon(page(rib_area(rib), scale)) for rib in halves(splitter.ribs)]
    pockets = [
        shapely.Polygon(page([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], scale))
        for x0, y0, x1, y1 in (pocket.bounds for pocket in halves(splitter.pockets))
    ]
    struts = [
        shapely.LineString(page([strut.foot, towards_head(strut)], scale)).buffer(1.2 * per_point)
        for strut in halves(splitter.struts)
    ]
    at = [
        *(strut.foot for strut in halves(splitter.struts)),
        *(part.at for parts in at_points(splitter).values() for part in halves(parts)),
    ]
    points = shapely.points(page([*at, worst], scale))
    marks = shapely.buffer(points, 0.7 * MARKER_SIZE * per_point).tolist()
    forces = [shapely.Polygon(corners) for corners in force_areas(case, scale)]
    return shapely.union_all([outline, *holes, *ribs, *pockets, *struts, *marks, *forces])


def towards_head(strut: Strut) -> tuple[float, float]:
    """Point (x, y) in m on the plan of a strut, a short way from its foot towards its head."""
    dx, dy = strut.head[0] - strut.foot[0], strut.head[1] - strut.foot[1]
    distance = math.hypot(dx, dy)
    share = min(1.0, STRUT_LINE / distance) if distance > 0.0 else 0.0
    return strut.foot[0] + share * dx, strut.foot[1] + share * dy


_POCKET_LOOK: dict[str, Any] = {
    "facecolor": (1.0, 1.0, 1.0, 0.6),
    "edgecolor": style.INK,
    "hatch": "xxxx",
    "linewidth": 1.2,
}


_FORCE_LOOK: dict[str, Any] = {
    "facecolor": (1.0, 1.0, 1.0, 0.5),
    "edgecolor": style.INK,
    "linestyle": (0, (2, 1.5)),
    "linewidth": 1.4,
}


def mark_look(kind: str) -> dict[str, Any]:
    """How a support is drawn that has a mark."""
    return {
        "marker": MARKERS[kind],
        "markersize": MARKER_SIZE * (1.4 if kind == "stop" else 1.0),  # else nothing is seen inside
        "markerfacecolor": style.PAPER,
        "markeredgecolor": style.INK,
        "markeredgewidth": 1.4 if kind == "stop" else 1.6,
        "linestyle": "none",
    }


def _mark(ax: Axes, at: Array, kind: str, name: str) -> None:
    ax.plot(at[:, 0], at[:, 1], zorder=8, gid=f"{kind} {name}", **mark_look(kind))


def legend_entries(splitter: Splitter, case: LoadCase | None = None) -> list[tuple[Artist, str]]:
    """Return a mark and a word for each kind of part that the splitter has, and for forces of a case."""
    words = {"above": "rib", "below": "rib under the panel"}
    entries: list[tuple[Artist, str]] = [
        (Patch(**_rib_look(side)), word)
        for side, word in words.items()
        if any(rib.side == side for rib in splitter.ribs)
    ]
    if splitter.struts:
        look = mark_look("strut") | TAUT | {"color": style.INK}
        entries.append((Line2D([], [], **look), "strut, line towards its head"))
    for kind, parts in at_points(splitter).items():
        if parts:
            entries.append((Line2D([], [], **mark_look(kind)), kind))
    if splitter.pockets:
        entries.append((Patch(**_POCKET_LOOK), "rear pocket"))
    if splitter.panel.cutouts:
        entries.append((Patch(facecolor=style.PAPER, edgecolor="#b5b5b5", hatch="///"), "cut-out"))
    if case is not None and case.forces:
        entries.append((Patch(**_FORCE_LOOK), "force"))
    return entries


def legend_rows(
    splitter: Splitter, case: LoadCase | None, more: int | Sequence[tuple[Artist, str]], *, hint: bool = True
) -> int:
    """Rows of the legend of a picture of usual width, with entries behind those of the parts, and with its hint.

    Parameters
    ----------
    splitter : Splitter
    case : LoadCase or None
        Whose forces are explained.
    more : int or sequence of (Artist, str)
        The further entries, or how many there are.
    hint : bool
        Whether a sentence stands over the marks.
    """
    further = ["x" * USUAL_WORD] * more if isinstance(more, int) else [word for _, word in more]
    words = [*(word for _, word in legend_entries(splitter, case)), *further]
    return -(-len(words) // legend_columns(words, USUAL_WIDTH)) + int(hint) if words else int(hint)


def legend_columns(words: Sequence[str], width: float) -> int:
    """Most columns in which a legend fits into a width in inches; it is filled column by column."""
    each = [(LETTER * len(word) + MARK) * style.SMALL / 72.0 for word in words]
    for columns in range(len(words), 1, -1):
        rows = -(-len(words) // columns)
        if sum(max(each[start : start + rows]) for start in range(0, len(each), rows)) <= width:
            return columns
    return 1


def draw_legend(
    ax: Axes,
    splitter: Splitter,
    case: LoadCase | None = None,
    *,
    more: Sequence[tuple[Artist, str]] = (),
    hint: str = "",
) -> None:
    """Put a legend of the marks under the picture, `more` behind those of the parts, under a sentence of hint."""
    entries = [*legend_entries(splitter, case), *more]
    figure = ax.get_figure(root=True)
    if entries and figure is not None:
        words = [word for _, word in entries]
        width = ax.get_position().width * figure.get_figwidth()
        ax.legend(
            [mark for mark, _ in entries],
            words,
            title=hint or None,
            title_fontproperties={"size": style.SMALL},
            loc="upper center",
            bbox_to_anchor=(0.5, 0.0),
            bbox_transform=ax.transAxes + ScaledTranslation(0.0, -0.5, figure.dpi_scale_trans),
            ncols=legend_columns(words, max(USUAL_WIDTH, 0.98 * width) if width > 4.5 else width),
            frameon=False,
            fontsize=style.SMALL,
            handlelength=2.0,
            columnspacing=1.4,
        )


def halves(parts: tuple[P, ...]) -> list[P]:
    """Parts with every mirrored pair as two."""
    return [half for part in parts for half in part.sides()]
