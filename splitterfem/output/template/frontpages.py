"""The first pages of a template: how its sheets go together, what the lines mean, what the ribs are sawn to."""

from __future__ import annotations

import math
from dataclasses import replace

from splitterfem.output.template.bars import SQUARE
from splitterfem.output.template.canvas import Canvas, Look, View, fitted, path_of
from splitterfem.output.template.drawing import Bar, Circle, Drawing, extent, size_words
from splitterfem.output.template.flow import BODY, HEADING, LEAD, TITLE, Flow, table, wrapped
from splitterfem.output.template.looks import COLOURS, INK, QUIET, look_of
from splitterfem.output.template.marks import square_side
from splitterfem.output.template.paper import INCH, MARGIN, PAPERS, ROLL, STRIP, Page
from splitterfem.output.template.tiles import Tiling

THIN, FINE = Look(0.25e-3, INK), Look(0.13e-3, QUIET)
SHEETS = Look(0.2e-3, COLOURS[5])
ON_MAP = ("panel", "openings", "strut feet", "rib feet above", "rib feet below", "holes")


def front_pages(drawing: Drawing, sheets: Tiling, *, half: bool) -> list[Canvas]:
    """Draw the assembly map and the lists, on as many pages as they need.

    Parameters
    ----------
    drawing : Drawing
    sheets : Tiling
    half : bool
        Whether the sheets show the left half alone.
    """
    page = _front(sheets.page, drawing)
    flow = Flow(page.width, page.height, page.margin)
    flow.turn()
    flow.write(drawing.lines[0], TITLE, bold=True)
    flow.y -= 1e-3
    for line in drawing.lines[1:]:
        flow.write(line)
    flow.write(_count_words(sheets, half))
    _map(flow, drawing, sheets)
    _how_to(flow, drawing, sheets, half)
    _bars(flow, drawing)
    _centres(flow, drawing)
    return flow.pages


def _front(page: Page, drawing: Drawing) -> Page:
    """Paper of the first pages: that of the sheets, upright; beside a roll a sheet that every printer has."""
    if page.name != ROLL:
        return replace(page, width=min(page.width, page.height), height=max(page.width, page.height))
    name = "a4" if drawing.words.size == "mm" else "letter"
    return Page(name, *PAPERS[name], MARGIN, page.overlap)


def _count_words(sheets: Tiling, half: bool) -> str:
    page, count = sheets.page, len(sheets.tiles)
    paper = page.name.upper() if page.name != "letter" else "US Letter"
    side = "the left half on " if half else ""
    kind = f"paper from a roll {1e3 * page.height:.0f} mm = {page.height / INCH:.1f} in wide"
    paper = kind if page.name == ROLL else paper
    return f"Template: {side}{count} sheet{'s' if count > 1 else ''} of {paper}."


def _map(flow: Flow, drawing: Drawing, sheets: Tiling) -> None:
    """Panel and sheets at a small scale, with the names of the sheets."""
    page = sheets.page
    wide, high = page.window
    left = min(tile.left for tile in sheets.tiles)
    right = max(tile.left for tile in sheets.tiles) + wide
    bottom = min(tile.bottom for tile in sheets.tiles)
    top = max(tile.bottom for tile in sheets.tiles) + high
    below = square_side(drawing) + 0.02  # the steps and the square stand on the same page
    room = max(min(0.42 * flow.height, flow.y - flow.margin - STRIP - below), 0.06)
    scale = min((flow.room - 4e-3) / (right - left), room / (top - bottom), 0.5)
    flow.y -= 3e-3
    x = flow.margin + 0.5 * (flow.room - scale * (right - left))
    flow.y -= scale * (top - bottom)
    view = View(scale, (x - scale * left, flow.y - scale * bottom))
    canvas = flow.page()
    for tile in sheets.tiles:
        a, b = x + scale * (tile.left - left), flow.y + scale * (tile.bottom - bottom)
        canvas.rectangle(a, b, a + scale * wide, b + scale * high, SHEETS)
        size = min(NAMES, 0.2 * scale * min(wide, high))
        canvas.text(
            tile.name,
            (a + 0.5 * scale * wide, b + 0.5 * scale * high - 0.5 * size),
            size,
            colour=SHEETS.colour,
            bold=True,
            anchor="center",
        )
    for part in drawing.parts:
        if part.layer in ON_MAP:
            path = path_of(part.curves, view, closed=part.closed)
            canvas.path(path, THIN if part.layer == "panel" else FINE)
    x0, y0, x1, y1 = extent(drawing.on("panel"))
    words, digits = drawing.words, 1 if drawing.words.size == "mm" else 2
    across, along = (words.with_unit(size, words.size, digits) for size in (y1 - y0, x1 - x0))
    flow.y -= 1e-3
    flow.write(
        f"Assembly map, about 1:{1.0 / scale:.0f}, travel up the page. The panel measures {across} across and {along} "
        "fore and aft.",
        colour=QUIET,
    )


NAMES = 4e-3
"""Height of the names of sheets on the map, m."""


def _how_to(flow: Flow, drawing: Drawing, sheets: Tiling, half: bool) -> None:
    """Say what to do and what the lines mean, beside the check square."""
    side = square_side(drawing)
    flow.need(side + 4e-3)
    flow.y -= 3e-3
    top, right = flow.y, flow.width - flow.margin - 1e-3
    canvas = flow.page()
    canvas.rectangle(right - side, top - side, right, top, THIN)
    size = size_words(side, drawing.words)
    canvas.text(f"{size} by {size}", (right - 0.5 * side, top - 0.5 * side), HEADING, anchor="center")
    canvas.text("measure both ways", (right - 0.5 * side, top - 0.5 * side - 5e-3), BODY, anchor="center")
    room = flow.room - side - 5e-3
    for line in _steps(drawing, sheets, half):
        for part in wrapped(line, BODY, room):
            flow.y -= LEAD * BODY
            canvas.text(part, (flow.margin, flow.y), BODY)
        flow.y -= 0.6 * BODY
    if flow.y - top + side < 0.0:  # the steps reach below the square
        room = flow.room
    _legend(flow, drawing, room)
    flow.y = min(flow.y, top - side) - 2e-3


def _steps(drawing: Drawing, sheets: Tiling, half: bool) -> list[str]:
    size = size_words(square_side(drawing), drawing.words)
    steps = [
        f'Print at 100 % ("actual size"), never fitted to the page. On every sheet the check line is {size} long: '
        "measure it, and the square both ways."
    ]
    if len(sheets.tiles) > 1:
        steps.append(
            "Cut each sheet at the dashed line on its right and at its foot, where there is one. Lay it on its "
            "neighbour so that the rings of one number close, and tape."
        )
    if half:
        steps.append(
            "The sheets show the left half. Mark it, turn the template over along the half-symmetry line, and mark "
            "the right half."
        )
    steps.append(
        "Measure the whole against the size above before you mark the sheet. Cut on the middle of the line."
    )
    steps.append(
        "Clamp the sheet, keep clear of the blade, and protect eyes, ears and lungs: dust of wood, glass and carbon "
        "harms. Hold the real parts against their holes before you drill."
    )
    return steps


def _legend(flow: Flow, drawing: Drawing, room: float) -> None:
    """Say what the lines mean."""
    flow.y -= 1e-3
    for layer in drawing.used_layers():
        if layer.name in ("text", "dimensions", "check square"):
            continue
        flow.need(LEAD * BODY)
        flow.y -= LEAD * BODY
        x, y = flow.margin, flow.y
        flow.page().line([(x, y + 0.5 * BODY), (x + 0.010, y + 0.5 * BODY)], look_of(layer))
        flow.page().text(fitted(layer.what, BODY, room - 0.012), (x + 0.012, y), BODY)


def _bars(flow: Flow, drawing: Drawing) -> None:
    """Table of what the ribs are sawn to."""
    if not drawing.bars:
        return
    unit = drawing.words.size
    headings = [
        "rib",
        "section",
        "material",
        f"line, {unit}",
        f"saw off, {unit}",
        *("one end", "other end"),
        "face",
    ]
    table(flow, "Ribs", headings, [_bar_row(bar, drawing) for bar in drawing.bars], right=(3, 4))
    if any(reason != SQUARE for bar in drawing.bars for _, reason in bar.ends):
        flow.write(
            "Angles are between the cut and the length of the bar, seen in plan, 90° being square. The line is that of "
            "the rib in the design; the bar is sawn off at its longest edge.",
            colour=QUIET,
        )


def _bar_row(bar: Bar, drawing: Drawing) -> list[str]:
    words, digits = drawing.words, 1 if drawing.words.size == "mm" else 3
    lengths = [words.number(length, words.size, digits) for length in (bar.length, bar.longest)]
    ends = [why if why == SQUARE else f"{math.degrees(angle):.1f}° {why}" for angle, why in bar.ends]
    name = f"{bar.rib}, {bar.part}" if bar.part else bar.rib
    return [name, bar.section, bar.material, *lengths, *ends, bar.side]


def _centres(flow: Flow, drawing: Drawing) -> None:
    """Table of the centres of holes and feet, fasteners of ribs left out."""
    rows, words = list[list[str]](), drawing.words
    digits = 1 if words.size == "mm" else 3
    known = {}
    for circle in drawing.circles:
        if circle.layer in ("holes", "openings"):
            known[circle.name, _key(circle.centre)] = size_words(circle.diameter, words)
    fasteners = {circle.name for circle in drawing.circles if _is_fastener(circle)}
    marks = [shape for shape in drawing.on("hole centres") if shape.name not in fasteners]
    for shape in marks[::2]:
        (x0, y0), (x1, y1) = shape.curves[0].start, shape.curves[0].end
        at = (0.5 * (x0 + x1), 0.5 * (y0 + y1))
        numbers = [words.number(c, words.size, digits) for c in at]
        rows.append([shape.name, *numbers, known.get((shape.name, _key(at)), "-")])
    if rows:
        left = "left" if drawing.seen_from == "above" else "right"
        unit = words.size
        headings = ["centre of", f"x forward, {unit}", f"y {left}, {unit}", "hole"]
        table(flow, "Centres", headings, rows, right=(1, 2, 3))


def _key(at: tuple[float, float]) -> tuple[float, float]:
    return round(at[0], 6), round(at[1], 6)


def _is_fastener(circle: Circle) -> bool:
    return circle.name.rsplit(", ", 1)[-1] in ("screws", "rivets", "bolts")
