"""Lines of text and tables that fill pages from the top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from splitterfem.output.template.canvas import Canvas, text_width
from splitterfem.output.template.looks import INK
from splitterfem.output.template.paper import STRIP

BODY, HEADING, TITLE = 2.1e-3, 2.6e-3, 4.5e-3
"""Heights of capital letters, m."""

GAP = 3e-3
"""Between the columns of a table, m."""

MOST_LINES = 4

LEAD = 1.9
"""Distance of lines over the height of capital letters."""


@dataclass
class Flow:
    """Pages that fill from the top."""

    width: float
    height: float
    margin: float
    pages: list[Canvas] = field(default_factory=list)
    y: float = 0.0

    def page(self) -> Canvas:
        """Return the page that is being filled."""
        return self.pages[-1]

    def turn(self) -> None:
        """Begin a new page."""
        self.pages.append(Canvas(self.width, self.height))
        self.y = self.height - self.margin

    def need(self, room: float) -> None:
        """Begin a new page if there is less room than that."""
        if self.y - room < self.margin + STRIP:
            self.turn()

    def write(self, text: str, height: float = BODY, *, bold: bool = False, colour: str = INK) -> None:
        """Write a line, wrapped where it is wider than the page."""
        for line in wrapped(text, height, self.room, bold=bold):
            self.need(LEAD * height)
            self.y -= LEAD * height
            self.page().text(line, (self.margin, self.y), height, bold=bold, colour=colour)

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2.0 * self.margin


def wrapped(text: str, height: float, width: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than a width in m, between words, and inside those that are wider."""
    lines, line = list[str](), ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and text_width(longer, height, bold=bold) > width:
            lines.append(line)
            longer = word
        while len(longer) > 1 and text_width(longer, height, bold=bold) > width:
            fits = next(
                n for n in range(len(longer) - 1, 0, -1) if _fits(longer[:n], height, width, bold) or n == 1
            )
            lines.append(longer[:fits])
            longer = longer[fits:]
        line = longer
    return [*lines, line]


def _fits(text: str, height: float, width: float, bold: bool) -> bool:
    return text_width(text, height, bold=bold) <= width


def table(
    flow: Flow, title: str, headings: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int]
) -> None:
    """Write a table; where the page is too narrow the widest columns get narrower and their cells are wrapped."""
    widths = _widths(flow.room, headings, rows)
    starts = [flow.margin + sum(widths[:j]) + GAP * j for j in range(len(widths))]
    line = LEAD * BODY

    def put(cells: Sequence[str], *, bold: bool = False) -> None:
        lines = _lines(cells, widths, bold=bold)
        if flow.y - line * max(map(len, lines)) < flow.margin + STRIP:
            flow.turn()
            put(headings, bold=True)
        for j, texts in enumerate(lines):
            x, anchor = (starts[j] + widths[j], "right") if j in right else (starts[j], "left")
            for i, text in enumerate(texts, start=1):
                flow.page().text(text, (x, flow.y - i * line), BODY, bold=bold, anchor=anchor)
        flow.y -= line * max(map(len, lines))

    flow.need(5.0 * line)
    flow.y -= 2e-3 + LEAD * HEADING
    flow.page().text(title, (flow.margin, flow.y), HEADING, bold=True)
    put(headings, bold=True)
    for row in rows:
        put(row)


def _lines(cells: Sequence[str], widths: Sequence[float], *, bold: bool) -> list[list[str]]:
    """Lines of every cell of a row; of very long texts the first few."""
    return [
        wrapped(cell, BODY, width + 1e-6, bold=bold)[:MOST_LINES]
        for cell, width in zip(cells, widths, strict=True)
    ]


def _widths(room: float, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[float]:
    """Widths of columns that together have room: as wide as what is in them, the widest cut down."""
    widths = [
        max(text_width(headings[j], BODY, bold=True), *(text_width(row[j], BODY) for row in rows))
        for j in range(len(headings))
    ]
    spare = room - GAP * (len(widths) - 1)
    while (excess := sum(widths) - spare) > 1e-9:
        i = widths.index(max(widths))
        below = max((w for w in widths if w < widths[i]), default=0.0)
        widths[i] = max(below, widths[i] - excess, 1e-3)
    return widths
