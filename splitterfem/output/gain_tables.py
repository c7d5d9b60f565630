"""Gains of ribs and struts as lines for a terminal and for machines."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from splitterfem.analysis.gain import LENGTH, RibGain
from splitterfem.analysis.gain_struts import StrutGain
from splitterfem.analysis.gain_words import rib_table
from splitterfem.analysis.measures import Measure
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.gain_phrases import better
from splitterfem.output.report_tables import section_words
from splitterfem.output.style import scale_of
from splitterfem.output.wording import Words
from splitterfem.units import convert

Row = Mapping[Hashable, Any]


def gain_lines(gain: RibGain | StrutGain, words: Words, *, length: float = LENGTH) -> list[str]:
    """Write the best places, for ribs of a length in m, as a table for a terminal, and what the figures cover."""
    kind = "rib" if isinstance(gain, RibGain) else "strut"
    one = f"pair of {kind}s" if gain.mirror else kind
    if isinstance(gain, RibGain):
        one += f", {section_words(gain.rib, words)}"
    lines = [
        f"One more {one}; load case '{gain.case}', {_amount(gain.measure, words)}; the best places:",
        "",
    ]
    rows = _best(gain, length).to_dict("records")
    lines += _ribs(gain, rows, words) if isinstance(gain, RibGain) else _struts(gain, rows, words)
    return [*lines, "", *(line for note in gain.notes for line in wrapped(note))]


def gain_data(gain: RibGain | StrutGain, *, length: float = LENGTH) -> dict[str, object]:
    """Return the best places, for ribs of a length in m, and for struts what moving parts is worth, ready for JSON."""
    measure = gain.measure
    data: dict[str, object] = {
        "case": gain.case,
        "measure": measure.name,
        f"now_{measure.heading}": measure.value / measure.per_unit,
        "pairs": gain.mirror,
        "best": records(_best(gain, length)),
        "notes": list(gain.notes),
    }
    if isinstance(gain, StrutGain):
        return {"strut_gain": {**data, "moves": records(gain.move_table)}}
    return {"rib_gain": {**data, "kg_per_m": gain.mass_per_metre}}


def _best(gain: RibGain | StrutGain, length: float) -> pd.DataFrame:
    return rib_table(gain, length) if isinstance(gain, RibGain) else gain.table


def _amount(measure: Measure, words: Words) -> str:
    unit = {"length": f" {words.size}", "frequency": " Hz", "ratio": ""}[measure.kind]
    return f"{measure.name} {_value(measure.value, measure, words)}{unit} now"


def _value(value: float, measure: Measure, words: Words) -> str:
    """Write a value of a measure in SI as a number."""
    if measure.kind == "length":
        return words.sag(value)
    return f"{value:.1f}" if measure.kind == "frequency" else f"{value:.2f}"


def _tried(gain: RibGain | StrutGain, row: Row, words: Words) -> list[str]:
    """Write the measure with it, and by how much that is better."""
    unit, per = gain.measure.heading, gain.measure.per_unit
    shown = _value(float(row[f"with_it_{unit}"]) * per, gain.measure, words)
    scale = scale_of(words.size)
    return [shown, better(float(row[f"better_{unit}"]) * per, gain.measure, scale)]


def _heading(gain: RibGain | StrutGain, words: Words) -> list[str]:
    unit = {"length": f" ({words.size})", "frequency": " (Hz)", "ratio": ""}[gain.measure.kind]
    return [f"{gain.measure.name} with it{unit}", "change"]


def _ribs(gain: RibGain, rows: list[dict[Hashable, Any]], words: Words) -> list[str]:
    headings = [
        "place",
        f"middle x, y ({words.size})",
        "angle (deg)",
        f"length ({words.size})",
        f"mass ({words.mass})",
        *_heading(gain, words),
    ]
    told = [
        [
            str(row["place"]),
            words.place((1e-3 * row["x_mm"], 1e-3 * row["y_mm"])),
            f"{row['angle_deg']:.0f}",
            words.number(1e-3 * row["length_mm"], words.size, 0 if words.size == "mm" else 1),
            f"{convert(1e-3 * row['mass_g'], words.mass):.2f}",
            *_tried(gain, row, words),
        ]
        for row in rows
    ]
    return aligned([headings, *told]) if told else ["No rib of the usual length fits on the panel."]


def _struts(gain: StrutGain, rows: list[dict[Hashable, Any]], words: Words) -> list[str]:
    told = [
        [str(row["place"]), words.place((1e-3 * row["x_mm"], 1e-3 * row["y_mm"])), *_tried(gain, row, words)]
        for row in rows
    ]
    lines = aligned([["place", f"x, y ({words.size})", *_heading(gain, words)], *told])
    scale, step = scale_of(words.size), 0.01 if words.size == "mm" else 0.0127
    way = "10 mm" if words.size == "mm" else "1/2 in"
    moves = [
        [
            move.name,
            words.place(move.at),
            better(move.forward * step, gain.measure, scale),
            better(move.left * step, gain.measure, scale),
        ]
        for move in gain.moves
    ]
    heads = ["moving", f"from x, y ({words.size})", f"{way} forward", f"{way} to the left"]
    return [*lines, "", *aligned([heads, *moves])] if moves else lines
