"""What all pictures in plan view have in common: their options, their parts, their legend and title."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TypedDict

import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from splitterfem.design import LoadCase, Splitter
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import plan_axes, write_title
from splitterfem.output.planparts import draw_legend, draw_ribs, draw_supports, legend_rows
from splitterfem.output.planview import Bounds, draw_frame, draw_outline, draw_surroundings, page
from splitterfem.output.spots import Spot, draw_beside, draw_spots, placed_spots
from splitterfem.output.style import LengthUnit, Scale, scale_of

Entries = Sequence[tuple[Artist, str]]
"""Marks and words of a legend."""


class PlanOptions(TypedDict, total=False):
    """Options of every picture in plan view.

    Attributes
    ----------
    unit : {"mm", "in"}
        Of lengths; "mm" when left out.  Other figures follow: N, Pa and MPa with mm, lbf, psf and psi with in.
    title : str or None
        In place of the names of the splitter and of what is seen; empty for none.
    legend : bool
        Whether to explain the marks and colours; true when left out.
    frame : bool
        Whether to draw axes, scale bar and direction of travel; true when left out.  A page that shows these once can
        leave them out elsewhere.
    """

    unit: LengthUnit
    title: str | None
    legend: bool
    frame: bool


@dataclass(frozen=True, kw_only=True)
class Manner:
    """Options of a picture in plan view with what they are when left out; see `PlanOptions`."""

    unit: LengthUnit = "mm"
    title: str | None = None
    legend: bool = True
    frame: bool = True

    @property
    def scale(self) -> Scale:
        """Scale of the unit.

        Raises
        ------
        UnitError
            It is neither mm nor in.
        """
        return scale_of(self.unit)


@dataclass(frozen=True)
class Plan:
    """A picture in plan view that is being drawn: x of the car runs up the page, y to the left.

    Attributes
    ----------
    ax : Axes
    splitter : Splitter
    manner : Manner
    box : Bounds
        Of the panel.
    hint : str
        One sentence that says what the eye should find, over the legend.
    case : LoadCase or None
        Whose forces the legend explains.
    more : sequence of (Artist, str)
        Marks in the legend behind those of the parts.
    """

    ax: Axes
    splitter: Splitter
    manner: Manner
    box: Bounds
    hint: str
    case: LoadCase | None
    more: Entries

    @property
    def scale(self) -> Scale:
        """Scale of the picture."""
        return self.manner.scale

    @property
    def per_point(self) -> float:
        """Length on the page that a typographic point covers."""
        return units_per_point(self.ax)

    def draw_parts(self, *, fill: str = "none", slack: Collection[str] = ()) -> None:
        """Draw outline, openings, ribs and supports; struts that are named in `slack` hang loose."""
        draw_outline(self.ax, self.splitter, self.scale, fill=fill)
        draw_ribs(self.ax, self.splitter, self.scale)
        draw_supports(self.ax, self.splitter, self.scale, slack=slack)

    def placed(self, spots: Sequence[Spot], taken: shapely.Geometry) -> list[Spot]:
        """Choose where the words of numbered spots stand."""
        return placed_spots(spots, taken, self.box, self.scale, self.ax)

    def clear_of(self, spots: Sequence[Spot]) -> list[shapely.Geometry]:
        """Areas on the page that the words of placed spots cover."""
        return [spot.area.buffer(2.0 * self.per_point) for spot in spots]

    def finish(self, subject: str, *, name: str | None = None, spots: Sequence[Spot] | None = None) -> None:
        """Draw spots with what stands beside the panel, legend and title.

        Parameters
        ----------
        subject : str
            Second line of the title, unless there is a title of one's own.
        name : str, optional
            First line of it, in place of the splitter's name.
        spots : sequence of Spot, optional
            As `placed` returns them; without them direction of travel and scale bar are up to the caller.
        """
        if spots is not None and self.manner.frame:
            draw_beside(self.ax, spots, self.box, self.scale)
        if self.manner.legend:
            draw_legend(self.ax, self.splitter, self.case, more=self.more, hint=self.hint)
        if spots is not None:
            draw_spots(self.ax, spots)
        title = self.manner.title
        if title is None:
            write_title(self.ax, self.splitter, self.splitter.name if name is None else name, subject)
        else:
            write_title(self.ax, self.splitter, title, "")


def plan_of(
    splitter: Splitter,
    ax: Axes | None,
    manner: Manner,
    *,
    hint: str = "",
    case: LoadCase | None = None,
    more: Entries = (),
    share: float = 0.84,
) -> Plan:
    """Begin a picture in plan view: axes with their limits, equal scales and labels.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    manner : Manner
    hint : str
        One sentence on what the eye should find.
    case : LoadCase, optional
        Whose forces are drawn.
    more : sequence of (Artist, str)
        Marks that the legend explains besides those of the parts.
    share : float
        Of the figure's width that the plan view has.

    Raises
    ------
    UnitError
        The unit is neither mm nor in.
    """
    scale = manner.scale
    rows = legend_rows(splitter, case, more, hint=bool(hint)) if manner.legend else 0
    axes = plan_axes(splitter, share=share, legend=rows) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    if not manner.frame:
        draw_surroundings(axes, box, scale, shown=False)
    return Plan(axes, splitter, manner, box, hint, case, more)


def to_page(area: shapely.Geometry, scale: Scale) -> shapely.Geometry:
    """Turn a geometry in m into one of the page."""
    return shapely.transform(area, lambda corners: page(corners, scale))
