"""Where the time and the memory of the main job go, from some thousand unknowns to a million.

Each size runs in a process of its own, which measures its largest memory; ``python -m benchmarks.breakdown "60 mm"``
is one of them.  The bare factorisation is that of the same matrix, by the same library, alone in another process.
"""

from __future__ import annotations

import json
import os
import resource
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
from splitterfem.fem import factor, ties
from splitterfem.model import Model, build

SIZES = (("250 mm", False), ("150 mm", True), ("24 mm", True), ("10.5 mm", True))
"""Mesh size, and with ribs or without: their feet do not let the demonstration's mesh be coarser."""

LARGEST = (("5.5 mm", True),)
"""A million unknowns: some minutes."""

STEPS = ("mesh", "assembly", "factorisation", "solve", "recovery", "plot")


def table(*, long: bool = False) -> list[dict[str, object]]:
    """Return one row for each size, and one with the growth of each step: the exponent of the unknowns.

    Parameters
    ----------
    long : bool
        Whether a million unknowns are among them.
    """
    rows = [_row(size, ribs) for size, ribs in (*SIZES, *(LARGEST if long else ()))]
    with_ribs = [row for row, (_, ribs) in zip(rows, (*SIZES, *LARGEST), strict=False) if ribs]
    growth: dict[str, object] = {"job": "growth exponent"}
    for name in (f"{step}, s" for step in STEPS):
        growth[name] = round(_exponent(with_ribs, name), 2)
    growth["unit"] = "power of the unknowns, least squares over the rows with ribs"
    return [*rows, growth]


def _exponent(rows: list[dict[str, object]], name: str) -> float:
    x = np.log([float(str(row["unknowns"])) for row in rows])
    y = np.log([max(float(str(row[name])), 1e-6) for row in rows])
    return float(np.polyfit(x, y, 1)[0])


def _row(size: str, ribs: bool) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        matrix = Path(folder) / "matrix.npz"
        job = _child("job", size, "ribs" if ribs else "bare panel", str(matrix))
        bare = _child("factor", str(matrix))
    whole = sum(job[step] for step in ("assembly", "factorisation", "solve"))
    row: dict[str, object] = {"job": f"demonstration{'' if ribs else ' without ribs'}, mesh {size}"}
    row["unknowns"] = int(job["unknowns"])
    row |= {f"{step}, s": round(job[step], 4) for step in STEPS}
    row["bare factorisation, s"] = round(bare["seconds"], 4)
    row["total without mesh over bare factorisation"] = round(whole / bare["seconds"], 2)
    row["assembly's share of the total, %"] = round(100 * job["assembly"] / whole, 1)
    row["peak memory, MB"] = round(job["memory"])
    row["peak memory over that of the factorisation"] = round(job["memory"] / bare["memory"], 2)
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
        env={**os.environ, "PYTHONPATH": paths},
        check=False,
    )
    if run.returncode:
        raise RuntimeError(f"{' '.join(command[2:])} failed: {run.stderr.strip().splitlines()[-1]}")
    found: dict[str, float] = json.loads(run.stdout.splitlines()[-1])
    return found


def memory() -> float:
    """Largest memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def job(size: str, parts: str, keep: str) -> dict[str, float]:
    """Do the main job, and keep the matrix that is factorised for the bare run."""
    design = sf.demo().with_(mesh=sf.MeshSettings(size=size, pad_size="100 mm", chord="1.5 mm"))
    if parts != "ribs":
        design = design.with_(ribs=())
    _warm()
    before = memory()
    seen: list[tuple[float, sp.csc_array]] = []
    module: Any = ties
    plain: Callable[..., Any] = module.factorise

    def factorised(matrix: sp.csc_array) -> factor.Factor:
        started = time.perf_counter()
        made: factor.Factor = plain(matrix)
        seen.append((time.perf_counter() - started, matrix))
        return made

    module.factorise = factorised
    start = time.perf_counter()
    model = build(design)
    built = time.perf_counter() - start
    module.factorise = plain
    peak, (spent, matrix) = memory() - before, seen.pop()
    found = _used(model) | {"factorisation": spent, "unknowns": model.unknowns, "memory": peak}
    found["mesh"] = _again(lambda: build_mesh(design))
    found["assembly"] = max(built - found["mesh"] - spent, 0.0)
    sp.save_npz(keep, sp.csc_matrix(matrix), compressed=False)
    return found


def build_mesh(design: sf.Splitter) -> object:
    """Mesh a design as `build` does."""
    from splitterfem.model.meshsize import mesh_design

    return mesh_design(design)


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


def bare(kept: str) -> dict[str, float]:
    """Factorise a matrix that was kept, alone."""
    factor.factorise(sp.csc_array(sp.diags_array(np.ones(4000))))
    before = memory()
    matrix = sp.csc_array(sp.load_npz(kept))
    start = time.perf_counter()
    made = factor.factorise(matrix)
    spent = time.perf_counter() - start
    made.solve(np.ones(matrix.shape[0]))
    return {"seconds": spent, "memory": max(memory() - before, 1.0)}


if __name__ == "__main__":
    kind, *arguments = sys.argv[1:]
    print(json.dumps(job(*arguments) if kind == "job" else bare(*arguments)))
