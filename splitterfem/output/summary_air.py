"""The air of load cases for machines, and as lines for a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splitterfem.aero.gap_law import GAP_CAUTIONS
from splitterfem.analysis import Solution
from splitterfem.model.air import air_density, air_speed
from splitterfem.output.air_words import (
    air_cells,
    air_sentences,
    band_sentences,
    blowing,
    by_gap_law,
    gap_flags,
    notes_of,
    tunnels_of,
    windy,
)
from splitterfem.output.case_words import (
    combined_words,
    density_how,
    handling_names,
    only_combines,
    with_names,
)
from splitterfem.output.columns import aligned, wrapped
from splitterfem.output.wording import Words, words_for

_KMH = 1.0 / 3.6


def case_data(solution: Solution) -> dict[str, object]:
    """Say what a load case is, ready for JSON: its note, what stands behind it, what it combines and loses.

    Parameters
    ----------
    solution : Solution
    """
    case = solution.case
    return {
        "note": case.note,
        "handling": case.name in handling_names(solution.model.design),
        "combines": [{"case": part.case, "factor": float(part.factor)} for part in case.combines],
        "combines_words": combined_words(case) or None,
        "lost_joints": list(case.unbonded),
        "factor": float(case.factor),
    }


def air_data(solution: Solution) -> dict[str, object]:
    """Return the air of a load case, ready for JSON; units are in the keys, and what is not known is None.

    Parameters
    ----------
    solution : Solution
    """
    air, case, car = solution.load.air, solution.case, solution.car
    own = not only_combines(case)
    design = solution.model.design
    flags = [flag for part in blowing(solution) for flag in gap_flags(design, part)]
    return {
        "speed_km_h": float(case.speed) / _KMH,
        "head_wind_km_h": float(case.head_wind) / _KMH,
        "air_speed_km_h": air_speed(case) / _KMH if own else None,
        "air_density_kg_m3": air_density(case) if own else None,
        "air_density_from": density_how(case, words_for("metric")) if own else None,
        "dynamic_pressure_Pa": None if air is None else air.dynamic_pressure,
        "downforce_N": solution.downforce,
        "downforce_band_N": _band(car.band),
        "downforce_band_is": band_sentences(solution),
        "downforce_of_panel_N": None if air is None else air.downforce,
        "centre_of_pressure_x_mm": _known(1e3 * car.centre[0]),
        "centre_of_pressure_y_mm": _known(1e3 * car.centre[1]),
        "front_axle_N": _known(car.front),
        "rear_axle_N": _known(car.rear),
        "left_wheels_percent": _known(100.0 * car.left),
        "edge_drag_N": car.drag,
        "tunnels": _tunnels(solution),
        "pressure_map_coverage_percent": None if air is None else 100.0 * air.covered,
        "air_notes": [] if air is None else list(air.notes),
        "gap_law_flags": list(dict.fromkeys(flags)),
        "gap_law_cautions": list(GAP_CAUTIONS) if by_gap_law([solution]) else [],
    }


def _band(band: tuple[float, float, float] | None) -> dict[str, float] | None:
    return None if band is None else dict(zip(("low", "typical", "high"), band, strict=True))


def _tunnels(solution: Solution) -> list[dict[str, object]]:
    return [
        {
            "name": tunnel.name,
            "force_N": tunnel.force,
            "x_mm": _known(1e3 * tunnel.x),
            "y_mm": _known(1e3 * tunnel.y),
            "carried_by": "rim" if tunnel.on_panel else "chassis",
            "basis": "measured" if tunnel.measured else "estimated",
            "ramp_deg": tunnel.degrees,
            "steep": tunnel.steep,
        }
        for tunnel in tunnels_of(solution)
    ]


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def air_lines(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Write the air of load cases as a table for a terminal, and what there is to say of it; none without air.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.
    """
    shown = [solution for solution in solutions if windy(solution)]
    if not shown:
        return []
    force = words.force
    headings = [
        "air in load case",
        f"low, typical, high ({force})",
        f"centre x, y ({words.size})",
        f"front axle ({force})",
        f"rear axle ({force})",
        "left (%)",
        f"edge drag ({force})",
    ]
    rows = [[s.case.name, *air_cells(s, words)[1:]] for s in shown]
    names = [solution.case.name for solution in solutions]
    said = [*notes_of(solutions), *with_names(air_sentences(solutions, words), names)]
    return [*aligned([headings, *rows]), *(line for text in said for line in wrapped(text))]
