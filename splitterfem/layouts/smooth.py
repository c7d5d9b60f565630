"""Where a search goes on from good layouts by derivatives, and what is said about it."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.design import Splitter
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.plan import Plan
from splitterfem.layouts.steps import Step
from splitterfem.layouts.ways import AtPaths, Move

HELD_BY = ("struts", "bolts", "pins", "pockets", "stops")
"""Parts by whose places derivatives are as good as solves: they push on the panel and stiffen it along no line."""

SIZED = (*HELD_BY, "ribs", "doublers", "car")
"""Fields of a design by whose sizes there are derivatives; of the panel by those of its sheet."""

MEASURES = ("worst sag", "mean sag", "least clearance", "mass", "worst utilisation")


def why_not(plan: Plan, goal: Goal) -> str:
    """Say what there are no good derivatives by or of; nothing when all continuous ranges and measures have them.

    Good are those by places of supports and by sizes.  A rib that moves changes its stiffness in jumps where it passes
    edges of the mesh, see :mod:`splitterfem.analysis.gradients`.
    """
    for one in plan.parameters:
        if one.continuous and (reason := _without_slope(plan.base, one)):
            return f"by '{one.name}', {reason}"
    for measure in (*goal.objectives, *(one for one, _ in goal.limits)):
        if measure.name not in MEASURES and measure.at is None:
            return f"of the {measure.name}"
    return ""


def _without_slope(base: Splitter, one: Parameter) -> str:
    if isinstance(one.way, Move):
        part = base.part(one.way.part).name.removesuffix(" left").removesuffix(" right")
        fields = [field for field in HELD_BY if _has(base, field, one.way.part) or _has(base, field, part)]
        return "" if fields else "the place of a part that is no support"
    if not isinstance(one.way, AtPaths):
        return "which changes the design by a function"
    for path in one.way.paths:
        field, *_, last = path.split(".")
        of_place = last in ("x", "y", "z")
        if field not in SIZED and not path.startswith("panel.sheet."):
            return "which is neither the place of a support nor a size"
        if of_place and field not in HELD_BY:
            return "the place of a part that is no support"
    return ""


def _has(base: Splitter, field: str, name: str) -> bool:
    return any(part.name == name for part in getattr(base, field))


def notes_of(plan: Plan, goal: Goal, steps: Sequence[Step], *, layouts: int) -> tuple[str, ...]:
    """Say how small steps were made from good layouts.

    Parameters
    ----------
    plan : Plan
    goal : Goal
    steps : sequence of Step
        Those that were made.
    layouts : int
        That are finished.

    Returns
    -------
    tuple of str
        Sentences; none as long as there were no small steps.
    """
    proposed = int(plan.more.get("layouts", 0))
    if not steps and (layouts <= proposed or not plan.more.get("refine")):
        return ()
    reason = why_not(plan, goal)
    if reason:
        return (
            f"Small steps from good layouts were found by trying: there are no good derivatives {reason}.",
        )
    notes = []
    starts = sorted({step.start for step in steps if not step.refused})
    if starts:
        said = _listed(starts)
        notes.append(
            f"Small steps from good layouts were found by derivatives, with {len(steps)} solves on the "
            f"{'meshes' if len(starts) > 1 else 'mesh'} of {said}; where they led was solved in full."
        )
    notes += [
        f"Small steps from layout {step.start} were found by trying: {step.refused}"
        for step in steps
        if step.refused and step.start <= proposed and step.start not in starts
    ]
    return tuple(notes)


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"layout {numbers[0]}"
    return f"layouts {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"
