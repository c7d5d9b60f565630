"""The contents of a report as plain data, ready for JSON: texts, tables, names of pictures."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence

import numpy as np

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.bill import bill_of_materials
from splitterfem.analysis.envelope import check_envelope
from splitterfem.design import Splitter
from splitterfem.output.air_words import air_sentences, notes_of, windy
from splitterfem.output.bill_words import bill_notes, bill_table, parts_of
from splitterfem.output.case_words import case_notes, with_numbers
from splitterfem.output.envelope_words import NO_ENVELOPE
from splitterfem.output.judged import Judged, Losses, judged, weakest
from splitterfem.output.mesh_words import mesh_sentence
from splitterfem.output.planview import bounds
from splitterfem.output.pressureview import total_words
from splitterfem.output.report_behaviour import behaviour_part
from splitterfem.output.report_contacts import contact_part
from splitterfem.output.report_envelope import envelope_part
from splitterfem.output.report_found import Found
from splitterfem.output.report_front import Front
from splitterfem.output.report_head import head_part
from splitterfem.output.report_maps import PRESSURE_KEY, distinct_maps
from splitterfem.output.report_pictured import pictures_part
from splitterfem.output.report_places import places_table
from splitterfem.output.report_speed import speed_part
from splitterfem.output.report_strength import loss_data, strength_data
from splitterfem.output.report_summary import summary
from splitterfem.output.report_tables import (
    air_table,
    case_table,
    minus,
    result_table,
    rib_table,
    support_tables,
)
from splitterfem.output.report_words import assumptions, cautions, short_caution
from splitterfem.output.sources import drawing_sentences
from splitterfem.output.unjudged import left_out
from splitterfem.output.wording import Words, ratio_words
from splitterfem.output.worst_words import worst_table
from splitterfem.strength.cases import worst_of


def report_data(
    solutions: Sequence[Solution],
    words: Words,
    date: datetime.date,
    *,
    losses: Losses | None = None,
    behaviour: Behaviour | None = None,
    front: Front | None = None,
) -> dict[str, object]:
    """Everything that a report prints, except for the pictures themselves.

    Parameters
    ----------
    solutions : sequence of Solution
        Load cases of one splitter.
    words : Words
        Units.
    date : datetime.date
        Printed as it is.
    losses : Losses, optional
        What becomes of a load case when one part is lost; not spoken of when left out.
    behaviour : Behaviour, optional
        Natural frequencies, buckling factors and sweeps over speed; not spoken of when left out.
    front : Front, optional
        Title, names and paper; without names when left out.

    Returns
    -------
    dict
        Texts, tables with ``headings`` and ``rows``, and for each load case the names of its pictures.
    """
    design, strength = solutions[0].model.design, judged(solutions)
    bill = bill_of_materials(design)
    checks = () if design.envelope is None else check_envelope(design, solutions)
    judgement = strength_data(strength, words)
    found = Found(solutions, strength, checks, left_out(strength, words), losses, behaviour, bill, words)
    return {
        **head_part(solutions, front or Front(units=words.system, date=date)),
        "summary": summary(found),
        "asked": "How far does the panel bow, how near does it come to the ground, and what do its "
        "supports and ribs carry, and which part would fail first?",
        "headline": _headline(solutions, strength, words),
        "design": _design_rows(design, words),
        "places": places_table(design, words),
        "cases": case_table(solutions, words),
        "results": result_table(solutions, words),
        **contact_part(solutions, words),
        "case_notes": [minus(line) for line in with_numbers(case_notes(solutions, times="×"))],
        "air": _air(solutions, words),
        "pressures": [
            {
                "title": title,
                "file": f"pressure-{n}.svg",
                "total": minus(total_words(design, case, words.size, air=air)),
            }
            for n, (title, case, air, _) in enumerate(distinct_maps(solutions), start=1)
        ],
        "pressure_key": PRESSURE_KEY,
        **pictures_part(solutions, words),
        "worst": _worst(solutions, words),
        "envelope": envelope_part(solutions, checks, words),
        "no_envelope": NO_ENVELOPE,
        "drawing": drawing_sentences(design),
        "strength": judgement,
        "losses": None if losses is None else loss_data(losses, words),
        **behaviour_part(behaviour, words),
        **speed_part(() if behaviour is None else behaviour.sweeps, words),
        "supports": support_tables(solutions, words),
        "ribs": rib_table(solutions, words),
        "bill": bill_table(bill, words),
        "bill_sums": len(bill) - len(parts_of(bill)),
        "bill_notes": bill_notes(bill),
        "assumptions": assumptions(solutions, words),
        "checks": _checks(solutions, words),
        "cautions": cautions(solutions, losses=losses is not None),
        "short_caution": short_caution(design),
    }


def _air(solutions: Sequence[Solution], words: Words) -> dict[str, object] | None:
    """Table and sentences on the air; None when no load case has any."""
    table = air_table(solutions, words)
    if not table["rows"]:
        return None
    said = [*notes_of(solutions), *with_numbers(air_sentences(solutions, words))]
    return {"table": table, "notes": [minus(line) for line in said]}


def _worst(solutions: Sequence[Solution], words: Words) -> dict[str, object]:
    table, more = worst_table(worst_of(solutions), [s.case.name for s in solutions], words)
    return {"table": table, "more": more}


def _headline(solutions: Sequence[Solution], strength: Judged, words: Words) -> list[dict[str, object]]:
    sag = max(solutions, key=lambda s: s.max_sag)
    gap = min(solutions, key=lambda s: (s.min_clearance, -s.ground.force))
    air = max(solutions, key=lambda s: s.downforce)
    size = words.size
    under = "" if gap.clearance.under == "panel" else f", under {gap.clearance.under}"
    touches = gap.min_clearance <= 0.0
    ground = "LIES ON THE GROUND" if gap.ground.touches else "TOUCHES THE GROUND"
    return [
        _headline_item(
            "largest sag",
            f"{words.sag(sag.max_sag)} {size}",
            f"{_at(sag.max_sag_at, words)}; {sag.case.name}",
        ),
        _headline_item(
            "smallest gap to the ground",
            f"{words.sag(gap.min_clearance)} {size}",
            f"{_at(gap.min_clearance_at, words)}{under}; {gap.case.name}"
            + (f", {ground}" if touches else ""),
            alarm=touches,
        ),
        _downforce_item(air, words),
        _utilisation_item(strength),
        _headline_item("mass", words.with_unit(solutions[0].mass, words.mass, 2), "panel and ribs"),
    ]


def _downforce_item(solution: Solution, words: Words) -> dict[str, object]:
    if not windy(solution):
        return _headline_item("downforce", "none", "no load case has air")
    band = solution.car.band
    ends = (
        "without a band"
        if band is None
        else " to ".join(words.number(band[i], words.force, 0) for i in (0, 2)) + f" {words.force}"
    )
    value = words.with_unit(solution.downforce, words.force, 0)
    return _headline_item("largest downforce", value, f"{ends}; {solution.case.name}")


def _utilisation_item(strength: Judged) -> dict[str, object]:
    label = "largest utilisation"
    worst = weakest(strength.worst)
    if worst is None:
        return _headline_item(label, "unknown", "the design gives no strengths")
    value, over = ratio_words(float(worst["ratio"])), strength.overloaded > 0
    detail = f"{worst['part']}, {worst['mode']}; {worst['case']}" + (", OVERLOADED" if over else "")
    return _headline_item(label, value, detail, alarm=over)


def _headline_item(label: str, value: str, detail: str, *, alarm: bool = False) -> dict[str, object]:
    return {"label": label, "value": minus(value), "detail": minus(detail), "alarm": alarm}


def _at(place: tuple[float, float], words: Words) -> str:
    x, y = words.place(place).split(", ")
    return f"at x {x}, y {y} {words.size}"


def _design_rows(design: Splitter, words: Words) -> list[list[str]]:
    box, sheet = bounds(design), design.panel.sheet
    digits = 0 if words.size == "mm" else 2
    width, length = (words.number(v, words.size, digits) for v in (box.width, box.length))
    rows = [
        ["panel", f"{width} × {length} {words.size}"],
        ["sheet", f"{sheet.resolved.name}, {words.with_unit(float(sheet.thickness), words.size)}"],
    ]
    if getattr(sheet.resolved, "kind", "") == "orthotropic":
        rows.append(["face grain", _grain(float(sheet.grain_angle))])
    counts = (
        ("cut-outs", len(design.panel.holes())),
        *(
            (what, sum(len(part.sides()) for part in getattr(design, what)))
            for what in ("ribs", "struts", "bolts", "pins")
        ),
        ("rear pockets", sum(len(part.sides()) for part in design.pockets)),
        ("stops", sum(len(part.sides()) for part in design.stops)),
    )
    rows += [[what, str(count)] for what, count in counts if count]
    rows.append(["ride height", words.with_unit(float(design.car.ride_height), words.size)])
    rows.append(["rake, nose down", words.with_unit(float(design.car.rake), "deg")])
    return [[what, re.sub(r"(?<=\d) (?=\S)", "\N{NO-BREAK SPACE}", value)] for what, value in rows]


def _grain(angle: float) -> str:
    degrees = float(np.degrees(angle)) % 180.0
    if min(degrees, 180.0 - degrees) < 0.05:
        return "fore and aft"
    return "side to side" if abs(degrees - 90.0) < 0.05 else f"{degrees:.1f}° from forward to left"


def _checks(solutions: Sequence[Solution], words: Words) -> str:
    return (
        "Checks of the solution, as shares of the load: nodal forces "
        f"{max(s.residual for s in solutions):.0e}, sums of loads and reactions "
        f"{max(s.equilibrium for s in solutions):.0e}; contact law "
        f"{max(s.response.play_residual for s in solutions):.0e}; energy "
        f"{max(s.response.energy_gap for s in solutions):.0e}; what rounding moves, as a share of the displacements, "
        f"{max(s.response.correction for s in solutions):.0e} (all without dimension). "
        f"{mesh_sentence(solutions, words)}"
    )
