"""The design file: reading, writing, the round trip, and files that are not what they should be."""

from __future__ import annotations

import json
import math
import os
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from splitterfem.design import (
    Bolt,
    Car,
    CutOut,
    Doubler,
    Edge,
    FunctionMap,
    LoadCase,
    Outline,
    Pad,
    Panel,
    PatchForce,
    Pin,
    PointForce,
    RearPocket,
    Rectangle,
    Rib,
    Sheet,
    Splitter,
    Stop,
    Strut,
    TapMap,
    UniformMap,
    dumps,
    json_schema,
    load,
    save,
)
from splitterfem.design import file as design_file
from splitterfem.errors import DesignError, FileError, SplitterError
from splitterfem.materials import (
    AngleSection,
    BarMaterial,
    FlatSection,
    Layup,
    Ply,
    SheetMaterial,
    TubeSection,
)

TEXT = """\
version = 1
name = "hill-climb saloon"
note = "Invented for demonstration."
invented = true

[panel.outline]
start = ["600 mm", "0 mm"]
edges = [
    {to = ["480 mm", "700 mm"], through = [["590 mm", "250 mm"], ["555 mm", "500 mm"]]},
    {to = ["400 mm", "800 mm"], via = ["450 mm", "765 mm"]},
    {to = ["0 mm", "800 mm"], round = "1 1/2 in"},
    {to = ["0 mm", "0 mm"]},
]
mirror = true

[[panel.cutouts]]
name = "tunnel"
rectangle = {x = ["80 mm", "330 mm"], y = ["350 mm", "600 mm"], round = "30 mm"}
mirror = true

[panel.sheet]
material = "birch plywood 15 mm"
thickness = "14.8 mm"
grain_angle = "90 deg"

[[ribs]]
name = "cross rib"
points = [["400 mm", "-620 mm"], ["400 mm", "620 mm"]]
section = {shape = "tube", width = "1 in", height = "1 in", wall = "1/8 in"}
material = "6063-T52 extrusion"

[[struts]]
name = "front"
foot = ["480 mm", "300 mm"]
bracket_height = "30 mm"
head = ["430 mm", "300 mm", "280 mm"]
diameter = "5/16 in"
end_stiffness = "2 kN/mm"
pad = "2 in"
mirror = true

[[bolts]]
name = "middle"
at = ["40 mm", "0 mm"]
holds = "xyz"
pad = {shape = "rectangle", length = "60 mm", width = "30 mm"}

[[pockets]]
name = "rear"
mouth = ["40 mm", "260 mm"]
width = "120 mm"
overlap = "40 mm"
clearance_up = "0.3 mm"
mirror = true

[car]
ride_height = "80 mm"
rake = "0.5°"

[[cases]]
name = "straight, 210 km/h"
speed = "210 km/h"
pressure = {kind = "taps", file = "maps/taps.csv", quantity = "cp", length_unit = "mm"}

[[cases]]
name = "push at the lip"
forces = [
    {kind = "point", at = ["560 mm", "0 mm"], force = ["0 N", "0 N", "-90 lbf"]},
    {kind = "patch", circle = {centre = ["300 mm", "0 mm"], radius = "50 mm"}, pressure = "2 kPa"},
]
acceleration = ["-1.2 g", "0 g", "0 g"]
factor = 1.5
"""


def written(folder: Path, text: str | bytes, name: str = "club.toml") -> Path:
    place = folder / name
    place.write_bytes(text if isinstance(text, bytes) else text.encode())
    return place


def complaint(folder: Path, text: str | bytes) -> str:
    """The text of the error that reading a file raises."""
    with pytest.raises(SplitterError) as caught:
        load(written(folder, text))
    return str(caught.value)


def refusal(make: Any, *args: Any, **fields: Any) -> str:
    """The text of the error that something raises; empty when it does not."""
    try:
        make(*args, **fields)
    except SplitterError as problem:
        return str(problem)
    return ""


def test_reading(tmp_path: Path) -> None:
    splitter = load(written(tmp_path, TEXT))
    assert splitter.name == "hill-climb saloon"
    assert splitter.invented
    assert splitter.struts[0].diameter == 0.0254 * 5 / 16
    assert splitter.struts[0].pad == Pad(diameter=0.0508)
    assert splitter.car.rake == pytest.approx(math.radians(0.5))
    assert splitter.cases[1].forces[0].force[2] == pytest.approx(-90 * 4.4482216152605)
    assert splitter.cases[1].acceleration[0] == pytest.approx(-1.2 * 9.80665)
    assert splitter.folder == tmp_path
    assert load(str(tmp_path / "club.toml")) == splitter


def test_a_file_of_ours_survives_unchanged(tmp_path: Path) -> None:
    """What is written reads back as the same design, and a second writing gives the same bytes."""
    first = load(written(tmp_path, TEXT))
    save(first, tmp_path / "again.toml")
    assert (tmp_path / "again.toml").read_text() == TEXT  # every word as it was, in this layout
    assert load(tmp_path / "again.toml") == first


HARDWARE = """\
version = 1
name = "hardware"
currency = "EUR"

[panel.outline]
start = ["0 mm", "-800 mm"]
edges = [
    {to = ["600 mm", "-800 mm"]},
    {to = ["600 mm", "800 mm"]},
    {to = ["0 mm", "800 mm"]},
]

[panel.sheet]
material = "birch plywood 12 mm"
thickness = "12 mm"
cost_per_area = 55.0

[[doublers]]
name = "plate"
rectangle = {x = ["400 mm", "20 in"], y = ["100 mm", "250 mm"]}
side = "below"
cost = 4.5
mirror = true

[doublers.sheet]
material = "6061-T6 sheet"
thickness = "1/8 in"

[[ribs]]
name = "cross"
points = [["300 mm", "-600 mm"], ["300 mm", "600 mm"]]
section = {shape = "flat", width = "1 in", height = "10 mm"}
material = "mild steel"
joint = {kind = "screws", diameter = "5 mm", pitch = "4 in", rows = 2, strength = "1.2 kN"}

[[ribs]]
name = "long"
points = [["100 mm", "300 mm"], ["550 mm", "300 mm"]]
section = {shape = "flat", width = "1 in", height = "10 mm"}
material = "mild steel"
crossing = "notched"
mirror = true

[ribs.joint]
kind = "adhesive"
thickness = "0.5 mm"
shear_modulus = "900 MPa"
width = "20 mm"
strength = "15 MPa"
name = "paste, invented"

[[struts]]
name = "tube"
foot = ["480 mm", "200 mm"]
head = ["430 mm", "200 mm", "280 mm"]
form = "tube"
diameter = "1/2 in"
wall = "1.5 mm"
material = "6061-T6 extrusion"
thread = "M8"
strength_class = "8.8"
end_rating = "900 lbf"
cost = 35.0
mirror = true

[[bolts]]
name = "middle"
at = ["40 mm", "0 mm"]
diameter = "6 mm"
strength_class = "8.8"
washer_thickness = "1.6 mm"
head_diameter = "10 mm"

[[pins]]
name = "locator"
at = ["40 mm", "100 mm"]
diameter = "1/4 in"
rating = "9 kN"
lug_thickness = "5 mm"
gap = "0.5 mm"
clevis_thickness = "3 mm"
shear_strength = "250 MPa"

[[pockets]]
name = "rear"
mouth = ["40 mm", "500 mm"]
width = "120 mm"
overlap = "40 mm"
lip_thickness = "3 mm"
lip_reach = "45 mm"
lip_material = "mild steel"
mirror = true

[car]
ride_height = "80 mm"

[[cases]]
name = "kerb"
duration = "instantaneous"

[strength]
service_class = 2
gamma_m_wood = 1.3
metal_factor = 1.65
adhesive_factor = 4.0
load_factor = "110 %"
"""


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('pitch = "4 in"', "pitch = 100", 'ribs.cross.joint.pitch: 100 has no unit; write "100 mm"'),
        ('pitch = "4 in"', 'ptch = "4 in"', "ribs.cross.joint.pitch: is missing; write it"),
        ('kind = "screws"', 'kind = "glue"', 'ribs.cross.joint: "glue" is not a kind; known: '),
        (
            'shear_modulus = "900 MPa"',
            "shear_modulus = 900",
            "ribs.long.joint.shear_modulus: 900 has no unit",
        ),
        ('crossing = "notched"', "", "ribs.cross.crossing: crosses the rib 'long left' at (300.0, 300.0) mm"),
        ('thickness = "1/8 in"', "thickness = 3", "doublers.plate.sheet.thickness: 3 has no unit"),
        ('["400 mm", "20 in"]', '["400 mm", "30 in"]', "doublers.plate: lies past the edge of the panel at "),
        ('wall = "1.5 mm"', 'wall = "15 mm"', "struts.tube: has a wall of 15 mm, which leaves no hollow"),
        ('end_rating = "900 lbf"', 'end_rating = "900 lb"', 'struts.tube.end_rating: "900 lb" has a mass'),
        ("service_class = 2", "service_class = 0", "strength.service_class: 0 is not a choice here"),
        (
            "metal_factor = 1.65",
            "metl_factor = 1",
            "strength.metl_factor: there is no such field; did you mean",
        ),
        ("cost = 4.5", 'cost = "4.5 EUR"', "doublers.plate.cost: "),
    ],
)
def test_faults_of_hardware_are_named(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert HARDWARE.count(old) == 1
    told = complaint(tmp_path, HARDWARE.replace(old, new))
    assert line in told.splitlines()[0], told


def test_joints_doublers_and_hardware_survive_unchanged(tmp_path: Path) -> None:
    first = load(written(tmp_path, HARDWARE))
    assert dumps(first) == HARDWARE  # every word as it was, in this layout
    assert first.ribs[0].joint.strength == 1200.0
    assert first.struts[0].modulus == pytest.approx(68.9e9)  # of the material, and not written
    assert first.strength.load_factor == pytest.approx(1.1)
    assert load(written(tmp_path, dumps(first.expanded()))) == first.expanded()


def everything() -> Splitter:
    """A splitter made in Python with every class and nearly every field."""
    alloy = SheetMaterial(name="own", kind="isotropic", E1="70 GPa", nu12=0.33, density="2700 kg/m^3")
    strong = alloy.model_copy(update={"name": "other"})
    layup = Layup(
        name="pair",
        unsymmetric=True,
        plies=[Ply(material=alloy, thickness=0.004), Ply(material=strong, thickness=0.006, angle=0.5)],
    )
    steel = BarMaterial(name="own steel", E=210e9, nu=0.3, density=7850.0, notes="a 'quoted' \"word\"")
    edges = [Edge(to=(0.6, 0.8), round=0.05), Edge(to=(0.0, 0.8)), Edge(to=(0.0, -0.8)), Edge(to=(0.6, -0.8))]
    window = Outline(start=(0.3, 0.1), edges=[{"to": (0.4, 0.1)}, {"to": (0.3, 0.1), "via": (0.35, 0.17)}])
    angle = AngleSection(foot="25 mm", upright="25 mm", wall="3 mm")
    plate = Pad(shape="rectangle", length=0.06, width=0.03, angle=0.3)
    patch = PatchForce(rectangle=Rectangle(x=(0.1, 0.2), y=(0.1, 0.2)), force=(0, 0, -10))
    return Splitter(
        name='a "quoted" name \\ with ünïcode',
        note='lines\nand """quotes"""\n\n\ttabs, \\ and a last line\n',
        panel=Panel(
            outline=Outline(start=(0.6, -0.8), edges=edges),
            cutouts=[
                CutOut(name="window", outline=window),
                CutOut(name="hole", circle={"centre": (0.2, 0.5), "radius": 0.05}),
            ],
            sheet=Sheet(material=layup, thickness=0.01, grain_angle=0.1),
        ),
        ribs=[
            Rib(
                name="a",
                points=((0.5, -0.5), (0.5, 0.5)),
                section=angle,
                material=steel,
                side="below",
                flip=True,
                joint={
                    "kind": "adhesive",
                    "thickness": 5e-4,
                    "shear_modulus": 9e8,
                    "width": 0.02,
                    "name": "paste",
                },
                cost=12.5,
            ),
            Rib(
                name="b",
                points=((0.45, -0.5), (0.45, 0.1), (0.5, 1 / 3)),
                section=FlatSection(width=0.03, height=0.01),
                material="mild steel",
                joint={
                    "kind": "bolts",
                    "diameter": 0.006,
                    "pitch": 0.1,
                    "slip_modulus": 5e6,
                    "strength": 900.0,
                },
                crossing="notched",
            ),
            Rib(
                name="c",
                points=((0.1, 0.3), (0.1, 0.6)),
                section=TubeSection(width=0.02, height=0.02, wall=0.002),
                material="mild steel",
                joint={"kind": "bond"},
                mirror=True,
            ),
            Rib(
                name="d",
                points=((0.42, -0.3), (0.55, -0.3)),
                section=FlatSection(width=0.03, height=0.01),
                material="mild steel",
            ),
        ],
        doublers=[
            Doubler(
                name="plate",
                circle={"centre": (0.2, -0.6), "radius": 0.05},
                sheet=Sheet(material="6061-T6 sheet", thickness=0.003, cost_per_area=40),
                side="below",
                cost=3.0,
            ),
            Doubler(
                name="patch",
                outline=window.shifted(0.05, 0.3),
                sheet=Sheet(material=layup, thickness=0.01),
                mirror=True,
            ),
        ],
        struts=[
            Strut(
                name="s",
                foot=(0.5, 0.7),
                head=(0.4, 0.7, 0.3),
                area=1e-5,
                modulus=70e9,
                tension_only=True,
                slack=0.001,
                preload=100.0,
                pad=plate,
            ),
            Strut(name="t", foot=(0.55, 0.3), head=(0.4, 0.3, 0.3), stiffness=1e6),
            Strut(
                name="tube",
                foot=(0.55, -0.1),
                head=(0.4, -0.1, 0.3),
                form="tube",
                diameter=0.012,
                wall=0.0015,
                material=steel,
                thread="M8",
                strength_class="8.8",
                end_rating=5e3,
                cost=30,
            ),
            Strut(
                name="cable",
                foot=(0.55, -0.6),
                head=(0.4, -0.6, 0.3),
                form="cable",
                area=4e-6,
                modulus=6e10,
            ),
        ],
        bolts=[
            Bolt(name="bolt", at=(0.05, 0.05), holds="z"),
            Bolt(
                name="full",
                at=(0.05, -0.05),
                diameter=0.006,
                strength_class="8.8",
                washer_thickness=0.002,
                head_diameter=0.01,
                cost=0.5,
            ),
        ],
        pins=[
            Pin(name="pin", at=(0.05, -0.2), slot=math.pi / 4),
            Pin(
                name="full pin",
                at=(0.05, -0.3),
                diameter=0.00635,
                rating=9e3,
                lug_thickness=0.005,
                gap=0.0005,
                clevis_thickness=0.003,
                shear_strength=2.5e8,
                cost=1 / 3,
            ),
        ],
        pockets=[
            RearPocket(
                name="rear",
                mouth=(0.04, 0.7),
                width=0.1,
                overlap=0.04,
                clearance_down=0.001,
                lip_thickness=0.003,
                lip_reach=0.05,
                lip_material="6061-T6 extrusion",
                mirror=True,
            )
        ],
        stops=[
            Stop(
                name="buffer",
                at=(0.45, 0.2),
                pad=Pad(shape="rectangle", length=0.03, width=0.02, angle=0.4),
                gap_up=0.0,
                gap_down=0.0015,
                stiffness=1e6 / 3,
                cost=2.5,
                mirror=True,
            ),
            Stop(name="bracket", at=(0.1, -0.5), gap_up="1/8 in"),
        ],
        car=Car(ride_height=0.08, rake=0.01, wheelbase=2.6),
        cases=[
            LoadCase(
                name="u", speed=58.0, pressure=UniformMap(cp=0.5), ride_height=0.07, rake=0.0, gravity=False
            ),
            LoadCase(
                name="p", pressure=UniformMap(pressure="2 kPa"), forces=[patch], factor=1.1, air_density=1.1
            ),
            LoadCase(
                name="t",
                pressure=TapMap(
                    file="a/b.csv",
                    quantity="pressure",
                    length_unit="in",
                    pressure_unit="psf",
                    reference_speed="100 mph",
                    scale=0.9,
                ),
                acceleration=(1 / 3, 0.0, -9.81),
                duration="instantaneous",
                forces=[PointForce(at=(0.3, 0.3), force=(1, 2, 3), pad=0.05)],
            ),
        ],
        mesh={"size": 0.02, "pad_size": 0.005, "chord": 0.0001},
        strength={
            "service_class": 2,
            "gamma_m_wood": 1.3,
            "metal_factor": 2,
            "adhesive_factor": 4,
            "load_factor": 1.1,
        },
        currency="€",
    )


def test_a_design_made_in_python_survives(tmp_path: Path) -> None:
    splitter = everything()
    save(splitter, tmp_path / "a.toml")
    again = load(tmp_path / "a.toml")
    assert again == splitter
    assert hash(again) == hash(splitter)
    save(again, tmp_path / "b.toml")
    assert (tmp_path / "a.toml").read_bytes() == (tmp_path / "b.toml").read_bytes()
    assert again.expanded() == splitter.expanded()


PLATE = Panel(
    outline=Outline.rectangle(0, 0.6, -0.8, 0.8),
    sheet=Sheet(material="birch plywood 12 mm", thickness=0.012),
)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    x=st.floats(0.03, 0.57),
    y=st.floats(-0.7, 0.7),
    angle=st.floats(-3.2, 3.2),
    note=st.text(st.characters(codec="utf-8"), max_size=40),
    name=st.text(st.characters(codec="utf-8"), min_size=1, max_size=20),
)
def test_any_values_survive(tmp_path: Path, x: float, y: float, angle: float, note: str, name: str) -> None:
    """Floats come back to the last bit and texts to the last character, or are refused beforehand."""
    fields = {
        "name": "any",
        "note": note,
        "panel": PLATE,
        "pins": [{"name": name, "at": (x, y), "slot": angle}],
        "car": Car(ride_height=0.08),
    }
    told = refusal(Splitter, **fields)
    if told:
        assert "which cannot be printed" in told or "cannot be a name" in told
        return
    splitter = Splitter(**fields)
    save(splitter, tmp_path / "a.toml")
    assert load(tmp_path / "a.toml") == splitter


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('thickness = "14.8 mm"', "thickness = 12", 'panel.sheet.thickness: 12 has no unit; write "12 mm"'),
        (
            'thickness = "14.8 mm"',
            'thickness = "12"',
            'panel.sheet.thickness: "12" has no unit; write "12 mm"',
        ),
        ('thickness = "14.8 mm"', "thickness = nan", "panel.sheet.thickness: nan has no unit"),
        (
            'thickness = "14.8 mm"',
            'thickness = "nan mm"',
            'panel.sheet.thickness: "nan mm" is not a finite number',
        ),
        ('thickness = "14.8 mm"', "", "panel.sheet.thickness: is missing; write it"),
        (
            'thickness = "14.8 mm"',
            "thickness = 1979-05-27",
            'panel.sheet.thickness: "1979-05-27" (date) is not a',
        ),
        (
            'grain_angle = "90 deg"',
            "grian_angle = 90",
            "panel.sheet.grian_angle: there is no such field; did you mean 'grain_angle'",
        ),
        (
            'bracket_height = "30 mm"',
            'bracket = "30 mm"',
            "struts.front.bracket: there is no such field; did you mean 'bracket_height'",
        ),
        (
            '["430 mm", "300 mm", "280 mm"]',
            '["430 mm", "300 mm", 280]',
            "struts.front.head.z: 280 has no unit",
        ),
        (
            '["430 mm", "300 mm", "280 mm"]',
            '["430 mm", "300 mm"]',
            "struts.front.head: a point has 3 coordinates, not 2",
        ),
        (
            '["430 mm", "300 mm", "280 mm"]',
            '"430 mm, 300 mm"',
            'struts.front.head: "430 mm, 300 mm" is not a point',
        ),
        (
            'shape = "tube"',
            'shape = "tub"',
            "ribs.cross rib.section: \"tub\" is not a shape; did you mean 'tube'",
        ),
        ('wall = "1/8 in"', 'wall = "1/8"', 'ribs.cross rib.section.wall: "1/8" has no unit; write "1/8 mm"'),
        (
            '"6063-T52 extrusion"',
            '"6063-T53 extrusion"',
            "ribs.cross rib.material: The catalogue has no bar material",
        ),
        ('pad = "2 in"', "pad = 2", 'struts.front.pad.diameter: 2 has no unit; write "2 mm"'),
        ('holds = "xyz"', 'holds = "xyw"', "bolts.middle.holds: holds says which directions are held"),
        (
            "mirror = true\n\n[[bolts]]",
            'mirror = "yes"\n\n[[bolts]]',
            'struts.front.mirror: "yes" is neither true nor false',
        ),
        (
            'ride_height = "80 mm"',
            'ride_height = "80 kg"',
            'car.ride_height: "80 kg" is a mass, not a length',
        ),
        (
            'file = "maps/taps.csv"',
            'file = "../taps.csv"',
            'cases.straight, 210 km/h.pressure.file: "../taps.csv" leaves the folder',
        ),
        (
            'file = "maps/taps.csv"',
            'file = "/etc/passwd"',
            'cases.straight, 210 km/h.pressure.file: "/etc/passwd" leaves the folder',
        ),
        (
            'file = "maps/taps.csv"',
            "file = 'C:\\taps.csv'",
            'pressure.file: "C:\\taps.csv" leaves the folder',
        ),
        ('file = "maps/taps.csv"', "file = 'maps\\..\\..\\taps.csv'", "leaves the folder"),
        ('file = "maps/taps.csv"', 'file = "~/taps.csv"', "leaves the folder"),
        (
            'kind = "taps", file',
            'kind = "function", function = "os.system", file',
            "pressure.function: a file cannot hold a function",
        ),
        ('kind = "taps"', 'kind = "map"', 'cases.straight, 210 km/h.pressure: "map" is not a kind'),
        (
            '"-90 lbf"',
            '"-90 lb"',
            'cases.push at the lip.forces.#1.force.z: "-90 lb" has a mass where a force is wanted',
        ),
        (
            'radius = "50 mm"',
            'radius = "50 mil"',
            'cases.push at the lip.forces.#2.circle.radius: "50 mil" is ambiguous',
        ),
        (
            '["590 mm", "250 mm"]',
            '["590 mm", "2,5 mm"]',
            'panel.outline.edges.#1.through.#1.y: "2,5 mm" has a decimal comma',
        ),
        (
            'x = ["80 mm", "330 mm"]',
            'x = ["80 mm", "330"]',
            'panel.cutouts.tunnel.rectangle.x.#2: "330" has no unit',
        ),
        (
            "[[panel.cutouts]]",
            "[panel.cutouts]",
            "panel.cutouts: is a single table; write its heading in double square brackets",
        ),
        (
            'foot = ["480 mm", "300 mm"]',
            'foot = ["780 mm", "300 mm"]',
            "struts.front.foot: lies past the edge of the panel at (780.0",
        ),
        ("[car]", "[cat]", "car: is missing"),
    ],
)
def test_faults_are_named(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert TEXT.count(old) == 1
    told = complaint(tmp_path, TEXT.replace(old, new))
    assert all(row.startswith("club.toml: ") for row in told.splitlines())
    assert line in told.splitlines()[0], told
    assert "pydantic" not in told


def test_a_misspelt_table_is_named_too(tmp_path: Path) -> None:
    lines = complaint(tmp_path, TEXT.replace("[car]", "[cra]")).splitlines()
    assert lines == [
        "club.toml: car: is missing; write it",
        "club.toml: cra: there is no such field; did you mean 'car'?",
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "club.toml: version is missing; write version = 1 in the first line"),
        ("name = 'x'", "club.toml: version is missing"),
        ("version = 2", "club.toml: version is 2, and this library reads version 1"),
        ("version = true", "club.toml: version is True"),
        ("version = '1'", "club.toml: version is '1'"),
        (
            "version = 1\nthickness = 3 mm\n",
            "club.toml: line 2: 'thickness = 3 mm' has no quotes; write thickness = \"3 mm\"",
        ),
        (
            "version = 1\nx = 240 km/h # fast\n",
            "line 2: 'x = 240 km/h # fast' has no quotes; write x = \"240 km/h\"",
        ),
        ("version = 1\n[panel\n", "club.toml: line 2, column 7: "),
        ('version = 1\nname = "x"\nname = "y"\n', "club.toml: line 3, column 11: cannot overwrite a value"),
        ("version = 1\nx = [1, 2\n", "club.toml: "),
        ('version = 1\nname = "never closed', "club.toml: "),
        ("version = 1\nx = " + "[" * 5000, "club.toml: brackets are nested too deeply"),
        (
            "version = 1\nx = '" + "a" * 30_000 + "'",
            "club.toml: line 2 has 30006 characters; break it into shorter ones",
        ),
        ("version = 1\nx = " + "9" * 10_000, "club.toml: "),
        ("version = 1\nname = 'a\x00b'", "club.toml is not a text file"),
        (b"version = 1\nname = '\xff'", "club.toml is not UTF-8 text at line 2; save it as UTF-8"),
        (b"PK\x03\x04\x14\x00\x00\x00\x08\x00\x8a\xf5", "club.toml is not UTF-8 text at line 1"),
        ("version = 1\n" + "# padding\n" * 250_000, "club.toml is larger than 2 MB"),
    ],
)
def test_files_that_are_not_what_they_should_be(tmp_path: Path, text: str | bytes, sentence: str) -> None:
    with pytest.raises(FileError) as caught:
        load(written(tmp_path, text))
    assert str(caught.value).startswith(sentence) or sentence in str(caught.value)
    assert "\n" not in str(caught.value)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    written(tmp_path, TEXT)
    with pytest.raises(FileError, match=r"there is no file .*clup\.toml; did you mean 'club\.toml'"):
        load(tmp_path / "clup.toml")
    with pytest.raises(FileError, match="check its name and folder"):
        load(tmp_path / "nowhere" / "club.toml")
    with pytest.raises(FileError, match="is a folder; name the design file in it"):
        load(tmp_path)
    with pytest.raises(FileError):
        load("a\0b")


def test_truncated_at_any_place(tmp_path: Path) -> None:
    """A file cut off anywhere is read as a smaller design or refused in words."""
    for end in range(0, len(TEXT), 37):
        told = refusal(load, written(tmp_path, TEXT[:end]))
        assert not told or "club.toml" in told


def test_windows_line_ends_and_byte_order_mark(tmp_path: Path) -> None:
    assert load(written(tmp_path, "\ufeff" + TEXT.replace("\n", "\r\n"))) == load(written(tmp_path, TEXT))


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["12 mm", "-12 mm", "1e9 m", "0 mm", "5 kg", "90 deg", "xyz"]),
    st.lists(st.sampled_from(["12 mm", "0 mm", 3, None, "x"]), max_size=4),
    st.dictionaries(st.sampled_from(["name", "x", "to", "kind", "shape"]), st.text(max_size=3), max_size=3),
)


def _places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [path] * bool(path) + [place for key, value in items for place in _places(value, (*path, key))]


PLACES = [(text, place) for text in (TEXT, HARDWARE) for place in _places(tomllib.loads(text))]


@settings(max_examples=500, deadline=None)
@example((TEXT, ("panel", "outline", "start", 0)), {"name": "\r"})
@given(st.sampled_from(PLACES), JUNK)
def test_junk_anywhere_is_taken_or_refused_in_words(at: tuple[str, tuple[Any, ...]], junk: Any) -> None:
    text, place = at
    data = tomllib.loads(text)
    data.pop("version")
    *way, last = place
    target: Any = data
    for step in way:
        target = target.get(step, {}) if isinstance(target, dict) else target[step]
    target[last] = junk
    data.pop("version", None)
    told = refusal(design_file.build, Splitter, data, prefix="x.toml", in_file=True)
    assert all(row.startswith("x.toml: ") for row in told.splitlines())


def test_writing_leaves_nothing_behind_and_spoils_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    splitter = load(written(tmp_path, TEXT))

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", fail)
        with pytest.raises(FileError, match=r"club\.toml cannot be written: no space left on device"):
            save(splitter.with_(name="other"), tmp_path / "club.toml")
    assert (tmp_path / "club.toml").read_text() == TEXT
    assert [place.name for place in tmp_path.iterdir()] == ["club.toml"]
    with pytest.raises(FileError, match=r"x\.toml cannot be written: no such file or directory"):
        save(splitter, tmp_path / "nowhere" / "x.toml")


@pytest.mark.skipif(sys.platform == "win32", reason="permission bits")
def test_permissions_are_kept(tmp_path: Path) -> None:
    place = written(tmp_path, TEXT)
    place.chmod(0o640)
    save(load(place), place)
    assert place.stat().st_mode & 0o777 == 0o640


def test_what_a_file_cannot_hold(tmp_path: Path) -> None:
    splitter = load(written(tmp_path, TEXT))
    case = LoadCase(name="f", speed=50.0, pressure=FunctionMap(function=lambda x, y: 0 * x))
    with pytest.raises(
        DesignError, match=r"cases\.f\.pressure: a Python function cannot be written to a file"
    ):
        dumps(splitter.with_(cases=[case]))
    far = LoadCase(name="f", speed=50.0, pressure=TapMap(file="/tmp/a.csv", quantity="cp", length_unit="mm"))
    with pytest.raises(DesignError, match=r'cases\.f\.pressure\.file: "/tmp/a\.csv" leaves the folder'):
        save(splitter.with_(cases=[far]), tmp_path / "x.toml")
    assert not (tmp_path / "x.toml").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need a privilege")
def test_paths_stay_in_the_folder(tmp_path: Path) -> None:
    folder = tmp_path / "design"
    folder.mkdir()
    splitter = load(written(folder, TEXT))
    assert splitter.path("maps/taps.csv") == folder.resolve() / "maps" / "taps.csv"
    (tmp_path / "secret.csv").write_text("x")
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    with pytest.raises(DesignError, match="leads out of the folder"):
        splitter.path("link.csv")
    assert splitter.in_folder(None).path("a.csv") == Path("a.csv")
    assert splitter.with_(name="b").moved("front", dx="-5 mm").folder == folder


def test_files_fit_the_schema(tmp_path: Path) -> None:
    """Against a general-purpose JSON schema validator."""
    validator = pytest.importorskip("jsonschema").Draft202012Validator(json_schema())
    validator.check_schema(json_schema())
    data = tomllib.loads(TEXT)
    assert [error.message for error in validator.iter_errors(data)] == []
    save(everything(), tmp_path / "a.toml")
    assert list(validator.iter_errors(tomllib.loads((tmp_path / "a.toml").read_text()))) == []
    assert [error.message for error in validator.iter_errors(tomllib.loads(HARDWARE))] == []
    for old, new in (
        ("rows = 2", "rows = 0"),
        ('"screws"', '"nails"'),
        ("service_class = 2", "service_class = 4"),
    ):
        assert not validator.is_valid(tomllib.loads(HARDWARE.replace(old, new)))
    data["car"]["ride_height"] = 80
    assert not validator.is_valid(data)


def test_schema_describes_the_file() -> None:
    schema = json_schema()
    json.dumps(schema)
    assert schema["properties"]["version"]["const"] == 1
    assert {"version", "name", "panel", "car"} == set(schema["required"])
    strut = schema["$defs"]["Strut"]["properties"]
    assert strut["diameter"]["anyOf"][0]["type"] == "string"
    assert schema["$defs"]["Car"]["properties"]["ride_height"]["type"] == "string"
    assert schema["$defs"]["CutOut"]["required"] == ["name"]
    assert schema["$defs"]["Doubler"]["required"] == ["name", "sheet"]
    assert set(tomllib.loads(TEXT)) <= set(schema["properties"])


# Files that a design names ------------------------------------------------------------------------------

TAPS = "x,y,cp\n0,0,0.5\n"


def at_home(folder: Path) -> Splitter:
    """A design in a folder of its own, its taps beside it in a folder below."""
    (folder / "home" / "maps").mkdir(parents=True)
    (folder / "home" / "maps" / "taps.csv").write_text(TAPS)
    return load(written(folder / "home", TEXT))


def files_in(folder: Path) -> dict[str, str]:
    """Text of every file below a folder, hidden ones included."""
    return {str(p.relative_to(folder)): p.read_text() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_taps_go_with_the_design(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    away = tmp_path / "away"
    away.mkdir()
    save(splitter, away / "copy.toml")
    assert files_in(away) == {"copy.toml": TEXT, "maps/taps.csv": TAPS}
    again = load(away / "copy.toml")
    assert again == splitter
    assert again.path("maps/taps.csv").read_text() == TAPS
    save(splitter.with_(name="anew"), away / "copy.toml")  # the same taps are there already
    assert files_in(away)["maps/taps.csv"] == TAPS
    assert load(away / "copy.toml").name == "anew"
    save(splitter, tmp_path / "home" / "beside.toml")
    assert set(files_in(tmp_path / "home")) == {"club.toml", "beside.toml", "maps/taps.csv"}


def test_both_files_of_taps_go_with_the_design(tmp_path: Path) -> None:
    """Taps of the upper and of the lower face lie in a file each; another case names one of them again."""
    home, away = tmp_path / "home", tmp_path / "away"
    home.mkdir()
    away.mkdir()
    for name in ("upper", "lower"):
        (home / f"{name}.csv").write_text(f"{name}\n{TAPS}")
    faces = TapMap(file="upper.csv", lower_file="lower.csv", quantity="cp", length_unit="mm")
    lower = TapMap(file="lower.csv", quantity="cp", length_unit="mm")
    cases = [
        LoadCase(name=f"case {i}", speed=50.0, pressure=pressure) for i, pressure in enumerate((faces, lower))
    ]
    splitter = Splitter(name="faces", panel=PLATE, car=Car(ride_height=0.08), cases=cases).in_folder(home)
    save(splitter, away / "faces.toml")
    assert set(files_in(away)) == {"faces.toml", "upper.csv", "lower.csv"}
    assert files_in(away)["lower.csv"] == files_in(home)["lower.csv"]


def test_the_demonstration_can_be_taken_along(tmp_path: Path) -> None:
    import splitterfem as sf

    sf.save(sf.demo(), tmp_path / "own.toml")
    assert set(files_in(tmp_path)) == {"own.toml", "demo_taps.csv"}
    assert sf.load(tmp_path / "own.toml") == sf.demo()


@pytest.mark.skipif(sys.platform == "win32", reason="permission bits")
def test_copies_are_plain_new_files(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    (tmp_path / "home" / "maps" / "taps.csv").chmod(0o444)
    away = tmp_path / "away"
    away.mkdir()
    save(splitter, away / "copy.toml")
    assert (away / "maps" / "taps.csv").stat().st_mode == (away / "copy.toml").stat().st_mode


def test_a_different_file_is_never_replaced(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    away = tmp_path / "away"
    (away / "maps").mkdir(parents=True)
    (away / "maps" / "taps.csv").write_text("x,y,cp\n0,0,0.7\n")
    before = files_in(away)
    source, target = (tmp_path / name / "maps" / "taps.csv" for name in ("home", "away"))
    assert refusal(save, splitter, away / "copy.toml") == (
        f"copy.toml cannot be written: {target} is another file than {source}, which the design names; rename one "
        "of the two, or choose another folder"
    )
    assert files_in(away) == before
    target.unlink()
    target.mkdir()
    assert "is another file than" in refusal(save, splitter, away / "copy.toml")


def test_taps_that_are_missing(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    home, away = tmp_path / "home", tmp_path / "away"
    away.mkdir()
    (home / "maps" / "taps.csv").unlink()
    assert refusal(save, splitter, away / "copy.toml") == (
        f"copy.toml cannot be written: there is no file maps/taps.csv in {home} to copy beside it; put it there"
    )
    assert files_in(away) == {}
    save(splitter, home / "beside.toml")  # nothing is to be copied there
    save(splitter.in_folder(None), away / "copy.toml")  # made in Python, the taps are still to come
    assert files_in(away) == {"copy.toml": TEXT}


def test_the_design_does_not_take_the_place_of_its_taps(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    before = files_in(tmp_path)
    assert refusal(save, splitter, tmp_path / "home" / "maps" / "taps.csv") == (
        "taps.csv is the name of a file that the design needs; choose another name"
    )
    assert files_in(tmp_path) == before
    flat = load(written(tmp_path / "home", TEXT.replace("maps/taps.csv", "taps.csv"), "flat.toml"))
    (tmp_path / "home" / "taps.csv").write_text(TAPS)
    assert refusal(save, flat, tmp_path / "home" / "taps.csv") == (
        "taps.csv is the name of a file that the design needs; choose another name"
    )
    assert (tmp_path / "home" / "taps.csv").read_text() == TAPS


def test_copies_of_a_failed_writing_are_taken_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    splitter = at_home(tmp_path)
    away, replace = tmp_path / "away", os.replace
    away.mkdir()

    def fail_at_last(source: Any, target: Any) -> None:
        if str(target).endswith(".toml"):
            raise OSError(28, "No space left on device")
        replace(source, target)

    monkeypatch.setattr(os, "replace", fail_at_last)
    told = refusal(save, splitter, away / "copy.toml")
    assert told.startswith("copy.toml cannot be written: no space left on device")
    assert list(away.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need a privilege")
def test_copies_stay_in_the_folder(tmp_path: Path) -> None:
    splitter = at_home(tmp_path)
    away, outside = tmp_path / "away", tmp_path / "outside"
    away.mkdir()
    outside.mkdir()
    (away / "maps").symlink_to(outside)
    assert "leads out of the folder of the design file" in refusal(save, splitter, away / "copy.toml")
    assert list(outside.iterdir()) == []
