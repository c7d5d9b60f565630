"""Sweeps over speed as sentences, as tables for a terminal and for machines."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splitterfem.analysis.divergence import Divergence
from splitterfem.analysis.divergence_words import BORDER
from splitterfem.analysis.sweep import Sweep
from splitterfem.analysis.touch import TouchSpeed
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.wording import System, Words, ratio_words
from splitterfem.units import convert

MM, KMH = 1e-3, 1.0 / 3.6
"""Units of the table of a sweep in SI."""

FOLLOWED = "Sag and downforce at rest are those with pressure that does not follow the sag."
UNFOLLOWED = "The pressure does not follow the sag in this load case."

Row = dict[str, object]


def headline(sweep: Sweep, words: Words) -> tuple[str, bool]:
    """Say in one sentence what comes of a sweep, and whether that is bad."""
    lost = next(
        (row for row in sweep.rows if str(row["outcome"]).startswith(("no equilibrium", "not held"))), None
    )
    touches = next((row for row in sweep.rows if row["outcome"] == "touches the ground"), None)
    over = next((row for row in sweep.rows if number(row, "worst_ratio") > 1.0), None)
    fastest = number(sweep.rows[-1], "speed_kmh") * KMH
    bad = []
    if _found(sweep.touch, fastest):
        assert sweep.touch is not None
        bad.append(f"{_touching(sweep.touch)} from {said_speed(sweep.touch.speed or 0.0, words)}")
    elif touches is not None:
        at_first = touches is sweep.rows[0]
        bad.append(f"touches the ground {'at all speeds' if at_first else f'at {_speed(touches, words)}'}")
    if lost is not None:
        bad.append(f"no equilibrium at {_speed(lost, words)}")
    if over is not None:
        bad.append(f"used beyond its limit at {_speed(over, words)}")
    if limits_bad(sweep.divergence):
        bad.append("too near to divergence at its own speed")
    if bad:
        text = ", ".join(bad)
        return text[0].upper() + text[1:], True
    return _good(sweep, words), False


def _found(touch: TouchSpeed | None, fastest: float) -> bool:
    return touch is not None and touch.outcome in ("touches", "lost") and (touch.speed or math.inf) <= fastest


def _touching(touch: TouchSpeed) -> str:
    return "touches the ground" if touch.outcome == "touches" else "goes down to the ground at once"


def _good(sweep: Sweep, words: Words) -> str:
    gap = min(number(row, "min_clearance_mm") for row in sweep.rows) * MM
    ratios = [number(row, "worst_ratio") for row in sweep.rows]
    known = [ratio for ratio in ratios if not math.isnan(ratio)]
    used = f", used to {ratio_words(max(known))} of its limit at most" if known else ""
    return f"Holds up to {_speed(sweep.rows[-1], words)}: at least {words.sag(gap)} {words.size} of gap{used}"


def limit_sentences(sweep: Sweep, system: System = "metric") -> list[str]:
    """Sentences on what lies beyond a sweep, and on how far its air can be trusted."""
    said: list[str] = []
    found = sweep.divergence
    shared = found is not None and sweep.touch is found.touch
    if sweep.touch is not None and not shared:
        said.append(sweep.touch.said(system))
    if found is not None:
        if not shared:
            said.append("The sentences on divergence are with pressure that follows the sag:")
        said += found.said(system)
    return [*said, *sweep.notes]


def limits_bad(found: Divergence | None) -> bool:
    """Whether a case is too near to divergence."""
    return found is not None and found.share is not None and found.share > BORDER and found.speed > 0.0


def sweep_headings(sweep: Sweep, words: Words) -> list[str]:
    """Headings of the rows of a sweep, units on lines of their own."""
    rest = [f"at rest\n{words.size}"] if sweep.follows else []
    still = [f"at rest\n{words.force}"] if sweep.follows else []
    return [
        words.speed, f"sag\n{words.size}", *rest, f"at x, y\n{words.size}", f"least gap\n{words.size}",
        f"on ground\n{words.force}", f"downforce\n{words.force}", *still, "used", "outcome",
    ]  # fmt: skip


def sweep_rows(sweep: Sweep, words: Words) -> list[list[str]]:
    """Rows of a sweep as texts, without units."""
    return [_texts(row, sweep.follows, words) for row in sweep.rows]


def _texts(row: Row, follows: bool, words: Words) -> list[str]:
    def size(name: str) -> str:
        value = number(row, name)
        return "-" if math.isnan(value) else words.sag(value * MM)

    def force(name: str) -> str:
        value = number(row, name)
        return "-" if math.isnan(value) else words.number(value, words.force, 0)

    x, y = number(row, "x_mm"), number(row, "y_mm")
    place = "-" if math.isnan(x) else words.place((x * MM, y * MM))
    return [
        _number_of_speed(row, words),
        size("max_sag_mm"),
        *([size("sag_at_rest_mm")] if follows else []),
        place,
        size("min_clearance_mm"),
        force("ground_force_N"),
        force("downforce_N"),
        *([force("downforce_at_rest_N")] if follows else []),
        ratio_words(number(row, "worst_ratio")),
        str(row["outcome"]),
    ]


def sweep_lines(sweep: Sweep, words: Words) -> list[str]:
    """Write a sweep as a table for a terminal, and what lies beyond it."""
    headings = [heading.replace("\n", " ") for heading in sweep_headings(sweep, words)]
    said, _ = headline(sweep, words)
    explained = [FOLLOWED if sweep.follows else UNFOLLOWED, *limit_sentences(sweep, words.system)]
    return [
        f"Over speed, load case '{sweep.case}': {said[0].lower()}{said[1:]}.",
        "",
        *aligned([headings, *sweep_rows(sweep, words)], left=(len(headings) - 1,)),
        "",
        *(line for sentence in explained for line in wrapped(sentence)),
    ]


def sweeps_lines(sweeps: Sequence[Sweep], words: Words) -> list[str]:
    """Write sweeps one below the other."""
    lines: list[str] = []
    for sweep in sweeps:
        lines += [*([""] if lines else []), *sweep_lines(sweep, words)]
    return lines


def sweep_data(sweep: Sweep) -> dict[str, object]:
    """Return a sweep, ready for JSON."""
    return {
        "case": sweep.case,
        "sag_feedback": sweep.follows,
        "large_deflection": sweep.large,
        "speeds": records(sweep.table),
        "ground_touch": None if sweep.touch is None else _touch_data(sweep.touch),
        "divergence": None if sweep.divergence is None else _divergence_data(sweep.divergence),
        "notes": list(sweep.notes),
    }


def _touch_data(touch: TouchSpeed) -> dict[str, object]:
    x, y = touch.at
    return {
        "outcome": touch.outcome,
        "speed_kmh": _kmh(touch.speed),
        "up_to_kmh": _kmh(touch.up_to),
        "gap_mm": 1e3 * touch.gap,
        "x_mm": 1e3 * x,
        "y_mm": 1e3 * y,
        "under": touch.under,
        "sag_feedback": touch.follows,
        "sentence": touch.sentence,
    }


def _divergence_data(found: Divergence) -> dict[str, object]:
    return {
        "linear_kmh": _kmh(found.linear),
        "nonlinear_kmh": _kmh(found.limit),
        "up_to_kmh": _kmh(found.up_to),
        "feedback_factor": found.factor,
        "amplification": found.amplification if math.isfinite(found.amplification) else None,
        "dynamic_pressure_share": found.share,
        "ground_touch": _touch_data(found.touch),
        "path": records(found.path),
        "explanation": list(found.explanation),
    }


def _kmh(speed: float | None) -> float | None:
    return None if speed is None else speed / KMH


def said_speed(speed: float, words: Words) -> str:
    """Write a speed in m/s with its unit."""
    return f"{convert(speed, words.speed):.0f} {words.speed}"


def _number_of_speed(row: Row, words: Words) -> str:
    return f"{convert(number(row, 'speed_kmh') * KMH, words.speed):.0f}"


def _speed(row: Row, words: Words) -> str:
    return f"{_number_of_speed(row, words)} {words.speed}"


def number(row: Row, name: str) -> float:
    """Figure of a row of a sweep; nan when it is not known."""
    return float(str(row[name]))
