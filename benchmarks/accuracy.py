"""Accuracy of plates against unknowns and time, beside other formulations on the same meshes.

Without the extra ``verify`` the element of this project stands alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec

from benchmarks import own_element
from benchmarks.envelope import Curve
from benchmarks.own_element import Answer
from benchmarks.problems import Mesh, Problem, all_problems
from benchmarks.section import Options, Row, Table

OWN = "this project"
"""Short name of this project's element."""

Solver = Callable[[Problem, Mesh, int], Answer]

CELLS, QUICK, LONG = (2, 4, 6, 8, 12, 16, 24), (2, 4, 8, 12), (32, 48)
"""Divisions of each side; a square has four triangles to a cell."""

AT = 1500
"""Unknowns at which errors are compared in one table."""

TARGET = 1e-3
"""Error at which unknowns and times are compared in another."""

COMPARED = (600, 1500, 5000)
"""Unknowns at which the goal is judged."""


@dataclass(frozen=True)
class Measured:
    """One solution."""

    problem: Problem
    formulation: str
    cells: int
    answer: Answer

    @property
    def seconds(self) -> float:
        """CPU time of assembly and solution."""
        return self.answer.assembly.cpu + self.answer.solve.cpu

    def row(self) -> Row:
        """Row of the table that has everything."""
        return {
            "problem": self.problem.name,
            "formulation": self.formulation,
            "cells": self.cells,
            "unknowns": self.answer.unknowns,
            "error_percent": 100.0 * self.problem.error(self.answer.deflection),
            "known_to_percent": 100.0 * self.problem.known,
            "assembly_cpu_s": self.answer.assembly.cpu,
            "solve_cpu_s": self.answer.solve.cpu,
            "assembly_wall_s": self.answer.assembly.wall,
            "solve_wall_s": self.answer.solve.wall,
            "unit": self.problem.unit,
            "source": self.problem.source,
        }


def formulations() -> dict[str, Solver]:
    """All formulations that are installed, this project's first."""
    found: dict[str, Solver] = {own_element.NAME: own_element.solved}
    if find_spec("ngsolve") is not None:
        from benchmarks import displacement, hybrid_stress

        for degree in hybrid_stress.DEGREES:
            found[hybrid_stress.name(degree)] = partial(hybrid_stress.solved, degree=degree)
        found[displacement.NAME] = displacement.solved
    return found


def measured(options: Options) -> list[Measured]:
    """Solve all problems by all formulations on all meshes."""
    cells = QUICK if options.quick else CELLS + (LONG if options.long else ())
    return [
        Measured(problem, name, number, solver(problem, mesh, options.repeats))
        for problem in all_problems()
        for number, mesh in ((number, problem.mesh(number)) for number in cells)
        for name, solver in formulations().items()
    ]


def curves(found: list[Measured]) -> Iterator[tuple[Problem, dict[str, Curve]]]:
    """Curves of each problem, by formulation."""
    for name in dict.fromkeys(one.problem.name for one in found):
        here = [one for one in found if one.problem.name == name]
        by_name: dict[str, Curve] = {}
        for formulation in dict.fromkeys(one.formulation for one in here):
            some = [one for one in here if one.formulation == formulation]
            by_name[formulation] = Curve.of(
                [one.answer.unknowns for one in some],
                [one.problem.error(one.answer.deflection) for one in some],
                [one.seconds for one in some],
                some[0].problem.known,
            )
        yield here[0].problem, by_name


def at_equal_unknowns(found: list[Measured]) -> Table:
    """Errors at the same number of unknowns."""
    rows = []
    for problem, by_name in curves(found):
        row: Row = {"problem": problem.name}
        for name, curve in by_name.items():
            error = curve.error_at(AT)
            row[f"{short(name)}, error %"] = None if error is None else 100.0 * error
        rows.append({**row, "unit of the deflection": problem.unit, "source": problem.source})
    return Table(
        f"Error of the deflection at {AT} unknowns",
        rows,
        (
            "Same meshes and edges for all; unknowns are those of the linear system, after all that belongs to one "
            "element alone was condensed; in-plane ones are held and not counted. Between meshes by a straight line "
            "of logarithms; an error counts as the worst at that and all finer meshes.",
        ),
    )


def to_target(found: list[Measured]) -> Table:
    """Unknowns and times for one error."""
    rows = []
    for problem, by_name in curves(found):
        row: Row = {"problem": problem.name}
        for name, curve in by_name.items():
            unknowns = curve.unknowns_for(TARGET)
            seconds = None if unknowns is None else curve.seconds_at(unknowns)
            row[f"{short(name)}, unknowns"] = None if unknowns is None else round(unknowns)
            row[f"{short(name)}, ms"] = None if seconds is None else 1e3 * seconds
        rows.append({**row, "source": problem.source})
    return Table(
        f"Unknowns, and CPU milliseconds of assembly and solution, for an error of {100 * TARGET:g} %",
        rows,
        (
            "A dash: not reached on the meshes measured. This project's element carries stretch in its plane along, "
            "which the others leave out here; one thread each.",
        ),
    )


def goal(found: list[Measured]) -> Table:
    """Compare this project's element with the hybrid stress formulations, at equal unknowns."""
    rows: list[Row] = []
    for problem, by_name in curves(found):
        own = by_name[own_element.NAME]
        for name, other in by_name.items():
            if not problem.smooth or "hybrid" not in name:
                continue
            for unknowns in COMPARED:
                figures = [
                    c(unknowns) for c in (own.error_at, other.error_at, own.seconds_at, other.seconds_at)
                ]
                if None in figures:
                    continue
                error, theirs, seconds, spent = (float(f) for f in figures if f is not None)
                rows.append(
                    {
                        "problem": problem.name,
                        "against": name,
                        "unknowns": unknowns,
                        "error ratio": error / theirs,
                        "time ratio": seconds / spent,
                        "at least as accurate": error <= theirs,
                        "within 2 x its time": seconds <= 2.0 * spent,
                        "unit": "this project over the other",
                        "source": problem.source,
                    }
                )
    return Table("This project over hybrid stress formulations at equal unknowns", rows, printed=False)


def verdicts(rows: list[Row]) -> Table:
    """How often the goal is met, and by how much it is missed."""
    told: list[Row] = []
    for name in dict.fromkeys(str(row["against"]) for row in rows):
        here = [row for row in rows if row["against"] == name]
        errors = [float(str(row["error ratio"])) for row in here]
        times = [float(str(row["time ratio"])) for row in here]
        told.append(
            {
                "against": name,
                "comparisons": len(here),
                "at least as accurate": sum(e <= 1.0 for e in errors),
                "median error ratio": sorted(errors)[len(errors) // 2],
                "worst error ratio": max(errors),
                "within 2 x its time": sum(t <= 2.0 for t in times),
                "median time ratio": sorted(times)[len(times) // 2],
                "worst time ratio": max(times),
                "unit": "this project over the other",
                "source": "measured in this run",
            }
        )
    return Table(
        "Smooth squares and panels: this project over hybrid stress formulations at equal unknowns",
        told,
        (
            f"At {', '.join(map(str, COMPARED))} unknowns. The goal is to be as accurate as deflections of degree 2 "
            "within twice the time; those of higher degree are beside it to say what they are better at.",
        ),
    )


def short(name: str) -> str:
    """Name of a formulation in the heads of columns."""
    if name == own_element.NAME:
        return OWN
    return (
        name.replace("ngsolve, ", "").replace(" w of degree ", " p=").replace(", shear at three points", "")
    )


def measure(options: Options) -> list[Table]:
    """All tables."""
    found = measured(options)
    everything = Table("Every solution", [one.row() for one in found], printed=False)
    tables = [at_equal_unknowns(found), to_target(found)]
    against = goal(found)
    if against.rows:
        tables += [verdicts(against.rows), against]
    return [*tables, everything]
