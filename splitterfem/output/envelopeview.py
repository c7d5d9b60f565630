"""Plan view of a splitter within the limits of a rulebook, with the worst places called out."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.envelope import CAUTION, EnvelopeCheck, check_envelope
from splitterfem.design import Splitter
from splitterfem.output import style
from splitterfem.output.envelope_words import limit_cells
from splitterfem.output.envelopecallouts import RANK, colour_of, draw_call_outs
from splitterfem.output.envelopelines import LimitLine, limit_lines
from splitterfem.output.origin import sign
from splitterfem.output.picture import new_picture
from splitterfem.output.planview import (
    CHORD,
    Bounds,
    bounds,
    draw_frame,
    draw_outline,
    draw_surroundings,
    page,
)
from splitterfem.output.style import LengthUnit, Scale, scale_of

__all__ = ["plot_envelope"]

Array = NDArray[np.float64]

WIDEST, NARROWEST, HIGHEST = 9.0, 8.0, 7.0
"""Sizes in inches of the plan view of a figure made here."""
ROW = 0.24
"""Height in inches of a row of the table."""
BAND = "#9aa7b8"
_LINE: dict[str, Any] = {"color": style.INK, "linewidth": 1.4, "linestyle": (0, (7, 3))}
_BODY: dict[str, Any] = {"color": style.QUIET, "linewidth": 2.2}
_WORDS = {"measure it": "to be measured"}
_COLUMNS = (0.0, 0.35, 0.52, 0.63, 0.87)
"""Where the columns of the list begin, as shares of the width of the axes."""
FOOT = 0.95
"""Inches from the axes down to the list."""


def plot_envelope(
    splitter: Splitter,
    ax: Axes | None = None,
    *,
    solutions: Solution | Iterable[Solution] = (),
    unit: LengthUnit = "mm",
    title: str | None = None,
    table: bool = True,
) -> Axes:
    """Draw the panel, the bodywork and the limits of the envelope in plan view, and list the verdicts.

    Parameters
    ----------
    splitter : Splitter
        With an envelope.
    ax : Axes, optional
        Where to draw; a new figure when left out. The list takes room below it.
    solutions : Solution or iterable of Solution
        Load cases of this splitter, for limits to clearance under load and to deflection.
    unit : {"mm", "in"}
    title : str, optional
        In place of the name of the splitter and the count of verdicts; empty for none.
    table : bool
        Whether to write the list of all limits under the picture. The caution is there in any case.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    DesignError
        As :func:`splitterfem.analysis.envelope.check_envelope`.
    UnitError
        Another unit.
    """
    scale = scale_of(unit)
    checks = check_envelope(splitter, solutions)
    lines = limit_lines(splitter, checks)
    box = _room(splitter, lines)
    axes = _new_axes(box, len(checks) if table else 0) if ax is None else ax
    draw_frame(axes, splitter, scale)
    _widen(axes, box, scale)
    draw_outline(axes, splitter, scale, fill=style.SHEET)
    _draw_bodywork(axes, splitter, scale)
    for line in lines:
        _draw_limit(axes, line, scale)
    _draw_beyond(axes, splitter, lines, scale)
    draw_call_outs(axes, checks, lines, box, scale)
    draw_surroundings(axes, box, scale)
    _draw_legend(axes, splitter, lines)
    _draw_foot(axes, checks if table else (), scale)
    _write_title(axes, splitter, checks, title)
    sign(axes.get_figure(root=True), splitter)
    return axes


def _room(splitter: Splitter, lines: Sequence[LimitLine]) -> Bounds:
    """Extent of panel and limits together (m)."""
    box = bounds(splitter)
    points = np.concatenate(
        [[(box.rear, box.right), (box.front, box.left)], *(line.points for line in lines)]
    )
    (rear, right), (front, left) = points.min(axis=0), points.max(axis=0)
    return Bounds(float(rear), float(front), float(right), float(left))


def _new_axes(box: Bounds, rows: int) -> Axes:
    """Make axes on a figure of their own, with exactly the room that the list and the caution need."""
    left, right, top = 0.8, 0.3, 0.65
    bottom = FOOT + 0.5 + (ROW * (rows + 1.6) if rows else 0.0)
    ratio = (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin)
    width = float(np.clip(HIGHEST / ratio, NARROWEST, WIDEST))
    whole = (width + left + right, width * ratio + top + bottom)
    axes = new_picture(*whole)
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.set_layout_engine("none")
    axes.set_position((left / whole[0], bottom / whole[1], width / whole[0], width * ratio / whole[1]))
    return axes


def _widen(ax: Axes, box: Bounds, scale: Scale) -> None:
    per = scale.per_metre
    ax.set_xlim((box.left + box.margin) * per, (box.right - box.margin) * per)
    ax.set_ylim((box.rear - box.margin) * per, (box.front + box.margin) * per)


def _draw_bodywork(ax: Axes, splitter: Splitter, scale: Scale) -> None:
    """Draw the line of the bodywork, and its area as a veil over the panel below it."""
    envelope = splitter.envelope
    if envelope is None or envelope.bodywork is None:
        return
    line = envelope.bodywork.line(CHORD)
    rear = min(float(line[:, 0].min()), bounds(splitter).rear)
    behind = np.array([(rear, line[-1, 1]), (rear, line[0, 1])])
    corners = page(np.concatenate([line, behind]), scale)
    ax.add_patch(
        Polygon(corners, facecolor=style.METAL, alpha=0.4, edgecolor="none", zorder=1.5, gid="bodywork area")
    )
    ax.plot(*page(line, scale).T, zorder=4.5, gid="bodywork", **_BODY)


def _draw_limit(ax: Axes, line: LimitLine, scale: Scale) -> None:
    """Draw a limit with its tolerance shaded on both sides, and its name along it."""
    ax.add_patch(
        Polygon(
            page(line.band, scale),
            facecolor=BAND,
            alpha=0.5,
            edgecolor="none",
            zorder=2.5,
            gid=f"tolerance {line.name}",
        )
    )
    points = page(line.points, scale)
    ax.plot(*points.T, zorder=5, gid=f"limit {line.name}", **_LINE)
    ax.annotate(
        line.words(scale),
        xy=tuple(page([line.label_at], scale)[0]),
        xytext=line.offset,
        textcoords="offset points",
        rotation=line.rotation,
        ha=line.ha,
        va=line.va,
        rotation_mode="anchor",
        fontsize=style.SMALL,
        color=style.INK,
        zorder=6,
        annotation_clip=False,
        gid=f"name {line.name}",
    )


def _draw_beyond(ax: Axes, splitter: Splitter, lines: Sequence[LimitLine], scale: Scale) -> None:
    """Colour the parts of the panel that lie past a limit."""
    past = shapely.union_all([shapely.Polygon(line.beyond) for line in lines])
    for part in shapely.get_parts(splitter.panel.polygon(CHORD).intersection(past)):
        if isinstance(part, shapely.Polygon) and part.area > 1e-9:
            corners = page(shapely.get_coordinates(part.exterior), scale)
            ax.add_patch(
                Polygon(
                    corners, facecolor=style.ALARM, alpha=0.45, edgecolor="none", zorder=3.2, gid="beyond"
                )
            )


def _draw_legend(ax: Axes, splitter: Splitter, lines: Sequence[LimitLine]) -> None:
    envelope = splitter.envelope
    assert envelope is not None
    marks: list[tuple[Any, str]] = [
        (Patch(facecolor=style.SHEET, edgecolor=style.INK, linewidth=1.6), "panel")
    ]
    if envelope.bodywork is not None:
        marks.append((Line2D([], [], **_BODY), "bodywork"))
    if lines:
        marks.append((Line2D([], [], **_LINE), "limit, the user's number"))
        marks.append((Patch(facecolor=BAND, alpha=0.5), "tolerance: measure on the car"))
    if any(patch.get_gid() == "beyond" for patch in ax.patches):
        marks.append((Patch(facecolor=style.ALARM, alpha=0.45), "beyond a limit"))
    figure = ax.get_figure(root=True)
    assert figure is not None
    ax.legend(
        [mark for mark, _ in marks],
        [words for _, words in marks],
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        bbox_transform=ax.transAxes + ScaledTranslation(0.0, -0.45, figure.dpi_scale_trans),
        ncols=len(marks) if _width(ax) > 6.0 else 3,
        frameon=False,
        fontsize=style.SMALL,
        handlelength=2.4,
        columnspacing=1.6,
    )


def _width(ax: Axes) -> float:
    """Width of the axes in inches; before layout an estimate."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    return float(ax.get_position().width * figure.get_figwidth())


def _draw_foot(ax: Axes, checks: Sequence[EnvelopeCheck], scale: Scale) -> None:
    """Write the list of limits and the caution under the legend."""
    down = FOOT
    if checks:
        _write_row(ax, ("limit", "allowed", "found", "verdict", f"at x, y ({scale.unit})"), down, bold=True)
    for check in checks:
        down += ROW
        bad = RANK[check.verdict] < RANK["inside"]
        name, *cells = limit_cells(check, scale)
        _write_row(ax, [_cut(ax, name), *cells], down, bold=bad, colour=colour_of(check))
    if checks:
        down += 1.6 * ROW
    letters = int(_width(ax) * 72.0 / (0.6 * style.SMALL))
    _write(
        ax, textwrap.fill(CAUTION, letters), 0.0, down, fontsize=style.SMALL, color=style.QUIET, gid="caution"
    )


def _cut(ax: Axes, name: str) -> str:
    """Shorten the name of a limit to its column."""
    letters = int(_COLUMNS[1] * _width(ax) * 72.0 / (0.6 * style.TEXT))
    return textwrap.shorten(name, letters, placeholder=" …")


def _write_row(ax: Axes, cells: Sequence[str], down: float, *, bold: bool, colour: str = style.INK) -> None:
    for place, text in zip(_COLUMNS, cells, strict=True):
        weight = "bold" if bold else "normal"
        _write(ax, text, place, down, fontsize=style.TEXT, fontweight=weight, color=colour)


def _write(ax: Axes, text: str, place: float, down: float, **look: Any) -> None:
    """Write a text so many inches under the axes, at a share of their width."""
    ax.annotate(
        text,
        xy=(place, 0.0),
        xycoords="axes fraction",
        xytext=(0.0, -72.0 * down),
        textcoords="offset points",
        ha="left",
        va="top",
        parse_math=False,
        annotation_clip=False,
        **look,
    )


def _write_title(ax: Axes, splitter: Splitter, checks: Sequence[EnvelopeCheck], title: str | None) -> None:
    if title == "":
        return
    text = title
    if text is None:
        counts = Counter(check.verdict for check in checks)
        said = [
            f"{counts[verdict]} {_WORDS.get(verdict, verdict)}"
            for verdict in ("outside", "measure it", "inside", "not measured")
            if counts[verdict]
        ]
        second = ["Limits: " + ", ".join(said), *(["invented data"] if splitter.invented else [])]
        text = "\n".join([splitter.name, "; ".join(second)])
    ax.set_title(text, loc="left", fontsize=11, color=style.INK, parse_math=False)
