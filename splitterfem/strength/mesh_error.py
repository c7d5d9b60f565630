"""How far the mesh may have put sag and stress off: the same load case on a coarser mesh, and the difference."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from splitterfem.analysis import Solution, solve
from splitterfem.strength.assess import utilisation_of

PANEL = "panel"


COARSE_ENOUGH = 0.85
"""Share of the unknowns up to which another mesh counts as coarser: where shapes and feet do not let it, a finer one is
taken."""

RESIDUE = 2.0
"""Error of a mesh over its difference from one 1.5 times as fine, with errors that halve between the two."""


@dataclass(frozen=True)
class MeshDifference:
    """Errors of a solution by its mesh, estimated from another mesh: the solution less what no mesh would put off.

    With errors that fall with the power 1.7 of the triangles' size, the error of the solution is as large as the
    difference from a mesh 1.5 times as coarse; with ribs and pads the power comes out between 1 and 2.  Without ribs
    the errors are some tenths of a percent and of either sign.  So it is an estimate, good to a factor of two or half
    a percent, and no bound.

    Attributes
    ----------
    sag : float
        Error of the sag at the place where it is largest, m.
    sag_share : float
        The same over the largest sag.
    stress_share : float or None
        Error of the panel's largest utilisation, in the mode that governs it, over that utilisation; None where
        nothing of the panel can be judged.
    unknowns : int
        Of the other mesh.
    """

    sag: float
    sag_share: float
    stress_share: float | None
    unknowns: int


def mesh_error(solution: Solution) -> MeshDifference:
    """Solve a load case on a mesh 1.5 times as coarse and compare.

    The coarser model is kept with the model, so that further load cases cost no more than their solution.

    Parameters
    ----------
    solution : Solution

    Raises
    ------
    SplitterError
        If the other mesh cannot be made, or has no solution.
    """
    base = solution.model if solution.model.base is None else solution.model.base
    other, factor = base.coarser, 1.0
    if other.unknowns > COARSE_ENOUGH * base.unknowns:
        other, factor = base.finer, -RESIDUE
    found = solve(other, solution.case)
    there = float(found.sag_at(*solution.max_sag_at))
    # The very tip of a corner may lie a rounding error beyond the other mesh.
    change = factor * ((there if math.isfinite(there) else found.max_sag) - solution.max_sag)
    stress = _stress_share(utilisation_of(solution), utilisation_of(found))
    return MeshDifference(
        sag=change,
        sag_share=change / solution.max_sag if solution.max_sag else 0.0,
        stress_share=None if stress is None else factor * stress,
        unknowns=other.unknowns,
    )


def _stress_share(fine: pd.DataFrame, coarse: pd.DataFrame) -> float | None:
    rows = fine[(fine["part"] == PANEL) & fine["ratio"].notna()]
    if not len(rows) or not rows.iloc[0]["ratio"]:
        return None
    worst = rows.iloc[0]
    same = coarse[(coarse["part"] == PANEL) & (coarse["mode"] == worst["mode"])]["ratio"]
    return None if same.empty else float(same.iloc[0] / worst["ratio"] - 1.0)
