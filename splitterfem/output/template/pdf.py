"""The template as PDF: an assembly map with lists, and sheets in true size that are taped together."""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np
from matplotlib.backends.backend_pdf import PdfPages

from splitterfem import curves
from splitterfem.output.template.canvas import Canvas, Look, View, fitted, path_of, text_width, true_size
from splitterfem.output.template.drawing import Drawing, Note, size_words
from splitterfem.output.template.frontpages import front_pages
from splitterfem.output.template.looks import INK, QUIET, look_of
from splitterfem.output.template.marks import square_side
from splitterfem.output.template.paper import Page
from splitterfem.output.template.tiles import Seam, Tile, Tiling, printed

FRAME = Look(0.1e-3, QUIET)
SEAM = Look(0.15e-3, INK, dashed=True)
MARK = Look(0.2e-3, INK)
CHECK = Look(0.25e-3, INK)

RING = 3e-3
SMALL = 1.9e-3
"""Height of the letters at seams and in the strip, m."""

CLEAR, SAME = 1.5e-3, 1e-7
"""Room between a label and the edge of what is seen of its sheet; what lies nearer to an edge than this is on it, m."""

NAME = 6e-3
"""Height of the name of a sheet, m."""

Box = tuple[float, float, float, float]


def pdf_bytes(drawing: Drawing, sheets: Tiling, made_by: str, *, half: bool = False) -> bytes:
    """Write a drawing on sheets of paper.

    Parameters
    ----------
    drawing : Drawing
    sheets : Tiling
    made_by : str
        What it was made of, the subject in the file's own notes.
    half : bool
        Whether only the left half is on them.

    Returns
    -------
    bytes
        The assembly map and the lists come first, then the sheets row by row.
    """
    stream = io.BytesIO()
    meta = {"Title": drawing.title, "Creator": "splitterfem", "Subject": made_by, "CreationDate": None}
    with true_size(), PdfPages(stream, metadata=meta) as pdf:
        for canvas in pages(drawing, sheets, half=half):
            pdf.savefig(canvas.figure)
    return stream.getvalue()


def pages(drawing: Drawing, sheets: Tiling, *, half: bool = False) -> Iterator[Canvas]:
    """Draw all pages, one after the other."""
    fronts = front_pages(drawing, sheets, half=half)
    for number, canvas in enumerate(fronts, start=1):
        name = f"{number}" if len(fronts) > 1 else ""
        strip(canvas, f"map {name}".strip(), drawing, sheets.page.margin)
        yield canvas
    for tile in sheets.tiles:
        yield _sheet(drawing, sheets, tile)


def _sheet(drawing: Drawing, sheets: Tiling, tile: Tile) -> Canvas:
    """One sheet in true size."""
    page = sheets.page
    canvas, (left, bottom), (wide, high) = Canvas(page.width, page.height), page.corner, page.window
    box = (left, bottom, left + wide, bottom + high)
    view = View(1.0, (left - tile.left, bottom - tile.bottom))
    for part in printed(drawing):
        if _meets(view(part.points), box):
            path = path_of(part.curves, view, closed=part.closed)
            canvas.path(path, look_of(drawing.layer(part.layer)), within=box)
    x0, y0, x1, y1 = sheets.shown(tile)
    shown = (
        x0 + left - tile.left,
        y0 + bottom - tile.bottom,
        x1 + left - tile.left,
        y1 + bottom - tile.bottom,
    )
    for note in drawing.notes:
        if note.layer == "check square" or note.title:
            continue
        place = _place_of(note, view([note.at])[0], shown)
        if place is not None:
            colour = look_of(drawing.layer(note.layer)).colour
            canvas.text(note.text, place, note.height, colour=colour, within=box)
    canvas.rectangle(*box, FRAME)
    for seam in sheets.seams_of(tile):
        _seam(canvas, seam, tile, page)
    strip(canvas, tile.name, drawing, page.margin)
    return canvas


def _place_of(note: Note, at: np.ndarray, shown: Box) -> tuple[float, float] | None:
    """Find where a label stands on the sheet that shows what it names, whole; None on all others.

    Parameters
    ----------
    note : Note
    at : ndarray, shape (2,)
        Place on the paper of what it names, m.
    shown : tuple of float
        Left, bottom, right and top of what stays seen of the sheet, m.
    """
    if not all(low - SAME <= c < high - SAME for c, low, high in zip(at, shown[:2], shown[2:], strict=True)):
        return None
    size = (text_width(note.text, note.height), note.height)
    start = at + np.array(note.shift)
    beside = at[0] - note.shift[0] - size[0]
    if start[0] + size[0] > shown[2] - CLEAR and note.shift[0] > 0.0 and beside >= shown[0] + CLEAR:
        start[0] = beside  # on the other side of what it names, not across it
    found = []
    for c, long, low, high in zip(start, size, shown[:2], shown[2:], strict=True):
        found.append(float(max(low + CLEAR, min(c, high - CLEAR - long))))
    return found[0], found[1]


def _meets(places: np.ndarray, box: Box) -> bool:
    """Tell whether the rectangle about some places reaches into a box on the page."""
    (x0, y0), (x1, y1) = places.min(axis=0), places.max(axis=0)
    return bool(x1 >= box[0] and x0 <= box[2] and y1 >= box[1] and y0 <= box[3])


def _seam(canvas: Canvas, seam: Seam, tile: Tile, page: Page) -> None:
    """Draw the line of a seam, its ring marks, and what to do with it."""
    (left, bottom) = page.corner
    dx, dy = left - tile.left, bottom - tile.bottom
    cut = tile == seam.upper
    ring = min(RING, 0.4 * page.overlap)

    def place(at: tuple[float, float]) -> tuple[float, float]:
        return at[0] + dx, at[1] + dy

    a, b = seam.span
    ends = [(seam.at, a), (seam.at, b)] if seam.upright else [(a, seam.at), (b, seam.at)]
    canvas.line([place(end) for end in ends], SEAM)
    for name, at in seam.marks():
        x, y = place(at)
        view = View(1.0, (x, y))
        canvas.path(path_of(curves.circle((0.0, 0.0), ring), view, closed=True), MARK)
        canvas.line([(x - 1.4 * ring, y), (x + 1.4 * ring, y)], MARK)
        canvas.line([(x, y - 1.4 * ring), (x, y + 1.4 * ring)], MARK)
        away = (1.0 if seam.upright else -1.0) * (-1.0 if cut else 1.0) * 2.0 * ring
        if seam.upright:
            canvas.text(
                name, (x + away, y - 0.5 * SMALL), SMALL, bold=True, anchor="right" if cut else "left"
            )
        else:
            canvas.text(name, (x + 0.6 * ring, y + away - (0.0 if cut else SMALL)), SMALL, bold=True)
    other = (seam.lower if cut else seam.upper).name
    text = f"cut here, goes on {other}" if cut else f"{other} covers this up to the dashed line"
    middle, off = 0.5 * (a + b), 0.3 * page.overlap
    if seam.upright:
        x, y = place((seam.at + (off if cut else -off), middle))
        canvas.text(text, (x + 0.5 * SMALL, y), SMALL, colour=QUIET, anchor="center", upright=True)
    else:
        x, y = place((middle, seam.at + (-off if cut else off)))
        canvas.text(text, (x, y - 0.5 * SMALL), SMALL, colour=QUIET, anchor="center")


def strip(canvas: Canvas, name: str, drawing: Drawing, margin: float) -> None:
    """Write the name of a sheet and draw its check line at the foot of the page."""
    side, right, y = square_side(drawing), canvas.width - margin, margin
    start = right - side - 1e-3
    canvas.line([(start, y + 3e-3), (start + side, y + 3e-3)], CHECK)
    for end in (start, start + side):
        canvas.line([(end, y + 1.2e-3), (end, y + 4.8e-3)], CHECK)
    said = f"check line, {size_words(side, drawing.words)} long"
    canvas.text(said, (start + 0.5 * side, y + 5.8e-3), 2.2e-3, anchor="center")
    canvas.text(name, (margin, y + 2e-3), NAME, bold=True)
    x = margin + text_width(name, NAME, bold=True) + 3e-3
    room = start - x - 2e-3
    lines = (
        drawing.title,
        f"1:1, seen from {drawing.seen_from}",
        "travel is up the page",
    )
    for i, line in enumerate(lines):
        canvas.text(fitted(line, SMALL, room), (x, y + 7.2e-3 - 3.4e-3 * i), SMALL)
