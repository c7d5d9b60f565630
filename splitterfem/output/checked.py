"""What a check of a design says without solving it: findings, mesh, mass and cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from splitterfem.analysis.bill import bill_of_materials
from splitterfem.output.bill_words import TOTAL, cost_words, mass_words, parts_of
from splitterfem.output.columns import records
from splitterfem.output.wording import System, words_for

if TYPE_CHECKING:
    from splitterfem.design import Finding, Splitter
    from splitterfem.fem.meshing import PlateMesh


def check_data(splitter: Splitter, findings: Sequence[Finding], mesh: PlateMesh) -> dict[str, object]:
    """Return findings, mesh and bill of materials, ready for JSON; units are in the keys.

    Parameters
    ----------
    splitter : Splitter
    findings : sequence of Finding
    mesh : PlateMesh
    """
    bill = bill_of_materials(splitter)
    sums = bill[bill["kind"] == TOTAL]
    return {
        "splitter": splitter.name,
        "findings": [_finding(finding) for finding in findings],
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


def check_text(
    splitter: Splitter, findings: Sequence[Finding], mesh: PlateMesh, *, units: System = "metric"
) -> str:
    """Return findings, mesh, mass and cost as lines for a terminal.

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
    """
    words, bill = words_for(units), bill_of_materials(splitter)
    held = any((splitter.struts, splitter.bolts, splitter.pins, splitter.pockets))
    return "\n".join(
        [
            str(splitter),
            *(f"{finding.severity}: {finding}" for finding in findings),
            f"mesh: {mesh.triangles.shape[1]} triangles, smallest angle {mesh.min_angle:.0f} degrees",
            f"mass: {mass_words(bill, words)}",
            f"cost: {cost_words(bill)}",
            "can be built; whether its supports hold it is found by solving"
            if held
            else "can be built, but nothing holds it: add struts, bolts, pins or rear pockets",
        ]
    )
