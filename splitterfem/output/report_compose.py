"""A report before it is set: its sections, and its pictures by their names.  Every renderer begins with this."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.output.judged import Losses
from splitterfem.output.report_behaviour import behaviour_pictures
from splitterfem.output.report_data import report_data
from splitterfem.output.report_document import document
from splitterfem.output.report_drawing import Drawing, draw
from splitterfem.output.report_front import PAPERS, Front
from splitterfem.output.report_pictured import load_pictures
from splitterfem.output.report_pictures import envelope_svg
from splitterfem.output.report_speed import speed_pictures

SIDES, ENDS, TITLE_BLOCK = 10.0, 22.0, 35.0
"""Of the page with the drawing, in mm: its margin at each side, both margins over and under it, and the room that its
title block and its notes need."""


@dataclass(frozen=True)
class Composed:
    """A report that has only to be set.

    Attributes
    ----------
    document : dict
        Of `splitterfem.output.report_document.document`.
    pictures : dict of str to bytes
        SVG by the names that the document has for them.
    """

    document: dict[str, Any]
    pictures: dict[str, bytes]


def compose(
    solutions: Sequence[Solution], front: Front, losses: Losses | None, behaviour: Behaviour | None
) -> Composed:
    """Put a report together.

    Parameters
    ----------
    solutions : sequence of Solution
        Load cases of one splitter.
    front : Front
    losses : Losses or None
    behaviour : Behaviour or None
    """
    design, words = solutions[0].model.design, front.words
    width, height = PAPERS[front.sheet]
    drawing = draw(design, words, (height - 2.0 * SIDES, width - ENDS - TITLE_BLOCK))
    contents = report_data(solutions, words, front.date, losses=losses, behaviour=behaviour, front=front)
    pictures = {
        "drawing.svg": drawing.svg,
        **load_pictures(solutions, words),
        **behaviour_pictures(behaviour, words),
        **speed_pictures(() if behaviour is None else behaviour.sweeps, words),
    }
    if design.envelope is not None:
        pictures["envelope.svg"] = envelope_svg(solutions, words.size)
    return Composed(document({**contents, "sheet": _sheet(drawing, contents, front)}), pictures)


def _sheet(drawing: Drawing, contents: dict[str, Any], front: Front) -> dict[str, object]:
    """Sizes of the drawing in mm, and the fields of its title block."""
    paper = {"a4": "A4", "letter": "Letter"}[front.sheet]
    known = dict(contents["design"])
    grain = f", face grain {known['face grain']}" if "face grain" in known else ""
    invented = [["", "INVENTED DATA"]] if contents["invented"] else []
    fields = [
        ["drawing", "splitter, plan view from above"],
        ["scale", f"1:{drawing.scale} on {paper}, printed at 100 %"],
        ["sizes", f"in {'millimetres' if front.words.size == 'mm' else 'inches'}"],
        ["sheet", f"{known['sheet']}{grain}"],
        *contents["names"],
        ["date", contents["date"]],
        ["input", contents["fingerprint"]],
        *invented,
    ]
    return {
        "width_mm": round(drawing.width, 3),
        "height_mm": round(drawing.height, 3),
        "scale": drawing.scale,
        "fields": fields,
        "notes": [
            *drawing.notes,
            "Measure the bar before you take sizes from a print, and take the written sizes first: this drawing is "
            "for a look at the whole, not for the saw.",
        ],
    }
