"""What a report is made of: sections of blocks, plain data that any renderer can lay out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

Block = dict[str, Any]
"""``kind`` and what belongs to it; texts in it are texts and never markup."""

Contents = Mapping[str, Any]
"""As `splitterfem.output.report_data.report_data` makes it."""

PLAN = "in plan view, seen from above, driving up the page"
"""Part of what is said of most pictures."""

Tone = Literal["plain", "strong", "good", "bad", "look", "small", "alarm"]
"""How a paragraph is meant: alarms are bad news in bold, small ones are notes."""


def paragraph(text: str, tone: Tone = "plain") -> Block:
    """Make a paragraph."""
    return {"kind": "paragraph", "text": text, "tone": tone}


def bullets(lines: Sequence[str], *, numbered: bool = False, small: bool = True) -> list[Block]:
    """Make a list; nothing without lines."""
    if not lines:
        return []
    return [{"kind": "list", "lines": list(lines), "numbered": numbered, "small": small}]


def table(
    content: Mapping[str, Any],
    *,
    left: Sequence[int] = (0,),
    wide: Mapping[int, float] | None = None,
    sums: int = 0,
) -> list[Block]:
    """Make a table; nothing without rows.

    Parameters
    ----------
    content : mapping
        As `splitterfem.output.report_tables.table_of` makes it: ``headings``, ``rows``, ``alarms``.
    left : sequence of int
        Columns of words, which stand at the left; the others are of numbers.
    wide : mapping of int to float, optional
        Columns that share the width that is left, and their shares of it.
    sums : int
        Last rows that are sums.
    """
    if not content["rows"]:
        return []
    shares = wide or {}
    widths = [shares.get(column, 0) for column in range(len(content["headings"]))]
    return [{"kind": "table", **content, "left": list(left), "widths": widths, "sums": sums}]


def pictures(
    items: Sequence[tuple[str, str, str]],
    *,
    title: str = "",
    words: str = "",
    across: int = 1,
    fill: bool = False,
) -> Block:
    """Make one picture or some beside each other.

    Parameters
    ----------
    items : sequence of (str, str, str)
        Of each its file, a caption, and what it shows in words for those who cannot see it.
    title : str
        Over all of them.
    words : str
        Under the title.
    across : int
        How many have room beside each other.
    fill : bool
        Whether they take what is left of the page, and are left out where that is too little for them.
    """
    shown = [{"file": file, "caption": caption, "alt": alt} for file, caption, alt in items]
    return {
        "kind": "pictures",
        "items": shown,
        "title": title,
        "words": words,
        "across": across,
        "fill": fill,
    }


def section(title: str, *blocks: Block | Sequence[Block], level: int = 1, page: str = "") -> list[Block]:
    """Make a section; none without blocks.

    Parameters
    ----------
    title : str
    *blocks : block or sequence of blocks
    level : int
        1 for what the contents of the report are, 2 for parts of these.
    page : str
        ``own`` for a page that begins with it, ``drawing`` for one that lies on its side and has nothing else.
    """
    found: list[Block] = []
    for block in blocks:
        found += [block] if isinstance(block, dict) else block
    return [{"title": title, "blocks": found, "level": level, "page": page}] if found else []
