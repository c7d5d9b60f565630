"""Where the time and the memory of the main job go, from some thousand unknowns to a million.

Each size runs in a process of its own, which measures its largest memory. The bare factorisation is that of the same
matrix, by the same library, alone in another process.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse as sp

import splitterfem as sf
from benchmarks.machine import all_cores
from splitterfem.fem import factor, ties
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import resultants
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.model import Model, build

JOBS = {
    "clamped square": (("12",), ("23",), ("45",), ("87",)),
    "demonstration": (("250 mm", "bare"), ("150 mm", "ribs"), ("24 mm", "ribs"), ("10.5 mm", "ribs")),
}
"""Divisions of a side of a square plate of 12 mm plywood, all edges built in; mesh size of the demonstration, with ribs
or without, whose feet do not let its mesh be coarser."""

LARGEST = {"clamped square": ("158",), "demonstration": ("5.5 mm", "ribs")}
"""A million unknowns: some minutes."""

STEPS = ("mesh", "assembly", "factorisation", "solve", "recovery", "plot")


def table(*, long: bool = False) -> list[dict[str, object]]:
    """Return one row for each size, and one for each job with the growth of each step: the exponent of the unknowns.

    Parameters
    ----------
    long : bool
        Whether a million unknowns are among them.
    """
    rows: list[dict[str, object]] = []
    for name, sizes in JOBS.items():
        own = [_row(name, *size) for size in (*sizes, *([LARGEST[name]] if long else []))]
        rows += [*own, _growth(name, [row for row in own if "without ribs" not in str(row["job"])])]
    return rows


def _growth(name: str, rows: list[dict[str, object]]) -> dict[str, object]:
    """Exponents of the unknowns, by least squares over the rows."""
    found: dict[str, object] = {"job": f"{name}: growth"}
    x = np.log([float(str(row["unknowns"])) for row in rows])
    for step in (f"{step}, s" for step in STEPS):
        times = [float(str(row[step])) for row in rows if row[step] is not None]
        if times and min(times) > 0.0:
            found[step] = round(float(np.polyfit(x, np.log(times), 1)[0]), 2)
    found["unit"] = "power of the unknowns"
    return found


def _row(name: str, size: str, parts: str = "") -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        matrix = Path(folder) / "matrix.npz"
        kind = "plate" if name == "clamped square" else "job"
        found = _child(kind, size, *([parts] if parts else []), str(matrix))
        bare = _child("factor", str(matrix), kind)
    whole = sum(found[step] for step in ("assembly", "factorisation", "solve"))
    bits = {
        "bare": f" without ribs, mesh {size}",
        "ribs": f", mesh {size}",
        "": f", {size} x {size} x 4 triangles",
    }
    row: dict[str, object] = {"job": name + bits[parts], "unknowns": int(found["unknowns"])}
    row |= {f"{step}, s": round(found[step], 4) if step in found else None for step in STEPS}
    row["bare factorisation, s"] = round(bare["seconds"], 4)
    row["total without mesh over bare factorisation"] = round(whole / bare["seconds"], 2)
    row["assembly's share of the total, %"] = round(100 * found["assembly"] / whole, 1)
    row["peak memory, MB"] = round(found["memory"])
    row["peak memory over that of the factorisation"] = round(found["memory"] / bare["memory"], 2)
    row["unit"] = "s, wall clock"
    return row


def _child(*arguments: str) -> dict[str, float]:
    command = [sys.executable, "-m", "benchmarks.breakdown", *arguments]
    root = Path(__file__).parents[1]
    paths = os.pathsep.join(filter(None, (str(root), os.environ.get("PYTHONPATH"))))
    run = subprocess.run(
        command,
        capture_output=True,
        text=True,
        cwd=root,
        env={**all_cores(), "PYTHONPATH": paths},
        check=False,
    )
    if run.returncode:
        raise RuntimeError(f"{' '.join(command[2:])} failed: {run.stderr.strip().splitlines()[-1]}")
    found: dict[str, float] = json.loads(run.stdout.splitlines()[-1])
    return found


def memory(*, afresh: bool = False) -> float:
    """Largest memory of this process so far, or from now on, MB; what its parent held does not count."""
    if afresh:
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    words = Path("/proc/self/status").read_text(encoding="ascii").split()
    return float(words[words.index("VmHWM:") + 1]) / 1024


def job(size: str, parts: str, keep: str) -> dict[str, float]:
    """Do the main job, and keep the matrix that is factorised for the bare run."""
    design = sf.demo().with_(mesh=sf.MeshSettings(size=size, pad_size="100 mm", chord="1.5 mm"))
    if parts != "ribs":
        design = design.with_(ribs=())
    _warm()
    before = memory(afresh=True)
    seen: list[tuple[float, float]] = []
    module: Any = ties
    plain: Callable[..., Any] = module.factorise

    def factorised(matrix: sp.csc_array) -> factor.Factor:
        # written at once: to hold it until the end would count as memory of the job
        writing = _again(lambda: sp.save_npz(keep, sp.csc_matrix(matrix), compressed=False))
        started = time.perf_counter()
        made: factor.Factor = plain(matrix)
        seen.append((time.perf_counter() - started, writing))
        return made

    module.factorise = factorised
    start = time.perf_counter()
    model = build(design)
    built = time.perf_counter() - start
    module.factorise = plain
    peak, (spent, writing) = memory() - before, seen.pop()
    found = _used(model) | {"factorisation": spent, "unknowns": model.unknowns, "memory": peak}
    found["mesh"] = _again(lambda: build_mesh(design))
    found["assembly"] = max(built - found["mesh"] - spent - writing, 0.0)
    return found


def plate(divisions: str, keep: str) -> dict[str, float]:
    """Solve a square plate of plywood with built-in edges under a pressure, and keep the matrix."""
    _plate(4)
    before = memory(afresh=True)
    found, matrix = _plate(int(divisions))
    peak = memory() - before
    for _ in range(_more(matrix.shape[0])):
        again, _ = _plate(int(divisions))
        found = {step: min(spent, again[step]) for step, spent in found.items()}
    found["memory"] = peak
    sp.save_npz(keep, sp.csc_matrix(matrix), compressed=False)
    return found


def _plate(divisions: int) -> tuple[dict[str, float], sp.csc_array]:
    found, start = {}, time.perf_counter()

    def lap(step: str) -> None:
        nonlocal start
        found[step] = time.perf_counter() - start
        start = time.perf_counter()

    mesh = rectangle_mesh(1.0, 1.0, divisions, divisions)
    lap("mesh")
    panel = Panel(PanelSpace(*mesh), generalised_stiffness(Homogeneous(0.012, E1=10e9, nu12=0.3)))
    space = panel.space
    free = np.setdiff1d(np.arange(space.n_dofs), space.dofs_of(space.boundary_nodes(), COMPONENTS))
    whole = panel.matrix
    matrix = ties.submatrix(whole, free)
    lap("assembly")
    made = factor.factorise(matrix)
    lap("factorisation")
    x = np.zeros(space.n_dofs)
    x[free] = made.solve(pressure_load(panel, lambda x, y: np.full_like(x, 1e3))[free])
    lap("solve")
    every = np.arange(space.n_elements, dtype=np.int64)
    resultants(panel, x, every, space.centroids.T)
    lap("recovery")
    return found | {"unknowns": len(free)}, matrix


def build_mesh(design: sf.Splitter) -> object:
    """Mesh a design as `build` does."""
    from splitterfem.model.meshsize import mesh_design

    return mesh_design(design)


def _more(unknowns: int) -> int:
    """Count how often a small plate is done again: of so short a time much is the machine's at the first go."""
    return 3 if unknowns < 100_000 else 0


def _again(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _warm() -> None:
    """Load what is loaded at the first use, so that no step pays for it."""
    model = build(
        sf.demo().with_(mesh=sf.MeshSettings(size="400 mm", pad_size="200 mm", chord="5 mm"), ribs=())
    )
    _used(model)


def _used(model: Model) -> dict[str, float]:
    """Seconds of solving a load case, of its utilisations, and of the picture of its sag."""
    case = model.design.cases[0].name
    found: dict[str, float] = {}
    start = time.perf_counter()
    solution = sf.solve(model, case)
    found["solve"] = time.perf_counter() - start
    start = time.perf_counter()
    _ = solution.utilisation
    found["recovery"] = time.perf_counter() - start
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        figure: Any = solution.plot_sag().get_figure()
        figure.savefig(Path(folder) / "sag.png")
    found["plot"] = time.perf_counter() - start
    return found


def bare(kept: str, kind: str) -> dict[str, float]:
    """Factorise a matrix that was kept, alone, as often as the job that it is of."""
    factor.factorise(sp.csc_array(sp.diags_array(np.ones(4000))))
    before = memory(afresh=True)
    matrix = sp.csc_array(sp.load_npz(kept))
    start = time.perf_counter()
    made = factor.factorise(matrix)
    spent = time.perf_counter() - start
    made.solve(np.ones(matrix.shape[0]))
    peak = max(memory() - before, 1.0)
    del made
    repeats = _more(matrix.shape[0]) if kind == "plate" else 0
    again = [_again(lambda: factor.factorise(matrix)) for _ in range(repeats)]
    return {"seconds": min([spent, *again]), "memory": peak}


CHILDREN: dict[str, Callable[..., dict[str, float]]] = {"job": job, "plate": plate, "factor": bare}

if __name__ == "__main__":
    kind, *arguments = sys.argv[1:]
    print(json.dumps(CHILDREN[kind](*arguments)))
