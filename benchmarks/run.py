"""Accuracy on textbook plates and the cost of each step of the demonstration, as ratios of one run.

Run ``python benchmarks/run.py``; with ``--json FILE`` the table is saved as well.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scipy.sparse as sp

import splitterfem as sf
from splitterfem.fem.factor import factorise
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate

CENTRE = np.array([[0.5], [0.5]])
SQUARES = (("clamped", 1e-4, 0.00126532), ("clamped", 0.1, 0.00150463), ("hard", 1e-3, 0.00406237))
"""Edge, thickness over side, and centre deflection in q a^4/D (Timoshenko & Woinowsky-Krieger, recomputed digits)."""


def accuracy() -> list[dict[str, float | str]]:
    """Error of the centre deflection of squares under uniform load against unknowns."""
    rows: list[dict[str, float | str]] = []
    for edge, t, exact in SQUARES:
        for n in (4, 8, 16, 32):
            sheet = Homogeneous(t)
            plate = Plate(*rectangle_mesh(1.0, 1.0, n, n), sheet, edge=edge)
            w = plate.deflection(plate.solve_pressure(1.0), CENTRE)[0] * sheet.D[0, 0]
            rows.append(
                {"edge": edge, "t/a": t, "unknowns": plate.unknowns, "error_percent": 100 * (w / exact - 1)}
            )
    return rows


def best_of(count: int, action: Callable[[], object]) -> float:
    """Least time of a few calls in s."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def speed() -> dict[str, float]:
    """Time of each step of the demonstration over that of the bare factorisation of the same matrix."""
    splitter = sf.demo()
    model = sf.build(splitter)
    structure = model.structure
    free = structure.matrix[structure.free][:, structure.free]
    # The panel's matrix alone lets it float: a small diagonal makes it definite without changing its pattern.
    definite = sp.csc_array(free + 1e-6 * sp.diags_array(free.diagonal()))
    bare = best_of(3, lambda: factorise(definite))
    rows = {f"{name} / factorisation": seconds / bare for name, seconds in model.seconds.items()}
    case = splitter.cases[0].name
    rows["second load case / factorisation"] = best_of(3, lambda: sf.solve(model, case)) / bare
    rows["unknowns"] = float(model.unknowns)
    rows["factorisation_s"] = bare
    return rows


def import_time() -> float:
    """Time of ``import splitterfem`` in a process of its own, in s."""
    code = "import time; t = time.perf_counter(); import splitterfem; print(time.perf_counter() - t)"
    return float(
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    )


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    squares, steps, loading = accuracy(), speed(), import_time()
    print(f"{'edge':8} {'t/a':>7} {'unknowns':>9} {'error %':>9}")
    for row in squares:
        print(f"{row['edge']:8} {row['t/a']:7g} {row['unknowns']:9d} {row['error_percent']:9.4f}")
    print()
    for name, value in steps.items():
        print(f"{name:36} {value:10.3f}")
    print(f"{'import splitterfem, s':36} {loading:10.3f}")
    if options.json:
        options.json.write_text(
            json.dumps({"squares": squares, "steps": steps, "import_s": loading}, indent=1)
        )


if __name__ == "__main__":
    main()
