"""What a template is made of, and the command that writes it."""

from __future__ import annotations

import json
import math
import os

import numpy as np
import pytest
from template_panel import ANGLE, TUBE, rich_panel

import splitterfem as sf
from splitterfem import curves
from splitterfem.cli import main
from splitterfem.design.joints import Fasteners
from splitterfem.model import written_out
from splitterfem.output.template.arcs import as_circle, in_arcs
from splitterfem.output.template.bars import pieces_of
from splitterfem.output.template.make import template_drawing
from splitterfem.output.template.symmetry import WITHIN, is_symmetric

ALLOY = "6061-T6 extrusion"


def rib(name, *points, **fields):
    fields = {"section": TUBE, "material": ALLOY} | fields
    return sf.Rib(name=name, points=[(f"{x} mm", f"{y} mm") for x, y in points], **fields)


def bars_of(*ribs):
    return template_drawing(
        rich_panel(ribs=ribs, doublers=[], struts=[], pins=[], bolts=rich_panel().bolts[:1])
    ).bars


def test_a_square_bar_is_as_long_as_its_line():
    (bar,) = bars_of(rib("plain", (500, -200), (500, 200)))
    assert (bar.length, bar.longest) == pytest.approx((0.4, 0.4))
    assert bar.ends == ((math.pi / 2, "square"), (math.pi / 2, "square"))


@pytest.mark.parametrize("bend", [10.0, 45.0, 90.0])
def test_mitres_halve_the_bend(bend):
    """Either side is cut at 90 degrees less half of the bend, and gets longer by half its width times the tangent."""
    turn = math.radians(bend)
    end = (500 + 150 * math.sin(turn), 150 * math.cos(turn))
    first, second = bars_of(rib("bent", (500, -200), (500, 0), end))
    half = 0.5 * turn
    for bar, cut, length in ((first, bar_end(first, 1), 0.2), (second, bar_end(second, 0), 0.15)):
        assert cut == (pytest.approx(math.pi / 2 - half), "mitre")
        assert bar.length == pytest.approx(length)
        assert bar.longest == pytest.approx(length + 0.015 * math.tan(half))
    assert (first.part, second.part) == ("1 of 2", "2 of 2")


def bar_end(bar, number):
    return bar.ends[number]


@pytest.mark.parametrize("angle", [90.0, 60.0, 35.0])
def test_notched_ribs_are_cut_along_the_other(angle):
    """A foot 30 mm wide takes 30 / (2 sin a) off either side of the crossing; the cut stands at the angle a."""
    a = math.radians(angle)
    dx, dy = 180 * math.sin(a), 180 * math.cos(a)
    through, *halves = bars_of(
        rib("through", (600, -300), (600, 300)),
        rib("cut", (600 - dx, -dy), (600 + dx, dy), crossing="notched", section=ANGLE),
    )
    assert through.length == pytest.approx(0.6)
    assert len(halves) == 2
    for bar, number in zip(halves, (1, 0), strict=True):
        assert bar.length == pytest.approx(0.18 - 0.015 / math.sin(a))
        assert bar_end(bar, number) == (pytest.approx(a), "against through")
        assert bar_end(bar, 1 - number)[1] == "square"
        assert bar.longest == pytest.approx(bar.length + 0.0125 / math.tan(a), abs=1e-9)


def test_the_upright_stands_on_its_side():
    """An angle's upright is at the left of the direction of its line, its mirror image at the right (turned round)."""
    one = sf.Rib(
        name="one",
        points=[("400 mm", "100 mm"), ("800 mm", "100 mm")],
        section=ANGLE,
        material=ALLOY,
        mirror=True,
    )
    drawing = template_drawing(rich_panel(ribs=[one], doublers=[], struts=[]))
    lines = {shape.name: shape.curves[0].start[1] for shape in drawing.on("rib uprights")}
    # the middle of a leg 3 mm thick at the edge of a foot of 25 mm
    assert lines == {"one left": pytest.approx(0.1 + 0.011), "one right": pytest.approx(-0.1 - 0.011)}


@pytest.mark.parametrize(
    ("length", "pitch", "count"), [(1.0, 0.1, 10), (1.001, 0.1, 11), (0.05, 0.1, 1), (0.3, 0.1, 3)]
)
def test_fasteners_are_as_many_as_in_the_bill(length, pitch, count):
    """Each stands for one pitch at most, so that a length has its pitches of them, rounded up."""
    joint = {"kind": "rivets", "diameter": "4 mm", "pitch": f"{1e3 * pitch} mm"}
    assert Fasteners(**joint).in_row(length) == count
    stations = Fasteners(**joint).stations(length)
    assert len(stations) == count
    steps = np.diff([0.0, *stations, length])
    assert steps[0] == pytest.approx(steps[-1]) == pytest.approx(0.5 * length / count)
    assert steps[1:-1] == pytest.approx(length / count)
    assert length / count <= pitch * (1.0 + 1e-9)
    if length > pitch:
        design = rich_panel(
            ribs=[rib("one", (600, -500 * length), (600, 500 * length), joint=joint)],
            doublers=[],
            struts=[],
            pins=[],
        )
        bill = sf.bill_of_materials(design)
        assert bill.loc[bill.part == "one, joint", "count"].item() == count
        drawn = [circle for circle in template_drawing(design).circles if circle.name == "one, rivets"]
        assert len(drawn) == count


def test_two_feet_have_their_own_outlines_and_rows():
    """A hat stands on two flanges, each as wide as it is outside plus a wall; a row of rivets in the middle of each."""
    hat = {"shape": "hat", "width": "30 mm", "height": "25 mm", "flange": "15 mm", "wall": "1.5 mm"}
    joint = {"kind": "rivets", "diameter": "4 mm", "pitch": "50 mm", "rows": 2}
    design = rich_panel(
        ribs=[rib("hat", (600, -200), (600, 200), section=hat, joint=joint)], doublers=[], struts=[]
    )
    drawing = template_drawing(design)
    feet = drawing.on("rib feet above")
    assert len(feet) == 2
    spans = sorted((s.points[:, 0].min(), s.points[:, 0].max()) for s in feet)
    assert all(high - low == pytest.approx(0.015 + 0.0015) for low, high in spans)
    rows = {round(c.centre[0], 9) for c in drawing.circles if c.name == "hat, rivets"}
    assert sorted(rows) == pytest.approx([0.5 * (low + high) for low, high in spans])


def test_splines_become_arcs_within_two_micrometres():
    """Of a spline through points of a circle, and of one with a turn in it; straight ones become lines."""
    angles = np.linspace(0.0, 2.0, 9)
    round_one = curves.Spline(tuple((math.cos(a), math.sin(a)) for a in angles))
    wavy = curves.Spline(((0.0, 0.0), (0.1, 0.05), (0.2, -0.05), (0.3, 0.0), (0.4, 0.0)))
    flat = curves.Spline(((0.0, 0.0), (0.1, 0.1), (0.2, 0.2)))
    import shapely

    for spline in (round_one, wavy, flat):
        arcs = in_arcs([spline])
        assert arcs[0].start == spline.start
        assert arcs[-1].end == spline.end
        line = shapely.LineString(np.concatenate([arc.at(np.linspace(0.0, 1.0, 50)) for arc in arcs]))
        points = shapely.points(spline.at(np.linspace(0.0, 1.0, 3000)))
        assert shapely.distance(line, points).max() < 2.5e-6
    assert sum(arc.length for arc in in_arcs([round_one])) == pytest.approx(round_one.length, rel=2e-5)
    assert all(isinstance(piece, curves.Line) for piece in in_arcs([flat]))


def test_circles_are_known_as_such():
    assert as_circle(curves.circle((0.3, 0.2), 0.05)) == (pytest.approx((0.3, 0.2)), pytest.approx(0.1))
    square = curves.polyline([(0, 0), (1, 0), (1, 1), (0, 1)])
    assert as_circle(square) is None
    arc = curves.Arc((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))
    lens = (arc, curves.Arc((-1.0, 0.0), (0.0, -0.5), (1.0, 0.0)))
    assert as_circle(lens) is None


def test_symmetry_has_a_tolerance_for_the_saw():
    for more, same in ((0.0, True), (0.5 * WITHIN, True), (3.0 * WITHIN, False)):
        area = sf.Outline.rectangle(0.0, 0.5, -0.4, 0.4 + more).polygon()
        assert is_symmetric(area) is same
    assert template_drawing(rich_panel(ribs=[], pins=[], bolts=rich_panel().bolts[:1])).alike
    assert not template_drawing(rich_panel()).alike


def test_pieces_follow_the_ribs_of_the_model():
    """Pieces of the demonstration's ribs have the lengths of its bill."""
    ribs = written_out(sf.demo().ribs)
    bill = sf.bill_of_materials(sf.demo()).set_index("part")
    for one in ribs:
        length = sum(np.hypot(*np.diff(piece.points, axis=0).T).sum() for piece in pieces_of(one, ribs))
        assert 1e3 * length == pytest.approx(bill.loc[one.name, "length_mm"])


@pytest.fixture
def design_file(tmp_path):
    place = tmp_path / "rich.toml"
    sf.save(rich_panel(), place)
    return place


def test_command_for_machines(design_file, tmp_path, capsys):
    out = tmp_path / "new.pdf"
    assert (
        main(["template", str(design_file), "--out", str(out), "--paper", "a3", "--margin", "8 mm", "--json"])
        == 0
    )
    told = json.loads(capsys.readouterr().out)
    assert told["written"] == [str(out)]
    assert told["invented"] is True
    assert told["paper"] == "a3"
    assert sorted((told["sheet_width_mm"], told["sheet_height_mm"])) == pytest.approx([297.0, 420.0])
    assert told["sheets"][0] == "A1"
    assert out.read_bytes().startswith(b"%PDF")


def test_command_for_people(design_file, tmp_path, capsys, monkeypatch):
    pytest.importorskip("ezdxf")
    monkeypatch.chdir(tmp_path)
    assert main(["template", str(design_file)]) == 0
    said = capsys.readouterr().out
    assert "One of everything (invented data)" in said
    assert "template.dxf" in said
    assert "$INSUNITS" in (tmp_path / "template.dxf").read_text()
    assert (
        main(["template", str(design_file), "--out", "t.pdf", "--paper", "roll", "--roll-width", "24 in"])
        == 0
    )
    assert "2 sheets of roll" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "code", "message"),
    [
        (["--out", "t.svg"], 1, "neither a .dxf nor a .pdf"),
        (["--out", "t.pdf", "--margin", "10"], 1, "margin"),
        (["--out", "t.pdf", "--half"], 1, "differ between left and right"),
        (["--out", "t.pdf", "--paper", "a9"], 2, "--paper is 'a9'; known: a3, a4, letter, roll"),
        (["--out", "none/t.pdf"], 1, "There is no folder"),
    ],
)
def test_command_refuses_in_one_sentence(design_file, tmp_path, capsys, monkeypatch, more, code, message):
    monkeypatch.chdir(tmp_path)
    assert main(["template", str(design_file), *more]) == code
    said = capsys.readouterr().err
    assert message in said
    assert "Traceback" not in said
    assert os.listdir(tmp_path) == ["rich.toml"]


def test_a_failed_run_leaves_the_old_file(design_file, tmp_path, monkeypatch):
    out = tmp_path / "t.pdf"
    out.write_text("old")
    from splitterfem.output.template import pdf

    monkeypatch.setattr(pdf, "pages", lambda *_, **__: (_ for _ in ()).throw(OSError(28, "No space left")))
    assert main(["template", str(design_file), "--out", str(out)]) == 1
    assert out.read_text() == "old"
    assert sorted(os.listdir(tmp_path)) == ["rich.toml", "t.pdf"]
