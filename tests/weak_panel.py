"""A small panel that is used too far, with parts that can be judged and parts that cannot."""

from __future__ import annotations

from typing import Any

import splitterfem as sf

TUBE = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
CORNERS = ((0.05, -0.25), (0.05, 0.25), (0.55, -0.25), (0.55, 0.25))


def weak_panel(**changes: Any) -> sf.Splitter:
    """600 x 600 mm of thin plywood on four bolts and a pin, a glued tube and one of unknown strength."""
    edges = [{"to": (0.6, -0.3)}, {"to": (0.6, 0.3)}, {"to": (0.0, 0.3)}]
    glue = {"kind": "adhesive", "thickness": 5e-4, "shear_modulus": 5e8, "strength": 1e7}
    bar = {"name": "plain bar", "E": 70e9, "nu": 0.3, "density": 2700.0}
    air = {"speed": 75.0, "pressure": {"kind": "uniform", "cp": 0.8}}
    return sf.Splitter.model_validate(
        {
            "name": "weak",
            "currency": "USD",
            "panel": {
                "outline": {"start": (0.0, -0.3), "edges": edges},
                "sheet": {"material": "birch plywood 6.5 mm", "thickness": 0.0065, "cost_per_area": 50.0},
            },
            "ribs": [
                {"name": "glued", "points": [(0.3, -0.25), (0.3, 0.25)], "section": TUBE,
                 "material": "6061-T6 extrusion", "joint": glue, "cost": 20.0},
                {"name": "unknown", "points": [(0.1, 0.1), (0.25, 0.1)], "section": TUBE, "material": bar},
            ],
            "bolts": [
                {"name": f"bolt {i}", "at": at, "holds": "z", "diameter": 0.006} for i, at in enumerate(CORNERS, 1)
            ],
            "pins": [
                {"name": "pin", "at": (0.4, 0.1), "rating": 2000.0},
                {"name": "nameless pin", "at": (0.4, -0.1), "slot": 1.5708},
            ],
            "car": {"ride_height": 0.05},
            "mesh": {"size": 0.06},
            "cases": [
                {"name": "weight"},
                {"name": "air", **air},
                {"name": "kerb", "duration": "instantaneous",
                 "forces": [{"kind": "point", "at": (0.55, 0.0), "force": (0.0, 0.0, 300.0), "pad": 0.08}]},
            ],
        }
        | changes
    )  # fmt: skip
