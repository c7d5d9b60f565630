"""How a template is cut into sheets of paper: sizes, which sheets are needed, and where they join."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from splitterfem.errors import DesignError
from splitterfem.output.template.drawing import Circle, Drawing, Shape, extent
from splitterfem.output.template.paper import OVERLAP, ROLL, SMALLEST, Page

MOST_SHEETS = 150
"""More sheets than this are not worth their tape."""

SPARE = 2e-3
"""Room between the outermost line and the edge of the outermost sheet, m."""


@dataclass(frozen=True)
class Tile:
    """One sheet.

    Attributes
    ----------
    row, column : int
        From 0, counted from the front and from the left as the page is read.
    left, bottom : float
        Of its window in the axes of the page, in which x is up and y to the left, m.
    """

    row: int
    column: int
    left: float
    bottom: float

    @property
    def name(self) -> str:
        """Letter of the row and number of the column, such as "B3"."""
        return f"{row_name(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Seam:
    """Where two sheets join.

    Attributes
    ----------
    number : int
        From 1.
    upper, lower : Tile
        The one that is cut and lies on top (to the left or in front), and the one that it is laid on.
    upright : bool
        Whether the line runs up the page.
    at : float
        The other coordinate of its middle line, m.
    span : (float, float)
        From where to where it runs, m.
    """

    number: int
    upper: Tile
    lower: Tile
    upright: bool
    at: float
    span: tuple[float, float]

    def marks(self) -> list[tuple[str, tuple[float, float]]]:
        """Names and places of its two ring marks."""
        a, b = self.span
        found = []
        for letter, share in (("a", 0.25), ("b", 0.75)):
            place = a + share * (b - a)
            found.append((f"{self.number}{letter}", (self.at, place) if self.upright else (place, self.at)))
        return found


@dataclass(frozen=True)
class Tiling:
    """All sheets of a template.

    Attributes
    ----------
    page : Page
    rows, columns : int
    tiles : tuple of Tile
        Those on which something is drawn, row by row.
    seams : tuple of Seam
    """

    page: Page
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    seams: tuple[Seam, ...]

    def shown(self, tile: Tile) -> tuple[float, float, float, float]:
        """Part of a sheet that stays seen when all are joined: left, bottom, right and top on the page, m."""
        return _core(tile, self.page, self.rows, self.columns, wider=0.0)

    def seams_of(self, tile: Tile) -> list[Seam]:
        """Seams of one sheet."""
        return [seam for seam in self.seams if tile in (seam.upper, seam.lower)]


def row_name(row: int) -> str:
    """Name a row by letters: A to Z, then AA, AB and so on."""
    name = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def tiling(drawing: Drawing, pages: list[Page], *, half: bool = False) -> Tiling:
    """Cover a drawing with as few sheets as the ways of laying the paper allow.

    Parameters
    ----------
    drawing : Drawing
    pages : list of Page
        Ways in which the paper can lie.
    half : bool
        Only the left half as the page is read, up to the half-symmetry line.

    Raises
    ------
    DesignError
        Half of a drawing that is not the same on both sides, or too many sheets.
    """
    if half and not drawing.alike:
        what = "parts" if drawing.symmetric else "panel"
        raise DesignError(
            f"The {what} of '{drawing.title}' differ{'s' if what == 'panel' else ''} between left and right, so "
            "half a template does not do; leave half out."
        )
    covered = _extent(drawing, half)
    _refuse_many(covered, pages, drawing)
    found = [_covered(drawing, page, covered, half) for page in pages]
    return min(found, key=lambda one: len(one.tiles))


def printed(drawing: Drawing) -> list[Shape | Circle]:
    """Return what goes on the sheets: all but the check square beside the panel."""
    return [part for part in drawing.parts if part.layer != "check square"]


def _extent(drawing: Drawing, half: bool) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of what is printed, in the axes of the page."""
    x0, y0, x1, y1 = extent(printed(drawing))
    right = OVERLAP if half else -y0 + SPARE
    return -y1 - SPARE, x0 - SPARE, right, x1 + SPARE


def _counts(covered: tuple[float, float, float, float], page: Page) -> tuple[int, int]:
    """Rows and columns."""
    left, bottom, right, top = covered
    found = []
    for size, shown in zip((top - bottom, right - left), reversed(page.window), strict=True):
        found.append(max(1, math.ceil((size - page.overlap) / (shown - page.overlap) - 1e-9)))
    return found[0], found[1]


def _refuse_many(covered: tuple[float, float, float, float], pages: list[Page], drawing: Drawing) -> None:
    least = min(math.prod(_counts(covered, page)) for page in pages)
    if least > MOST_SHEETS:
        left, bottom, right, top = covered
        size = f"{1e3 * (right - left):.0f} by {1e3 * (top - bottom):.0f} mm"
        raise DesignError(
            f"'{drawing.title}' measures {size} and would need up to {least} sheets of '{pages[0].name}', more than "
            f"{MOST_SHEETS}; take larger paper, a roll, or the DXF."
        )


def _covered(drawing: Drawing, page: Page, covered: tuple[float, float, float, float], half: bool) -> Tiling:
    """Lay the sheets evenly about the drawing and keep those that show something."""
    rows, columns = _counts(covered, page)
    page = _shortened(page, covered, columns)
    (wide, high), shared = page.window, page.overlap
    step = wide - shared, high - shared
    left, bottom, right, top = covered
    start = right - columns * step[0] - shared if half else 0.5 * (left + right - columns * step[0] - shared)
    upper = 0.5 * (bottom + top + rows * step[1] + shared)
    area = shapely.union_all([_on_page(drawing.area), *(_line(part) for part in printed(drawing))])
    if half:
        area = shapely.intersection(area, shapely.box(left, bottom, right, top))
    shapely.prepare(area)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            tile = Tile(row, column, start + column * step[0], upper - high - row * step[1])
            core = shapely.box(*_core(tile, page, rows, columns))
            if shapely.intersects(area, core):
                tiles.append(tile)
    return Tiling(page, rows, columns, tuple(tiles), tuple(_seams(tiles, page)))


def _shortened(page: Page, covered: tuple[float, float, float, float], columns: int) -> Page:
    """Cut a roll to the length that is drawn on it; paper of a fixed size stays."""
    if page.name != ROLL:
        return page
    shown = (covered[2] - covered[0] + (columns - 1) * page.overlap) / columns
    return Page(ROLL, max(shown, 2.0 * SMALLEST) + 2.0 * page.margin, page.height, page.margin, page.overlap)


def _core(
    tile: Tile, page: Page, rows: int, columns: int, *, wider: float = 1e-3
) -> tuple[float, float, float, float]:
    """Part of a window that no other sheet shows closer to its middle, and a little more on all sides."""
    (wide, high), half = page.window, 0.5 * page.overlap - wider
    return (
        tile.left + (half if tile.column else 0.0),
        tile.bottom + (half if tile.row < rows - 1 else 0.0),
        tile.left + wide - (half if tile.column < columns - 1 else 0.0),
        tile.bottom + high - (half if tile.row else 0.0),
    )


def _seams(tiles: list[Tile], page: Page) -> Iterator[Seam]:
    """Seams between sheets side by side, then between those one behind the other."""
    (wide, high), shared = page.window, page.overlap
    by_place = {(tile.row, tile.column): tile for tile in tiles}
    number = 0
    for tile in tiles:
        beside = by_place.get((tile.row, tile.column + 1))
        behind = by_place.get((tile.row + 1, tile.column))
        if beside is not None:
            number += 1
            at = beside.left + 0.5 * shared
            yield Seam(number, tile, beside, True, at, (tile.bottom, tile.bottom + high))
        if behind is not None:
            number += 1
            at = tile.bottom + 0.5 * shared
            yield Seam(number, tile, behind, False, at, (tile.left, tile.left + wide))


def _on_page(area: shapely.Geometry) -> shapely.Geometry:
    return shapely.transform(area, lambda points: points[:, ::-1] * (-1.0, 1.0))


def _line(part: Shape | Circle) -> shapely.Geometry:
    """Line of a part on the page; of a circle the square about it does."""
    points = part.points[:, ::-1] * (-1.0, 1.0)
    return (
        shapely.box(*points.min(axis=0), *points.max(axis=0))
        if isinstance(part, Circle)
        else shapely.LineString(points)
    )
