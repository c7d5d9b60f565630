"""The paper of a template: its sizes, and what of it can be used."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splitterfem.errors import DesignError, nearest
from splitterfem.units import quantity

INCH = 0.0254

PAPERS = {
    "a4": (0.210, 0.297),
    "a3": (0.297, 0.420),
    "letter": (8.5 * INCH, 11.0 * INCH),
}
"""Width and height in m: ISO 216, and ANSI/ASME Y14.1 size A."""

ROLL = "roll"

LONGEST = 14_400.0 / 72.0 * INCH
"""Longest side of a page that readers of PDF admit, m (ISO 32000-1 annex C, table C.1: 14 400 units of 1/72 in)."""

MARGIN = 0.010
"""Common practice, no source: printers leave 4 to 6 mm at the edges blank."""

OVERLAP = 0.015
ROLL_WIDTH = 36.0 * INCH
"""A common width of paper in rolls (common practice, no source)."""

STRIP = 0.014
"""Height of the strip under the drawing with the name of the sheet and its check line, m."""

SMALLEST = 0.13
"""Least width and height of what a sheet shows, m: room for the check line and for the overlap."""


@dataclass(frozen=True)
class Page:
    """Paper and what of it can be used, all in m.

    Attributes
    ----------
    name : {"a4", "a3", "letter", "roll"}
    width, height : float
        As the page is read.
    margin : float
        At all four edges.
    overlap : float
        Of what neighbouring sheets show.
    """

    name: str
    width: float
    height: float
    margin: float
    overlap: float

    @property
    def window(self) -> tuple[float, float]:
        """Width and height of what is shown of the drawing."""
        return self.width - 2.0 * self.margin, self.height - 2.0 * self.margin - STRIP

    @property
    def corner(self) -> tuple[float, float]:
        """Lower left corner of the window on the page."""
        return self.margin, self.margin + STRIP


def pages_of(
    paper: str, *, margin: object = None, overlap: object = None, roll_width: object = None
) -> list[Page]:
    """Return the ways in which a paper can lie: upright and across; a roll only across.

    Parameters
    ----------
    paper : {"a4", "letter", "a3", "roll"}
    margin, overlap, roll_width : length, optional

    Raises
    ------
    DesignError
        Another paper, or sizes that leave too little of it.
    UnitError
        A length that cannot be read.
    """
    if paper not in (*PAPERS, ROLL):
        raise DesignError(f"There is no paper '{paper}'; {nearest(str(paper), (*PAPERS, ROLL))}")
    if paper != ROLL and roll_width is not None:
        raise DesignError(f"roll_width belongs to paper='roll' and not to '{paper}'; leave it out.")
    edge, shared = _length(margin, "margin", MARGIN), _length(overlap, "overlap", OVERLAP)
    if paper == ROLL:
        width = _length(roll_width, "roll_width", ROLL_WIDTH)
        return [_checked(Page(paper, LONGEST, width, edge, shared))]
    width, height = PAPERS[paper]
    both = [Page(paper, width, height, edge, shared), Page(paper, height, width, edge, shared)]
    return [_checked(page) for page in both]


def _length(given: object, name: str, usual: float) -> float:
    value = usual if given is None else float(quantity(given, "length", name=name))
    if not (math.isfinite(value) and value >= 0.0):
        raise DesignError(f"{name} is {1e3 * value:g} mm; give none below zero.")
    return value


def _checked(page: Page) -> Page:
    """Refuse a page of which margins leave too little, an overlap without room, and a roll out of all reason."""
    shown = min(page.window)
    if page.height > LONGEST:
        raise DesignError(f"The roll is {page.height:.3g} m wide; give at most {LONGEST:.2f} m.")
    if shown < SMALLEST:
        raise DesignError(
            f"Of '{page.name}', {1e3 * min(page.width, page.height):.0f} mm wide, margins of "
            f"{1e3 * page.margin:.0f} mm leave {1e3 * max(shown, 0.0):.0f} mm for the drawing; "
            f"give smaller margins or wider paper, so that {1e3 * SMALLEST:.0f} mm are left."
        )
    if not 5e-3 <= page.overlap <= shown / 3.0:
        raise DesignError(
            f"The overlap is {1e3 * page.overlap:.1f} mm; give between 5 mm, which the marks need, and "
            f"{1e3 * shown / 3.0:.0f} mm, a third of what a sheet shows."
        )
    return page
