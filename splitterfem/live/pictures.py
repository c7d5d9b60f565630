"""Pictures of a trial as PNG: sag and clearance after each move, slower ones when they are asked for."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import PIL.Image
from matplotlib import path as mpath
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import PathPatch

from splitterfem.api_gain import rib_gain, strut_gain
from splitterfem.api_studies import push_map
from splitterfem.design import Splitter
from splitterfem.design.parts import Part
from splitterfem.errors import DesignError, nearest
from splitterfem.live.places import part_to_move, points_of
from splitterfem.live.trial import Trial
from splitterfem.output import style
from splitterfem.output.fieldpicture import (
    Sight,
    clearance_sight,
    draw_round,
    draw_sight,
    plan_of_sight,
    sag_sight,
)
from splitterfem.output.picture import plan_axes
from splitterfem.output.planparts import legend_rows
from splitterfem.output.planpicture import Manner
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

COMPRESSION = 1
"""Of the PNG, from 0 to 9: more takes longer than the bytes take on their way to a browser."""

_BELOW, _ABOVE, _LEFT, _RIGHT = 0.52, 0.5, 0.7, 0.25
"""Inches round the plan view for labels, title and colour bar."""


@dataclass
class Easel:
    """Draws one trial again and again: what stands round the panel is drawn once and kept as pixels.

    Parameters
    ----------
    trial : Trial
    unit : {"mm", "in"}
    """

    trial: Trial
    unit: LengthUnit = "mm"
    _stages: dict[str, _Stage] = field(default_factory=dict, repr=False)

    def picture(self, kind: str, *, chosen: str | None = None) -> bytes:
        """Draw the trial as it is now.

        Parameters
        ----------
        kind : str
            "sag", "clearance", "push map", "rib gain" or "strut gain".
        chosen : str, optional
            Name of a part to be marked, with a dashed line where it was when the design was kept last; in pictures of
            sag and clearance.

        Returns
        -------
        bytes
            PNG.

        Raises
        ------
        DesignError
            If there is no such picture, or what it shows cannot be computed.
        """
        if kind in SLOW:
            return _png(_SLOW[kind](self.trial, self.unit))
        if kind not in QUICK:
            raise DesignError(f"there is no picture '{kind}'; {nearest(kind, (*QUICK, *SLOW))}")
        sight = self._sight(kind)
        if kind not in self._stages or not self._stages[kind].fits(sight):
            self._stages.pop(kind, None)  # the former one is free before there is another
            self._stages[kind] = _Stage(sight, self.unit)
        stage = self._stages[kind]
        return stage.png(sight, lambda axes: _mark(axes, self.trial, chosen, self.unit))

    def _sight(self, kind: str) -> Sight:
        """See a field in the colours of the start, so that the same colour means the same in all pictures."""
        scale, started = scale_of(self.unit), self.trial.started
        shown = started.sag if kind == "sag" else started.clearance.field
        values = scale.per_metre * shown.values
        levels = style.contour_levels(values)
        step, span = float(levels[1] - levels[0]), (float(values.min()), float(values.max()))
        see = sag_sight if kind == "sag" else clearance_sight
        return see(self.trial.solution, scale, step=step, span=span)


class _Stage:
    """Axes with all that does not change from move to move, as pixels."""

    def __init__(self, sight: Sight, unit: LengthUnit) -> None:
        design = sight.solution.model.design
        axes = _plain_axes(design, legend_rows(design, sight.solution.case, len(sight.entries())))
        self._plan = plan_of_sight(sight, Manner(unit=unit), axes)
        self._meaning = self._key(sight)
        bare = set(axes.get_children())
        draw_sight(self._plan, sight)
        changing = set(axes.get_children()) - bare
        draw_round(self._plan, sight)
        for artist in changing:
            artist.remove()
        figure = axes.get_figure(root=True)
        assert figure is not None
        figure.set_dpi(DPI)
        self._canvas = FigureCanvasAgg(figure)
        self._canvas.draw()  # type: ignore[no-untyped-call]
        self._ground = self._canvas.copy_from_bbox(figure.bbox)  # type: ignore[no-untyped-call]
        self._standing = set(axes.get_children())

    def fits(self, sight: Sight) -> bool:
        """Whether what stands round the panel is right for a sight."""
        return self._key(sight) == self._meaning

    def png(self, sight: Sight, mark: Callable[[Axes], None]) -> bytes:
        """Draw what changes over what stands, and marks over that."""
        axes, canvas = self._plan.ax, self._canvas
        try:
            draw_sight(replace(self._plan, splitter=sight.solution.model.design), sight, bar=False)
            mark(axes)
            canvas.restore_region(self._ground)  # type: ignore[no-untyped-call]
            for artist in sorted(self._changing(), key=lambda artist: artist.get_zorder()):
                artist.draw(canvas.get_renderer())  # type: ignore[no-untyped-call]
            return _encoded(canvas)
        finally:
            for artist in self._changing():
                artist.remove()

    def _changing(self) -> list[Artist]:
        return [artist for artist in self._plan.ax.get_children() if artist not in self._standing]

    def _key(self, sight: Sight) -> tuple[Any, ...]:
        """Tell all that what stands round the panel depends on."""
        values = self._plan.scale.per_metre * sight.field.values
        levels = style.contour_levels(values, sight.look.step, sight.look.span)
        words = tuple(word for _, word in sight.entries())
        return tuple(levels), words, sight.beside(self._plan.box)


def _encoded(canvas: FigureCanvasAgg) -> bytes:
    """Write what is drawn as PNG."""
    pixels = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    image = PIL.Image.fromarray(pixels[..., :3])
    stream = io.BytesIO()
    image.save(stream, format="png", compress_level=COMPRESSION, dpi=(DPI, DPI))
    return stream.getvalue()


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


def _mark(axes: Axes, trial: Trial, name: str | None, unit: LengthUnit) -> None:
    """Mark a part in the colour of the chosen one, and where it was when the design was kept last."""
    if name is None:
        return
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
        axes.add_artist(PathPatch(mpath.Path(corners), linewidth=2.2, zorder=5.5, **look))


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
