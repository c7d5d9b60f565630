"""Stiffened panels, with the library's full model of ribs, against stored three-dimensional solids.

The solids are those of ``tests/verify/solid_reference.json``: displacements of degree 4 on hexahedra, computed with
ngsolve; how fine a solid has to be for the same error is read from the coarser runs stored beside them.
"""

from __future__ import annotations

import json
import sys
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.clock import best_of
from benchmarks.section import Options, Row, Table

FOLDER = Path(__file__).resolve().parents[1] / "tests" / "verify"
CASES = (
    "plain plywood panel",
    "zone-clamped panel without rib",
    "cross tube",
    "cross angle",
    "two fore-aft tubes",
)
SIZE, LINE = 0.05, 0.0127
"""Elements in m: as a design gets them, and half a foot along ribs."""


def largest_error(found: dict[str, float], exact: dict[str, float]) -> float:
    """Largest error at the points of a case over its largest sag."""
    largest = max(abs(w) for w in exact.values())
    return max(abs(found[name] - w) for name, w in exact.items()) / largest


def solid_as_good(case: dict[str, Any], exact: dict[str, float], error: float) -> int | None:
    """Least unknowns of the stored solids whose error is no larger."""
    good = [run["unknowns"] for run in case["runs"][:-1] if largest_error(run["w"], exact) <= error]
    return min(good, default=None)


def measure(options: Options) -> list[Table]:
    """Return one table."""
    if str(FOLDER) not in sys.path:
        sys.path.append(str(FOLDER))
    import plates  # type: ignore[import-not-found]
    import solid_cases  # type: ignore[import-not-found]

    stored = json.loads((FOLDER / "solid_reference.json").read_text(encoding="utf-8"))["cases"]
    rows: list[Row] = []
    for name in CASES[:2] if options.quick else CASES:
        exact = {key: float(point["w"]) for key, point in stored[name]["points"].items()}
        case = solid_cases.CASES[name]
        spent, solved = best_of(1 if options.quick else 2, partial(plates.solved, case, SIZE, LINE))
        sags = solved.sags()
        error = largest_error(sags, exact)
        rows.append(
            {
                "panel": name,
                "points": len(exact),
                "unknowns": int(solved.structure.free.size),
                "largest error, % of the worst sag": 100.0 * error,
                "mean error, %": 100.0 * _mean_error(sags, exact),
                "CPU s with meshing": spent.cpu,
                "solid as good, unknowns": solid_as_good(stored[name], exact, error),
                "unit": "m",
                "source": "three-dimensional solid, ngsolve, stored in tests/verify",
            }
        )
    note = (
        "Sag at up to ten points of each panel. The last column: least unknowns of a stored solid at which it is as "
        "near to the finest one."
    )
    return [Table("Stiffened panels against three-dimensional solids", rows, (note,))]


def _mean_error(found: dict[str, float], exact: dict[str, float]) -> float:
    largest = max(abs(w) for w in exact.values())
    return float(np.mean([abs(found[name] - w) for name, w in exact.items()])) / largest
