"""Reissner-Mindlin plates by the hybrid stress formulation of Pechstein & Schoeberl, written with ngsolve.

Pechstein & Schoeberl, The TDNNS method for Reissner-Mindlin plates, Numer. Math. 137 (2017) 713-740: deflections are
continuous, of rotations the component along edges is, of moments the one normal to edges; moments are made
discontinuous, with the normal rotation of edges as the multiplier that ties them, so that they can be condensed out
element by element.  With deflections of degree p, rotations and moments have degree p - 1.  Needs the extra ``verify``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ngsolve as ng
import numpy as np

from benchmarks.clock import best_of
from benchmarks.ngsolve_mesh import condensed_solve, matrix_function, ngsolve_mesh, without_vertices
from benchmarks.own_element import Answer
from benchmarks.problems import Array, Mesh, Problem
from splitterfem.textbook.plates import corners
from splitterfem.threads import one_blas_thread

DEGREES = (1, 2, 3, 4)


def name(degree: int) -> str:
    """Name of the formulation in tables."""
    return f"ngsolve, hybrid stress, w of degree {degree}"


def plate_space(
    mesh: ng.Mesh, degree: int, *, w: str, tangential: str, normal: str
) -> tuple[ng.FESpace, ng.FESpace]:
    """Deflection, rotation, moments and normal rotation of edges; and the space of deflections alone.

    ``w``, ``tangential`` and ``normal`` name the boundaries where these are zero, as regular expressions.
    """
    deflections = ng.H1(mesh, order=degree, dirichlet=w)
    rotations = ng.HCurl(mesh, order=degree - 1, dirichlet=tangential)
    moments = ng.Discontinuous(ng.HDivDiv(mesh, order=degree - 1))
    normals = ng.NormalFacetFESpace(mesh, order=degree - 1, dirichlet=normal)
    return deflections * rotations * moments * normals, deflections


def plate_energy(trial: tuple[Any, ...], test: tuple[Any, ...], D: Array, S: Array) -> Any:
    """Bilinear form of bending and shear; M = D kappa and Q = S gamma."""
    (w, phi, m, a), (v, psi, s, b) = trial, test
    flexible = matrix_function(np.linalg.inv(D))
    n, t = ng.specialcf.normal(2), ng.specialcf.tangential(2)

    def in_row(moment: Any) -> Any:
        return ng.CoefficientFunction((moment[0, 0], moment[1, 1], moment[0, 1]))

    def work(moment: Any, rotation: Any, turned: Any) -> Any:
        on_edges = (moment * n) * n * (turned * n) + (moment * n) * t * (rotation * t)
        return -ng.div(moment) * rotation * ng.dx + on_edges * ng.dx(element_boundary=True)

    shear = (matrix_function(S) * (ng.grad(w) - phi)) * (ng.grad(v) - psi)
    stretch = ng.InnerProduct(flexible * in_row(m), in_row(s))
    return (shear - stretch) * ng.dx + work(m, psi, b) + work(s, phi, a)


def solved(problem: Problem, mesh: Mesh, repeats: int, degree: int) -> Answer:
    """Solve a problem on a mesh.

    Times are those of spaces, assembly and condensation, and of factorising and solving.
    """
    grid = ngsolve_mesh(mesh)
    held = {
        "w": "edge" if problem.edge != "free" else "",
        "tangential": "edge" if problem.edge in ("clamped", "hard") else "",
        "normal": "edge" if problem.edge == "clamped" else "",
    }

    def described() -> tuple[ng.FESpace, ng.FESpace, ng.BilinearForm]:
        space, deflections = plate_space(grid, degree, **held)
        trial, test = space.TnT()
        form = ng.BilinearForm(space, condense=True, symmetric=True)
        form += plate_energy(trial, test, problem.stiffness.D, problem.stiffness.S)
        return deflections, space, form

    return measured(problem, mesh, grid, described, repeats)


def measured(
    problem: Problem,
    mesh: Mesh,
    grid: ng.Mesh,
    described: Callable[[], tuple[ng.FESpace, ng.FESpace, ng.BilinearForm]],
    repeats: int,
) -> Answer:
    """Assemble, condense and solve a formulation under a problem's pressure, and time both.

    ``described`` makes the space of deflections, that of all unknowns, which has them first, and the bilinear form.
    """
    pins = corners(mesh[0]) if problem.on_corners else ()

    def assembled() -> tuple[ng.BilinearForm, ng.LinearForm, ng.BitArray]:
        deflections, space, form = described()
        load = ng.LinearForm(space)
        load += pressure(problem) * space.TestFunction()[0] * ng.dx
        form.Assemble()
        load.Assemble()
        free = ng.BitArray(space.FreeDofs(True))
        without_vertices(free, deflections, pins)
        return form, load, free

    with one_blas_thread():
        assembly, (form, load, free) = best_of(repeats, assembled)
        solve, found = best_of(repeats, lambda: condensed_solve(form, load, free))
    deflection = float(found.components[0](grid(*problem.at)))
    return Answer(int(free.NumSet()), deflection, assembly, solve)


def pressure(problem: Problem) -> Any:
    """Pressure of a problem in Pa."""
    if not problem.wave:
        return ng.CoefficientFunction(1.0)
    return ng.sin(ng.pi * ng.x) * ng.sin(ng.pi * ng.y)
