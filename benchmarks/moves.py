"""How long it takes to move a part on the mesh that there is, over building and solving anew and over factorising.

    python benchmarks/moves.py [mesh size, such as "150 mm"]

Ratios, so that they can be compared between machines; every figure is the best of a few tries.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import splitterfem as sf
from splitterfem import analysis
from splitterfem.fem.factor import factorise
from splitterfem.fem.supported import reference_stiffness
from splitterfem.fem.ties import tied
from splitterfem.model import build

CASE = "straight, 210 km/h"
MOVES = {
    "a rib": ("cross tube", "-13 mm"),
    "a strut": ("inner strut", "-13 mm"),
    "a pin": ("pin left", "-5 mm"),
    "a pocket": ("pocket", "3 mm"),
}
TRIES = 20


def best(task: Callable[[], object]) -> float:
    times = []
    for _ in range(TRIES):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    size = sys.argv[1] if len(sys.argv) > 1 else "150 mm"
    design = sf.demo().with_(mesh=sf.MeshSettings(size=size, pad_size="100 mm", chord="1.5 mm"))
    model = build(design)
    base = model.structure.base
    reference = reference_stiffness(base.matrix, base.rows, base.play.law)
    matrix = tied(base.matrix, base.rows, reference)
    bare = best(lambda: factorise(matrix))
    fresh = best(lambda: analysis.solve(build(design), CASE).max_sag)
    print(f"{model.unknowns} unknowns, bare factorisation {1e3 * bare:.0f} ms, anew {1e3 * fresh:.0f} ms")
    for what, (name, way) in MOVES.items():

        def moved(name: str = name, way: str = way) -> float:
            return analysis.solve(model.moved(name, dx=way), CASE).max_sag

        took = best(moved)
        print(
            f"moving {what}: {1e3 * took:.0f} ms, {took / fresh:.2f} of building anew, {took / bare:.2f} "
            "factorisations"
        )


if __name__ == "__main__":
    main()
