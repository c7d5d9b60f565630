"""What a check of a design says without solving it: findings, load cases, limits at rest, mesh, mass and cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from splitterfem.aero import resultant
from splitterfem.analysis.bill import bill_of_materials
from splitterfem.analysis.envelope import check_envelope
from splitterfem.design.combine import settled
from splitterfem.design.gap import GapLawMap
from splitterfem.model.air import air_speed
from splitterfem.model.airload import coverage_words, covered_share, panel_area, pressure_field
from splitterfem.output.bill_words import TOTAL, cost_words, mass_words, parts_of
from splitterfem.output.case_words import acts_words, handling_names, handling_words, speed_words
from splitterfem.output.columns import aligned, records, wrapped
from splitterfem.output.envelope_words import NO_ENVELOPE, at_rest, envelope_data, envelope_lines
from splitterfem.output.sources import drawing_sentences, fingerprints
from splitterfem.output.wording import System, Words, words_for

if TYPE_CHECKING:
    from splitterfem.design import Finding, LoadCase, Splitter
    from splitterfem.fem.meshing import PlateMesh


def check_data(splitter: Splitter, findings: Sequence[Finding], mesh: PlateMesh) -> dict[str, object]:
    """Return findings, load cases, limits that need no solution, mesh and bill, ready for JSON; units are in the keys.

    Parameters
    ----------
    splitter : Splitter
    findings : sequence of Finding
    mesh : PlateMesh

    Raises
    ------
    DesignError, FileError
        As :func:`coverage`; a file of the design cannot be read; the envelope does not fit the panel.
    """
    bill = bill_of_materials(splitter)
    sums = bill[bill["kind"] == TOTAL]
    cases = [settled(case, splitter) for case in splitter.all_cases]
    return {
        "splitter": splitter.name,
        "findings": [_finding(finding) for finding in findings],
        "cases": [_case(splitter, case) for case in cases],
        "pressure_maps": [
            {"case": name, "covered_percent": 100.0 * covered, "sentence": coverage_words(name, covered)}
            for name, covered in coverage(splitter).items()
        ],
        "envelope": _envelope(splitter),
        "drawing": drawing_sentences(splitter),
        "files": fingerprints(splitter, cases),
        "mesh": {
            "triangles": mesh.triangles.shape[1],
            "smallest_angle_deg": mesh.min_angle,
            "area_m2": mesh.area,
        },
        "mass_kg": float(sums["mass_kg"].iloc[0]),
        "costs": records(sums.loc[sums["cost"].notna(), ["cost", "currency", "cost_basis"]]),
        "bill": records(parts_of(bill)),
        "bill_leaves_out": list(bill.attrs["left_out"]),
    }


def _finding(finding: Finding) -> dict[str, object]:
    return {
        "severity": finding.severity,
        "code": finding.code,
        "path": finding.path,
        "where_mm": None if finding.where is None else [1e3 * c for c in finding.where],
        "sentence": finding.sentence,
    }


def coverage(splitter: Splitter) -> dict[str, float]:
    """Share of the panel that each measured pressure map covers, by the name of its load case.

    Raises
    ------
    DesignError
        A map covers none of the panel, or cannot be brought to the total that it asks for.
    FileError
        The file of a map cannot be read.
    """
    area, found = panel_area(splitter), {}
    for case in splitter.all_cases:
        if case.pressure is None:
            continue
        field = pressure_field(splitter, case)
        if isinstance(case.pressure, GapLawMap):
            continue
        found[case.name] = covered_share(case, resultant(field, area))
    return found


def _case(splitter: Splitter, case: LoadCase) -> dict[str, object]:
    return {
        "name": case.name,
        "note": case.note,
        "handling": case.name in handling_names(splitter),
        "air_speed_km_h": 3.6 * air_speed(case),
        "pressure_map": None if case.pressure is None else case.pressure.kind,
        "acts": acts_words(case, words_for("metric")),
        "combines": [{"case": part.case, "factor": float(part.factor)} for part in case.combines],
        "lost_joints": list(case.unbonded),
    }


def _envelope(splitter: Splitter) -> dict[str, object] | None:
    """Limits that can be measured without solving, and the names of the others; None without an envelope."""
    if splitter.envelope is None:
        return None
    checks = check_envelope(splitter)
    still = at_rest(checks)
    return envelope_data(still) | {"needs_solving": [c.rule for c in checks if c not in still]}


def check_text(
    splitter: Splitter, findings: Sequence[Finding], mesh: PlateMesh, *, units: System = "metric"
) -> str:
    """Return findings, load cases, limits that need no solution, mesh, mass and cost as lines for a terminal.

    Parameters
    ----------
    splitter : Splitter
    findings : sequence of Finding
    mesh : PlateMesh
    units : {"metric", "us"}
        Of the mass.

    Raises
    ------
    UnitError
        Another system of units.
    DesignError, FileError
        As `check_data`.
    """
    words, bill = words_for(units), bill_of_materials(splitter)
    held = any((splitter.struts, splitter.bolts, splitter.pins, splitter.pockets))
    return "\n".join(
        [
            str(splitter),
            *(f"{finding.severity}: {finding}" for finding in findings),
            *_blocks(splitter, words),
            f"mesh: {mesh.triangles.shape[1]} triangles, smallest angle {mesh.min_angle:.0f} degrees",
            f"mass: {mass_words(bill, words)}",
            f"cost: {cost_words(bill)}",
            "can be built; whether its supports hold it is found by solving"
            if held
            else "can be built, but nothing holds it: add struts, bolts, pins or rear pockets",
        ]
    )


def _blocks(splitter: Splitter, words: Words) -> list[str]:
    """Write load cases, coverage of pressure maps, reading of the drawing, and limits, each between empty lines."""
    envelope = [NO_ENVELOPE]
    if splitter.envelope is not None:
        checks = check_envelope(splitter)
        still = at_rest(checks)
        later = [check for check in checks if check not in still]
        envelope = envelope_lines(still, words.size, later=later)
    blocks = [
        _case_lines(splitter, words),
        [line for name, share in coverage(splitter).items() for line in wrapped(coverage_words(name, share))],
        [line for text in drawing_sentences(splitter) for line in wrapped(text)],
        envelope,
    ]
    return ["", *(line for block in blocks if block for line in (*block, ""))]


def _case_lines(splitter: Splitter, words: Words) -> list[str]:
    """Write every load case with the speed of its air and what else acts; handling is marked as such."""
    if not splitter.all_cases:
        return ["There is no load case."]
    handling = handling_names(splitter)
    rows = [["load case", "air speed", "pressure", "what else acts"]]
    for given in splitter.all_cases:
        case = settled(given, splitter)
        acts = acts_words(case, words)
        rows.append(
            [
                case.name,
                speed_words(case, words).replace("\n", ", ") if case.speed else "-",
                "-" if case.pressure is None else case.pressure.kind,
                f"{acts}; {handling_words(case)}" if case.name in handling else acts,
            ]
        )
    return aligned(rows, left=(0, 3))
