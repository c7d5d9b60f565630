"""Slots, grain of doublers and labels of a template: true lengths by the geometry of an obround, labels by the PDF.

An obround of width d and length L has the area d (L - d) + pi d^2 / 4 and the perimeter 2 (L - d) + pi d.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from template_panel import rich_panel

import splitterfem as sf
from splitterfem.output.template.canvas import text_width
from splitterfem.output.template.make import template_drawing
from splitterfem.output.template.paper import pages_of
from splitterfem.output.template.pdf import _place_of
from splitterfem.output.template.tiles import tiling


def slotted(**changes):
    pin = {
        "name": "pin",
        "at": ["850 mm", "0 mm"],
        "slot": "30 deg",
        "diameter": "10 mm",
        "slot_length": "34 mm",
    }
    return rich_panel(pins=[pin | changes])


def test_a_slot_of_known_length_is_drawn_true():
    drawn = template_drawing(slotted()).on("holes")
    (slot,) = [shape for shape in drawn if shape.name == "pin"]
    area = shapely.Polygon(slot.points)
    assert area.area == pytest.approx(
        0.01 * 0.024 + math.pi * 0.01**2 / 4.0, rel=2e-3
    )  # arcs by their chords
    assert area.length == pytest.approx(2.0 * 0.024 + math.pi * 0.01, rel=2e-3)
    assert area.centroid.coords[0] == pytest.approx((0.85, 0.0), abs=1e-6)
    corners = shapely.get_coordinates(shapely.oriented_envelope(area))
    sides = np.diff(corners, axis=0)
    longest = sides[np.argmax(np.hypot(*sides.T))]
    assert math.degrees(math.atan2(longest[1], longest[0])) % 180.0 == pytest.approx(30.0, abs=0.1)


def test_its_size_is_said_and_without_a_length_only_its_direction_is_drawn():
    texts = [note.text for note in template_drawing(slotted()).notes]
    assert any("slot" in text and "34 mm" in text for text in texts)
    plain = template_drawing(rich_panel())
    assert "pin, 10 mm, in a slot of no given length" in [note.text for note in plain.notes]
    assert len(list(plain.on("slots"))) == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"slot": None}, "has a slot_length but no slot"),
        ({"slot_length": "10 mm"}, "has a slot 10 mm long for a shank of 10 mm"),
    ],
)
def test_slots_that_cannot_be_are_refused(changes, said):
    fields = {name: value for name, value in changes.items() if value is not None}
    pin = {
        "name": "pin",
        "at": ["850 mm", "0 mm"],
        "slot": "30 deg",
        "diameter": "10 mm",
        "slot_length": "34 mm",
    }
    if changes.get("slot", 0) is None:
        del pin["slot"]
    with pytest.raises(sf.DesignError, match=said):
        rich_panel(pins=[pin | fields])


def test_doublers_show_their_own_grain():
    sheet = {"material": "birch plywood 6.5 mm", "thickness": "6.5 mm", "grain_angle": "20 deg"}
    doubler = {
        "name": "pad", "mirror": True, "circle": {"centre": ["760 mm", "330 mm"], "radius": "50 mm"}, "sheet": sheet,
        "side": "below",
    }  # fmt: skip
    drawn = template_drawing(rich_panel(doublers=[doubler])).on("grain of doublers")
    shafts = [shape for shape in drawn if len(shape.curves) == 1]
    found = {}
    for shaft in shafts:
        (line,) = shaft.curves
        (x0, y0), (x1, y1) = line.start, line.end
        assert (0.5 * (x0 + x1), abs(0.5 * (y0 + y1))) == pytest.approx((0.76, 0.33), abs=1e-3)
        found[math.copysign(1.0, y0 + y1)] = math.degrees(math.atan2(y1 - y0, x1 - x0))
    assert found == {
        1.0: pytest.approx(20.0),
        -1.0: pytest.approx(-20.0),
    }  # the right one is its mirror image


@pytest.mark.parametrize("size", ["a4", "letter", "a3"])
def test_every_label_is_whole_on_one_sheet(size):
    drawing = template_drawing(rich_panel())
    sheets = tiling(drawing, pages_of(size))
    wide, high = sheets.page.window
    notes = [note for note in drawing.notes if note.layer != "check square" and not note.title]
    for note in notes:
        at = np.array([-note.at[1], note.at[0]])
        places = {}
        for tile in sheets.tiles:
            corner = np.array([tile.left, tile.bottom])
            x0, y0, x1, y1 = sheets.shown(tile)
            place = _place_of(
                note, at - corner, (x0 - corner[0], y0 - corner[1], x1 - corner[0], y1 - corner[1])
            )
            if place is not None:
                places[tile.name] = place
        assert len(places) == 1, note.text
        ((x, y),) = places.values()
        assert x >= 0.0
        assert x + text_width(note.text, note.height) <= wide
        assert 0.0 <= y <= high - note.height
