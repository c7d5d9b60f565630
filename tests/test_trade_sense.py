"""What builders of such panels say of them, on an invented geometry.

Common practice, no source: the brackets are wide, and the sentences are rules of thumb, not measurements.
"""

from __future__ import annotations

import numpy as np
import pytest

import splitterfem as sf

OUTLINE = {
    "start": ["1.1 m", "0 m"],
    "mirror": True,
    "edges": [
        {"to": ["1.0 m", "0.8 m"], "via": ["1.08 m", "0.4 m"]},
        {"to": ["0.3 m", "0.8 m"]},
        {"to": ["0.3 m", "0 m"]},
    ],
}
OUTER = {
    "name": "outer",
    "mirror": True,
    "foot": ["1.02 m", "0.62 m"],
    "bracket_height": "30 mm",
    "head": ["0.9 m", "0.5 m", "0.3 m"],
    "diameter": "8 mm",
}
INNER = OUTER | {"name": "inner", "foot": ["1.04 m", "0.3 m"], "head": ["0.9 m", "0.25 m", "0.3 m"]}
SLOT = {
    "name": "slot",
    "mirror": True,
    "mouth": ["0.35 m", "0.4 m"],
    "width": "0.7 m",
    "overlap": "50 mm",
    "clearance_up": "0.3 mm",
    "clearance_down": "0.3 mm",
}
FAST = {"name": "fast", "speed": "240 km/h", "pressure": {"kind": "uniform", "pressure": "2.5 kPa"}}
PUSH = {
    "name": "push",
    "forces": [{"kind": "point", "at": ["1.05 m", "0 m"], "force": ["0 N", "0 N", "-100 N"], "pad": "80 mm"}],
}
TUBE = {
    "name": "tube",
    "points": [["0.98 m", "-0.7 m"], ["0.98 m", "0.7 m"]],
    "section": {"shape": "tube", "width": "25.4 mm", "height": "25.4 mm", "wall": "3.2 mm"},
    "material": "6061-T6 extrusion",
}
ANGLE = {
    "name": "angle",
    "mirror": True,
    "side": "below",
    "points": [["0.4 m", "0.25 m"], ["1.05 m", "0.25 m"]],
    "section": {"shape": "angle", "foot": "38.1 mm", "upright": "38.1 mm", "wall": "3.2 mm"},
    "material": "6061-T6 extrusion",
}


def panel(**fields):
    """12 mm birch, 0.8 m long and 1.6 m wide, invented; hung at its front corners, slid into a slot at the rear."""
    return sf.Splitter(
        **{
            "name": "long extension, invented",
            "invented": True,
            "car": {"ride_height": "75 mm", "wheelbase": "2.6 m", "track": "1.5 m"},
            "panel": {
                "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm", "grain_angle": "90 deg"},
                "outline": OUTLINE,
            },
            "struts": [OUTER],
            "pins": [
                {"name": "left", "at": ["0.4 m", "0.3 m"], "holds": "xy"},
                {"name": "right", "at": ["0.4 m", "-0.3 m"], "holds": "xy", "slot": "90 deg"},
            ],
            "pockets": [SLOT],
            "mesh": {"size": "60 mm"},
            "cases": [FAST, PUSH],
            **fields,
        }
    )


@pytest.fixture(scope="module")
def bare():
    return sf.solve(panel(), "fast")


def test_a_bare_panel_bows_by_tens_of_millimetres_in_mid_span(bare):
    assert 0.03 < bare.max_sag < 0.08
    assert abs(bare.max_sag_at[1]) < 0.05


def test_a_bare_panel_can_touch_the_ground():
    """On a low car, and all the more as suction grows with the narrowing gap."""
    low = panel(car={"ride_height": "42 mm", "wheelbase": "2.6 m", "track": "1.5 m"})
    assert sf.solve(low, "fast").ground.touches
    air = FAST["pressure"] | {"gap_exponent": 0.5, "map_ride_height": "75 mm"}
    follows = panel(cases=[FAST | {"pressure": air, "sag_feedback": True}])
    fed_back, still = sf.solve(follows, "fast"), sf.solve(follows, "fast", sag_feedback=False)
    assert fed_back.max_sag > 1.15 * still.max_sag


def test_tube_and_angles_cut_it_several_fold(bare):
    ribbed = sf.solve(panel(ribs=[TUBE, ANGLE]), "fast")
    assert 3.0 < bare.max_sag / ribbed.max_sag < 15.0


def test_struts_further_aft_can_stiffen_the_whole_panel():
    """The largest sag is between struts and slot, and the lip ahead of the struts balances it."""
    before = panel(struts=[OUTER, INNER])
    after = before.moved("outer", dx="-75 mm").moved("inner", dx="-75 mm")
    sags = [sf.solve(design, "fast").max_sag for design in (before, after)]
    assert 0.5 < sags[1] / sags[0] < 0.9


def test_openings_take_stiffness_across_the_line_they_lie_on():
    """Leaned on at the lip, held at the rear alone: openings take half of the width between."""
    free = {"struts": [], "pockets": [SLOT | {"clearance_up": "0 mm", "clearance_down": "0 mm"}]}
    whole = panel(**free)
    opening = {
        "name": "tunnel",
        "mirror": True,
        "rectangle": {"x": ["0.5 m", "0.75 m"], "y": ["0.2 m", "0.6 m"]},
    }
    cut = whole.with_("panel.cutouts", [opening])
    sags = [sf.solve(design, "push").max_sag for design in (whole, cut)]
    assert 1.3 < sags[1] / sags[0] < 3.0


def test_a_thin_aluminium_sheet_bends_about_as_stiffly(bare):
    """4.8 mm 6061 for 12 mm birch; it weighs more."""
    aluminium = sf.solve(
        panel().with_("panel.sheet", {"material": "6061-T6 sheet", "thickness": "4.8 mm"}), "fast"
    )
    assert 0.7 < aluminium.max_sag / bare.max_sag < 1.5
    assert 1.2 < aluminium.mass / bare.mass < 2.0


def test_an_overlap_of_50_mm_holds_the_rear_edge(bare):
    """Up and down within a millimetre, lips judged below their limits, though the panel bows by tens of them."""
    y = np.linspace(-0.72, 0.72, 25)
    assert np.abs(bare.sag_at(np.full_like(y, 0.32), y)).max() < 1e-3
    lips = bare.utilisation.query("kind == 'rear pocket'")
    assert len(lips) >= 4
    assert lips["ratio"].max() < 1.0
