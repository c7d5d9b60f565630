"""A panel with one of everything that a template shows; invented."""

from __future__ import annotations

from typing import Any

import splitterfem as sf

TUBE = {"shape": "tube", "width": "30 mm", "height": "20 mm", "wall": "2 mm"}
ANGLE = {"shape": "angle", "foot": "25 mm", "upright": "40 mm", "wall": "3 mm"}


def rich_panel(**changes: Any) -> sf.Splitter:
    """1.2 x 0.6 m: arcs, a spline, round and square openings, bolts, pins, notched and bent ribs, fasteners."""
    edges = [
        {"to": ["800 mm", "450 mm"], "via": ["870 mm", "250 mm"]},
        {"to": ["650 mm", "600 mm"], "through": [["770 mm", "530 mm"], ["720 mm", "580 mm"]]},
        {"to": ["300 mm", "600 mm"], "round": "30 mm"},
        {"to": ["300 mm", "0 mm"]},
    ]
    fields: dict[str, Any] = {
        "name": "One of everything",
        "invented": True,
        "panel": {
            "outline": {"start": ["900 mm", "0 mm"], "mirror": True, "edges": edges},
            "cutouts": [
                {"name": "port", "mirror": True, "circle": {"centre": ["420 mm", "480 mm"], "radius": "45 mm"}},
                {"name": "slot", "rectangle": {"x": ["340 mm", "400 mm"], "y": ["-60 mm", "60 mm"], "round": "10 mm"}},
            ],
            "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm", "grain_angle": "30 deg"},
        },
        "doublers": [
            {"name": "pad", "mirror": True, "circle": {"centre": ["760 mm", "330 mm"], "radius": "50 mm"},
             "sheet": {"material": "birch plywood 6.5 mm", "thickness": "6.5 mm"}, "side": "below"},
        ],
        "ribs": [
            {"name": "cross", "points": [["600 mm", "-500 mm"], ["600 mm", "500 mm"]], "section": TUBE,
             "material": "6061-T6 extrusion",
             "joint": {"kind": "screws", "diameter": "4 mm", "pitch": "100 mm", "rows": 2}},
            {"name": "slanted", "points": [["450 mm", "100 mm"], ["750 mm", "273.2050807568877 mm"]], "section": ANGLE,
             "material": "6061-T6 extrusion", "crossing": "notched",
             "joint": {"kind": "rivets", "diameter": "4.8 mm", "pitch": "40 mm"}},
            {"name": "bent", "points": [["700 mm", "-50 mm"], ["700 mm", "-250 mm"], ["640 mm", "-353.92304845413 mm"]],
             "section": TUBE, "material": "6061-T6 extrusion", "side": "below"},
        ],
        "struts": [
            {"name": "strut", "mirror": True, "foot": ["760 mm", "330 mm"], "bracket_height": "20 mm",
             "head": ["700 mm", "300 mm", "250 mm"], "diameter": "8 mm", "pad": "50 mm"},
        ],
        "bolts": [
            {"name": "bolt", "mirror": True, "at": ["330 mm", "300 mm"], "diameter": "8 mm", "pad": "30 mm"},
            {"name": "odd bolt", "at": ["330 mm", "-200 mm"], "diameter": "6.35 mm"},
        ],
        "pins": [{"name": "pin", "at": ["850 mm", "0 mm"], "slot": "90 deg", "diameter": "10 mm"}],
        "car": {"ride_height": "60 mm"},
        "cases": [{"name": "weight"}],
    }  # fmt: skip
    return sf.Splitter(**(fields | changes))
