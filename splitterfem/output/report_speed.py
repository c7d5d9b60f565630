"""What a report says of a splitter over speed, when its design asks for it."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis.divergence_words import FLUTTER
from splitterfem.analysis.sweep import Sweep
from splitterfem.output.report_pictures import figure_svg
from splitterfem.output.report_tables import minus, table_of
from splitterfem.output.speed_words import (
    FOLLOWED,
    UNFOLLOWED,
    headline,
    limit_sentences,
    sweep_headings,
    sweep_rows,
)
from splitterfem.output.sweepview import plot_sweep
from splitterfem.output.wording import Words


def speed_part(sweeps: Sequence[Sweep], words: Words) -> dict[str, object]:
    """Everything that a report says of a splitter over speed.

    Parameters
    ----------
    sweeps : sequence of Sweep
    words : Words
        Units.

    Returns
    -------
    dict
        ``speed``: a list with one item for each sweep.
    """
    return {"speed": [_sweep(sweep, number, words) for number, sweep in enumerate(sweeps, start=1)]}


def _sweep(sweep: Sweep, number: int, words: Words) -> dict[str, object]:
    said, bad = headline(sweep, words)
    alarms = [i for i, row in enumerate(sweep.rows) if row["outcome"] != "held"]
    explained = [
        FOLLOWED if sweep.follows else UNFOLLOWED,
        *(sentence for sentence in limit_sentences(sweep, words.system) if sentence != FLUTTER),
    ]
    return {
        "title": sweep.case,
        "verdict": f"{said}.",
        "bad": bad,
        "table": table_of(sweep_headings(sweep, words), sweep_rows(sweep, words), alarms=alarms),
        "picture": f"speed-{number}.svg",
        "notes": [minus(sentence) for sentence in explained],
        "caution": FLUTTER if sweep.divergence is not None else "",
    }


def speed_pictures(sweeps: Sequence[Sweep], words: Words) -> dict[str, bytes]:
    """Draw the pictures that `speed_part` names, as SVG by their names."""
    return {
        f"speed-{number}.svg": figure_svg(
            plot_sweep(sweep, units=words.system, title="").get_figure(root=True)
        )
        for number, sweep in enumerate(sweeps, start=1)
    }
