"""Results as text, as Markdown, as JSON, and as the short table of the README."""

from __future__ import annotations

import json
import math
import os
import re
from pathlib import Path
from typing import Any

from benchmarks.section import Row, Table

BEGIN, END = "<!-- benchmarks -->", "<!-- /benchmarks -->"
CONSTANT = ("unit", "source")
"""Columns that are said once above a table where all rows have the same."""


def shown(value: object) -> str:
    """Write a value as people read it: three digits, a dash for what there is not."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return "–" if math.isnan(value) else _number(value)
    return str(value)


def _number(value: float) -> str:
    if value == 0.0:
        return "0"
    digits = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:.{digits}f}" if digits <= 6 else f"{value:.2g}"


def columns(rows: list[Row]) -> tuple[list[str], dict[str, str]]:
    """Columns of a table, and those of unit and source that are the same in all rows."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    same = {
        name: str(rows[0][name])
        for name in names
        if name in CONSTANT and len({str(row.get(name)) for row in rows}) == 1
    }
    return [name for name in names if name not in same], same


def as_markdown(table: Table) -> str:
    """Table with its notes."""
    lines = [f"### {table.title}", "", *(f"{note}\n" for note in table.notes)]
    if not table.rows:
        return "\n".join(lines)
    names, same = columns(table.rows)
    if same:
        lines += ["; ".join(f"{name.capitalize()}: {text}" for name, text in same.items()) + ".", ""]
    lines += [_line(names), _line(["---"] * len(names))]
    lines += [_line([shown(row.get(name)) for name in names]) for row in table.rows]
    return "\n".join([*lines, ""])


def _line(cells: list[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def as_text(table: Table) -> str:
    """Table for a terminal."""
    lines = [table.title, *(f"  {note}" for note in table.notes)]
    if not table.rows:
        return "\n".join(lines)
    names, same = columns(table.rows)
    cells = [names, *([shown(row.get(name)) for name in names] for row in table.rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(names))]
    lines += [f"  {name}: {text}" for name, text in same.items()]
    lines += ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in cells]
    return "\n".join(lines)


def heading(machine: dict[str, Any]) -> str:
    """Sentence about machine, date and versions."""
    versions = ", ".join(f"{name} {number}" for name, number in machine["versions"].items())
    busy = machine["load_before"]
    load = "" if busy is None else f"; load before the run {busy:.1f}"
    return f"{machine['date']}, {machine['processor']}, {machine['cores']} cores{load}; {versions}."


def markdown(results: dict[str, Any]) -> str:
    """Return everything that is printed, as one page."""
    parts = [
        "# Benchmarks",
        "",
        "Written by `python benchmarks/run.py`; do not edit.",
        "",
        heading(results["machine"]),
    ]
    for section in results["sections"].values():
        parts += ["", f"## {section['title']}", ""]
        if section.get("mode") == "quick":
            parts += ["A quick run: few rows, each time taken once.", ""]
        if section.get("left_out"):
            parts.append(section["left_out"])
        parts += [as_markdown(table_of(one)) for one in section.get("tables", ()) if one["printed"]]
    return "\n".join(parts).rstrip() + "\n"


def table_of(stored: dict[str, Any]) -> Table:
    """Return a table as it was before it was stored."""
    return Table(stored["title"], stored["rows"], tuple(stored["notes"]), stored["printed"])


def whole(path: Path, text: str) -> None:
    """Write a file beside its place and move it there, so that a crash leaves the old one."""
    beside = path.with_name(path.name + ".part")
    beside.write_text(text, encoding="utf-8")
    os.replace(beside, path)


def as_json(results: dict[str, Any]) -> str:
    """Return results as text, each row of a table on a line of its own."""
    text = json.dumps(_rounded(results), indent=1, default=float, ensure_ascii=False)
    return re.sub(r"\{\n\s*([^{}]*?)\n\s*\}", _on_one_line, text) + "\n"


def _on_one_line(found: re.Match[str]) -> str:
    return "{" + re.sub(r",\n\s*", ", ", found[1]) + "}"


def _rounded(value: Any) -> Any:
    """Round numbers to six digits, in whatever they stand in."""
    if isinstance(value, dict):
        return {name: _rounded(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value


def into_readme(readme: Path, table: str) -> None:
    """Put the short table between its marks.

    Raises
    ------
    ValueError
        If the marks are not there.
    """
    text = readme.read_text(encoding="utf-8")
    if text.count(BEGIN) != 1 or text.count(END) != 1:
        raise ValueError(
            f"{readme.name} has no place for the table: put {BEGIN} and {END} where it should stand."
        )
    before, after = text.partition(BEGIN)[0], text.partition(END)[2]
    whole(readme, f"{before}{BEGIN}\n{table}\n{END}{after}")
