"""Questions of a customer and their answers, each beside its limit: the table of the first page of a report."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splitterfem.analysis import Solution
from splitterfem.analysis.envelope_gaps import CLEARANCE
from splitterfem.analysis.excitations import closeness
from splitterfem.output.air_words import windy
from splitterfem.output.bill_words import cost_words
from splitterfem.output.envelope_words import distance_words
from splitterfem.output.report_found import Found, number_of
from splitterfem.output.report_tables import minus
from splitterfem.output.speed_words import headline as speed_headline
from splitterfem.output.style import scale_of
from splitterfem.output.summary_behaviour import ENOUGH
from splitterfem.output.wording import Words, ratio_words

GOOD, BAD, LOOK, PLAIN = "yes", "NO", "look", ""
"""Verdicts on an answer; the last where there is no limit."""


@dataclass(frozen=True)
class Answer:
    """A question, its answer, the limit, and how the two compare."""

    question: str
    answer: str
    limit: str
    verdict: str

    def row(self) -> list[str]:
        """Texts with true minus signs."""
        return [minus(text) for text in (self.question, self.answer, self.limit, self.verdict)]


def downforce_words(solution: Solution, words: Words) -> str:
    """Write the downforce of a load case with its band."""
    band = solution.car.band
    value = words.with_unit(solution.downforce, words.force, 0)
    if band is None:
        return value
    low, high = (words.number(band[i], words.force, 0) for i in (0, 2))
    return f"{value} (between {low} and {words.with_unit(band[2], words.force, 0)})" if high != low else value


def answers(found: Found) -> list[Answer]:
    """Answer what a customer asks.

    Parameters
    ----------
    found : Found
    """
    return [
        _strength(found),
        _sag(found),
        _gap(found),
        *_limits(found),
        *_pressed(found),
        *_lost(found),
        *_shaken(found),
        *_buckled(found),
        *_fast(found),
        *_weight(found),
    ]


def _strength(found: Found) -> Answer:
    row, question = found.weakest, "Does it bear the loads?"
    if row is None:
        return Answer(question, "not known: the design gives no strengths", "-", LOOK)
    over = found.judged.overloaded
    more = f"; {over} ratios are above the limit" if over > 1 else ""
    text = f"used to {ratio_words(float(row['ratio']))} at most: {row['part']}, in load case {row['number']}{more}"
    return Answer(question, text, "1.00 of what is allowed", BAD if over else GOOD)


def _sag(found: Found) -> Answer:
    words = found.words
    most = max(found.solutions, key=lambda s: s.max_sag)
    text = f"{words.sag(most.max_sag)} {words.size} at most, in load case {number_of(found, most)}"
    return Answer("How far does it bow down?", text, "none was given", PLAIN)


def _gap(found: Found) -> Answer:
    words, low = found.words, found.lowest
    limits = [
        check
        for check in found.checks
        if check.rule.startswith(f"{CLEARANCE},") and math.isfinite(check.found)
    ]
    tight = min(limits, key=lambda check: check.distance, default=None)
    text = f"{words.sag(low.min_clearance)} {words.size} at least, in load case {number_of(found, low)}"
    if low.min_clearance <= 0.0:
        text = f"it {'lies on' if low.ground.touches else 'touches'} the ground in load case {number_of(found, low)}"
    limit = (
        "clear of the ground"
        if tight is None
        else f"{words.sag(tight.limit)} {words.size} at least ({tight.rule})"
    )
    bad = low.min_clearance <= 0.0 or (tight is not None and tight.verdict == "outside")
    return Answer("Does it clear the ground?", text, limit, BAD if bad else GOOD)


def _limits(found: Found) -> list[Answer]:
    question = "Is it within the rulebook's limits?"
    if not found.checks:
        return [Answer(question, "not checked: no limits were given", "-", PLAIN)]
    outside, near, unknown = (found.of(v) for v in ("outside", "measure it", "not measured"))
    known = [check for check in found.checks if math.isfinite(check.distance)]
    inside = len(found.checks) - len(outside) - len(unknown)
    text = f"{inside} of {len(found.checks)} inside"
    if known:
        least = min(known, key=lambda check: check.distance)
        text += f"; nearest: {least.rule}, {distance_words(least, scale_of(found.words.size))}"
    verdict = BAD if outside else LOOK if near or unknown else GOOD
    return [Answer(question, text, "as typed in, see the table of limits", verdict)]


def _pressed(found: Found) -> list[Answer]:
    air = max(found.solutions, key=lambda s: s.downforce)
    if not windy(air):
        return []
    text = f"{downforce_words(air, found.words)}, in load case {number_of(found, air)}"
    return [Answer("How hard does the air press?", text, "an estimate", PLAIN)]


def _lost(found: Found) -> list[Answer]:
    losses = found.losses
    if losses is None:
        return []
    count, bad = len(losses.table), int(losses.bad.sum())
    text = f"{bad or 'none'} of {count} losses end{'s' if bad < 2 else ''} badly, tried in load case {losses.number}"
    if not count:
        text = "there is nothing to lose"
    return [
        Answer("And if one part is lost?", text, "held, and 1.00 of what is allowed", LOOK if bad else GOOD)
    ]


def _shaken(found: Found) -> list[Answer]:
    modes = found.behaviour.modes if found.behaviour else None
    if modes is None:
        return []
    ranges = list(modes.excitations[["from_Hz", "to_Hz"]].itertuples(index=False))
    inside = [
        f for f in modes.frequencies if any(closeness(float(f), low, high) == "in" for low, high in ranges)
    ]
    text = (
        f"{len(inside) or 'none'} of {len(modes.frequencies)} natural frequencies lie where the road shakes"
    )
    return [Answer("Does the road shake it?", text, "none within", LOOK if inside else GOOD)]


def _buckled(found: Found) -> list[Answer]:
    known = found.behaviour.buckling if found.behaviour else ()
    if not known:
        return []
    least = min(known, key=lambda one: one.lowest)
    factor = (
        "no load of these does" if math.isinf(least.lowest) else f"at {least.lowest:.1f} times {least.case}"
    )
    verdict = BAD if least.lowest <= 1.0 else LOOK if least.lowest < ENOUGH else GOOD
    return [Answer("When does it buckle?", factor, f"{ENOUGH:g} times or more (judgement)", verdict)]


def _fast(found: Found) -> list[Answer]:
    answers = []
    for sweep in found.behaviour.sweeps if found.behaviour else ():
        said, bad = speed_headline(sweep, found.words)
        answers.append(Answer(f"Over speed: {sweep.case}?", said, "-", BAD if bad else GOOD))
    return answers


def _weight(found: Found) -> list[Answer]:
    words = found.words
    mass = f"{words.with_unit(found.solutions[0].mass, words.mass, 2)} panel and ribs"
    known = bool(found.bill["cost"].notna().any())
    cost = [Answer("What does the material cost?", cost_words(found.bill), "-", PLAIN)] if known else []
    return [Answer("What does it weigh?", mass, "-", PLAIN), *cost]
