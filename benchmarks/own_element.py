"""The element of this project on the plates of the comparison."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from benchmarks.clock import Spent, best_of
from benchmarks.problems import Array, Mesh, Problem
from splitterfem.fem.factor import factorise
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.textbook import Plate
from splitterfem.fem.ties import submatrix
from splitterfem.textbook.plates import corners
from splitterfem.threads import one_blas_thread

NAME = "this project, w and rotations of degree 2, shear interpolated"


@dataclass(frozen=True)
class Answer:
    """One solution.

    Attributes
    ----------
    unknowns : int
        Of the linear system, after everything that belongs to one element alone was condensed.
    deflection : float
        In m.
    assembly, solve : Spent
    """

    unknowns: int
    deflection: float
    assembly: Spent
    solve: Spent


def pressure(problem: Problem, x: Array, y: Array) -> Array:
    """Pressure of a problem in Pa at places."""
    return np.sin(np.pi * x) * np.sin(np.pi * y) if problem.wave else np.ones_like(x)


def solved(problem: Problem, mesh: Mesh, repeats: int) -> Answer:
    """Solve a problem on a mesh.

    The deflection is that of a plate with its textbook edges.  Times are those of the steps that make it: numbering,
    element matrices with bending, shear and stretch, their condensation and assembly, the load; then factorising and
    solving.  Turning the unknowns of slanted edges into their directions is not among them.
    """
    pinned = corners(mesh[0]) if problem.on_corners else np.zeros(0, dtype=np.int64)
    plate = Plate(*mesh, problem.stiffness, edge=problem.edge, pinned=pinned)  # type: ignore[arg-type]
    found = plate.solve_pressure(lambda x, y: pressure(problem, x, y))
    deflection = float(plate.deflection(found, np.array(problem.at)[:, None])[0])

    def assembled() -> tuple[sp.csc_array, Array]:
        panel = Panel(PanelSpace(*mesh), generalised_stiffness(problem.stiffness))
        load = pressure_load(panel, lambda x, y: pressure(problem, x, y))
        matrix = panel.matrix
        return submatrix(matrix, plate.free), load[plate.free]

    with one_blas_thread():
        assembly, (_, load) = best_of(repeats, assembled)
        solve, _ = best_of(repeats, lambda: factorise(plate.matrix).solve(load))
    return Answer(plate.unknowns, deflection, assembly, solve)
