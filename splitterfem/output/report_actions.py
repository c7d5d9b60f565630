"""What to do with a splitter: the list of the first page of a report, most urgent first."""

from __future__ import annotations

from splitterfem.output.report_found import Found, case_words, listed

UNSURE = ("memory", "indicative", "practice", "user")
"""Bases of an allowable that nobody has compared with a source."""


def actions(found: Found) -> list[str]:
    """Say what to do, most urgent first.

    Parameters
    ----------
    found : Found
    """
    return [*_mends(found), *_losses_to_watch(found), *_checks_to_make(found)]


def _mends(found: Found) -> list[str]:
    row, low, said = found.weakest, found.lowest, []
    if row is not None and found.judged.overloaded:
        parts = list(dict.fromkeys(found.judged.worst.query("ratio > 1")["part"]))
        said.append(
            f"Do not build it as drawn: make {listed(parts[:6])} stronger, or share the load with another part, and "
            "have it computed again."
        )
    if low.min_clearance <= 0.0:
        said.append(
            f"Keep it off the ground in {case_words(found, low)}: stiffen it, hold it nearer to the place that comes "
            "down, or raise the car."
        )
    outside = [check.rule for check in found.of("outside")]
    if outside:
        said.append(f"Bring it within its limits: {listed(outside[:6])}.")
    return said


def _losses_to_watch(found: Found) -> list[str]:
    losses = found.losses
    if losses is None or not bool(losses.bad.any()):
        return ["Tether the panel to the car all the same, and lock every fastener."]
    names = [str(name) for name in losses.table["lost"][losses.bad]]
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    shown = ", ".join(names[:4]) + more if more else listed(names[:4])
    return [
        f"Tether the panel to the car and lock every fastener: the loss of {shown} ends badly. Look these over before "
        "every run."
    ]


def _checks_to_make(found: Found) -> list[str]:
    row, said = found.weakest, []
    near = [check.rule for check in found.of("measure it")]
    if near:
        said.append(f"Measure on the car, for the limit is near: {listed(near[:6])}.")
    if row is not None and not found.judged.overloaded:
        unsure = (
            " What it bears was not compared with a source: test a sample." if row["basis"] in UNSURE else ""
        )
        said.append(f"Look at {row['part']} first after every contact: it is the weakest link.{unsure}")
    if found.unjudged:
        count = len(found.unjudged)
        said.append(
            f"Have the rest judged: {count} group{'s' if count > 1 else ''} of parts could not be, for the design does "
            "not say enough of them (see what was not judged)."
        )
    said.append(
        "Lean on the finished panel, or load it on stands to 1.5 times the computed force, and compare the sag with "
        "this report before it is driven."
    )
    return said
