"""Utilisations and the loss of one part as lines for a terminal."""

from __future__ import annotations

import math

import pandas as pd

from splitterfem.output.case_words import handling_names
from splitterfem.output.columns import aligned, wrapped
from splitterfem.output.judged import DISTANCE, Judged, Losses, most_loaded, weakest, worst_ratio
from splitterfem.output.unjudged import left_out
from splitterfem.output.wording import Words, ratio_words

WORST = 5
"""Rows of the utilisation table that are shown."""

BASIS = {
    "published": "compared with its source",
    "user": "given by the user and not checked",
    "memory": "recalled from its source and not compared with it since",
    "indicative": "a usual value within a wide range",
    "practice": "common practice without a source",
}
"""How well an allowable is known, by the words of `splitterfem.strength.row.Basis`."""

DISTANCES = (
    "Distances: the demand is what is needed, allowed is what there is. No load uses them, so that they are "
    "the weakest link only where they are too short."
)
"""How rows of distances are to be read."""


def strength_lines(judged: Judged, words: Words) -> list[str]:
    """Write the weakest part, the worst utilisations of all load cases, and what is not judged."""
    worst = judged.worst
    lines = [line for sentence in weakest_link(judged, words) for line in wrapped(sentence)]
    if len(worst):
        lines += ["", *_worst_rows(judged, words)]
        if (worst["unit"].head(WORST) == DISTANCE).any():
            lines += wrapped(DISTANCES)
        more = len(worst) - WORST
        if more > 0:
            lines.append(f"{more} more, none above {ratio_words(float(worst['ratio'].iloc[WORST]))}.")
    left = left_out(judged, words)
    if left:
        lines += ["", "Not judged:"]
        lines += [line for sentence in left for line in wrapped(sentence, indent="  ")]
    return lines


def weakest_link(judged: Judged, words: Words) -> list[str]:
    """Say in one sentence to three which part is used most, where, and how sure that is."""
    row = weakest(judged.worst)
    if row is None:
        return ["No part could be judged: the design gives no strengths."]
    place = at(row, words)
    where = f", at x, y {place} {words.size}" if place != "-" else ""
    said = [
        f"Weakest link: {row['part']}, {row['mode']}, used to {ratio_words(float(row['ratio']))} of what is "
        f"allowed (1 is the limit) in load case '{row['case']}'{where}.",
        f"What is allowed there is {BASIS[str(row['basis'])]}.",
    ]
    if judged.overloaded:
        number = judged.overloaded
        said.append(f"OVERLOADED: {number} {'ratios are' if number > 1 else 'ratio is'} above 1.")
    return said


def at(row: pd.Series, words: Words) -> str:
    """Place of a row, without its unit; - when it has none."""
    x, y = 1e-3 * float(row["x_mm"]), 1e-3 * float(row["y_mm"])
    return words.place((x, y)) if math.isfinite(x) and math.isfinite(y) else "-"


def _worst_rows(judged: Judged, words: Words) -> list[str]:
    rows = [
        ["part", "how it would fail", "ratio", "demand", "allowed", f"at x, y ({words.size})", "load case"]
    ]
    for _, row in judged.worst.head(WORST).iterrows():
        unit = str(row["unit"])
        rows.append(
            [
                str(row["part"]),
                str(row["mode"]),
                ratio_words(float(row["ratio"])),
                words.of_table(float(row["demand"]), unit),
                words.of_table(float(row["allowable"]), unit),
                at(row, words),
                str(row["case"]),
            ]
        )
    return aligned(rows, left=(0, 1, 6))


def loss_lines(losses: Losses, words: Words) -> list[str]:
    """Write what becomes of a load case when one part is lost."""
    size = words.size
    headings = ["lost", "kind", f"sag ({size})", f"gap ({size})", "largest force on", f"({words.force})"]
    lost = [loss_row(row, words) for _, row in losses.table.iterrows()]
    rows = [[*headings, "ratio", "outcome"], whole_row(losses, words), *lost]
    return [
        f"One part lost at a time, in load case '{losses.case}' ({why_this_case(losses)}):",
        "",
        *aligned(rows, left=(0, 1, 4, 7)),
        "",
        loss_verdict(losses),
        *wrapped(JOLT),
    ]


JOLT = (
    "The loss is slow: a part that breaks under load jolts the rest by up to about twice the change "
    "(Timoshenko, Vibration Problems in Engineering). Held means that the rest is in equilibrium; only its "
    "ratio says whether the rest bears it."
)
"""What the loss of one part does not tell."""


def why_this_case(losses: Losses) -> str:
    """Say why it is this load case in which parts are lost."""
    handling = handling_names(losses.whole.model.design)
    apart = ", handling apart" if handling and losses.case not in handling else ""
    what = "the largest utilisation" if losses.by_strength else "the largest sag, as nothing could be judged"
    return what + apart


def whole_row(losses: Losses, words: Words) -> list[str]:
    """Row of the load case with nothing lost, to compare the others with."""
    whole = losses.whole
    support, force = most_loaded(whole)
    row = {
        "lost": "nothing",
        "kind": "-",
        "max_sag_mm": 1e3 * whole.max_sag,
        "min_clearance_mm": 1e3 * whole.min_clearance,
        "worst_support": support,
        "worst_support_N": force,
        "worst_ratio": worst_ratio(whole),
        "outcome": "held" if whole.min_clearance > 0.0 else "touches the ground",
    }
    return loss_row(pd.Series(row, dtype=object), words)


def loss_row(row: pd.Series, words: Words) -> list[str]:
    """Lost part, kind, sag, gap, support with the largest force, that force, ratio and outcome."""
    if pd.isna(row["max_sag_mm"]):
        numbers = ["-", "-", "-", "-", "-"]
    else:
        numbers = [
            words.sag(1e-3 * float(row["max_sag_mm"])),
            words.sag(1e-3 * float(row["min_clearance_mm"])),
            str(row["worst_support"]),
            words.number(float(row["worst_support_N"]), words.force, 0),
            "-" if pd.isna(row["worst_ratio"]) else ratio_words(float(row["worst_ratio"])),
        ]
    return [str(row["lost"]), str(row["kind"]), *numbers, str(row["outcome"])]


def loss_verdict(losses: Losses) -> str:
    """Say in a sentence how many losses end badly."""
    if losses.table.empty:
        return "There is nothing to lose."
    total, fallen = len(losses.table), int((~losses.held).sum())
    broken = int((losses.bad & losses.held).sum())
    said = []
    if fallen:
        said.append(f"{fallen} of {total} losses end not held or on the ground")
    if broken:
        said.append(f"{broken} of {total} leave something overloaded")
    return "; ".join(said) + "." if said else f"None of {total} losses ends badly, as far as it is judged."
