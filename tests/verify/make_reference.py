"""Recompute the three-dimensional reference results and write them to ``solid_reference.json``.

Run ``python tests/verify/make_reference.py`` for all cases (about 25 minutes on two cores, up to
8 GB of memory), or name the cases to recompute; the others keep their stored results.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import solid3d
from solid_cases import (
    CASES,
    MATERIALS,
    RUNS,
    Case,
    Rib,
    build,
    meshed_ribs,
    rib_boxes,
    rib_origin,
)
from solid_model import Box, Floats

REFERENCE = Path(__file__).with_name("solid_reference.json")
HALF_LENGTH = 0.010
"""Rib stresses are means over this length (m) to both sides of mid-length."""


CONVENTIONS = {
    "units": "SI: m, N, Pa",
    "axes": "x and y in the panel (x = 0 rear edge, y = 0 the middle), z up, z = 0 the mid-surface",
    "w": "upward displacement at the mid-surface; the load pushes down, so a sag is -w",
    "load": "uniform pressure downwards on the whole top face; linear elasticity; no self-weight",
    "clamps": (
        "(x, y0, y1): u = v = w = 0 on the edge face x over y0 <= y <= y1 and the whole thickness; "
        "in a plate model u = v = w = 0 and both normal rotations = 0 along that part of the edge; "
        "all else is free"
    ),
    "ribs": (
        "bonded to the underside, z = -thickness / 2, without adhesive layer; sharp corners, open ends; "
        "'centre' is the middle of the foot; an angle's upright stands at the foot's edge of greatest "
        "transverse coordinate; 'centroid' is that of the rib's own section: transverse coordinate and z"
    ),
    "poisson": "nu_ij / E_i = nu_ji / E_j, nu_ij the ratio of strain j to strain i under stress along i",
    "plate shear": (
        "the panel is one homogeneous layer, so its transverse shear stiffness in plate theory is "
        "5/6 G13 t along x and 5/6 G23 t along y"
    ),
    "rib station": (
        "at mid-length, means over 10 mm to both sides. far_face_stress: axial stress, mean over the full "
        "width of the outer face farthest from the panel (tube: outer face of the lower wall; angle: lower "
        "edge of the upright). N: integral of the axial stress over the rib's section. M_vertical: integral "
        "of axial stress times (z - centroid z); M_sideways: times (s - centroid s), s the transverse "
        "coordinate"
    ),
    "error": (
        "largest difference between the stored run (the last one) and the other runs of order 3 and above"
    ),
    "mesh": (
        "tensor-product hexahedra with lines closing up at clamp ends, rib walls and rib ends; displacements "
        "continuous, of the run's order in each direction; static condensation and sparse Cholesky"
    ),
    "symmetric": (
        "true: only y >= 0 was meshed, with v = 0 and no shear stress on y = 0; all data are the whole's"
    ),
}


def describe(case: Case) -> dict[str, Any]:
    """Definition of a case as plain data for the results file."""
    data = asdict(case)
    del data["points"], data["runs"], data["name"]
    data["panel material"] = {"name": case.material, **MATERIALS[case.material]}
    if case.ribs:
        data["rib material"] = MATERIALS["aluminium"]
        data["ribs"] = [asdict(rib) | {"centroid": rib_origin(case, rib)} for rib in case.ribs]
    return data


def run_case(case: Case, *, mesh: str, order: int) -> dict[str, Any]:
    """Solve one case once.

    Parameters
    ----------
    case : Case
        What to solve.
    mesh : {"coarse", "working", "fine"}
        Mesh, see `solid_cases.spacing`.
    order : int
        Polynomial order of the displacements.

    Returns
    -------
    dict
        Settings, ``w`` (m) at the case's points and, in ``ribs``, every rib's values at mid-length.
    """
    start = time.perf_counter()
    solution = solid3d.solve(build(case, mesh=mesh), order=order)
    points = np.array([(x, y, 0.0) for x, y in case.points.values()])
    share = 0.5 if case.symmetric else 1.0
    load = case.pressure * case.length * case.width * share
    if abs(solution.support_force[2] / load - 1) > 1e-6:
        raise RuntimeError(
            f"Case '{case.name}' is out of balance: {solution.support_force[2]} N for {load} N."
        )
    return {
        "mesh": mesh,
        "order": order,
        "unknowns": solution.unknowns,
        "cells": int(solution.mesh.ne),
        "seconds": round(time.perf_counter() - start, 1),
        "w": dict(zip(case.points, solution.displacement(points)[:, 2].tolist(), strict=True)),
        "ribs": {rib.name: rib_station(case, rib, solution) for rib in meshed_ribs(case)},
    }


def rib_station(case: Case, rib: Rib, solution: solid3d.SolidSolution) -> dict[str, float]:
    """Stress resultants of a rib at mid-length and the mean axial stress on its far face."""
    axis = "xy".index(rib.along)
    middle = sum(rib.span) / 2
    low, high = middle - HALF_LENGTH, middle + HALF_LENGTH
    if case.symmetric and rib.along == "y":
        low = max(low, 0.0)
    short = [_cut(box, axis, low, high) for box in rib_boxes(case, rib)]
    bottom = min(box.lower[2] for box in short)
    lowest = next(box for box in short if box.lower[2] == bottom)
    far_face = Box(lowest.lower, (lowest.upper[0], lowest.upper[1], bottom))
    forces: Floats = solution.section_forces(short, along=rib.along, origin=rib_origin(case, rib))
    return {
        "far_face_stress": float(solution.mean_stress(far_face)[axis]),
        "N": float(forces[0]),
        "M_vertical": float(forces[1]),
        "M_sideways": float(forces[2]),
    }


def _cut(box: Box, axis: int, low: float, high: float) -> Box:
    lower, upper = list(box.lower), list(box.upper)
    lower[axis], upper[axis] = low, high
    return Box((lower[0], lower[1], lower[2]), (upper[0], upper[1], upper[2]))


def spread(best: float, others: list[float]) -> float:
    """Estimate the error of a stored number: its largest difference from the other runs' numbers."""
    return max(abs(best - other) for other in others)


def reference(case: Case) -> dict[str, Any]:
    """All runs of a case, the stored numbers (those of the best run) and their estimated errors."""
    runs = [run_case(case, mesh=mesh, order=order) for mesh, order in RUNS[case.runs]]
    best = runs[-1]
    others = [r for r in runs[:-1] if r["order"] >= 3]
    points = {
        name: {
            "x": x,
            "y": y,
            "w": best["w"][name],
            "error": spread(best["w"][name], [r["w"][name] for r in others]),
        }
        for name, (x, y) in case.points.items()
    }
    ribs = {
        name: {
            k: {"value": value, "error": spread(value, [r["ribs"][name][k] for r in others])}
            for k, value in station.items()
        }
        for name, station in best["ribs"].items()
    }
    return {"definition": describe(case), "points": points, "ribs": ribs, "runs": runs}


def write(results: dict[str, Any], path: Path = REFERENCE) -> None:
    """Write the results beside the target and rename, so that a failed run leaves the old file."""
    text = json.dumps(results, indent=1) + "\n"
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        fresh = Path(folder) / path.name
        fresh.write_text(text)
        fresh.replace(path)


def main() -> None:
    """Command line."""
    import ngsolve

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", nargs="*", metavar="CASE", help="cases to recompute; all if none is named")
    names = parser.parse_args().case or list(CASES)
    if unknown := [name for name in names if name not in CASES]:
        parser.error(f"there is no case '{unknown[0]}'; known: {', '.join(CASES)}")
    stored = json.loads(REFERENCE.read_text()) if REFERENCE.exists() else {"cases": {}}
    cases = {name: stored["cases"][name] for name in CASES if name in stored["cases"]}
    for name in names:
        cases[name] = reference(CASES[name]) | {"ngsolve": ngsolve.__version__}
        worst = max(p["error"] for p in cases[name]["points"].values())
        print(f"{name}: largest estimated error of w {worst * 1e6:.2f} um", flush=True)
        write({"conventions": CONVENTIONS, "cases": {n: cases[n] for n in CASES if n in cases}})


if __name__ == "__main__":
    main()
