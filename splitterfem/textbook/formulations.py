"""Accuracy of this library's element beside other formulations, from the results of the benchmarks.

The benchmarks of the repository solve the same plates on the same meshes with other formulations of plates, written
with a general-purpose library; here their results are read, and drawn.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from splitterfem.errors import DesignError, FileError, nearest
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate
from splitterfem.textbook import plates

OWN = "this library"
PROBLEM = "square, clamped, t/L = 0.01"
"""What is computed where there are no results: it has a solution without singular places."""

TITLE = "Every solution"
COLUMNS = ("problem", "formulation", "unknowns", "error_percent", "cpu_ms", "source")


def formulations(results: str | os.PathLike[str] | None = None, *, problem: str = PROBLEM) -> pd.DataFrame:
    """Errors of a plate's deflection against unknowns and time.

    Parameters
    ----------
    results : path, optional
        Of ``results.json`` as ``python benchmarks/run.py accuracy`` writes it.  When left out, the element of this
        library is computed on a few meshes, with nothing beside it and without times.
    problem : str
        One of those in the results.

    Returns
    -------
    pandas.DataFrame
        ``problem``, ``formulation``, ``unknowns``, ``error_percent``, ``cpu_ms`` (assembly and solution) and
        ``source`` of the exact value.

    Raises
    ------
    FileError
        If the file cannot be read, or holds no accuracy of plates.
    DesignError
        If there is no such problem.
    """
    if results is None:
        if problem != PROBLEM:
            raise DesignError(
                f"Without results only '{PROBLEM}' is computed; give the file of the benchmarks."
            )
        return computed()
    rows = _stored(Path(results))
    known = list(dict.fromkeys(str(row["problem"]) for row in rows))
    if problem not in known:
        raise DesignError(f"The benchmarks have no plate '{problem}'; {nearest(problem, known)}")
    return pd.DataFrame([_row(row) for row in rows if row["problem"] == problem], columns=list(COLUMNS))


def computed(cells: Sequence[int] = (2, 4, 6, 8, 12)) -> pd.DataFrame:
    """Compute errors of this library's element for the clamped square of a hundredth of its side."""
    exact = next(value for edge, t, value, _ in plates.SQUARES if (edge, t) == ("clamped", 0.01))
    rows = []
    for number in cells:
        plate = Plate(*rectangle_mesh(1.0, 1.0, number, number), Homogeneous(0.01), edge="clamped")
        w = float(plate.deflection(plate.solve_pressure(1.0), plates.CENTRE)[0])
        error = 100.0 * (w * plates.bending_stiffness(0.01) / exact - 1.0)
        rows.append((PROBLEM, OWN, plate.unknowns, error, np.nan, "converged spectral elements"))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _stored(path: Path) -> list[dict[str, Any]]:
    try:
        tables = json.loads(path.read_text(encoding="utf-8"))["sections"]["accuracy"]["tables"]
        return list(next(table["rows"] for table in tables if table["title"] == TITLE))
    except (OSError, ValueError, KeyError, TypeError, StopIteration) as problem:
        raise FileError(
            f"{path.name} holds no accuracy of plates ({type(problem).__name__}); write it anew with "
            "python benchmarks/run.py accuracy."
        ) from None


def _row(row: dict[str, Any]) -> tuple[Any, ...]:
    name = str(row["formulation"])
    seconds = float(row["assembly_cpu_s"]) + float(row["solve_cpu_s"])
    return (
        row["problem"],
        OWN if name.startswith("this project") else name,
        int(row["unknowns"]),
        float(row["error_percent"]),
        1e3 * seconds,
        row["source"],
    )
