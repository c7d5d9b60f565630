"""Moves, contact, nonlinear load cases and screening, from the scripts that measure each; and steps of the main job."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import scipy.sparse as sp

import splitterfem as sf
from benchmarks import contact as contact_script
from benchmarks import nonlinear as nonlinear_script
from benchmarks import screening as screening_script
from benchmarks.clock import best_of
from benchmarks.machine import all_cores, cores
from benchmarks.section import Options, Row, Table
from splitterfem.fem import pardiso
from splitterfem.fem.factor import factorise
from splitterfem.fem.ties import submatrix

SOURCE = "measured in this run"
MOVE = re.compile(
    r"moving (?P<what>.+): (?P<ms>\d+) ms, (?P<anew>[\d.]+) of .*, (?P<bare>[\d.]+)\s+factorisations"
)


def moves(options: Options) -> list[Table]:
    """Move parts on the mesh that there is; times over building anew and over a bare factorisation."""
    title = "Moving a part on the mesh that there is"
    found = [_moves(title, "--without-extra")]
    return [*found, _moves(f"{title}, with the extra fast")] if pardiso.available() else found


def _moves(title: str, *options: str) -> Table:
    script = Path(__file__).with_name("moves.py")
    command = [sys.executable, str(script), *options]
    said = subprocess.run(command, capture_output=True, text=True, check=True, env=all_cores()).stdout
    rows: list[Row] = [
        {
            "what": f"moving {found['what']}",
            "ms": float(found["ms"]),
            "over building and solving anew": float(found["anew"]),
            "over a bare factorisation": float(found["bare"]),
            "unit": "wall clock, best of many",
            "source": SOURCE,
        }
        for found in MOVE.finditer(said)
    ]
    if not rows:
        raise RuntimeError(f"benchmarks/moves.py said nothing that could be read: {said[:200]!r}")
    return Table(title, rows, (f"{said.splitlines()[0]}, on {cores()} cores.",))


def contact(options: Options) -> list[Table]:
    """Contact over a linear solution, for one ride height after the other."""
    rows: list[Row] = [
        {**row, "unit": "mm, kN, and wall time over that of a linear solution", "source": SOURCE}
        for row in contact_script.ratios(1 if options.quick else 3)
    ]
    return [Table("Contact with pockets and ground, over a linear solution", rows)]


def nonlinear(options: Options) -> list[Table]:
    """Sag feedback and large deflection over a linear solve."""
    found = nonlinear_script.ratios(1 if options.quick else 2)
    rows: list[Row] = [
        {"case": name, **row, "unit": "s, and ratio", "source": SOURCE} for name, row in found.items()
    ]
    return [Table("Nonlinear load cases over a linear solve", rows)]


def screening(options: Options) -> list[Table]:
    """Screened layouts against full solves on the same mesh."""
    sizes = (20, 30) if options.quick else (80, 500 if options.long else 150)
    found = screening_script.measured(*sizes)
    rows: list[Row] = [
        {"what": name, "value": value, "unit": _unit(name), "source": SOURCE} for name, value in found.items()
    ]
    return [Table("Screening: accuracy against full solves, and speed", rows)]


def _unit(name: str) -> str:
    """Return the unit of a figure of the screening, which its name tells."""
    if "per second" in name or "processes" in name:
        return "1/s"
    if "%" in name:
        return "%"
    return "s" if name.endswith(", s") else "count, or ratio"


def steps(options: Options) -> list[Table]:
    """Time the steps of the main job, over a bare factorisation of its matrix, and the time of the import."""
    model = sf.build(sf.demo())
    structure, case = model.structure, model.design.cases[0].name
    free = submatrix(structure.matrix, structure.free)
    # The panel's matrix alone lets it float: a small diagonal makes it definite without changing its pattern.
    definite = sp.csc_array(free + 1e-6 * sp.diags_array(free.diagonal()))
    bare, _ = best_of(options.repeats, lambda: factorise(definite))
    second, _ = best_of(options.repeats, lambda: sf.solve(model, case))
    seconds = {**model.seconds, "second load case": second.wall}
    rows: list[Row] = [
        {"step": name, "s": spent, "over a bare factorisation": spent / bare.wall}
        for name, spent in seconds.items()
    ]
    rows.append({"step": "import splitterfem", "s": import_time(), "over a bare factorisation": None})
    note = f"Demonstration, {model.unknowns} unknowns; bare factorisation {1e3 * bare.wall:.0f} ms."
    return [
        Table("Steps of the main job", [{**r, "unit": "s, wall", "source": SOURCE} for r in rows], (note,))
    ]


def import_time() -> float:
    """Time of ``import splitterfem`` in a process of its own, in s."""
    code = "import time; t = time.perf_counter(); import splitterfem; print(time.perf_counter() - t)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    return float(said)


def breakdown(options: Options) -> list[Table]:
    """Mesh, assembly, factorisation, solution and recovery against the unknowns."""
    if find_spec("benchmarks.breakdown") is None:
        return [Table("Where the time goes", [], ("benchmarks/breakdown.py is not there.",))]
    rows = import_module("benchmarks.breakdown").table(long=options.long)
    note = (
        f"On {cores()} cores; a factorisation by SuperLU uses one, several right-hand sides at once use all."
    )
    title = "Where the time goes, against the unknowns"
    return [Table(title, [{**row, "source": SOURCE} for row in rows], (note,))]
