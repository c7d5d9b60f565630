"""How long it takes to move a part on the mesh that there is, over building and solving anew and over factorising.

    python benchmarks/moves.py [--without-extra] [mesh size, such as "150 mm"]

Without the extra ``fast``, or as if it were not installed, parts of the mesh are factorised; with it, the whole panel
in an ordering that is kept.  Ratios, so that they can be compared between machines; every figure is the best of a few
tries, of which each moves the part to a place of its own.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import splitterfem as sf
from splitterfem import analysis
from splitterfem.fem import pardiso
from splitterfem.fem.factor import factorise
from splitterfem.fem.ties import reference_stiffness, tied
from splitterfem.model import build

CASE = "straight, 210 km/h"
MOVES = {
    "a rib": ("cross tube", -1.3),
    "a fore-and-aft rib": ("angle", -1.3),
    "a strut": ("inner strut", -1.3),
    "a pin": ("pin left", -0.5),
    "a pocket": ("pocket", 0.3),
}
"""Part, and how far it goes on at each try in mm."""
TRIES = 20


def without_extra() -> None:
    """Go on as if PARDISO were not installed."""
    module: Any = pardiso
    module.available = lambda: False


def best(task: Callable[[int], object]) -> float:
    times = []
    for turn in range(TRIES):
        start = time.perf_counter()
        task(turn)
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    words = sys.argv[1:]
    if "--without-extra" in words:
        words.remove("--without-extra")
        without_extra()
    size = words[0] if words else "150 mm"
    design = sf.demo().with_(mesh=sf.MeshSettings(size=size, pad_size="100 mm", chord="1.5 mm"))
    model = build(design)
    base = model.structure.base
    reference = reference_stiffness(base.matrix, base.rows, base.play.law.compliance)
    matrix = tied(base.matrix, base.rows, reference)
    bare = best(lambda _: factorise(matrix))
    fresh = best(lambda _: analysis.solve(build(design), CASE).max_sag)
    print(f"{model.unknowns} unknowns, bare factorisation {1e3 * bare:.0f} ms, anew {1e3 * fresh:.0f} ms")
    for what, (name, way) in MOVES.items():

        def moved(turn: int, name: str = name, way: float = way) -> float:
            dx = f"{way * (turn % 10 + 1)} mm"
            return analysis.solve(model.moved(name, dx=dx), CASE).max_sag

        took = best(moved)
        print(
            f"moving {what}: {1e3 * took:.0f} ms, {took / fresh:.2f} of building anew, {took / bare:.2f} "
            "factorisations"
        )


if __name__ == "__main__":
    main()
