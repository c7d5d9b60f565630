"""What the mesh does to the largest sag and to the panel's worst stress, in words and as data."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.errors import SplitterError
from splitterfem.output.columns import wrapped
from splitterfem.output.wording import Words
from splitterfem.strength.assess import utilisation_of
from splitterfem.strength.mesh_error import PANEL, MeshDifference, mesh_error


def mesh_sentence(solutions: Sequence[Solution], words: Words) -> str:
    """Say how far the mesh may have put the largest sag and the panel's worst stress off."""
    try:
        sag, found, stress, share = _errors(solutions)
    except SplitterError as error:
        return f"Mesh: its error is not known, because another mesh has no answer ({error})"
    size = f"{words.sag(abs(found.sag))} {words.size}"
    parts = [f"the largest sag about {_percent(found.sag_share)} ({size}) in '{sag.case.name}'"]
    if stress is not None and share is not None:
        parts.append(f"the worst stress of the panel about {_percent(share)} in '{stress.case.name}'")
    return (
        f"Mesh: smallest angle {sag.model.mesh.min_angle:.0f} degrees; its error, estimated from another one "
        f"({found.unknowns} unknowns instead of {sag.model.unknowns}): "
        f"{', '.join(parts)}; to a factor of two or half a percent."
    )


def mesh_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Break the sentence into lines for a terminal."""
    return wrapped(mesh_sentence(solutions, words))


def mesh_data(solutions: Sequence[Solution]) -> dict[str, object]:
    """Return the estimated errors of the mesh, ready for JSON; None where there is no answer."""
    try:
        sag, found, stress, share = _errors(solutions)
    except SplitterError as error:
        return {"unknown_because": str(error)}
    return {
        "sag_mm": 1e3 * found.sag,
        "sag_percent": 100.0 * found.sag_share,
        "sag_case": sag.case.name,
        "panel_stress_percent": None if share is None else 100.0 * share,
        "panel_stress_case": None if stress is None else stress.case.name,
        "other_unknowns": found.unknowns,
    }


def _errors(
    solutions: Sequence[Solution],
) -> tuple[Solution, MeshDifference, Solution | None, float | None]:
    """Solution that sags most with its error, and that whose panel is stressed most with the share of the error."""
    sag, stress = max(solutions, key=lambda solution: solution.max_sag), _stressed(solutions)
    return sag, error_of(sag), stress, None if stress is None else error_of(stress).stress_share


def error_of(solution: Solution) -> MeshDifference:
    """Return the mesh error of a solution: the one that it has already where it comes from the library's face."""
    known = getattr(solution, "mesh_error", None)
    return mesh_error(solution) if known is None else known


def _stressed(solutions: Sequence[Solution]) -> Solution | None:
    """Solution whose panel is used most; None where none can be judged."""
    worst = [(_panel_ratio(solution), number) for number, solution in enumerate(solutions)]
    ratio, number = max(worst)
    return solutions[number] if ratio > 0.0 else None


def _panel_ratio(solution: Solution) -> float:
    table = utilisation_of(solution)
    return (
        float(table[table["part"] == PANEL]["ratio"].fillna(0.0).max())
        if (table["part"] == PANEL).any()
        else 0.0
    )


def _percent(share: float) -> str:
    return f"{abs(100.0 * share):.1f} % {'too small' if share < 0.0 else 'too large'}"
