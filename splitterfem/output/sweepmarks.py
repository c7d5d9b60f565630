"""Upright lines of a sweep over speed: the case's own speed, the first ground touch, divergence."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes

from splitterfem.analysis.sweep import Sweep
from splitterfem.output import style
from splitterfem.output.speed_words import KMH, number, said_speed
from splitterfem.output.wording import Words
from splitterfem.units import convert

CROWDED, HEADED = 0.17, 0.34
"""Share of the width below which names of upright lines touch each other, or the heading of the first panel."""

BESIDE = 1.25
"""Limits up to this many times the fastest speed are drawn; of those beyond only the figure is said."""

Mark = tuple[float, str, str, str]
"""Speed in the unit of people, words, colour and kind of an upright line."""


def marks_of(sweep: Sweep, fastest: float, words: Words) -> tuple[list[Mark], str]:
    """Upright lines at speeds that are known and not far beyond the fastest, and words on those that are."""
    found: list[tuple[float, str, str, str]] = []
    if sweep.speed and number(sweep.rows[0], "speed_kmh") * KMH <= sweep.speed <= fastest:
        found.append((sweep.speed, "the case", style.QUIET, "own"))
    if sweep.touch is not None and sweep.touch.speed is not None:
        what = "touches" if sweep.touch.outcome == "touches" else "goes down"
        found.append((sweep.touch.speed, what, style.ALARM, "touch"))
    divergence = sweep.divergence
    if divergence is not None:
        lost = sweep.touch is not None and sweep.touch.outcome == "lost"
        if divergence.limit is not None and not lost:
            found.append((divergence.limit, "last equilibrium", style.ALARM, "limit"))
        if divergence.linear is not None:
            found.append((divergence.linear, "linear divergence", style.INK, "linear"))
    near = sorted(mark for mark in found if mark[0] <= BESIDE * fastest)
    far = [f"{what} {said_speed(v, words)}" for v, what, *_ in sorted(found) if v > BESIDE * fastest]
    lines = [(convert(v, words.speed), f"{what}\n{said_speed(v, words)}", c, k) for v, what, c, k in near]
    return lines, f"beyond the picture: {', '.join(far)}" if far else ""


def draw_marks(ax: Axes, marks: Sequence[Mark], *, named: bool) -> None:
    """Draw upright lines, and name them over the first panel."""
    for at, _, colour, kind in marks:
        line = (0, (1, 2)) if kind == "own" else "-" if kind in ("touch", "limit") else (0, (6, 2))
        ax.axvline(at, color=colour, linewidth=1.3, linestyle=line, zorder=3, gid=f"mark {kind}")
    if not named:
        return
    low, high = ax.get_xlim()
    taken = [HEADED - CROWDED, -math.inf]
    for at, text, colour, kind in marks:
        share = (at - low) / (high - low)
        level = 0 if share - taken[0] >= CROWDED else 1
        taken[level] = share
        ax.annotate(
            text, (share, 1.0), xycoords="axes fraction", xytext=(0.0, 3.0 + 21.0 * level),
            textcoords="offset points", ha="center", va="bottom", fontsize=style.SMALL, linespacing=1.0, color=colour,
            fontweight="bold" if kind != "own" else "normal", annotation_clip=False, gid=f"name {kind}",
        )  # fmt: skip


def say_beyond(ax: Axes, words: str) -> None:
    """Write what lies beyond the picture under the axis of speeds; nothing when there is nothing."""
    if words:
        ax.annotate(
            words, (1.0, 0.0), xycoords="axes fraction", xytext=(0.0, -19.0), textcoords="offset points", ha="right",
            va="top", fontsize=style.SMALL, color=style.QUIET, annotation_clip=False, gid="beyond",
        )  # fmt: skip
