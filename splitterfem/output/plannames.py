"""Names of parts in the plan view."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from splitterfem.design import Rib, Splitter
from splitterfem.output import style
from splitterfem.output.planparts import at_points
from splitterfem.output.planview import page
from splitterfem.output.style import Scale

Array = NDArray[np.float64]

LONGEST_NAME = 22
"""Letters of a part's name in a picture; the rest is left out."""


def draw_names(ax: Axes, splitter: Splitter, scale: Scale) -> None:
    """Write the names of parts beside them; a mirrored pair is named once, on its given side."""
    for rib in splitter.ribs:
        at, angle = _beside(rib)
        _write(
            ax,
            rib.name,
            page([at], scale)[0],
            rotation=angle,
            ha="center",
            va="bottom",
            rotation_mode="anchor",
        )
    for strut in splitter.struts:
        _write(ax, strut.name, page([strut.foot], scale)[0], xytext=(0, 8), ha="center", va="bottom")
    for fixing in (part for parts in at_points(splitter).values() for part in parts):
        _write(ax, fixing.name, page([fixing.at], scale)[0], xytext=(0, 8), ha="center", va="bottom")
    for pocket in splitter.pockets:
        at = (float(pocket.mouth[0]), float(pocket.mouth[1]))
        _write(ax, pocket.name, page([at], scale)[0], xytext=(0, 3), ha="center", va="bottom")


def _write(ax: Axes, name: str, at: Array, *, xytext: tuple[float, float] = (0.0, 2.0), **where: Any) -> None:
    label = ax.annotate(
        name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "\N{HORIZONTAL ELLIPSIS}",
        xy=(float(at[0]), float(at[1])),
        xytext=xytext,
        textcoords="offset points",
        fontsize=style.SMALL,
        color=style.INK,
        parse_math=False,
        zorder=3.9,  # under the outline and the marks, which its halo must not hide
        gid=f"name {name}",
        path_effects=[withStroke(linewidth=2.5, foreground=style.SHEET)],
        **where,
    )
    label.set_in_layout(False)  # a name that sticks out must not make the picture smaller


def _beside(rib: Rib) -> tuple[tuple[float, float], float]:
    """Point (x, y) in m on a rib's edge that is uppermost on the page, and the angle there in degrees."""
    points = np.asarray(rib.points, dtype=float)
    steps = np.diff(points, axis=0)
    i = int(np.argmax(np.hypot(*steps.T)))
    across, up = -steps[i, 1], steps[i, 0]
    angle = math.atan2(up, across)
    angle = (angle + 0.5 * math.pi - 1e-9) % math.pi - 0.5 * math.pi + 1e-9
    away = 0.5 * rib.section.properties().foot_width
    middle = points[i] + 0.5 * steps[i]
    # on the page the normal of the text is (-sin, cos); abscissa is -y there, so y grows with +sin
    return (
        float(middle[0] + away * math.cos(angle)),
        float(middle[1] + away * math.sin(angle)),
    ), math.degrees(angle)
