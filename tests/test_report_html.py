"""The report as HTML, and as PDF where both must agree: texts stay texts, nothing is fetched, figures are true."""

from __future__ import annotations

import base64
import datetime
import re
import xml.etree.ElementTree as ET

import pytest
from report_tools import Page, Pdf, blocks_of, pixels, squeezed
from tiny_panel import tiny_panel
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.errors import DesignError, FileError
from splitterfem.output import report
from splitterfem.output.judged import judged, worst_ratio
from splitterfem.output.report import front_of, write_report
from splitterfem.output.report_compose import compose
from splitterfem.output.report_front import Front
from splitterfem.output.report_pictured import MOST

DAY = datetime.date(2024, 2, 29)
NASTY = ["#sys.inputs", "$x^2$ *b*", "[a] \"q\" 'p'", "<script>alert(1)</script>", "&amp; &lt;", "\\n // `f` @d",
         "<img src=x onerror=y>", "{{a}} %(paper)s %s", "]#panic[", "--- ~ _c_"]  # fmt: skip


def nasty_panel():
    """Give every field of text something that would be markup somewhere."""
    names = iter(NASTY * 4)
    bar = {"name": next(names), "E": 70e9, "nu": 0.3, "density": 2700.0, "yield_strength": 240e6,
           "source": next(names), "basis": "user"}  # fmt: skip
    tube = tiny_panel().ribs[0]
    rib = {**tube.given(), "name": f"r {next(names)}", "material": bar}
    bolts = [{**bolt.given(), "name": f"b{i} {next(names)}"} for i, bolt in enumerate(tiny_panel().bolts)]
    hole = {"name": f"h {next(names)}", "rectangle": {"x": ("60 mm", "120 mm"), "y": ("-40 mm", "40 mm")}}
    case = tiny_panel().cases[1].with_(name=f"c {next(names)}", note=f"n {next(names)}")
    panel = tiny_panel().panel.with_(cutouts=[hole])
    return tiny_panel(name=f"s {next(names)}", note=f"note {next(names)}", ribs=[rib], bolts=bolts, cases=[case],
                      panel=panel), case  # fmt: skip


def texts_of(splitter, case) -> list[str]:
    return [splitter.name, splitter.note, splitter.ribs[0].name, splitter.ribs[0].material.name,
            splitter.ribs[0].material.source, splitter.panel.cutouts[0].name, case.name, case.note,
            *(bolt.name for bolt in splitter.bolts)]  # fmt: skip


HEAD = {"title": NASTY[3], "prepared_for": NASTY[2], "prepared_by": NASTY[8], "job": NASTY[4]}


@pytest.fixture(scope="module")
def nasty():
    splitter, case = nasty_panel()
    return splitter, case, sf.solve(splitter, case.name)


@pytest.fixture(scope="module")
def solved():
    splitter = tiny_panel()
    return [sf.solve(splitter, case) for case in splitter.cases]


@pytest.fixture(scope="module")
def page(solved, tmp_path_factory):
    place = tmp_path_factory.mktemp("html") / "report.html"
    write_report(solved, place, date=DAY, prepared_for="A. Driver")
    return place.read_text(encoding="utf-8")


def test_texts_stay_texts_in_html(nasty, tmp_path):
    splitter, case, solution = nasty
    place = write_report([solution], tmp_path / "r.html", date=DAY, losses=False, **HEAD)
    found = Page(place.read_text(encoding="utf-8"))
    for text in [*texts_of(splitter, case), *HEAD.values()]:
        assert squeezed(text) in found.text, text
    assert "script" not in found.tags
    assert not [name for _, name, _ in found.attributes if name.startswith("on")]


def test_texts_stay_texts_in_pdf(nasty, tmp_path):
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    splitter, case, solution = nasty
    place = write_report([solution], tmp_path / "r.pdf", date=DAY, losses=False, **HEAD)
    found = Pdf(place).text
    for text in [*texts_of(splitter, case), *HEAD.values()]:
        assert squeezed(text) in found, text


def test_html_needs_nothing_from_outside(page):
    found = Page(page)
    assert set(found.tags).isdisjoint(
        {"script", "link", "iframe", "object", "embed", "form", "base", "video"}
    )
    sources = found.values("img", "src")
    assert sources
    assert all(source.startswith("data:image/svg+xml;base64,") for source in sources)
    assert not found.values("a", "href")
    assert re.search(r"url\(|@import|https?:", found.style) is None
    assert "default-src 'none'" in found.values("meta", "content")[0]
    for source in sources:
        picture = base64.b64decode(source.partition(",")[2])
        assert ET.fromstring(picture).tag.endswith("svg")
        assert b"<script" not in picture


def test_html_says_what_its_pictures_show_and_fits_a_telephone(page):
    found = Page(page)
    assert all(found.values("img", "alt"))
    assert len(found.values("img", "alt")) == found.tags.count("img")
    assert "width=device-width, initial-scale=1" in found.values("meta", "content")
    assert found.values("html", "lang") == ["en"]
    assert found.tags.count("h1") == 1
    assert "@page sheet { size: A4 landscape" in found.style


def test_both_kinds_say_the_same(solved, tmp_path):
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    lost = judged(solved).lose_one()
    head = {"date": DAY, "losses": lost, "title": "Same", "job": "no. 3"}
    pdf = Pdf(write_report(solved, tmp_path / "r.pdf", **head)).text
    html = Page(write_report(solved, tmp_path / "r.html", **head).read_text(encoding="utf-8")).text
    front = Front(date=DAY, title="Same", job="no. 3")
    document = compose(solved, front, lost, None).document
    said = 0
    for block in blocks_of(document):
        texts = [block["text"]] if "text" in block else block.get("lines", [])
        texts = [*texts, *(cell for row in block.get("rows", ()) for cell in row)]
        for text in texts:
            assert squeezed(text) in pdf, text
            assert squeezed(text) in html, text
            said += 1
    assert said > 100
    for part in document["sections"]:
        assert squeezed(part["title"]) in html


@pytest.mark.parametrize(
    ("options", "size"),
    [
        ({}, (210.0, 297.0)),  # ISO 216
        ({"units": "us"}, (215.9, 279.4)),  # 8 1/2 by 11 in
        ({"units": "us", "paper": "a4"}, (210.0, 297.0)),
        ({"paper": "letter"}, (215.9, 279.4)),
    ],
)
def test_paper(solved, tmp_path, options, size):
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    place = write_report(solved[:1], tmp_path / "r.pdf", date=DAY, losses=False, **options)
    sizes = Pdf(place).sizes
    for found in sizes:
        assert sorted(found) == pytest.approx(sorted(size), abs=0.2)
    assert sum(width > height for width, height in sizes) == 1  # the drawing lies on its side


@pytest.mark.parametrize("ending", ["html", "pdf"])
def test_same_bytes_but_for_the_date(solved, tmp_path, ending):
    if ending == "pdf":
        pytest.importorskip("typst")
    days = [DAY, DAY, DAY + datetime.timedelta(days=1)]
    one, two, later = (
        write_report(solved, tmp_path / f"{i}.{ending}", date=day, losses=False).read_bytes()
        for i, day in enumerate(days)
    )
    assert one == two
    assert one != later
    if ending == "html":
        assert one == later.replace(b"2024-03-01", b"2024-02-29")


def test_figures_are_those_of_the_solutions(solved, page):
    found = Page(page).text
    sag, low = max(s.max_sag for s in solved), min(s.min_clearance for s in solved)
    ratio = max(worst_ratio(s) for s in solved)
    assert squeezed(f"bows down by {1e3 * sag:.1f} mm") in found
    assert squeezed(f"{1e3 * low:.1f} mm at least") in found
    assert squeezed(f"used to {ratio:.2f} at most") in found
    assert squeezed(f"{solved[0].mass:.2f} kg panel and ribs") in found
    assert squeezed("prepared for A. Driver") in found


def test_us_units_in_html(solved, tmp_path):
    found = Page(
        write_report(solved, tmp_path / "r.htm", units="us", losses=False, date=DAY).read_text("utf-8")
    )
    sag = max(s.max_sag for s in solved)
    assert squeezed(f"bows down by {sag / 0.0254:.3f} in") in found.text
    assert squeezed(f"{solved[0].mass / 0.45359237:.2f} lb panel and ribs") in found.text
    assert "@page sheet { size: letter landscape" in found.style


def test_what_is_not_in_the_design_leaves_no_empty_table(tmp_path):
    bolts = [{"name": b.name, "at": b.at} for b in tiny_panel().bolts]
    sheet = {"material": {"name": "plain", "kind": "isotropic", "E1": 9e9, "nu12": 0.3, "density": 600.0},
             "thickness": "9 mm"}  # fmt: skip
    panel = {"outline": tiny_panel().panel.outline, "sheet": sheet}
    case = tiny_panel().cases[0]
    splitter = tiny_panel(envelope=None, ribs=(), bolts=bolts, panel=panel, cases=[case], currency="")
    solution = sf.solve(splitter, case.name)
    document = compose([solution], Front(date=DAY), None, None).document
    for block in blocks_of(document):
        for key in ("rows", "lines", "items"):
            assert block.get(key, True), block
    titles = [part["title"] for part in document["sections"]]
    for absent in ("What the air does", "What if one part is lost", "Natural frequencies", "Buckling", "At speed",
                   "How the drawing was read"):  # fmt: skip
        assert absent not in titles
    assert not any(title.startswith("What the ribs carry") for title in titles)
    text = Page(write_report([solution], tmp_path / "r.html", losses=False).read_text("utf-8")).text
    assert squeezed("not checked: no limits were given") in text
    assert squeezed("What does the material cost?") not in text


def test_a_panel_that_is_used_too_far_is_said_to_be_so():
    splitter = weak_panel()
    solutions = [sf.solve(splitter, case) for case in splitter.cases]
    summary = compose(solutions, Front(date=DAY), None, None).document["summary"]
    verdict = next(block for block in summary if block["kind"] == "verdict")
    assert verdict["tone"] == "bad"
    assert "is overloaded" in verdict["text"]
    rows = {row[0]: row[1:] for row in next(block for block in summary if block["kind"] == "answers")["rows"]}
    assert rows["Does it bear the loads?"][-1] == "NO"
    first = next(block for block in summary if block["kind"] == "list")["lines"][0]
    assert first.startswith("Do not build it as drawn: make ")
    over = judged(solutions).worst.query("ratio > 1")["part"].iloc[0]
    assert over in first


def test_a_panel_on_the_ground_is_said_to_be_there():
    splitter = tiny_panel(car={"ride_height": "2 mm"})
    solution = sf.solve(splitter, "lean")
    assert solution.min_clearance <= 0.0
    summary = compose([solution], Front(date=DAY), None, None).document["summary"]
    verdict = next(block for block in summary if block["kind"] == "verdict")
    assert re.search("(lies on|touches) the ground", verdict["text"])
    rows = {row[0]: row[1:] for row in next(block for block in summary if block["kind"] == "answers")["rows"]}
    assert rows["Does it clear the ground?"][-1] == "NO"


def test_first_page_keeps_the_cautions(page):
    before, _, after = page.partition("<section")
    for words in ("not a certificate", "scrutineers", "licensed engineer", "invented for demonstration"):
        assert words in before
    assert "Load cases that were not selected were not checked" in after


def test_many_load_cases_show_the_worst(tmp_path):
    lean = tiny_panel().cases[0].forces[0]
    cases = [
        {"name": f"lean {i}", "forces": [lean.with_(force=(0.0, 0.0, -20.0 * i))]} for i in range(1, MOST + 9)
    ]
    splitter = tiny_panel(cases=cases)
    model = sf.build(splitter)
    solutions = [sf.solve(model, case["name"]) for case in cases]
    document = compose(solutions, Front(date=DAY), None, None).document
    shown = [b["title"] for b in blocks_of(document) if b["kind"] == "pictures" and b["title"]]
    assert len(shown) == MOST
    assert shown[-1] == f"{MOST + 8}  lean {MOST + 8}"  # the hardest sags most
    assert "1  lean 1" not in shown
    results = next(p for p in document["sections"] if p["title"] == "What comes out")["blocks"][0]
    assert len(results["rows"]) == MOST + 8
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    text = Pdf(write_report(solutions, tmp_path / "r.pdf", losses=False, date=DAY)).text
    assert squeezed(f"the other {len(cases) - MOST} are in the table of what comes out") in text


def test_very_long_names_break_and_run_over_nothing(tmp_path):
    typst = pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    long = "W" * 60
    splitter = tiny_panel(
        name=long,
        ribs=[tiny_panel().ribs[0].with_(name=long[1:] + "i")],
        cases=[tiny_panel().cases[1].with_(name=long)],
    )
    solution = sf.solve(splitter, long)
    head = {
        "date": DAY,
        "title": "M" * 200,
        "prepared_for": "W" * 200,
        "prepared_by": "W" * 200,
        "job": "W" * 200,
    }
    found = Pdf(write_report([solution], tmp_path / "r.pdf", losses=False, **head))
    assert "M" * 200 in found.text
    assert found.text.count("W" * 200) >= 3
    front = Front(**head)
    for number, png in enumerate(report._set(typst, [solution], front, losses=None, format="png", ppi=50.8)):
        sheet = pixels(png)  # two pixels to the millimetre; the edges of the pages are 10 and 18 mm
        assert (sheet[:, -18:] == 255).all(), number


def test_nothing_is_solved_twice(tmp_path, monkeypatch):
    """Buckling factors take the stresses of the load case that was solved for the report."""
    splitter = tiny_panel(buckling=["lean"])
    model = sf.build(splitter)
    solutions = [sf.solve(model, case) for case in splitter.cases]

    def again(*args, **options):
        raise AssertionError("solved again")

    monkeypatch.setattr("splitterfem.analysis.buckling.solve", again)
    place = write_report(solutions, tmp_path / "r.html", losses=False, date=DAY)
    assert "Buckling" in place.read_text("utf-8")
    with pytest.raises(AssertionError, match="solved again"):
        write_report(solutions[1:], place, losses=False, date=DAY)


def test_faults_are_found_before_anything_is_solved(tmp_path, monkeypatch):
    monkeypatch.setattr("splitterfem.api.build", None)
    with pytest.raises(FileError, match=r"let its name end in \.pdf or \.html"):
        sf.report(tiny_panel(), tmp_path / "report.docx")
    with pytest.raises(DesignError, match="no paper 'a5'"):
        sf.report(tiny_panel(), tmp_path / "report.html", paper="a5")
    with pytest.raises(DesignError, match="one line of at most 200 printable characters"):
        sf.report(tiny_panel(), tmp_path / "report.html", prepared_for="two\nlines")
    with pytest.raises(DesignError, match="The job of a report is 12; give a text"):
        front_of(tmp_path / "report.html", job=12)


def test_html_needs_no_typst(solved, tmp_path, monkeypatch):
    monkeypatch.setattr(report, "typesetter", None)
    assert write_report(solved, tmp_path / "r.html", losses=False).stat().st_size > 1000


def test_command_line_writes_html_by_the_ending(tmp_path, capsys):
    sf.save(tiny_panel(), tmp_path / "tiny.toml")
    place = tmp_path / "customer.html"
    argv = ["report", str(tmp_path / "tiny.toml"), "--out", str(place), "--for", "A. <b>", "--by", "The shop",
            "--job", "12", "--title", "Mine", "--no-losses"]  # fmt: skip
    assert main(argv) == 0
    assert str(place) in capsys.readouterr().out
    found = Page(place.read_text("utf-8"))
    for text in ("A. <b>", "The shop", "Mine", "Design: tiny"):
        assert squeezed(text) in found.text
    assert main(["report", str(tmp_path / "tiny.toml"), "--out", str(tmp_path / "r.txt")]) == 1
    assert "let its name end in .pdf or .html" in capsys.readouterr().err
