"""What a design asks besides its load cases as lines for a terminal and for machines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

import pandas as pd

from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.buckling import Buckling
from splitterfem.analysis.excitations import design_speeds, excitations, near_words
from splitterfem.analysis.modes import Modes
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.speed_words import sweep_data, sweeps_lines
from splitterfem.output.wording import Words

ENOUGH = 3.0
"""Buckling factor below which the large-deflection solution is to be looked at (judgement)."""


def shaking(modes: Modes, words: Words) -> pd.DataFrame:
    """List what may shake a splitter at the speeds of its load cases, in the words of a system of units."""
    unit = cast("Literal['km/h', 'mph']", words.speed)
    return excitations(design_speeds(modes.model.design), unit=unit)


def mode_rows(modes: Modes, words: Words) -> list[list[str]]:
    """Rows of natural frequencies: number, Hz, share of the mass in %, where it moves most, what shakes it."""
    table = shaking(modes, words)
    rows = []
    for number, (frequency, shape, share) in enumerate(
        zip(modes.frequencies, modes.shapes, modes.participation, strict=True), start=1
    ):
        value = f"{frequency:.1f}" if frequency > 0.0 else "diverges"
        place = words.place(shape.highest()[1])
        rows.append([str(number), value, f"{100.0 * share:.0f}", place, near_words(frequency, table) or "-"])
    return rows


def shaking_rows(modes: Modes, words: Words) -> list[list[str]]:
    """Rows of excitations: what, its range in Hz, where the figures come from."""
    table = shaking(modes, words)
    return [
        [str(what), f"{low:.0f}-{high:.0f}", str(basis)]
        for what, low, high, basis in table[["what", "from_Hz", "to_Hz", "basis"]].itertuples(index=False)
    ]


def buckling_rows(buckling: Sequence[Buckling], words: Words) -> list[list[str]]:
    """Rows of load cases: name, its factors, and where the first shape bows most."""
    most = max((len(one.factors) for one in buckling), default=0)
    return [
        [
            one.case,
            *(f"{factor:.1f}" for factor in one.factors),
            *["-"] * (most - len(one.factors)),
            words.place(one.shapes[0].highest()[1]) if one.shapes else "-",
        ]
        for one in buckling
    ]


def buckling_headings(buckling: Sequence[Buckling], place: str) -> list[str]:
    """Headings of these rows; ``place`` is that of the last."""
    most = max((len(one.factors) for one in buckling), default=0)
    return ["load case", *(f"factor {number}" for number in range(1, most + 1)), place]


def buckling_alarms(buckling: Sequence[Buckling]) -> list[str]:
    """Sentences on load cases whose factor is below one, or too low to trust the linear solution."""
    said = [
        f"BUCKLES: load case '{one.case}' is beyond the load at which the panel buckles (factor {one.lowest:.2f})."
        for one in buckling
        if one.lowest <= 1.0
    ]
    return said + [
        f"Load case '{one.case}' has a factor of {one.lowest:.1f}: look at its large-deflection solution."
        for one in buckling
        if 1.0 < one.lowest < ENOUGH
    ]


def buckling_notes(buckling: Sequence[Buckling]) -> list[str]:
    """Say what the factors cover and what they are worth, each said once."""
    return list(dict.fromkeys(note for one in buckling for note in one.notes))


def modes_lines(modes: Modes, words: Words) -> list[str]:
    """Write natural frequencies and what may shake the panel as tables for a terminal."""
    headings = ["mode", "Hz", "mass (%)", f"moves most at x, y ({words.size})", "shaken by"]
    return [
        f"Natural frequencies about load case '{modes.case}':",
        "",
        *aligned([headings, *mode_rows(modes, words)], left=(4,)),
        "",
        *aligned([["what may shake it", "Hz", "known from"], *shaking_rows(modes, words)], left=(0, 2)),
        "",
        *(line for note in modes.notes for line in wrapped(note)),
    ]


def buckling_lines(buckling: Sequence[Buckling], words: Words) -> list[str]:
    """Write buckling factors as a table for a terminal."""
    headings = buckling_headings(buckling, f"bows most at x, y ({words.size})")
    said = [*buckling_alarms(buckling), *buckling_notes(buckling)]
    return [
        "Buckling: how many times the whole load case the panel bears before it buckles:",
        "",
        *aligned([headings, *buckling_rows(buckling, words)]),
        "",
        *(line for sentence in said for line in wrapped(sentence)),
    ]


def behaviour_lines(behaviour: Behaviour, words: Words) -> list[str]:
    """Write everything that a design asked for besides its load cases; none when it asked for nothing."""
    lines = [] if behaviour.modes is None else modes_lines(behaviour.modes, words)
    if behaviour.buckling:
        lines += [*([""] if lines else []), *buckling_lines(behaviour.buckling, words)]
    if behaviour.sweeps:
        lines += [*([""] if lines else []), *sweeps_lines(behaviour.sweeps, words)]
    return lines


def modes_data(modes: Modes) -> dict[str, object]:
    """Return natural frequencies and what may shake the panel, ready for JSON."""
    return {
        "case": modes.case,
        "prestressed": modes.prestressed,
        "air_spring": modes.air_spring,
        "added": [{"x_mm": 1e3 * x, "y_mm": 1e3 * y, "mass_kg": mass} for x, y, mass in modes.added],
        "modes": records(modes.table),
        "excitations": records(modes.excitations),
        "merged": list(modes.merged),
        "residual": modes.residual,
        "truncation": modes.truncation if modes.air_spring else None,
        "notes": list(modes.notes),
    }


def buckling_data(buckling: Sequence[Buckling]) -> list[dict[str, object]]:
    """Return buckling factors, ready for JSON."""
    return [
        {
            "case": one.case,
            "shapes": records(one.table),
            "residual": one.residual,
            "notes": [*buckling_alarms([one]), *one.notes],
        }
        for one in buckling
    ]


def behaviour_data(behaviour: Behaviour | None) -> dict[str, object]:
    """Return everything that a design asked for besides its load cases, ready for JSON.

    Returns
    -------
    dict
        ``natural_frequencies``, None when there are none, ``buckling``, a list of load cases, and ``speed_sweeps``.
    """
    known = behaviour or Behaviour()
    return {
        "natural_frequencies": None if known.modes is None else modes_data(known.modes),
        "buckling": buckling_data(known.buckling),
        "speed_sweeps": [sweep_data(sweep) for sweep in known.sweeps],
    }
