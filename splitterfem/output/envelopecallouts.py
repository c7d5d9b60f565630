"""Call-outs of the worst places of an envelope, written where they cover nothing that matters."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.axes import Axes
from numpy.typing import NDArray

from splitterfem.analysis.envelope import EnvelopeCheck
from splitterfem.analysis.envelope_plan import FORWARD, REAR, WIDTH
from splitterfem.output import style
from splitterfem.output.envelope_words import distance_words
from splitterfem.output.envelopelines import LimitLine
from splitterfem.output.labels import units_per_point
from splitterfem.output.planview import Bounds, page
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

RANK = {"outside": 0, "measure it": 1, "inside": 2, "not measured": 3}
"""Verdicts, worst first."""

_IN_PLAN = (FORWARD, REAR, WIDTH, "symmetry", "corner radius")
_LETTER = 0.6
_AROUND = np.radians([60.0, 90.0, 75.0, 45.0, 30.0, 0.0, -30.0, -60.0, -90.0, 120.0, 150.0, 180.0])
"""Directions in which a call-out may lie from its place: 0 inward, 90 up the page; the first five are ahead."""
_AWAY = (14.0, 28.0, 48.0, 80.0, 120.0)
"""Its distances from there in points."""


@dataclass(frozen=True)
class CallOut:
    """Text about a place: both in m and points of type.

    Attributes
    ----------
    check : EnvelopeCheck
    text : str
    size : float
        Of the type, in points.
    """

    check: EnvelopeCheck
    text: str

    @property
    def size(self) -> float:
        """Of the type, in points; what is well inside is written small."""
        return style.TEXT if self.check.verdict == "inside" else 11.0

    def box(self) -> tuple[float, float]:
        """Width and height in points, its frame included."""
        rows = self.text.split("\n")
        bold = 1.0 if self.check.verdict == "inside" else 1.1
        width = max(map(len, rows)) * _LETTER * self.size * bold
        return width + 0.8 * self.size, (1.3 * len(rows) + 0.6) * self.size


def colour_of(check: EnvelopeCheck) -> str:
    """Colour of a verdict: alarm outside, ink otherwise."""
    return style.ALARM if check.verdict == "outside" else style.INK


def draw_call_outs(
    ax: Axes, checks: Sequence[EnvelopeCheck], lines: Sequence[LimitLine], box: Bounds, scale: Scale
) -> None:
    """Mark the worst place of each limit in plan view, and of other limits unless they are kept well.

    Parameters
    ----------
    ax : Axes
        With its limits set.
    checks : sequence of EnvelopeCheck
    lines : sequence of LimitLine
        Whose names are to stay readable.
    box : Bounds
        Extent of panel and limits in m.
    scale : Scale
    """
    shown = [check for check in checks if _is_shown(check)]
    shown.sort(key=lambda check: RANK[check.verdict])
    per_point = units_per_point(ax)
    marks = [page([check.at], scale)[0] / per_point for check in shown]
    margin = 0.9 * box.margin * scale.per_metre / per_point
    ends = page([(box.rear, box.right), (box.front, box.left)], scale) / per_point
    sheet = shapely.box(*ends[0], *ends[1])
    ahead = sheet.union(shapely.box(ends[0, 0], ends[1, 1], ends[1, 0], ends[1, 1] + margin))
    taken: list[shapely.Geometry] = [_name_area(line, scale, per_point) for line in lines]
    middle = 0.5 * (box.left + box.right)
    for number, (check, mark) in enumerate(zip(shown, marks, strict=True)):
        others = [shapely.Point(other).buffer(7.0) for k, other in enumerate(marks) if k != number]
        call_out = CallOut(check, f"{check.rule.split(',')[0]}\n{distance_words(check, scale)}")
        inward = 1.0 if check.at[1] > middle else -1.0
        offset, areas = _room(
            call_out, mark, [*taken, *others], ahead if check.rule == FORWARD else sheet, inward
        )
        taken += areas
        if check.rule == FORWARD:
            taken.append(shapely.LineString(page([check.since, check.at], scale) / per_point).buffer(5.0))
        _draw_measure(ax, check, scale)
        _draw(ax, call_out, offset, scale)


def _name_area(line: LimitLine, scale: Scale, per_point: float) -> shapely.Geometry:
    """Area of the name of a limit on a page in points (left, up)."""
    length, size = len(line.words(scale)) * 0.55 * style.SMALL, 1.4 * style.SMALL
    start = {"left": 0.0, "center": -0.5, "right": -1.0}[line.ha] * length
    low = {"bottom": 0.0, "top": -1.0}[line.va] * size
    corners = np.array([(0.0, 0.0), (length, 0.0), (length, size), (0.0, size)])
    corners += np.array([start, low])
    turn = math.radians(line.rotation)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    mirror = np.array([-1.0, 1.0])
    at = page([line.label_at], scale)[0] / per_point
    return shapely.Polygon(at + mirror * (corners @ rotation.T + np.array(line.offset)))


def _is_shown(check: EnvelopeCheck) -> bool:
    where = math.isfinite(check.at[0] + check.distance)
    return where and (check.rule.split(",")[0] in _IN_PLAN or check.verdict in ("outside", "measure it"))


def _room(
    call_out: CallOut,
    mark: Array,
    taken: Sequence[shapely.Geometry],
    sheet: shapely.Geometry,
    inward: float,
) -> tuple[Array, list[shapely.Geometry]]:
    """Find where a call-out covers least of what is taken and of what is off the sheet.

    Returns the offset of its middle in points (right, up), and what it covers on a page in points (left, up).
    """
    width, height = call_out.box()
    covered, half = shapely.union_all(taken), 0.5 * np.array([width, height])
    ahead = call_out.check.rule == FORWARD
    best, least = None, math.inf
    for offset in _offsets(inward, half, ahead=ahead):
        middle = mark + offset * np.array([-1.0, 1.0])
        area, leader = shapely.box(*(middle - half), *(middle + half)), shapely.LineString([mark, middle])
        off = shapely.difference(area, sheet).area
        cost = 10.0 * leader.intersection(covered).length + area.intersection(covered).area + off
        cost += float(np.hypot(*offset))
        if cost < least - 1e-6:
            best, least = (offset, [area, leader.buffer(1.0)]), cost
    assert best is not None
    return best


def _offsets(inward: float, half: Array, *, ahead: bool) -> Iterator[Array]:
    """Offsets of a middle in points to try: what is in front goes ahead of the panel, the rest anywhere."""
    for away in _AWAY:
        for angle in _AROUND[:5] if ahead else _AROUND:
            direction = np.array([inward * math.cos(angle), math.sin(angle)])
            yield direction * (away + half)


def _draw_measure(ax: Axes, check: EnvelopeCheck, scale: Scale) -> None:
    """Draw the distance that was measured ahead of the bodywork as a dimension line."""
    if check.rule != FORWARD or math.dist(check.at, check.since) < 1e-4:
        return
    start, end = page([check.since, check.at], scale)
    ax.annotate(
        "",
        xy=(float(end[0]), float(end[1])),
        xytext=(float(start[0]), float(start[1])),
        arrowprops={
            "arrowstyle": "<|-|>",
            "color": colour_of(check),
            "linewidth": 1.4,
            "mutation_scale": 10,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        annotation_clip=False,
        zorder=9,
        gid="measured forward",
    )


def _draw(ax: Axes, call_out: CallOut, offset: Array, scale: Scale) -> None:
    check, colour = call_out.check, colour_of(call_out.check)
    good = check.verdict == "inside"
    y, x = (float(value) for value in page([check.at], scale)[0])
    ax.plot(
        [y],
        [x],
        marker="o",
        markersize=6 if good else 10,
        markerfacecolor=style.ALARM if check.verdict == "outside" else style.PAPER,
        markeredgecolor=colour,
        markeredgewidth=1.2 if good else 2.6,
        linestyle="none",
        zorder=10,
        clip_on=False,
        gid=f"worst {check.rule}",
    )
    ax.annotate(
        call_out.text,
        xy=(y, x),
        xytext=(float(offset[0]), float(offset[1])),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=call_out.size,
        fontweight="normal" if good else "bold",
        color=colour,
        parse_math=False,
        zorder=11 if good else 12,
        annotation_clip=False,
        gid=f"call-out {check.rule}",
        bbox={
            "boxstyle": "round,pad=0.3",
            "facecolor": style.PAPER,
            "edgecolor": colour,
            "linewidth": 0.7 if good else 1.6,
        },
        arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.9, "shrinkB": 4},
    )
