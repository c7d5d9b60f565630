"""A panel so small and coarse that a layout is solved in a tenth of a second."""

from __future__ import annotations

from typing import Any

import splitterfem as sf

CASES = ["lean", "air"]

TUBE = {"shape": "tube", "width": "60 mm", "height": "20 mm", "wall": "2 mm"}


def tiny_panel(**changes: Any) -> sf.Splitter:
    """400 x 600 mm of plywood on four bolts with one tube; invented."""
    edges = [{"to": ("0.4 m", "-0.3 m")}, {"to": ("0.4 m", "0.3 m")}, {"to": ("0 m", "0.3 m")}]
    corners = (("30 mm", "-200 mm"), ("30 mm", "200 mm"), ("300 mm", "-200 mm"), ("300 mm", "200 mm"))
    fields = {
        "name": "tiny",
        "invented": True,
        "currency": "EUR",
        "panel": {
            "outline": {"start": ("0 m", "-0.3 m"), "edges": edges},
            "sheet": {"material": "birch plywood 9 mm", "thickness": "9 mm", "cost_per_area": 40.0},
        },
        "ribs": [
            {"name": "tube", "points": [("200 mm", "-250 mm"), ("200 mm", "250 mm")], "section": TUBE,
             "material": "6061-T6 extrusion", "cost": 15.0},
        ],
        "bolts": [{"name": f"bolt {i}", "at": at, "cost": 1.0} for i, at in enumerate(corners, 1)],
        "car": {"ride_height": "60 mm"},
        "mesh": {"size": "250 mm", "chord": "5 mm"},
        "cases": [
            {"name": "lean", "forces": [
                {"kind": "point", "at": ("350 mm", "0 mm"), "force": ("0 N", "0 N", "-300 N"), "pad": "60 mm"}]},
            {"name": "air", "speed": "150 km/h", "pressure": {"kind": "uniform", "cp": 0.6}},
        ],
        "envelope": {"rear": "-20 mm"},
    }  # fmt: skip
    return sf.Splitter(**(fields | changes))


def same(one: Any, other: Any) -> None:
    """Check that two tables of studies are the same to the last bit."""
    import pandas as pd

    pd.testing.assert_frame_equal(one, other, check_exact=True)
