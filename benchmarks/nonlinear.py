"""Cost of contact, sag feedback and large deflection on the demonstration, over that of a linear solve, in one run.

A linear solve is assembly, factorisation and supports of the model, and one load case; meshing and the air load, which
are the same for all, do not count.  Run ``python benchmarks/nonlinear.py``; with ``--json FILE`` the table is saved.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from pathlib import Path

import splitterfem as sf
from splitterfem.analysis.balance import balance_of
from splitterfem.fem.response import Response
from splitterfem.model import Model, case_load, sag_follower


def best_of(count: int, action: Callable[[], Response]) -> tuple[float, Response]:
    """Least time of a few calls in s, and the last answer."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        answer = action()
        times.append(time.perf_counter() - start)
    return min(times), answer


def cases(model: Model) -> dict[str, sf.LoadCase]:
    """Return what is compared, all made from the first load case of the demonstration."""
    case = model.design.cases[0].with_(ground=False)
    low = {"ride_height": "12 mm", "rake": 0.0, "factor": 3.0, "ground": True}
    assert case.pressure is not None
    follows = case.pressure.with_(gap_exponent=1.0)
    coupled = case.with_(pressure=follows, sag_feedback=True)
    return {
        "linear": case,
        "on the ground": case.with_(**low),
        "sag feedback": coupled,
        "large deflection": case.with_(large_deflection=True),
        "sag feedback and large deflection": coupled.with_(large_deflection=True),
        "all of it, on the ground": coupled.with_(large_deflection=True, **low),
    }


def ratios(repeats: int = 2) -> dict[str, dict[str, float]]:
    """Seconds and ratio to a linear solve of each case."""
    model = sf.build(sf.demo())
    model.ground, model.large  # noqa: B018  built once for a model, like its mesh
    whole = sum(model.structure.seconds.values())
    rows, linear = {}, 0.0
    for name, case in cases(model).items():
        load = case_load(model, case)
        follower = sag_follower(model, case) if case.sag_feedback else None

        def solve(case=case, load=load, follower=follower) -> Response:  # type: ignore[no-untyped-def]
            return balance_of(model, case, load, follower).solve()

        seconds, answer = best_of(repeats, solve)
        linear = linear or whole + seconds
        total = seconds if case.large_deflection else whole + seconds
        rows[name] = {
            "seconds": total,
            "over a linear solve": total / linear,
            "places on the ground": float((answer.ground > 0.0).sum()),
        }
    return rows


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    rows = ratios()
    for name, row in rows.items():
        print(
            f"{name:34} {row['seconds']:7.2f} s {row['over a linear solve']:6.2f} x linear, "
            f"{row['places on the ground']:.0f} places on the ground"
        )
    if options.json:
        options.json.write_text(json.dumps({"rows": rows}, indent=1))


if __name__ == "__main__":
    main()
