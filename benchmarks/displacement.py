"""Reissner-Mindlin plates by plain displacements: deflection and rotations of degree 2, shear at three points.

The textbook remedy for locking (Hughes, The Finite Element Method, 1987, ch. 5: selective reduced integration), written
with ngsolve so that its assembly is compiled.  Needs the extra ``verify``.
"""

from __future__ import annotations

from typing import Any

import ngsolve as ng

from benchmarks.hybrid_stress import measured
from benchmarks.ngsolve_mesh import matrix_function, ngsolve_mesh
from benchmarks.own_element import Answer
from benchmarks.problems import Array, Mesh, Problem

NAME = "ngsolve, displacements P2/P2, shear at three points"
HARD = 1e6
"""Stiffness over D / h with which hard supports hold the rotation along an edge."""


def plate_energy(trial: tuple[Any, Any], test: tuple[Any, Any], D: Array, S: Array) -> Any:
    """Bilinear form of bending and shear."""
    (w, phi), (v, psi) = trial, test

    def curvature(rotation: Any) -> Any:
        slope = ng.Grad(rotation)
        return ng.CoefficientFunction((slope[0, 0], slope[1, 1], slope[0, 1] + slope[1, 0]))

    bending = (matrix_function(D) * curvature(phi)) * curvature(psi)
    shear = (matrix_function(S) * (ng.grad(w) - phi)) * (ng.grad(v) - psi)
    three = {ng.ET.TRIG: ng.IntegrationRule(ng.ET.TRIG, 2)}
    return bending * ng.dx + shear * ng.dx(intrules=three)


def solved(problem: Problem, mesh: Mesh, repeats: int) -> Answer:
    """Solve a problem on a mesh; times are those of spaces and assembly, and of factorising and solving."""
    grid = ngsolve_mesh(mesh)
    D, S = problem.stiffness.D, problem.stiffness.S

    def described() -> tuple[ng.FESpace, ng.FESpace, ng.BilinearForm]:
        deflections = ng.H1(grid, order=2, dirichlet="edge" if problem.edge != "free" else "")
        rotations = ng.VectorH1(grid, order=2, dirichlet="edge" if problem.edge == "clamped" else "")
        space = deflections * rotations
        trial, test = space.TnT()
        form = ng.BilinearForm(space, condense=True, symmetric=True)
        form += plate_energy(trial, test, D, S)
        if problem.edge == "hard":
            t = ng.specialcf.tangential(2)
            stiff = HARD * float(D[0, 0]) / ng.specialcf.mesh_size
            form += stiff * (trial[1] * t) * (test[1] * t) * ng.ds
        return deflections, space, form

    return measured(problem, mesh, grid, described, repeats)
