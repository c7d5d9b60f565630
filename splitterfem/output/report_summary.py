"""The first page of a report in plain words: whether it holds, what is weakest, what to do, each beside its limit."""

from __future__ import annotations

from splitterfem.output.report_actions import actions
from splitterfem.output.report_answers import answers
from splitterfem.output.report_found import Found, case_words, listed
from splitterfem.output.report_tables import minus
from splitterfem.output.speed_words import headline as speed_headline
from splitterfem.output.wording import ratio_words


def summary(found: Found) -> dict[str, object]:
    """Everything that the first page says.

    Parameters
    ----------
    found : Found

    Returns
    -------
    dict
        ``verdict`` (a sentence), ``tone`` ("good", "bad" or "look"), ``sentences``, ``answers`` (rows of question,
        answer, limit and verdict), ``actions``.
    """
    faults = _faults(found)
    if faults:
        verdict, tone = f"As drawn it {listed(faults)}.", "bad"
    elif found.weakest is None:
        verdict, tone = "Whether it holds is not known: the design gives no strengths to judge it by.", "look"
    else:
        verdict, tone = "It holds under the loads of this report, as far as it was judged.", "good"
    return {
        "verdict": verdict,
        "tone": tone,
        "sentences": [minus(text) for text in _sentences(found)],
        "answers": [answer.row() for answer in answers(found)],
        "actions": [minus(text) for text in actions(found)],
    }


def _faults(found: Found) -> list[str]:
    """Name everything that keeps it from being built as drawn."""
    low, buckling = found.lowest, found.behaviour.buckling if found.behaviour else ()
    sweeps = found.behaviour.sweeps if found.behaviour else ()
    return [
        *(["is overloaded"] if found.judged.overloaded else []),
        *(
            ["lies on the ground" if low.ground.touches else "touches the ground"]
            if low.min_clearance <= 0.0
            else []
        ),
        *(["lies outside the limits that were typed in"] if found.of("outside") else []),
        *(["buckles"] if any(one.lowest <= 1.0 for one in buckling) else []),
        *(
            ["fails within the speeds that were asked about"]
            if any(speed_headline(sweep, found.words)[1] for sweep in sweeps)
            else []
        ),
    ]


def _sentences(found: Found) -> list[str]:
    """Say in a few sentences what came out."""
    words, row, low = found.words, found.weakest, found.lowest
    sag = max(found.solutions, key=lambda s: s.max_sag)
    said = []
    if row is not None:
        said.append(
            f"The weakest link is {row['part']}, {row['mode']}: load case {row['number']}, {row['case']}, uses it to "
            f"{ratio_words(float(row['ratio']))} of what is allowed, where 1 is the limit."
        )
    gap = f"comes as near to the ground as {words.sag(low.min_clearance)} {words.size}"
    if low.min_clearance <= 0.0:
        gap = f"{'lies on' if low.ground.touches else 'touches'} the ground"
    said.append(
        f"At most the panel bows down by {words.sag(sag.max_sag)} {words.size} ({case_words(found, sag)}), and it "
        f"{gap} ({case_words(found, low)})."
    )
    return said
