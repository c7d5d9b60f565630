"""The short table of the README, from the results of a run."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchmarks import accuracy, throughput
from benchmarks.writing import shown

THIN = "square, clamped, t/L = 0.01"
OTHERS = ("hybrid stress, p=2", "hybrid stress, p=3", "displacements P2/P2")
"""Beside this project in the table."""

Cells = list[object]


def short_table(results: dict[str, Any]) -> str:
    """Markdown of the table, with date and machine; rows whose section was not measured are left out."""
    machine = results["machine"]
    rows = [*_accuracy(results), *_job(results), *_alone(results)]
    names = ["measured", "this project", *(f"ngsolve, {name}" for name in OTHERS)]
    lines = ["| " + " | ".join(names) + " |", "| --- " * len(names) + "|"]
    lines += ["| " + " | ".join(shown(cell) for cell in row) + " |" for row in rows]
    when = f"{machine['date']}, {machine['processor']}, {machine['cores']} cores, ngsolve {_version(machine)}"
    return "\n".join(
        ["", *lines, "", f"{when}; one thread, CPU time. p is the degree of the deflection.", ""]
    )


def _version(machine: dict[str, Any]) -> str:
    return str(machine["versions"].get("ngsolve", "not installed"))


def _rows(results: dict[str, Any], section: str, title: str) -> list[dict[str, Any]]:
    tables = results["sections"].get(section, {}).get("tables", [])
    return next((table["rows"] for table in tables if table["title"].startswith(title)), [])


def _accuracy(results: dict[str, Any]) -> Iterator[Cells]:
    names = (accuracy.OWN, *OTHERS)
    for row in _rows(results, "accuracy", "Error of the deflection at"):
        if row["problem"] == THIN:
            what = f"{THIN}: error at {accuracy.AT} unknowns, %"
            yield [what, *(row.get(f"{name}, error %") for name in names)]
    for row in _rows(results, "accuracy", "Unknowns, and CPU"):
        if row["problem"] == THIN:
            what = f"the same: unknowns and time for {100 * accuracy.TARGET:g} %"
            yield [what, *(_both(row.get(f"{n}, unknowns"), row.get(f"{n}, ms")) for n in names)]


def _both(unknowns: object, ms: object) -> str:
    return "–" if unknowns is None or ms is None else f"{shown(unknowns)}, {shown(ms)} ms"


def _job(results: dict[str, Any]) -> Iterator[Cells]:
    rows = _rows(results, "job", "Stiffened panel: unknowns")
    by_name = {row["formulation"]: row for row in rows if row["mesh"] == "graded"}
    if not by_name:
        return
    cells: Cells = ["stiffened panel to 0.5 % in sag and 2 % in stress"]
    for name in (accuracy.OWN, *OTHERS):
        row = by_name.get(name, {})
        needed = [row.get("unknowns for sag"), row.get("unknowns for stress")]
        both = None if None in needed else max(needed)  # type: ignore[type-var]
        cells.append(_both(both, row.get("CPU ms for both")))
    yield cells


def _alone(results: dict[str, Any]) -> Iterator[Cells]:
    """Rows that nothing stands beside."""
    blank: Cells = [""] * len(OTHERS)
    solids = _rows(results, "solids", "Stiffened panels")
    if solids:
        worst = max(row["largest error, % of the worst sag"] for row in solids)
        yield ["stiffened panels against three-dimensional solids, largest error, %", worst, *blank]
    full = _rows(results, "throughput", "Layouts solved in full: cost")
    screened = _rows(results, "throughput", "Layouts screened")
    for what, rows in (("solved in full", full), ("screened", screened)):
        if rows:
            row = [row for row in rows if row["where"] == throughput.HERE][-1]
            what = f"layouts {what}, each second of one core, among {row['layouts']}"
            yield [what, 1e3 / row["CPU ms per layout"], *blank]
