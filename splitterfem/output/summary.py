"""Headline figures of solutions: for machines with units in the keys, for people as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.envelope import check_envelope
from splitterfem.output.air_words import windy
from splitterfem.output.case_words import case_notes, with_names
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.contact_words import contact_lines, ground_data, ground_lines
from splitterfem.output.envelope_words import NO_ENVELOPE, envelope_data, envelope_lines
from splitterfem.output.followed import followed_data, followed_lines
from splitterfem.output.judged import Losses, judged, weakest
from splitterfem.output.mesh_words import mesh_data, mesh_lines
from splitterfem.output.range_words import range_data, range_lines
from splitterfem.output.sources import cases_behind, drawing_sentences, fingerprints
from splitterfem.output.stop_words import touched
from splitterfem.output.summary_air import air_data, air_lines, case_data
from splitterfem.output.summary_behaviour import behaviour_data, behaviour_lines
from splitterfem.output.summary_strength import loss_lines, strength_lines
from splitterfem.output.wording import System, Words, invented_mark, words_for
from splitterfem.strength.assess import utilisation_of
from splitterfem.strength.cases import worst_of


def summary(solution: Solution) -> dict[str, object]:
    """Headline figures of a solved load case, ready for JSON.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    dict
        Units are in the keys. Places are x forward of the front axle and y to the left, in mm. What does not
        exist, such as the centre of pressure without air, is None.
    """
    model, case = solution.model, solution.case
    return {
        "splitter": model.design.name,
        "invented": model.design.invented,
        "case": case.name,
        **case_data(solution),
        **_deflection(solution),
        **air_data(solution),
        **_forces(solution),
        "ground": ground_data(solution),
        "without_sag_feedback": followed_data(solution),
        **range_data(solution),
        "touched_stops": list(touched(solution)),
        **_strength(solution),
        "mass_kg": solution.mass,
        **_place("centre_of_gravity", solution.centre_of_gravity[:2]),
        "triangles": model.panel.space.n_elements,
        "unknowns": model.unknowns,
        "residual": solution.residual,
        "equilibrium": solution.equilibrium,
        "support_residual": solution.response.play_residual,
        "energy_gap": solution.response.energy_gap,
        "rounding_correction": solution.response.correction,
        "build_seconds": sum(model.seconds.values()),
        "solve_seconds": sum(solution.seconds.values()),
    }


def _deflection(solution: Solution) -> dict[str, object]:
    return {
        "max_sag_mm": 1e3 * solution.max_sag,
        **_place("max_sag", solution.max_sag_at),
        "min_clearance_mm": 1e3 * solution.min_clearance,
        **_place("min_clearance", solution.min_clearance_at),
        "min_clearance_under": solution.clearance.under,
    }


def _forces(solution: Solution) -> dict[str, object]:
    struts = solution.supports.dropna(subset=["axial_N"])
    if struts.empty:
        return {"largest_strut_force_N": None, "largest_strut": None}
    worst = struts.iloc[int(np.argmax(np.abs(struts["axial_N"].to_numpy())))]
    return {"largest_strut_force_N": float(worst["axial_N"]), "largest_strut": str(worst["support"])}


def _strength(solution: Solution) -> dict[str, object]:
    worst = weakest(utilisation_of(solution))
    if worst is None:
        return {"worst_ratio": None, "weakest_part": None, "weakest_mode": None}
    return {
        "worst_ratio": float(worst["ratio"]),
        "weakest_part": str(worst["part"]),
        "weakest_mode": str(worst["mode"]),
    }


def _place(what: str, at: Sequence[float]) -> dict[str, object]:
    return {f"{what}_{axis}_mm": _known(1e3 * value) for axis, value in zip("xy", at, strict=True)}


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def solved_data(
    solutions: Sequence[Solution], *, losses: Losses | None = None, behaviour: Behaviour | None = None
) -> dict[str, object]:
    """Headline figures and utilisations of load cases, ready for JSON.

    Parameters
    ----------
    solutions : sequence of Solution
    losses : Losses, optional
        What becomes of one of them when one part is lost.
    behaviour : Behaviour, optional
        Natural frequencies and buckling factors.

    Returns
    -------
    dict
        ``cases``, each as `summary` has it with ``contacts`` and ``utilisation``, the rows of its tables; ``worst``,
        the worst of all of them; ``envelope``, the limits of the user's rulebook with ``rows``, ``outside`` and
        ``caution``, or None; ``mesh_error``, how far the mesh puts sag and stress off; ``drawing``, how it was
        read; ``files``, fingerprints by name; with losses also
        ``losses``: ``case`` and ``rows``; ``natural_frequencies``, None when there are none, ``buckling`` and
        ``speed_sweeps``. What is not known is None.
    """
    cases = [
        summary(s) | {"contacts": records(s.contacts), "utilisation": records(utilisation_of(s))}
        for s in solutions
    ]
    design = solutions[0].model.design
    found: dict[str, object] = {
        "cases": cases,
        "worst": records(worst_of(solutions)),
        "envelope": None if design.envelope is None else envelope_data(check_envelope(design, solutions)),
        "mesh_error": mesh_data(solutions),
        "drawing": list(drawing_sentences(design)),
        "files": fingerprints(design, cases_behind(solutions)),
        **behaviour_data(behaviour),
    }
    if losses is not None:
        found["losses"] = {"case": losses.case, "rows": records(losses.table)}
    return found


def summary_text(
    solutions: Sequence[Solution],
    *,
    units: System = "metric",
    losses: Losses | None = None,
    behaviour: Behaviour | None = None,
) -> str:
    """Headline figures and worst utilisations of load cases of one splitter as aligned tables for a terminal.

    Parameters
    ----------
    solutions : sequence of Solution
        At least one.
    units : {"metric", "us"}
        mm, N and kg, or in, lbf and lb.
    losses : Losses, optional
        What becomes of one of them when one part is lost.
    behaviour : Behaviour, optional
        Natural frequencies and buckling factors.

    Returns
    -------
    str
        Lines without one at the end.

    Raises
    ------
    UnitError
        Another system of units.
    """
    words = words_for(units)
    first = solutions[0]
    design, sheet = first.model.design, first.model.design.panel.sheet
    material = sheet.material if isinstance(sheet.material, str) else sheet.material.name
    lines = [
        design.name + invented_mark(design),
        f"{material}, {words.with_unit(float(sheet.thickness), words.size)} thick; "
        f"panel and ribs {words.with_unit(first.mass, words.mass)}; {first.model.unknowns} unknowns",
        "",
        *aligned([_headings(words), *(_row(solution, words) for solution in solutions)]),
        "",
        *ground_lines(solutions, words),
        "Places: x forward of the front axle, y to the left. Strut force: tension positive.",
        f"Checks: residual {max(s.residual for s in solutions):.0e}, "
        f"equilibrium {max(s.equilibrium for s in solutions):.0e} of the load, "
        f"contact {max(s.response.play_residual for s in solutions):.0e}, "
        f"energy {max(s.response.energy_gap for s in solutions):.0e}, "
        f"rounding {max(s.response.correction for s in solutions):.0e} of the displacements.",
        *mesh_lines(solutions, words),
        *range_lines(solutions),
        *contact_lines(solutions, words),
        *_blocks(
            followed_lines(solutions, words),
            air_lines(solutions, words),
            _case_lines(solutions),
            _envelope_lines(solutions, words),
        ),
        "",
        *strength_lines(judged(solutions), words),
        *(["", *loss_lines(losses, words)] if losses is not None else []),
        *(["", *behaviour_lines(behaviour, words)] if behaviour else []),
    ]
    return "\n".join(lines)


def _blocks(*blocks: list[str]) -> list[str]:
    """Put an empty line before each block that there is."""
    return [line for block in blocks if block for line in ("", *block)]


def _case_lines(solutions: Sequence[Solution]) -> list[str]:
    names = [solution.case.name for solution in solutions]
    said = with_names(case_notes(solutions), names)
    return [line for text in said for line in wrapped(text)]


def _envelope_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Write the limits of the user's rulebook, or that none were checked."""
    design = solutions[0].model.design
    if design.envelope is None:
        return [NO_ENVELOPE]
    return envelope_lines(check_envelope(design, solutions), words.size)


def _headings(words: Words) -> list[str]:
    size, force = words.size, words.force
    places = "at x, y"
    return [
        "load case",
        f"sag ({size})",
        places,
        f"gap ({size})",
        places,
        f"downforce ({force})",
        f"worst strut ({force})",
    ]


def _row(solution: Solution, words: Words) -> list[str]:
    strut = _forces(solution)["largest_strut_force_N"]
    return [
        solution.case.name,
        words.sag(solution.max_sag),
        words.place(solution.max_sag_at),
        words.sag(solution.min_clearance),
        words.place(solution.min_clearance_at),
        words.number(solution.downforce, words.force, 0) if windy(solution) else "-",
        words.number(strut, words.force, 0) if isinstance(strut, float) else "-",
    ]
