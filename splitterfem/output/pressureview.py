"""The air on a panel in plan view: net pressure, its total and centre, and where nothing was measured."""

from __future__ import annotations

from typing import Any, Unpack

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path as Outline

from splitterfem.aero import SourceField
from splitterfem.aero import resultant as added_up
from splitterfem.aero.overlap import Area
from splitterfem.analysis.fields import Field
from splitterfem.design import LoadCase, Splitter
from splitterfem.errors import DesignError
from splitterfem.model import AirLoad
from splitterfem.model.airload import panel_area, pressure_field
from splitterfem.output import style
from splitterfem.output.fieldview import Look, draw_contours
from splitterfem.output.followed import WITH_SAG, FollowedPressure
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import plan_axes, write_title
from splitterfem.output.planpicture import Manner, PlanOptions, to_page
from splitterfem.output.planview import Bounds, bounds, draw_frame, draw_outline, draw_surroundings, page
from splitterfem.output.pressuresamples import FINENESS, PRESSURE_UNITS, in_units, sampled, steep
from splitterfem.output.style import LengthUnit, Scale, scale_of
from splitterfem.output.wording import words_for

__all__ = ["plot_pressure"]

_LEGEND: dict[str, Any] = {
    "frameon": False,
    "fontsize": style.SMALL,
    "title_fontproperties": {"size": style.SMALL},
    "handlelength": 2.0,
    "columnspacing": 1.4,
}
HINT = "Brown presses the panel down, blue lifts it. The cross in the ring is the centre of it all."
_MARKS = ("o", "^", "v", "s")


def plot_pressure(
    splitter: Splitter,
    case: str | LoadCase,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    span: tuple[float, float] | None = None,
    air: AirLoad | None = None,
    followed: FollowedPressure | None = None,
    total: bool = True,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw the net pressure of a load case in plan view, with its total and its centre called out.

    Taps and grid points are shown where the map has them. Where nothing was measured the map is hatched. A pressure
    that follows the sag is said to be "with sag feedback".

    Parameters
    ----------
    splitter : Splitter
    case : str or LoadCase
        A load case of the splitter by its name, or one of your own.
    ax : Axes, optional
        Where to draw; a new figure when left out.
    step : float, optional
        Pressure between contour lines, in Pa or psf; a round one when left out.
    span : two floats, optional
        Least and greatest pressure of the colours, in Pa or psf, for pictures that are to be compared; widened
        where the map goes beyond. Give the same `step` too.
    air : AirLoad, optional
        Load of a solution of this case, for its total and centre; those of the map itself when left out.
    followed : FollowedPressure, optional
        Pressure that follows the sag of the solution that `air` is of; that at rest when left out.
    total : bool
        Whether to write total and centre into the picture; the mark of the centre is there in any case.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.  Pressures
        are in Pa and forces in N with mm, in psf and lbf with in.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    DesignError
        The case is unknown or has no pressure map, or what follows the sag comes without its load.
    FileError
        The file of the map cannot be read.
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    manner = Manner(**options)
    scale, title = manner.scale, manner.title
    chosen = splitter.case(case) if isinstance(case, str) else case
    area = panel_area(splitter)
    if followed is not None and air is None:
        raise DesignError("The pressure that follows the sag needs its load: give air of the same solution.")
    # a case that only combines others has no map of its own, but one with the sag it has
    field = None if followed is not None and chosen.pressure is None else pressure_field(splitter, chosen)
    force, at = _sum(field, area, air)
    axes = plan_axes(splitter, share=0.84, legend=2 * int(manner.legend)) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    look = Look(f"net pressure, down ({PRESSURE_UNITS[manner.unit]})", style.SIGNED, step, span)
    shown = followed or field
    assert shown is not None
    _draw_pressure(axes, in_units(sampled(shown, area), scale), field, area, look, scale)
    draw_outline(axes, splitter, scale)
    marks = []
    if field is not None:
        bare = shapely.difference(area, field.covered(area))
        marks = [*_draw_measured(axes, field, scale), *_draw_bare(axes, bare, bare.area / area.area, scale)]
    draw_surroundings(axes, box, scale, shown=manner.frame)
    if manner.legend:
        axes.legend(
            *(zip(*marks, strict=True) if marks else ([], [])),
            loc="upper center",
            bbox_to_anchor=(0.5, -0.12),
            ncols=3,
            title=HINT,
            **_LEGEND,
        )
    marked = _mark_centre(axes, at, box, scale)
    how = "" if followed is None else f" {WITH_SAG}"
    if total:
        text = _said(force, at, box, scale) + (f"\n{WITH_SAG}" if how and title is not None else "")
        _call_out_total(axes, text, at if marked else None, box, scale)
    if title is None:
        write_title(
            axes, splitter, splitter.name, f"Net pressure of the air{how} in load case: {chosen.name}"
        )
    else:
        write_title(axes, splitter, title, "")
    return axes


def total_words(splitter: Splitter, case: LoadCase, unit: LengthUnit, *, air: AirLoad | None = None) -> str:
    """Say what the net pressure of a load case adds up to and where, as its picture does; the same errors.

    Parameters
    ----------
    splitter : Splitter
    case : LoadCase
    unit : {"mm", "in"}
    air : AirLoad, optional
        As in `plot_pressure`.
    """
    force, at = _sum(None if air is not None else pressure_field(splitter, case), panel_area(splitter), air)
    return _said(force, at, bounds(splitter), scale_of(unit))


def _sum(field: SourceField | None, area: Area, air: AirLoad | None) -> tuple[float, tuple[float, float]]:
    """Total (N) and centre (m) of a map, or of the load that a solution has made of it."""
    if air is not None:
        return air.downforce, air.centre
    assert field is not None
    found = added_up(field, area)
    return found.force, (found.x, found.y)


def _draw_pressure(
    ax: Axes, shown: Field, field: SourceField | None, area: Area, look: Look, scale: Scale
) -> None:
    """Draw contours of the pressure over the panel, clipped at its edge."""
    step = max(np.ptp(shown.x), np.ptp(shown.y)) / FINENESS
    per_point = units_per_point(ax)
    places = [] if field is None else [at for _, at in field.marks()]
    dots = shapely.multipoints(page(np.concatenate(places), scale)) if places else shapely.MultiPoint()
    off = shapely.difference(shapely.box(*area.buffer(10.0 * step).bounds), area)
    sudden = steep(shown, look, scale)
    taken = shapely.union(to_page(shapely.union(off, sudden), scale), dots.buffer(2.0 * per_point))
    before = set(ax.collections)
    draw_contours(ax, shown, look, scale, taken)
    for drawn in set(ax.collections) - before:
        drawn.set_clip_path(outline_path(area, scale), transform=ax.transData)


def _draw_measured(ax: Axes, field: SourceField, scale: Scale) -> list[tuple[Artist, str]]:
    """Draw a small mark at every place with a value of its own."""
    entries: list[tuple[Artist, str]] = []
    for shape, (kind, places) in zip(_MARKS, field.marks(), strict=False):
        looks: dict[str, Any] = {
            "marker": shape,
            "markersize": 3.2 if len(places) < 500 else 1.4,
            "markerfacecolor": style.PAPER,
            "markeredgecolor": style.INK,
            "markeredgewidth": 0.7,
            "linestyle": "none",
        }
        ax.plot(*page(places, scale).T, zorder=6, gid=f"{kind} places", **looks)
        entries.append((Line2D([], [], **looks), kind))
    return entries


def _draw_bare(ax: Axes, bare: Area, share: float, scale: Scale) -> list[tuple[Artist, str]]:
    """Hatch the part of the panel on which nothing was measured."""
    if share < 1e-4:
        return []
    looks: dict[str, Any] = {"facecolor": (1.0, 1.0, 1.0, 0.5), "edgecolor": style.QUIET, "hatch": "\\\\\\"}
    ax.add_patch(PathPatch(outline_path(bare, scale), linewidth=0.6, zorder=2.8, gid="not measured", **looks))
    words = f"not measured, taken from the map's edge: {100.0 * share:.0f} % of the panel"
    return [(Patch(**looks), words)]


def outline_path(area: Area, scale: Scale) -> Outline:
    """Outline of an area on the page, holes included."""
    rings = shapely.get_rings(shapely.get_parts(area))
    return Outline.make_compound_path(
        *(Outline(page(shapely.get_coordinates(r), scale), closed=True) for r in rings)
    )


def _seen(at: tuple[float, float], box: Bounds) -> bool:
    """Whether a centre of pressure lies in the picture."""
    (x, y), room = at, box.margin
    return box.rear - room < x < box.front + room and box.right - room < y < box.left + room


def _said(force: float, at: tuple[float, float], box: Bounds, scale: Scale) -> str:
    if not np.isfinite(at[0]):
        return "no net force: suction and pressure cancel"
    words = words_for("us" if scale.unit == "in" else "metric")
    total = f"{words.with_unit(abs(force), words.force, 0)} {'down' if force > 0.0 else 'up'}"
    where = "of pressure" if _seen(at, box) else "off the panel"
    return f"{total}, centre {where} at x, y {words.place(at)} {scale.unit}"


def _mark_centre(ax: Axes, at: tuple[float, float], box: Bounds, scale: Scale) -> bool:
    """Mark the centre of pressure, and tell whether it could be."""
    if not _seen(at, box):
        return False
    place = [at[1] * scale.per_metre], [at[0] * scale.per_metre]
    common: dict[str, Any] = {"markerfacecolor": "none", "linestyle": "none"}
    # what is pale goes under all of the mark, or the cross would hide the ring
    for colour, width, z in ((style.PAPER, 4.4, 9.9), (style.ALARM, 2.4, 10.0)):
        for marker, size in (("o", 13.0), ("+", 19.0)):
            gid = "centre of pressure" if colour == style.ALARM else "pale ring"
            ax.plot(*place, marker, color=colour, ms=size, mew=width, zorder=z, gid=gid, **common)
    return True


def _call_out_total(ax: Axes, text: str, at: tuple[float, float] | None, box: Bounds, scale: Scale) -> None:
    """Write the total behind the panel, where it hides nothing of the map, with a line to its centre."""
    per = scale.per_metre
    ax.annotate(
        text,
        xy=(0.0, 0.0) if at is None else (at[1] * per, at[0] * per),
        xytext=(box.left * per, (box.rear - 0.5 * box.margin) * per),
        ha="left",
        va="center",
        fontsize=11,
        **style.CALL_OUT,
        arrowprops=None
        if at is None
        else {"arrowstyle": "-", "color": style.ALARM, "linewidth": 1.6, "shrinkB": 7},
    )
