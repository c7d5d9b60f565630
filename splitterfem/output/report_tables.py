"""Tables of a report: load cases, outcomes, supports and ribs, as headings and rows of text."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, PointForce, Rib
from splitterfem.output.wording import Words

Table = dict[str, list[str] | list[list[str]] | list[int]]

CASES_TO_A_TABLE = 6
_FIGURES = {
    "strut": ("axial",),
    "bolt": ("upward", "in the plane"),
    "pin": ("upward", "in the plane"),
    "rear pocket": ("upward",),
}


def _section_words(rib: Rib, words: Words) -> str:
    """Write a rib's section with its sizes."""
    sizes = (words.number(v, words.size, 1 if words.size == "mm" else 3) for v in rib.section.sizes)
    return f"{rib.section.shape} {' × '.join(sizes)} {words.size}"


def case_table(solutions: Sequence[Solution], words: Words) -> Table:
    """One row for each load case: what acts."""
    rows = []
    for number, solution in enumerate(solutions, start=1):
        case, air = solution.case, solution.load.air
        rows.append(
            [
                str(number),
                case.name,
                _speed(case, words) if air else "–",
                words.with_unit(float(case.air_density), words.density, 3) if air else "–",
                _rest(case, words),
            ]
        )
    return table_of(["", "load case", "air speed", "air density", "what else acts"], rows)


def _speed(case: LoadCase, words: Words) -> str:
    return words.with_unit(float(case.speed), words.speed, 0)


def _rest(case: LoadCase, words: Words) -> str:
    """Write in a few words what a load case has besides air."""
    said = ["weight"] if case.gravity else []
    for force in case.forces:
        if isinstance(force, PointForce):
            x, y, z = (words.number(component, words.force, 0) for component in force.force)
            said.append(f"force {x}, {y}, {z} {words.force} at x, y {words.place(force.at)}")
        else:
            said.append("load on a patch")
    if any(case.acceleration):
        said.append(
            "acceleration "
            + ", ".join(words.number(a, "g", 2, dimension="acceleration") for a in case.acceleration)
            + " g"
        )
    if case.ride_height is not None:
        said.append(f"ride height {words.with_unit(float(case.ride_height), words.size)}")
    if case.rake is not None:
        said.append(f"rake {words.with_unit(float(case.rake), 'deg')}")
    if case.unbonded:
        said.append(f"lost joint of {', '.join(case.unbonded)}")
    if case.factor != 1.0:
        said.append(f"factor {case.factor:g}")
    return "; ".join(said) or "nothing"


def result_table(solutions: Sequence[Solution], words: Words) -> Table:
    """One row for each load case: sag, gap and downforce with their places."""
    rows = []
    for number, solution in enumerate(solutions, start=1):
        air = solution.load.air
        rows.append(
            [
                str(number),
                solution.case.name,
                words.sag(solution.max_sag),
                words.place(solution.max_sag_at),
                words.sag(solution.min_clearance),
                words.place(solution.min_clearance_at),
                solution.clearance.under,
                words.number(solution.downforce, words.force, 0) if air else "–",
                words.place(solution.centre_of_pressure) if air and np.isfinite(air.centre[0]) else "–",
            ]
        )
    at = f"at x, y\n{words.size}"
    headings = ["", "load case", f"sag\n{words.size}", at, f"gap\n{words.size}", at, "lowest\npart"]
    return table_of([*headings, f"downforce\n{words.force}", at], rows)


def support_tables(solutions: Sequence[Solution], words: Words) -> list[Table]:
    """Tabulate the forces of the supports, six load cases to a table; none without supports.

    One row for each force of a support that says something, one column for each load case.
    """
    if not len(solutions[0].supports):
        return []
    starts = range(0, len(solutions), CASES_TO_A_TABLE)
    return [_support_table(solutions[i : i + CASES_TO_A_TABLE], words, i + 1) for i in starts]


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
    if row["state"] in ("slack", "touches nothing"):
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
                f"{_section_words(rib.design, words)}, {rib.design.side}, {rib.material.name}",
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
