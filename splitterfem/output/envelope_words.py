"""Limits of an envelope in words: a table, the counts of its verdicts, and what could not be measured."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from splitterfem.analysis.envelope import CAUTION, EnvelopeCheck, envelope_table
from splitterfem.analysis.envelope_gaps import CLEARANCE, LYING, STANDING
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.style import LengthUnit, Scale, scale_of

NO_ENVELOPE = "Rules were not checked: the splitter has no envelope with the limits of a rulebook."
"""For every splitter without an envelope."""

HEADINGS = ("limit", "allowed", "found", "distance to the limit")


def at_rest(checks: Sequence[EnvelopeCheck]) -> list[EnvelopeCheck]:
    """Comparisons that need no solved load case: those in plan view, of radii, and of the gap of the standing car."""
    return [check for check in checks if check.rule == STANDING or not _under_load(check)]


def _under_load(check: EnvelopeCheck) -> bool:
    return check.rule.startswith((f"{CLEARANCE},", "deflection,"))


def distance_words(check: EnvelopeCheck, scale: Scale) -> str:
    """Write how far something is from its limit, such as ``"6.5 mm outside"`` or ``"1.2 mm inside: measure it"``."""
    if not math.isfinite(check.distance):
        return "not measured" if math.isnan(check.distance) else "inside"
    side = "inside" if check.distance >= 0.0 else "outside"
    more = ": measure it" if check.verdict == "measure it" else ""
    return f"{scale.say(abs(check.distance))} {side}{more}"


def limit_cells(check: EnvelopeCheck, scale: Scale) -> list[str]:
    """Limit, what is allowed, what was found, distance, and worst place without unit; - for what there is not."""
    found = scale.say(check.found) if math.isfinite(check.found) else "-"
    digits = 0 if scale.unit == "mm" else 1
    at = [_plain(f"{c * scale.per_metre:.{digits}f}") for c in check.at if math.isfinite(c)]
    allowed = f"{check.sense} {scale.say(check.limit)}"
    return [check.rule, allowed, found, distance_words(check, scale), ", ".join(at) or "-"]


def _plain(number: str) -> str:
    return number.lstrip("-") if float(number) == 0.0 else number


def verdict_words(checks: Sequence[EnvelopeCheck], scale: Scale) -> list[str]:
    """Say plainly what lies outside, what is to be measured on the car, and what was not measured."""
    said = [
        f"OUTSIDE the limit '{check.rule}' by {scale.say(-check.distance)}{': ' if LYING in check.note else ''}"
        f"{check.note if LYING in check.note else ''}."
        for check in checks
        if check.verdict == "outside"
    ]
    counts = Counter(check.verdict for check in checks)
    if not said:
        known = len(checks) - counts["not measured"]
        said.append(f"No limit is exceeded of the {known} that could be measured.")
    near = [check.rule for check in checks if check.verdict == "measure it"]
    if near:
        which = "its limit that it is" if len(near) == 1 else "their limits that they are"
        names = ", ".join(f"'{name}'" for name in near)
        said.append(f"So near to {which} to be measured on the car: {names}.")
    missing = [check for check in checks if check.verdict == "not measured"]
    said += [f"Not measured: {check.rule}{f'; {check.note}' if check.note else ''}." for check in missing]
    return said


def how_words(checks: Sequence[EnvelopeCheck]) -> list[str]:
    """Say how each limit is measured, limits that are measured in the same way together."""
    rules: dict[str, list[str]] = {}
    for check in checks:
        rules.setdefault(check.measured, []).append(check.rule)
    return [f"{_shared(names)}: {how}." for how, names in rules.items()]


def _shared(names: list[str]) -> str:
    """Name several limits by what their names have in common."""
    if len(names) == 1:
        return names[0][:1].upper() + names[0][1:]
    return f"{names[0].split(',')[0].capitalize()} in load cases"


def envelope_lines(
    checks: Sequence[EnvelopeCheck], unit: LengthUnit, *, later: Sequence[EnvelopeCheck] = ()
) -> list[str]:
    """Write comparisons with the limits of an envelope for a terminal, with the caution that belongs to them.

    Parameters
    ----------
    checks : sequence of EnvelopeCheck
    unit : {"mm", "in"}
    later : sequence of EnvelopeCheck
        Those that can only be made once the load cases are solved.
    """
    scale = scale_of(unit)
    rows = [[*HEADINGS, f"at x, y ({unit})"], *(limit_cells(check, scale) for check in checks)]
    said = verdict_words(checks, scale)
    if later:
        word = "limit needs" if len(later) == 1 else "limits need"
        said.append(f"{len(later)} {word} solved load cases; 'splitterfem solve' and 'report' measure them.")
    lines = aligned(rows, left=(0, 3)) if checks else []
    return [*lines, *(line for text in (*said, CAUTION) for line in wrapped(text))]


def envelope_data(checks: Sequence[EnvelopeCheck]) -> dict[str, object]:
    """Comparisons with the limits of an envelope, ready for JSON; what is not known is None.

    Parameters
    ----------
    checks : sequence of EnvelopeCheck
    """
    return {
        "rows": records(envelope_table(checks)),
        "outside": [check.rule for check in checks if check.verdict == "outside"],
        "caution": CAUTION,
    }
