"""Sag, gap and mass of a trial, as numbers and as a small table that says what changed."""

from __future__ import annotations

import html
from dataclasses import dataclass

from splitterfem.analysis import Solution
from splitterfem.design import MeshSettings
from splitterfem.output.style import number
from splitterfem.output.wording import Words
from splitterfem.units import convert

FRAME = "border-left: 4px solid {}; padding: 0.3em 0.8em; margin: 0.3em 0; background: {}; color: #1c1c1c"
"""How a sentence stands out on a page, whatever the colours of the page are."""

PRESS = "Press Check before you decide."
"""Said until a design was checked."""

TONES = {"trouble": ("#c2185b", "#fde7ef"), "note": ("#4a6fa5", "#eaf0f8")}


@dataclass(frozen=True)
class Figures:
    """What a page tells of a design: sag and gap in m, mass in kg, places (x, y) in m."""

    sag: float
    sag_at: tuple[float, float]
    gap: float
    gap_at: tuple[float, float]
    mass: float


def figures_of(solution: Solution) -> Figures:
    """Read sag, gap and mass off a solution."""
    return Figures(
        solution.max_sag,
        solution.max_sag_at,
        solution.min_clearance,
        solution.min_clearance_at,
        solution.mass,
    )


def length_words(metres: float, words: Words, *, sign: bool = False) -> str:
    """Write a sag, a gap or a change of one with its unit, to 0.01 mm or 0.001 in."""
    text = words.number(metres, words.size, 2 if words.size == "mm" else 3)
    return f"{_signed(text) if sign else text} {words.size}"


def mass_words(kilograms: float, words: Words, *, sign: bool = False) -> str:
    """Write a mass or a change of one with its unit."""
    text = words.number(kilograms, words.mass, 2)
    return f"{_signed(text) if sign else text} {words.mass}"


def figures_table(now: Figures, before: Figures, words: Words) -> str:
    """Write figures as an HTML table: now, as kept, what changed, and where.

    Parameters
    ----------
    now, before : Figures
    words : Words
        Units for people.
    """
    where = f"at x, y ({words.size})"
    rows = [
        _row("worst sag", (now.sag, before.sag), words, at=now.sag_at, less_is_better=True),
        _row("least clearance", (now.gap, before.gap), words, at=now.gap_at, less_is_better=False),
        (
            "mass of panel and ribs",
            mass_words(now.mass, words),
            mass_words(before.mass, words),
            _change((now.mass, before.mass), words.mass, 2),
            "",
        ),
    ]
    head = "".join(_cell(text, "th") for text in ("", "now", "as kept", "change", where))
    body = "".join(
        f"<tr>{''.join(_cell(text, 'td', bold=number == 1) for number, text in enumerate(row))}</tr>"
        for row in rows
    )
    return f'<div style="overflow-x: auto">{_table(head, body)}</div>'


def _table(head: str, body: str) -> str:
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def check_words(own: Figures, now: Figures, words: Words, mesh: MeshSettings) -> str:
    """Say what comes out on a mesh made for a design, and how far the figures of the shared one are from it."""
    parts = [
        f"{name} {length_words(right, words)} ({length_words(here - right, words, sign=True)} on the shared one)"
        for name, right, here in (("worst sag", own.sag, now.sag), ("least clearance", own.gap, now.gap))
    ]
    return f"On a mesh made for this design, triangles of {_size(mesh, words)}: {', '.join(parts)}."


def mesh_words(case: str, shared: MeshSettings, own: MeshSettings, words: Words, *, checked: str = "") -> str:
    """Say of which load case the figures are, and what to think of the mesh that they are found on.

    Parameters
    ----------
    case : str
    shared, own : MeshSettings
        Of the mesh for all places, and of the design's own.
    words : Words
        Units for people.
    checked : str
        What came out on a mesh made for the design, when that is known.
    """
    differ = "" if shared.size == own.size else f" instead of {_size(own, words)}"
    return (
        f"Load case: {case}. To be quick, all places share one mesh, with triangles of {_size(shared, words)}{differ}: "
        f"a rib that was moved comes out a few per cent too stiff on it. {checked or PRESS}"
    )


def sentence(text: str, tone: str = "note") -> str:
    """Write a sentence so that it stands out; ``tone`` is "note" or "trouble"."""
    edge, ground = TONES[tone]
    return f'<div class="{tone}" style="{FRAME.format(edge, ground)}">{html.escape(text)}</div>'


def _size(mesh: MeshSettings, words: Words) -> str:
    """Write the size of triangles."""
    return words.with_unit(float(mesh.size), words.size, 0 if words.size == "mm" else 1)


def _row(
    name: str,
    values: tuple[float, float],
    words: Words,
    *,
    at: tuple[float, float],
    less_is_better: bool,
) -> tuple[str, str, str, str, str]:
    text = _change(values, words.size, 2 if words.size == "mm" else 3)
    if any(digit in text for digit in "123456789"):
        text += ", better" if text.startswith("-") == less_is_better else ", worse"
    return name, length_words(values[0], words), length_words(values[1], words), text, words.place(at)


def _change(values: tuple[float, float], unit: str, digits: int) -> str:
    """Write how far one figure is above another, both as they are shown, so that the row adds up."""
    now, before = (round(convert(value, unit), digits) for value in values)
    return f"{_signed(number(now - before, digits))} {unit}"


def _signed(text: str) -> str:
    return text if text.startswith("-") or not text.strip("0.") else f"+{text}"


def _cell(text: str, kind: str, *, bold: bool = False) -> str:
    inner = html.escape(text)
    return f'<{kind} style="text-align: left">{f"<b>{inner}</b>" if bold else inner}</{kind}>'
