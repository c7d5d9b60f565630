"""What a panel touches, in words: lips of rear pockets, slack struts, stops, the ground."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.analysis.groundcontact import GroundPatch
from splitterfem.design import Splitter
from splitterfem.output.columns import wrapped
from splitterfem.output.stop_words import stop_lines
from splitterfem.output.wording import Words


def friction_words(design: Splitter) -> str:
    """Say that nothing rubs."""
    some = [*(["pockets"] if design.pockets else []), *(["stops"] if design.stops else [])]
    return f"Friction of {', '.join(some)}{' and ' if some else ''}ground is left out."


def lips(solution: Solution) -> dict[tuple[str, str], float]:
    """Force on the panel in N, up positive, of every lip that it touches, by pocket and lip, in the pockets' order."""
    table = solution.contacts
    closed = table[(table["kind"] == "rear pocket") & (table["fz_N"] != 0.0)]
    sums: dict[tuple[str, str], float] = {}
    for pocket, lip, force in zip(closed["support"], closed["touches"], closed["fz_N"], strict=True):
        name = (str(pocket), str(lip))
        sums[name] = sums.get(name, 0.0) + float(force)
    return sums


def slack(solution: Solution) -> list[str]:
    """Names of the struts that carry nothing."""
    table = solution.supports
    return [str(name) for name in table[(table["kind"] == "strut") & (table["state"] == "slack")]["support"]]


def contact_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Say in lines for a terminal what touches in which load case, and how hard; none where nothing can.

    Parameters
    ----------
    solutions : sequence of Solution
        Of one splitter.
    words : Words
        Units.
    """
    said: list[str] = []
    for solution in solutions:
        pushes = [
            f"{lip} of {pocket} {words.with_unit(abs(force), words.force, 0)}"
            for (pocket, lip), force in lips(solution).items()
        ]
        loose = slack(solution)
        texts = [", ".join(pushes)] if pushes else []
        texts += [f"slack: {', '.join(loose)}"] if loose else []
        if texts:
            said += wrapped(f"Touched in '{solution.case.name}': {'; '.join(texts)}.")
    said += stop_lines(solutions, words)
    touching = any(solution.ground.touches for solution in solutions)
    return [*said, friction_words(solutions[0].model.design)] if said or touching else []


def ground_words(solution: Solution, words: Words) -> str:
    """Say how a panel comes to the ground: ``lies on the ground with 240 N near x, y 995, 0 mm``; empty if it does not.

    Parameters
    ----------
    solution : Solution
    words : Words
        Units.
    """
    return " ".join(_on_ground(solution, words))


def _on_ground(solution: Solution, words: Words) -> tuple[str, str] | tuple[()]:
    """Say what happens, and how hard or where."""
    patches = solution.ground.patches
    if patches:
        return "lies on the ground", f"with {_forces(patches, words)}"
    if solution.min_clearance > 0.0:
        return ()
    at = f"at x, y {words.place(solution.min_clearance_at)} {words.size}{_under(solution.clearance.under)}"
    if solution.case.ground:
        return "just touches the ground", at
    return "comes below the ground", f"{at}, for the load case leaves it out"


def _forces(patches: Sequence[GroundPatch], words: Words) -> str:
    hardest = patches[0]
    at = f"near x, y {words.place(hardest.at)} {words.size}{_under(hardest.under)}"
    if len(patches) == 1:
        return f"{words.with_unit(hardest.force, words.force, 0)} {at}"
    total = words.with_unit(sum(patch.force for patch in patches), words.force, 0)
    most = words.with_unit(hardest.force, words.force, 0)
    return f"{total} in {len(patches)} places, most of it {at} with {most}"


def _under(under: str) -> str:
    return "" if under == "panel" else f" under the rib '{under}'"


def ground_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Say aloud in lines for a terminal which load cases end on the ground.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.
    """
    said = [(solution.case.name, _on_ground(solution, words)) for solution in solutions]
    return [
        line
        for name, found in said
        if found
        for line in wrapped(f"{found[0].upper()} in load case '{name}' {found[1]}.")
    ]


def ground_data(solution: Solution) -> dict[str, object]:
    """Return what lies on the ground, ready for JSON; units are in the keys.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    dict
        ``counted``, whether the load case has ground; ``force_N``; and ``patches``, the hardest first, each with
        ``under`` ("panel" or a rib's name), ``force_N``, ``x_mm``, ``y_mm``, and ``area_mm2`` or, of a rib,
        ``length_mm``.
    """
    return {
        "counted": solution.case.ground,
        "force_N": solution.ground.force,
        "patches": [_patch(patch) for patch in solution.ground.patches],
    }


def _patch(patch: GroundPatch) -> dict[str, object]:
    of_panel = patch.under == "panel"
    size = {"area_mm2": 1e6 * patch.size} if of_panel else {"length_mm": 1e3 * patch.size}
    place = {"x_mm": 1e3 * patch.at[0], "y_mm": 1e3 * patch.at[1]}
    return {"under": patch.under, "force_N": patch.force, **place, **size}
