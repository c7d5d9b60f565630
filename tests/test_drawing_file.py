"""Design files that name a drawing: the reference survives, and the drawing stays in its folder."""

from __future__ import annotations

import json
import math
import pickle
import shutil
from pathlib import Path

import pytest

ezdxf = pytest.importorskip("ezdxf")

from splitterfem.design import Outline, Splitter, json_schema, load, save  # noqa: E402
from splitterfem.design.cutout import CutOut  # noqa: E402
from splitterfem.design.drawing_record import PanelDrawing  # noqa: E402
from splitterfem.design.file import dumps  # noqa: E402
from splitterfem.design.panel import Panel, Sheet  # noqa: E402
from splitterfem.errors import DesignError, FileError  # noqa: E402

TEXT = """\
version = 1
name = "drawn"

[panel.drawing]
file = "drawings/panel.dxf"
layer = ["CUT", "HOLES"]
forward = "+y"
origin = ["100 mm", "1 in"]

[panel.sheet]
material = "birch plywood 15 mm"
thickness = "14.8 mm"

[[bolts]]
name = "one"
at = ["300 mm", "300 mm"]
pad = "40 mm"
diameter = "8 mm"
mirror = true

[car]
ride_height = "60 mm"
"""

SHEET = Sheet(material="birch plywood 15 mm", thickness="15 mm")


@pytest.fixture
def drawn(tmp_path: Path) -> Path:
    """A design file with its drawing: 1600 x 600 mm, forward is +y of the drawing."""
    (tmp_path / "drawings").mkdir()
    draw(tmp_path / "drawings" / "panel.dxf")
    place = tmp_path / "club.toml"
    place.write_text(TEXT)
    return place


def draw(place: Path, length: float = 600.0) -> None:
    document = ezdxf.new(units=4)
    msp = document.modelspace()
    corners = [(-700, 25.4), (900, 25.4), (900, 25.4 + length), (-700, 25.4 + length)]
    msp.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CUT"})
    msp.add_circle((-100, 425.4), 30, dxfattribs={"layer": "HOLES"})
    msp.add_ellipse((200, 225.4), (60, 0), 0.5, dxfattribs={"layer": "HOLES"})
    msp.add_text("drawn", dxfattribs={"layer": "NOTES"})
    document.saveas(place)


def test_the_reference_survives_a_round_trip(drawn: Path) -> None:
    splitter = load(drawn)
    assert splitter.panel.outline.polygon().bounds == pytest.approx((0.0, -0.8, 0.6, 0.8))
    assert [cutout.name for cutout in splitter.panel.cutouts] == ["HOLES 1", "HOLES 2"]
    assert splitter.panel.polygon(1e-5).area == pytest.approx(
        0.96 - math.pi * (0.03**2 + 0.06 * 0.03), abs=2e-5
    )
    assert splitter.panel.drawing.drawing.report[0] == "The unit is mm, as the file says."
    text = dumps(splitter)
    assert text == TEXT
    again = drawn.with_name("again.toml")
    save(splitter, again)
    assert again.read_text() == TEXT
    assert load(again) == splitter
    assert hash(load(again)) == hash(splitter)


def test_the_outline_follows_the_drawing(drawn: Path) -> None:
    before = load(drawn)
    draw(drawn.parent / "drawings" / "panel.dxf", length=700.0)
    after = load(drawn)
    assert before.panel.outline.polygon().bounds[2] == pytest.approx(0.6)
    assert after.panel.outline.polygon().bounds[2] == pytest.approx(0.7)
    assert before != after


def test_saving_elsewhere_takes_the_drawing_along(drawn: Path, tmp_path: Path) -> None:
    splitter = load(drawn)
    other = tmp_path / "other"
    other.mkdir()
    save(splitter, other / "club.toml")
    assert (other / "drawings" / "panel.dxf").is_file()
    assert load(other / "club.toml") == splitter


def test_copies_need_no_file(drawn: Path) -> None:
    splitter = load(drawn)
    shutil.rmtree(drawn.parent / "drawings")
    assert pickle.loads(pickle.dumps(splitter)) == splitter
    assert splitter.with_("panel.sheet.thickness", "14.7 mm").panel.outline == splitter.panel.outline
    assert splitter.with_(name="other").panel == splitter.panel
    assert "drawings/panel.dxf" in repr(splitter.panel.drawing)
    with pytest.raises(DesignError, match=r"panel\.drawing: there is no file .*panel.dxf; check the path"):
        load(drawn)


def test_fields_of_the_reference_can_be_changed(drawn: Path) -> None:
    """The file is read anew in the folder of the design, wherever Python runs."""
    splitter = load(drawn)
    moved = splitter.with_("panel.drawing.origin", ("100 mm", "0.4 mm"))
    assert moved.panel.outline.polygon().bounds[:3:2] == pytest.approx((0.025, 0.625))
    with pytest.raises(DesignError, match="forward"):
        splitter.with_("panel.drawing.forward", "up")
    with pytest.raises(DesignError, match="there is no file"):
        splitter.with_("panel.drawing.file", "drawings/panle.dxf")


def test_a_moved_opening_keeps_the_outline_in_the_drawing(drawn: Path) -> None:
    splitter = load(drawn)
    moved = splitter.moved("HOLES 1", dx="10 mm")
    assert moved.part("HOLES 1").circle.centre == pytest.approx((0.41, 0.2))
    assert moved.panel.drawing.openings is False
    assert moved.panel.outline == splitter.panel.outline
    assert len(moved.panel.cutouts) == 2
    again = drawn.with_name("again.toml")
    save(moved, again)
    assert "openings = false" in again.read_text()
    assert load(again) == moved
    assert [c.name for c in splitter.without("HOLES 1").panel.cutouts] == ["HOLES 2"]


def test_an_outline_takes_the_place_of_the_drawing_and_back(
    drawn: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    splitter = load(drawn)
    outline = Outline.rectangle("0 mm", "600 mm", "-750 mm", "750 mm")
    panel = splitter.panel.with_(outline=outline)
    assert panel.drawing is None
    assert panel.outline == outline
    assert panel.cutouts == splitter.panel.cutouts
    monkeypatch.chdir(drawn.parent / "drawings")
    back = Panel(outline=outline, sheet=SHEET).with_(drawing=PanelDrawing(file="panel.dxf", layer="CUT"))
    assert back.outline.polygon().bounds == pytest.approx((-0.7, 0.0254, 0.9, 0.6254))
    assert back.cutouts == ()


def test_cutouts_beside_a_drawing(drawn: Path) -> None:
    extra = '[[panel.cutouts]]\nname = "tunnel"\ncircle = {centre = ["200 mm", "0 mm"], radius = "50 mm"}\n\n'
    text = TEXT.replace("[panel.sheet]", f"{extra}[panel.sheet]")
    drawn.write_text(text)
    with pytest.raises(
        DesignError, match=r"club.toml: panel: has cutouts, and its drawing has openings too \(2\)"
    ):
        load(drawn)
    drawn.write_text(text.replace('forward = "+y"', 'forward = "+y"\nopenings = false'))
    assert [cutout.name for cutout in load(drawn).panel.cutouts] == ["tunnel"]
    drawn.write_text(text.replace('["CUT", "HOLES"]', '"CUT"'))
    assert [cutout.name for cutout in load(drawn).panel.cutouts] == ["tunnel"]


def test_measured_offsets_in_a_design_file(drawn: Path) -> None:
    (drawn.parent / "lip.csv").write_text("y_mm,x_front_mm\n0,600\n400,580\n800,450\n")
    head, tail = TEXT.split("[panel.drawing]")[0], TEXT.split("\n\n[panel.sheet]")[1]
    table = '[panel.drawing]\nfile = "lip.csv"\nrear = "0 mm"\nsmooth = true\n\n[panel.sheet]'
    drawn.write_text(head + table + tail)
    splitter = load(drawn)
    assert splitter.panel.outline.mirror
    assert dumps(splitter) == drawn.read_text()


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("drawings/panel.dxf", "../panel.dxf", r'panel\.drawing\.file: "\.\./panel.dxf" leaves the folder'),
        ("drawings/panel.dxf", "/etc/panel.dxf", r"panel\.drawing\.file: .* leaves the folder"),
        (
            "drawings/panel.dxf",
            "drawings/panel.dwg",
            r"panel\.drawing\.file: .* is neither a \.dxf nor a \.csv",
        ),
        ("drawings/panel.dxf", "panel.dxf", r"panel\.drawing: there is no file"),
        (
            'forward = "+y"',
            "smooth = true",
            r"panel\.drawing: smooth does not belong to a \.dxf file; leave it out",
        ),
        (
            'forward = "+y"',
            'forward = "y"',
            r'panel\.drawing\.forward: "y" is not a choice here; did you mean',
        ),
        ('forward = "+y"', 'unit = "kg"', r"panel\.drawing\.unit: .*not a unit of"),
        (
            'forward = "+y"',
            'snap = "1 m"',
            r"panel\.drawing: snap is 1000 mm; give a length between 0 and 5 mm",
        ),
        (
            'forward = "+y"',
            "fordward = 1",
            r"panel\.drawing\.fordward: there is no such field; did you mean 'forward'",
        ),
        ('["100 mm", "1 in"]', '["100 mm", 3]', r"panel\.drawing\.origin\.y: 3 has no unit"),
        (
            '["CUT", "HOLES"]',
            '["CUT", "HOELS"]',
            r"panel\.drawing: panel.dxf: nothing is drawn on a layer 'HOELS'; did",
        ),
        ('["CUT", "HOLES"]', "3", r"panel\.drawing\.layer"),
        ('origin = ["100 mm", "1 in"]', "mirror = true", r"panel\.drawing: panel.dxf: it is no half drawing"),
        ("[panel.sheet]", 'outline = {start = ["0 mm", "0 mm"]}\n[panel.sheet]', r"panel"),
        (
            "[panel.sheet]",
            '[panel.outline]\nstart = ["0 mm", "0 mm"]\nedges = [{to = ["1 m", "0 mm"]}, {to = ["1 m", "1 m"]}]\n'
            "[panel.sheet]",
            r"club.toml: panel: has outline and drawing; write exactly one of the two",
        ),
        ('"300 mm", "300 mm"', '"700 mm", "300 mm"', r"bolts\.one\.at: lies past the edge of the panel"),
        ('at = ["300 mm", "300 mm"]', 'at = ["400 mm", "200 mm"]', r"bolts\.one.*HOLES 1"),
    ],
)
def test_faults_name_the_place(drawn: Path, old: str, new: str, sentence: str) -> None:
    assert old in TEXT
    drawn.write_text(TEXT.replace(old, new))
    with pytest.raises(DesignError, match=sentence):
        load(drawn)


def test_a_link_does_not_lead_out_of_the_folder(
    drawn: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    outside = tmp_path_factory.mktemp("outside") / "panel.dxf"
    shutil.copy(drawn.parent / "drawings" / "panel.dxf", outside)
    (drawn.parent / "link.dxf").symlink_to(outside)
    drawn.write_text(TEXT.replace("drawings/panel.dxf", "link.dxf"))
    with pytest.raises(
        DesignError, match=r"'link.dxf' leads out of the folder of the design file; copy the file"
    ):
        load(drawn)


def test_a_drawing_elsewhere_cannot_be_saved(drawn: Path) -> None:
    """In Python any path may be read; a file names only what lies beside it."""
    elsewhere = drawn.parent / "drawings" / "panel.dxf"
    drawing = PanelDrawing(
        file=str(elsewhere), layer=("CUT", "HOLES"), forward="+y", origin=("100 mm", "1 in")
    )
    splitter = load(drawn)
    other = splitter.with_(panel=splitter.panel.with_(drawing=drawing))
    assert other.panel.outline == splitter.panel.outline
    with pytest.raises(DesignError, match=r"panel\.drawing\.file: .* leaves the folder of the design file"):
        save(other, drawn.with_name("other.toml"))


def test_neither_outline_nor_drawing(drawn: Path) -> None:
    with pytest.raises(DesignError, match="outline: is missing"):
        Panel(sheet=SHEET)
    drawing, rest = TEXT.split("[panel.drawing]")[0], TEXT.split("[panel.sheet]")[1]
    drawn.write_text(f"{drawing}[panel.sheet]{rest}")
    with pytest.raises(DesignError, match=r"club.toml: panel.outline: is missing"):
        load(drawn)


def test_the_schema_knows_both(drawn: Path) -> None:
    """Against a general-purpose JSON schema validator, if there is one."""
    import tomllib

    schema = json_schema()
    json.dumps(schema)
    assert schema["$defs"]["Panel"]["required"] == ["sheet"]
    validator = pytest.importorskip("jsonschema").Draft202012Validator(schema)
    validator.check_schema(schema)
    data = tomllib.loads(TEXT)
    assert not list(validator.iter_errors(data))
    data["panel"]["outline"] = {"start": ["0 mm", "0 mm"], "edges": [{"to": ["1 m", "0 mm"]}]}
    assert list(validator.iter_errors(data))


def test_records_of_a_drawing_build_a_panel(drawn: Path) -> None:
    """What the README of a shop would do in Python, without a design file."""
    from splitterfem.design.drawing import read_dxf

    drawing = read_dxf(
        drawn.parent / "drawings" / "panel.dxf",
        layer=["CUT", "HOLES"],
        forward="+y",
        origin=("100 mm", "1 in"),
    )
    panel = Panel(outline=drawing.outline, cutouts=drawing.cutouts, sheet=SHEET)
    assert isinstance(panel.cutouts[0], CutOut)
    splitter = load(drawn)
    assert panel.outline == splitter.panel.outline
    assert isinstance(Splitter.model_validate(splitter), Splitter)
    with pytest.raises(FileError, match="nothing is drawn on a layer 'CTU'"):
        read_dxf(drawn.parent / "drawings" / "panel.dxf", layer="CTU")
