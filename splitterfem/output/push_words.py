"""A push map in words: the pad, and soft spots as lines for a terminal and for machines."""

from __future__ import annotations

import math

from splitterfem.analysis.pushmap import PushMap
from splitterfem.design import Pad
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.wording import Words
from splitterfem.units import convert


def at_least_two(value: float) -> str:
    """Write a number above zero to the unit, or to two figures where it is below ten.

    Examples
    --------
    >>> at_least_two(12.05), at_least_two(134.6), at_least_two(3.14159), at_least_two(0.0372)
    ('12', '135', '3.1', '0.037')
    """
    return f"{value:.{max(0, 1 - math.floor(math.log10(value)))}f}"


def pad_words(pad: Pad, words: Words) -> str:
    """Write the size of a pad: its diameter, or length by width."""
    sizes = [pad.diameter] if pad.diameter is not None else [pad.length, pad.width]
    numbers = [f"{round(convert(float(size or 0.0), words.size), 2):g}" for size in sizes]
    return f"{' × '.join(numbers)} {words.size}"


def force_words(pushes: PushMap, words: Words) -> str:
    """Write the force of the push with its unit."""
    return f"{at_least_two(convert(pushes.force, words.force))} {words.force}"


def push_lines(pushes: PushMap, words: Words) -> list[str]:
    """Write the softest spots as a table for a terminal, and what the figures cover."""
    headings = ["spot", f"stiffness ({words.line_load})", f"x, y ({words.size})", f"sag there ({words.size})"]
    rows = [
        [
            str(number),
            at_least_two(convert(1e3 * float(row["stiffness_N_per_mm"]), words.line_load)),
            words.place((1e-3 * float(row["x_mm"]), 1e-3 * float(row["y_mm"]))),
            words.sag(1e-3 * float(row["sag_mm"])),
        ]
        for number, row in enumerate(pushes.table.to_dict("records"), start=1)
    ]
    table = aligned([headings, *rows]) if rows else ["Every push lifts the panel off its supports."]
    how = f"{force_words(pushes, words)} on a {pad_words(pushes.pad, words)} pad"
    return [
        f"Pushed down with {how}, load case '{pushes.case}'; the softest spots:",
        "",
        *table,
        "",
        *(line for note in pushes.notes for line in wrapped(note)),
    ]


def push_data(pushes: PushMap) -> dict[str, object]:
    """Return the softest spots, ready for JSON."""
    pad = {"diameter_mm": pushes.pad.diameter, "length_mm": pushes.pad.length, "width_mm": pushes.pad.width}
    return {
        "case": pushes.case,
        "force_N": pushes.force,
        "pad": {name: 1e3 * float(size) for name, size in pad.items() if size is not None},
        "softest": records(pushes.table),
        "points": len(pushes.lifts),
        "points_lifted_off": int(pushes.lifts.sum()),
        "notes": list(pushes.notes),
    }
