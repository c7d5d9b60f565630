"""Contact of the demonstration with its pockets and the ground, as ratios to its linear solution in one run.

Run ``python benchmarks/contact.py``.  The linear solution is one factorisation of the panel in all its supports, taken
as acting both ways, and one load.  Each row lowers the car further; the factorisation that the model has anyway is not
counted twice, but everything that only the contact needs is.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

import splitterfem as sf
from splitterfem.design.combine import settled
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.factor import factorise
from splitterfem.fem.places import Obstacle, panel_places
from splitterfem.fem.structure import Structure
from splitterfem.fem.ties import submatrix, tied
from splitterfem.model import case_load, clearance_datum
from splitterfem.threads import one_blas_thread

LOWERED = (0.0, 66.8e-3, 67.0e-3, 68.0e-3, 68.5e-3, 69.0e-3, 70.0e-3, 72.0e-3)
"""How far the ground is raised from where the demonstration has it, in m."""


def best_of(count: int, action: Callable[[], object]) -> float:
    """Least time of a few calls in s."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


@one_blas_thread()
def ratios(repeats: int = 3) -> list[dict[str, float]]:
    """Time of contact over that of the linear solution, for one ride height after the other."""
    splitter = sf.demo()
    model = sf.build(splitter)
    case = settled(splitter.cases[0], splitter)
    structure, load = model.structure, case_load(model, case).vector
    base, whole = structure.base, structure.with_extra(load)
    matrix = submatrix(tied(structure.matrix, base.rows, base.reference), base.free)
    linear = best_of(repeats, lambda: factorise(matrix).solve(whole[base.free]))
    rows = panel_places(model.panel, structure.matrix.shape[0])
    gap = clearance_datum(splitter, case)(model.panel.space.centroids[:, 0])
    table = []
    for lowered in LOWERED:
        obstacle = Obstacle(rows, lowered - gap)
        balance = Balance(structure, load, obstacle=obstacle)
        landed = balance.solve()
        spent = best_of(repeats, partial(_solved, structure, load, obstacle))
        table.append(
            {
                "lowered_mm": 1e3 * lowered,
                "touching": float(np.count_nonzero(landed.ground)),
                "watched": float(len(balance.watched)),
                "ground_kN": 1e-3 * float(landed.ground.sum()),
                "ratio": spent / linear,
                "residual": landed.play_residual,
            }
        )
    return table


def _solved(structure: Structure, load: NDArray[np.float64], obstacle: Obstacle) -> object:
    return Balance(structure, load, obstacle=obstacle).solve()


def main() -> None:
    """Print the table."""
    table = ratios()
    print("".join(f"{name:>12}" for name in table[0]))
    for row in table:
        print("".join(f"{value:12.3g}" for value in row.values()))


if __name__ == "__main__":
    main()
