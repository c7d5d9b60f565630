"""What a report says of natural frequencies and of buckling, when its design asks for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.buckling import CAUTION, Buckling
from splitterfem.analysis.excitations import NEAR, closeness
from splitterfem.analysis.modes import Modes
from splitterfem.output.excitationview import plot_excitations
from splitterfem.output.modesview import plot_buckling, plot_modes
from splitterfem.output.report_pictures import figure_svg
from splitterfem.output.report_tables import minus, table_of
from splitterfem.output.summary_behaviour import (
    ENOUGH,
    buckling_alarms,
    buckling_headings,
    buckling_notes,
    buckling_rows,
    mode_rows,
    shaking,
    shaking_rows,
)
from splitterfem.output.wording import Words

CHART, ROW = (7.2, 1.0), 0.32
"""Inches of the chart of frequencies without its rows, and the height of each."""


def behaviour_part(behaviour: Behaviour | None, words: Words) -> dict[str, object]:
    """Everything that a report says of natural frequencies and of buckling.

    Parameters
    ----------
    behaviour : Behaviour or None
    words : Words
        Units.

    Returns
    -------
    dict
        ``vibration`` and ``buckling``, each None when there is nothing.
    """
    known = behaviour or Behaviour()
    return {
        "vibration": None if known.modes is None else _vibration(known.modes, words),
        "buckling": _buckling(known.buckling, words) if known.buckling else None,
    }


def _vibration(modes: Modes, words: Words) -> dict[str, object]:
    headings = ["mode", "Hz", "mass\n%", f"moves most at\nx, y ({words.size})"]
    rows = [row[:-1] for row in mode_rows(modes, words)]
    shakes = ["what may shake it", "Hz", "modes\nin it", f"modes within\n{100.0 * NEAR:.0f} % of it"]
    return {
        "intro": f"About load case: {modes.case}. A panel that is shaken at one of its natural frequencies swings far "
        "beyond what the same force does at rest.",
        "table": table_of(headings, rows),
        "ranges": table_of(shakes, _touched(modes, words)),
        "notes": [_known_from(modes, words), *(minus(note) for note in modes.notes)],
        "shapes": "modes.svg",
        "chart": "excitations.svg",
    }


def _touched(modes: Modes, words: Words) -> list[list[str]]:
    """Rows of what may shake a splitter: its range, the numbers of the modes in it, and of those near it."""
    rows = []
    for what, low, high, _ in shaking(modes, words)[["what", "from_Hz", "to_Hz", "basis"]].itertuples(
        index=False
    ):
        how = [closeness(float(frequency), low, high) for frequency in modes.frequencies]
        numbers = [
            ", ".join(str(i) for i, found in enumerate(how, start=1) if found == wanted) or "-"
            for wanted in ("in", "near")
        ]
        rows.append([str(what), f"{low:.0f} to {high:.0f}", *numbers])
    return rows


def _known_from(modes: Modes, words: Words) -> str:
    """Say where the ranges come from."""
    bases: dict[str, list[str]] = {}
    for what, _, basis in shaking_rows(modes, words):
        bases.setdefault(basis, []).append(what.rpartition(" at ")[0] or what)
    said = [f"{', '.join(dict.fromkeys(names))}: {basis}" for basis, names in bases.items()]
    return f"What may shake it: {'; '.join(said)}. Mass: the share that moves when the car goes up and down."


def _buckling(buckling: Sequence[Buckling], words: Words) -> dict[str, object]:
    low = [i for i, one in enumerate(buckling) if one.lowest < ENOUGH]
    rows = buckling_rows(buckling, words)
    return {
        "intro": "How many times the whole load case the panel and its ribs bear before they buckle, the lowest first.",
        "table": table_of(
            buckling_headings(buckling, f"bows most at\nx, y ({words.size})"), rows, alarms=low
        ),
        "verdict": buckling_alarms(buckling),
        "notes": [note for note in buckling_notes(buckling) if note != CAUTION],
        "caution": CAUTION,
        "pictures": [
            {"title": one.case, "file": f"buckling-{number}.svg"}
            for number, one in enumerate(buckling, start=1)
            if one.shapes
        ],
    }


def behaviour_pictures(behaviour: Behaviour | None, words: Words) -> dict[str, bytes]:
    """Draw the pictures that `behaviour_part` names, as SVG by their names."""
    known, found = behaviour or Behaviour(), {}
    if known.modes is not None:
        unit = cast("Literal['km/h', 'mph']", words.speed)
        shapes = plot_modes(known.modes, unit=unit, title="", width=CHART[0])
        found["modes.svg"] = figure_svg(shapes.get_figure(root=True))
        rows = len(shaking(known.modes, words))
        figure = Figure(figsize=(CHART[0], CHART[1] + ROW * rows), layout="constrained")
        FigureCanvasSVG(figure)
        plot_excitations(known.modes, None, figure.add_subplot(), unit=unit, title="")
        found["excitations.svg"] = figure_svg(figure)
    for number, one in enumerate(known.buckling, start=1):
        if one.shapes:
            drawn = plot_buckling(one, title="", width=CHART[0], caution=False)
            found[f"buckling-{number}.svg"] = figure_svg(drawn.get_figure(root=True))
    return found
