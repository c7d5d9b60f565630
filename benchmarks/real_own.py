"""The panel of `benchmarks.real_panel` with the element of this project."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from benchmarks.clock import Spent, timed
from benchmarks.problems import Mesh
from benchmarks.real_panel import PRESSURE, SHEET, Bed, Job, worst_stress
from splitterfem.fem.contribution import Contribution, assemble
from splitterfem.fem.factor import factorise
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements, resultants
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import RibParts
from splitterfem.fem.space import PanelSpace
from splitterfem.threads import one_blas_thread


@dataclass(frozen=True)
class JobAnswer:
    """What a formulation says of the job.

    Attributes
    ----------
    unknowns : int
    sag, stress : float
        Worst ones at the places of the job, in m and Pa.
    assembly, solve : Spent
    """

    unknowns: int
    sag: float
    stress: float
    assembly: Spent
    solve: Spent


def bedding(panel: Panel, locator: Locator, one: Bed) -> Contribution:
    """Stiffness of a bed, integrated over its true area wherever the mesh has its edges."""
    samples = locator.area(one.polygon)
    rows = panel.displacement_rows(samples.elements, samples.xy)[:, :3]
    return Contribution(samples, rows, np.array([one.along, one.along, one.up]))


def solved(job: Job, mesh: Mesh) -> JobAnswer:
    """Solve the job on a mesh, which need not follow ribs or beds."""

    def assembled() -> tuple[Panel, Locator, sp.csc_array]:
        panel = Panel(PanelSpace(*mesh), generalised_stiffness(SHEET))
        locator = Locator(panel.space)
        parts: tuple[Contribution, ...] = tuple(bedding(panel, locator, one) for one in job.beds)
        for name, line in job.ribs:
            parts += rib_operators(panel, locator, RibParts(name, line.points, (line,), ())).contributions
        return panel, locator, assemble(panel, parts, 0)

    with one_blas_thread():
        assembly, (panel, locator, matrix) = timed(assembled)
        load = pressure_load(panel, lambda x, y: np.full_like(x, PRESSURE))
        solve, x = timed(lambda: factorise(matrix).solve(load))
        # Threads that have nothing to do any more would be counted in the next time.
        w = displacements(panel, x, locator.find(job.places, reach=2e-3), job.places)[:, 2]
        there = resultants(panel, x, locator.find(job.stressed, reach=2e-3), job.stressed)
    stress = worst_stress(there.membrane, there.moment)
    return JobAnswer(panel.space.n_dofs, -float(w.min()), stress, assembly, solve)
