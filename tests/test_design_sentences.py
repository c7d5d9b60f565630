"""Sentences of a design's errors: choices of a kind or a shape, and places for people who think in inches."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import splitterfem as sf
from splitterfem.design import LoadCase, Rib, Sheet, check
from splitterfem.design._inches import in_both, mostly_inches
from splitterfem.errors import SplitterError

TUBE = {"shape": "tube", "width": "25 mm", "height": "25 mm", "wall": "3 mm"}
SHAPES = "angle, channel, flat, hat, polygon, round tube, tee, tube"
JOINTS = "adhesive, bolts, bond, rivets, screws"


def said(make: Any, *args: Any, **fields: Any) -> str:
    with pytest.raises(SplitterError) as caught:
        make(*args, **fields)
    return str(caught.value)


def rib(**fields: Any) -> str:
    given = {"name": "cross", "points": [(0.3, -0.2), (0.3, 0.2)], "section": TUBE, "material": "mild steel"}
    return said(Rib, **given | fields)


def without(table: dict[str, Any], key: str, **more: Any) -> dict[str, Any]:
    return {name: value for name, value in table.items() if name != key} | more


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        (
            {"section": TUBE | {"shape": "tub"}},
            f"section: \"tub\" is not a shape; did you mean 'tube'? (choices: {SHAPES})",
        ),
        (
            {"section": TUBE | {"shape": "I"}},
            f'section: "I" is not a shape; known: {SHAPES}',
        ),
        (
            {"section": TUBE | {"shape": 7}},
            f'section: "7" is not a shape; known: {SHAPES}',
        ),
        (
            {"section": without(TUBE, "shape")},
            f"section: has no shape; write it to say which one is meant (choices: {SHAPES})",
        ),
        (
            {"section": without(TUBE, "shape", shap="tube")},
            f'section: has a field "shap" but no shape; write shape = "tube" in its place (choices: {SHAPES})',
        ),
        (
            {"section": without(TUBE, "shape", type="round tube")},
            'section: has a field "type" but no shape; write shape = "round tube" in its place '
            f"(choices: {SHAPES})",
        ),
        (
            {"section": without(TUBE, "shape", Shape="tub")},
            f'section: has a field "Shape" but no shape; write shape in its place (choices: {SHAPES})',
        ),
        (
            {"section": "tube"},
            'section: "tube" is not a table; write { shape = "tube" }, with its other fields',
        ),
        (
            {"section": 25},
            f"section: 25 is not a table; write one with the field shape (choices: {SHAPES})",
        ),
        (
            {"joint": {"kind": "screw"}},
            f"joint: \"screw\" is not a kind; did you mean 'screws'? (choices: {JOINTS})",
        ),
        (
            {"joint": {"diameter": "5 mm", "pitch": "80 mm"}},
            f"joint: has no kind; write it to say which one is meant (choices: {JOINTS})",
        ),
    ],
)
def test_choices_of_a_rib(fields: dict[str, Any], sentence: str) -> None:
    assert rib(**fields) == f'rib "cross", {sentence}'


def test_choices_elsewhere() -> None:
    """Sheets, forces and pressures are told apart by a word as well."""
    board = {"name": "own", "E1": 9e9, "nu12": 0.2, "density": 700.0}
    kinds = "isotropic, layup, orthotropic"
    assert said(Sheet, material=board, thickness=0.01) == (
        f"sheet, material: has no kind; write it to say which one is meant (choices: {kinds})"
    )
    assert said(Sheet, material=board | {"kind": "isotropc"}, thickness=0.01) == (
        f"sheet, material: \"isotropc\" is not a kind; did you mean 'isotropic' or 'orthotropic'? (choices: {kinds})"
    )
    force = {"at": (0.1, 0.1), "force": (0, 0, -10)}
    assert said(LoadCase, name="push", forces=[force]) == (
        'loadcase "push", forces.#1: has no kind; write it to say which one is meant (choices: patch, point)'
    )
    told = said(LoadCase, name="fast", pressure={"kind": "tap", "file": "a.csv"})
    assert told.startswith(
        'loadcase "fast", pressure: "tap" is not a kind; did you mean \'taps\'? (choices: '
    )


# inches -------------------------------------------------------------------------------------------------


def inch_design(folder: Path, *, foot: str = "16 in", **words: str) -> Path:
    text = """version = 1
name = "inches"

[panel.outline]
start = ["0 in", "-16 in"]
edges = [{ to = ["20 in", "-16 in"] }, { to = ["20 in", "1' 4\\""] }, { to = ["0 in", "16 in"] }]

[panel.sheet]
material = "birch plywood 12 mm"
thickness = "12 mm"

[[struts]]
name = "front"
foot = ["FOOT", "8 in"]
head = ["14 in", "8 in", "10 in"]
diameter = "5/16 in"
pad = "40 mm"

[car]
ride_height = "3 in"
"""
    place = folder / "inches.toml"
    text = text.replace("FOOT", foot)
    for old, new in words.items():
        text = text.replace(old, new)
    place.write_text(text)
    return place


def test_places_in_inches_too(tmp_path: Path) -> None:
    """1 in = 25.4 mm exactly (NIST SP 811)."""
    told = said(sf.load, inch_design(tmp_path, foot="22 in"))
    assert told == (
        "inches.toml: struts.front.foot: lies past the edge of the panel at (558.8, 203.2) mm = (22.00, 8.00) in; "
        "move it onto the panel or make the pad smaller"
    )
    loaded = sf.load(inch_design(tmp_path))
    moved = said(loaded.with_part, "front", foot=("22 in", "8 in"))
    assert "at (558.8, 203.2) mm = (22.00, 8.00) in;" in moved


def test_places_of_findings_in_inches_too(tmp_path: Path) -> None:
    design = sf.load(inch_design(tmp_path))
    twice = design.with_(bolts=[{"name": "b", "at": ("16 in", "8 in")}])
    (finding,) = check(twice)
    assert "at (406.4, 203.2) mm = (16.00, 8.00) in, where 'front' is too" in finding.sentence
    low = said(design.with_, "car", {"ride_height": "1 in", "rake": "5 deg"})
    assert "to the ground at x = 508.0 mm = 20.00 in with a rake" in low


def test_places_in_mm_alone(tmp_path: Path) -> None:
    """A design in mm, or one in Python with plain numbers, is told in mm."""
    place = inch_design(tmp_path, foot="560 mm")
    place.write_text(place.read_text().replace(' in"', ' cm"').replace("1' 4\\\"", "16 cm"))
    told = said(sf.load, place)
    assert "past the edge of the panel at (560.0, 80.0) mm; move" in told
    outline = {"start": (0, 0.1), "edges": [{"to": (1, 0)}], "mirror": True}
    assert "starts at (0.0, 100.0) mm; move" in said(sf.Outline, **outline)


def test_outlines_in_inches_too() -> None:
    outline = {"start": ("0 in", "4 in"), "edges": [{"to": ("40 in", "0 in")}], "mirror": True}
    assert "starts at (0.0, 101.6) mm = (0.00, 4.00) in; move" in said(sf.Outline, **outline)
    square = [{"to": ("4 in", "0 in"), "round": "5 in"}, {"to": ("4 in", "4 in")}, {"to": ("0 in", "0 in")}]
    told = said(sf.Outline, start=("0 in", "0 in"), edges=square)
    assert "from (0.0, 0.0) to (101.6, 0.0) mm = (0.00, 0.00) to (4.00, 0.00) in" in told


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["1 in", "12 mm", "2 in"], True),
        (["1/2 in", '3"', "1 1/2 inches", "5 ft 3 in", "10 mm", "20 mm"], True),
        (["1 in", "12 mm"], False),
        (["0.5 m", "12.5 cm", "1 in"], False),
        ([], False),
        (["12 inH2O", "2 lbf/in", "birch in 12 mm", "210 km/h", "5 min", "3 in^2"], False),
        ({"a": {"b": [{"to": ("1 in", "2 in")}]}, "c": 3.0, "d": None}, True),
    ],
)
def test_what_counts_as_inches(words: object, expected: bool) -> None:
    assert mostly_inches(words) is expected


def test_data_without_end() -> None:
    data: dict[str, Any] = {"a": "1 in"}
    data["itself"] = data
    assert mostly_inches(data)
    assert not mostly_inches({"a": "1" + " " * 1_000_000 + "in"})


@pytest.mark.parametrize(
    ("text", "both"),
    [
        ("at (25.4, -50.8) mm; move", "at (25.4, -50.8) mm = (1.00, -2.00) in; move"),
        ("(0.0, 0.0) and (2.5, 0.0) mm", "(0.0, 0.0) and (2.5, 0.0) mm = (0.00, 0.00) and (0.10, 0.00) in"),
        ("at x = 254.0 mm with", "at x = 254.0 mm = 10.00 in with"),
        ('write "12 mm"', 'write "12 mm"'),
        ("a foot of 25 mm", "a foot of 25 mm"),
    ],
)
def test_both_units(text: str, both: str) -> None:
    assert in_both(text) == both
    assert in_both(both) == both  # once is enough
