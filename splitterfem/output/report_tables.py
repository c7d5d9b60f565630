"""Tables of a report: load cases, outcomes, supports and ribs, as headings and rows of text."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.design import Rib
from splitterfem.model.air import air_density
from splitterfem.output.air_words import air_cells, windy
from splitterfem.output.case_words import (
    acts_words,
    only_combines,
    speed_words,
)
from splitterfem.output.judged import most_loaded
from splitterfem.output.wording import Words

Table = dict[str, list[str] | list[list[str]] | list[int]]

CASES_TO_A_TABLE = 6
_FIGURES = {
    "strut": ("axial",),
    "bolt": ("upward", "in the plane"),
    "pin": ("upward", "in the plane"),
    "rear pocket": ("upward",),
    "stop": ("upward",),
}


def section_words(rib: Rib, words: Words) -> str:
    """Write a rib's section with its sizes."""
    sizes = (words.number(v, words.size, 1 if words.size == "mm" else 3) for v in rib.section.sizes)
    return f"{rib.section.shape} {' × '.join(sizes)} {words.size}"


def case_table(solutions: Sequence[Solution], words: Words) -> Table:
    """One row for each load case: what acts."""
    rows = []
    for number, solution in enumerate(solutions, start=1):
        case, blows = solution.case, windy(solution)
        own = blows and not only_combines(case)
        rows.append(
            [
                str(number),
                case.name,
                speed_words(case, words) if blows else "-",
                words.with_unit(air_density(case), words.density, 3) if own else "-",
                acts_words(case, words, times="×"),
            ]
        )
    return table_of(["", "load case", "air speed", "air density", "what else acts"], rows)


def air_table(solutions: Sequence[Solution], words: Words) -> Table:
    """One row for each load case with air: what the car feels of it."""
    rows = [
        [str(number), solution.case.name, *air_cells(solution, words)]
        for number, solution in enumerate(solutions, start=1)
        if windy(solution)
    ]
    force = words.force
    names = ("downforce", "low, typical, high", "front axle", "rear axle", "edge drag")
    down, band, front, rear, drag = (f"{name}\n{force}" for name in names)
    at = f"centre x, y\n{words.size}"
    return table_of(["", "load case", down, band, at, front, rear, "left\n%", drag], rows)


def result_table(solutions: Sequence[Solution], words: Words) -> Table:
    """One row for each load case: sag and gap with their places, and the support that carries most."""
    rows = []
    for number, solution in enumerate(solutions, start=1):
        support, force = most_loaded(solution)
        rows.append(
            [
                str(number),
                solution.case.name,
                words.sag(solution.max_sag),
                words.place(solution.max_sag_at),
                words.sag(solution.min_clearance),
                words.place(solution.min_clearance_at),
                solution.clearance.under,
                support,
                words.number(force, words.force, 0) if support != "-" else "-",
            ]
        )
    at = f"at x, y\n{words.size}"
    headings = ["", "load case", f"sag\n{words.size}", at, f"gap\n{words.size}", at, "lowest\npart"]
    low = [index for index, solution in enumerate(solutions) if solution.min_clearance <= 0.0]
    return table_of([*headings, "most on\nsupport", words.force], rows, alarms=low)


def support_tables(solutions: Sequence[Solution], words: Words) -> list[Table]:
    """Tabulate the forces of the supports, at most six load cases to a table; none without supports.

    One row for each force of a support that says something, one column for each load case.
    """
    if not len(solutions[0].supports):
        return []
    tables = -(-len(solutions) // CASES_TO_A_TABLE)
    each = -(-len(solutions) // tables)
    return [_support_table(solutions[i : i + each], words, i + 1) for i in range(0, len(solutions), each)]


def _support_table(solutions: Sequence[Solution], words: Words, first: int) -> Table:
    rows: list[list[str]] = []
    tables = [solution.supports for solution in solutions]
    for index in range(len(tables[0])):
        support = tables[0].iloc[index]
        for figure in _FIGURES[str(support["kind"])]:
            cells = [_force(table.iloc[index], figure, words) for table in tables]
            if figure == "axial" or any(cell != "0" for cell in cells):
                at = words.place((1e-3 * support["x_mm"], 1e-3 * support["y_mm"]))
                rows.append([str(support["support"]), str(support["kind"]), at, figure, *cells])
    numbers = [f"case {first + n}\n{words.force}" for n in range(len(solutions))]
    return table_of(["support", "kind", f"at x, y\n{words.size}", "force", *numbers], rows)


def _force(row: pd.Series, figure: str, words: Words) -> str:
    if row["state"] in ("slack", "touches nothing", "open"):
        return str(row["state"])
    value = {
        "axial": row["axial_N"],
        "upward": row["fz_N"],
        "in the plane": float(np.hypot(row["fx_N"], row["fy_N"])),
    }[figure]
    return words.number(float(value), words.force, 0)


def rib_table(solutions: Sequence[Solution], words: Words) -> Table:
    """Each rib in the load case that stresses it most."""
    rows = []
    for index, rib in enumerate(solutions[0].model.ribs):
        rows_of_rib = [solution.ribs.iloc[index] for solution in solutions]
        worst = int(np.argmax([abs(row["stress_MPa"]) for row in rows_of_rib]))
        row = rows_of_rib[worst]
        rows.append(
            [
                rib.name,
                f"{section_words(rib.design, words)}, {rib.design.side}, {rib.material.name}",
                words.number(rib.length, words.size, 0 if words.size == "mm" else 1),
                words.number(rib.mass, words.mass, 2),
                words.number(float(row["axial_N"]), words.force, 0),
                words.number(float(row["moment_Nm"]), words.moment, 1),
                words.number(
                    1e6 * float(row["stress_MPa"]), words.stress, 1 if words.system == "metric" else 0
                ),
                str(worst + 1),
            ]
        )
    units = (words.size, words.mass, words.force, words.moment.replace("*", " "), words.stress)
    names = ("length", "mass", "axial force", "moment", "fibre stress")
    headings = [f"{name}\n{unit}" for name, unit in zip(names, units, strict=True)]
    return table_of(["rib", "section, face, material", *headings, "in\ncase"], rows)


def table_of(headings: list[str], rows: list[list[str]], *, alarms: Sequence[int] = ()) -> Table:
    """Headings and rows with true minus signs; rows by their index in ``alarms`` are bad news."""
    return {
        "headings": headings,
        "rows": [[minus(cell) for cell in row] for row in rows],
        "alarms": list(alarms),
    }


def minus(text: str) -> str:
    """Write the hyphen of a negative number as a minus sign, and one alone as a dash; names keep theirs."""
    if text == "-":
        return "\N{EN DASH}"
    return re.sub(r"(?<![\w.)\]-])-(?=\d)", "\N{MINUS SIGN}", text)
