"""Lines and texts of a PDF as they lie on the page, read from its content stream with pypdf.

Operators are those of ISO 32000-1, annex A: a path is built by m, l, c, re and h, painted by S, s or n, and clipped
by W; cm multiplies the matrix, q and Q keep and bring back the state.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from pypdf import PdfReader
from pypdf.generic import ContentStream

MM = 25.4 / 72.0
"""Millimetres of a unit of PDF (ISO 32000-1, 8.3.2.3)."""

IDENTITY = np.eye(3)


@dataclass
class Line:
    """A painted path: its points in mm, whether it has curves, and the rectangle that it is clipped to."""

    points: np.ndarray
    curved: bool
    clip: tuple[float, float, float, float] | None

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of its points."""
        return (*self.points.min(axis=0), *self.points.max(axis=0))

    @property
    def middle(self) -> np.ndarray:
        """Middle of the rectangle about it."""
        return 0.5 * (self.points.min(axis=0) + self.points.max(axis=0))

    @property
    def size(self) -> np.ndarray:
        """Width and height of the rectangle about it."""
        return np.ptp(self.points, axis=0)


@dataclass
class Sheet:
    """A page: its size in mm, its lines and its text."""

    width: float
    height: float
    lines: list[Line] = field(default_factory=list)
    text: str = ""

    def check_lines(self, length: float) -> list[Line]:
        """Level lines of about a length in mm at the foot of the page."""
        return [
            one
            for one in self.lines
            if len(one.points) == 2
            and one.size[1] < 1e-6
            and abs(one.size[0] - length) < 2.0
            and one.middle[1] < 25.0
        ]

    def circles(self, diameter: float) -> list[Line]:
        """Round lines of a diameter in mm."""
        return [one for one in self.lines if one.curved and np.allclose(one.size, diameter, atol=1e-3)]

    def upright(self) -> list[Line]:
        """Straight lines of two points that run up the page."""
        return [one for one in self.lines if len(one.points) == 2 and one.size[0] < 1e-6]


def sheets_of(path: Path) -> list[Sheet]:
    """Read all pages of a PDF."""
    reader = PdfReader(path)
    found = []
    for page in reader.pages:
        box = page.mediabox
        sheet = Sheet(float(box.width) * MM, float(box.height) * MM, text=page.extract_text())
        _walk(ContentStream(page.get_contents(), reader), sheet)
        found.append(sheet)
    return found


def _walk(stream: ContentStream, sheet: Sheet) -> None:
    matrix, clip, kept = IDENTITY, None, []
    path: list[np.ndarray] = []
    curved = clipping = False

    def place(x: object, y: object) -> np.ndarray:
        return (np.array([float(x), float(y), 1.0]) @ matrix)[:2] * MM  # type: ignore[arg-type]

    for operands, operator in stream.operations:
        name = operator.decode()
        if name == "q":
            kept.append((matrix, clip))
        elif name == "Q":
            matrix, clip = kept.pop()
        elif name == "cm":
            a, b, c, d, e, f = map(float, operands)
            matrix = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ matrix
        elif name in ("m", "l"):
            path.append(place(*operands))
        elif name == "c":
            path += [place(*operands[i : i + 2]) for i in (0, 2, 4)]
            curved = True
        elif name == "re":
            x, y, w, h = map(float, operands)
            path += [place(x, y), place(x + w, y + h)]
        elif name == "W":
            clipping = True
        elif name in ("S", "s", "f", "n", "B", "b"):
            if path and clipping:
                box = np.array(path)
                clip = (*box.min(axis=0), *box.max(axis=0))
            elif path and name in ("S", "s"):
                sheet.lines.append(Line(np.array(path), curved, clip))
            path, curved, clipping = [], False, False
