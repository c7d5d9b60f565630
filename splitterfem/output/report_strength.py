"""What a report says of strength: utilisations of all load cases, their sources and factors, and losses."""

from __future__ import annotations

from splitterfem.design import StrengthSettings
from splitterfem.design.joints import Adhesive
from splitterfem.model import Model
from splitterfem.model.ribs import is_wood
from splitterfem.output.judged import DISTANCE, Judged, Losses
from splitterfem.output.report_tables import Table, minus, table_of
from splitterfem.output.summary_strength import (
    BASIS,
    DISTANCES,
    JOLT,
    at,
    loss_row,
    loss_verdict,
    weakest_link,
    whole_row,
    why_this_case,
)
from splitterfem.output.unjudged import left_out
from splitterfem.output.wording import Words, ratio_words
from splitterfem.strength.timber import timber_factors

ROWS = 12
"""Utilisations that are shown."""

LOSSES = 24
"""Losses that are shown."""


def strength_data(judged: Judged, words: Words) -> dict[str, object]:
    """Everything that a report says of utilisations.

    Parameters
    ----------
    judged : Judged
    words : Words
        Units.

    Returns
    -------
    dict
        ``weakest`` (sentences), ``overloaded``, ``table``, ``more``, ``sources`` (numbered), ``notes``,
        ``unjudged``.
    """
    table, sources = _table(judged, words)
    return {
        "weakest": [minus(line) for line in weakest_link(judged, words)],
        "overloaded": judged.overloaded > 0,
        "table": table,
        "more": _more(judged),
        "sources": sources,
        "notes": [*_factors(judged), *_reading(judged)],
        "unjudged": [minus(sentence) for sentence in left_out(judged, words)],
    }


def _table(judged: Judged, words: Words) -> tuple[Table, list[str]]:
    """Worst utilisations, and what stands behind the numbers in their last column."""
    sources: dict[str, list[str]] = {}
    rows, shown = [], judged.worst.head(ROWS)
    for _, row in shown.iterrows():
        unit, notes = str(row["unit"]), sources.setdefault(str(row["source"]), [])
        notes += [note for note in [str(row["note"])] if note and note not in notes]
        rows.append(
            [
                str(row["part"]),
                str(row["mode"]),
                ratio_words(float(row["ratio"])),
                words.of_table(float(row["demand"]), unit),
                words.of_table(float(row["allowable"]), unit),
                at(row, words),
                str(row["number"]),
                str(row["basis"]),
                str(list(sources).index(str(row["source"])) + 1),
            ]
        )
    headings = ["part", "how it would fail", "utili-\nsation", "demand", "allowed", f"at x, y\n{words.size}"]
    over = [i for i, ratio in enumerate(shown["ratio"]) if ratio > 1.0]
    table = table_of([*headings, "in\ncase", "known\nfrom", "source"], rows, alarms=over)
    return table, [_sentences([source, *notes]) for source, notes in sources.items()]


def _sentences(texts: list[str]) -> str:
    """Put texts that end without a full stop behind each other."""
    return " ".join(f"{text[:1].upper()}{text[1:].rstrip('.')}." for text in texts)


def _more(judged: Judged) -> str:
    more = judged.worst.iloc[ROWS:]
    if more.empty:
        return ""
    return (
        f"{len(more)} more, none above {ratio_words(float(more['ratio'].iloc[0]))}: all of them, load case by load "
        "case, are in utilisation.csv, which 'splitterfem solve FILE --out FOLDER' writes."
    )


def _reading(judged: Judged) -> list[str]:
    """How the table is to be read."""
    shown = judged.worst.head(ROWS)
    said = [f"{basis}, {BASIS[basis]}" for basis in BASIS if basis in set(shown["basis"])]
    lines = [f"Known from: {'; '.join(said)}."] if said else []
    if (shown["unit"] == "-").any():
        lines.append("Where no demand is shown, several stresses act together and their ratios are added.")
    if (shown["unit"] == DISTANCE).any():
        lines.append(DISTANCES)
    return lines


def _factors(judged: Judged) -> list[str]:
    """Factors between loads and strengths that the ratios were made with."""
    model = judged.solutions[0].model
    settings = model.design.strength
    return [
        *(_wood(judged, settings) if _has_wood(model) else []),
        f"Factor {float(settings.metal_factor):g} on the yield of metal, on ratings and on every strength that is "
        "not characteristic (common practice, no source).",
        *_adhesive(model, settings),
        f"Load factor {float(settings.load_factor):g} on all loads, on top of the factors of the load cases.",
    ]


def _wood(judged: Judged, settings: StrengthSettings) -> list[str]:
    """k_mod of every duration with its load cases, and both partial factors."""
    cases: dict[str, list[str]] = {}
    for number, solution in enumerate(judged.solutions, start=1):
        cases.setdefault(str(solution.case.duration), []).append(str(number))
    of_joints = {
        duration: timber_factors(settings.service_class, duration, member="connection") for duration in cases
    }
    k_mod = "; ".join(
        f"k_mod {of_joints[duration].k_mod:g} in load case{'s' if len(numbers) > 1 else ''} "
        f"{', '.join(numbers)} ({duration})"
        for duration, numbers in cases.items()
    )
    connection = next(iter(of_joints.values())).gamma
    return [
        f"Wood in service class {settings.service_class}: {k_mod}; gamma_M {float(settings.gamma_m_wood):g} on the "
        f"board, {connection:g} on fasteners in it (EN 1995-1-1 tables 3.1 and 2.3)."
    ]


def _has_wood(model: Model) -> bool:
    design = model.design
    return any(is_wood(sheet) for sheet in (design.panel.sheet, *(d.sheet for d in design.doublers)))


def _adhesive(model: Model, settings: StrengthSettings) -> list[str]:
    if not any(isinstance(rib.joint, Adhesive) for rib in model.design.ribs):
        return []
    return [f"Factor {float(settings.adhesive_factor):g} on adhesive (common practice, no source)."]


def loss_data(losses: Losses, words: Words) -> dict[str, object]:
    """Everything that a report says of the loss of one part.

    Parameters
    ----------
    losses : Losses
    words : Words
        Units.

    Returns
    -------
    dict
        ``intro``, ``table``, ``verdict``, ``bad`` (whether some loss ends badly), ``more`` and ``note``.
    """
    size = words.size
    shown, bad = losses.table.head(LOSSES), losses.bad.head(LOSSES)
    rows = [whole_row(losses, words), *(loss_row(row, words) for _, row in shown.iterrows())]
    headings = [
        "lost",
        "what",
        f"sag\n{size}",
        f"gap\n{size}",
        "largest\nforce on",
        words.force,
        "utili-\nsation",
    ]
    more = len(losses.table) - len(shown)
    return {
        "intro": f"Load case {losses.number}, {losses.case}: {why_this_case(losses)}. Each strut, bolt, pin, "
        "rear pocket and stop, and the joint of each rib, is taken away in turn, and the rest is solved and judged "
        "anew.",
        "table": table_of(
            [*headings, "outcome"], rows, alarms=[i for i, is_bad in enumerate(bad, start=1) if is_bad]
        ),
        "verdict": loss_verdict(losses),
        "bad": bool(losses.bad.any()),
        "more": f"{more} more, less bad than these." if more > 0 else "",
        "note": JOLT,
    }
