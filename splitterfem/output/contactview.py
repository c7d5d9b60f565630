"""What a panel touches in plan view: closed lips, stops, slack struts and the ground, with their forces."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.output import style
from splitterfem.output.contact_words import friction_words, lips, slack
from splitterfem.output.contactmarks import HALO, contact_entries, draw_contacts
from splitterfem.output.labels import units_per_point
from splitterfem.output.picture import plan_axes, write_title
from splitterfem.output.planparts import draw_legend, draw_ribs, draw_supports, halves, legend_rows
from splitterfem.output.planview import draw_frame, draw_outline, draw_surroundings, page
from splitterfem.output.style import LengthUnit, Scale, scale_of
from splitterfem.output.wording import Words, words_for

Label = tuple[tuple[float, float], str, int]
"""Place (x, y) in m, what is written above (1) or below it (-1)."""


def plot_contacts(
    solution: Solution,
    ax: Axes | None = None,
    *,
    unit: LengthUnit = "mm",
    title: str | None = None,
    legend: bool = True,
    frame: bool = True,
) -> Axes:
    """Draw what the panel touches in plan view, each with its force, and how far the rest is from touching.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    unit : {"mm", "in"}
        Of gaps and of sizes; forces are in N with mm, in lbf with in.
    title : str, optional
        In place of the names of the splitter and of the load case; empty for none.
    legend : bool
        Whether to explain the marks.
    frame : bool
        Whether to draw axes, scale bar and direction of travel.

    Returns
    -------
    Axes
        x of the car runs up the page and y to the left, both in `unit`.

    Raises
    ------
    UnitError
        Another unit.
    """
    scale, splitter = scale_of(unit), solution.model.design
    entries = contact_entries(solution)
    rows = legend_rows(splitter, None, len(entries)) if legend else 0
    axes = plan_axes(splitter, share=0.92, legend=rows) if ax is None else ax
    box = draw_frame(axes, splitter, scale)
    draw_outline(axes, splitter, scale, fill=style.SHEET)
    draw_ribs(axes, splitter, scale)
    draw_supports(axes, splitter, scale, slack=slack(solution))
    draw_contacts(axes, solution, scale, units_per_point(axes))
    words = words_for("us" if unit == "in" else "metric")
    for place, text, side in _labels(solution, words, scale):
        _write(axes, place, text, side, scale)
    draw_surroundings(axes, box, scale, shown=frame)
    if legend:
        draw_legend(axes, splitter, more=entries)
    name = splitter.name if title is None else title
    subject = f"What touches in load case: {solution.case.name}" if title is None else ""
    write_title(axes, splitter, name, subject)
    if frame:
        _write_friction(axes, (box.rear - 0.62 * box.margin, box.left), friction_words(splitter), scale)
    return axes


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
