"""Readers of reports for their tests: text and sizes of a PDF, tags and text of a page of HTML."""

from __future__ import annotations

import io
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np

MM = 25.4 / 72.0
"""A point in mm."""

VOID = {"meta", "img", "br", "hr", "link", "input"}
"""Elements without an end tag (HTML Living Standard, 13.1.2)."""


def squeezed(text: str) -> str:
    """Text without white space and zero-width spaces, which line breaks add and take away."""
    return "".join(text.replace("\u200b", "").split())


class Pdf:
    """Pages of a PDF, read by pypdf."""

    def __init__(self, place: Path) -> None:
        import pypdf

        self.pages = pypdf.PdfReader(place).pages
        self.text = squeezed("".join(page.extract_text() for page in self.pages))

    @property
    def sizes(self) -> list[tuple[float, float]]:
        """Width and height of each page in mm."""
        return [(float(p.mediabox.width) * MM, float(p.mediabox.height) * MM) for p in self.pages]


class Page(HTMLParser):
    """Everything in a page of HTML; raises when an end tag is wrong."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.pieces: list[str] = []
        self.style = ""
        self.feed(text)
        self.close()
        assert not self.open
        self.text = squeezed("".join(self.pieces))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "style":
            self.style += data
        else:
            self.pieces.append(data)

    def values(self, tag: str, name: str) -> list[str]:
        """Values of an attribute."""
        return [value for t, n, value in self.attributes if (t, n) == (tag, name)]


def blocks_of(document: dict[str, Any]) -> list[dict[str, Any]]:
    """All blocks of a report, those of its first page first."""
    return [*document["summary"], *(block for part in document["sections"] for block in part["blocks"])]


def pixels(png: bytes) -> np.ndarray:
    """Pixels (rows, columns, 3) of a picture, from 0 to 255."""
    from matplotlib.image import imread

    return np.rint(255.0 * imread(io.BytesIO(png), format="png")[..., :3]).astype(int)
