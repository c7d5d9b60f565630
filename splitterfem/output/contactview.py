"""What a panel touches in plan view: closed lips, stops, slack struts and the ground, with their forces."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Unpack

from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.output import style
from splitterfem.output.contact_words import friction_words, lips, slack
from splitterfem.output.contactmarks import HALO, contact_entries, draw_contacts
from splitterfem.output.planparts import halves
from splitterfem.output.planpicture import Manner, PlanOptions, plan_of
from splitterfem.output.planview import draw_surroundings, page
from splitterfem.output.range_words import subject
from splitterfem.output.style import Scale
from splitterfem.output.wording import Words, words_for

Label = tuple[tuple[float, float], str, int]
"""Place (x, y) in m, what is written above (1) or below it (-1)."""


def plot_contacts(solution: Solution, ax: Axes | None = None, **options: Unpack[PlanOptions]) -> Axes:
    """Draw what the panel touches in plan view, each with its force, and how far the rest is from touching.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.  Forces
        are in N with mm, in lbf with in.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in the unit of the picture.

    Raises
    ------
    UnitError
        Another unit.
    """
    manner = Manner(**options)
    hint = "What touches has its force beside it; what is free carries nothing."
    plan = plan_of(solution.model.design, ax, manner, hint=hint, more=contact_entries(solution), share=0.92)
    plan.draw_parts(fill=style.SHEET, slack=slack(solution))
    draw_contacts(plan.ax, solution, plan.scale, plan.per_point)
    words = words_for("us" if manner.unit == "in" else "metric")
    for place, text, side in _labels(solution, words, plan.scale):
        _write(plan.ax, place, text, side, plan.scale)
    plan.finish(subject(solution, "What touches"))
    if manner.frame:
        box = plan.box
        draw_surroundings(plan.ax, box, plan.scale)
        behind = (box.rear - 0.62 * box.margin, box.left)
        _write_friction(plan.ax, behind, friction_words(plan.splitter), plan.scale)
    return plan.ax


def _labels(solution: Solution, words: Words, scale: Scale) -> Iterator[Label]:
    """Write forces of what touches and gaps of what does not beside pockets, stops and slack struts."""
    splitter, pushes = solution.model.design, lips(solution)
    for pocket in halves(splitter.pockets):
        behind, right, _, left = pocket.bounds
        found = [
            f"{lip} {words.with_unit(abs(force), words.force, 0)}"
            for (name, lip), force in pushes.items()
            if name == pocket.name
        ]
        yield (behind, 0.5 * (right + left)), "\n".join(found) or "free", -1
    table = solution.contacts
    for stop in halves(splitter.stops):
        row = table[table["support"] == stop.name].iloc[0]
        force, gap = float(row["fz_N"]), 1e-3 * float(row["gap_mm"])
        text = words.with_unit(abs(force), words.force, 0) if force else f"{scale.say(gap)} open"
        yield (float(stop.at[0]), float(stop.at[1])), text, -1
    loose = set(slack(solution))
    for strut in halves(splitter.struts):
        if strut.name in loose:
            yield (float(strut.foot[0]), float(strut.foot[1])), "slack", 1


def _write(ax: Axes, at: tuple[float, float], text: str, side: int, scale: Scale) -> None:
    x, y = page([at], scale)[0]
    ax.annotate(
        text,
        xy=(float(x), float(y)),
        xytext=(0, 9 * side),
        textcoords="offset points",
        ha="center",
        va="bottom" if side > 0 else "top",
        fontsize=style.TEXT,
        fontweight="bold",
        color=style.INK,
        zorder=9.0,
        gid="contact force",
        path_effects=HALO,
    )


def _write_friction(ax: Axes, at: tuple[float, float], text: str, scale: Scale) -> None:
    """Say behind the panel's left rear corner what the forces leave out."""
    x, y = page([at], scale)[0]
    ax.text(float(x), float(y), text, fontsize=style.SMALL, color=style.QUIET, ha="left", va="bottom")
