"""The panel of `benchmarks.real_panel` with formulations of plates in ngsolve, its ribs and beds included.

Needs the extra ``verify``.  In the hybrid stress formulation rotations jump at the ends of edges, so a rib has a
rotation of its own, continuous along it, tied to that of the panel.
"""

from __future__ import annotations

from typing import Any

import ngsolve as ng
import numpy as np

from benchmarks import displacement, hybrid_stress
from benchmarks.clock import timed
from benchmarks.ngsolve_mesh import boundary_edges, condensed_solve, matrix_function, ngsolve_mesh
from benchmarks.problems import Index
from benchmarks.real_own import JobAnswer
from benchmarks.real_panel import PRESSURE, SHEET, Array, Job, worst_stress
from splitterfem.fem.meshing import PlateMesh
from splitterfem.threads import one_blas_thread

TIE = 100.0
"""Stiffness that ties the rotation of a rib to that of the panel, over the rib's shear stiffness."""


class Grid:
    """A mesh in ngsolve, with the stiffness of beds in each element.

    Parameters
    ----------
    job : Job
    mesh : PlateMesh
        Follows ribs and the edges of beds.
    """

    def __init__(self, job: Job, mesh: PlateMesh) -> None:
        lines: dict[str, Index] = {f"rib {k}": mesh.lines[name] for k, (name, _) in enumerate(job.ribs)}
        lines["edge"] = boundary_edges(mesh.triangles)
        self.mesh = ngsolve_mesh((mesh.points, mesh.triangles), lines)
        middle = mesh.points[:, mesh.triangles].mean(axis=1)
        self.along, self.up = (ng.GridFunction(ng.L2(self.mesh, order=0)) for _ in range(2))
        values = np.zeros((2, middle.shape[1]))
        for one in job.beds:
            x0, y0, x1, y1 = one.bounds
            inside = (middle[0] > x0) & (middle[0] < x1) & (middle[1] > y0) & (middle[1] < y1)
            values[:, inside] += np.array([[one.along], [one.up]])
        self.along.vec.FV().NumPy()[:], self.up.vec.FV().NumPy()[:] = values


def stretch(u: Any) -> Any:
    """Strain in the plane, as a row of three."""
    slope = ng.Grad(u)
    return ng.CoefficientFunction((slope[0, 0], slope[1, 1], slope[0, 1] + slope[1, 0]))


def beds_and_membrane(grid: Grid, u: Any, du: Any, w: Any, v: Any) -> Any:
    """Bilinear form of what the formulations have in common."""
    membrane = (matrix_function(SHEET.A) * stretch(u)) * stretch(du)
    return (membrane + grid.along * u * du + grid.up * w * v) * ng.dx


def slope_along(function: Any) -> Any:
    """Slope along a line of a function's component along it, or of a scalar."""
    t = ng.specialcf.tangential(2)
    slope = ng.Grad(function).Trace() * t
    return slope if function.dim == 1 else slope * t


def hybrid(job: Job, grid: Grid, degree: int) -> tuple[Any, ...]:
    """Form, load and free unknowns of the hybrid stress formulation."""
    plate, _ = hybrid_stress.plate_space(grid.mesh, degree, w="", tangential="", normal="")
    on_ribs = grid.mesh.Boundaries("rib.*")
    turns = ng.H1(grid.mesh, order=degree, definedon=on_ribs)
    space = plate * ng.VectorH1(grid.mesh, order=degree) * turns
    (*trial, u, r), (*test, du, dr) = space.TnT()
    form = ng.BilinearForm(space, condense=True, symmetric=True)
    form += hybrid_stress.plate_energy(tuple(trial), tuple(test), SHEET.D, SHEET.S)
    form += beds_and_membrane(grid, u, du, trial[0], test[0])
    t = ng.specialcf.tangential(2)
    for number, (_, line) in enumerate(job.ribs):

        def strains(w: Any, phi: Any, u: Any, r: Any, z: float = line.z) -> tuple[Any, ...]:
            turn = ng.Grad(r).Trace() * t
            gap = r - phi.Trace() * t
            return slope_along(u) - z * turn, turn, ng.Grad(w).Trace() * t - r, gap

        ours, theirs = strains(trial[0], trial[1], u, r), strains(test[0], test[1], du, dr)
        stiff = (line.EA, line.EI, line.GAs, TIE * line.GAs)
        for k, a, b in zip(stiff, ours, theirs, strict=True):
            form += k * a * b * ng.ds(f"rib {number}")
    return form, _load(space, test[0]), space


def displacements(job: Job, grid: Grid) -> tuple[Any, ...]:
    """Form, load and space of displacements of degree 2 with shear at few points, that of ribs too."""
    mesh = grid.mesh
    space = ng.H1(mesh, order=2) * ng.VectorH1(mesh, order=2) * ng.VectorH1(mesh, order=2)
    (w, phi, u), (v, psi, du) = space.TnT()
    form = ng.BilinearForm(space, condense=True, symmetric=True)
    form += displacement.plate_energy((w, phi), (v, psi), SHEET.D, SHEET.S)
    form += beds_and_membrane(grid, u, du, w, v)
    t, two = ng.specialcf.tangential(2), {ng.ET.SEGM: ng.IntegrationRule(ng.ET.SEGM, 3)}
    for number, (_, line) in enumerate(job.ribs):
        rib = f"rib {number}"
        axial, virtual = (slope_along(a) - line.z * slope_along(b) for a, b in ((u, phi), (du, psi)))
        shear, slide = (ng.Grad(a).Trace() * t - b.Trace() * t for a, b in ((w, phi), (v, psi)))
        form += (line.EA * axial * virtual + line.EI * slope_along(phi) * slope_along(psi)) * ng.ds(rib)
        form += line.GAs * shear * slide * ng.ds(rib, intrules=two)
    return form, _load(space, v), space


def _load(space: Any, v: Any) -> Any:
    load = ng.LinearForm(space)
    load += -PRESSURE * v * ng.dx
    return load


def solved(job: Job, mesh: PlateMesh, degree: int | None) -> JobAnswer:
    """Solve the job by the hybrid stress formulation of some degree, or by displacements when that is left out."""
    grid = Grid(job, mesh)

    def assembled() -> tuple[Any, ...]:
        made = displacements(job, grid) if degree is None else hybrid(job, grid, degree)
        form, load, space = made
        form.Assemble()
        load.Assemble()
        return form, load, ng.BitArray(space.FreeDofs(True))

    with one_blas_thread():
        assembly, (form, load, free) = timed(assembled)
        solve, found = timed(lambda: condensed_solve(form, load, free))
    sag = -float(np.min(_at(grid, found.components[0], job.places)))
    stress = _stress(job, grid, found, by_moments=degree is not None)
    return JobAnswer(int(free.NumSet()), sag, stress, assembly, solve)


def _at(grid: Grid, function: Any, places: Array) -> Array:
    return np.asarray(function(grid.mesh(places[0], places[1])))


def _stress(job: Job, grid: Grid, found: Any, *, by_moments: bool) -> float:
    if by_moments:
        m, u = found.components[2], found.components[4]
        moment = ng.CoefficientFunction((m[0, 0], m[1, 1], m[0, 1]))
    else:
        u = found.components[2]
        moment = matrix_function(SHEET.D) * stretch(found.components[1])
    force = matrix_function(SHEET.A) * stretch(u)
    return worst_stress(_at(grid, force, job.stressed), _at(grid, moment, job.stressed))
