"""Screening of random layouts on the demonstration: accuracy against full solves, and speed as a ratio to them.

Run ``python benchmarks/screening.py [candidates] [layouts] [seed]``.  Candidates are tubes and angles at random places
and in random directions, on either face, so that many cross, and four struts, two that are added and two pairs that
are moved; layouts have 2 to 5 of them.  Each is solved in full on the same mesh.  Times are those of one core (CPU
time).
"""

from __future__ import annotations

import sys
import time
from itertools import combinations

import numpy as np
import shapely

import splitterfem as sf
from splitterfem.analysis.solution import solve
from splitterfem.layouts.candidates import Candidates, candidates_of
from splitterfem.layouts.library import candidate_library
from splitterfem.layouts.subsets import random_layouts
from splitterfem.model import build
from splitterfem.threads import one_blas_thread

CASE = "straight, 210 km/h"
EDGE = 0.024
"""Least distance of a rib's line from edges and openings in m."""


def random_ribs(splitter: sf.Splitter, count: int, seed: int = 11) -> list[sf.Rib]:
    """Ribs at random places."""
    rng, ribs = np.random.default_rng(seed), list[sf.Rib]()
    safe = splitter.panel.polygon(1e-3).buffer(-EDGE)
    x0, y0, x1, y1 = safe.bounds
    while len(ribs) < count:
        middle = np.array([rng.uniform(x0, x1), rng.uniform(y0, y1)])
        angle, length = rng.uniform(0.0, np.pi), rng.uniform(0.25, 1.2)
        way = 0.5 * length * np.array([np.cos(angle), np.sin(angle)])
        parts = shapely.get_parts(shapely.LineString([middle - way, middle + way]).intersection(safe))
        line = max(parts, key=shapely.length, default=shapely.LineString())
        if line.length < 0.2:
            continue
        tube = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
        angled = {"shape": "angle", "foot": 0.0381, "upright": 0.0381, "wall": 0.0032}
        ribs.append(
            sf.Rib(
                name=f"r{len(ribs)}",
                points=[(float(x), float(y)) for x, y in line.coords],
                section=tube if rng.random() < 0.5 else angled,
                material="6061-T6 extrusion",
                side="above" if rng.random() < 0.5 else "below",
            )
        )
    return ribs


def struts_of(splitter: sf.Splitter) -> tuple[list[sf.Strut], dict[str, str]]:
    """Struts to add, and struts that stand instead of those there are."""
    inner, outer = (one for one in splitter.struts if one.name in ("inner strut", "outer strut"))
    middle = inner.with_(name="middle strut", mirror=False, foot=(0.93, 0.0), head=(0.8, 0.0, 0.28))
    rear = inner.with_(name="rear strut", foot=(0.55, 0.68), head=(0.5, 0.6, 0.28))
    moved = [part.shifted(-0.04, -0.05).with_(name=f"moved {part.name}") for part in (inner, outer)]
    return [middle, rear, *moved], {f"moved {part.name}": part.name for part in (inner, outer)}


def crossings(given: Candidates, layout: tuple[str, ...]) -> int:
    """Count the crossings of ribs in a layout."""
    lines = [shapely.LineString(rib.points) for rib in given.ribs if rib.name in layout]
    return sum(bool(a.intersects(b)) for a, b in combinations(lines, 2))


@one_blas_thread()
def measured(candidates: int = 80, layouts: int = 500, seed: int = 11) -> dict[str, float]:
    """Accuracy and speed."""
    splitter = sf.demo().with_("ribs", ())
    struts, instead = struts_of(splitter)
    given = candidates_of(splitter, random_ribs(splitter, candidates, seed), struts, instead)
    model = build(given.bare)
    case = splitter.case(CASE).with_(ground=False)
    start = time.process_time()
    library = candidate_library(model, case, given)
    ready = time.process_time() - start
    many = random_layouts(given, max(layouts, 4000), seed=5)
    start = time.process_time()
    screened = library.screened(many)[:layouts]
    rate = len(many) / (time.process_time() - start)
    more = many * 10
    start = time.perf_counter()
    library.screened(more, workers=2)
    together = len(more) / (time.perf_counter() - start)
    start, chosen = time.process_time(), many[:layouts]
    full = np.array([solve(model.for_design(given.design(layout)), case).max_sag for layout in chosen])
    each = (time.process_time() - start) / layouts
    sag, said = (np.array([getattr(one, name) for one in screened]) for name in ("sag", "error"))
    error, crossed = np.abs(sag / full - 1.0), np.array([crossings(given, layout) for layout in chosen]) > 0
    moved = np.array([any(strut.name in layout for strut in given.struts) for layout in chosen])
    return {
        "candidate ribs": candidates,
        "library, s": ready,
        "layouts per second": rate,
        "with two processes, 40 000 of them": together,
        "layouts per full solve": rate * each,
        "layouts solved in full": layouts,
        "median error, %": 100 * float(np.median(error)),
        "95 % of errors below, %": 100 * float(np.quantile(error, 0.95)),
        "worst error, %": 100 * float(error.max()),
        "layouts with crossings": int(crossed.sum()),
        "worst error with crossings, %": 100 * float(error[crossed].max(initial=0.0)),
        "layouts with struts added or moved": int(moved.sum()),
        "worst error with those, %": 100 * float(error[moved].max(initial=0.0)),
        "estimate covers, % of layouts": 100 * float(np.mean(np.abs(sag - full) <= said)),
        "median estimate, %": 100 * float(np.median(said / full)),
    }


def main(*sizes: int) -> None:
    """Print the table."""
    for name, value in measured(*sizes).items():
        print(f"{name:36s} {value:.4g}")


if __name__ == "__main__":
    main(*(int(value) for value in sys.argv[1:4]))
