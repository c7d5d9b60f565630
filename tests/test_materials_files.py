"""Materials and sections of one's own in a design file: read, used, refused in one sentence, written again."""

from __future__ import annotations

from math import pi

import pytest

import splitterfem as sf
from splitterfem.errors import DesignError
from splitterfem.materials import Layup, SheetMaterial, laminate, sheet, veneer_layup

HEAD = """
version = 1
name = "small"

[car]
ride_height = "80 mm"

[panel.outline]
start = ["500 mm", "-400 mm"]
edges = [
    { to = ["500 mm", "400 mm"] },
    { to = ["0 mm", "400 mm"] },
    { to = ["0 mm", "-400 mm"] },
    { to = ["500 mm", "-400 mm"] },
]

"""
SHEET = """
[panel.sheet]
material = "birch plywood 12 mm"
thickness = "12 mm"
"""
VENEERS = """
[panel.sheet]
thickness = "12 mm"
grain_angle = "90 deg"

[panel.sheet.material]
kind = "layup"
name = "birch, 9 veneers"
veneers = { count = 9, thickness = "1.4 mm", sanding = "0.3 mm" }
"""
SANDWICH = """
[panel.sheet]
thickness = "13 mm"

[panel.sheet.material]
kind = "layup"
name = "own carbon panel"
cost_per_area = 310
cost_basis = "quote"
plies = [
    { material = "carbon fabric", thickness = "0.5 mm", angle = "45 deg" },
    { material = "PVC foam 80", thickness = "12 mm" },
    { material = "carbon fabric", thickness = "0.5 mm", angle = "45 deg" },
]
"""
LAYUP = """
[panel.sheet]
thickness = "3 mm"

[panel.sheet.material]
kind = "layup"
name = "two skins"

[[panel.sheet.material.plies]]
thickness = "1 mm"

[panel.sheet.material.plies.material]
kind = "isotropic"
name = "soft alloy"
E1 = "69 GPa"
nu12 = 0.33
density = "2700 kg/m^3"

[[panel.sheet.material.plies]]
material = "ABS sheet"
thickness = "1 mm"

[[panel.sheet.material.plies]]
material = "ABS sheet"
thickness = "1 mm"
"""
OWN = """
[panel.sheet]
thickness = "10 mm"

[panel.sheet.material]
kind = "orthotropic"
name = "pine plywood of the yard"
source = "own bending test"
E1 = "8.2 GPa"
E2 = "4.1 GPa"
nu12 = "0.05"
G12 = "500 MPa"
G13 = "120 MPa"
G23 = "80 MPa"
density = "520 kg/m^3"
strength = { level = "typical", bending_along = "38 MPa", bending_across = "22 MPa" }
"""
RIB = """
[[ribs]]
name = "cross"
points = [["250 mm", "-300 mm"], ["250 mm", "300 mm"]]
section = SECTION
material = "6063-T5 extrusion"
"""
OWN_BAR = """
[[ribs]]
name = "cross"
points = [["250 mm", "-300 mm"], ["250 mm", "300 mm"]]
section = { shape = "hat", width = "30 mm", height = "25 mm", flange = "15 mm", wall = "1 mm" }

[ribs.material]
name = "stainless strip"
E = "200 GPa"
nu = "0.3"
density = "7900 kg/m^3"
yield_strength = "230 MPa"
"""
TRAPEZIUM = """{ shape = "polygon", points = [
    ["-20 mm", "0 mm"], ["20 mm", "0 mm"], ["10 mm", "30 mm"], ["-10 mm", "30 mm"]
] }"""


def load(folder, *parts: str):
    place = folder / "design.toml"
    place.write_text(HEAD + "".join(parts))
    return sf.load(place)


def survives(folder, splitter) -> None:
    """Saved and read again it is the same, and saving once more changes no letter."""
    first, second = folder / "first.toml", folder / "second.toml"
    sf.save(splitter, first)
    again = sf.load(first)
    sf.save(again, second)
    assert again == splitter
    assert first.read_text() == second.read_text()


def complaint(folder, *parts: str) -> str:
    with pytest.raises(DesignError) as caught:
        load(folder, *parts)
    return str(caught.value)


def test_veneers(tmp_path) -> None:
    splitter = load(tmp_path, VENEERS)
    board = splitter.panel.sheet.resolved
    assert isinstance(board, Layup)
    assert board.plies == veneer_layup(9)
    # the handbook's board of 12 mm, its grain turned across
    p = board.stiffness(0.012, float(splitter.panel.sheet.grain_angle))
    assert p.bending_moduli == pytest.approx((6781e6, 10719e6), rel=3e-4)
    assert board.strength.bending_along == pytest.approx(
        sheet("birch plywood 12 mm").strength.bending_along, rel=3e-3
    )
    survives(tmp_path, splitter)
    assert "plies" not in (tmp_path / "first.toml").read_text()


def test_sandwich_by_names(tmp_path) -> None:
    splitter = load(tmp_path, SANDWICH)
    panel = splitter.panel.sheet.resolved
    assert isinstance(panel, Layup)
    assert panel.price_per_area() == 310
    assert panel.plies[0].angle == pytest.approx(pi / 4)
    assert (
        panel.stiffness().D[2, 2] > panel.stiffness(grain_angle=pi / 4).D[2, 2]
    )  # cloth on the bias twists less
    survives(tmp_path, splitter)
    assert '"carbon fabric"' in (tmp_path / "first.toml").read_text()


def test_layup_written_out(tmp_path) -> None:
    told = complaint(tmp_path, LAYUP)
    assert told == (
        "design.toml: panel.sheet.material: The plies of 'two skins' are not symmetric about the middle, so the "
        "sheet warps with heat and moisture and bends when it is pulled; mirror them, or write unsymmetric = true"
    )
    splitter = load(tmp_path, LAYUP.replace('name = "two skins"', 'name = "two skins"\nunsymmetric = true'))
    made = splitter.panel.sheet.resolved
    assert made.stiffness().B[0, 0] != 0
    assert made.stiffness() == laminate(made.plies)
    survives(tmp_path, splitter)


def test_sheet_of_ones_own(tmp_path) -> None:
    splitter = load(tmp_path, OWN)
    board = splitter.panel.sheet.resolved
    assert isinstance(board, SheetMaterial)
    assert (board.E1, board.strength.bending_across) == (8.2e9, 22e6)
    survives(tmp_path, splitter)


def test_sandwich_of_the_catalogue(tmp_path) -> None:
    text = SHEET.replace("birch plywood 12 mm", "carbon/foam panel 11 mm")
    splitter = load(tmp_path, text.replace('"12 mm"', '"11 mm"'))
    assert splitter.panel.sheet.resolved is sheet("carbon/foam panel 11 mm")
    survives(tmp_path, splitter)
    assert "thickness is 12 mm but the plies of 'carbon/foam panel 11 mm' add up to 11 mm" in complaint(
        tmp_path, text
    )


def test_bar_of_ones_own(tmp_path) -> None:
    splitter = load(tmp_path, SHEET, OWN_BAR)
    assert splitter.ribs[0].resolved.yield_strength == 230e6
    survives(tmp_path, splitter)


@pytest.mark.parametrize(
    "section",
    [
        TRAPEZIUM,
        TRAPEZIUM.replace(" }", ', hole = [["-5 mm", "5 mm"], ["5 mm", "5 mm"], ["0 mm", "20 mm"]] }'),
        '{ shape = "channel", web = "40 mm", flange = "20 mm", wall = "2 mm", foot = "flange" }',
        '{ shape = "hat", width = "30 mm", height = "25 mm", flange = "15 mm", wall = "1.5 mm" }',
        '{ shape = "tee", foot = "30 mm", upright = "25 mm", wall = "3 mm" }',
        '{ shape = "round tube", diameter = "20 mm", wall = "2 mm", saddle = "12 mm" }',
    ],
)
def test_sections(tmp_path, section: str) -> None:
    splitter = load(tmp_path, SHEET, RIB.replace("SECTION", section))
    rib = splitter.ribs[0]
    assert rib.foot_width == rib.section.foot_width
    survives(tmp_path, splitter)


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        (
            (SHEET, RIB.replace("SECTION", TRAPEZIUM.replace('"20 mm", "0 mm"', '"20 mm", "-5 mm"'))),
            "design.toml: ribs.cross.section: The section does not stand on the panel: its lowest point is at "
            "height -5 mm; move it up by 5 mm.",
        ),
        (
            (
                SHEET,
                RIB.replace("SECTION", TRAPEZIUM.replace('"20 mm", "0 mm"', '"-20 mm", "30 mm"')),
            ),
            "design.toml: ribs.cross.section: The section crosses or touches itself near offset 10 mm, "
            "height 30 mm; list its corners in order, once round.",
        ),
        (
            (
                SHEET,
                RIB.replace("SECTION", '{ shape = "chanel", web = "4 mm" }'),
            ),
            "design.toml: ribs.cross.section: \"chanel\" is not a shape; did you mean 'channel'? (choices: angle, "
            "channel, flat, hat, polygon, round tube, tee, tube)",
        ),
        (
            (
                SHEET,
                RIB.replace(
                    "SECTION",
                    '{ shape = "channel", web = "40 mm", flange = "20 mm", wall = "2 mm", foot = "flang" }',
                ),
            ),
            "design.toml: ribs.cross.section.foot: \"flang\" is not a choice here; did you mean 'flange'?",
        ),
        (
            (
                SHEET,
                RIB.replace(
                    "SECTION", '{ shape = "tube", width = "20 mm", height = "30 mm", wall = "11 mm" }'
                ),
            ),
            "design.toml: ribs.cross.section: The tube 20 x 30 mm has a wall of 11 mm, which leaves no hollow; "
            "give a wall under 10 mm, or a section of shape 'flat'.",
        ),
        (
            (SHEET, RIB.replace("SECTION", TRAPEZIUM).replace("6063-T5 ", "6063-T53 ")),
            "design.toml: ribs.cross.material: The catalogue has no bar material '6063-T53 extrusion'; did you "
            "mean '6063-T5 extrusion' or '6063-T52 extrusion' or '6063-T6 extrusion'?",
        ),
        (
            (SHEET.replace("birch plywood 12 mm", "birch plywod 13 mm"),),
            "design.toml: panel.sheet.material: The catalogue has no sheet material 'birch plywod 13 mm'; did you mean "
            "'birch plywood 12 mm' or 'birch plywood 15 mm'?",
        ),
        (
            (SHEET, RIB.replace("SECTION", TRAPEZIUM.replace("shape", "shpe"))),
            'design.toml: ribs.cross.section: has a field "shpe" but no shape; write shape = "polygon" in its place '
            "(choices: angle, channel, flat, hat, polygon, round tube, tee, tube)",
        ),
        (
            (OWN.replace('"orthotropic"', '"orthotrop"'),),
            "design.toml: panel.sheet.material: \"orthotrop\" is not a kind; did you mean 'orthotropic'? "
            "(choices: isotropic, layup, orthotropic)",
        ),
        (
            (VENEERS.replace("count = 9", "count = 8"),),
            "design.toml: panel.sheet.material.veneers: A plywood cannot have 8 veneers; give an odd whole "
            "number from 3 up.",
        ),
        (
            (VENEERS.replace("sanding", "sanded"),),
            "design.toml: panel.sheet.material.veneers.sanded: there is no such field; did you mean 'sanding'?",
        ),
        (
            (SANDWICH.replace("carbon fabric", "carbon fibre", 1),),
            "design.toml: panel.sheet.material.plies.#1.material: The catalogue has no ply material 'carbon "
            "fibre'; did you mean 'carbon fabric'?",
        ),
    ],
)
def test_wrong_input_gets_one_sentence(tmp_path, parts: tuple[str, ...], sentence: str) -> None:
    assert complaint(tmp_path, *parts) == sentence


def test_schema_offers_the_choices() -> None:
    schema = sf.json_schema()
    layup = schema["$defs"]["Layup"]
    assert [one["required"] for one in layup["oneOf"]] == [["plies"], ["veneers"]]
    assert {"PolygonSection", "HatSection", "ChannelSection", "TeeSection", "RoundTubeSection"} <= set(
        schema["$defs"]
    )
    choices = schema["$defs"]["Ply"]["properties"]["material"]["anyOf"]
    assert any(one.get("type") == "string" for one in choices)
