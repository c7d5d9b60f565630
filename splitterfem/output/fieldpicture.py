"""A field of a solution in plan view: what changes with the solution, and what stands round it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.contact_words import slack
from splitterfem.output.contactmarks import contact_entries, draw_contacts, ground_areas
from splitterfem.output.contours import joined
from splitterfem.output.fieldview import Look, Worst, call_out, draw_contours
from splitterfem.output.origin import sign
from splitterfem.output.planparts import covered, draw_forces
from splitterfem.output.planpicture import Manner, Plan, plan_of
from splitterfem.output.planview import Bounds, draw_surroundings
from splitterfem.output.range_words import plain_subject, subject
from splitterfem.output.style import Scale


@dataclass(frozen=True)
class Sight:
    """A field of a solution, and how it is to be seen.

    Attributes
    ----------
    solution : Solution
    field : Field
        Over the panel, in m or so that the scale of the picture turns it into the field's own unit.
    worst : Worst
    look : Look
    what : str
        It is of, for the title.
    hint : str
        One sentence on what the eye should find.
    """

    solution: Solution
    field: Field
    worst: Worst
    look: Look
    what: str
    hint: str = ""

    def entries(self) -> Sequence[tuple[Artist, str]]:
        """Return marks of the legend for what touches or hangs slack."""
        return contact_entries(self.solution)

    def beside(self, box: Bounds) -> tuple[bool, bool]:
        """Whether direction of travel and scale bar stand where they usually do: on the left, on the right."""
        x, y = self.worst.at
        on_left = y > box.right + 0.5 * box.width and x > box.rear + 0.4 * box.length
        behind_right = y < box.right + 0.5 * box.width and x < box.rear + 0.3 * box.length
        return not on_left, not behind_right


def sag_sight(
    solution: Solution, scale: Scale, *, step: float | None = None, span: tuple[float, float] | None = None
) -> Sight:
    """See how far the panel sags; ``step`` and ``span`` are those of `plot_sag`."""
    return Sight(
        solution,
        solution.sag,
        Worst(solution.max_sag_at, scale.say(solution.max_sag)),
        Look(f"sag, down ({scale.unit})", style.SAG_COLOURS, step, span),
        "Sag",
        "Dark sags most. The ring marks the worst place: brace it there first.",
    )


def clearance_sight(
    solution: Solution, scale: Scale, *, step: float | None = None, span: tuple[float, float] | None = None
) -> Sight:
    """See the gap to the ground; ``step`` and ``span`` are those of `plot_clearance`."""
    gap = solution.clearance
    text = scale.say(gap.least)
    if gap.under != "panel":
        text += f"\nunder {gap.under}"
    if solution.ground.touches:
        text += "\nlies on the ground"
    elif gap.least <= 0.0:
        text += "\ntouches the ground" if solution.case.ground else "\nbelow the ground"
    return Sight(
        solution,
        gap.field,
        Worst(gap.at, text),
        Look(f"gap to the ground ({scale.unit})", style.CLEARANCE_COLOURS, step, span),
        "Clearance",
        "Dark is nearest to the ground. The ring marks the smallest gap.",
    )


def plot_sight(sight: Sight, manner: Manner, ax: Axes | None) -> Axes:
    """Draw a field of a solution in plan view with its parts, what they touch, and the worst point.

    Parameters
    ----------
    sight : Sight
    manner : Manner
    ax : Axes, optional
        Where to draw; a new figure when left out.
    """
    plan = plan_of_sight(sight, manner, ax)
    draw_sight(plan, sight)
    draw_round(plan, sight, subject(sight.solution, sight.what))
    return plan.ax


def plan_of_sight(sight: Sight, manner: Manner, ax: Axes | None) -> Plan:
    """Begin the picture of a field."""
    solution = sight.solution
    return plan_of(
        solution.model.design, ax, manner, hint=sight.hint, case=solution.case, more=sight.entries()
    )


def draw_sight(plan: Plan, sight: Sight, *, bar: bool = True) -> None:
    """Draw what changes with the solution: contours, parts, what they touch, the worst point.

    Parameters
    ----------
    plan : Plan
    sight : Sight
    bar : bool
        Whether to draw the colour bar.
    """
    solution, worst = sight.solution, sight.worst
    axes, scale, per_point, case = plan.ax, plan.scale, plan.per_point, solution.case
    patches = [area for _, area in ground_areas(solution, scale, per_point)]
    taken = shapely.union_all([covered(plan.splitter, case, scale, worst.at, per_point), *patches])
    draw_contours(axes, joined(sight.field), sight.look, scale, taken, bar=bar)
    plan.draw_parts(slack=slack(solution))
    draw_forces(axes, case, scale)
    draw_contacts(axes, solution, scale, per_point)
    call_out(axes, worst, plan.box, scale)


def draw_round(plan: Plan, sight: Sight, words: str | None = None) -> None:
    """Draw what stands round the panel: direction of travel, scale bar, legend and title.

    ``words`` are the second line of the title; what is seen and in which load case when left out.
    """
    if plan.manner.frame:
        travel_left, scale_right = sight.beside(plan.box)
        draw_surroundings(plan.ax, plan.box, plan.scale, travel_left=travel_left, scale_right=scale_right)
    plan.finish(plain_subject(sight.solution, sight.what) if words is None else words)
    sign(plan.ax.get_figure(root=True), sight.solution)
