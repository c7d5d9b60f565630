"""Pictures of a trial as PNG: sag and clearance after each move, slower ones when they are asked for."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from matplotlib import path as mpath
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from splitterfem.api_gain import rib_gain, strut_gain
from splitterfem.api_studies import push_map
from splitterfem.design import Splitter
from splitterfem.design.parts import Part
from splitterfem.errors import DesignError, nearest
from splitterfem.live.places import part_to_move, points_of
from splitterfem.live.trial import Trial
from splitterfem.output import style
from splitterfem.output.contactmarks import contact_entries
from splitterfem.output.picture import plan_axes
from splitterfem.output.planparts import legend_rows
from splitterfem.output.planview import bounds, page
from splitterfem.output.style import LengthUnit, scale_of

QUICK = ("sag", "clearance")
"""Pictures that are drawn anew after each move."""

SLOW = ("push map", "rib gain", "strut gain")
"""Pictures that take seconds; they are drawn when they are asked for."""

CHOSEN = "#0b57d0"
"""Marks the part that is being moved."""

RING = 15.0
"""Size in points of the ring round a support that is being moved."""

RIB = 0.25
"""Length of the ribs that are tried, over the longer side of the panel."""

DPI = 96.0

_BELOW, _ABOVE, _LEFT, _RIGHT = 0.52, 0.5, 0.7, 0.25
"""Inches round the plan view for labels, title and colour bar."""


def picture(trial: Trial, kind: str, *, unit: LengthUnit = "mm", chosen: str | None = None) -> bytes:
    """Draw a trial as it is now.

    Parameters
    ----------
    trial : Trial
    kind : str
        "sag", "clearance", "push map", "rib gain" or "strut gain".
    unit : {"mm", "in"}
    chosen : str, optional
        Name of a part to be marked, with a dashed line where it was when the design was kept last; in pictures of sag
        and clearance.

    Returns
    -------
    bytes
        PNG.  The figure is free when this returns.

    Raises
    ------
    DesignError
        If there is no such picture, or what it shows cannot be computed.
    """
    if kind in SLOW:
        return _png(_SLOW[kind](trial, unit))
    if kind not in QUICK:
        raise DesignError(f"there is no picture '{kind}'; {nearest(kind, (*QUICK, *SLOW))}")
    solution = trial.solution
    rows = legend_rows(trial.quick, solution.case, len(contact_entries(solution)))
    axes = _plain_axes(trial.quick, rows)
    draw = solution.plot_sag if kind == "sag" else solution.plot_clearance
    draw(axes, unit=unit, **_colours(trial, kind, unit))
    if chosen is not None:
        _mark(axes, trial, chosen, unit)
    return _png(axes)


def _plain_axes(splitter: Splitter, rows: int) -> Axes:
    """Make axes at a fixed place of their figure: a layout found anew would cost as much as the drawing."""
    axes = plan_axes(splitter, share=0.84, legend=rows)
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.set_layout_engine("none")
    width, height = figure.get_figwidth(), figure.get_figheight()
    below = _BELOW + 0.24 * rows
    axes.set_position(
        (
            _LEFT / width,
            below / height,
            1.0 - (_LEFT + _RIGHT) / width,
            1.0 - (below + _ABOVE) / height,
        )
    )
    return axes


def _colours(trial: Trial, kind: str, unit: LengthUnit) -> dict[str, Any]:
    """Give the colours of the start to all pictures of a trial, so that the same colour means the same sag."""
    per = scale_of(unit).per_metre
    start = trial.started
    field = start.sag if kind == "sag" else start.clearance.field
    values = per * field.values
    levels = style.contour_levels(values)
    return {"step": float(levels[1] - levels[0]), "span": (float(values.min()), float(values.max()))}


def _mark(axes: Axes, trial: Trial, name: str, unit: LengthUnit) -> None:
    """Mark a part in the colour of the chosen one, and where it was when the design was kept last."""
    part, former = part_to_move(trial.quick, name), part_to_move(trial.kept, name)
    if points_of(part) != points_of(former):
        for half in former.sides():
            _draw_points(axes, half, unit, gid="as kept", linestyle=(0, (2.0, 2.0)))
    for half in part.sides():
        _draw_points(axes, half, unit, gid="chosen", linestyle="-")


def _draw_points(axes: Axes, part: Part, unit: LengthUnit, *, gid: str, linestyle: Any) -> None:
    """Draw a line along a rib, or a ring round the place of a support."""
    corners = page(points_of(part), scale_of(unit))
    look: dict[str, Any] = {"edgecolor": CHOSEN, "facecolor": "none", "linestyle": linestyle, "gid": gid}
    if len(corners) == 1:
        ring = mpath.Path.unit_circle()
        axes.scatter(corners[:, 0], corners[:, 1], s=RING**2, marker=ring, linewidth=1.8, zorder=9, **look)
    else:
        axes.add_patch(PathPatch(mpath.Path(corners), linewidth=2.2, zorder=5.5, **look))


def _push(trial: Trial, unit: LengthUnit) -> Axes:
    return push_map(trial.solution.model, trial.case).plot(unit=unit)


def _rib(trial: Trial, unit: LengthUnit) -> Axes:
    box = bounds(trial.quick)
    length = round(RIB * max(box.length, box.width), 2)
    return rib_gain(trial.solution.model, trial.case, mirror=True).plot(unit=unit, length=length)


def _strut(trial: Trial, unit: LengthUnit) -> Axes:
    return strut_gain(trial.solution.model, trial.case, mirror=True).plot(unit=unit)


_SLOW: dict[str, Callable[[Trial, LengthUnit], Axes]] = {
    "push map": _push,
    "rib gain": _rib,
    "strut gain": _strut,
}


def _png(axes: Axes) -> bytes:
    """Draw the figure of axes as PNG and let go of what it holds."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=DPI)
    figure.clear()
    return stream.getvalue()
